"""`gridshell size`: the lightest wall within every limit."""

from __future__ import annotations

import argparse

from gridshell.commands.command import JUDGED, Command
from gridshell.commands.common import check_free, progress, read_asked, show_answer


def run(options: argparse.Namespace) -> int:
    """Rib height, width, spacing and skin for the least mass within every limit."""
    from gridshell.api import size_tube
    from gridshell.study.size.run import write_sized

    design = read_asked(options)
    check_free(options.write, options.force)
    answer = size_tube(design, progress)
    progress("")
    if options.write:
        write_sized(answer.result, options.write, options.force)
    return show_answer(options, answer)


def _options(parser: argparse.ArgumentParser) -> None:
    parser.add_argument("--write", metavar="DESIGN.toml", help="write the sized design")


COMMAND = Command(
    "size", "rib height, width, spacing and skin for the least mass", run, _options,
    (*JUDGED, "force"),
    uses=("target", "mold", "joints"),
)
