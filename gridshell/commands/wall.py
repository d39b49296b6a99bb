"""`gridshell wall`: smeared stiffness, mass and equivalent plain wall."""

from __future__ import annotations

import argparse

from gridshell.commands.command import JUDGED, Command
from gridshell.commands.common import read_asked, show_answer


def run(options: argparse.Namespace) -> int:
    """Assess the wall and show it."""
    from gridshell.api import assess_wall

    return show_answer(options, assess_wall(read_asked(options)))


COMMAND = Command(
    "wall", "smeared stiffness, mass and equivalent plain wall", run,
    shared=(*JUDGED, "solid-cell", "no-cell"),
    uses=(),
)
