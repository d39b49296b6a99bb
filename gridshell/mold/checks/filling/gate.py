"""The pour through the gates, against the time that there is before the liquid sets."""

from __future__ import annotations

import dataclasses
from dataclasses import dataclass

import numpy as np

from gridshell.define.constants import GRAVITY, ROOM_TEMPERATURE
from gridshell.define.tables.design import Design
from gridshell.define.tables.mold import Mold
from gridshell.define.types import Quantity
from gridshell.material.properties import Properties
from gridshell.mold.checks.castable import cast_refusal, known_material
from gridshell.mold.checks.filling.fill import liquid_viscosity, pot_life, pot_life_source
from gridshell.mold.checks.heat.cooling import NEAR_SOFT, mold_properties, stands, wait
from gridshell.mold.checks.heat.transfer import contact_temperature, effusivity, follow_cooling
from gridshell.mold.checks.result import OK, UNKNOWN, MoldCheck, most
from gridshell.mold.pieces.features.pouring import most_gates
from gridshell.mold.pieces.layout import FUNNEL, GATE_SHARE, gate_size, mold_layout, reduced_holes
from gridshell.wall.geometry.lattice import Lattice, lattice

ORIFICE = 0.6  # discharge of a sharp hole (every text on hydraulics)
END_LENGTH = 3 * np.pi / 16  # of the diameter: what both mouths of a hole add to its length
FILLED_SHARE = 0.6  # of the shell's full depth that the part fills, a usual ribbed wall
USUAL_MOLD = {"print": "petg", "mill": "aluminum-6061-t6"}
PRINTED = ("petg", "abs", "polycarbonate")  # the first that stands the pour is taken
FUNNELS = (0.05, 0.1, 0.15)  # m of liquid that a funnel on the gate keeps (common practice)
HIGHEST_FUNNEL = FUNNELS[-1]
GATE_CHECK = "pour through the gates"
NEAR = 0.7  # share of the time to set that a pour may take; viscosity is known no better
MOST_GATES, SEVERAL = 20, 4  # all that may be stated; as many as one still pours into by hand
LONGEST = 3600.0  # s; a melt that never sets in its mold is still poured within an hour


def hole_fill_time(
    volume: Quantity, diameter: Quantity, length: Quantity, viscosity: Quantity,
    pressure: Quantity, *, density: Quantity, holes: Quantity = 1,
) -> Quantity:
    """Time to pour a volume through round holes under a steady pressure, s.

    Creeping flow pi d^4 p/(128 eta L) (Hagen-Poiseuille) with L longer by 3 pi/16 d for the two
    mouths (creeping flow through a hole in a plate, p = 24 eta Q/d^3: Sampson 1891; from memory),
    and for thin liquids 0.6 A sqrt(2 p/rho) of a sharp orifice; the two times are added.

    Args:
        volume: m3.
        diameter: d, m.
        length: L, m.
        viscosity: eta, Pa s.
        pressure: p, Pa.
        density: rho, kg/m3.
        holes: how many.

    One liter through 10 mm of a 10 mm hole, 1 Pa s, 1 kPa: pi d^4 p/(128 eta L) is 24.5 cm3/s, the
    mouths make it 15.4 and the orifice adds 15 s:

    >>> round(float(hole_fill_time(1e-3, 0.01, 0.01, 1.0, 1e3, density=1000.0)), 1)
    79.7
    """
    diameter = np.asarray(diameter, float)
    longer = length + END_LENGTH * diameter
    creeping = np.pi * diameter**4 * pressure / (128 * viscosity * longer)
    thin = ORIFICE * np.pi / 4 * diameter**2 * np.sqrt(2 * pressure / density)
    return volume / holes * (1 / creeping + 1 / thin)


@dataclass(frozen=True)
class Pour:
    """What passes the gates, and how long there is for it.

    Attributes:
        volume: of one casting, m3.
        length: of the narrow part of a gate, m.
        viscosity: Pa s.
        head: of liquid above the gates, m.
        pressure: that drives it, Pa.
        density: kg/m3.
        limit: time until it sets, s; infinite where that is not known.
        known: whether that time is known.
        why: what ends it.
        depth: of the casting's wall, m.
    """

    volume: float
    length: float
    viscosity: float
    head: float
    pressure: float
    density: float
    limit: float
    known: bool
    why: str
    depth: float

    def time(self, diameter: float, gates: int) -> float:
        """How long the pour takes, s.

        Args:
            diameter: of a gate, m.
            gates: how many.
        """
        return float(hole_fill_time(
            self.volume, diameter, self.length, self.viscosity, self.pressure,
            density=self.density, holes=gates))

    def raised(self, head: float) -> Pour:
        """The same under another height of liquid.

        Args:
            head: of liquid above the gates, m.
        """
        more = self.density * GRAVITY * (head - self.head)
        return dataclasses.replace(self, head=head, pressure=self.pressure + more)

    @property
    def largest(self) -> float:
        """Widest gate that the wall holds, m."""
        return GATE_SHARE * self.depth


def pour_of(
    design: Design, grid: Lattice, mold: Mold, *, part: Properties, shell: Properties, start: float
) -> Pour | None:
    """The pour of one casting; None where its viscosity is not known.

    Args:
        design: one design (no arrays).
        grid: its lattice.
        mold: the `[mold]` table.
        part: its material where its data cover.
        shell: the mold's material.
        start: temperature when poured, K.
    """
    viscosity = liquid_viscosity(mold.casting, part)
    if viscosity is None:
        return None
    depth = float(design.skin.thickness + design.rib_height)
    stated = mold.casting.pour_head
    head = float(mold.end_wall) if stated is None else float(stated)
    arc = 2 * np.pi * float(grid.radius) / grid.segments
    limit, why = _time_to_set(
        design, mold, part, shell, start, float(mold.casting.mold_temperature))
    return Pour(
        volume=arc * float(design.section_length) * depth * FILLED_SHARE,
        # The funnel takes the outer part of the end wall; the rest is the hole itself.
        length=(1 - FUNNEL) * float(mold.end_wall), viscosity=viscosity, head=head,
        pressure=float(part.density) * GRAVITY * head + float(mold.casting.pour_pressure),
        density=float(part.density), limit=np.inf if limit is None else limit,
        known=limit is not None, why=why, depth=depth)


def completed(design: Design, mold: Mold) -> Mold:
    """The mold with what is left open in it: its material, how high the pour stands, its gates.

    The material is the process's usual one or, where the liquid would soften that, the first of
    `PRINTED` that stands it. Gates are as few as pass the pour in 70 % of the time before it sets,
    four at most: of the usual size (60 % of the wall's depth) or the largest that the wall holds;
    where that is not enough, with a funnel up to `HIGHEST_FUNNEL` on them, and only then more of
    them. Where nothing does it, four of the largest under the highest funnel; the check then says
    what would."""
    part = known_material(design, ROOM_TEMPERATURE)
    if mold.direct or cast_refusal(mold, part) is not None:
        return mold
    start = pour_temperature(mold, part)
    casting = dataclasses.replace(mold.casting, mold_material=mold_material(mold, part, start))
    mold = dataclasses.replace(mold, casting=casting)
    if mold.gates is not None:
        return mold
    shell = mold_properties(str(casting.mold_material))
    pour = pour_of(design, lattice(design), mold, part=part, shell=shell, start=start)
    if pour is None:
        return mold
    usual = gate_size(pour.depth, mold)
    sizes = (usual,) if mold.gate_diameter is not None else (usual, pour.largest)
    plan = mold_layout(design, mold, 1e3)
    fits = {size: most_gates(plan, dataclasses.replace(mold, gates=1, gate_diameter=size))
            for size in sizes}
    heads = [pour.head] + [
        head for head in FUNNELS if casting.pour_head is None and head > pour.head]
    several = [(head, n) for head in heads for n in range(1, SEVERAL + 1)]
    tries = [*several, *((heads[-1], n) for n in range(SEVERAL + 1, MOST_GATES + 1))]
    last = (heads[-1], 1, sizes[-1])
    chosen = None
    for head, count in tries:
        raised = pour.raised(head)
        for size in sizes:
            if chosen is None and count <= fits[size]:
                if count <= SEVERAL:
                    last = (head, count, size)
                if raised.time(size, count) <= NEAR * pour.limit:
                    chosen = (head, count, size)
    head, count, size = chosen or last
    if head != pour.head:
        casting = dataclasses.replace(casting, pour_head=head)
    return dataclasses.replace(mold, gates=count, gate_diameter=size, casting=casting)


def mold_material(mold: Mold, part: Properties, start: float) -> str:
    """Name of the mold's material: as stated, or a usual one that stands what is poured.

    Args:
        mold: the `[mold]` table.
        part: what is poured.
        start: its temperature when poured, K.
    """
    if mold.casting.mold_material is not None:
        return mold.casting.mold_material
    usual = USUAL_MOLD[mold.process]
    thermal = (part.conductivity, part.density, part.heat_capacity)
    if mold.process != "print" or None in thermal:
        return usual
    own = effusivity(*thermal)
    for name in PRINTED:
        shell = mold_properties(name)
        face = contact_temperature(
            own, start, effusivity(shell.conductivity, shell.density, shell.heat_capacity),
            float(mold.casting.mold_temperature))
        if stands(shell, float(face)) == OK:
            return name
    return usual


def pour_temperature(mold: Mold, part: Properties) -> float:
    """Temperature of the liquid when poured, K.

    Args:
        mold: the `[mold]` table.
        part: its material where its data cover.
    """
    stated, usual = mold.casting.pour_temperature, part.pour_temperature
    return float(stated if stated is not None else usual if usual is not None else ROOM_TEMPERATURE)


def gate_checks(
    design: Design, grid: Lattice, mold: Mold, *, part: Properties, shell: Properties,
    start: float, advise: bool = True,
) -> tuple[MoldCheck, ...]:
    """Whether the pour passes the gates before what is in the mold sets; nothing without viscosity.

    Args:
        design: one design (no arrays).
        grid: its lattice.
        mold: the `[mold]` table.
        part: its material where its data cover.
        shell: the mold's material.
        start: temperature when poured, K.
        advise: False does not look for gates or a mold temperature that let it pass.
    """
    pour = pour_of(design, grid, mold, part=part, shell=shell, start=start)
    if pour is None:
        return ()
    diameter, count = gate_size(pour.depth, mold), mold.gate_count
    found = pour.time(diameter, count)
    verdict = most(found, pour.limit, near=NEAR) if pour.known else UNKNOWN
    ends = f"{pour.why} in {wait(pour.limit)}" if pour.known else (
        f"how long {part.name} stays thin enough is not known: state mold.casting.pot_life, or "
        "pot_life under [material.properties]")
    notes = [
        f"head {pour.head * 1e3:.0f} mm above the gate's inner end, kept full" + (
            ": a funnel that high on the gate" if pour.head > mold.end_wall else ""),
        f"viscosity {pour.viscosity:g} Pa s"
        + ("" if mold.casting.viscosity is not None else ": from memory, measure yours"),
        *reduced_holes(design, mold)]
    if mold.casting.filled != "end-up":
        notes.append("a mold that lies is poured through an elbow or a funnel sealed to the gate; "
                     "state the height of liquid in it as mold.casting.pour_head")
    return (MoldCheck(
        GATE_CHECK, found, limit=pour.limit if pour.known else None, kind="time", verdict=verdict,
        advice=(
            f"the pour takes {wait(found)} through {count} gate{'s' if count > 1 else ''} of "
            f"{diameter * 1e3:.1f} mm under {pour.pressure / 1e3:.2g} kPa; {ends}" + (
                "" if verdict in (OK, UNKNOWN) or not advise
                else _remedy(design, mold, pour, part, shell, start))),
        source=(
            "creeping flow through a short hole (Hagen-Poiseuille, Sampson) and a sharp orifice, "
            "against the time to set"),
        notes=tuple(notes),
        details={
            "viscosity": pour.viscosity, "pressure": pour.pressure, "volume": pour.volume,
            "diameter": diameter, "gates": count},
    ),)


def _remedy(
    design: Design, mold: Mold, pour: Pour, part: Properties, shell: Properties, start: float
) -> str:
    """What would let the pour pass in time."""
    largest = pour.largest
    most_that_fit = most_gates(mold_layout(design, mold, 1e3), dataclasses.replace(
        mold, gates=1, gate_diameter=largest))
    enough = [n for n in range(1, min(MOST_GATES, most_that_fit) + 1)
              if pour.time(largest, n) <= NEAR * pour.limit]
    if enough:
        return (f": mold.gate_diameter = '{largest * 1e3:.1f} mm' with mold.gates = {enough[0]} "
                "does it")
    several = min(SEVERAL, most_that_fit)
    needed = pour.pressure * pour.time(largest, several) / (NEAR * pour.limit)
    gates = f"{several} gate{'s' if several > 1 else ''}"
    advice = (f": press it in with {needed / 1e3:.2g} kPa through {gates} of "
              f"{largest * 1e3:.1f} mm (mold.casting.pour_pressure), keep a higher head "
              "(mold.casting.pour_head), or use a thinner liquid")
    if _cures(part, start):
        return advice + " or one with a longer pot life (mold.casting.pot_life)"
    # Warm but not soft; above it the mold itself gives way.
    warm = float(mold.casting.mold_temperature)
    hottest = min(start, (shell.softening_temperature or start) - NEAR_SOFT)
    for warmer in np.linspace(warm, hottest, 9)[1:] if hottest > warm else ():
        limit = _time_to_set(design, mold, part, shell, start, float(warmer))[0]
        if limit is not None and pour.time(largest, several) <= NEAR * limit:
            return advice + (f", or warm the mold to {warmer - 273.15:.0f} degC "
                             f"(mold.casting.mold_temperature) and make {gates}")
    return advice


def _cures(part: Properties, start: float) -> bool:
    """Whether it sets by curing, not by cooling (or what cooling needs is not known)."""
    soft = part.softening_temperature
    thermal = (part.conductivity, part.density, part.heat_capacity)
    return bool(part.family == "casting resin" or soft is None or None in thermal or start <= soft)


def _time_to_set(
    design: Design, mold: Mold, part: Properties, shell: Properties, start: float, warm: float
) -> tuple[float | None, str]:
    """How long there is to fill a mold of a temperature, s (None: not known), and what ends it."""
    if _cures(part, start):
        return pot_life(mold.casting, part), (
            f"the resin thickens ({pot_life_source(mold.casting, part)})")
    # A plastic mold warms up and keeps the melt soft for long; a metal one does not.
    followed = follow_cooling(
        np.array([float(design.skin.thickness)]), part, [shell], float(mold.wall), start=start,
        mold_temperature=warm, release=float(part.softening_temperature),
        heat_transfer=float(mold.casting.heat_transfer))
    time = float(followed.released[0, 0])
    return min(LONGEST if np.isnan(time) else time, LONGEST), "the skin that is in sets"
