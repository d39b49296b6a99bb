"""`gridshell report`: one page, for the screen and for paper."""

from __future__ import annotations

import argparse
from pathlib import Path

from gridshell.commands.command import Command
from gridshell.commands.common import check_free, exit_code, progress, read_asked


def run(options: argparse.Namespace) -> int:
    """One page with the answer, pictures, checks, mold and the definition file."""
    from gridshell.define.files.reading import read_toml
    from gridshell.define.files.replacing import write_text
    from gridshell.report.page.page import report_page, write_pdf

    design = read_asked(options)
    name = Path(options.file).stem
    target = Path(options.out or f"{name}-report.html")
    for path in (target, options.pdf):
        check_free(path, options.force)
    page, verdict = report_page(design, read_toml(options.file)[1], progress)
    write_text(target, page, options.force)
    written = [str(target)]
    if options.pdf:
        progress("PDF")
        write_pdf(page, options.pdf, options.force)
        written.append(str(options.pdf))
    progress("")
    print(f"{verdict.line}\n\nwrote {', '.join(written)}")
    return exit_code(options, verdict)


def _options(parser: argparse.ArgumentParser) -> None:
    parser.add_argument("--out", metavar="PAGE.html", help="default: name of FILE + -report.html")
    parser.add_argument("--pdf", metavar="REPORT.pdf", help="write a PDF for paper too")


COMMAND = Command(
    "report", "one page with answer, pictures, checks, mold and definition file", run, _options,
    ("temperature", "units", "strict", "solid-cell", "no-cell", "force"),
    "One self-contained HTML page (and PDF): nothing in it is linked.",
    uses=None,
)
