"""``[chill]``: how the tube is chilled, what is attached to it, and how it warms up again.

Every default is a stated assumption that a user should replace by what was measured.
"""

from __future__ import annotations

from dataclasses import dataclass

from gridshell.define.constants import DRY_ICE_TEMPERATURE, ROOM_TEMPERATURE
from gridshell.define.errors import Problem, Problems
from gridshell.define.schema import choice, count, flag, number, quantity, table, tables, text

FREEZER_TEMPERATURE = 255.15  # K, a household freezer at -18 degC
STEP_KINDS = ("still-air", "wind", "freezer", "dry-ice", "contact")
INSIDES = ("closed", "still-air", "dry-ice")
PART_KINDS = ("coupler", "bulkhead", "cord", "screw")


@dataclass(frozen=True)
class SleeveLayer:
    """``[[chill.sleeve]]``: one layer of a sleeve round the tube, listed from the wall outwards.

    The defaults of its properties are those of a closed-cell polyethylene foam (from memory).
    """

    thickness: float = quantity("length", "thickness of the layer", above=0.0, most=1.0)
    name: str = text("name of the layer", default="sleeve", longest=60)
    conductivity: float = quantity(
        "conductivity", "conductivity of the layer", default=0.04, above=0.0, most=2000.0
    )
    density: float = quantity("density", "density of the layer", default=30.0, above=0.0, most=3e4)
    heat_capacity: float = quantity(
        "heat_capacity", "heat capacity of the layer", default=2000.0, above=0.0, most=2e4
    )


@dataclass(frozen=True)
class ChillStep:
    """``[[chill.step]]``: one way of chilling, kept up for a time."""

    kind: str = choice(STEP_KINDS, "what surrounds the tube")
    duration: float = quantity("time", "how long", above=0.0, most=1e7)
    name: str | None = text("name of the step, if not its kind", default=None, longest=60)
    temperature: float = quantity(
        "temperature", "temperature of the surroundings; freezer: 255.15 K and dry-ice: 194.7 K "
        "unless given, else needed", default=None, above=0.0, most=2000.0
    )
    wind: float = quantity(
        "speed", "kind 'wind' only: air speed across the tube", default=None, above=0.0, most=150.0
    )
    conductance: float = quantity(
        "heat_transfer", "kinds 'dry-ice' and 'contact' only: heat transfer coefficient of the "
        "contact; the default is a layer of cold carbon dioxide gas 0.2 mm thick", default=57.0,
        above=0.0, most=1e6
    )
    ramp: float = quantity(
        "time", "time in which the surroundings go from the temperature of the step before to that "
        "of this one, at an even rate", default=0.0, least=0.0, most=1e7
    )
    inside: str = choice(
        INSIDES, "bore of the tube: closed (no heat through it), still-air at the temperature of "
        "the surroundings, or packed with dry ice", default="closed",
    )
    sleeve: bool = flag("whether the sleeve is on", default=True)

    @property
    def label(self) -> str:
        """Name as shown."""
        return self.name or self.kind

    @property
    def surroundings(self) -> float:
        """Temperature of the surroundings, K, with the default of the kind."""
        if self.temperature is not None:
            return float(self.temperature)
        return FREEZER_TEMPERATURE if self.kind == "freezer" else DRY_ICE_TEMPERATURE


@dataclass(frozen=True)
class Uncovered:
    """``[chill.uncovered]``: out in the open, from the moment the coolant is taken away.

    The default is a bright, breezy day at room temperature, sleeve off.
    """

    temperature: float = quantity(
        "temperature", "air temperature", default=ROOM_TEMPERATURE, above=0.0, most=2000.0
    )
    wind: float = quantity(
        "speed", "air speed across the tube; 0 is still air", default=3.0, least=0.0, most=150.0
    )
    sun: float = quantity(
        "heat_flux", "irradiance on a surface facing the sun", default=800.0, least=0.0,
        most=2000.0
    )
    absorptivity: float = quantity(
        "ratio", "share of the sun's heat taken up by the surface", default=0.6, least=0.0,
        most=1.0,
    )
    duration: float = quantity(
        "time", "how long the way back is followed", default=1800.0, above=0.0, most=1e7
    )
    inside: str = choice(INSIDES, "bore of the tube", default="closed")
    sleeve: bool = flag("whether the sleeve stays on", default=False)


@dataclass(frozen=True)
class AttachedPart:
    """``[[chill.attached]]``: a part that does not shrink with the tube.

    A coupler is a ring inside the tube, a bulkhead a solid disk inside it, a cord runs along
    the tube and is bonded to it, a screw (or pin or insert) sits in a hole through the wall.
    """

    name: str = text("name of the part", longest=60)
    kind: str = choice(PART_KINDS, "how it holds the tube")
    modulus: float = quantity("pressure", "Young's modulus of the part", above=0.0, most=2e12,
                                 unit="GPa")
    expansion: float = quantity(
        "expansion", "expansion coefficient of the part (may be negative)", least=-1e-4, most=1e-3
    )
    poisson: float = quantity("ratio", "Poisson's ratio of the part", default=0.3, above=-1.0,
                                 below=0.5)
    where: str = choice(("skin", "land"), "wall that grips the part", default="land")
    thickness: float = quantity("length", "coupler: its wall", default=None, above=0.0)
    area: float = quantity(
        "area", "cord: section of all the cords together", default=None, above=0.0
    )
    diameter: float = quantity("length", "screw: its diameter", default=None, above=0.0)
    edge_distance: float = quantity(
        "length", "screw: from its center to the nearest edge", default=None, above=0.0
    )
    clearance: float = quantity(
        "length", "coupler, bulkhead, screw: gap on the diameter at the start temperature "
        "(negative: pressed in)", default=0.0, least=-0.01, most=0.1
    )
    follows: float = quantity(
        "ratio", "share of the tube's change of temperature that the part shares; 1 is as cold as "
        "the tube", default=1.0, least=0.0, most=1.0,
    )


@dataclass(frozen=True)
class ChillLimits:
    """``[chill.limits]``: what bounds the time in which the tube may be used."""

    stiffness_ratio: float = quantity(
        "ratio", "least modulus over that at the reference temperature", default=1.5, above=0.0,
        most=1e4,
    )
    margin: float = quantity("ratio", "least margin of safety of the load cases", default=0.0,
                                least=-1.0, most=1e3)
    cracking_factor: float = quantity(
        "ratio", "factor on thermal stress and strain in the cracking check", default=1.5,
        least=1.0, most=100.0,
    )
    coldest: float = quantity(
        "temperature", "no part of the tube may be colder in use, instead of the material's lowest "
        "temperature of service (or its brittle temperature)", default=None, above=0.0, most=2000.0
    )


@dataclass(frozen=True)
class Chill:
    """``[chill]``: the whole of it. Without any step it is four hours in a household freezer."""

    start: float = quantity(
        "temperature", "temperature of the tube at the start", default=ROOM_TEMPERATURE, above=0.0,
        most=2000.0
    )
    reference: float = quantity(
        "temperature", "temperature at which the stiffness ratio is 1", default=ROOM_TEMPERATURE,
        above=0.0, most=2000.0
    )
    stress_free: float = quantity(
        "temperature", "temperature at which tube and attached parts fit without stress, if not "
        "the start temperature", default=None, above=0.0, most=2000.0
    )
    emissivity: float = quantity("ratio", "emissivity of the outer surface", default=0.9,
                                    least=0.0, most=1.0)
    concentration: float = quantity(
        "ratio", "stress concentration where thin wall meets land or rib (an assumption; small "
        "fillets are worse)", default=1.5, least=1.0, most=20.0,
    )
    handling_strain: float = quantity(
        "ratio", "strain that handling puts in, added in the cracking check", default=0.001,
        least=0.0, most=1.0,
    )
    cells: int = count("cells through the skin", default=6, least=2, most=200)
    tolerance: float = number("largest error of a time step, K", default=0.2, above=0.0,
                              most=10.0)
    step: tuple[ChillStep, ...] = tables(ChillStep, "the ways of chilling, in order")
    sleeve: tuple[SleeveLayer, ...] = tables(SleeveLayer, "sleeve, layer by layer outwards")
    uncovered: Uncovered = table(Uncovered, "the way back", default=Uncovered())
    attached: tuple[AttachedPart, ...] = tables(AttachedPart, "parts that do not shrink with it")
    limits: ChillLimits = table(ChillLimits, "what bounds the usable time",
                                default=ChillLimits())

    @property
    def steps(self) -> tuple[ChillStep, ...]:
        """The steps, or the default when none is given."""
        return self.step or (ChillStep(kind="freezer", duration=14400.0),)

    @property
    def fitted(self) -> float:
        """Temperature without stress, K."""
        return float(self.start if self.stress_free is None else self.stress_free)


_NEEDS = {"coupler": ("thickness",), "bulkhead": (), "cord": ("area",),
          "screw": ("diameter", "edge_distance")}


def check_chill(chill: Chill) -> list[Problem]:
    """Contradictions between the fields of ``[chill]``.

    >>> from gridshell.define.tables.chill import Chill, ChillStep, check_chill
    >>> step = ChillStep(kind="wind", duration=60.0, temperature=270.0)
    >>> print(*check_chill(Chill(step=(step,))))
    chill.step[1].wind: missing; kind 'wind' needs an air speed such as '5 m/s'
    """
    problems = Problems()
    for index, step in enumerate(chill.step, start=1):
        path = f"chill.step[{index}]"
        if step.kind == "wind" and step.wind is None:
            problems.add(f"{path}.wind", "missing; kind 'wind' needs an air speed such as '5 m/s'")
        if step.kind != "wind" and step.wind is not None:
            problems.add(f"{path}.wind", "used by kind 'wind' only")
        if step.temperature is None and step.kind in ("still-air", "wind", "contact"):
            problems.add(
                f"{path}.temperature",
                f"missing; kind {step.kind!r} needs a temperature such as '-20 degC'")
        if step.ramp > step.duration:
            problems.add(
                f"{path}.ramp",
                f"{step.ramp:g} s is longer than the step; must be at most {step.duration:g} s")
    seen: set[str] = set()
    for index, part in enumerate(chill.attached, start=1):
        path = f"chill.attached[{index}]"
        problems.check_use(part, path, f"a {part.kind}",
                           ("thickness", "area", "diameter", "edge_distance"), _NEEDS[part.kind])
        if part.kind == "screw" and part.diameter and part.edge_distance and (
            part.edge_distance <= part.diameter / 2
        ):
            problems.add(
                f"{path}.edge_distance",
                f"{part.edge_distance * 1e3:g} mm is inside the screw; must be above "
                f"{part.diameter * 500:g} mm")
        if part.name in seen:
            problems.add(f"{path}.name", f"{part.name!r} is used twice")
        seen.add(part.name)
    return problems
