"""What a check of a mold returns: number, limit, verdict, advice and source stay together."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, field
from typing import Any

import numpy as np

from gridshell.define.units import KINDS

OK, CAUTION, FAILS, UNKNOWN = "ok", "caution", "fails", "not known"
VERDICTS = (FAILS, CAUTION, UNKNOWN, OK)  # worst first
COMMON = "common practice, no source"


@dataclass(frozen=True)
class MoldCheck:
    """One check of one mold.

    Attributes:
        name: what is checked.
        value: what was found, SI; None where there is nothing to find.
        limit: what it is compared with, SI; None without one.
        kind: of quantity, a key of `gridshell.define.units.KINDS`.
        verdict: ok, caution, fails or not known.
        advice: what it means and what to do about it.
        source: of the formula and of the limit.
        notes: assumptions, and limits of the formula that were passed.
        details: further numbers by name, SI.
    """

    name: str
    value: float | None
    limit: float | None
    kind: str
    verdict: str
    advice: str
    source: str
    notes: tuple[str, ...] = ()
    details: Mapping[str, Any] = field(default_factory=dict)

    def as_dict(self) -> dict[str, Any]:
        """Plain numbers and words for JSON, with the SI unit of value and limit."""
        return {
            "name": self.name, "value": _plain(self.value), "limit": _plain(self.limit),
            "unit": KINDS[self.kind][0], "verdict": self.verdict, "advice": self.advice,
            "source": self.source, "notes": list(self.notes), "details": _plain(self.details),
        }


def _plain(value: Any) -> Any:
    if isinstance(value, Mapping):
        return {str(key): _plain(entry) for key, entry in value.items()}
    if isinstance(value, (list, tuple, np.ndarray)):
        return [_plain(entry) for entry in value]
    if isinstance(value, (bool, np.bool_)):
        return bool(value)
    if isinstance(value, (int, np.integer)):
        return int(value)
    if isinstance(value, (float, np.floating)):
        return float(value) if np.isfinite(value) else None
    return value


def worst(checks: tuple[MoldCheck, ...]) -> str:
    """The worst verdict; ok for no checks.

    Args:
        checks: any number.
    """
    return next((v for v in VERDICTS if any(c.verdict == v for c in checks)), OK)


def most(value: float, limit: float, near: float = 0.9) -> str:
    """Verdict on a value that must stay below its limit; caution above ``near`` of it.

    Args:
        value: SI.
        limit: of the same kind.
        near: share of the limit from which it is a caution.

    >>> most(1.0, 2.0), most(1.9, 2.0), most(2.1, 2.0)
    ('ok', 'caution', 'fails')
    """
    return FAILS if value > limit else CAUTION if value > near * limit else OK


def least(value: float, limit: float, near: float = 1.1) -> str:
    """Verdict on a value that must reach its limit; caution below ``near`` times it.

    Args:
        value: SI.
        limit: of the same kind.
        near: share of the limit from which it is a caution.
    """
    return FAILS if value < limit else CAUTION if value < near * limit else OK
