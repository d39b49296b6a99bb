"""Pockets and ribs that buckle near the load of the whole wall take from it, and it from them."""

from __future__ import annotations

import numpy as np

from gridshell.define.types import Quantity
from gridshell.tube.buckling.general import buckling_loads, resultant
from gridshell.tube.strength.local_use import local_use
from gridshell.wall.assess import Wall
from gridshell.wall.stress import strain_of, stress_of

POWER = 5.0
GROUND = (
    "pockets and ribs that buckle near the load of the wall take from it: the two loads as "
    f"(wall^-{POWER:g} + parts^-{POWER:g})^(-1/{POWER:g}), ours, chosen on five solved isogrids"
)


def parts_load(built: Wall) -> float:
    """Axial load at which pockets or ribs of one tube buckle by themselves, N; infinite without.

    Args:
        built: one wall.
    """
    if not built.sections:
        return np.inf
    line = np.array([-1 / float(resultant("compression", built.grid.radius)), 0.0, 0.0])
    use = local_use(built, stress_of(built, *strain_of(built, line)))
    share = max((float(one) for one in (use.pocket, use.rib) if one is not None), default=0.0)
    return 1 / share if share > 0 else np.inf


def with_parts(built: Wall, factor: Quantity) -> Quantity:
    """Factor of the wall's perfect load once its pockets and ribs have taken their part.

    Without a deviation, too: walls whose modes coincide have them together in every real tube. A
    deviation bends the ribs, which then buckle before the load of a straight wall.

    Args:
        built: one wall.
        factor: of the wall alone, any shape.
    """
    wave = buckling_loads(built, ("compression",)).compression
    perfect = float(wave.load) * float(resultant("compression", built.grid.radius))
    share = np.asarray(factor, float) * perfect / parts_load(built)
    return (factor * (1 + share**POWER) ** (-1 / POWER))[()]
