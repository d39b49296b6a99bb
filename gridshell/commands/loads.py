"""`gridshell loads`: loads along the body."""

from __future__ import annotations

import argparse

from gridshell.commands.command import JUDGED, Command
from gridshell.commands.common import exit_code, read_asked, show


def run(options: argparse.Namespace) -> int:
    """Loads along the body, and the load cases that follow from them."""
    from gridshell.loads.run import cases_toml, section_loads
    from gridshell.report.plots.loads import plot_loads
    from gridshell.report.text.loads import loads_json, loads_text
    from gridshell.report.verdict import verdict_of

    design = read_asked(options)
    result = section_loads(design)
    verdict = verdict_of(design, loads=result)

    if options.cases:
        if options.plot:
            plot_loads(result, options.plot, design.units)
        print(f"# {verdict.line}\n{cases_toml(result.cases, system=design.units)}")
        return exit_code(options, verdict)
    return show(
        options,
        lambda: loads_json(result),
        lambda: loads_text(result, design.units),
        lambda path: plot_loads(result, path, design.units),
        verdict,
    )


def _options(parser: argparse.ArgumentParser) -> None:
    parser.add_argument("--cases", action="store_true", help="print the [[case]] tables only")


COMMAND = Command(
    "loads", "axial force, shear, moment along the body -> load cases", run, _options,
    (*JUDGED, "solid-cell"),
    uses=("body", "mold", "joints"),
)
