"""Quantities with units, read to SI and shown in the units of the trade.

Reading is done by the pint library, so any unit it knows may be used ("2.4 mm", "0.1 in",
"40 lbf in", "10.2 Mpsi"); what it makes of the usual ones stands in a table (`unit_table`), since
it takes longer to load than a tube to assess. A number without a unit is refused where a unit is
needed, because a millimeter read as a meter is the costliest slip in this work.
"""

from __future__ import annotations

import functools
import math
import re
from typing import Any

from gridshell.define.errors import InputError, short
from gridshell.define.unit_table import UnitLine, unit_lines

# kind of quantity -> (SI unit it is stored in, what to write in an error message)
KINDS: dict[str, tuple[str, str]] = {
    "length": ("m", "a length such as '2.4 mm' or '0.1 in'"),
    "area": ("m^2", "an area such as '20 mm^2'"),
    "second_moment": ("m^4", "a second moment of area such as '1200 mm^4'"),
    "volume": ("m^3", "a volume such as '120 cm^3'"),
    "angle": ("rad", "an angle such as '3 deg'"),
    "temperature": ("K", "a temperature such as '21 degC', '70 degF' or '194.7 K'"),
    "temperature_difference": (
        "delta_degC", "a temperature difference such as '5 K' or '9 delta_degF'"),
    "mass": ("kg", "a mass such as '250 g' or '0.5 lb'"),
    "density": ("kg/m^3", "a density such as '980 kg/m^3'"),
    "force": ("N", "a force such as '180 N' or '40 lbf'"),
    "line_force": ("N/m", "a force per length such as '200 N/m'"),
    "moment": ("N*m", "a moment such as '9 N m' or '80 lbf in'"),
    "pressure": ("Pa", "a pressure or stress such as '20 kPa', '4 MPa' or '600 psi'"),
    "acceleration": ("m/s^2", "an acceleration such as '9.81 m/s^2'"),
    "speed": ("m/s", "a speed such as '12 m/s'"),
    "time": ("s", "a time such as '30 s' or '2 h'"),
    "frequency": ("Hz", "a frequency such as '25 Hz'"),
    "expansion": ("1/K", "an expansion coefficient such as '1.5e-4 1/K'"),
    "conductivity": ("W/(m*K)", "a conductivity such as '0.3 W/(m K)'"),
    "heat_capacity": ("J/(kg*K)", "a heat capacity such as '2000 J/(kg K)'"),
    "heat_transfer": ("W/(m^2*K)", "a heat transfer coefficient such as '10 W/(m^2 K)'"),
    "heat_flux": ("W/m^2", "a heat flux such as '800 W/m^2'"),
    "stiffness": ("N*m^2", "a bending stiffness such as '120 N m^2'"),
    "viscosity": ("Pa*s", "a viscosity such as '5 Pa s'"),
    "ratio": ("", "a plain number or a percentage such as '1.2 %'"),
}

# kind of quantity -> the unit in which a definition file states it, where its field names no other.
USUAL_UNITS = {
    "length": "mm", "area": "mm^2", "angle": "deg", "temperature": "degC",
    "temperature_difference": "K", "mass": "g", "density": "kg/m^3", "force": "N",
    "line_force": "N/m", "moment": "N m", "pressure": "MPa", "acceleration": "m/s^2",
    "speed": "m/s", "time": "min", "frequency": "Hz", "expansion": "1/K", "conductivity": "W/(m K)",
    "heat_capacity": "J/(kg K)", "heat_transfer": "W/(m^2 K)", "heat_flux": "W/m^2",
    "stiffness": "N m^2", "viscosity": "Pa s",
}

_NUMBER = re.compile(
    r"\s*([-+]?(?:\d+\.?\d*|\.\d+)(?:[eE][-+]?\d+)?)\s*(.*?)\s*\Z", re.ASCII | re.S
)
# As drawings in inches have it: "1/8 in", "2 3/4 in", "2-3/4 in".
_FRACTION = re.compile(
    r"\s*\+?(?:(\d{1,6})(?:\s+|-))?(\d{1,6})/(\d{1,6})\s*(.*?)\s*\Z", re.ASCII | re.S)
_LONGEST_UNIT = 40


@functools.lru_cache(maxsize=1)
def _registry() -> Any:
    # Imported on first use: the units library takes a quarter of a second to load.
    import pint

    registry: Any = pint.UnitRegistry(cache_folder=None)
    registry.define("Mpsi = 1e6 * psi")
    return registry


_GLUED = re.compile(r"\b([kM]?N)-?(mm|cm|m)(?![A-Za-z])")
_HYPHEN = re.compile(r"(?<=[A-Za-z])-(?=[A-Za-z])")
_POWER = re.compile(r"(?<=[A-Za-z])([234])(?![\w.])")


def _spelled(unit: str, kind: str) -> str:
    """A unit as the units library spells it: "Nm", "in-lbf" and "kg/m3" are common in the trade.

    >>> _spelled("kNm", "moment"), _spelled("in-lbf", "moment"), _spelled("kg/m3", "density")
    ('kN*m', 'in*lbf', 'kg/m^3')
    """
    if kind in ("moment", "stiffness"):  # elsewhere Nm is a length
        unit = _GLUED.sub(r"\1*\2", unit)
    return _POWER.sub(r"^\1", _HYPHEN.sub("*", unit))


@functools.lru_cache(maxsize=4096)
def parse_quantity(text: str, kind: str) -> float:
    """Read a quantity such as ``"2.4 mm"`` or ``"1/8 in"`` as a float in SI.

    Args:
        text: number and unit.
        kind: a key of `KINDS`.
    Raises:
        InputError: not a number with a unit of that kind, or not finite.

    >>> parse_quantity("1 in", "length")
    0.0254
    >>> parse_quantity("2 3/4 in", "length")
    0.06985
    >>> round(parse_quantity("21 degC", "temperature"), 2)
    294.15
    """
    unit, wanted = KINDS[kind]
    fraction = _FRACTION.match(text)
    found = _NUMBER.match(text)
    if fraction and int(fraction[3]):
        value = int(fraction[1] or 0) + int(fraction[2]) / int(fraction[3])
        written = fraction[4]
    elif found:
        value, written = float(found[1]), found[2]
    else:
        raise InputError(f"{short(text)} is not a number with a unit; write {wanted}")
    if not math.isfinite(value):
        raise InputError(f"{short(text)} is not finite; write {wanted}")
    if not written:
        if kind == "ratio":
            return value
        raise InputError(f"{short(text)} has no unit; write {wanted}")
    if len(written) > _LONGEST_UNIT or "\n" in written:
        raise InputError(f"{short(text)} is not a quantity; write {wanted}")
    known = unit_lines().get((kind, written))
    try:
        if known is not None:
            result = value * known.factor + known.zero
        else:
            result = float(
                _registry().Quantity(value, _spelled(written, kind)).to(unit).magnitude)
    except Exception as error:  # the units library has many error types, some outside its base
        wrong = "is the wrong kind of quantity" if (
            type(error).__name__ == "DimensionalityError") else f"has an unknown unit {written!r}"
        raise InputError(f"{short(text)} {wrong}; write {wanted}") from None
    if not math.isfinite(result):
        raise InputError(f"{short(text)} is not finite; write {wanted}")
    return result


def asked_line(kind: str, unit: str) -> UnitLine:
    """What the units library makes of a unit.

    Args:
        kind: a key of `KINDS`.
        unit: of that kind.
    """
    quantity, si = _registry().Quantity, KINDS[kind][0]
    written = _spelled(unit, kind)
    def line(one: str, other: str) -> tuple[float, float]:
        far = 2.0**40  # where there is an offset: it leaves the factor its digits
        zero, step, long = (
            float(quantity(v, one).to(other).magnitude) for v in (0.0, 1.0, far))
        return (round((long - zero) / far, 15) if zero else step), zero

    return UnitLine(*line(written, si), *line(si, written))


@functools.lru_cache(maxsize=256)
def _line(kind: str, unit: str) -> UnitLine:
    return unit_lines().get((kind, unit)) or asked_line(kind, unit)


def convert(value: float, kind: str, unit: str) -> float:
    """A value stored in SI, shown in another unit of the same kind.

    >>> convert(0.0254, "length", "mm")
    25.4
    """
    line = _line(kind, unit)
    return value * line.shown_factor + line.shown_zero


# unit of the trade -> the one beside it where work is in inches; other units stay.
_INCH = {
    "mm": "in", "m": "ft", "mm^2": "in^2", "m^2": "ft^2", "g": "lb", "kg": "lb",
    "kg/m^3": "lb/in^3", "N": "lbf", "N/m": "lbf/in", "N m": "lbf in", "N m^2": "lbf in^2",
    "GPa": "Mpsi", "MPa": "ksi", "kPa": "psi", "m/s": "ft/s", "m/s^2": "ft/s^2", "degC": "degF",
    "K": "delta_degF",
}


def unit_in(unit: str, system: str) -> str:
    """The unit in which a definition states a quantity.

    Args:
        unit: the metric one.
        system: metric or inch.

    >>> unit_in("mm", "inch"), unit_in("deg", "inch")
    ('in', 'deg')
    """
    return _INCH.get(unit, unit) if system == "inch" else unit
