"""Units that definition files state most, with what the units library makes of them.

That library takes longer to load than a tube to assess, so it is asked only for units that are not
in the table (units.csv). The table is its own work: ``python -m gridshell.define.unit_table``
writes it again, and a test holds every row to it.
"""

from __future__ import annotations

import csv
import functools
from pathlib import Path
from typing import NamedTuple

TABLE = Path(__file__).parent / "units.csv"
# Kind of quantity (a key of `units.KINDS`) -> units as they are written in the trade.
USUAL: dict[str, tuple[str, ...]] = {
    "length": ("mm", "cm", "m", "km", "um", "in", "ft"),
    "area": ("mm^2", "cm^2", "m^2", "in^2", "ft^2", "mm2", "cm2", "m2"),
    "second_moment": ("mm^4", "cm^4", "m^4", "in^4", "mm4"),
    "volume": ("mm^3", "cm^3", "m^3", "in^3", "l", "ml"),
    "angle": ("deg", "rad"),
    "temperature": ("degC", "degF", "K"),
    "temperature_difference": ("K", "delta_degC", "delta_degF"),
    "mass": ("g", "kg", "lb", "oz"),
    "density": ("kg/m^3", "g/cm^3", "lb/in^3", "kg/m3", "g/cm3", "lb/ft^3"),
    "force": ("N", "kN", "lbf"),
    "line_force": ("N/m", "N/mm", "kN/m", "lbf/in"),
    "moment": ("N m", "N*m", "N mm", "kN m", "Nm", "kNm", "lbf in", "lbf ft", "in-lbf"),
    "pressure": ("Pa", "kPa", "MPa", "GPa", "bar", "mbar", "psi", "ksi", "Mpsi"),
    "acceleration": ("m/s^2", "ft/s^2"),
    "speed": ("m/s", "ft/s", "mm/s", "km/h"),
    "time": ("s", "min", "h", "d", "day", "days", "yr", "year", "years"),
    "frequency": ("Hz", "1/s"),
    "expansion": ("1/K", "1/degC", "1/degF"),
    "conductivity": ("W/(m K)", "W/(m*K)", "W/m/K"),
    "heat_capacity": ("J/(kg K)", "J/(kg*K)", "kJ/(kg K)"),
    "heat_transfer": ("W/(m^2 K)", "W/(m^2*K)"),
    "heat_flux": ("W/m^2", "kW/m^2"),
    "stiffness": ("N m^2", "N*m^2", "kN m^2", "N mm^2", "lbf in^2"),
    "viscosity": ("Pa s", "Pa*s", "mPa s"),
    "ratio": ("%",),
}


class UnitLine(NamedTuple):
    """Between a unit and SI: every conversion here is a straight line.

    Attributes:
        factor: SI value of a step of one unit.
        zero: SI value at zero of the unit.
        shown_factor: units in a step of one in SI.
        shown_zero: value in the unit at zero in SI.
    """

    factor: float
    zero: float
    shown_factor: float
    shown_zero: float


@functools.cache
def unit_lines() -> dict[tuple[str, str], UnitLine]:
    """Every row of the table, by kind of quantity and unit."""
    with open(TABLE, newline="", encoding="utf-8") as file:
        return {(kind, unit): UnitLine(*map(float, numbers))
                for kind, unit, *numbers in list(csv.reader(file))[1:]}


def write() -> None:
    """Write the table as the units library has it."""
    from gridshell.define.units import asked_line

    with open(TABLE, "w", newline="", encoding="utf-8") as file:
        rows = csv.writer(file, lineterminator="\n")
        rows.writerow(("kind", "unit", *UnitLine._fields))
        for kind, units in USUAL.items():
            for unit in units:
                rows.writerow((kind, unit, *map(repr, asked_line(kind, unit))))


if __name__ == "__main__":
    write()
