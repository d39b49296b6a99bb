"""Numbers as people read them: units of the trade, few digits, aligned tables."""

from __future__ import annotations

import math
from collections.abc import Sequence
from typing import Any

from gridshell.define.types import Quantity
from gridshell.define.units import convert

# kind -> unit shown, metric and inch.
SHOWN: dict[str, tuple[str, str]] = {
    "length": ("mm", "in"),
    "area": ("mm^2", "in^2"),
    "volume": ("cm^3", "in^3"),
    "angle": ("deg", "deg"),
    "temperature": ("degC", "degF"),
    "mass": ("g", "lb"),
    "density": ("kg/m^3", "lb/in^3"),
    "force": ("N", "lbf"),
    "line_force": ("N/mm", "lbf/in"),
    "moment": ("N m", "lbf in"),
    "pressure": ("MPa", "ksi"),
    "stiffness": ("N m^2", "lbf in^2"),
    "acceleration": ("m/s^2", "ft/s^2"),
    "time": ("s", "s"),
    "frequency": ("Hz", "Hz"),
}


MARGIN_NOTE = (
    "margin of safety = allowable / (applied x factor) - 1, so zero is just enough; applied is "
    "without the factor, allowable is after the knockdown"
)


def digits(value: float, count: int = 4) -> str:
    """A number with a few significant digits, without exponents where it reads better.

    >>> digits(0.00123456), digits(123456.0), digits(0.99996), digits(float("inf"))
    ('0.001235', '123,500', '1.000', 'none')
    """
    if not math.isfinite(value):
        return "none"
    if value == 0:
        return "0"
    size = math.floor(math.log10(abs(value)))
    if size < -4 or size > 11:
        return f"{value:.{count - 1}e}"
    rounded = round(value, count - 1 - size)
    size = math.floor(math.log10(abs(rounded)))  # 0.99996 became 1
    return f"{rounded:,.{max(count - 1 - size, 0)}f}"


# unit -> the next larger and smaller one, and the size from which and below which it reads better.
_LARGER = {"MPa": ("GPa", 1e-3, 1e4), "g": ("kg", 1e-3, 1e4)}
_SMALLER = {"MPa": ("kPa", 1e3, 0.1), "ksi": ("psi", 1e3, 0.1)}


def unit_for(kind: str, system: str = "metric", largest: float = 1.0) -> tuple[float, str]:
    """Factor from SI to the unit in which values of a kind read well, and that unit.

    Args:
        kind: of quantity, a key of `SHOWN`; not temperature, which has an offset too.
        system: metric or inch.
        largest: of the values, SI.

    >>> unit_for("length", "inch")[1], unit_for("pressure", largest=2e3)
    ('in', (0.001, 'kPa'))
    """
    unit = SHOWN[kind][0 if system == "metric" else 1]
    factor = convert(1.0, kind, unit)
    size = abs(largest) * factor
    if unit in _LARGER and size >= _LARGER[unit][2]:
        return factor * _LARGER[unit][1], _LARGER[unit][0]
    if unit in _SMALLER and 0 < size < _SMALLER[unit][2]:
        return factor * _SMALLER[unit][1], _SMALLER[unit][0]
    return factor, unit


def shown(value: Quantity, kind: str, system: str = "metric", count: int = 4) -> str:
    """A stored value in the unit people use for its kind.

    >>> shown(0.0254, "length", "inch"), shown(1400.0, "pressure")
    ('1.000 in', '1.400 kPa')
    """
    number = float(value)
    if kind == "ratio" or not math.isfinite(number):
        return digits(number, count)
    if kind == "temperature":
        unit = SHOWN[kind][0 if system == "metric" else 1]
        return f"{digits(convert(number, kind, unit), count)} {unit}"
    factor, unit = unit_for(kind, system, number)
    return f"{digits(number * factor, count)} {unit}"


def degrees(kelvin: Quantity, system: str = "metric") -> Any:
    """Temperatures in degrees Celsius, or Fahrenheit where work is in inches.

    >>> degrees(273.15), degrees(273.15, "inch")
    (0.0, 32.0)
    """
    celsius = kelvin - 273.15
    return celsius * 1.8 + 32 if system == "inch" else celsius


def with_error(value: float, error: float, kind: str, system: str = "metric") -> str:
    """A value and its uncertainty in one unit.

    >>> with_error(29.92, 0.31, "stiffness")
    '29.92 +- 0.31 N m^2'
    """
    factor, unit = unit_for(kind, system, value)
    return f"{digits(value * factor)} +- {digits(error * factor, 2)} {unit}"


def axis(kind: str, system: str = "metric", largest: float = 1.0) -> tuple[float, str]:
    """`unit_for` with powers as print has them, for the axis of a picture.

    >>> axis("stiffness")
    (1.0, 'N m²')
    """
    factor, unit = unit_for(kind, system, largest)
    return factor, unit.replace("^2", "²").replace("^3", "³")


_NAMES = {
    "material.temperature": "temperature", "margin": "lowest margin", "EI": "bending stiffness EI",
    "EA": "axial stiffness EA", "GJ": "torsional stiffness GJ",
}
_TABLES = {"ribs": "rib", "material": ""}


def column_name(path: str) -> str:
    """A column as people call it.

    >>> column_name("ribs.corner_radius"), column_name("margin")
    ('rib corner radius', 'lowest margin')
    """
    if path in _NAMES:
        return _NAMES[path]
    table, _, field = path.rpartition(".")
    return f"{_TABLES.get(table, table)} {field.replace('_', ' ')}".strip()


def margin(value: Quantity) -> str:
    """A margin of safety with its sign, as stress reports write it.

    >>> margin(0.1234), margin(-0.5), margin(1147.06), margin(math.inf), margin(math.nan)
    ('+0.12', '-0.50', '+1,150', 'no load', 'not known')
    """
    number = float(value)
    if math.isnan(number):
        return "not known"
    if math.isinf(number):
        return "no load" if number > 0 else "-inf"
    if abs(number) < 10:
        return f"{number:+.2f}"
    return ("+" if number > 0 else "-") + digits(abs(number), 3)


def table(rows: Sequence[Sequence[str]], head: Sequence[str] | None = None) -> str:
    """Columns aligned with two blanks between; numbers to the right, words to the left.

    >>> print(table([["mass", "12 g"], ["length", "900 mm"]]))
    mass      12 g
    length  900 mm
    """
    lines = [list(row) for row in rows]
    if head is not None:
        lines = [list(head), *lines]
    if not lines:
        return ""
    columns = max(len(row) for row in lines)
    for row in lines:
        row.extend([""] * (columns - len(row)))
    widths = [max(len(row[i]) for row in lines) for i in range(columns)]
    body = lines[1:] if head is not None else lines

    def is_number(i: int) -> bool:
        return any(row[i] for row in body) and all(
            not row[i] or row[i][:1] in "+-0123456789"
            or row[i].startswith(("none", "no load", "not known"))
            for row in body
        )

    right = [is_number(i) for i in range(columns)]
    out = []
    for row in lines:
        cells = [
            cell.rjust(width) if rightward else cell.ljust(width)
            for cell, width, rightward in zip(row, widths, right, strict=True)
        ]
        out.append("  ".join(cells).rstrip())
    if head is not None:
        out.insert(1, "  ".join("-" * width for width in widths))
    return "\n".join(out)
