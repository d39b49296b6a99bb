"""All commands, in the order in which help lists them, and the parser built from them."""

from __future__ import annotations

import argparse

from gridshell import __version__
from gridshell.commands import (
    chill,
    compare,
    coupon,
    explore,
    fields,
    loads,
    materials,
    mesh,
    mold,
    new,
    prove,
    report,
    scatter,
    size,
    sweep,
    tube,
    wall,
)

COMMANDS = tuple(
    module.COMMAND
    for module in (new, fields, materials, wall, tube, compare, size, sweep, scatter, mold, mesh,
                   prove, explore, chill, loads, report, coupon)
)


def build_parser() -> argparse.ArgumentParser:
    """The command line."""
    parser = argparse.ArgumentParser(
        prog="gridshell",
        description="Light tubes with a rib grid: how stiff, how heavy, what buckles them, what "
        "size to build, and the molds to cast them.",
        epilog="Every command takes a definition file (TOML); see examples/ and README.md.",
    )
    parser.add_argument("--version", action="version", version=f"gridshell {__version__}")
    parsers = parser.add_subparsers(dest="command", metavar="COMMAND", required=True)
    for command in COMMANDS:
        command.add_to(parsers)
    return parser
