"""`gridshell tube`: the whole tube, over temperature, beside its bend test, or as built."""

from __future__ import annotations

import argparse
from typing import TYPE_CHECKING

from gridshell.commands.command import JUDGED, Command
from gridshell.commands.common import check_free, read_asked, show_answer

if TYPE_CHECKING:
    from gridshell.define.tables.design import Design


def run(options: argparse.Namespace) -> int:
    """Whole tube: stiffness, mass, frequencies, every check of every load case."""
    from gridshell.api import assess_tube

    if options.scan_form is not None:
        return _scan_form(options)
    design = read_asked(options)
    if options.shape is not None:
        return _as_built(options, design)
    if options.tolerance:
        return _tolerance(options, design)
    if options.over_temperature:
        return _over_temperature(options, design)
    if options.measured is not None:
        return _measured(options, design)
    return show_answer(options, assess_tube(design))


def _over_temperature(options: argparse.Namespace, design: Design) -> int:
    from gridshell.api import Answer
    from gridshell.report.plots.tube.temperature import plot_over_temperature
    from gridshell.report.text.tube.temperature import temperature_json, temperature_text
    from gridshell.report.verdict import temperature_finding, verdict_of
    from gridshell.study.temperature import over_temperature

    study = over_temperature(design)
    return show_answer(options, Answer(
        study, design,
        lambda: temperature_json(study),
        lambda: temperature_text(study, design.units),
        lambda path: plot_over_temperature(study, path, design.units),
        lambda: verdict_of(design, study.reference, [temperature_finding(study, design.units)])))


def _measured(options: argparse.Namespace, design: Design) -> int:
    from gridshell.api import Answer
    from gridshell.report.plots.tube.measured import plot_measured
    from gridshell.report.text.tube.measured import measured_json, measured_text
    from gridshell.report.verdict import measured_finding, verdict_of
    from gridshell.tube.bend_test.measured import measured
    from gridshell.tube.bend_test.readings import read_bend_test

    result = measured(design, read_bend_test(options.measured))
    return show_answer(options, Answer(
        result, design,
        lambda: measured_json(result),
        lambda: measured_text(result, design.units),
        lambda path: plot_measured(result, path, design.units),
        lambda: verdict_of(design, more=[measured_finding(result)])))


def _scan_form(options: argparse.Namespace) -> int:
    from pathlib import Path

    from gridshell.define.files.reading import read_design
    from gridshell.define.files.replacing import write_text
    from gridshell.material.resolve import material_problems
    from gridshell.tube.as_built.scan import scan_form

    design = read_design(options.file, also=material_problems)
    check_free(options.scan_form, options.force)
    write_text(Path(options.scan_form), scan_form(design))
    print(f"{options.scan_form}: form for the scan of the finished tube; fill it in, then "
          f"gridshell tube {options.file} --shape {options.scan_form}")
    return 0


def _as_built(options: argparse.Namespace, design: Design) -> int:
    from gridshell.api import Answer
    from gridshell.report.plots.tube.as_built import plot_as_built
    from gridshell.report.text.tube.as_built import as_built_json, as_built_text
    from gridshell.report.verdict import as_built_finding, verdict_of
    from gridshell.tube.as_built.own import assess_as_built
    from gridshell.tube.assess import assess_tube

    stated = assess_tube(design)
    tube = assess_as_built(stated.wall, options.shape)
    return show_answer(options, Answer(
        tube, design,
        lambda: as_built_json(tube),
        lambda: as_built_text(tube, design.units),
        lambda path: plot_as_built(tube, path, design.units),
        lambda: verdict_of(design, stated, [as_built_finding(tube, stated)])))


def _tolerance(options: argparse.Namespace, design: Design) -> int:
    from gridshell.api import Answer
    from gridshell.define.tables.as_built import AsBuilt
    from gridshell.report.plots.tube.as_built import plot_tolerance
    from gridshell.report.text.tube.as_built import tolerance_json, tolerance_text
    from gridshell.report.verdict import tolerance_finding, verdict_of
    from gridshell.tube.as_built.tolerance import expected, is_expected
    from gridshell.tube.assess import assess_tube
    from gridshell.tube.buckling.knockdown import knockdowns

    tube = assess_tube(design)
    published = float(knockdowns(tube.wall)["compression"].factor)
    found = expected(tube.wall, published, (design.as_built or AsBuilt()).ends)
    return show_answer(options, Answer(
        found, design,
        lambda: tolerance_json(design.title, found),
        lambda: tolerance_text(design.title, found, design.units, is_expected(design)),
        lambda path: plot_tolerance(design.title, found, path, design.units),
        lambda: verdict_of(design, tube, [tolerance_finding(found, tube)])))


def _options(parser: argparse.ArgumentParser) -> None:
    other = parser.add_mutually_exclusive_group()
    other.add_argument(
        "--over-temperature", action="store_true",
        help="stiffness, frequency and margins over the whole range of the material's data",
    )
    other.add_argument(
        "--measured", metavar="TEST.csv",
        help="bend test of the finished tube: actual against predicted stiffness",
    )
    other.add_argument(
        "--shape", metavar="SCAN.csv",
        help="scan of the finished tube: its own knockdown factor beside the published one",
    )
    other.add_argument(
        "--scan-form", metavar="OUT.csv", help="write a form for that scan, to fill in",
    )
    other.add_argument(
        "--tolerance", action="store_true",
        help="before it is built: knockdown factor against roundness, and how round it must be",
    )


COMMAND = Command(
    "tube", "whole tube: stiffness, frequencies, buckling, strength, margins", run, _options,
    (*JUDGED, "solid-cell", "no-cell", "force"),
)
