"""`gridshell mold`: mold halves as files."""

from __future__ import annotations

import argparse
from pathlib import Path

from gridshell.commands.command import JUDGED, Command
from gridshell.commands.common import progress, read_asked, show
from gridshell.define.errors import InputError


def run(options: argparse.Namespace) -> int:
    """Mold halves, checked, with sheets and pour sheet."""
    from gridshell.mold.files.write import FORMATS
    from gridshell.report.plots.mold import plot_undercut

    chosen = tuple(options.formats.split(",")) if options.formats else FORMATS
    for name in chosen:
        if name not in FORMATS:
            raise InputError(f"--formats: {name!r} is not one of {', '.join(FORMATS)}")
    from gridshell.report.jobs.mold import make_molds
    from gridshell.report.text.mold import mold_json, mold_text
    from gridshell.report.verdict import verdict_of

    design = read_asked(options)
    job = make_molds(
        design, options.out or Path("exports") / Path(options.file).stem, options.force, chosen,
        progress,
    )
    progress("")
    show(
        options,
        lambda: mold_json(job),
        lambda: mold_text(job, design.units),
        lambda path: plot_undercut(job.checks, path),
        verdict_of(design, mold=job.checks),
    )
    return int(bool(job.faulty))


def _options(parser: argparse.ArgumentParser) -> None:
    parser.add_argument("--out", metavar="FOLDER", help="default: exports/ and the name of FILE")
    parser.add_argument("--formats", metavar="LIST", help="of step,stl,3mf,png; default: all")


COMMAND = Command(
    "mold", "mold halves as STEP and STL, with checks, sheets, pour sheet", run, _options,
    (*JUDGED, "force"),
)
