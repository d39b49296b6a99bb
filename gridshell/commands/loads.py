"""`gridshell loads`: loads along the body."""

from __future__ import annotations

import argparse

from gridshell.commands.command import USUAL, Command
from gridshell.commands.common import read_asked, show


def run(options: argparse.Namespace) -> int:
    """Loads along the body, and the load cases that follow from them."""
    from gridshell.loads.run import cases_toml, section_loads
    from gridshell.report.plots.loads import loads_plot
    from gridshell.report.text.loads import as_dict, text

    result = section_loads(read_asked(options))

    if options.cases:
        if options.plot:
            loads_plot(result, options.plot)
        print(cases_toml(result.cases))
        return 0
    return show(
        options,
        lambda: as_dict(result),
        lambda: text(result),
        lambda path: loads_plot(result, path),
    )


def _options(parser: argparse.ArgumentParser) -> None:
    parser.add_argument("--cases", action="store_true", help="print the [[case]] tables only")


COMMAND = Command(
    "loads", "axial force, shear, moment along the body -> load cases", run, _options,
    (*USUAL, "solid-cell"),
)
