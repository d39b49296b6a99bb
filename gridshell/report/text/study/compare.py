"""What `gridshell compare` shows: table and JSON."""

from __future__ import annotations

from typing import Any

from gridshell.define.types import finite
from gridshell.report.numbers import MARGIN_NOTE, margin, shown, table
from gridshell.report.text.tube.result import tube_label
from gridshell.report.text.wall import CAUTION
from gridshell.study.compare import Contender, WallComparison


def contender_json(contender: Contender) -> dict[str, Any]:
    """JSON of one wall of the comparison, SI."""
    return {
        "name": contender.name,
        "depth": float(contender.thickness),
        "mass": float(contender.tube.mass),
        "EI": float(contender.tube.stiffness.EI),
        "EA": float(contender.tube.stiffness.EA),
        "GJ": float(contender.tube.stiffness.GJ),
        "wall_bending": float(contender.wall_bending),
        "buckling_load": float(contender.buckling_load),
        "buckling_mode": contender.buckling_mode,
        "knockdown": float(contender.knockdown),
        "crushing_pressure": float(contender.crushing_pressure),
        "margin": finite(contender.tube.margin),
        "governing": [case.governing for case in contender.tube.cases],
    }


def compare_json(comparison: WallComparison) -> dict[str, Any]:
    """JSON of a comparison, SI: depth (m), mass (kg), EI (N m2), EA (N), GJ (N m2),
    wall_bending (hoop bending stiffness of the wall, N m), buckling_load (N), knockdown (factor in
    buckling_load), crushing_pressure (Pa), margin; solid_cell: file of the first wall's
    stiffness, or null."""
    return {
        "title": comparison.contenders[0].tube.design.title,
        "verdict": comparison.verdict,
        "solid_cell": comparison.contenders[0].tube.design.ribs.solid_cell,
        "walls": [contender_json(c) for c in comparison.contenders],
        "missing": list(comparison.missing),
    }


def compare_text(comparison: WallComparison, system: str = "metric") -> str:
    """The table of a comparison: the verdict first."""
    label = tube_label(comparison.contenders[0].tube)
    rows = [
        [
            c.name, shown(c.thickness, "length", system), shown(c.tube.mass, "mass", system),
            shown(c.tube.stiffness.EI, "stiffness", system),
            shown(c.wall_bending, "moment", system),
            shown(c.buckling_load, "force", system),
            shown(c.crushing_pressure, "pressure", system),
            margin(float(c.tube.margin)), c.buckling_mode,
        ]
        for c in comparison.contenders
    ]
    head = ["wall", "depth", "mass", "EI", "D22", "buckling load", "external pressure", "margin",
            "buckles first by"]
    return "\n".join([
        comparison.contenders[0].tube.design.title, "", comparison.verdict, "",
        table(rows, head), "",
        "depth: skin and ribs together. EI: bending stiffness of the tube. D22: hoop bending",
        "stiffness of the wall, which resists dents and ovalization. Buckling load: in axial",
        "compression. External pressure: at which the wall buckles. Both are after the knockdown.",
        "margin: lowest of the load cases in the file; " + MARGIN_NOTE,
        *([f"{comparison.contenders[0].name}: {label}"] if label else []),
        "A grid moves material away from the middle of the wall. That helps against buckling,",
        "pressure and dents; EI of the tube follows from its mass and radius, so it hardly gains.",
        *comparison.missing,
        CAUTION,
    ])
