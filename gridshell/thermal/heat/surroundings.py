"""What surrounds a surface: air, wind, a coolant in contact, with radiation and sun."""

from __future__ import annotations

from collections.abc import Callable, Mapping
from dataclasses import dataclass

import numpy as np

from gridshell.define.constants import DRY_ICE_TEMPERATURE
from gridshell.define.tables.chill import ChillStep, Uncovered
from gridshell.define.types import NOT_STATED, Array, Quantity
from gridshell.thermal.heat.correlations import (
    radiation_coefficient,
    still_air_coefficient,
    still_air_notes,
    wind_coefficient,
    wind_notes,
)

Coefficient = Callable[[Array, Array], Array]


@dataclass(frozen=True)
class Surroundings:
    """One side's surroundings.

    Attributes:
        temperature: K, reached after ``ramp`` s at an even rate from ``before``.
        coefficient: of surface and surroundings temperature (K, arrays (..., faces)) -> W/(m^2 K),
            without radiation.
        emissivity: of the surface, for radiation to surroundings at the same temperature.
        flux: heat taken up besides, such as sun, W/m^2.
        before: see above; no ramp without ``before``.
        ramp: see above; no ramp without ``before``.
    """

    temperature: Quantity
    coefficient: Coefficient
    emissivity: Quantity = 0.0
    flux: Quantity = 0.0
    before: Quantity = NOT_STATED
    ramp: Quantity = 0.0

    def at(self, time: float) -> Quantity:
        """Temperature of the surroundings at a time after the start of the step, s."""
        if self.before is None:
            return self.temperature
        with np.errstate(divide="ignore", invalid="ignore"):
            done = np.where(np.asarray(self.ramp) > 0, time / np.asarray(self.ramp), 1.0)
        return self.before + (self.temperature - self.before) * np.clip(done, 0.0, 1.0)

    def heat(self, surface: Array, time: float, radiates: Array) -> tuple[Array, Array, Array]:
        """Coefficient W/(m^2 K), temperature K and flux W/m^2 on faces (..., faces)."""
        around = np.asarray(self.at(time), dtype=float)[..., None]
        total = self.coefficient(surface, around)
        if np.any(np.asarray(self.emissivity) > 0):
            total = total + radiates * radiation_coefficient(
                np.asarray(self.emissivity, dtype=float)[..., None], surface, around)
        flux = radiates * np.asarray(self.flux, dtype=float)[..., None]
        return total, around, flux

    def span(self) -> tuple[float, float]:
        """Lowest and highest temperature a surface may come to, K; generous where sun warms it."""
        ends = [np.min(self.temperature), np.max(self.temperature)]
        if self.before is not None:
            ends += [np.min(self.before), np.max(self.before)]
        return float(min(ends)), float(max(ends) + np.max(self.flux) / 5.0)


def constant_coefficient(value: Quantity) -> Coefficient:
    """The same coefficient whatever the temperatures; W/(m^2 K)."""
    shown = np.asarray(value, dtype=float)[..., None]
    return lambda surface, around: np.broadcast_to(shown, np.shape(surface + around))


def wind(speed: Quantity, diameter: Quantity) -> Coefficient:
    """A cross wind, Churchill and Bernstein (1977); m/s and m."""
    v, d = np.asarray(speed, dtype=float)[..., None], np.asarray(diameter, dtype=float)[..., None]
    return lambda surface, around: wind_coefficient(v, d, surface, around)


def still_air(diameter: Quantity) -> Coefficient:
    """Still air round a horizontal cylinder, Churchill and Chu (1975); m."""
    d = np.asarray(diameter, dtype=float)[..., None]
    return lambda surface, around: still_air_coefficient(d, surface, around)


def _bore(
    inside: str, bore: Quantity, temperature: Quantity, conductance: Quantity,
    ramp: Mapping[str, Quantity],
) -> Surroundings | None:
    if inside == "closed":
        return None
    if inside == "still-air":
        return Surroundings(temperature, still_air(bore), **ramp)
    return Surroundings(DRY_ICE_TEMPERATURE, constant_coefficient(conductance), **ramp)


def step_surroundings(
    step: ChillStep, diameter: Quantity, bore: Quantity, emissivity: Quantity,
    before: Quantity = NOT_STATED,
) -> tuple[Surroundings, Surroundings | None]:
    """Outside and inside surroundings of one chilling step (inside None: no heat through it).

    Args:
        diameter: outermost diameter (over a sleeve that is on) and bore, m.
        bore: outermost diameter (over a sleeve that is on) and bore, m.
        before: temperature of the surroundings before, for a ramp.
    """
    target = step.surroundings
    if step.kind == "wind":
        outside = wind(step.wind, diameter)
    elif step.kind in ("dry-ice", "contact"):
        outside, emissivity = constant_coefficient(step.conductance), 0.0
    else:
        outside = still_air(diameter)
    ramp = {"before": before, "ramp": step.ramp} if step.ramp > 0 and before is not None else {}
    return (
        Surroundings(target, outside, emissivity, **ramp),
        _bore(step.inside, bore, target, step.conductance, ramp),
    )


def exposure_surroundings(
    open_air: Uncovered, diameter: Quantity, bore: Quantity, emissivity: Quantity
) -> tuple[Surroundings, Surroundings | None]:
    """Outside and inside surroundings out in the open.

    The sun shines on one side, and what it brings is spread round the tube: a cylinder of
    diameter D catches D of a beam across it over a circumference pi D, hence the 1/pi.
    """
    air = wind(open_air.wind, diameter) if open_air.wind > 0 else still_air(diameter)
    flux = open_air.sun * open_air.absorptivity / np.pi
    return (
        Surroundings(open_air.temperature, air, emissivity, flux),
        _bore(open_air.inside, bore, open_air.temperature, 57.0, {}),
    )


def surroundings_notes(
    steps: tuple[ChillStep, ...], open_air: Uncovered, diameter: float, start: float
) -> list[str]:
    """Notes on correlations used outside their range."""
    notes: list[str] = []
    for step in steps:
        if step.kind == "wind":
            notes += wind_notes(step.wind, diameter, step.surroundings)
        elif step.kind in ("still-air", "freezer"):
            ends = sorted((start, step.surroundings))
            notes += still_air_notes(diameter, ends[1], ends[0])
    if open_air.wind > 0:
        notes += wind_notes(open_air.wind, diameter, open_air.temperature)
    return notes
