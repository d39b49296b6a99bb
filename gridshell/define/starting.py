"""What a new definition file states before anybody has changed it: a tube that every command takes.

The values are invented. They differ by pattern, by the way the part is made, and by units, so that
each of them is round.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from typing import Any

from gridshell.define.constants import DIRECT_PROCESSES

ALWAYS = ("material", "tube", "skin", "ribs")
SPARE = ("case", "mold", "joints", "body", "chill", "target", "scatter", "as_built")
USUAL = ("case", "mold")


def starting_content(
    pattern: str, material: str, process: str, tables: Sequence[str], system: str = "metric"
) -> dict[str, Any]:
    """The tables of a new definition, as a file states them.

    Args:
        pattern: rib pattern.
        material: name of a library material.
        process: of ``[mold]``; also decides on seams, draft and radii.
        tables: names in `SPARE` to write.
        system: metric or inch.
    """
    def of(metric: str, inch: str) -> str:
        return metric if system == "metric" else inch

    cast = process not in DIRECT_PROCESSES
    content: dict[str, Any] = {
        "title": "Invented: a tube to start from",
        "units": system,
        "material": {"name": material, "temperature": of("20 degC", "68 degF")},
        "tube": {
            "outside_diameter": of("240 mm", "9 in"), "length": of("600 mm", "24 in"),
            "sections": 3 if cast else 1, "segments": 8 if cast else 1,
            **({"seam_land": of("6 mm", "0.25 in")} if cast else {}),
            "end_land": of("12 mm", "0.5 in"),
        },
        "skin": {"thickness": of("3 mm", "0.12 in") if pattern == "plain" else of(
            "1.6 mm", "0.06 in")},
        "ribs": _ribs(pattern, cast, of),
    }
    spare: Mapping[str, Any] = {
        "case": [
            {"name": "stands under a load", "compression": of("1.5 kN", "300 lbf"), "factor": 1.5},
            {"name": "carried level by its ends", "support": "simply-supported",
             "acceleration": of("9.81 m/s^2", "32.2 ft/s^2"), "factor": 1.5},
        ],
        "mold": _mold(process, pattern, of),
        "joints": {
            "bond": {"thickness": of("0.2 mm", "0.008 in"), "modulus": of("1.5 GPa", "0.2 Mpsi")},
            "seam": {"kind": "butt"}, "end": {"kind": "butt"},
        },
        "body": {
            "part": [
                {"name": "head", "role": "stiff", "length": of("100 mm", "4 in"),
                 "mass": of("500 g", "1 lb")},
                {"name": "tube", "role": "tube"},
                {"name": "foot", "role": "stiff", "length": of("80 mm", "3 in"),
                 "mass": of("400 g", "1 lb")},
            ],
            "event": [
                {"name": "carried at two points", "kind": "handling", "factor": 1.5,
                 "supports": [of("150 mm", "6 in"), of("700 mm", "28 in")]},
            ],
        },
        "chill": {
            "start": of("20 degC", "68 degF"),
            "step": [{"kind": "freezer", "duration": "2 h",
                      "temperature": of("4 degC", "40 degF")}],
            "uncovered": {"temperature": of("20 degC", "68 degF"), "duration": "30 min"},
            # Most materials are hardly stiffer in a cold room; so the file to start from holds.
            "limits": {"stiffness_ratio": 0.9},
        },
        "target": {"aim": "mass", "margin": 0.1, "largest_depth": of("14 mm", "0.55 in"),
                   "step": of("0.1 mm", "0.005 in")},
        "scatter": {
            "draws": 20000, "seed": 1,
            "input": [{"field": "skin.thickness", "spread": of("0.05 mm", "0.002 in")},
                      {"field": "material.modulus", "spread": "8 %"}],
        },
        "as_built": {"roundness": of("0.3 mm", "0.012 in")},
    }
    return {**content, **{name: spare[name] for name in SPARE if name in tables}}


def _ribs(pattern: str, cast: bool, of: Any) -> dict[str, Any]:
    if pattern == "plain":
        return {"pattern": "plain"}
    found = {
        "pattern": pattern, "side": "inside" if cast else "outside",
        "height": of("6 mm", "0.25 in"), "width": of("2 mm", "0.08 in"),
    }
    if cast:
        found["draft"] = "14 deg"
    wide, wider = of("42 mm", "1.6 in"), of("44 mm", "1.7 in")
    if pattern == "families":
        return {
            **found, "corner_radius": of("2 mm", "0.08 in"),
            "smallest_pocket": of("150 mm^2", "0.25 in^2"),
            "family": [{"angle": f"{angle} deg", "spacing": wide} for angle in (40, -40)]}
    found["spacing"] = wide
    if pattern == "orthogrid":
        found["hoop_spacing"] = wider
    if pattern == "diagonal":
        found["angle"] = "45 deg"
    return {**found, "corner_radius": of("2 mm", "0.08 in"), "root_fillet": of("0.8 mm", "0.03 in")}


def _mold(process: str, pattern: str, of: Any) -> dict[str, Any]:
    found: dict[str, Any] = {"process": process}
    if process in DIRECT_PROCESSES:
        return {**found, "tool_diameter": of("4 mm", "0.125 in")}
    found |= {"gates": 2, "gate_diameter": of("6 mm", "0.25 in")}
    if pattern == "plain":  # a thin wall takes small gates, and so more of them
        found |= {"gates": 6, "gate_diameter": of("3 mm", "0.12 in")}
    if process == "mill":
        found["tool_diameter"] = of("2 mm", "0.078 in")
    return {**found, "casting": {"release_force": of("2.5 kN", "500 lbf")}}
