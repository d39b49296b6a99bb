"""Sentences that hold quantities, in the units of the job.

Checks say what they found in sentences with SI-like units (mm, kPa, degC). Where people read them
in inches, the quantities are converted here, once for all sentences. What stands in quotes was
written by the user and stays; so do rates and compound units.
"""

from __future__ import annotations

import re

from gridshell.define.units import convert
from gridshell.report.numbers import digits

_UNITS = {
    "mm": ("length", "in", 1e-3), "mm2": ("area", "in^2", 1e-6), "mm^2": ("area", "in^2", 1e-6),
    "cm3": ("volume", "in^3", 1e-6), "cm^3": ("volume", "in^3", 1e-6),
    "kPa": ("pressure", "psi", 1e3), "MPa": ("pressure", "ksi", 1e6), "N": ("force", "lbf", 1.0),
    "kN": ("force", "lbf", 1e3), "g": ("mass", "lb", 1e-3), "kg": ("mass", "lb", 1.0),
    "degC": ("temperature", "degF", 1.0),
}
_NUMBER = r"-?\d+(?:,\d{3})*(?:\.\d+)?(?:e[+-]\d+)?"
# One unit may stand behind several numbers: "30 x 20 mm", "between -80 and 40 degC".
_QUANTITY = re.compile(
    rf"(?<!\w)'[^']*'|\"[^\"]*\"|(?<![\w.^-])({_NUMBER}(?:(?: x | to | and | or |, ){_NUMBER})*) "
    rf"({'|'.join(re.escape(unit) for unit in _UNITS)})(?![\w^/(]| m\b)"
)
_EXPONENT = re.compile(r"(?<![\w.])\d(?:\.\d+)?e\+\d+(?= [a-zA-Z])")


def in_units(sentence: str, system: str) -> str:
    """A sentence with its quantities in the units of a job.

    Args:
        sentence: with metric units.
        system: metric or inch.

    >>> in_units("core and 2 gates of 6.0 mm between -40 and 20 degC, 'lid 3 mm'", "inch")
    "core and 2 gates of 0.236 in between -40 and 68 degF, 'lid 3 mm'"
    >>> in_units("30 x 20 mm at 5 N/mm", "inch")
    '1.18 x 0.787 in at 5 N/mm'
    >>> in_units("the gate's inner end, 12 mm from the mold's face", "inch")
    "the gate's inner end, 0.472 in from the mold's face"
    >>> in_units("it holds with 2.6e+02 kPa", "metric")
    'it holds with 260 kPa'
    """
    if system == "metric":
        return _EXPONENT.sub(lambda found: digits(float(found[0]), 2), sentence)
    return _QUANTITY.sub(_converted, sentence)


def _converted(found: re.Match[str]) -> str:
    numbers, unit = found[1], found[2]
    if numbers is None:  # in quotes
        return found[0]
    kind, new, size = _UNITS[unit]

    def one(number: re.Match[str]) -> str:
        value = float(number[0].replace(",", ""))
        if kind == "temperature":
            return f"{convert(value + 273.15, kind, new):.0f}"
        stated = re.sub(r"\D", "", number[0].split("e")[0]).lstrip("0")
        count = min(max(len(stated), 3), 4)
        return digits(float(convert(value * size, kind, new)), count)

    return f"{re.sub(_NUMBER, one, numbers)} {new}"
