"""The temperature at which a casting may be peeled off a mold that would lock a cold one."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from gridshell.define.constants import ROOM_TEMPERATURE
from gridshell.define.types import Quantity
from gridshell.thermal.curves import MaterialCurves

COLDEST, WARMEST = 150.0, 500.0  # K, range searched


@dataclass(frozen=True)
class DemoldingRange:
    """Where the material takes a peel.

    Attributes:
        low: K, None when there is no such range.
        high: K, None when there is no such range.
        low_by: what sets each end.
        high_by: what sets each end.
        notes: reasons.
    """

    low: float | None
    high: float | None
    low_by: str
    high_by: str
    notes: tuple[str, ...]


def peel_strain(undercut: Quantity, thickness: Quantity, reach: Quantity) -> Quantity:
    """Strain at the face of a wall that bends to clear an undercut.

    A strip bent to deflect by the undercut over a reach, as a cantilever with a tip force:
    strain = 3 t u/(2 L^2) (Gere and Timoshenko, Mechanics of Materials: delta = F L^3/(3 E I),
    strain = F L t/(2 E I)).

    >>> round(peel_strain(1e-3, 2e-3, 10e-3), 4)
    0.03
    """
    return 1.5 * thickness * undercut / reach**2


def demolding_range(
    strain: float, curves: MaterialCurves, factor: float = 2.0, *, room: float = ROOM_TEMPERATURE,
) -> DemoldingRange:
    """Temperatures at which the material takes a peel strain and still keeps its shape.

    Args:
        strain: strain that peeling puts into the part.
        curves: the material; see `gridshell.thermal.curves.material_curves`.
        factor: on the strain.
        room: K, for the note only.

    Returns:
        from the lowest temperature where strain at break is ``factor`` times the strain up to
        the material's peel temperature (or, without it, 20 K below its softening temperature).
    """
    notes: list[str] = []
    if curves.demolding_temperature is not None:
        high, high_by = curves.demolding_temperature, "peel temperature of the material"
    elif curves.softening_temperature is not None:
        high, high_by = curves.softening_temperature - 20.0, "20 K below softening"
    else:
        high, high_by = WARMEST, "not known"
        notes.append("neither peel nor softening temperature is known; try a piece first")
    if curves.strain_at_break is None:
        return DemoldingRange(None, None, "unknown", high_by,
                         ("strain at break is not known for this material", *notes))
    grid = np.arange(COLDEST, high + 1e-9, 0.25)
    grid = np.append(grid, high) if grid[-1] < high else grid
    limit = curves.strain_at_break(grid)
    known = np.isfinite(limit)
    takes = known & (np.nan_to_num(limit) >= factor * strain)
    if not known.any():
        return DemoldingRange(None, None, "unknown", high_by,
                         ("strain at break is not known below the upper limit", *notes))
    if not takes[known][-1]:
        return DemoldingRange(
            None, None, "strain at break", high_by,
            (f"at {high - 273.15:.0f} degC it takes {np.nanmax(limit) / factor:.1%} with a factor "
             f"of {factor:g}; the peel needs {strain:.1%}: less undercut, or a thinner wall",
             *notes))
    if not known[-1]:
        high, high_by = float(grid[known][-1]), "end of the data on strain at break"
    # The warm end of the range counts; a curve that dips in between ends it.
    fails = np.flatnonzero(~takes & (grid <= high))
    first = int(fails[-1]) + 1 if fails.size else 0
    low = float(grid[first])
    low_by = "strain at break"
    if first == 0 or not known[first - 1]:
        low_by = "start of the data on strain at break"
    elif limit[first] > limit[first - 1]:
        share = (factor * strain - limit[first - 1]) / (limit[first] - limit[first - 1])
        low = float(grid[first - 1] + share * (grid[first] - grid[first - 1]))
    if low > room:
        notes.append(f"peel it warm: at {room - 273.15:.0f} degC it would tear")
    return DemoldingRange(low, float(high), low_by, high_by, tuple(notes))
