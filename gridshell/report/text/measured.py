"""What `gridshell tube --measured` shows: the bend test beside its prediction; text and JSON."""

from __future__ import annotations

from typing import Any

import numpy as np

from gridshell.define.types import finite
from gridshell.tube.bend_test.measured import MeasuredResult


def measured_text(result: MeasuredResult) -> str:
    """The comparison as plain text, the answer first."""
    whole = float(np.prod([cause.factor for cause in result.causes]))
    width = max([28, *(len(name) for name in result.margins)]) + 2
    share = [f"  {cause.name:30s}{cause.factor:8.3f} +-{cause.uncertainty:6.3f}"
             + ("" if cause.share is None else f"{cause.share:8.0%}") + f"   {cause.remark}"
             for cause in result.causes]
    E, dE = result.effective_modulus
    lines = [
        f"The built tube is {result.ratio:.3f} times as stiff as predicted.",
        f"  EI            {result.EI:.4g} +- {2 * result.EI_error:.2g} N m^2 (two standard "
        f"uncertainties); predicted {result.EI_predicted:.4g} N m^2",
        f"  modulus       {E / 1e6:.4g} +- {2 * dE / 1e6:.2g} MPa effective in the test; enter "
        f"modulus = \"{result.corrected_modulus / 1e6:.4g} MPa\" in [material] to go on with it",
        f"  flexibility   {result.flexibility[0] * 1e3:.4g} mm/N; predicted "
        f"{result.predicted_flexibility * 1e3:.4g} mm/N; readings within "
        f"{result.residual * 1e3:.2g} mm of the line", "",
        f"Where it comes from, against a tube in one piece (x{whole:.3f} in all): factor, "
        "uncertainty, share", *share, "",
    ]
    if result.margins:
        lines.append("Margins: as designed, corrected, corrected less two uncertainties")
        lines += [f"  {name:{width}s}{a:+8.2f}{b:+8.2f}{c:+8.2f}"
                  for name, (a, b, c) in result.margins.items()]
        lines.append("")
    return "\n".join([*lines, *(f"  {note}" for note in result.notes)]).rstrip()


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
