"""`gridshell compare`: the grid beside plain walls."""

from __future__ import annotations

import argparse

from gridshell.commands.command import JUDGED, Command
from gridshell.commands.common import read_asked, show


def run(options: argparse.Namespace) -> int:
    """The grid beside plain walls of equal mass, stiffness and buckling load."""
    from gridshell.report.plots.compare import plot_compare
    from gridshell.report.text.compare import compare_json, compare_text
    from gridshell.report.verdict import verdict_of
    from gridshell.study.compare import compare_walls

    design = read_asked(options)
    comparison = compare_walls(design)
    return show(
        options,
        lambda: compare_json(comparison),
        lambda: compare_text(comparison, design.units),
        lambda path: plot_compare(comparison, path, design.units),
        verdict_of(design, comparison.contenders[0].tube),
    )


COMMAND = Command(
    "compare", "the grid beside plain walls of equal mass, EI or buckling load", run,
    shared=(*JUDGED, "solid-cell", "no-cell"),
)
