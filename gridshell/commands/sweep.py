"""`gridshell sweep`: every combination of varied fields as one table."""

from __future__ import annotations

import argparse

from gridshell.commands.command import USUAL, Command
from gridshell.commands.common import counted, progress, read_asked, show


def run(options: argparse.Namespace) -> int:
    """Every combination of varied fields, written as one table."""
    from gridshell.api import sweep_designs

    answer = sweep_designs(
        read_asked(options), options.vary, options.out, resume=options.resume,
        workers=options.workers, cluster=options.cluster, force=options.force, progress=counted,
    )
    progress("")
    return show(options, answer.to_dict, answer.text, answer.plot)


def _options(parser: argparse.ArgumentParser) -> None:
    parser.add_argument(
        "--vary", metavar="FIELD=FROM:TO:COUNT", action="append", required=True,
        help="such as ribs.height=2mm:8mm:25 or ribs.pattern=isogrid,orthogrid; repeat",
    )
    parser.add_argument("--out", metavar="TABLE.csv", required=True, help=".csv, .parquet or .npz")
    parser.add_argument("--resume", action="store_true", help="go on with a stopped sweep")
    parser.add_argument("--cluster", metavar="ADDRESS", help="Dask scheduler, or 'local'")


COMMAND = Command(
    "sweep", "every combination of varied fields, as a table", run, _options,
    (*USUAL, "workers", "force"),
)
