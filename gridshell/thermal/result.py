"""What a chilling gives: curves over time, the usable window, answers, and how it is shown."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Any

import numpy as np

from gridshell.define.types import Array
from gridshell.thermal.answers import Answer
from gridshell.thermal.history import UNCOVERED, Phase
from gridshell.thermal.lever import Lever
from gridshell.thermal.window import FOLLOWED, OPENED, Limit, Window, usable_window


@dataclass(frozen=True)
class Crack:
    """Cracking over the whole history at one place.

    Attributes:
        place: in words; peak: highest ratio, NaN if not known; time: when, s; stress: tension
            there then, Pa (no factor); by: strain or strength; ratio: (times,).
    """

    place: str
    peak: float
    time: float
    stress: float
    by: str
    ratio: Array


@dataclass(frozen=True)
class Row:
    """One line of the printed table."""

    label: str
    value: str
    note: str = ""


@dataclass(frozen=True)
class ChillResult:
    """The whole of it. Time in s, temperature in K.

    Attributes:
        title: of the design; material: its name.
        time: (times,).
        temperature: mean of each part, K: part -> (times,); ``coldest`` and ``warmest`` point.
        stiffness_ratio: mean modulus over that at the reference temperature (times,).
        margin: lowest margin of the load cases (times,), None if not asked for.
        cracks: each place, the worst first.
        cracking_ratio: the worst of them (times,); 1 cracks.
        phases: steps with their balance of heat.
        uncovered: s, when the coolant is taken away.
        limits: each limit of the window, as stated or from the material.
        window: usable time after uncovering, None if there is none; without: the limits that
            prevent it.
        chilled_at: ``uncovered`` state: part -> K.
        answers: fastest rate, lowest temperatures.
        levers: cool to, or shorten to.
        imbalance: worst share of heat unaccounted for.
        notes, cautions: in words.
    """

    title: str
    material: str
    reference: float
    time: Array
    temperature: dict[str, Array]
    coldest: Array
    warmest: Array
    stiffness_ratio: Array
    margin: Array | None
    cracks: tuple[Crack, ...]
    cracking_ratio: Array
    phases: tuple[Phase, ...]
    uncovered: float
    limits: tuple[Limit, ...]
    window: Window | None
    without: tuple[str, ...]
    chilled_at: dict[str, float]
    answers: tuple[Answer, ...]
    levers: tuple[Lever, ...]
    imbalance: float
    notes: tuple[str, ...]
    cautions: tuple[str, ...]

    @property
    def cracks_at(self) -> float | None:
        """First time at which the cracking ratio passes 1, s, or None."""
        over = np.flatnonzero(np.nan_to_num(self.cracking_ratio) > 1)
        if over.size == 0:
            return None
        i = int(over[0])
        if i == 0:
            return float(self.time[0])
        a, b = self.cracking_ratio[i - 1], self.cracking_ratio[i]
        if not np.isfinite(a):
            return float(self.time[i])
        return float(self.time[i - 1] + (1 - a) / (b - a) * (self.time[i] - self.time[i - 1]))

    def rows(self) -> list[Row]:
        """The printed table, what governs first."""
        return _rows(self)

    def to_dict(self) -> dict[str, Any]:
        """For ``--json``: SI units, stable keys; unknown numbers are null."""
        return _dict(self)


def celsius(kelvin: float) -> str:
    """A temperature as shown.

    >>> celsius(255.15)
    '-18.0 degC'
    """
    return f"{round(kelvin - 273.15, 1) + 0.0:.1f} degC"


def duration(seconds: float) -> str:
    """A time as shown.

    >>> duration(90.0), duration(5400.0), duration(12.34)
    ('1.5 min', '1 h 30 min', '12.3 s')
    """
    if seconds < 60:
        return f"{seconds:.1f} s"
    if seconds < 3600:
        return f"{seconds / 60:.1f} min"
    minutes = round(seconds / 60)
    return f"{minutes // 60} h {minutes % 60} min"


def answer_value(answer: Answer) -> str:
    """Value of an answer as shown."""
    if answer.value is None:
        return "any" if answer.limit == "none" else "none"
    if answer.unit == "K":
        return celsius(answer.value)
    return f"{answer.value * 60:.3g} K/min"


def _since(result: ChillResult, when: float) -> str:
    if when >= result.uncovered:
        return f"{duration(when - result.uncovered)} after uncovering"
    return f"{duration(when)} after the start"


def _rows(result: ChillResult) -> list[Row]:
    rows: list[Row] = []
    window = result.window
    if window is None:
        rows.append(Row("usable window", "none", "kept out by: " + ", ".join(result.without)))
    else:
        rows.append(Row(
            "usable window", duration(window.length),
            f"from {duration(window.start - result.uncovered)} ({window.opened_by}) to "
            f"{duration(window.end - result.uncovered)} ({window.ended_by}) after uncovering"))
    for limit in result.limits:
        rows.append(_limit_row(result, limit))
    cracked = result.cracks_at
    worst = result.cracks[0] if result.cracks else None
    if worst is None or not np.isfinite(worst.peak):
        rows.append(Row("cracking ratio", "not known", "the material's limits are not known"))
    else:
        rows.append(Row(
            "cracking ratio", f"{worst.peak:.2f}",
            f"{worst.place}, {_since(result, worst.time)}, by {worst.by}"
            + (f"; cracks {_since(result, cracked)}" if cracked is not None else "")))
        for crack in result.cracks[1:]:
            if np.isfinite(crack.peak):
                rows.append(Row(f"  {crack.place}", f"{crack.peak:.2f}",
                                f"{_since(result, crack.time)}, {crack.stress / 1e6:.3g} MPa"))
    ratio = result.stiffness_ratio
    at = int(np.searchsorted(result.time, result.uncovered - 1e-9))
    if np.isfinite(ratio[at]):
        rows.append(Row("stiffness ratio", f"{ratio[at]:.2f}",
                        f"when uncovered, over that at {celsius(result.reference)}"))
    if result.margin is not None and np.isfinite(result.margin[at]):
        rows.append(Row("lowest margin", f"{result.margin[at]:+.2f}", "when uncovered"))
    for part, kelvin in result.chilled_at.items():
        rows.append(Row(f"{part} when uncovered", celsius(kelvin)))
    for phase in result.phases:
        if phase.name == UNCOVERED:
            continue
        value = "no" if phase.through is None else duration(phase.through - phase.start)
        rows.append(Row(f"chilled through in {phase.name}", value,
                        f"within 1 K of {celsius(phase.surroundings)}"))
    for answer in result.answers:
        by = f"{answer.limit}: " if answer.limit and answer.limit != "none" else ""
        rows.append(Row(answer.name, answer_value(answer), by + answer.note))
    for lever in result.levers:
        rows.append(Row(
            "same tip deflection", f"cool to {celsius(lever.temperature)}",
            f"or shorten to {lever.length * 1e3:.0f} mm ({lever.shorter:.0%} shorter); modulus "
            f"x {lever.stiffness_ratio:.2f}"))
    rows.append(Row("heat unaccounted for", f"{result.imbalance:.2%}", "worst step"))
    return rows


def _limit_row(result: ChillResult, limit: Limit) -> Row:
    shown = celsius(limit.value) if limit.unit == "K" else f"{limit.value:g}"
    label = f"  {limit.name} {'at least' if limit.least else 'at most'} {shown}"
    alone, _ = usable_window(result.time, (limit,), result.uncovered)
    if alone is None:
        return Row(label, "never", "after uncovering")
    until = ("to the end" if alone.ended_by == FOLLOWED
             else f"until {duration(alone.end - result.uncovered)}")
    since = ("from the first" if alone.opened_by == OPENED
             else f"from {duration(alone.start - result.uncovered)}")
    return Row(label, "kept", f"{since} {until} after uncovering")


def _limit_dict(result: ChillResult, limit: Limit) -> dict[str, Any]:
    alone, _ = usable_window(result.time, (limit,), result.uncovered)
    return {"name": limit.name, "value": limit.value, "sense": "least" if limit.least else "most",
            "unit": limit.unit, "kept_from": None if alone is None else alone.start,
            "kept_until": None if alone is None else alone.end}


def _number(value: float | None) -> float | None:
    return None if value is None or not np.isfinite(value) else float(value)


def _list(values: Array) -> list[float | None]:
    return [_number(float(v)) for v in values]


def _dict(result: ChillResult) -> dict[str, Any]:
    window = result.window
    return {
        "title": result.title,
        "material": result.material,
        "time": _list(result.time),
        "temperature": {part: _list(v) for part, v in result.temperature.items()},
        "coldest": _list(result.coldest),
        "warmest": _list(result.warmest),
        "stiffness_ratio": _list(result.stiffness_ratio),
        "margin": None if result.margin is None else _list(result.margin),
        "cracking_ratio": _list(result.cracking_ratio),
        "cracks": [
            {"place": c.place, "peak": _number(c.peak), "time": c.time, "stress": _number(c.stress),
             "by": c.by} for c in result.cracks],
        "cracks_at": result.cracks_at,
        "phases": [
            {"name": p.name, "start": p.start, "end": p.end, "surroundings": p.surroundings,
             "heat": p.heat, "imbalance": p.imbalance, "through": p.through}
            for p in result.phases],
        "uncovered": result.uncovered,
        "limits": [_limit_dict(result, limit) for limit in result.limits],
        "window": None if window is None else {
            "start": window.start, "end": window.end, "length": window.length,
            "opened_by": window.opened_by, "ended_by": window.ended_by},
        "without_window": list(result.without),
        "answers": [{"name": a.name, "value": _number(a.value), "unit": a.unit, "limit": a.limit,
                     "note": a.note} for a in result.answers],
        "levers": [{"temperature": v.temperature, "stiffness_ratio": v.stiffness_ratio,
                    "length": v.length, "shorter": v.shorter} for v in result.levers],
        "imbalance": result.imbalance,
        "notes": list(result.notes),
        "cautions": list(result.cautions),
    }
