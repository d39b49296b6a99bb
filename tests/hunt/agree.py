"""One design through every command: the same numbers."""

from __future__ import annotations

import dataclasses
import math
import tomllib
from typing import Any

import numpy as np

from gridshell.define.files.reading import design_from_table
from gridshell.define.files.writing import definition_text
from gridshell.define.tables.design import Design
from gridshell.define.tables.scatter import Scatter, ScatterInput
from gridshell.define.types import finite
from gridshell.explore.answer import answer
from gridshell.explore.controls import controls_of
from gridshell.material.resolve import properties as resolve
from gridshell.report.text.compare import compare_json
from gridshell.report.text.scatter import scatter_json
from gridshell.report.text.tube import tube_json
from gridshell.report.text.wall import wall_json
from gridshell.study.compare import compare_walls
from gridshell.study.scatter.run import scatter_designs
from gridshell.study.sweep.chunk import run_chunk
from gridshell.study.sweep.plan import Axis, Plan
from gridshell.tube.assess import assess_tube
from gridshell.wall.assess import assess_wall

EXACT = 1e-9
ARRAYS = 1e-3  # 1 + margin of a sweep's row: its wave search is told to be that close


def _gap(one: Any, two: Any) -> float:
    """Relative difference of two numbers; None is no number."""
    if one is None or two is None:
        return 0.0 if one is two else math.inf
    if one == two:
        return 0.0
    return abs(one - two) / max(abs(one), abs(two))


def disagreements(design: Design, scatter: bool = True) -> list[str]:
    """What differs between the commands for one design, in words.

    Args:
        design: one design with load cases.
        scatter: whether to draw a hundred tubes too (it takes longest).
    """
    found: list[str] = []
    tube = tube_json(assess_tube(design))
    margins = {case["name"]: case["margin"] for case in tube["cases"]}

    def hold(who: str, what: str, value: Any, against: Any, room: float = EXACT) -> None:
        if not _gap(value, against) <= room:
            found.append(f"{who}: {what} {value!r}, tube: {against!r}")

    def hold_margin(who: str, value: Any, against: Any, room: float = EXACT) -> None:
        hold(who, "1 + margin", None if value is None else 1 + value,
             None if against is None else 1 + against, room)

    again = tube_json(assess_tube(design_from_table(tomllib.loads(definition_text(design)))))
    for key in ("mass", "EA", "EI", "GJ", "GA"):
        hold("definition file", key, again[key], tube[key])
    for case in again["cases"]:
        hold_margin(f"definition file, {case['name']}", case["margin"], margins[case["name"]])

    known = resolve(design.material, design.folder)
    wall = wall_json(assess_wall(design, known))
    for key, part in (("A", "A"), ("B", "B"), ("D", "D")):
        matrix = getattr(assess_tube(design).wall, part)
        hold("wall", key, float(np.abs(np.asarray(wall[key]) - matrix).max()), 0.0)

    page = answer(design, controls_of(design))
    for key in ("mass", "EA", "EI", "GJ", "margin"):
        hold("explore", key, page["tube"][key], tube[key])
    hold("explore, shown", "mass", page["now"]["si"]["mass"], tube["mass"])
    hold_margin("explore, shown", page["now"]["si"]["margin"], tube["margin"])

    compared = compare_json(compare_walls(design))["walls"][0]
    for key in ("mass", "EI", "EA", "GJ"):
        hold("compare", key, compared[key], tube[key])
    hold_margin("compare", compared["margin"], tube["margin"])
    if page["now"]["si"].get("buckling_load") is not None:
        hold("explore against compare", "buckling load", page["now"]["si"]["buckling_load"],
             compared["buckling_load"])

    path = "skin.thickness"
    axis = Axis(path, (float(design.skin.thickness),), "m", True)
    row = run_chunk(Plan(design, (axis,)), 0)
    if not row["possible"][0]:
        found.append("sweep: possible 0, tube: an answer")
    for key in ("mass", "EA", "EI", "GJ", "GA"):
        hold("sweep", key, float(row[key][0]), tube[key])
    for name, margin in margins.items():
        hold_margin(f"sweep, {name}", finite(row[f"case.{name}.margin"][0]), margin, ARRAYS)

    if scatter:
        table = Scatter(draws=100, input=(ScatterInput(path, "0.0001 %"),))
        drawn = scatter_json(scatter_designs(dataclasses.replace(design, scatter=table),
                                             workers=1))
        hold_margin("scatter", drawn["nominal"]["margin"], tube["margin"])
        for key in ("mass", "EI"):
            hold("scatter, mean", key, drawn["spreads"][key]["mean"], tube[key], 1e-4)
        if drawn["spreads"]["margin"]["mean"] is not None:
            hold_margin("scatter, mean", drawn["spreads"]["margin"]["mean"], tube["margin"], 2e-3)
    return found
