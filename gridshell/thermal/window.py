"""The time in which the tube may be used: every limit by name, and which one opens and ends it."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from gridshell.define.types import Array


@dataclass(frozen=True)
class ServiceLimit:
    """A series that must stay on one side of a number.

    Attributes:
        name: in words.
        value: the number.
        series: (times,).
        least: True if the series must be at least the value, False if at most.
        unit: SI.
    """

    name: str
    value: float
    series: Array
    least: bool
    unit: str = ""

    @property
    def slack(self) -> Array:
        """Positive where kept; an unknown value counts as not kept."""
        gap = self.series - self.value if self.least else self.value - self.series
        return np.where(np.isfinite(gap), gap, -1.0)


@dataclass(frozen=True)
class Window:
    """Usable time, s from the beginning.

    Attributes:
        start: from when on every limit is kept.
        end: until when.
        opened_by: name of the limit that was kept last, or ``uncovered``.
        ended_by: name of the limit that is broken first, or ``end of the time followed``.
    """

    start: float
    end: float
    opened_by: str
    ended_by: str

    @property
    def length(self) -> float:
        """s."""
        return self.end - self.start


OPENED, FOLLOWED = "uncovered", "end of the time followed"


def usable_window(
    time: Array, limits: tuple[ServiceLimit, ...], start: float
) -> tuple[Window | None, tuple[str, ...]]:
    """The first time span after ``start`` in which every limit is kept.

    Returns:
        the span (None: there is none) and, when there is none, the limits that are never kept
        together with the others.

    >>> import numpy as np
    >>> t = np.array([0.0, 10.0, 20.0])
    >>> stiff = ServiceLimit("stiffness", 2.0, np.array([4.0, 3.0, 1.0]), True)
    >>> window, _ = usable_window(t, (stiff,), 0.0)
    >>> window.end, window.ended_by
    (15.0, 'stiffness')
    """
    after = time >= start - 1e-9
    t = time[after]
    slacks = np.stack([limit.slack[after] for limit in limits])
    least = slacks.min(axis=0)
    # Two entries of the series carry the moment of uncovering; the later one is in the open.
    kept = np.flatnonzero(least >= 0)
    if kept.size == 0:
        never = tuple(limit.name for limit, slack in zip(limits, slacks, strict=True)
                      if not np.any(slack >= 0))
        return None, never or tuple(limits[i].name for i in np.unique(slacks.argmin(axis=0)))
    first = int(kept[0])
    broken = np.flatnonzero(least[first:] < 0)
    last = first + int(broken[0]) if broken.size else len(t)

    def crossing(good: int, bad: int) -> tuple[float, str]:
        best, name = t[good], ""
        for limit, slack in zip(limits, slacks, strict=True):
            if slack[bad] < 0 <= slack[good]:
                share = slack[good] / (slack[good] - slack[bad])
                at = float(t[good] + share * (t[bad] - t[good]))
                if not name or abs(at - t[good]) < abs(best - t[good]):
                    best, name = at, limit.name
        return float(best), name

    opened, opened_by = (float(t[0]), OPENED) if first == 0 else crossing(first, first - 1)
    ended, ended_by = (float(t[-1]), FOLLOWED) if last == len(t) else crossing(last - 1, last)
    return Window(opened, ended, opened_by, ended_by), ()
