"""`gridshell chill`: chill-down, cracking, warm-up."""

from __future__ import annotations

import argparse

from gridshell.commands.command import JUDGED, Command
from gridshell.commands.common import read_asked, show_answer


def run(options: argparse.Namespace) -> int:
    """Chill the tube as the file says and follow it back: the usable window."""
    from gridshell.api import chill

    return show_answer(options, chill(read_asked(options)))


COMMAND = Command(
    "chill", "chill-down, cracking, warm-up: the usable window", run, shared=JUDGED,
    uses=("chill", "mold", "joints"),
)
