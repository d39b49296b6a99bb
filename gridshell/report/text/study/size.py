"""What `gridshell size` shows: the answer first, then its proof; tables and JSON."""

from __future__ import annotations

from collections.abc import Sequence
from typing import Any

from gridshell.define.types import finite
from gridshell.define.units import KINDS
from gridshell.report.numbers import MARGIN_NOTE, digits, margin, shown, table
from gridshell.report.sentences import in_units
from gridshell.report.text.wall import CAUTION
from gridshell.study.size.conflict import BedProblem, Conflict
from gridshell.study.size.limits import LEAST, MAKING, SizeLimit
from gridshell.study.size.making import MakingChange
from gridshell.study.size.optimality import OptimalityCheck, ShadowPrice
from gridshell.study.size.run import Ideal, SizedWall, SizeResult
from gridshell.tube.assess import least_margin
from gridshell.tube.result import TubeResult

_NAMES = {
    "height": "rib height", "width": "rib width", "skin": "skin", "cells_round": "cells round",
    "cells_along": "cells along",
}


def percent(share: float) -> str:
    """A share as a percentage.

    >>> percent(0.1234)
    '12.3 %'
    """
    number = share * 100
    return f"{number:,.0f} %" if abs(number) >= 1000 else f"{number:.3g} %"


def _worst(tube: TubeResult) -> tuple[str, str]:
    """Governing load case and check; empty without load cases."""
    if not tube.cases:
        return "", ""
    case = min(tube.cases, key=lambda case: float(case.margin))
    return case.name, str(case.governing)


def _lengths(tube: TubeResult) -> dict[str, float]:
    found = {"skin": float(tube.design.skin.thickness)}
    if tube.design.has_ribs:
        found = {
            "height": float(tube.design.ribs.height), "width": float(tube.design.ribs.width),
            **found,
        }
    return found


def _is_load(limit: SizeLimit) -> bool:
    return limit.key.startswith("case.")


def bound_text(limit: SizeLimit, system: str = "metric") -> str:
    """The bound of a limit in words."""
    if limit.key.startswith(MAKING):
        return "passes its check"
    sense = "at least" if limit.sense == LEAST else "at most"
    if _is_load(limit):
        return f"margin {sense} {margin(limit.bound - 1)}"
    return f"{sense} {shown(limit.bound, limit.kind, system)}"


def tube_json(tube: TubeResult) -> dict[str, Any]:
    """A sized tube, SI: lengths m, mass kg, EI N m2, frequencies Hz."""
    case, check = _worst(tube)
    grid = tube.wall.grid
    ribs = tube.design.has_ribs
    return {
        **_lengths(tube),
        "cells_round": int(grid.cells_round) if ribs else 0,
        "cells_along": int(grid.cells_along) if ribs else 0,
        "mass": float(tube.mass), "EI": float(tube.stiffness.EI), "EA": float(tube.stiffness.EA),
        "GJ": float(tube.stiffness.GJ),
        "frequencies": {name: float(f) for name, f in tube.frequencies.items()},
        "margin": finite(tube.margin), "case": case, "governing": check,
    }


def _limit_json(limit: SizeLimit) -> dict[str, Any]:
    return {
        "key": limit.key, "text": limit.text, "sense": limit.sense,
        "bound": limit.bound - 1 if _is_load(limit) else limit.bound,
        "unit": "" if _is_load(limit) else KINDS[limit.kind][0],
    }


def _conflict_json(conflict: Conflict) -> dict[str, Any]:
    return {
        "shortfall": conflict.shortfall,
        "limits": [_limit_json(limit) for limit in conflict.limits],
        "relaxations": [
            {
                "key": r.limit.key, "text": r.limit.text,
                "needed": None if r.needed is None else (
                    r.needed - 1 if _is_load(r.limit) else r.needed),
                "load_share": r.needed / r.limit.bound
                if r.needed is not None and _is_load(r.limit) else None,
            }
            for r in conflict.relaxations
        ],
    }


def _wall_json(wall: SizedWall) -> dict[str, Any]:
    rounded = wall.rounded
    least = None if rounded is None else least_margin(rounded.tube)
    return {
        "wall": wall.choice.wall, "side": wall.choice.side, "label": wall.label,
        "ideal": None if wall.ideal is None else {
            **tube_json(wall.ideal.tube),
            "active": [_limit_json(limit) for limit in wall.ideal.active],
        },
        "rounded": None if rounded is None else {
            **tube_json(rounded.tube),
            "spacing": _optional(rounded.design.ribs.spacing),
            "hoop_spacing": _optional(rounded.design.ribs.hoop_spacing),
            "angle": _optional(rounded.design.ribs.angle),
            "notes": list(notes_of(rounded.tube)),
            "least_margin": None if least is None else finite(float(least)),
        },
        "conflict": None if wall.conflict is None else _conflict_json(wall.conflict),
        "making_fails": [{"name": one.name, "advice": one.advice} for one in wall.unmet],
        "making_limits": [
            {"key": f"target.{one.key}", "bound": one.bound, "check": one.check}
            for one in wall.making
        ],
    }


def _optional(value: Any) -> float | None:
    return None if value is None else float(value)


def _optimality_json(check: OptimalityCheck) -> dict[str, Any]:
    return {
        "residual": check.residual,
        "prices": [
            {**_limit_json(p.limit), "moved_by": p.by, "gain": p.gain,
             "multiplier": p.multiplier}
            for p in check.shadow_prices
        ],
        "one_step": [
            {"dimension": n.dimension, "by": n.by, "mass": n.mass, "EI": n.stiffness,
             "margin": finite(n.margin), "broken": n.broken}
            for n in check.nudges
        ],
    }


def size_json(sizing: SizeResult) -> dict[str, Any]:
    """JSON of a sizing, SI. ``walls`` has the best first; a margin is null where nothing loads;
    ``gain`` is kg saved, or N m2 won with aim 'stiffness'."""
    bed = sizing.bed
    return {
        "title": sizing.task.design.title,
        "aim": sizing.task.target.aim,
        "feasible": sizing.feasible,
        "walls": [_wall_json(wall) for wall in sizing.walls],
        "proof": None if sizing.optimality is None else _optimality_json(sizing.optimality),
        "bed": None if bed is None else {
            "section": list(bed.section), "bed": list(bed.bed), "sections": bed.sections,
            "segments": bed.segments,
        },
        "designs_assessed": sizing.evaluations,
        "making_changes": [
            {"field": one.field, "value": one.value, "why": one.why} for one in sizing.changes],
    }


def notes_of(tube: TubeResult) -> tuple[str, ...]:
    """Every note of an assessed tube once, those of the worst check of each case included."""
    found = list(tube.notes)
    for case in tube.cases:
        for check in case.checks[:1]:
            found += [f"{case.name}, {check.name}: {note}" for note in check.notes]
    return tuple(dict.fromkeys(found))


def _wall_row(wall: SizedWall, system: str) -> list[str]:
    ideal, rounded = wall.ideal, wall.rounded
    if rounded is None:
        mass = "-" if ideal is None else shown(ideal.tube.mass, "mass", system)
        why = "limits conflict" if ideal is None else "no whole steps fit"
        return [wall.label, mass, "-", "", "", "", "", "", why]
    assert ideal is not None
    tube = rounded.tube
    lengths = {name: shown(value, "length", system, 3) for name, value in _lengths(tube).items()}
    grid = tube.wall.grid
    cells = f"{grid.cells_round:.0f} x {grid.cells_along:.0f}" if tube.design.has_ribs else ""
    case, check = _worst(tube)
    return [
        wall.label, shown(ideal.tube.mass, "mass", system), shown(tube.mass, "mass", system),
        lengths.get("height", ""), lengths.get("width", ""), lengths["skin"], cells,
        shown(tube.stiffness.EI, "stiffness", system),
        f"{margin(tube.margin)} {case + ': ' if case else ''}{check}".strip(),
    ]


def _answer(sizing: SizeResult, system: str) -> list[str]:
    best = sizing.best
    if best is None:
        return ["Nothing that can be made meets every limit."]
    assert best.rounded is not None
    tube = best.rounded.tube
    parts = ", ".join(
        f"{_NAMES[name]} {shown(value, 'length', system, 3)}"
        for name, value in _lengths(tube).items()
    )
    aim = "lightest" if sizing.task.target.aim == "mass" else "stiffest"
    cells = ""
    if tube.design.has_ribs:
        grid = tube.wall.grid
        cells = f"; {grid.cells_round:.0f} cells round a segment, {grid.cells_along:.0f} along"
        cells += " a section"
    return [
        f"{aim}: {best.label}, {parts}{cells}",
        f"mass {shown(tube.mass, 'mass', system)}, EI "
        f"{shown(tube.stiffness.EI, 'stiffness', system)}, lowest margin "
        f"{margin(tube.margin)}",
    ]


def _ideal_rows(ideal: Ideal, tube: TubeResult, system: str) -> list[list[str]]:
    rows = [
        [_NAMES[name], shown(value, "length", system), shown(made, "length", system)]
        for (name, value), made in zip(
            ideal.lengths.items(), _lengths(tube).values(), strict=True)
    ]
    rows.append(["mass", shown(ideal.tube.mass, "mass", system), shown(tube.mass, "mass", system)])
    rows.append(["EI", shown(ideal.tube.stiffness.EI, "stiffness", system),
                 shown(tube.stiffness.EI, "stiffness", system)])
    ideal_margin = float(ideal.tube.margin)
    rows.append(["lowest margin", margin(abs(ideal_margin) if abs(ideal_margin) < 5e-5
                                         else ideal_margin), margin(tube.margin)])
    return rows


def _shadow_price_row(price: ShadowPrice, aim: str, system: str) -> list[str]:
    limit = price.limit
    moved = (
        shown(price.by, "length", system, 3) if limit.kind == "length"
        else f"{percent(price.by / limit.bound)} of the load" if _is_load(limit)
        else percent(price.by / limit.bound)
    )
    kind = "mass" if aim == "mass" else "stiffness"
    return [
        limit.text, bound_text(limit, system), moved, shown(price.gain, kind, system, 3),
        digits(price.multiplier, 2),
    ]


def _optimality_lines(sizing: SizeResult, system: str) -> list[str]:
    check, best = sizing.optimality, sizing.best
    if check is None:
        return []
    aim = sizing.task.target.aim
    word = "mass saved" if aim == "mass" else "EI gained"
    lines = ["", f"Limits that govern, and {word} if one is relaxed (cell counts re-optimized):"]
    lines.append(table(
        [_shadow_price_row(p, aim, system) for p in check.shadow_prices],
        ["limit", "bound", "relaxed by", word, "sensitivity"],
    ))
    lines.append(
        f"residual of the optimality conditions: {percent(check.residual)} "
        "(zero at an exact optimum)"
    )
    if best is not None and check.nudges:
        rows = [
            [
                _NAMES[n.dimension],
                f"{n.by:+.0f}" if n.dimension.startswith("cells")
                else ("+" if n.by > 0 else "-") + shown(abs(n.by), "length", system, 2),
                ("+" if n.mass > 0 else "-") + shown(abs(n.mass), "mass", system, 3),
                margin(n.margin), n.broken or "",
            ]
            for n in check.nudges
        ]
        lines += ["", "One step from the design as made:",
                  table(rows, ["dimension", "change", "mass", "margin", "breaks"])]
    return lines


def relaxation_text(limit: SizeLimit, needed: float | None, system: str) -> str:
    """What a limit alone would have to become."""
    if needed is None:
        return "not possible alone"
    if _is_load(limit):
        return f"carry {percent(needed / limit.bound)} of the load"
    return f"{'at least' if limit.sense == LEAST else 'at most'} " + shown(
        needed, limit.kind, system)


def _conflict_lines(conflict: Conflict, system: str) -> list[str]:
    rows = [
        [r.limit.text, bound_text(r.limit, system), relaxation_text(r.limit, r.needed, system)]
        for r in conflict.relaxations
    ]
    return [
        "",
        f"{conflict.wall}: these limits conflict. Relaxing all of them by "
        f"{percent(conflict.shortfall)} is just enough, or any one alone as shown:",
        table(rows, ["limit", "stated", "needed"]),
    ]


def _bed_lines(bed: BedProblem, system: str) -> list[str]:
    def box(sides: tuple[float, ...]) -> str:
        return " x ".join(shown(side, "length", system) for side in sides)

    ways = []
    if bed.sections is not None:
        ways.append(f"tube.sections = {bed.sections}")
    if bed.segments is not None:
        ways.append(f"tube.segments = {bed.segments}")
    remedy = " or ".join(ways) if ways else "no number of sections or segments alone is enough"
    return [
        f"One piece, {box(bed.section)}, does not fit the bed, {box(bed.bed)}: {remedy}.",
    ]


def _making_lines(best: SizedWall, changes: Sequence[MakingChange], system: str) -> list[str]:
    """What the mold fails, first; then what sizing set and kept to so that it holds."""
    lines = [f"MOLD FAILS: {one.name}. {in_units(one.advice, system)}" for one in best.unmet]
    if best.unmet:
        lines.append("No size of this wall mends that within the other limits.")
    lines += [f"set for the mold: {one.field} = {one.value} ({one.why})" for one in changes]
    lines += [
        f"for the mold: target.{one.key} = {shown(one.bound, 'length', system, 3)} "
        f"({one.check})" for one in best.making
    ]
    return lines


def size_text(sizing: SizeResult, system: str = "metric") -> str:
    """The report of a sizing: the answer, each wall beside it, the proof, conflicts."""
    lines = [sizing.task.design.title, ""]
    if sizing.bed is not None:
        lines += _bed_lines(sizing.bed, system)
    if sizing.best is not None:
        lines += _making_lines(sizing.best, sizing.changes, system)
    lines += _answer(sizing, system)
    head = ["wall", "ideal mass", "made mass", "rib height", "rib width", "skin", "cells", "EI",
            "lowest margin"]
    lines += ["", table([_wall_row(wall, system) for wall in sizing.walls], head)]
    best = sizing.best
    if best is not None and best.ideal is not None and best.rounded is not None:
        lines += ["", table(_ideal_rows(best.ideal, best.rounded.tube, system),
                            [best.label, "ideal", "made"])]
    lines += _optimality_lines(sizing, system)
    if best is None:
        for wall in sizing.walls:
            if wall.conflict is not None:
                lines += _conflict_lines(wall.conflict, system)
    elif best.rounded is not None:
        notes = notes_of(best.rounded.tube)
        least = least_margin(best.rounded.tube)
        if least is not None:
            notes = (*notes, (
                "the wall lies outside of the unit cells that its formula was held to; by the "
                f"lower bound of its stiffness its margin is at least {margin(least)}; "
                "'gridshell tube' solves its unit cell"))
        if notes:
            lines += ["", *(f"note: {in_units(note, system)}" for note in notes)]
    lines += ["", MARGIN_NOTE, CAUTION]
    return "\n".join(lines)
