"""What a material is at a temperature: the record that every other part works from."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, field
from typing import Any

from gridshell.define.types import NOT_STATED, Quantity

FROM_MEMORY = "from memory, measure yours"

# What happens where a property has no data at the temperature asked for.
REFUSE = "refuse"  # an error: nothing can be computed without it
WITHHOLD = "withhold"  # not known there: None, or NaN for those entries of an array
HOLD = "hold"  # the value at the end of the data, with a note
FIXED = "fixed"  # does not depend on temperature


@dataclass(frozen=True)
class PropertyKind:
    """How one property is written, bounded and interpolated.

    Attributes:
        rules: bounds as `gridshell.define.schema.read_value` takes them.
        outside: one of `REFUSE`, `WITHHOLD`, `HOLD`, `FIXED`.
        scale: "log" or "linear", the default interpolation over temperature.
        doc: meaning, on one line.
    """

    rules: Mapping[str, Any]
    outside: str
    scale: str
    doc: str


def _kind(
    kind: str, outside: str, doc: str, *, scale: str = "linear", **bounds: float
) -> PropertyKind:
    return PropertyKind({"form": "quantity", "kind": kind, **bounds}, outside, scale, doc)


def _limit(doc: str) -> PropertyKind:
    return _kind("temperature", FIXED, doc, above=0.0, most=4000.0)


KINDS: dict[str, PropertyKind] = {
    "modulus": _kind("pressure", REFUSE, "Young's modulus of a short test", scale="log",
                     above=0.0, most=2e12),
    "poisson": _kind("ratio", HOLD, "Poisson's ratio", above=-1.0, below=0.5),
    "density": _kind("density", HOLD, "density", above=0.0, most=3e4),
    "strength": _kind("pressure", WITHHOLD, "stress the material may reach: tensile yield, or "
                      "breaking stress where it breaks first", scale="log", above=0.0, most=1e11),
    "strain_at_break": _kind("ratio", WITHHOLD, "tensile strain at break", scale="log",
                             above=0.0, most=100.0),
    "expansion": _kind("expansion", HOLD, "linear expansion coefficient at that temperature",
                       least=-1e-3, most=1e-2),
    "conductivity": _kind("conductivity", HOLD, "thermal conductivity", above=0.0, most=5e3),
    "heat_capacity": _kind("heat_capacity", HOLD, "specific heat capacity", above=0.0, most=2e4),
    "shrinkage": _kind("ratio", FIXED, "linear shrinkage from the mold to the part at room "
                       "temperature", least=-0.05, below=0.2),
    "softening_temperature": _limit("where it loses its shape (ring and ball, Vicat or glass "
                                    "transition, as the source says)"),
    "pour_temperature": _limit("usual temperature of the liquid when poured"),
    "pot_life": _kind("time", FIXED, "how long a mixed resin stays thin enough to pour", above=0.0,
                      most=1e6),
    "peel_temperature": _limit("highest temperature at which a casting may be peeled off its "
                               "mold while it still bends"),
    "brittle_temperature": _limit("below this it breaks without yielding"),
    "service_low": _limit("lowest usual temperature of use"),
    "service_high": _limit("highest usual temperature of use under load"),
}


@dataclass(frozen=True)
class Properties:
    """A material at one temperature, or at an array of them. SI; None where not known.

    Every property is a float or an array that broadcasts with ``temperature``; entries of an
    array for which nothing is known are NaN (see `KINDS`, ``outside``).

    Attributes:
        name: name in the library or in the material file.
        temperature: K.
        modulus: Young's modulus for the stated duration of the load, Pa; that is
            ``short_time_modulus`` times ``creep_factor``.
        poisson: Poisson's ratio.
        density: kg/m3.
        strength: tensile yield stress, or breaking stress where it breaks first, for the stated
            duration of the load, Pa.
        strain_at_break: tensile strain at break.
        expansion: linear expansion coefficient at that temperature, 1/K.
        conductivity: W/(m K).
        heat_capacity: J/(kg K).
        shrinkage: linear, from the mold to the part at room temperature.
        softening_temperature: K.
        pour_temperature: K.
        pot_life: of a mixed resin, s.
        peel_temperature: K.
        brittle_temperature: K.
        service_low: K.
        service_high: K.
        short_time_modulus: Young's modulus of a short test, Pa.
        creep_factor: modulus under the stated duration over the short-time one, at most 1.
        short_time_strength: strength in a short test, Pa.
        rupture_factor: strength under the stated duration over the short-time one, at most 1.
        title: what the material is, in words.
        family: kind of material.
        sources: property -> where its number comes from.
        scatter: property -> relative standard deviation, where known.
        cautions: hazards of handling it.
        notes: limits that were reached in looking it up.
    """

    name: str
    temperature: Quantity
    modulus: Quantity
    poisson: Quantity
    density: Quantity
    strength: Quantity = NOT_STATED
    strain_at_break: Quantity = NOT_STATED
    expansion: Quantity = NOT_STATED
    conductivity: Quantity = NOT_STATED
    heat_capacity: Quantity = NOT_STATED
    shrinkage: Quantity = NOT_STATED
    softening_temperature: Quantity = NOT_STATED
    pour_temperature: Quantity = NOT_STATED
    pot_life: Quantity = NOT_STATED
    peel_temperature: Quantity = NOT_STATED
    brittle_temperature: Quantity = NOT_STATED
    service_low: Quantity = NOT_STATED
    service_high: Quantity = NOT_STATED
    short_time_modulus: Quantity = NOT_STATED
    creep_factor: Quantity = 1.0
    title: str = ""
    family: str = ""
    sources: Mapping[str, str] = field(default_factory=dict)
    scatter: Mapping[str, float] = field(default_factory=dict)
    cautions: tuple[str, ...] = ()
    notes: tuple[str, ...] = ()
    short_time_strength: Quantity = NOT_STATED
    rupture_factor: Quantity = 1.0

    @property
    def quick_share(self) -> Quantity:
        """Modulus of a short test over the modulus under the stated duration; 1 where unknown."""
        return 1.0 if self.short_time_modulus is None else self.short_time_modulus / self.modulus

    @property
    def shear_modulus(self) -> Quantity:
        """Shear modulus of the isotropic material, E / (2 (1 + nu)), Pa."""
        return self.modulus / (2 * (1 + self.poisson))
