"""`gridshell explore`: a local page with sliders."""

from __future__ import annotations

import argparse

from gridshell.commands.command import Command


def run(options: argparse.Namespace) -> int:
    """Serve the page until stopped."""
    from gridshell.explore.serve.run import run_explore

    return run_explore(options.file, port=options.port, open_browser=not options.no_browser)


def _options(parser: argparse.ArgumentParser) -> None:
    parser.add_argument("--port", type=int, default=None, metavar="N",
                        help="default: the same for the same file, or a free one; 0: any")
    parser.add_argument("--no-browser", action="store_true", help="print the address only")


COMMAND = Command(
    "explore", "a local page with sliders, curves and the part in 3-D", run, _options, (),
    "Serves a page on this machine only, until stopped with Ctrl-C.",
    uses=None,
)
