"""Strength under a load that stays on: a straight line of log strength over log time."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from gridshell.define.types import Array, Quantity
from gridshell.material.curve import Curve

NO_DATA_PER_DECADE = 0.9  # common practice, no source: stiff plastics at room temperature
NO_DATA_TEST = 60.0  # s


def rupture_factor(
    duration: Quantity, per_decade: Quantity, test_duration: Quantity, longest: Quantity = np.inf
) -> Array:
    """Strength under a load of some duration, over the strength in a short test.

    The stress that a plastic bears falls on a straight line of log stress over log time; after
    some time the line bends down (the knee). With the share f that remains for each tenfold of
    time, and the knee put where the data end, with twice the slope behind it:

        s(t)/s(t0) = f^n,   n = log10(t/t0) + log10(t/t_longest) where t is beyond t_longest,

    and 1 for t below t0.

    Args:
        duration: t, s.
        per_decade: f, at most 1.
        test_duration: t0, s.
        longest: longest time that the data cover, s.
    Returns:
        the ratio, at most 1; broadcast over the arguments.
    Source: straight line and knee: ISO 9080:2012, Plastics piping and ducting systems,
        determination of the long-term hydrostatic strength of thermoplastics materials in pipe
        form by extrapolation. The slope behind the knee is ours, on the safe side.

    >>> round(float(rupture_factor(6000.0, 0.9, 60.0)), 4)
    0.81
    >>> float(rupture_factor(1.0, 0.9, 60.0))
    1.0
    """
    time = np.asarray(duration, dtype=float)
    decades = np.log10(np.maximum(time / test_duration, 1.0))
    beyond = np.log10(np.maximum(time / np.maximum(longest, test_duration), 1.0))
    return np.asarray(np.asarray(per_decade, dtype=float) ** (decades + beyond), dtype=float)


@dataclass(frozen=True)
class Rupture:
    """Loss of strength of a material over time, as its file states it.

    Attributes:
        per_decade: share of the strength that remains for each tenfold of time, over temperature.
        test_duration: time that the short test took, s.
        longest: longest time that the data cover, s.
        source: where the numbers come from.
    """

    per_decade: Curve
    test_duration: float
    longest: float
    source: str

    def at(self, temperature: Quantity, duration: Quantity) -> tuple[Array, list[str]]:
        """The factor on the short-time strength, and notes on limits that were passed.

        Colder than the data the last value holds, as cold slows the loss. Hotter than the data
        nothing is known: NaN.
        """
        notes = []
        curve = self.per_decade
        kelvin = np.asarray(temperature, dtype=float)
        hot = curve.outside(kelvin) & (kelvin > curve.high)
        if hot.any():
            notes.append(f"strength over time: no data above {curve.high - 273.15:.1f} degC; "
                         "state material.strength_per_decade")
        if np.any(np.asarray(duration) > self.longest):
            notes.append(f"strength over time: data cover loads up to {self.longest:g} s; beyond, "
                         "twice the loss per tenfold of time is assumed")
        factor = rupture_factor(duration, curve.at(kelvin), self.test_duration, self.longest)
        return np.where(hot, np.nan, factor), notes
