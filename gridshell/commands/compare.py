"""`gridshell compare`: the grid beside plain walls."""

from __future__ import annotations

import argparse

from gridshell.commands.command import JUDGED, Command
from gridshell.commands.common import read_asked, show_answer


def run(options: argparse.Namespace) -> int:
    """The grid beside plain walls of equal mass, stiffness and buckling load."""
    from gridshell.api import compare_walls

    return show_answer(options, compare_walls(read_asked(options)))


COMMAND = Command(
    "compare", "the grid beside plain walls of equal mass, EI or buckling load", run,
    shared=(*JUDGED, "solid-cell", "no-cell"),
)
