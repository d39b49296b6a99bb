"""Whether a material may be poured at all: only what has casting data, and never a metal.

Molten metal is never poured into these molds: they are open to moisture, thin and of plastic or
plain plate, and a splash of metal kills. Such parts are machined or printed.
"""

from __future__ import annotations

from gridshell.define.constants import ROOM_TEMPERATURE
from gridshell.define.errors import InputError
from gridshell.define.tables.design import Design, Material
from gridshell.define.tables.mold import Mold
from gridshell.material.catalog import material_names
from gridshell.material.properties import Properties
from gridshell.material.resolve import properties
from gridshell.mold.checks.result import FAILS, MoldCheck

METAL_STIFFNESS, METAL_DENSITY = 20e9, 3500.0  # Pa, kg/m3; no resin, wax or hot melt comes near
HOTTEST_POUR = 573.15  # K; the hottest hot melts are poured below 250 degC (from memory)
_METALS = ("alumin", "steel", "metal", "alloy", "magnesium", "titanium", "brass", "copper", "zinc")


def known_material(design: Design, temperature: float) -> Properties:
    """The design's material at a temperature, or as near as its data go.

    Args:
        design: one design (no arrays).
        temperature: K.
    """
    try:
        return properties(design.material, design.folder, temperature)
    except InputError:
        # No modulus there: the temperature of use is the nearest that is known to have one.
        return properties(design.material, design.folder)


def is_metal(part: Properties) -> bool:
    """Whether a material is a metal, by its family, stiffness or density.

    Args:
        part: at room temperature.
    """
    family = part.family.lower()
    return bool(any(word in family for word in _METALS) or part.modulus > METAL_STIFFNESS
                or part.density > METAL_DENSITY)


def cast_refusal(mold: Mold, part: Properties) -> str | None:
    """Why a material must not be poured, with the field that cures it; None if it may be.

    Args:
        mold: the `[mold]` table.
        part: its material at room temperature.
    """
    direct = "set mold.process = 'machine-part' or 'print-part' to make the part itself"
    if is_metal(part):
        return (
            f"mold.process: {mold.process!r} would cast {part.name}, and molten metal is never "
            f"poured into these molds; {direct}"
        )
    stated = mold.casting.pour_temperature
    pour = part.pour_temperature if stated is None else stated
    if pour is None:
        return (
            f"material.name: {part.name} has no casting data (no pour temperature); use a material "
            f"that is cast ({', '.join(castable_names())}), state mold.casting.pour_temperature "
            f"if it is poured or mixed as a liquid, or {direct}"
        )
    if float(pour) > HOTTEST_POUR:
        return (
            f"mold.casting.pour_temperature: {float(pour) - 273.15:.0f} degC is too hot for these "
            f"molds; must be at most {HOTTEST_POUR - 273.15:.0f} degC, or {direct}"
        )
    return None


def castable_names() -> list[str]:
    """Library materials that have a pour temperature."""
    return [
        name for name in material_names()
        if properties(Material(name), temperature=ROOM_TEMPERATURE).pour_temperature
        is not None
    ]


def refused(reason: str) -> MoldCheck:
    """The one check of a material that must not be poured.

    Args:
        reason: from `cast_refusal`.
    """
    return MoldCheck(
        "material can be cast", None, limit=None, kind="ratio", verdict=FAILS, advice=reason,
        source="only materials with a pour temperature, and no metal; common practice, no source",
    )
