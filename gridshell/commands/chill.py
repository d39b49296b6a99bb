"""`gridshell chill`: chill-down, cracking, warm-up."""

from __future__ import annotations

import argparse

from gridshell.commands.command import JUDGED, Command
from gridshell.commands.common import read_asked, show


def run(options: argparse.Namespace) -> int:
    """Chill the tube as the file says and follow it back: the usable window."""
    from gridshell.define.files.unit_cell_match import without_unit_cell
    from gridshell.report.plots.chill import save_chill_figure
    from gridshell.report.text.chill import chill_text
    from gridshell.report.verdict import chill_finding, verdict_of
    from gridshell.thermal.chill import chill
    from gridshell.thermal.margin import margin_function

    stated = read_asked(options)
    # Poisson's ratio changes on the way down and up, and a solid cell is of one.
    design = without_unit_cell(stated)
    note = "" if stated.ribs.solid_cell is None else (
        "\nnote: margins by the formula; the solid cell holds for one Poisson's ratio"
    )
    result = chill(design, margin_function(design))
    return show(
        options,
        lambda: result.to_dict(),
        lambda: chill_text(result, design.units) + note,
        lambda path: save_chill_figure(result, path, design.units),
        verdict_of(design, more=[chill_finding(result)]),
    )


COMMAND = Command(
    "chill", "chill-down, cracking, warm-up: the usable window", run, shared=JUDGED,
    uses=("chill", "mold", "joints"),
)
