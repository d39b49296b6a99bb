"""What `gridshell prove` shows: tables and JSON of a design, of published tests and of the map."""

from __future__ import annotations

from collections.abc import Sequence
from pathlib import Path
from typing import Any

import numpy as np

from gridshell.define.constants import CELL_PATTERNS
from gridshell.proof.maps.cells import SHAPE, UnitCells, errors
from gridshell.proof.maps.tubes import FRESH, SolidTube
from gridshell.proof.maps.tubes import LOADS as TUBE_LOADS
from gridshell.proof.maps.tubes import read as read_tubes
from gridshell.proof.maps.tubes import table as tube_table
from gridshell.proof.mesh.run import FullModelResult
from gridshell.proof.published.compare import SINGLE, PublishedResult
from gridshell.proof.published.rows import NATURES
from gridshell.proof.waves.run import TubeRow
from gridshell.report.jobs.prove import Verification
from gridshell.report.numbers import shown, table


def prove_json(
    proof: Verification, saved: str | None = None, pictures: Sequence[Path] = ()
) -> dict[str, Any]:
    """JSON of a proof, SI.

    Keys: cell: rows of name, handbook, improved (the formula used), solid; solid: A, B, D;
    local: pocket and rib, Pa; whole_tube, one_mesh: null or rows of formula and solid; saved:
    file of the solid cell or null; pictures: files written; notes.
    """
    cell, whole = proof.cell, proof.whole
    return {
        "title": proof.design.title, "seconds": cell.seconds, "unknowns": cell.unknowns,
        "cell": [
            {"name": row.name, "handbook": row.handbook, "improved": row.improved,
             "solid": row.solid}
            for row in cell.rows
        ],
        "solid": {n: m.tolist() for n, m in zip("ABD", cell.solid, strict=True)},
        "local": [
            {"name": m.name, "constant": m.constant, "supported": m.supported,
             "elastic": m.elastic, "clamped": m.clamped} for m in proof.local
        ],
        "whole_tube": None if whole is None else whole.to_dict(),
        "one_mesh": None if proof.full is None else proof.full.to_dict(),
        "saved": saved,
        "pictures": [str(path) for path in pictures],
        "notes": list(cell.notes),
    }


def prove_text(
    proof: Verification, system: str = "metric", saved: str | None = None,
    pictures: Sequence[Path] = (),
) -> str:
    """The table of a proof: what is farthest off first."""
    cell, whole, worst = proof.cell, proof.whole, proof.cell.worst
    parts = [
        proof.design.title, "",
        f"farthest off: {worst.name}, formula/solid {worst.improved_ratio:.3f}", "",
        table(
            [[r.name, r.unit, f"{r.solid:.4g}", f"{r.handbook_ratio + 0.0:.3f}",
              f"{r.improved_ratio:.3f}"] for r in cell.rows],
            ["stiffness", "unit", "solid", "handbook/solid", "formula/solid"],
        ), "",
        table(
            [[m.name, "" if m.constant is None else shown(m.constant, "pressure", system),
              *(shown(v, "pressure", system) for v in (m.supported, m.elastic, m.clamped))]
             for m in proof.local],
            ["buckles at", "handbook", "edges free", "edges as built", "edges clamped"],
        ),
    ]
    if whole is not None:
        parts += ["", table(
            [[row.name, *_formula_and_solid(row)] for row in whole.rows],
            ["", "unit", "formula", "solid", "formula/solid", ""],
        )]
        if "compression" in whole.modes:
            parts.append(f"first in compression: {whole.lowest}")
    if proof.full is not None:
        parts += ["", "the whole tube in one mesh:", _one_mesh(proof.full, "solid")]
    more = [found.notes for found in (whole, proof.full) if found is not None]
    parts += [f"note: {note}" for notes in (cell.notes, *more) for note in notes]
    if saved is not None:
        parts.append(
            f"wrote {saved}; wall and tube take their stiffness from it with --solid-cell {saved}, "
            "or with ribs.solid_cell in the definition file"
        )
    if pictures:
        parts.append("wrote " + ", ".join(map(str, pictures)))
    return "\n".join(parts)


def one_mesh_text(title: str, result: FullModelResult) -> str:
    """The table of another solver's result beside the formulas.

    Args:
        title: of the design.
        result: of `gridshell.proof.decks.compare.compare_result`.
    """
    return "\n".join([
        title, "", _one_mesh(result, "solver"), *(f"note: {note}" for note in result.notes)])


def _one_mesh(full: FullModelResult, judge: str) -> str:
    return table(
        [[row.name, row.ends, *_formula_and_solid(row)] for row in full.rows],
        ["", "ends", "unit", "formula", judge, f"formula/{judge}", ""],
    )


def _formula_and_solid(row: TubeRow) -> list[str]:
    numbers = [f"{row.formula:.4g}", f"{row.solid:.4g}", f"{row.ratio:.3f}"]
    # A number that does not exist, such as the frequency of ends without a formula.
    numbers = ["-" if number == "nan" else number for number in numbers]
    return [row.unit, *numbers, "; ".join(row.notes)]


def published_text(result: PublishedResult) -> str:
    """The table of published tests and worked examples: every row, statistics, sources."""
    statistics = result.statistics()
    tests = statistics[SINGLE]
    sources: dict[str, str] = {}
    for row in result.rows:
        sources.setdefault(row.group, row.source)
    return "\n".join([
        f"{tests['count']:.0f} single published tests: measured over design load "
        f"{tests['mean over design']:.2f} on average, {tests['lowest over design']:.2f} at the "
        "least (below 1 the knockdown factor did not cover the test)",
        _others(result), "",
        table(
            [[name, f"{value['count']:.0f}", f"{value['mean over perfect']:.2f}",
              _or_dash(100 * value["scatter over perfect"], ".0f", " %"),
              _or_dash(value["mean over design"], ".2f"),
              _or_dash(100 * value["scatter over design"], ".0f", " %"),
              _or_dash(value["lowest over design"], ".2f")]
             for name, value in statistics.items()],
            ["group", "rows", "mean published/perfect", "scatter", "mean published/design",
             "scatter", "lowest"],
        ), "",
        table(
            [[row.name, row.load, row.unit, f"{row.measured:.4g}", f"{row.perfect:.4g}",
              _or_dash(row.design, ".4g"), f"{row.over_perfect:.2f}",
              _or_dash(row.over_design, ".2f"), row.mode]
             for row in result.rows],
            ["test or example", "load", "unit", "published", "perfect theory", "design load",
             "published/perfect", "published/design", "waves"],
        ), "",
        "perfect theory: before knockdown, no design factor; scatter: standard deviation over mean",
        "sources:", *(f"  {group}: {source}" for group, source in sources.items()),
    ])


def _others(result: PublishedResult) -> str:
    """What else is among the rows, and what that can show."""
    count = {nature: sum(row.nature == nature for row in result.rows) for nature in NATURES}
    return (
        f"beside them {count['summary']} summaries of many tests, {count['fit']} formulas fitted "
        f"to tests, {count['sets the factor']} lowest shares that a factor was set by and that "
        f"cannot fail it, {count['worked example']} worked examples; none is a stiffened cylinder "
        "with its dimensions"
    )


def _or_dash(value: float, form: str, unit: str = "") -> str:
    return "-" if np.isnan(value) else f"{value:{form}}{unit}"


def map_json(cells: UnitCells, again: float | None = None) -> dict[str, Any]:
    """JSON of the map: each solved cell with the largest error of both formulas in A, B and D.

    Keys: cells: pattern, shape (lengths over the node distance, draft in rad), handbook and
    improved errors (largest of four entries, formula over solid less one); tubes: pattern, side,
    handbook and improved errors of general instability by load; fresh_tubes: the same of tubes
    on which nothing was fitted or chosen; solved_again: largest
    difference from the kept cells, relative, or null.
    """
    handbook, improved = errors(cells)
    return {
        "cells": [
            {
                "pattern": pattern, "shape": {k: float(cells.shape[k][i]) for k in SHAPE},
                "handbook": {m: _largest(getattr(handbook, m)[i]) for m in "ABD"},
                "improved": {m: _largest(getattr(improved, m)[i]) for m in "ABD"},
            }
            for i, pattern in enumerate(cells.pattern)
        ],
        "tubes": _tubes_json(read_tubes()),
        "fresh_tubes": _tubes_json(read_tubes(FRESH)),
        "solved_again": again,
    }


def _tubes_json(tubes: tuple[SolidTube, ...]) -> list[dict[str, Any]]:
    new, old = (tube_table(tubes, thin) - 1 for thin in (False, True))
    return [
        {
            "pattern": tube.design.ribs.pattern, "side": tube.design.ribs.side,
            "handbook": dict(zip(TUBE_LOADS, map(float, old[i]), strict=True)),
            "improved": dict(zip(TUBE_LOADS, map(float, new[i]), strict=True)),
        }
        for i, tube in enumerate(tubes)
    ]


def _largest(values: np.ndarray) -> float:
    return float(values[np.argmax(np.abs(values))])


def map_text(cells: UnitCells, solved: str | None = None, again: float | None = None) -> str:
    """The map as a table: largest and root-mean-square difference by pattern and matrix."""
    both = errors(cells)
    rows = []
    for pattern in CELL_PATTERNS:
        of = np.array([name == pattern for name in cells.pattern])
        for name in "ABD":
            row = [pattern, str(int(of.sum())), name]
            for found in both:
                values = 100 * getattr(found, name)[of]
                usual = np.sqrt(np.mean(values**2))
                row += [f"{usual:.1f} %", f"{_largest(values.ravel()):+.1f} %"]
            rows.append(row)
    worst = max(100 * float(np.max(np.abs(values))) for values in both[1])
    ratios = [
        ("rib width / node distance", cells.shape["width"]),
        ("rib height / rib width", cells.shape["height"] / cells.shape["width"]),
        ("skin / rib width", cells.shape["thickness"] / cells.shape["width"]),
        ("corner radius / rib width", cells.shape["corner_radius"] / cells.shape["width"]),
        ("root fillet / rib width", cells.shape["root_fillet"] / cells.shape["width"]),
        ("Poisson's ratio", cells.shape["poisson"]),
    ]
    parts = [
        f"{len(cells.pattern)} solid cells: the formula is at most {worst:.1f} % off", "",
        table(rows, ["pattern", "cells", "", "handbook, rms", "largest", "formula, rms",
                     "largest"]), "",
        "entries 12 and 66 count over the root of 11 x 22; cells spread over",
        table([[name, f"{values.min():.3f} to {values.max():.3f}"] for name, values in ratios]),
    ]
    for tubes, words in (
        (read_tubes(), "whole tubes with every rib in place, general instability"),
        (read_tubes(FRESH), "fresh tubes, on which nothing was fitted or chosen"),
    ):
        new, old = (100 * (tube_table(tubes, handbook) - 1) for handbook in (False, True))
        parts += [
            "", f"{len(tubes)} {words}:",
            table(
                [[load, *(
                    word for found in (old, new) for word in (
                        f"{np.sqrt(np.mean(found[:, k] ** 2)):.1f} %",
                        f"{found[:, k].min():+.1f} to {found[:, k].max():+.1f} %")
                )] for k, load in enumerate(TUBE_LOADS)],
                ["", "handbook, rms", "lowest to highest", "formula, rms", "lowest to highest"],
            ),
        ]
    if solved is not None:
        parts.append(f"wrote {solved}: every cell solved again" + (
            "" if again is None else ", the same as the cells kept with the code" if again == 0
            else f", within {100 * again:.2g} % of the cells kept with the code"
        ))
    return "\n".join(parts)
