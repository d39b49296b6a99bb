"""What the molds of a design fail, for the search of a size."""

from __future__ import annotations

from collections.abc import Sequence

from gridshell.define.constants import ROOM_TEMPERATURE
from gridshell.define.errors import InputError
from gridshell.define.tables.design import Design
from gridshell.define.tables.mold import mold_of
from gridshell.mold.checks.castable import cast_refusal, known_material
from gridshell.mold.checks.limits import MoldLimit, mold_limits, release_temperature
from gridshell.mold.checks.result import FAILS
from gridshell.mold.checks.run import mold_checks
from gridshell.study.size.making import Making, MakingMargins, Unmet
from gridshell.tube.result import TubeResult


def mold_failures(design: Design) -> tuple[Unmet, ...]:
    """Checks of the molds that fail; one that says why where there can be no mold at all.

    Args:
        design: one design with a ``[mold]`` table.
    """
    try:
        found = mold_checks(design)
    except InputError as error:
        return (Unmet("mold", str(error).replace("\n", "; ")),)
    return tuple(
        Unmet(check.name, check.advice) for check in found.checks if check.verdict == FAILS
    )


def making_of(design: Design) -> tuple[Making | None, MakingMargins | None]:
    """What `gridshell.study.size.run.size_tube` is to know of the making; nothing without [mold].

    Args:
        design: one design.
    """
    return (None, None) if design.mold is None else (mold_failures, mold_margins(design))


def mold_margins(design: Design) -> MakingMargins | None:
    """What the molds of a design ask of arrays of its dimensions; None where there is no mold.

    Args:
        design: one design with a ``[mold]`` table.
    """
    mold = mold_of(design)
    try:
        cold = known_material(design, ROOM_TEMPERATURE)
        warm = known_material(design, release_temperature(design, mold))
    except InputError:
        return None
    if not mold.direct and cast_refusal(mold, warm) is not None:
        return None

    def margins(tube: TubeResult) -> Sequence[MoldLimit]:
        return mold_limits(tube.design, mold, tube.wall, warm, grid=tube.wall.grid, cold=cold)

    return margins
