"""`gridshell tube`: the whole tube, over temperature, or beside its bend test."""

from __future__ import annotations

import argparse
from typing import TYPE_CHECKING

from gridshell.commands.command import JUDGED, Command
from gridshell.commands.common import read_asked, show

if TYPE_CHECKING:
    from gridshell.define.tables.design import Design


def run(options: argparse.Namespace) -> int:
    """Whole tube: stiffness, mass, frequencies, every check of every load case."""
    from gridshell.report.plots.tube import plot_tube
    from gridshell.report.text.tube import tube_json, tube_text
    from gridshell.report.verdict import verdict_of
    from gridshell.tube.assess import assess_tube
    from gridshell.tube.buckling.theories import other_theories

    design = read_asked(options)
    if options.over_temperature:
        return _over_temperature(options, design)
    if options.measured is not None:
        return _measured(options, design)
    tube = assess_tube(design)
    return show(
        options,
        lambda: tube_json(tube),
        lambda: tube_text(tube, design.units, other_theories(tube.wall, tube.buckling)),
        lambda path: plot_tube(tube, path, design.units),
        verdict_of(design, tube),
    )


def _over_temperature(options: argparse.Namespace, design: Design) -> int:
    from gridshell.report.plots.temperature import plot_over_temperature
    from gridshell.report.text.temperature import temperature_json, temperature_text
    from gridshell.report.verdict import temperature_finding, verdict_of
    from gridshell.study.temperature import over_temperature

    study = over_temperature(design)
    return show(
        options,
        lambda: temperature_json(study),
        lambda: temperature_text(study, design.units),
        lambda path: plot_over_temperature(study, path, design.units),
        verdict_of(design, study.reference, [temperature_finding(study, design.units)]),
    )


def _measured(options: argparse.Namespace, design: Design) -> int:
    from gridshell.report.plots.measured import plot_measured
    from gridshell.report.text.measured import measured_json, measured_text
    from gridshell.report.verdict import verdict_of
    from gridshell.tube.bend_test.measured import measured
    from gridshell.tube.bend_test.readings import read_bend_test

    result = measured(design, read_bend_test(options.measured))
    return show(
        options,
        lambda: measured_json(result),
        lambda: measured_text(result, design.units),
        lambda path: plot_measured(result, path, design.units),
        verdict_of(design),
    )


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


COMMAND = Command(
    "tube", "whole tube: stiffness, frequencies, buckling, strength, margins", run, _options,
    (*JUDGED, "solid-cell", "no-cell"),
)
