"""`gridshell scatter`: what tolerances and material scatter do."""

from __future__ import annotations

import argparse

from gridshell.commands.command import JUDGED, Command
from gridshell.commands.common import counted, progress, read_asked, show_answer


def run(options: argparse.Namespace) -> int:
    """Tolerances and material scatter -> distribution of stiffness, margin and mass."""
    from gridshell.api import scatter_designs

    answer = scatter_designs(read_asked(options), options.draws, options.workers, counted)
    progress("")
    return show_answer(options, answer)


def _options(parser: argparse.ArgumentParser) -> None:
    parser.add_argument("--draws", type=int, metavar="N", help="tubes drawn, if not the file's")


COMMAND = Command(
    "scatter", "tolerances -> distribution of stiffness, margin, mass", run, _options,
    (*JUDGED, "workers"),
    uses=("scatter", "mold", "joints"),
)
