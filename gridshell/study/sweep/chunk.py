"""One chunk of a sweep: rows of designs in, columns of results out. Runs in any process."""

from __future__ import annotations

import dataclasses
import itertools
from collections.abc import Iterator
from typing import Any

import numpy as np

from gridshell.define.constants import SUPPORTS
from gridshell.define.errors import InputError
from gridshell.define.possible import possible
from gridshell.define.tables.design import Design, Ribs
from gridshell.define.types import BoolArray, IntArray
from gridshell.study.sweep.plan import Plan, varied
from gridshell.study.sweep.words import Words
from gridshell.tube.assess import assess_tube
from gridshell.tube.buckling.waves import ready_for_many
from gridshell.tube.result import TubeResult

NO_ANSWER = "no answer"
_NEEDED = {
    "isogrid": ("spacing",), "orthogrid": ("spacing", "hoop_spacing"),
    "diagonal": ("spacing", "angle"), "families": (), "plain": (),
}
_UNITS = {
    "mass": "kg", "areal_mass": "kg/m^2", "EA": "N", "EI": "N*m^2", "GJ": "N*m^2", "GA": "N",
    "depth": "m", "cells_round": "", "cells_along": "", "equivalent_thickness": "m",
    "equivalent_modulus": "Pa", **{f"frequency.{support}": "Hz" for support in SUPPORTS},
    "margin": "",
}
Columns = dict[str, Any]
"""Columns by name: arrays of numbers, or `Words`."""


def for_pattern(design: Design) -> Design:
    """The design without the rib dimensions that its pattern does not use.

    A sweep over patterns states the dimensions of all of them in one file.

    Raises:
        InputError: a dimension that the pattern needs is missing.
    """
    ribs = design.ribs
    if ribs.pattern == "plain":
        return dataclasses.replace(design, ribs=Ribs(pattern="plain"))
    needed = _NEEDED[ribs.pattern]
    changes: dict[str, Any] = {}
    for name in ("spacing", "hoop_spacing", "angle"):
        if name in needed and getattr(ribs, name) is None:
            raise InputError(
                f"ribs.{name}: missing; pattern {ribs.pattern!r} needs it in the file or in --vary"
            )
        if name not in needed:
            changes[name] = None
    if ribs.pattern != "isogrid":
        changes["orientation"] = "hoop"
    if ribs.pattern != "families":
        changes["family"] = ()
        for name in ("height", "width"):
            if not np.any(np.asarray(getattr(ribs, name)) > 0):
                raise InputError(
                    f"ribs.{name}: missing; pattern {ribs.pattern!r} needs it in the file or in "
                    "--vary"
                )
    return dataclasses.replace(design, ribs=dataclasses.replace(ribs, **changes))


def check_plan(plan: Plan) -> None:
    """Refuse a sweep some of whose patterns lack a dimension, before any work is done.

    Raises:
        InputError: naming the dimension.
    """
    words = [axis for axis in plan.axes if not axis.numeric]
    numbers = {axis.path: np.array(axis.values) for axis in plan.axes if axis.numeric}
    for combination in itertools.product(*(axis.values for axis in words)):
        chosen = {axis.path: value for axis, value in zip(words, combination, strict=True)}
        for_pattern(varied(plan.design, {**numbers, **chosen}))


def units(plan: Plan) -> dict[str, str]:
    """Each column of the result and its SI unit; empty for ratios, counts and words."""
    listed = {"row": ""}
    listed.update({axis.path: axis.unit for axis in plan.axes})
    listed["possible"] = ""
    listed["outside_map"] = ""
    listed["strength_known"] = ""
    listed.update(_UNITS)
    for case in plan.design.case:
        listed[f"case.{case.name}.margin"] = ""
        listed[f"case.{case.name}.governing"] = ""
        if case.support != "none":
            listed[f"case.{case.name}.deflection"] = "m"
    return listed


def _groups(plan: Plan, places: list[np.ndarray]) -> Iterator[tuple[np.ndarray, dict[str, Any]]]:
    """Rows of a chunk that share every word, and those words."""
    words = [k for k, axis in enumerate(plan.axes) if not axis.numeric]
    if not words:
        yield np.arange(len(places[0])), {}
        return
    keys = np.stack([places[k] for k in words], axis=1)
    kinds, member = np.unique(keys, axis=0, return_inverse=True)
    for number, kind in enumerate(kinds):
        chosen = {
            plan.axes[k].path: plan.axes[k].values[int(which)]
            for k, which in zip(words, kind, strict=True)
        }
        yield np.flatnonzero(member.ravel() == number), chosen


def _results(tube: TubeResult, count: int) -> dict[str, Any]:
    wall, grid, stiffness = tube.wall, tube.wall.grid, tube.stiffness
    found: dict[str, Any] = {
        "mass": tube.mass, "areal_mass": wall.areal_mass, "EA": stiffness.EA,
        "EI": stiffness.EI, "GJ": stiffness.GJ, "GA": stiffness.GA, "depth": wall.depth,
        "cells_round": grid.cells_round if tube.design.has_ribs else 0.0,
        "cells_along": grid.cells_along if tube.design.has_ribs else 0.0,
        "equivalent_thickness": wall.equivalent.thickness,
        "equivalent_modulus": wall.equivalent.modulus,
        **{f"frequency.{name}": value for name, value in tube.frequencies.items()},
        "outside_map": wall.outside_map,
        "strength_known": wall.properties.strength is not None, "margin": tube.margin,
    }
    for case in tube.cases:
        found[f"case.{case.name}.margin"] = case.margin
        names, places = case.governing_places
        found[f"case.{case.name}.governing"] = Words(names, np.broadcast_to(places, (count,)))
        if case.beam is not None:
            found[f"case.{case.name}.deflection"] = case.beam.deflection
    return found


def _lowered(results: dict[str, Any], least: dict[str, Any], rows: BoolArray) -> None:
    """Margins of some rows at the lower of the formula and of the lower bound, in place."""
    size, some = rows.shape, (int(rows.sum()),)
    for name in results:
        if name != "margin" and not (name.startswith("case.") and name.endswith(".margin")):
            continue
        margin = np.array(np.broadcast_to(results[name], size))
        bound = np.broadcast_to(least[name], some)
        # What either does not know is no pass.
        lower = ~np.isnan(margin[rows]) & ~(bound >= margin[rows])
        margin[rows] = np.where(lower, bound, margin[rows])
        results[name] = margin
        governing = name.removesuffix("margin") + "governing"
        if governing in results:
            results[governing].put(np.flatnonzero(rows)[lower], least[governing][lower])


def _withhold(columns: Columns, rows: IntArray) -> None:
    """Take away margins that are no answer, so that none passes for one.

    A design may be possible and still lie where a formula gives no number.
    """
    for name in columns:
        if name == "margin" or (name.startswith("case.") and name.endswith(".margin")):
            values = columns[name][rows]
            unknown = rows[np.isnan(values) | (values == -np.inf)]
            columns[name][unknown] = np.nan
            governing = name.removesuffix("margin") + "governing"
            if governing in columns:
                columns[governing].put(unknown, Words.full(len(unknown), NO_ANSWER))


def run_chunk(plan: Plan, number: int) -> Columns:
    """All columns of one chunk: row number, varied fields, whether possible, results.

    ``outside_map`` marks rows whose wall the finite-width formula was not held to unit cells for.
    Their margins are the lower of two: by that formula, and by the lower bound of the stiffness
    (`gridshell.wall.stiffness.finite_width`); a single command solves the unit cell itself.

    ``strength_known`` is false where the material's strength is not known at all, so that margins
    are those of buckling alone.

    Results of impossible designs are NaN, their words empty.

    Raises:
        InputError: the material has no data at a temperature that is varied.
    """
    if plan.chunks > 1:
        ready_for_many()
    places = plan.places(number)
    count = len(places[0])
    columns: Columns = {"row": number * plan.chunk + np.arange(count)}
    for axis, place in zip(plan.axes, places, strict=True):
        values = np.array(axis.values, dtype=float if axis.numeric else None)
        # Counts and flags stay what they are.
        columns[axis.path] = values[place] if values.dtype.kind != "U" else Words(
            axis.values, place)
    columns["possible"] = np.zeros(count, bool)
    columns["outside_map"] = np.zeros(count, bool)
    columns["strength_known"] = np.zeros(count, bool)
    for name in units(plan):
        if name not in columns:
            text = name.endswith(".governing")
            columns[name] = Words.full(count, "") if text else np.full(count, np.nan)
    for rows, words in _groups(plan, places):
        numbers = {
            axis.path: columns[axis.path][rows] for axis in plan.axes if axis.numeric
        }
        good = np.broadcast_to(
            possible(for_pattern(varied(plan.design, {**numbers, **words}))), rows.shape
        )
        rows = rows[good]
        columns["possible"][rows] = True
        if not rows.size:
            continue
        kept = {path: values[good] for path, values in numbers.items()}
        with np.errstate(all="ignore"):  # what no formula reaches stays NaN
            tube = assess_tube(for_pattern(varied(plan.design, {**kept, **words})))
            results = _results(tube, len(rows))
            outside = np.broadcast_to(tube.wall.outside_map, rows.shape)
            if np.any(outside):
                some = {path: values[outside] for path, values in kept.items()}
                _lowered(results, _results(assess_tube(
                    for_pattern(varied(plan.design, {**some, **words})), least=True),
                    int(outside.sum())), outside)
        for name, value in results.items():
            column = columns[name]
            if isinstance(column, Words):
                column.put(rows, value)
            else:
                column[rows] = value
        _withhold(columns, rows)
    return columns
