"""The pour through the gates, against the time that there is before the liquid sets."""

from __future__ import annotations

import numpy as np

from gridshell.define.constants import GRAVITY
from gridshell.define.tables.design import Design
from gridshell.define.tables.mold import Mold
from gridshell.define.types import Quantity
from gridshell.material.properties import Properties
from gridshell.mold.checks.cooling import NEAR_SOFT, wait
from gridshell.mold.checks.fill import POT_LIFE, liquid_viscosity
from gridshell.mold.checks.heat import follow_cooling
from gridshell.mold.checks.result import OK, MoldCheck, most
from gridshell.mold.pieces.layout import FUNNEL, GATE_SHARE, gate_size
from gridshell.wall.geometry.lattice import Lattice

ORIFICE = 0.6  # discharge of a sharp hole (every text on hydraulics)
END_LENGTH = 3 * np.pi / 16  # of the diameter: what both mouths of a hole add to its length
FILLED_SHARE = 0.6  # of the shell's full depth that the part fills, a usual ribbed wall
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


def gate_checks(
    design: Design, grid: Lattice, mold: Mold, part: Properties, shell: Properties, start: float
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
    viscosity = liquid_viscosity(mold.casting, part)
    if viscosity is None:
        return ()
    depth = float(design.skin.thickness + design.rib_height)
    diameter = gate_size(depth, mold)
    # The funnel takes the outer part of the end wall; the rest is the hole itself.
    length = (1 - FUNNEL) * float(mold.end_wall)
    stated = mold.casting.pour_head
    head = float(mold.end_wall) if stated is None else float(stated)
    pressure = float(part.density) * GRAVITY * head + float(mold.casting.pour_pressure)
    arc = 2 * np.pi * float(grid.radius) / grid.segments
    volume = arc * float(design.section_length) * depth * FILLED_SHARE

    def time(size: float, holes: int) -> float:
        return float(hole_fill_time(volume, size, length, viscosity, pressure,
                                    density=float(part.density), holes=holes))

    found = time(diameter, mold.gates)
    warm = float(mold.casting.mold_temperature)
    limit, why = _time_to_set(design, mold, part, shell, start, warm)
    verdict = most(found, limit, near=0.7)
    advice = (f"the pour takes {wait(found)} through {mold.gates} gate"
              f"{'s' if mold.gates > 1 else ''} of {diameter * 1e3:.1f} mm under "
              f"{pressure / 1e3:.2g} kPa; {why} in {wait(limit)}")
    largest = GATE_SHARE * depth
    if verdict != OK:
        enough = [n for n in range(1, 21) if time(largest, n) <= 0.7 * limit]
        if enough:
            advice += (f": mold.gate_diameter = '{largest * 1e3:.1f} mm' with mold.gates = "
                       f"{enough[0]} does it")
        else:
            needed = pressure * time(largest, 4) / (0.7 * limit)
            advice += (f": press it in with {needed / 1e3:.2g} kPa through 4 gates of "
                       f"{largest * 1e3:.1f} mm (mold.casting.pour_pressure), keep a higher head "
                       "(mold.casting.pour_head), or use a thinner liquid")
            # Warm but not soft; above it the mold itself gives way.
            hottest = min(start, (shell.softening_temperature or start) - NEAR_SOFT)
            for warmer in np.linspace(warm, hottest, 9)[1:] if hottest > warm else ():
                if time(largest, 4) <= 0.7 * _time_to_set(
                        design, mold, part, shell, start, float(warmer))[0]:
                    advice += (f", or warm the mold to {warmer - 273.15:.0f} degC "
                               "(mold.casting.mold_temperature) and make 4 gates")
                    break
    return (MoldCheck(
        "pour through the gates", found, limit=limit, kind="time", verdict=verdict, advice=advice,
        source=(
            "creeping flow through a short hole (Hagen-Poiseuille, Sampson) and a sharp orifice, "
        "against the time to set"),
        notes=(
            f"head {head * 1e3:.0f} mm above the gate's inner end, kept full",
            f"viscosity {viscosity:g} Pa s"
            + ("" if mold.casting.viscosity is not None else ": from memory, measure yours")),
        details={
            "viscosity": viscosity, "pressure": pressure, "volume": volume, "diameter": diameter},
    ),)


def _time_to_set(
    design: Design, mold: Mold, part: Properties, shell: Properties, start: float, warm: float
) -> tuple[float, str]:
    """How long there is to fill a mold of a temperature, s, and what ends it."""
    soft = part.softening_temperature
    thermal = (part.conductivity, part.density, part.heat_capacity)
    if part.family == "casting resin" or soft is None or None in thermal or start <= soft:
        return POT_LIFE, "the resin thickens (pot life, common practice)"
    # A plastic mold warms up and keeps the melt soft for long; a metal one does not.
    followed = follow_cooling(
        np.array([float(design.skin.thickness)]), part, [shell], float(mold.wall), start=start,
        mold_temperature=warm, release=float(soft),
        heat_transfer=float(mold.casting.heat_transfer))
    time = float(followed.released[0, 0])
    return min(LONGEST if np.isnan(time) else time, LONGEST), "the skin that is in sets"
