"""What the molds of a design fail, for the search of a size."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, field

import numpy as np

from gridshell.define.constants import ROOM_TEMPERATURE
from gridshell.define.errors import InputError
from gridshell.define.files.unit_cell_match import without_unit_cell
from gridshell.define.tables.design import Design, with_values
from gridshell.define.tables.mold import Mold, mold_of
from gridshell.material.properties import Properties
from gridshell.mold.checks.castable import cast_refusal, known_material
from gridshell.mold.checks.limits import MoldLimit, mold_limits, release_temperature
from gridshell.mold.checks.result import FAILS
from gridshell.mold.checks.run import mold_checks
from gridshell.mold.checks.settle import likely_sizes, settled
from gridshell.study.size.making import Making, MakingMargins, Remaking, Unmet
from gridshell.tube.result import TubeResult
from gridshell.wall.assess import assess_wall


def mold_failures(design: Design, *, names_only: bool = False) -> tuple[Unmet, ...]:
    """Checks of the molds that fail; one that says why where there can be no mold at all.

    Args:
        design: one design.
        names_only: True leaves out advice that takes long to find.
    """
    try:
        found = mold_checks(design, advise=not names_only)
    except InputError as error:
        return (Unmet("mold", str(error).replace("\n", "; ")),)
    return tuple(
        Unmet(check.name, check.advice) for check in found.checks if check.verdict == FAILS
    )


def making_of(design: Design) -> tuple[Making | None, MakingMargins | None, Remaking | None]:
    """What `gridshell.study.size.run.size_tube` is to know of the making; nothing without [mold].

    Returns:
        its arguments ``making``, ``margins`` and ``remaking``.
    """
    if design.mold is None:
        return None, None, None
    return mold_failures, mold_margins(design), settled


def mold_margins(design: Design) -> MakingMargins | None:
    """What the molds of a design ask of arrays of its dimensions; None where there is no mold.

    A demand that no likely size meets is left out: the search would find nothing for it, and the
    check of the finished size names it."""
    mold = mold_of(design)
    try:
        cold = known_material(design, ROOM_TEMPERATURE)
        warm = known_material(design, release_temperature(design, mold))
    except InputError:
        return None
    if not mold.direct and cast_refusal(mold, warm) is not None:
        return None
    return _Demands(cold, warm)


@dataclass(frozen=True)
class _Demands:
    """What molds ask of designs; a class, so that processes can hand it on.

    Attributes:
        cold: material at room temperature.
        warm: at the temperature of release.
        hopeless: names of demands to leave out, of each mold looked at.
    """

    cold: Properties
    warm: Properties
    hopeless: dict[Mold, frozenset[str]] = field(default_factory=dict)

    def __call__(self, tube: TubeResult) -> Sequence[MoldLimit]:
        # A search may go on with a mold that was set anew.
        own = mold_of(tube.design)
        if own not in self.hopeless:
            self.hopeless[own] = _hopeless(tube.design, own, self.warm)
        found = mold_limits(
            tube.design, own, tube.wall, self.warm, grid=tube.wall.grid, cold=self.cold)
        return [limit for limit in found if limit.name not in self.hopeless[own]]


def _hopeless(design: Design, mold: Mold, warm: Properties) -> frozenset[str]:
    """Names of the demands that none of the likely sizes meets."""
    if not design.has_ribs:
        return frozenset()
    likely = likely_sizes(design)
    values = {path: np.array([size[path] for size in likely]) for path in likely[0]}
    tried = with_values(design, {"skin.thickness": values.pop("skin.thickness"), **values})
    found = mold_limits(tried, mold, assess_wall(without_unit_cell(tried), warm), warm)
    return frozenset(
        limit.name for limit in found if not np.any(np.asarray(limit.margin, float) >= 0))
