"""The random tubes solved as shells: table and JSON of `gridshell prove --shells`."""

from __future__ import annotations

from typing import Any

import numpy as np

from gridshell.define.types import Array, finite
from gridshell.proof.shells.sample import BEAM, SUPPORTS, ShellRow, ratios
from gridshell.report.numbers import table
from gridshell.tube.buckling.general import DEEPEST
from gridshell.tube.buckling.waves import LOADS

_NAMES = {
    "column": "column, pinned", "lateral": "lateral pressure",
    "hydrostatic": "pressure, closed ends",
    "simply-supported": "first frequency, pinned", "free-free": "first frequency, free",
}


def shells_json(rows: tuple[ShellRow, ...]) -> dict[str, Any]:
    """JSON of the sample, SI.

    Keys: tubes: pattern, side, radius, length, solved (by name), waves, theory and tube (formula
    over shells by name; null where a short tube has no column load).

    Args:
        rows: of `gridshell.proof.shells.sample.read`.
    """
    theory, tube = ratios(rows)
    return {"tubes": [
        {
            "pattern": row.design.ribs.pattern, "side": row.design.ribs.side,
            "radius": row.radius, "length": row.length,
            "solved": {name: finite(value) for name, value in row.solved.items()},
            "waves": {name: list(wave) for name, wave in row.waves.items()},
            "theory": {name: finite(float(values[i])) for name, values in theory.items()},
            "tube": {name: finite(float(values[i])) for name, values in tube.items()},
        }
        for i, row in enumerate(rows)
    ]}


def shells_text(rows: tuple[ShellRow, ...]) -> str:
    """The sample as a table: lowest, middle and highest ratio of every quantity.

    Args:
        rows: of `gridshell.proof.shells.sample.read`.
    """
    theory, tube = ratios(rows)
    deep = np.array([row.depth > DEEPEST for row in rows])
    usual, deeper = (
        100 * (max(float(np.max(tube[name][of])) for name in LOADS) - 1) for of in (~deep, deep))
    return "\n".join([
        f"{len(rows)} random tubes solved as shells: general loads at most {usual:+.1f} % on the "
        f"unsafe side before knockdown, {deeper:+.1f} % in {int(deep.sum())} walls deeper than "
        f"{DEEPEST:g} of the radius", "",
        table(
            [[_NAMES.get(name, name), "same wall", *_spread(theory[name])]
             for name in (*BEAM, *LOADS)]
            + [[_NAMES.get(name, name), "tube", *_spread(tube[name])]
               for name in (*LOADS, *SUPPORTS)],
            ["formula over shells", "formula", "tubes", "lowest", "middle", "highest", "rms"],
        ), "",
        "same wall: the formulas on the very A, B, D and shear stiffness that the shells had; "
        "tube: as 'gridshell tube' has it, with the bowing of the skin between ribs, which shells "
        "of smeared ribs do not have",
        "a short tube (first wave of n = 1 not one half wave long) has no column load",
        "solver: pyfe3d, four-node shells with full A, B, D; two meshes, extrapolated",
    ])


def _spread(values: Array) -> list[str]:
    known = values[np.isfinite(values)]
    off = np.sqrt(np.mean((known - 1) ** 2))
    return [str(len(known)), f"{known.min():.3f}", f"{np.median(known):.3f}",
            f"{known.max():.3f}", f"{100 * off:.1f} %"]
