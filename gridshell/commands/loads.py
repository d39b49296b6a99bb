"""`gridshell loads`: loads along the body."""

from __future__ import annotations

import argparse

from gridshell.commands.command import JUDGED, Command
from gridshell.commands.common import exit_code, read_asked, show_answer


def run(options: argparse.Namespace) -> int:
    """Loads along the body, and the load cases that follow from them."""
    from gridshell.api import section_loads
    from gridshell.loads.run import cases_toml

    design = read_asked(options)
    answer = section_loads(design)
    if not options.cases:
        return show_answer(options, answer)
    verdict = answer.verdict
    if options.plot:
        answer.plot(options.plot)
    print(f"# {verdict.line}\n{cases_toml(answer.cases, system=design.units)}")
    return exit_code(options, verdict)


def _options(parser: argparse.ArgumentParser) -> None:
    parser.add_argument("--cases", action="store_true", help="print the [[case]] tables only")


COMMAND = Command(
    "loads", "axial force, shear, moment along the body -> load cases", run, _options,
    (*JUDGED, "solid-cell"),
    uses=("body", "mold", "joints"),
)
