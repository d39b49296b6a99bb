"""`gridshell mold`: mold halves as files."""

from __future__ import annotations

import argparse
from pathlib import Path

from gridshell.commands.command import JUDGED, Command
from gridshell.commands.common import progress, read_asked, show_answer
from gridshell.define.errors import InputError


def run(options: argparse.Namespace) -> int:
    """Mold halves, checked, with sheets and pour sheet."""
    from gridshell.mold.files.write import FORMATS

    chosen = tuple(options.formats.split(",")) if options.formats else FORMATS
    for name in chosen:
        if name not in FORMATS:
            raise InputError(f"--formats: {name!r} is not one of {', '.join(FORMATS)}")
    from gridshell.api import Answer, build_molds

    design = read_asked(options)
    out = options.out or Path("exports") / Path(options.file).stem
    answer = build_molds(design, out, options.force, chosen, progress)
    assert isinstance(answer, Answer)
    progress("")
    show_answer(options, answer)
    return int(bool(answer.faulty))


def _options(parser: argparse.ArgumentParser) -> None:
    parser.add_argument("--out", metavar="FOLDER", help="default: exports/ and the name of FILE")
    parser.add_argument("--formats", metavar="LIST", help="of step,stl,3mf,png; default: all")


COMMAND = Command(
    "mold", "mold halves as STEP and STL, with checks, sheets, pour sheet", run, _options,
    (*JUDGED, "force"),
)
