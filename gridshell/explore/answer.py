"""What the page shows for one design: numbers, comparison, verdict, checks."""

from __future__ import annotations

import math
from collections.abc import Mapping, Sequence
from typing import Any

import numpy as np

from gridshell.define.errors import InputError
from gridshell.define.tables.design import Design
from gridshell.explore.chart import worst_of
from gridshell.explore.controls import Controls
from gridshell.explore.moves import whole_cells
from gridshell.explore.scene.buckle import buckles
from gridshell.explore.section import section
from gridshell.material.properties import Properties
from gridshell.material.resolve import properties as resolve
from gridshell.mold.checks.result import VERDICTS
from gridshell.mold.checks.run import mold_checks
from gridshell.report.numbers import margin, shown
from gridshell.report.sentences import in_units
from gridshell.report.text.tube.result import CAUTION, tube_json
from gridshell.report.text.wall import rounding_lines
from gridshell.report.verdict import (
    FAILS,
    Finding,
    Verdict,
    body_findings,
    judge,
    mold_finding,
    tube_findings,
)
from gridshell.study.compare import THICKEST_SHARE, plain_design, thickness_of_mass, unit_buckling
from gridshell.tube.assess import assess_tube
from gridshell.tube.result import TubeResult
from gridshell.wall.assess import Wall


def plain_of_equal_mass(design: Design, properties: Properties, mass: float) -> Design | None:
    """The same tube with a plain wall of the same mass; None where no wall is as heavy.

    Args:
        design: one design.
        properties: of its material.
        mass: of the tube, kg.
    """
    thickness = thickness_of_mass(design, properties, mass)
    if thickness > float(design.tube.outside_diameter) / 2 * THICKEST_SHARE:
        return None
    return plain_design(design, thickness)


def numbers_of(tube: TubeResult) -> dict[str, tuple[Any, str, int]]:
    """Numbers of one design or many that follow a slider: value, kind of quantity, digits."""
    wall = tube.wall
    numbers: dict[str, tuple[Any, str, int]] = {
        "mass": (tube.mass, "mass", 4),
        "EI": (tube.stiffness.EI, "stiffness", 4),
        "GJ": (tube.stiffness.GJ, "stiffness", 4),
        "wall_bending": (wall.free_bending[..., 1, 1], "moment", 4),
        "frequency": (tube.frequencies["free-free"], "frequency", 3),
        "depth": (wall.depth, "length", 3),
    }
    bent = [case.beam.deflection for case in tube.cases if case.beam is not None]
    if bent:
        most = bent[0]
        for one in bent[1:]:
            most = np.maximum(most, one)
        numbers["deflection"] = (most, "length", 3)
    return numbers


def columns_of(tube: TubeResult, count: int) -> list[dict[str, Any]]:
    """A column of the table for each design, such as a plain wall or a pinned one: SI and as shown.

    Args:
        tube: so many designs.
        count: designs.
    """
    numbers = {key: (np.broadcast_to(value, (count,)), kind, digits)
               for key, (value, kind, digits) in numbers_of(tube).items()}
    lowest = np.full(count, np.inf)
    governs: list[tuple[str, str] | None] = [None] * count
    if tube.cases:
        lowest, names, cases = worst_of(tube, count)
        governs = [(str(name), tube.cases[case].name)
                   for name, case in zip(names, cases, strict=True)]
    return [
        _column({key: (values[k], kind, digits) for key, (values, kind, digits) in
                 numbers.items()}, tube.design.units, float(lowest[k]), governs[k])
        for k in range(count)
    ]


def _column(
    numbers: Mapping[str, tuple[Any, str, int]], system: str, lowest: float,
    governs: tuple[str, str] | None,
) -> dict[str, Any]:
    """A column of the table from single numbers.

    Args:
        numbers: of one design, see `numbers_of`.
        system: of units.
        lowest: margin of safety.
        governs: check and case that govern; None without a load case.
    """
    si, texts = _said(numbers, system)
    si["margin"] = lowest if math.isfinite(lowest) else None
    texts["margin"] = "no case" if governs is None else margin(lowest)
    texts["governing"], texts["case"] = ("no load case", "") if governs is None else governs
    return {"si": si, "text": texts}


def _said(
    numbers: Mapping[str, tuple[Any, str, int]], system: str
) -> tuple[dict[str, Any], dict[str, str]]:
    """Numbers by key with kind and digits: in SI, and as shown."""
    return {key: float(value) for key, (value, *_) in numbers.items()}, {
        key: shown(value, kind, system, count) for key, (value, kind, count) in numbers.items()}


def unit_loads(tube: TubeResult) -> dict[str, Any]:
    """What more a column has: the loads at which the tube buckles, each alone, and how.

    They take half as long as all else, so they follow a moment later.
    """
    buckles, crushed = unit_buckling(tube)
    si, texts = _said({"buckling_load": (buckles.allowable, "force", 4),
                       "crushing_pressure": (crushed.allowable, "pressure", 4)}, tube.design.units)
    return {"si": si, "text": texts | {
        "buckling_mode": buckles.name, "crushing_mode": crushed.name}}


def whole_column(tube: TubeResult) -> dict[str, Any]:
    """A column of the table with all that it has."""
    column, more = columns_of(tube, 1)[0], unit_loads(tube)
    return {key: column[key] | more[key] for key in column}


def answer(tube: TubeResult, controls: Controls) -> dict[str, Any]:
    """What must follow a slider at once: SI numbers as `gridshell tube --json` gives them, the
    same as shown, the section, what whole cells make of the spacings, and what can buckle.

    Args:
        tube: one design, assessed.
        controls: of the page.
    """
    design, built = tube.design, tube.wall
    return {
        "tube": tube_json(tube),
        "now": columns_of(tube, 1)[0],
        "section": section(built),
        "cells": _cells(built),
        "whole_cells": whole_cells(design, built.grid, controls),
        "buckles": buckles(tube),
        "verdict": {"findings": _listed_findings(_structure(tube).findings)},
    }


def plain_beside(design: Design, now: dict[str, Any]) -> dict[str, Any]:
    """What may follow a moment later: the plain wall of equal mass, and whether the grid pays.

    Args:
        design: one design.
        now: its own numbers, SI, of `whole_column`.

    Returns:
        ``plain``, None where there is none; ``missing``, why; ``against``, in one line.
    """
    if not design.has_ribs:
        return {"plain": None, "missing": "this wall is plain", "against": "this wall is plain"}
    known = resolve(design.material, design.folder)
    plain = plain_of_equal_mass(design, known, float(now["mass"]))
    if plain is None:
        return {"plain": None, "missing": "no plain wall is as heavy",
                "against": "no plain wall is as heavy"}
    beside = whole_column(assess_tube(plain, known))
    return {"plain": beside, "missing": "", "against": _against_plain(now, beside)}


def _structure(tube: TubeResult) -> Verdict:
    """The verdict but for what takes too long to follow a slider; see `mold_advice`."""
    return judge(tube_findings(tube))


def _against_plain(now: dict[str, Any], plain: dict[str, Any]) -> str:
    """Whether the grid pays, in one line: each strength over that of the plain wall."""
    shares = [
        f"{name} x{now[key] / plain['si'][key]:.2f}" for key, name in (
            ("buckling_load", "buckling load"), ("crushing_pressure", "external pressure"),
            ("wall_bending", "dents"), ("EI", "EI"))
    ]
    return "against a plain wall of equal mass: " + ", ".join(shares)


def details(tube: TubeResult) -> dict[str, Any]:
    """What may follow when the slider rests: every check, and what limits the formulas.

    Args:
        tube: one design, assessed.
    """
    known, units = tube.wall.properties, tube.design.units
    return {
        "checks": _check_rows(tube, units),
        "notes": [*tube.notes, *known.notes],
        "rounding": rounding_lines(tube.wall, units),
        "cautions": [CAUTION, *known.cautions],
    }


def mold_advice(design: Design) -> dict[str, Any]:
    """What the checks of the mold say, the worst first, and what the verdict still lacks.

    ``findings`` are those on the mold, if the definition states [mold], and on events and joints,
    if it states [body]; ``refused`` says why there is no mold.
    """
    findings: list[Finding | None] = []
    if design.body is not None:
        findings += body_findings(assess_tube(design))
    try:
        found = mold_checks(design)
    except InputError as error:
        if design.mold is not None:
            findings.append(Finding("mold", FAILS, str(error)))
        return {"checks": [], "refused": str(error), "findings": _listed_findings(findings)}
    if design.mold is not None:
        findings.append(mold_finding(design, found))
    checks = sorted(found.checks, key=lambda c: VERDICTS.index(c.verdict))
    return {
        "refused": "", "findings": _listed_findings(findings),
        "checks": [
            {"name": check.name, "verdict": check.verdict,
             "advice": in_units(check.advice, design.units)}
            for check in checks
        ],
    }


def _listed_findings(findings: Sequence[Finding | None]) -> list[dict[str, Any]]:
    return [dict(vars(one)) | {"shown": None if one.margin is None else margin(one.margin)}
            for one in findings if one is not None]


def _check_rows(tube: TubeResult, system: str) -> list[dict[str, Any]]:
    return [
        {
            "case": case.name, "name": check.name, "margin": margin(float(check.margin)),
            "holds": bool(float(check.margin) >= 0),
            "use": _use(float(check.margin)),
            "allowable": shown(check.allowable, check.kind, system),
            "applied": shown(check.applied, check.kind, system),
            "notes": [*(in_units(note, system) for note in check.notes),
                      f"knockdown {float(check.knockdown):.3g}: {check.source}"],
        }
        for case in tube.cases for check in case.checks
    ]


def _use(margin_of_safety: float) -> float | None:
    """Share of the allowable that is used at the design factor; null if it is not known."""
    return None if math.isnan(margin_of_safety) else 1 / (1 + margin_of_safety)


def _cells(built: Wall) -> str:
    grid = built.grid
    if not built.sections:
        return "plain wall"
    system = built.design.units
    if grid.pattern == "families":
        return f"{len(grid.families)} families of ribs"
    return (
        f"{int(grid.cells_round)} x {int(grid.cells_along)} cells of "
        f"{shown(grid.cell_width, 'length', system, 3)} x "
        f"{shown(grid.cell_height, 'length', system, 3)} in each of "
        f"{grid.segments * grid.sections} panels"
    )
