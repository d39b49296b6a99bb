"""What `gridshell tube --measured` shows: the bend test beside its prediction; text and JSON."""

from __future__ import annotations

from typing import Any

import numpy as np

from gridshell.define.types import finite
from gridshell.report.numbers import (
    MARGIN_NOTE,
    digits,
    margin,
    shown,
    table,
    unit_for,
    with_error,
)
from gridshell.report.sentences import in_units
from gridshell.tube.bend_test.measured import MeasuredResult


def flexibility_unit(system: str = "metric") -> tuple[float, str]:
    """Factor from m/N to the unit that deflection over load is shown in, and that unit."""
    (length, word), (force, other) = unit_for("length", system), unit_for("force", system)
    return length / force, f"{word}/{other}"


def measured_text(result: MeasuredResult, system: str = "metric") -> str:
    """The comparison as plain text, the answer first."""
    whole = float(np.prod([cause.factor for cause in result.causes]))
    E, dE = result.effective_modulus
    factor, unit = flexibility_unit(system)
    modulus = shown(result.corrected_modulus, "pressure", system)
    rows = [
        ["EI", with_error(result.EI, 2 * result.EI_error, "stiffness", system),
         f"predicted {shown(result.EI_predicted, 'stiffness', system)}"],
        ["modulus", with_error(E, 2 * dE, "pressure", system),
         f"effective in the test; enter modulus = \"{modulus.replace(',', '')}\" in [material] to "
         "go on with it"],
        ["flexibility", f"{digits(result.flexibility[0] * factor)} {unit}",
         f"predicted {digits(result.predicted_flexibility * factor)} {unit}; readings within "
         f"{shown(result.residual, 'length', system, 2)} of the line"],
    ]
    causes = [
        [cause.name, f"{cause.factor:.3f}", f"+-{cause.uncertainty:.3f}",
         "" if cause.share is None else f"{round(cause.share, 2) + 0.0:.0%}",
         in_units(cause.remark, system)]
        for cause in result.causes
    ]
    lines = [
        f"The built tube is {result.ratio:.3f} times as stiff as predicted.",
        table([[name, text, f"(two standard uncertainties); {more}" if "+-" in text else more]
               for name, text, more in rows]), "",
        f"Where the difference comes from, against a tube in one piece (x{whole:.3f} in all):",
        table(causes, ["cause", "factor", "uncertainty", "share", "remark"]), "",
    ]
    if result.margins:
        lines += [
            table([[name, *map(margin, values)] for name, values in result.margins.items()],
                  ["margin of case", "as designed", "corrected", "less two uncertainties"]),
            MARGIN_NOTE, "",
        ]
    return "\n".join([*lines, *(f"note: {note}" for note in result.notes)]).rstrip()


def measured_json(result: MeasuredResult) -> dict[str, Any]:
    """SI: ``EI``, ``EI_error``, ``EI_predicted`` N m2; moduli Pa; ``flexibility`` m/N; ``ratio``;
    ``causes`` with ``factor`` and ``share``; ``margins``; ``notes``. null is an infinite margin."""
    return {
        "EI": result.EI, "EI_error": result.EI_error, "EI_predicted": result.EI_predicted,
        "ratio": result.ratio, "flexibility": result.flexibility[0],
        "flexibility_error": result.flexibility[1],
        "predicted_flexibility": result.predicted_flexibility, "residual": result.residual,
        "effective_modulus": result.effective_modulus[0],
        "effective_modulus_error": result.effective_modulus[1],
        "corrected_modulus": result.corrected_modulus,
        "causes": [dict(vars(cause)) for cause in result.causes],
        "margins": {name: {"designed": finite(a), "corrected": finite(b), "low": finite(c)}
                    for name, (a, b, c) in result.margins.items()},
        "readings": {"load": result.test.load.tolist(),
                     "deflection": result.test.deflection.tolist()},
        "notes": list(result.notes),
    }
