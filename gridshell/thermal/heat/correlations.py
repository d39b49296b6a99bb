"""Published heat transfer correlations, by name, each with its range and a note when outside."""

from __future__ import annotations

import numpy as np

from gridshell.define.constants import GRAVITY
from gridshell.define.types import Array, Quantity
from gridshell.thermal.heat.air import air

STEFAN_BOLTZMANN = 5.670374419e-8  # W/(m^2 K^4), CODATA 2018


def cross_flow_nusselt(reynolds: Quantity, prandtl: Quantity) -> Array:
    """Mean Nusselt number of a cylinder in cross flow.

        Nu = 0.3 + 0.62 Re^(1/2) Pr^(1/3) / (1 + (0.4/Pr)^(2/3))^(1/4)
             (1 + (Re/282000)^(5/8))^(4/5)

    Churchill and Bernstein, J. Heat Transfer 99 (1977) 300, Eq. 10; for Re Pr > 0.2, properties
    at the film temperature. The example is the metal cylinder in air of Incropera and DeWitt,
    Fundamentals of Heat and Mass Transfer, Example 7.4 (Nu = 40.6, from memory).

    >>> print(f"{cross_flow_nusselt(6071.0, 0.70):.1f}")
    40.6
    """
    re, pr = np.asarray(reynolds, dtype=float), np.asarray(prandtl, dtype=float)
    laminar = 0.62 * np.sqrt(re) * np.cbrt(pr) / (1 + (0.4 / pr) ** (2 / 3)) ** 0.25
    return np.asarray(0.3 + laminar * (1 + (re / 282000.0) ** 0.625) ** 0.8)


def free_convection_nusselt(rayleigh: Quantity, prandtl: Quantity) -> Array:
    """Mean Nusselt number of a long horizontal cylinder in still fluid.

        Nu = (0.60 + 0.387 Ra^(1/6) / (1 + (0.559/Pr)^(9/16))^(8/27))^2

    Churchill and Chu, Int. J. Heat Mass Transfer 18 (1975) 1049, Eq. 10; for Ra <= 1e12,
    properties at the film temperature. The example is the steam pipe of Incropera and DeWitt,
    Fundamentals of Heat and Mass Transfer, Example 9.4 (from memory; the book's rounding on the
    way gives 23.3).

    >>> print(f"{free_convection_nusselt(5.073e6, 0.697):.1f}")
    23.1
    """
    ra, pr = np.asarray(rayleigh, dtype=float), np.asarray(prandtl, dtype=float)
    spread = (1 + (0.559 / pr) ** (9 / 16)) ** (8 / 27)
    return np.asarray((0.60 + 0.387 * ra ** (1 / 6) / spread) ** 2)


def wind_coefficient(
    speed: Quantity, diameter: Quantity, surface: Quantity, surroundings: Quantity
) -> Array:
    """Heat transfer coefficient of a cylinder in a cross wind, W/(m^2 K).

    Args:
        speed: air speed, m/s.
        diameter: m.
        surface: its temperature, K.
        surroundings: temperature of the air, K.
    """
    film = air((np.asarray(surface, dtype=float) + surroundings) / 2)
    reynolds = np.asarray(speed, dtype=float) * diameter / film.viscosity
    return np.asarray(cross_flow_nusselt(reynolds, film.prandtl) * film.conductivity / diameter)


def still_air_coefficient(
    diameter: Quantity, surface: Quantity, surroundings: Quantity
) -> Array:
    """Heat transfer coefficient of a horizontal cylinder in still air, W/(m^2 K); K and m."""
    difference = np.abs(np.asarray(surface, dtype=float) - surroundings)
    film = air((np.asarray(surface, dtype=float) + surroundings) / 2)
    diffusivity = film.viscosity / film.prandtl
    rayleigh = GRAVITY * film.expansion * difference * np.asarray(diameter, dtype=float) ** 3 / (
        film.viscosity * diffusivity)
    return np.asarray(free_convection_nusselt(rayleigh, film.prandtl)
                      * film.conductivity / diameter)


def radiation_coefficient(
    emissivity: Quantity, surface: Quantity, surroundings: Quantity
) -> Array:
    """Radiation to large surroundings as a coefficient, e sigma (T^2 + Ts^2)(T + Ts).

    >>> print(f"{radiation_coefficient(1.0, 300.0, 300.0):.2f}")
    6.12
    """
    t, s = np.asarray(surface, dtype=float), np.asarray(surroundings, dtype=float)
    return np.asarray(emissivity * STEFAN_BOLTZMANN * (t * t + s * s) * (t + s))


def wind_notes(speed: float, diameter: float, surroundings: float) -> list[str]:
    """Notes when a cross wind is outside the range of Churchill and Bernstein."""
    film = air(surroundings)
    peclet = float(speed * diameter / film.viscosity * film.prandtl)
    if peclet > 0.2:
        return []
    return [f"wind {speed:g} m/s: Re Pr = {peclet:.2g} is below 0.2, outside the range of "
            "Churchill and Bernstein (1977)"]


def still_air_notes(diameter: float, hottest: float, coldest: float) -> list[str]:
    """Notes when still air is outside the range of Churchill and Chu."""
    film = air((hottest + coldest) / 2)
    rayleigh = float(GRAVITY * film.expansion * (hottest - coldest) * diameter**3
                     * film.prandtl / film.viscosity**2)
    if rayleigh <= 1e12:
        return []
    return [f"still air: Ra = {rayleigh:.2g} is above 1e12, outside the range of Churchill and "
            "Chu (1975)"]
