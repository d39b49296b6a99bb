"""What `gridshell tube --shape` and `--tolerance` show: own factor beside the published; JSON."""

from __future__ import annotations

from typing import Any

import numpy as np

from gridshell.define.types import finite
from gridshell.report.numbers import shown, table
from gridshell.tube.as_built.own import AsBuiltTube
from gridshell.tube.as_built.parts import GROUND as PARTS
from gridshell.tube.as_built.spectrum import SPECTRUM
from gridshell.tube.as_built.tolerance import GROUND, Expected, is_expected

COMPARED = (
    "the published factors are lower bounds of many thin metal shells; an own factor rests on one "
    "scan and on theory held to solid tubes within the range of the proof notes"
)
MOST_WAVES = 8


def as_built_text(tube: AsBuiltTube, system: str = "metric") -> str:
    """The own factor, what it comes from, and what to improve."""
    factor, shape = tube.factor, tube.shape
    asked = tube.design.as_built is not None and tube.design.as_built.knockdown == "measured"
    published = float(tube.published["compression"].factor)
    rows = [
        ["own factor", f"{factor.value:.3f}", f"{factor.low:.3f} to {factor.high:.3f}, 90 % of the "
         "shapes that the scan allows"],
        ["used where asked", f"{tube.used:.3f}", "lower end"
         + (f", of which pockets and ribs leave {tube.parts:.3f}" if tube.parts < 1 else "")
         + f", no more than the cap {tube.cap:g}"],
        ["published factor", f"{published:.3f}", tube.published["compression"].source],
    ]
    lines = [
        tube.design.title, "",
        f"Knockdown factor in axial compression, ends {factor.ends}:", table(rows),
        "the checks of this file use the "
        + ("own factor (as_built.knockdown = \"measured\")" if asked else
           ("factor expected at as_built.roundness" if is_expected(tube.design) else
            "published factor")
           + "; as_built.knockdown = \"measured\" with as_built.shape takes the own"),
        "",
        f"Shape: {len(shape.stations)} stations, waves to {shape.most_round} round and "
        f"{shape.most_along} half waves along; noise of a reading "
        f"{shown(shape.noise, 'length', system, 2)}",
        table(_wave_rows(tube, system), ["half waves along", "round", "amplitude", "uncertainty"]),
        "", "What counts together (each wave by how much it grows near the buckling load):",
        table([
            [name, *(shown(value, "length", system, 3) for value in values)]
            for name, values in (("waves round", factor.uneven), ("rings", factor.rings))
        ], ["", "5 %", "middle", "95 %"]),
        f"worst shape: {_words(factor.worst.m, factor.worst.n)}, ended by a "
        f"{_END[factor.worst.kind]}",
    ]
    if factor.flattest < 1:
        lines.append(f"long waves flatten the wall to {factor.flattest:.3f} of its curvature: "
                     "in the factor")
    lines += _more(tube, system)
    if factor.costs:
        lines += ["", "What to improve first (halving one wave):", table(
            [[str(m), str(n), shown(a, "length", system, 3), f"+{gain:.3f}"]
             for m, n, a, gain in factor.costs if gain > 5e-4] or [["none", "", "", "under 0.001"]],
            ["half waves along", "round", "amplitude", "factor"])]
    law = factor.law
    notes = [*tube.notes, f"{SPECTRUM}; here p {law.p:.2g}, q {law.q:.2g}"
             + ("" if law.fitted else " (assumed)"), COMPARED]
    return "\n".join([*lines, "", *(f"note: {note}" for note in notes)])


_END = {"limit": "highest load", "bifurcation": "bifurcation", "none": "wall that goes soft",
        "watched": "bifurcation"}


def _words(m: int, n: int) -> str:
    return f"rings, {m} half waves along" if n == 0 else f"{m} half waves along, {n} round"


def _wave_rows(tube: AsBuiltTube, system: str) -> list[list[str]]:
    amplitude, error = tube.shape.amplitude, tube.shape.error
    order = np.argsort(amplitude.ravel())[::-1][:MOST_WAVES]
    rows = []
    for flat in order:
        n, m = divmod(int(flat), amplitude.shape[1])
        if amplitude[n, m] > 0:
            rows.append([str(m + 1), str(n) if n else "0 (rings)",
                         shown(amplitude[n, m], "length", system, 3),
                         f"+-{shown(error[n, m], 'length', system, 2)}"])
    return rows


def _more(tube: AsBuiltTube, system: str) -> list[str]:
    lines = []
    if tube.thickness is not None:
        mean, spread = tube.thickness
        lines.append(f"skin {shown(mean, 'length', system)} on average, "
                     f"{shown(spread, 'length', system, 2)} of spread: {tube.factor.thin:.3f} of "
                     "the load, in the factor")
    if tube.column is not None:
        share, bow = tube.column
        lines.append(f"axis bowed by {shown(bow, 'length', system, 3)}: a pinned column keeps "
                     f"{share:.3f} of its strength (Perry and Robertson, from memory)")
    elif tube.shape.bow > 0:
        lines.append(f"axis bowed by {shown(tube.shape.bow, 'length', system, 3)}")
    if tube.oval_pressure is not None:
        lines.append(f"first yield of the oval under external pressure at {tube.oval_pressure:.3f} "
                     "of the buckling pressure (Timoshenko and Gere, 7.5, from memory)")
    return lines


def as_built_json(tube: AsBuiltTube) -> dict[str, Any]:
    """JSON of a scan, SI.

    Keys: ``factor`` {value, low, high, used, cap, ends, worst {m, n, factor, kind}, thin,
    parts, flattest, measured_share}, ``published`` by load {factor, source}, ``shape`` {amplitude,
    error (rows n = 0, 1, ...; columns m = 1, 2, ...; m), noise, even, bow, outliers}, ``costs``,
    ``column``, ``oval_pressure``, ``notes``.
    """
    factor, shape = tube.factor, tube.shape
    return {
        "title": tube.design.title,
        "factor": {
            "value": finite(factor.value), "low": finite(factor.low), "high": finite(factor.high),
            "used": finite(tube.used), "cap": tube.cap, "ends": factor.ends,
            "worst": {"m": int(factor.worst.m), "n": int(factor.worst.n),
                      "factor": finite(factor.worst.factor), "kind": factor.worst.kind},
            "thin": finite(factor.thin), "parts": finite(tube.parts),
            "flattest": finite(factor.flattest), "measured_share": finite(factor.measured),
        },
        "published": {load: {"factor": finite(one.factor), "source": one.source}
                      for load, one in tube.published.items()},
        "shape": {
            "amplitude": shape.amplitude.tolist(), "error": shape.error.tolist(),
            "noise": shape.noise, "even": shape.even, "bow": shape.bow,
            "outliers": [{"line": one.line, "off": one.off} for one in shape.outliers],
        },
        "costs": [{"m": m, "n": n, "amplitude": a, "gain": gain}
                  for m, n, a, gain in factor.costs],
        "column": None if tube.column is None else tube.column[0],
        "oval_pressure": tube.oval_pressure,
        "notes": list(tube.notes),
    }


def tolerance_text(title: str, found: Expected, system: str = "metric", used: bool = False) -> str:
    """Factor against roundness, and how round the tube must be made.

    Args:
        title: of the design.
        found: answer.
        system: metric or inch.
        used: whether the checks of the design take the expected factor.
    """
    rows = [[shown(a, "length", system, 3), f"{float(f) * found.thin:.3f}"]
            for a, f in zip(found.curve.amplitude, found.curve.factor, strict=True)]
    lines = [title, "", f"Factor in axial compression of a tube at its tolerance, ends "
             f"{found.curve.ends}:", table(rows, ["off its true place", "factor"])]
    if found.thin < 1:
        lines.append(f"the least skin within its tolerance leaves {found.thin:.3f} of the load: in "
                     "the table")
    if found.roundness is not None and found.factor is not None:
        known = np.isfinite(found.factor)
        lines.append(f"at as_built.roundness {shown(found.roundness, 'length', system, 3)}: "
                     + (f"{found.factor:.3f}" if known else
                        "not known, beyond the table; the published factor stands"))
    lines.append(
        f"published factor {found.published:.3f}: "
        + (f"reached within {shown(found.needed, 'length', system, 3)} of the true place"
           if found.needed is not None else "no roundness of this table reaches it"))
    if found.classes:
        lines += ["", "Fabrication classes of EN 1993-1-6 for plain metal shells (from memory), "
                  "beside the table above:", table([
                      [name, shown(a, "length", system, 3), f"{factor:.3f}",
                       f"{float(found.curve.at(a)) * found.thin:.3f}"
                       if np.isfinite(found.curve.at(a)) else "beyond the table"]
                      for name, (a, factor) in found.classes.items()
                  ], ["class", "off its true place", "factor of the standard", "of this tube"])]
    return "\n".join([*lines, "", f"note: {GROUND}", *(
        [] if found.classes else [f"note: {PARTS}; in the table"]), "note: " + (
        "the checks of this file take the factor at its roundness, up to the cap "
        "(as_built.knockdown = \"expected\"); scan the finished tube to bear it out" if used else
        "nothing of this is used in a check; as_built.knockdown = \"expected\" takes the factor at "
        "as_built.roundness, \"measured\" that of the finished tube's scan (as_built.shape)")])


def tolerance_json(title: str, found: Expected) -> dict[str, Any]:
    """JSON of the tolerance, SI: ``amplitude`` m, ``factor``, ``roundness``, ``at_roundness``,
    ``thin``, ``published``, ``needed`` m; null is not known or not reached. ``classes`` of a plain
    wall: {A, B, C: [deviation m, reduction of EN 1993-1-6]}."""
    return {
        "title": title, "amplitude": found.curve.amplitude.tolist(),
        "factor": (found.curve.factor * found.thin).tolist(), "ends": found.curve.ends,
        "roundness": found.roundness,
        "at_roundness": None if found.factor is None else finite(found.factor),
        "thin": finite(found.thin), "published": finite(found.published), "needed": found.needed,
        "classes": {name: list(pair) for name, pair in found.classes.items()},
    }
