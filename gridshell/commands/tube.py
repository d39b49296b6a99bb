"""`gridshell tube`: the whole tube, over temperature, or beside its bend test."""

from __future__ import annotations

import argparse
from typing import TYPE_CHECKING

from gridshell.commands.command import USUAL, Command
from gridshell.commands.common import read_asked, show

if TYPE_CHECKING:
    from gridshell.define.tables.design import Design


def run(options: argparse.Namespace) -> int:
    """Whole tube: stiffness, mass, frequencies, every check of every load case."""
    from gridshell.report.text.tube import theory_lines, tube_json, tube_text
    from gridshell.tube.assess import assess_tube

    design = read_asked(options)
    if options.over_temperature:
        return _over_temperature(options, design)
    if options.measured is not None:
        return _measured(options, design)
    tube = assess_tube(design)

    def draw(path: str) -> None:
        from gridshell.report.plots.tube import plot_tube

        plot_tube(tube, path, design.units)

    return show(
        options, lambda: tube_json(tube),
        lambda: tube_text(tube, design.units, theory_lines(tube)), draw,
    )


def _over_temperature(options: argparse.Namespace, design: Design) -> int:
    from gridshell.report.text.temperature import temperature_json, temperature_text
    from gridshell.study.temperature import over_temperature

    study = over_temperature(design)

    def draw(path: str) -> None:
        from gridshell.report.plots.temperature import plot_over_temperature

        plot_over_temperature(study, path, design.units)

    return show(
        options, lambda: temperature_json(study),
        lambda: temperature_text(study, design.units), draw,
    )


def _measured(options: argparse.Namespace, design: Design) -> int:
    from gridshell.tube.bend_test.measured import as_dict, measured, read_bend_test, text

    result = measured(design, read_bend_test(options.measured))

    def draw(path: str) -> None:
        from gridshell.report.plots.measured import plot_measured

        plot_measured(result, path)

    return show(options, lambda: as_dict(result), lambda: text(result), draw)


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
    (*USUAL, "solid-cell"),
)
