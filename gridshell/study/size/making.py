"""What the making of a sized tube fails, and bounds of its dimensions that mend it.

The checks of a mold stand in a folder below this one, so whoever asks for a size hands them over as
functions. Those that are margins over arrays of dimensions are limits of the search like any other.
The rest is looked at on the design that is found: a few steps of one dimension at a time show which
one mends a failed check, bisection shows from where on, and that becomes a limit of the search.
"""

from __future__ import annotations

import dataclasses
import math
from collections.abc import Callable, Sequence
from dataclasses import dataclass
from typing import Any, Protocol

from gridshell.define.checks import check_design
from gridshell.define.tables.design import Design, with_values
from gridshell.define.tables.target import Target
from gridshell.define.types import Quantity
from gridshell.tube.result import TubeResult

# Limit of ``[target]``, the fields it acts on, and shares of their values that are tried: the first
# that mends a check is taken.
_MOVES: tuple[tuple[str, tuple[str, ...], tuple[float, ...]], ...] = (
    ("largest_rib_height", ("ribs.height",), (0.7, 0.4, 0.2)),
    ("least_rib_width", ("ribs.width",), (1.4, 2.5)),
    ("least_skin", ("skin.thickness",), (1.4, 2.5)),
)
_HALVINGS = 3  # of the last step of a dimension, to where a check is just met


@dataclass(frozen=True)
class Unmet:
    """One check of the making that a design fails.

    Attributes:
        name: of the check.
        advice: what it means and what to do about it.
    """

    name: str
    advice: str


@dataclass(frozen=True)
class MakingLimit:
    """A bound that the search was given so that the making holds.

    Attributes:
        key: of the limit, as in ``[target]``.
        bound: its value, m.
        check: name of the check that asks for it.
    """

    key: str
    bound: float
    check: str


@dataclass(frozen=True)
class MakingChange:
    """A field of the making that was set anew so that it holds.

    Attributes:
        field: its dotted path.
        value: as it is written in a file.
        why: what failed with the value before.
    """

    field: str
    value: str
    why: str


Remaking = Callable[[Design, bool], tuple[Design, tuple[MakingChange, ...]]]
"""From a design to the same one made in another way where it can't be made as stated, with what was
changed; True: look at just this design, False: at sizes that are likely for it."""



class Making(Protocol):
    """From one design to the checks of its making that fail."""

    def __call__(self, design: Design, /, *, names_only: bool = False) -> Sequence[Unmet]:
        """Checks that fail.

        Args:
            design: one design.
            names_only: True where advice, which may take long to find, is not wanted.
        """
        ...


class MakingMargin(Protocol):
    """A demand of the making on the dimensions, as the search follows it.

    Attributes:
        name: of the check.
        field: that cures it.
        margin: (...) share by which it is met, for each design; negative where it fails.
    """

    @property
    def name(self) -> str: ...

    @property
    def field(self) -> str: ...

    @property
    def margin(self) -> Quantity: ...


MakingMargins = Callable[[TubeResult], Sequence[MakingMargin]]
"""From assessed designs to what their making asks of the dimensions."""


def mending_limits(
    design: Design, making: Making, target: Target, hopeless: set[str]
) -> tuple[tuple[MakingLimit, ...], tuple[Unmet, ...]]:
    """Bounds of single dimensions that mend what a design fails.

    Args:
        design: as sized.
        making: what fails.
        target: with the step of the dimensions.
        hopeless: names of checks that no dimension mends; more are put in.

    Returns:
        the bounds, and what fails that no dimension mends.
    """
    failed = tuple(making(design))
    known: dict[tuple[str, float], set[str]] = {}

    def failing(fields: tuple[str, ...], share: float) -> set[str]:
        key = fields[0], share
        if key not in known:
            values = {path: float(_value(design, path)) * share for path in fields}
            changed = with_values(design, values)
            # What can't be built mends nothing.
            known[key] = ({one.name for one in failed} if check_design(changed)
                          else {one.name for one in making(changed, names_only=True)})
        return known[key]

    limits: list[MakingLimit] = []
    unmet: list[Unmet] = []
    for one in failed:
        best: MakingLimit | None = None
        for key, fields, shares in _MOVES if one.name not in hopeless else ():
            if fields[0].startswith("ribs.") and not design.has_ribs:
                continue
            def holds(
                share: float, fields: tuple[str, ...] = fields, name: str = one.name
            ) -> bool:
                return name not in failing(fields, share)

            share = _mended_from(holds, shares)
            if share is None:
                continue
            bound = _whole_step(float(_value(design, fields[0])) * share, float(target.step),
                                down=share < 1)
            if bound > 0:
                best = MakingLimit(key, bound, one.name)
                break
        if best is None:
            hopeless.add(one.name)
            unmet.append(one)
        else:
            limits.append(best)
    return tuple(limits), tuple(unmet)


def _value(design: Design, path: str) -> float:
    table, _, name = path.partition(".")
    return float(getattr(getattr(design, table), name))


def _mended_from(holds: Callable[[float], bool], shares: tuple[float, ...]) -> float | None:
    """The share nearest to one at which a check holds; None where it never does."""
    near = 1.0
    for share in shares:
        if holds(share):
            far = share
            for _ in range(_HALVINGS):
                middle = math.sqrt(near * far)
                near, far = (near, middle) if holds(middle) else (middle, far)
            return far
        near = share
    return None


def _whole_step(value: float, step: float, down: bool) -> float:
    number = math.floor(value / step + 1e-9) if down else math.ceil(value / step - 1e-9)
    return round(number * step, 12)


def tightened(target: Target, limits: Sequence[MakingLimit]) -> Target:
    """The target with bounds that are at least as tight as the limits ask for."""
    values: dict[str, Any] = {}
    for limit in limits:
        old = values.get(limit.key, getattr(target, limit.key))
        if old is None:
            values[limit.key] = limit.bound
        elif limit.key.startswith("largest"):
            values[limit.key] = min(float(old), limit.bound)
        else:
            values[limit.key] = max(float(old), limit.bound)
    return dataclasses.replace(target, **values)
