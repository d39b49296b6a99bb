"""`gridshell size`: the lightest wall within every limit."""

from __future__ import annotations

import argparse
from typing import TYPE_CHECKING

from gridshell.commands.command import JUDGED, Command
from gridshell.commands.common import check_free, progress, read_asked, show

if TYPE_CHECKING:
    from gridshell.study.size.run import SizeResult


def run(options: argparse.Namespace) -> int:
    """Rib height, width, spacing and skin for the least mass within every limit."""
    from gridshell.mold.checks.failures import making_of
    from gridshell.report.text.size import size_json, size_text
    from gridshell.report.verdict import size_verdict
    from gridshell.study.size.run import size_tube, write_sized

    design = read_asked(options)
    check_free(options.write, options.force)
    making, margins, remaking = making_of(design)
    sizing = size_tube(
        design, progress=progress, making=making, margins=margins, remaking=remaking)
    progress("")

    if options.write:
        write_sized(sizing, options.write, options.force)
    return show(
        options,
        lambda: size_json(sizing),
        lambda: size_text(sizing, design.units),
        lambda path: _plot(sizing, path, design.units),
        size_verdict(sizing),
    )


def _plot(sizing: SizeResult, path: str, units: str) -> None:
    from gridshell.report.plots.size import plot_size  # loaded only where a picture is wanted

    plot_size(sizing, path, units)


def _options(parser: argparse.ArgumentParser) -> None:
    parser.add_argument("--write", metavar="DESIGN.toml", help="write the sized design")


COMMAND = Command(
    "size", "rib height, width, spacing and skin for the least mass", run, _options,
    (*JUDGED, "force"),
    uses=("target", "mold", "joints"),
)
