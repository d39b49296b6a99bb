"""What a command is, and the options that several commands share."""

from __future__ import annotations

import argparse
from collections.abc import Callable
from typing import Any, NamedTuple

SHARED: dict[str, dict[str, Any]] = {
    "json": {"action": "store_true", "help": "print JSON (SI units)"},
    "plot": {"metavar": "FILE.png", "help": "write the picture (png, pdf or svg)"},
    "temperature": {
        "metavar": "T",
        "help": "temperature of use, such as '-20 degC', instead of the file's",
    },
    "units": {"choices": ("metric", "inch"), "help": "units shown, instead of the file's"},
    "solid-cell": {
        "metavar": "CELL.toml",
        "help": "stiffness of the solid cell that 'prove --save' wrote, instead of the formula's; "
        "the same as ribs.solid_cell in the file",
    },
    "no-cell": {
        "action": "store_true",
        "help": "keep to the formula where it lies outside the range it was held to unit cells; "
        "else the unit cell is solved then (about 10 s, kept for the next time)",
    },
    "force": {"action": "store_true", "help": "replace files that are there"},
    "strict": {
        "action": "store_true",
        "help": "exit with 1 when the verdict, the first line, is anything but 'holds'",
    },
    "workers": {"type": int, "metavar": "N", "help": "processes; default: all cores"},
}
USUAL = ("json", "plot", "temperature", "units")
JUDGED = (*USUAL, "strict")  # commands whose first line is the verdict on the design


def _no_options(parser: argparse.ArgumentParser) -> None:
    """A command without options of its own."""


# Not a dataclass: loading those would take a sixth of the time of --help.
class Command(NamedTuple):
    """One command of the command line.

    Attributes:
        name: the word behind `gridshell`.
        summary: one line for the list of commands.
        run: does the work; returns the exit code.
        add_options: adds the options that only this command has.
        shared: names in `SHARED` of the options it has in common with others.
        description: head of its help; the summary if empty.
        file: help of FILE.
        needs_file: whether FILE must be given.
        uses: tables of FILE, of those that may be left out, that it works from; another one that
            can't be used is left out with a warning. None: all of them.
    """

    name: str
    summary: str
    run: Callable[[argparse.Namespace], int]
    add_options: Callable[[argparse.ArgumentParser], None] = _no_options
    shared: tuple[str, ...] = USUAL
    description: str = ""
    file: str = "definition file (TOML)"
    needs_file: bool = True
    uses: tuple[str, ...] | None = ("mold", "joints")

    def add_to(self, commands: Any) -> None:
        """Add the parser of this command to argparse's sub-parsers."""
        parser = commands.add_parser(
            self.name, help=self.summary, description=self.description or self.summary
        )
        parser.set_defaults(run=self.run, uses=self.uses)
        parser.add_argument(
            "file", metavar="FILE", help=self.file, nargs=None if self.needs_file else "?"
        )
        for name in self.shared:
            parser.add_argument(f"--{name}", **SHARED[name])
        self.add_options(parser)
