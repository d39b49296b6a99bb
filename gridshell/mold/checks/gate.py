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
from gridshell.mold.checks.cooling import NEAR_SOFT, mold_properties, wait
from gridshell.mold.checks.fill import liquid_viscosity, pot_life
from gridshell.mold.checks.heat import follow_cooling
from gridshell.mold.checks.result import OK, MoldCheck, most
from gridshell.mold.pieces.layout import FUNNEL, GATE_SHARE, gate_size, mold_layout, reduced_holes
from gridshell.mold.pieces.pouring import most_gates
from gridshell.wall.geometry.lattice import Lattice, lattice

ORIFICE = 0.6  # discharge of a sharp hole (every text on hydraulics)
END_LENGTH = 3 * np.pi / 16  # of the diameter: what both mouths of a hole add to its length
FILLED_SHARE = 0.6  # of the shell's full depth that the part fills, a usual ribbed wall
USUAL_MOLD = {"print": "petg", "mill": "aluminum-6061-t6"}
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
        limit: time until it sets, s.
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
        density=float(part.density), limit=limit, why=why, depth=depth)


def with_gates(design: Design, mold: Mold) -> Mold:
    """The mold with a number and a size for its gates where they are left open.

    As few as pass the pour in 70 % of the time before it sets: of the usual size (60 % of the
    wall's depth) or, where that is not enough, of the largest that the wall holds. Where no number
    does it, four of the largest; the check then says what would.

    Args:
        design: one design (no arrays).
        mold: the `[mold]` table.
    """
    if mold.direct or mold.gates is not None:
        return mold
    part = known_material(design, ROOM_TEMPERATURE)
    if cast_refusal(mold, part) is not None:
        return mold
    shell = mold_properties(mold.casting.mold_material or USUAL_MOLD[mold.process])
    start = pour_temperature(mold, part)
    pour = pour_of(design, lattice(design), mold, part=part, shell=shell, start=start)
    if pour is None:
        return mold
    usual = gate_size(pour.depth, mold)
    sizes = (usual,) if mold.gate_diameter is not None else (usual, pour.largest)
    plan = mold_layout(design, mold, 1e3)
    last = (1, sizes[-1])
    for count in range(1, MOST_GATES + 1):
        for size in sizes:
            tried = dataclasses.replace(mold, gates=count, gate_diameter=size)
            if count > most_gates(plan, tried):
                continue
            if count <= SEVERAL:
                last = (count, size)
            if pour.time(size, count) <= NEAR * pour.limit:
                return tried
    return dataclasses.replace(mold, gates=last[0], gate_diameter=last[1])


def pour_temperature(mold: Mold, part: Properties) -> float:
    """Temperature of the liquid when poured, K.

    Args:
        mold: the `[mold]` table.
        part: its material where its data cover.
    """
    stated, usual = mold.casting.pour_temperature, part.pour_temperature
    return float(stated if stated is not None else usual if usual is not None else ROOM_TEMPERATURE)


def gate_checks(
    design: Design, grid: Lattice, mold: Mold, *, part: Properties, shell: Properties, start: float
) -> tuple[MoldCheck, ...]:
    """Whether the pour passes the gates before what is in the mold sets; nothing without viscosity.

    Args:
        design: one design (no arrays).
        grid: its lattice.
        mold: the `[mold]` table.
        part: its material where its data cover.
        shell: the mold's material.
        start: temperature when poured, K.
    """
    pour = pour_of(design, grid, mold, part=part, shell=shell, start=start)
    if pour is None:
        return ()
    diameter, count = gate_size(pour.depth, mold), mold.gate_count
    found = pour.time(diameter, count)
    verdict = most(found, pour.limit, near=NEAR)
    notes = [
        f"head {pour.head * 1e3:.0f} mm above the gate's inner end, kept full",
        f"viscosity {pour.viscosity:g} Pa s"
        + ("" if mold.casting.viscosity is not None else ": from memory, measure yours"),
        *reduced_holes(design, mold)]
    if mold.casting.filled != "end-up":
        notes.append("a mold that lies is poured through an elbow or a funnel sealed to the gate; "
                     "state the height of liquid in it as mold.casting.pour_head")
    return (MoldCheck(
        GATE_CHECK, found, limit=pour.limit, kind="time", verdict=verdict,
        advice=(
            f"the pour takes {wait(found)} through {count} gate{'s' if count > 1 else ''} of "
            f"{diameter * 1e3:.1f} mm under {pour.pressure / 1e3:.2g} kPa; {pour.why} in "
            f"{wait(pour.limit)}" + (
                "" if verdict == OK else _remedy(design, mold, pour, part, shell, start))),
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
        if pour.time(largest, several) <= NEAR * _time_to_set(
                design, mold, part, shell, start, float(warmer))[0]:
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
) -> tuple[float, str]:
    """How long there is to fill a mold of a temperature, s, and what ends it."""
    if _cures(part, start):
        stated = mold.casting.pot_life
        return pot_life(mold.casting), "the resin thickens (" + (
            "pot life, common practice; state yours as mold.casting.pot_life)" if stated is None
            else "mold.casting.pot_life)")
    # A plastic mold warms up and keeps the melt soft for long; a metal one does not.
    followed = follow_cooling(
        np.array([float(design.skin.thickness)]), part, [shell], float(mold.wall), start=start,
        mold_temperature=warm, release=float(part.softening_temperature),
        heat_transfer=float(mold.casting.heat_transfer))
    time = float(followed.released[0, 0])
    return min(LONGEST if np.isnan(time) else time, LONGEST), "the skin that is in sets"
