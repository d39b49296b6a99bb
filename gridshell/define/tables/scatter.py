"""``[scatter]``: how much dimensions and material vary from tube to tube."""

from __future__ import annotations

from dataclasses import dataclass

from gridshell.define.errors import InputError, Problem, Problems, short
from gridshell.define.schema import choice, count, quantity, tables, text
from gridshell.define.units import KINDS, parse_quantity

LAWS = ("normal", "bounds")
# What may vary, and its kind. Poisson's ratio and density are of the material statement too.
FIELDS: dict[str, str] = {
    "tube.outside_diameter": "length",
    "tube.length": "length",
    "skin.thickness": "length",
    "ribs.height": "length",
    "ribs.width": "length",
    "ribs.draft": "angle",
    "ribs.corner_radius": "length",
    "ribs.root_fillet": "length",
    "material.modulus": "pressure",
    "material.poisson": "ratio",
    "material.density": "density",
    "material.strength": "pressure",
    "material.temperature": "temperature",
}


@dataclass(frozen=True)
class ScatterInput:
    """``[[scatter.input]]``: one quantity that varies about its stated value."""

    field: str = choice(tuple(FIELDS), "what varies, such as skin.thickness")
    spread: str = text(
        "normal: standard deviation; bounds: half of the range; in its own unit ('0.1 mm') or as "
        "a share of the stated value ('5 %')", longest=40,
    )
    law: str = choice(
        LAWS, "'normal': bell curve, cut off at four deviations; 'bounds': anything between "
        "stated - spread and stated + spread, equally likely", default="normal",
    )


@dataclass(frozen=True)
class Scatter:
    """``[scatter]``: number of draws and what varies."""

    draws: int = count("tubes to draw", default=100_000, least=100, most=100_000_000)
    seed: int = count("start of the random numbers: same seed, same draws", default=1,
                      most=2**31)
    confidence: float = quantity(
        "ratio", "confidence of the interval of the failing share", default=0.95, above=0.0,
        below=1.0,
    )
    input: tuple[ScatterInput, ...] = tables(ScatterInput, "each quantity that varies")


def read_spread(entry: ScatterInput) -> tuple[float, bool]:
    """The spread of an input, SI, and whether it is a share of the stated value.

    Raises:
        InputError: not a spread of that field's kind, or not above zero.

    >>> read_spread(ScatterInput("skin.thickness", "0.1 mm"))
    (0.0001, False)
    >>> read_spread(ScatterInput("material.modulus", "5 %"))
    (0.05, True)
    """
    kind = FIELDS[entry.field]
    shared = entry.spread.strip().endswith("%")
    if kind == "temperature":
        if shared:
            raise InputError(f"{short(entry.spread)} of a temperature means nothing; write "
                             f"{KINDS['temperature_difference'][1]}")
        kind = "temperature_difference"
    value = parse_quantity(entry.spread, "ratio" if shared else kind)
    if not value > 0:
        raise InputError(f"{short(entry.spread)} must be above zero")
    if shared and value >= 0.5:
        raise InputError(f"{short(entry.spread)} is too large; must be below 50 %")
    return value, shared


def check_scatter(scatter: Scatter) -> list[Problem]:
    """Every contradiction within ``[scatter]``."""
    problems = Problems()
    if not scatter.input:
        problems.add("scatter.input", "missing; write each as [[scatter.input]]")
    seen: set[str] = set()
    for index, entry in enumerate(scatter.input, start=1):
        where = f"scatter.input[{index}]"
        if entry.field in seen:
            problems.add(f"{where}.field", f"{entry.field!r} is given twice")
        seen.add(entry.field)
        try:
            read_spread(entry)
        except InputError as error:
            problems.add(f"{where}.spread", str(error))
    return problems
