"""Read a table of bending tests of coupons: one row a reading, all rows of one piece one line."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, field
from pathlib import Path

import numpy as np

from gridshell.define.constants import BEND_TESTS, GRAVITY
from gridshell.define.errors import Problem, short
from gridshell.define.files.readings import MOST_PROBLEMS, Column, column, read_sheet
from gridshell.define.types import Array

# Bounds keep slips of a unit out, such as a span of 64 m.
_SIZE = {"least": 1e-6, "most": 10.0}
_ERROR = {"least": 0.0, "most": 1.0}

COLUMNS: dict[str, Column] = {
    "coupon": column("text", "name of the piece; rows of one piece and temperature are one line"),
    "test": column("text", "one of " + ", ".join(BEND_TESTS)),
    "temperature": column("temperature", "temperature of the piece", above=0.0, most=2000.0),
    "span": column("length", "distance of the supports; cantilever: free length", **_SIZE),
    "load_span": column("length", "four-point: distance of the two loads", **_SIZE),
    "width": column("length", "rectangle: across the load", **_SIZE),
    "depth": column("length", "rectangle: in the direction of the load", **_SIZE),
    "diameter": column("length", "round bar", **_SIZE),
    "outside_diameter": column("length", "round tube", **_SIZE),
    "wall": column("length", "round tube: wall thickness", **_SIZE),
    "second_moment": column("second_moment", "any other section or a finished ribbed tube: EI/E",
                            least=1e-18, most=1.0),
    "shear_area": column("area", "with second_moment: shear coefficient times area", least=1e-12,
                         most=10.0),
    "outer_fiber": column("length", "with second_moment: distance of the outermost fiber",
                          **_SIZE),
    "load": column("force", "whole load", least=-1e9, most=1e9),
    "hung_mass": column("mass", "instead of load: mass hung on, weight by standard gravity",
                        least=-1e8, most=1e8),
    "deflection": column("length", "under the load; four-point: at mid-span", least=-10.0,
                         most=10.0),
    "size_error": column("length", "standard uncertainty of width, depth, diameter and wall",
                         **_ERROR),
    "span_error": column("length", "standard uncertainty of the span", **_ERROR),
    "deflection_error": column("length", "standard uncertainty of a deflection reading", **_ERROR),
    "load_error": column("ratio", "standard uncertainty of the loads, as a fraction", **_ERROR),
    "second_moment_error": column("ratio", "standard uncertainty of second_moment, a fraction",
                                  **_ERROR),
}
# common practice, no source: caliper, tape, dial gauge, kitchen scale
DEFAULT_ERRORS = {"size_error": 3e-5, "span_error": 5e-4, "deflection_error": 3e-5,
                  "load_error": 0.01, "second_moment_error": 0.03}
NOTES = ("name", "title", "based_on", "poisson", "density")


@dataclass(frozen=True)
class Coupon:
    """One piece at one temperature: a line of readings. SI.

    Attributes:
        name: name of the piece, or "row N".
        test: one of `gridshell.material.coupon.beam.BEND_TESTS`.
        geometry: column -> value, the same for all its rows.
        errors: column -> standard uncertainty.
        load: readings, N.
        deflection: readings, m.
        rows: row numbers in the file.
    """

    name: str
    test: str
    geometry: Mapping[str, float]
    errors: Mapping[str, float]
    load: Array
    deflection: Array
    rows: tuple[int, ...]


@dataclass(frozen=True)
class CouponTable:
    """All the pieces of a file, and what its comment lines say of them.

    Attributes:
        source: file name.
        coupons: in the order of the file.
        remarks: key -> value of the ``# key: value`` lines named in `NOTES`.
        comments: the other comment lines.
    """

    source: str
    coupons: tuple[Coupon, ...]
    remarks: Mapping[str, str] = field(default_factory=dict)
    comments: tuple[str, ...] = ()


def read_coupon_table(path: str | Path) -> CouponTable:
    """Read and check a table of bending tests; see `gridshell.define.files.readings` for its form.

    Columns and settings are those of `COLUMNS`; the lines ``# name:``, ``# title:``,
    ``# based_on:``, ``# poisson:`` and ``# density:`` describe the material.

    Raises:
        DefinitionError: with every problem found (the first 20), each with its line.
    """
    settings = {name: one for name, one in COLUMNS.items() if name != "coupon"}
    sheet = read_sheet(path, "table of bending tests (CSV)", COLUMNS, settings, NOTES)
    gathered: dict[tuple[str, float], _Readings] = {}
    for index, (number, cells) in enumerate(sheet.rows, start=1):
        row = {**sheet.settings, **cells}
        messages = _weighed(row) + _check_row(row)
        sheet.problems.extend(Problem(f"line {number}", message) for message in messages)
        if len(sheet.problems) > MOST_PROBLEMS:
            break
        if messages:
            continue
        name = str(row.get("coupon", f"row {index}"))
        readings = gathered.setdefault(
            (name, float(row["temperature"])), _Readings(name, row, number))
        for key in row.keys() | readings.row.keys():
            if key in ("load", "deflection") or row.get(key) == readings.row.get(key):
                continue
            sheet.problems.append(Problem(
                f"line {number}", f"{key} differs from line {readings.first} of the same "
                f"coupon {short(name)}; give the coupon another name"))
        readings.load.append(float(row["load"]))
        readings.deflection.append(float(row["deflection"]))
        readings.lines.append(number)
    if not sheet.rows:
        sheet.problems.append(Problem("", "has a heading but no readings"))
    sheet.refuse()
    return CouponTable(
        str(path), tuple(readings.coupon() for readings in gathered.values()), sheet.remarks,
        sheet.comments,
    )


@dataclass
class _Readings:
    """Rows of one coupon while the file is read."""

    name: str
    row: dict[str, float | str]
    first: int
    load: list[float] = field(default_factory=list)
    deflection: list[float] = field(default_factory=list)
    lines: list[int] = field(default_factory=list)

    def coupon(self) -> Coupon:
        numbers = {c: float(v) for c, v in self.row.items() if COLUMNS[c].kind != "text"}
        return Coupon(
            self.name, str(self.row["test"]), geometry={c: v for c, v in numbers.items()
             if c not in ("load", "deflection") and not c.endswith("_error")},
            errors={c: numbers.get(c, default) for c, default in DEFAULT_ERRORS.items()},
            load=np.array(self.load), deflection=np.array(self.deflection), rows=tuple(self.lines),
        )


def _weighed(row: dict[str, float | str]) -> list[str]:
    """Put the weight of a hung mass in the place of the load."""
    if "hung_mass" not in row:
        return []
    if "load" in row:
        return ["has both load and hung_mass; give one"]
    row["load"] = float(row.pop("hung_mass")) * GRAVITY
    return []


def _check_row(row: Mapping[str, float | str]) -> list[str]:
    messages = [
        f"{name} missing; {COLUMNS[name].doc}"
        for name in ("test", "temperature", "span", "load", "deflection") if name not in row
    ]
    if "test" in row and row["test"] not in BEND_TESTS:
        messages.append(f"test: {short(row['test'])} is not one of: {', '.join(BEND_TESTS)}")
    if messages:
        return messages
    sections = [
        names for names in (("width", "depth"), ("diameter",), ("outside_diameter", "wall"),
                            ("second_moment",)) if any(name in row for name in names)
    ]
    if len(sections) != 1 or any(name not in row for name in sections[0]):
        messages.append(
            "needs one section: width and depth, or diameter, or outside_diameter and wall, "
            "or second_moment"
        )
    elif "wall" in row and float(row["wall"]) > float(row["outside_diameter"]) / 2:
        messages.append("wall is more than half of outside_diameter")
    if row["test"] == "four-point":
        if "load_span" not in row:
            messages.append("load_span missing; four-point bending needs it")
        elif not float(row["load_span"]) < float(row["span"]):
            messages.append("load_span must be below span")
    return messages
