"""One design through every command: the same numbers."""

from __future__ import annotations

import dataclasses
import math
import tomllib
from typing import Any
from unittest import mock

import numpy as np

from gridshell.define.files.reading import design_from_table
from gridshell.define.files.writing import definition_text
from gridshell.define.tables.body import Body, Event, Part
from gridshell.define.tables.design import Design
from gridshell.define.tables.scatter import Scatter, ScatterInput
from gridshell.define.types import finite
from gridshell.explore.answer import answer, whole_column
from gridshell.explore.controls import controls_of
from gridshell.loads.run import cases_toml, section_loads, with_cases
from gridshell.material.resolve import properties as resolve
from gridshell.report.numbers import margin as shown_margin
from gridshell.report.page import page as report
from gridshell.report.text.study.compare import compare_json
from gridshell.report.text.study.scatter import scatter_json
from gridshell.report.text.tube.result import tube_json
from gridshell.report.text.wall import wall_json
from gridshell.study.compare import compare_walls
from gridshell.study.scatter.run import scatter_designs
from gridshell.study.size.candidates import WALLS, wall_choice
from gridshell.study.size.limits import make_task
from gridshell.study.size.run import size_tube
from gridshell.study.size.search import Searcher
from gridshell.study.sweep.chunk import run_chunk
from gridshell.study.sweep.plan import Axis, Plan
from gridshell.tube.assess import assess_tube
from gridshell.wall.assess import assess_wall

EXACT = 1e-9
DIGITS = 2e-3  # 1 + margin of a case written with four digits
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

    seen = assess_tube(design)
    page = {**answer(seen, controls_of(design)), "now": whole_column(seen)}
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
    # Outside of the map a sweep takes the lower of the formula and the bound.
    least = assess_tube(design, least=True) if row["outside_map"][0] else None
    for name, margin in margins.items():
        if least is not None:
            bound = finite(next(case.margin for case in least.cases if case.name == name))
            margin = min((one for one in (margin, bound) if one is not None), default=None)
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
    if design.ribs.pattern != "families":
        found += sized(design, tube)
    return found + handed_on(design, tube)


def sized(design: Design, tube: dict[str, Any]) -> list[str]:
    """What `size` finds at the point of its search that is this design."""
    ribs, grid = design.ribs, assess_tube(design).wall.grid
    wall = next(name for name, (pattern, way, _) in WALLS.items() if pattern == ribs.pattern
                and (pattern != "isogrid" or way == ribs.orientation))
    task = make_task(design, resolve(design.material, design.folder))
    searcher = Searcher(task, wall_choice(design, wall, ribs.side))
    values = {"height": ribs.height, "width": ribs.width, "skin": design.skin.thickness,
              "cells_round": grid.cells_round, "cells_along": grid.cells_along}
    point = np.log([[float(values[name]) for name in searcher.choice.dimensions]])
    at = searcher.assess(point, whole=True)
    found = [f"size: {key} {value!r}, tube: {tube[key]!r}" for key, value in (
        ("mass", float(np.ravel(at.mass)[0])),
        *((key, float(np.ravel(getattr(at.stiffness, key))[0])) for key in ("EA", "EI", "GJ")),
    ) if not _gap(value, tube[key]) <= EXACT]
    for case, stated in zip(at.cases, sorted(
            tube["cases"], key=lambda one: [c.name for c in design.case].index(one["name"])),
            strict=True):
        margin = finite(np.ravel(case.margin)[0])
        if _gap(None if margin is None else 1 + margin,
                None if stated["margin"] is None else 1 + stated["margin"]) > ARRAYS:
            found.append(f"size, {case.name}: margin {margin!r}, tube: {stated['margin']!r}")
    return found


def handed_on(design: Design, tube: dict[str, Any]) -> list[str]:
    """Loads along a body of this tube: its numbers, and its cases as printed and pasted."""
    length = float(design.tube.length)
    body = dataclasses.replace(design, body=Body(
        part=(Part(name="tube", role="tube"),), event=(
            Event(name="gale", kind="mast", wind_speed=5.0, factor=1.5),
            Event(name="lifted", kind="handling", factor=1.5,
                  supports=(0.1 * length, 0.9 * length)),
        )))
    loads = section_loads(body)
    found = [f"loads: {key} {getattr(loads.tube, key)!r}, tube: {tube[key]!r}"
             for key in ("mass", "EI", "GA") if _gap(getattr(loads.tube, key), tube[key]) > EXACT]
    own = assess_tube(with_cases(design, loads.cases, keep=False))
    bare = definition_text(dataclasses.replace(design, case=()))
    pasted = design_from_table(tomllib.loads(bare + "\n" + cases_toml(loads.cases)))
    for one, two in zip(own.cases, assess_tube(pasted).cases, strict=True):
        if one.support != two.support or _gap(
                1 + float(one.margin), 1 + float(two.margin)) > DIGITS:
            found.append(f"loads, {one.name}: margin {one.margin!r} of {one.support}, pasted into "
                         f"a file {two.margin!r} of {two.support}")
    return found


def shown_in_report(design: Design) -> list[str]:
    """Margins of `tube` that the page of `report` does not show beside their case and check."""
    tube = assess_tube(design)
    with mock.patch.object(report, "picture", return_value=""):
        page, verdict = report.report_page(design, definition_text(design))
    missing = [f"report: {case.name}, {case.governing} governs, margin {shown_margin(case.margin)}"
               for case in tube.cases
               if f"{case.governing} governs, margin {shown_margin(case.margin)}" not in page]
    said = "holds" if float(tube.margin) >= 0 else "FAILS"
    if said == "FAILS" and "FAILS" not in verdict.line:
        missing.append(f"report: verdict {verdict.line!r}, tube fails")
    return missing


def written_by_size(design: Design) -> list[str]:
    """A sized design, written and read again: the numbers that `size` stated."""
    found = size_tube(design)
    if found.best is None:
        return []
    stated = found.best.rounded.tube
    read = assess_tube(design_from_table(tomllib.loads(
        definition_text(found.best.rounded.design))))
    return [f"size, written: {name} {one!r}, tube: {two!r}" for name, one, two in (
        ("mass", stated.mass, read.mass), ("EI", stated.stiffness.EI, read.stiffness.EI),
        ("1 + margin", 1 + stated.margin, 1 + read.margin),
    ) if _gap(float(one), float(two)) > EXACT]
