"""Properties of dry air at atmospheric pressure, for the heat transfer correlations."""

from __future__ import annotations

from typing import NamedTuple

import numpy as np

from gridshell.define.types import Array, Quantity

GAS_CONSTANT = 287.053  # J/(kg K), dry air
HEAT_CAPACITY = 1006.0  # J/(kg K), within 1 % from 150 K to 400 K
STANDARD_PRESSURE = 101325.0  # Pa


class Air(NamedTuple):
    """Dry air: conductivity W/(m K), kinematic viscosity m^2/s, Prandtl number, expansion 1/K."""

    conductivity: Array
    viscosity: Array
    prandtl: Array
    expansion: Array


def air(temperature: Quantity, pressure: Quantity = STANDARD_PRESSURE) -> Air:
    """Properties of dry air; temperature in K and pressure in Pa broadcast.

    Viscosity and conductivity by U.S. Standard Atmosphere, 1976 (NOAA-S/T 76-1562), Eq. 51 and
    53; density as an ideal gas; heat capacity constant. Good from about 100 K to 500 K.

    >>> found = air(300.0)
    >>> print(f"{found.conductivity:.4f} {found.viscosity:.3e} {found.prandtl:.2f}")
    0.0263 1.569e-05 0.71
    """
    t = np.asarray(temperature, dtype=float)
    dynamic = 1.458e-6 * t**1.5 / (t + 110.4)
    conductivity = 2.64638e-3 * t**1.5 / (t + 245.4 * 10.0 ** (-12.0 / t))
    density = np.asarray(pressure, dtype=float) / (GAS_CONSTANT * t)
    return Air(conductivity, dynamic / density, dynamic * HEAT_CAPACITY / conductivity, 1.0 / t)
