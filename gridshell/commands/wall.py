"""`gridshell wall`: smeared stiffness, mass and equivalent plain wall."""

from __future__ import annotations

import argparse

from gridshell.commands.command import JUDGED, Command
from gridshell.commands.common import read_asked, show


def run(options: argparse.Namespace) -> int:
    """Assess the wall and show it."""
    from gridshell.material.resolve import properties
    from gridshell.report.plots.wall import plot_wall
    from gridshell.report.text.wall import wall_json, wall_text
    from gridshell.report.verdict import verdict_of
    from gridshell.wall.assess import assess_wall

    design = read_asked(options)
    built = assess_wall(design, properties(design.material, design.folder))
    return show(
        options,
        lambda: wall_json(built),
        lambda: wall_text(built, design.units),
        lambda path: plot_wall(built, path, design.units),
        verdict_of(design),
    )


COMMAND = Command(
    "wall", "smeared stiffness, mass and equivalent plain wall", run,
    shared=(*JUDGED, "solid-cell", "no-cell"),
    uses=(),
)
