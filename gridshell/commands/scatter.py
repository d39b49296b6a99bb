"""`gridshell scatter`: what tolerances and material scatter do."""

from __future__ import annotations

import argparse

from gridshell.commands.command import JUDGED, Command
from gridshell.commands.common import counted, progress, read_asked, show


def run(options: argparse.Namespace) -> int:
    """Tolerances and material scatter -> distribution of stiffness, margin and mass."""
    from gridshell.report.plots.scatter import plot_scatter
    from gridshell.report.text.scatter import scatter_json, scatter_text
    from gridshell.report.verdict import scatter_finding, verdict_of
    from gridshell.study.scatter.run import scatter_designs

    design = read_asked(options)
    result = scatter_designs(
        design, samples=options.draws, workers=options.workers, progress=counted
    )
    progress("")
    return show(
        options,
        lambda: scatter_json(result),
        lambda: scatter_text(result, design.units),
        lambda path: plot_scatter(result, path, design.units),
        verdict_of(design, result.nominal, [scatter_finding(result)]),
    )


def _options(parser: argparse.ArgumentParser) -> None:
    parser.add_argument("--draws", type=int, metavar="N", help="tubes drawn, if not the file's")


COMMAND = Command(
    "scatter", "tolerances -> distribution of stiffness, margin, mass", run, _options,
    (*JUDGED, "workers"),
    uses=("scatter", "mold", "joints"),
)
