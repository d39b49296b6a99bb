"""Answers by root finding: how fast, how cold, how cold at once."""

from __future__ import annotations

import dataclasses
from collections.abc import Callable
from dataclasses import dataclass

import numpy as np

from gridshell.define.tables.chill import Chill, ChillStep
from gridshell.define.types import Array
from gridshell.thermal.curves import MaterialCurves
from gridshell.thermal.heat.history import history
from gridshell.thermal.heat.section import WallSection
from gridshell.thermal.stress.cracking import all_places, still_ratio, worst_of

SLOWEST, FASTEST = 1e-4, 100.0  # K/s, between which the safe cooling rate is sought
SETTLING = 1800.0  # s, followed after the coolant has come to its temperature
PRECISION = 0.02  # of a rate; a tenth of this many kelvin for a temperature
UNKNOWN = "unknown"
NO_LIMITS = "strength and strain at break are not known"
DATA_END = "end of the data on modulus, strength and strain at break"


@dataclass(frozen=True)
class Answer:
    """One answer.

    Attributes:
        name: what was asked.
        value: SI (K or K/s), None when there is no such value.
        unit: "K" or "K/s".
        limit: what sets it: the place or the part that would crack, or the material's limit.
        note: in words, also why there is no value.
    """

    name: str
    value: float | None
    unit: str
    limit: str
    note: str


def peak(
    section: WallSection, curves: MaterialCurves, chill: Chill, steps: tuple[ChillStep, ...]
) -> tuple[float, str]:
    """Highest cracking ratio during the steps, and where.

    NaN where the material's limits are not known at some point of it and no known point cracks.
    """
    followed = history(section, chill, steps=steps, back=False, points=25)
    places = all_places(followed.temperature, section, curves, chill)
    ratios = np.stack([place.ratio for place in places])
    worst = worst_of(ratios, axis=1)
    highest = float(worst_of(worst, axis=0))
    if np.isnan(highest):
        return highest, DATA_END if np.isfinite(ratios).any() else UNKNOWN
    return highest, places[int(np.nanargmax(worst))].name


def _bisect(
    good: float, bad: float, ratio: Callable[[float], tuple[float, str]], close: float
) -> tuple[float, str]:
    """Between a value that holds and one that cracks or is not known: the last that holds, and what
    cracks next."""
    limit = ratio(bad)[1]
    while abs(bad - good) > close:
        middle = (good + bad) / 2
        found, where = ratio(middle)
        if found <= 1:
            good = middle
        else:
            bad, limit = middle, where
    return good, limit


def fastest_rate(section: WallSection, curves: MaterialCurves, chill: Chill) -> Answer:
    """Fastest even cooling of the surroundings, down to the last step's temperature.

    The surroundings go from the start temperature to that of the last step at an even rate, with
    that step's way of taking heat, and stay there.
    """
    name = "fastest safe cooling"
    step = chill.steps[-1]
    drop = float(chill.start) - step.surroundings
    if drop <= 0:
        return Answer(name, None, "K/s", "", "the last step does not cool")

    def ratio(log_rate: float) -> tuple[float, str]:
        ramp = drop / 10**log_rate
        return peak(section, curves, chill, (
            dataclasses.replace(step, ramp=ramp, duration=ramp + SETTLING),))

    slow, fast = np.log10(SLOWEST), np.log10(FASTEST)
    at_once, where = ratio(fast)
    if at_once <= 1:
        return Answer(name, None, "K/s", "none", f"even put into {step.label} at once it "
                      "stays within the limit")
    slowest, unknown = ratio(slow)
    if np.isnan(slowest):
        return Answer(name, None, "K/s", UNKNOWN, NO_LIMITS if unknown == UNKNOWN else
                      f"{step.label} is colder than the {DATA_END}")
    if slowest > 1:
        cold = lowest_even(section, curves, chill)
        return Answer(name, None, "K/s", cold.limit or where,
                      f"no rate is slow enough: at the temperature of {step.label} it cracks "
                      "however slowly it gets there")
    found, limit = _bisect(slow, fast, ratio, np.log10(1 + PRECISION))
    return Answer(name, float(10**found), "K/s", limit,
                  f"even cooling of what surrounds it, from the start to the temperature of "
                  f"{step.label}")


def lowest_even(section: WallSection, curves: MaterialCurves, chill: Chill) -> Answer:
    """Lowest safe temperature when chilled ever so slowly: attached parts and handling only."""
    name = "lowest safe temperature, chilled slowly"
    low = min(s.surroundings for s in chill.steps)
    grid = np.arange(float(chill.start), low, -0.25)
    grid = np.append(grid, low)
    ratios = still_ratio(grid, section, curves, chill)
    table = np.stack(list(ratios.values()))
    worst: Array = worst_of(table, axis=0)
    if np.isnan(worst[0]):
        return Answer(name, None, "K", UNKNOWN, NO_LIMITS)
    over = np.flatnonzero(~(worst <= 1))
    if over.size == 0:
        return Answer(name, float(low), "K", "none", "holds down to the coldest surroundings"
                      + _brittle(curves, low))
    first = int(over[0])
    if np.isnan(worst[first]):
        value = float(grid[first - 1])
        return Answer(name, value, "K", DATA_END, "colder, nothing is known"
                      + _brittle(curves, value))
    limit = list(ratios)[int(np.nanargmax(table[:, first]))]
    if first == 0:
        return Answer(name, None, "K", limit, "cracks at the start temperature already")
    above, below = worst[first - 1], worst[first]
    share = (1 - above) / (below - above)
    value = float(grid[first - 1] + share * (grid[first] - grid[first - 1]))
    return Answer(name, value, "K", limit, "below it the tube cracks without any load"
                  + _brittle(curves, value))


def _brittle(curves: MaterialCurves, value: float) -> str:
    limit = curves.brittle_temperature
    if limit is None or value >= limit:
        return ""
    return "; the material is brittle there, and a notch or a knock can break it"


def lowest_plunge(section: WallSection, curves: MaterialCurves, chill: Chill) -> Answer:
    """Lowest temperature of the last step's surroundings into which it may go at once."""
    name = "coldest it may be put into at once"
    step = chill.steps[-1]
    if step.surroundings >= chill.start:
        return Answer(name, None, "K", "", "the last step does not cool")

    def ratio(temperature: float) -> tuple[float, str]:
        return peak(section, curves, chill, (
            dataclasses.replace(step, temperature=temperature, ramp=0.0, duration=SETTLING),))

    found, where = ratio(step.surroundings)
    if found <= 1:
        return Answer(name, step.surroundings, "K", "none",
                      f"{step.label} may be put round it at once")
    warm = float(chill.start) - 0.1
    at_once = ratio(warm)[0]
    if np.isnan(at_once):
        return Answer(name, None, "K", UNKNOWN, NO_LIMITS)
    if at_once > 1:
        return Answer(name, None, "K", where, "cracks at the start temperature already")
    value, limit = _bisect(warm, step.surroundings, ratio, PRECISION * 10)
    return Answer(name, float(value), "K", limit,
                  f"put at once into surroundings that take heat like {step.label}")
