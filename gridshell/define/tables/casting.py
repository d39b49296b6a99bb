"""``[mold.casting]``: how a mold is filled, cooled, opened and made, as far as its checks ask."""

from __future__ import annotations

from dataclasses import dataclass

from gridshell.define.constants import ROOM_TEMPERATURE
from gridshell.define.schema import choice, number, quantity, text

FILLED_WITH = ("end-up", "crown-up", "crown-down")


@dataclass(frozen=True, kw_only=True)
class Casting:
    """``[mold.casting]``. Defaults without a source are common practice."""

    mold_material: str | None = text(
        "library material of the mold; if left out petg for a printed mold, or abs or "
        "polycarbonate where the pour would soften that; aluminum-6061-t6 for a milled one",
        default=None, longest=60,
    )
    mold_temperature: float = quantity(
        "temperature", "mold when poured", default=ROOM_TEMPERATURE, above=0.0, most=900.0
    )
    pour_temperature: float = quantity(
        "temperature", "liquid when poured; the material's if left out", default=None, above=0.0,
        most=573.15
    )
    peel_temperature: float = quantity(
        "temperature", "part when taken out; the material's if left out", default=None, above=0.0,
        most=900.0
    )
    viscosity: float = quantity(
        "viscosity", "of the liquid when poured; that of its family if left out", default=None,
        above=0.0, most=1e6
    )
    pot_life: float = quantity(
        "time", "how long a resin stays thin enough to pour, from its data sheet; the material's "
        "if left out", default=None, above=0.0, most=1e6,
    )
    pour_head: float = quantity(
        "length", "height of liquid kept above the gate's inner end while pouring, such as a "
        "funnel's; if left out the depth of the gate itself, or a funnel of 50 to 150 mm where "
        "the pour needs it", default=None, above=0.0, most=2.0,
    )
    pour_pressure: float = quantity(
        "pressure", "pressed on the liquid, by a syringe or a clamped pot", default=0.0,
        least=0.0, most=1e6, unit="kPa",
    )
    filled: str = choice(
        FILLED_WITH, "how the mold stands: on its end, or lying with the crown of the piece up "
        "or down", default="end-up",
    )
    heat_transfer: float = quantity(
        "heat_transfer", "mold to still air, radiation included (common practice, no source)",
        default=10.0, above=0.0
    )
    friction: float = quantity(
        "ratio", "part on mold with release agent (from memory: 0.2 to 0.5)", default=0.3,
        least=0.0, most=3.0,
    )
    release_force: float = quantity(
        "force", "pull that two hands or light tools give (common practice, no source)",
        default=300.0, above=0.0
    )
    peel_factor: float = number(
        "strain at break must be this many times the strain of peeling", default=2.0, least=1.0,
        most=20.0,
    )
    line_width: float = quantity(
        "length", "printed mold: width of one printed line", default=0.45e-3, above=0.0
    )
    tool_reach: float = number(
        "milled mold: depth that a tool cuts, over its diameter (common practice, no source: 4 "
        "stub, 8 long)", default=4.0, above=0.0, most=40.0,
    )
    spare: float = quantity(
        "ratio", "poured beyond the part, for gate, vents and flash", default=0.15, least=0.0,
        most=2.0,
    )
