"""Numbers as people read them: units of the trade, few digits, aligned tables."""

from __future__ import annotations

import math
from collections.abc import Sequence

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


def digits(value: float, count: int = 4) -> str:
    """A number with a few significant digits, without exponents where it reads better.

    >>> digits(0.00123456), digits(123456.0), digits(0.99996), digits(float("inf"))
    ('0.001235', '123,500', '1.000', 'none')
    """
    if not math.isfinite(value):
        return "none" if value > 0 or math.isnan(value) else "-none"
    if value == 0:
        return "0"
    size = math.floor(math.log10(abs(value)))
    if size < -4 or size > 8:
        return f"{value:.{count - 1}e}"
    rounded = round(value, count - 1 - size)
    size = math.floor(math.log10(abs(rounded)))  # 0.99996 became 1
    return f"{rounded:,.{max(count - 1 - size, 0)}f}"


def shown(value: Quantity, kind: str, system: str = "metric", count: int = 4) -> str:
    """A stored value in the unit people use for its kind.

    >>> shown(0.0254, "length", "inch")
    '1.000 in'
    """
    number = float(value)
    if kind == "ratio":
        return digits(number, count)
    unit = SHOWN[kind][0 if system == "metric" else 1]
    if not math.isfinite(number):
        return digits(number)
    in_unit = convert(number, kind, unit)
    # Soft materials and small pressures read better a thousand times smaller.
    if unit == "MPa" and abs(in_unit) < 0.1 and in_unit != 0:
        unit, in_unit = "kPa", in_unit * 1e3
    elif unit == "MPa" and abs(in_unit) >= 1e4:
        unit, in_unit = "GPa", in_unit / 1e3
    elif unit == "g" and abs(in_unit) >= 1e4:
        unit, in_unit = "kg", in_unit / 1e3
    elif unit == "ksi" and abs(in_unit) < 0.1 and in_unit != 0:
        unit, in_unit = "psi", in_unit * 1e3
    return f"{digits(in_unit, count)} {unit}"


def length_scale(system: str = "metric") -> tuple[float, str]:
    """Factor from meters to the unit of a picture's axes, and that unit.

    >>> length_scale()
    (1000.0, 'mm')
    """
    unit = SHOWN["length"][0 if system == "metric" else 1]
    return convert(1.0, "length", unit), unit


def margin(value: Quantity) -> str:
    """A margin of safety with its sign, as stress reports write it.

    >>> margin(0.1234), margin(-0.5), margin(float("inf")), margin(float("nan"))
    ('+0.12', '-0.50', 'no load', 'not known')
    """
    number = float(value)
    if math.isnan(number):
        return "not known"
    if math.isinf(number):
        return "no load" if number > 0 else "-inf"
    return f"{number:+.2f}" if abs(number) < 10 else f"{number:+,.3g}".replace("e+0", "e")


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
            or row[i].startswith(("none", "no load"))
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
