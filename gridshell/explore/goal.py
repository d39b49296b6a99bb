"""A goal: the lightest design that meets what is wanted, by the search of `gridshell size`."""

from __future__ import annotations

import dataclasses
from collections.abc import Callable
from typing import Any

from gridshell.define.files.writing import quantity_text
from gridshell.define.schema import field_rules
from gridshell.define.tables.design import Design
from gridshell.define.tables.target import WALLS, Target
from gridshell.explore.controls import Controls
from gridshell.mold.checks.failures import mold_failures, mold_margins
from gridshell.report.numbers import margin, shown
from gridshell.report.text.study.size import bound_text
from gridshell.study.size.run import SizedWall, SizeResult, size_tube

_BETTER = 0.999  # of the mass; closer is no better


def as_target(design: Design, every_wall: bool) -> Design:
    """The design with the walls that are searched: its own and a plain one, or every one.

    The wall on show comes first, so that an answer for its map is soon there.
    """
    target = design.target if design.target is not None else Target()
    ribs = design.ribs
    own = f"isogrid-{ribs.orientation}" if ribs.pattern == "isogrid" else ribs.pattern
    walls: tuple[str, ...] = tuple(dict.fromkeys((own, "plain")))
    if every_wall:
        walls = (*walls, *(wall for wall in target.walls if wall not in walls))
    walls = tuple(wall for wall in walls if wall in WALLS)
    return dataclasses.replace(design, target=dataclasses.replace(target, walls=walls))


def find(
    design: Design, controls: Controls, with_mold: bool, every_wall: bool,
    progress: Callable[[str], None], so_far: Callable[[dict[str, Any]], None],
) -> dict[str, Any]:
    """The answer to a goal.

    Args:
        design: one design; what is wanted stands in its ``[target]``.
        controls: of the page, to state designs in its values.
        with_mold: whether the mold's checks must not fail.
        every_wall: look at every rib pattern, not only the one on show and a plain wall.
        progress: told each step.
        so_far: told what each wall came to.

    Raises:
        InputError: nothing to size for.
    """
    rows: list[dict[str, Any]] = []

    def told(wall: SizedWall) -> None:
        rows.append(_row(wall, controls, design.units))
        so_far({"walls": rows})

    sizing = size_tube(
        as_target(design, every_wall), progress=progress,
        making=mold_failures if with_mold else None, found=told,
        margins=mold_margins(design) if with_mold else None,
        workers=1,  # another core has the page to answer
    )
    walls = [_row(wall, controls, design.units) for wall in sizing.walls]
    return {"walls": walls, "feasible": sizing.feasible, "said": _said(sizing, design.units)}


def _row(wall: SizedWall, controls: Controls, system: str) -> dict[str, Any]:
    """One wall: its mass and margin, and the values that put the page on it; null without one."""
    if wall.rounded is None:
        return {"label": wall.label, "values": None, "text": "no design meets the goal"}
    tube = wall.rounded.tube
    fails = "".join(f"; fails in making: {one.name}" for one in wall.unmet)
    worst = f", margin {margin(float(tube.margin))}" if tube.cases else ""
    return {
        "label": wall.label, "values": values_of(wall.rounded.design, controls),
        "mass": float(tube.mass), "margin": float(tube.margin) if tube.cases else None,
        "text": f"{shown(tube.mass, 'mass', system, 4)}{worst}{fails}",
        "unmet": [one.name for one in wall.unmet],
    }


def values_of(design: Design, controls: Controls) -> dict[str, str]:
    """A design in the words of the page's controls."""
    found = {}
    for choice in controls.choices:
        table, _, name = choice.path.partition(".")
        if choice.path == "ribs.pattern" or design.ribs.pattern in choice.patterns:
            found[choice.path] = str(getattr(getattr(design, table), name))
    for slider in controls.sliders:
        table, _, name = slider.path.partition(".")
        value = getattr(getattr(design, table), name)
        if value is not None and design.ribs.pattern in slider.patterns:
            kind = field_rules(Design, slider.path)["kind"]
            found[slider.path] = quantity_text(value, kind, slider.unit)
    return found


def _said(sizing: SizeResult, system: str) -> str:
    """The answer in a sentence, and whether a plain wall does better."""
    best = sizing.best
    if best is None or best.rounded is None:
        conflict = next((wall.conflict for wall in sizing.walls if wall.conflict), None)
        limits = "" if conflict is None else "; in the way of each other: " + ", ".join(
            f"{limit.text} {bound_text(limit, system)}" for limit in conflict.limits[:4])
        return f"no design that can be made meets the goal{limits}"
    said = f"lightest: {best.label}, {shown(best.rounded.tube.mass, 'mass', system, 4)}"
    if best.unmet:
        said += "; its making still fails: " + ", ".join(one.name for one in best.unmet)
    plain = next((w for w in sizing.walls if w.choice.wall == "plain" and w.rounded), None)
    grids = [w for w in sizing.walls if w.choice.wall != "plain" and w.rounded is not None]
    if plain is None or plain.rounded is None:
        return f"{said}; no plain wall meets the goal"
    weight = float(plain.rounded.tube.mass)
    if not grids:
        return f"{said}; no ribbed wall meets the goal"
    lightest = min(float(w.rounded.tube.mass) for w in grids if w.rounded is not None)
    if weight < lightest * _BETTER:
        return (f"{said}. A plain wall does better: {shown(weight, 'mass', system, 4)} against "
                f"{shown(lightest, 'mass', system, 4)} with ribs")
    return f"{said}. The best plain wall weighs {shown(weight, 'mass', system, 4)}"
