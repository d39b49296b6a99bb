"""How far the buckling loads of other shell theories are from the ones used."""

from __future__ import annotations

from dataclasses import dataclass

from gridshell.tube.buckling.general import buckling_loads
from gridshell.tube.buckling.wave_stiffness import DONNELL, SANDERS
from gridshell.tube.result import BucklingLoads
from gridshell.wall.assess import Wall


@dataclass(frozen=True)
class TheoryDifference:
    """One load of perfect theory, and what other theories make of it.

    Attributes:
        load: which: compression, lateral, hydrostatic or torsion.
        waves: full waves round the tube of the theory used.
        off: name of another theory -> its load over the one used, minus 1.
    """

    load: str
    waves: float
    off: dict[str, float]


def other_theories(wall: Wall, used: BucklingLoads) -> tuple[TheoryDifference, ...]:
    """The same loads by Sanders' and Donnell's curvatures, for one design.

    Args:
        wall: the wall whose loads were found.
        used: its loads by line-element strains; loads that were not asked for are left out.
    """
    names = tuple(
        name for name in ("compression", "lateral", "hydrostatic", "torsion")
        if getattr(used, name) is not None
    )
    if not names:
        return ()
    others = {t.name: buckling_loads(wall, names, t) for t in (SANDERS, DONNELL)}
    return tuple(
        TheoryDifference(name, float(getattr(used, name).n), {
            theory: float(getattr(loads, name).load / getattr(used, name).load) - 1
            for theory, loads in others.items()
        })
        for name in names
    )
