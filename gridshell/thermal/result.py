"""What a chilling gives: curves over time, the usable window, answers."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from gridshell.define.types import Array
from gridshell.thermal.answers import Answer
from gridshell.thermal.history import Phase
from gridshell.thermal.lever import Lever
from gridshell.thermal.window import Limit, Window


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
class ChillResult:
    """The whole of it. Time in s, temperature in K.

    Attributes:
        title: of the design; material: its name.
        length: of the body, m; reference: K.
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


def celsius(kelvin: float) -> str:
    """A temperature as shown.

    >>> celsius(255.15)
    '-18.0 degC'
    """
    return f"{round(kelvin - 273.15, 1) + 0.0:.1f} degC"
