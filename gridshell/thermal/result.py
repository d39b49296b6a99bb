"""What a chilling gives: curves over time, the usable window, answers."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Any

import numpy as np

from gridshell.define.types import Array
from gridshell.thermal.answers import Answer
from gridshell.thermal.heat.history import Phase
from gridshell.thermal.window import ServiceLimit, Window, usable_window

CRACKING = "cracking ratio"  # name of its limit


@dataclass(frozen=True)
class Crack:
    """Cracking over the whole history at one place.

    Attributes:
        place: in words.
        peak: highest ratio, NaN if not known.
        time: when, s.
        stress: tension there then, Pa (no factor).
        by: strain or strength.
        ratio: (times,).
    """

    place: str
    peak: float
    time: float
    stress: float
    by: str
    ratio: Array


@dataclass(frozen=True)
class ChillResult:
    """The whole of it. Time in s, temperature in K.

    Attributes:
        title: of the design.
        material: its name.
        length: of the body, m.
        reference: K.
        time: (times,).
        temperature: mean of each part, K: part -> (times,).
        coldest: point of the wall (times,).
        warmest: point of the wall (times,).
        stiffness_ratio: mean modulus over that at the reference temperature (times,).
        margin: lowest margin of the load cases (times,), None if not asked for.
        cracks: each place, the worst first.
        cracking_ratio: the worst of them (times,); 1 cracks; NaN where it is not known.
        phases: steps with their balance of heat.
        exposed_at: s, when the coolant is taken away.
        limits: each limit of the window, as stated or from the material.
        window: usable time after uncovering, None if there is none.
        without: the limits that prevent it.
        chilled_at: ``uncovered`` state: part -> K.
        answers: fastest rate, lowest temperatures.
        imbalance: worst share of heat unaccounted for.
        notes: in words.
        cautions: in words.
    """

    title: str
    material: str
    length: float
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
    exposed_at: float
    limits: tuple[ServiceLimit, ...]
    window: Window | None
    without: tuple[str, ...]
    chilled_at: dict[str, float]
    answers: tuple[Answer, ...]
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

    def to_dict(self) -> dict[str, Any]:
        """For other programs: SI, time in s from the start, temperature in K, unknown is None.

        ``temperature`` (mean of each part), ``coldest`` and ``warmest`` point,
        ``stiffness_ratio``, ``margin`` and ``cracking_ratio`` are series over ``time``; ``cracks``
        (peak of each place, stress in Pa); ``phases`` (heat in J per meter of tube, through:
        chilled through at); ``limits`` (kept_from, kept_until); ``window``; ``answers`` (value in
        unit); ``imbalance`` (share of the heat).
        """
        return _dict(self)


def celsius(kelvin: float) -> str:
    """A temperature as shown.

    >>> celsius(255.15)
    '-18.0 degC'
    """
    return f"{round(kelvin - 273.15, 1) + 0.0:.1f} degC"


def _number(value: float | None) -> float | None:
    return None if value is None or not np.isfinite(value) else float(value)


def _list(values: Array) -> list[float | None]:
    return [_number(float(v)) for v in values]


def _limit_json(result: ChillResult, limit: ServiceLimit) -> dict[str, Any]:
    alone, _ = usable_window(result.time, (limit,), result.exposed_at)
    return {
        "name": limit.name, "value": limit.value, "sense": "least" if limit.least else "most",
        "unit": limit.unit, "kept_from": None if alone is None else alone.start,
        "kept_until": None if alone is None else alone.end}


def _dict(result: ChillResult) -> dict[str, Any]:
    window = result.window
    return {
        "title": result.title,
        "material": result.material,
        "reference": result.reference,
        "time": _list(result.time),
        "temperature": {part: _list(v) for part, v in result.temperature.items()},
        "coldest": _list(result.coldest),
        "warmest": _list(result.warmest),
        "stiffness_ratio": _list(result.stiffness_ratio),
        "margin": None if result.margin is None else _list(result.margin),
        "cracking_ratio": _list(result.cracking_ratio),
        "cracks": [
            {"place": c.place, "peak": _number(c.peak), "time": c.time,
             "stress": _number(c.stress), "by": c.by} for c in result.cracks],
        "cracks_at": result.cracks_at,
        "phases": [
            {"name": p.name, "start": p.start, "end": p.end, "surroundings": p.surroundings,
             "heat": p.heat, "imbalance": p.imbalance, "through": p.through}
            for p in result.phases],
        "uncovered": result.exposed_at,
        "limits": [_limit_json(result, limit) for limit in result.limits],
        "window": None if window is None else {
            "start": window.start, "end": window.end, "length": window.length,
            "opened_by": window.opened_by, "ended_by": window.ended_by},
        "without_window": list(result.without),
        "answers": [
            {"name": a.name, "value": _number(a.value), "unit": a.unit, "limit": a.limit,
             "note": a.note} for a in result.answers],
        "imbalance": result.imbalance,
        "notes": list(result.notes),
        "cautions": list(result.cautions),
    }
