"""Read a table of bending tests: CSV with a unit in each heading, one row a reading."""

from __future__ import annotations

import csv
import math
import os
import re
import stat
from collections.abc import Mapping
from dataclasses import dataclass, field
from pathlib import Path

import numpy as np

from gridshell.define.constants import BEND_TESTS, GRAVITY
from gridshell.define.errors import DefinitionError, InputError, Problem
from gridshell.define.schema import nearest, short
from gridshell.define.types import Array
from gridshell.define.units import KINDS, parse_quantity

LARGEST_FILE = 4_000_000  # bytes
MOST_ROWS = 20_000
MOST_PROBLEMS = 20  # after that many, the file is of another kind

# column -> (kind of quantity, must be above zero, doc)
COLUMNS: dict[str, tuple[str, bool, str]] = {
    "coupon": ("text", False, "name of the piece; rows of one piece and temperature are one line"),
    "test": ("text", False, "one of " + ", ".join(BEND_TESTS)),
    "temperature": ("temperature", True, "temperature of the piece"),
    "span": ("length", True, "distance of the supports; cantilever: free length"),
    "load_span": ("length", True, "four-point: distance of the two loads"),
    "width": ("length", True, "rectangle: across the load"),
    "depth": ("length", True, "rectangle: in the direction of the load"),
    "diameter": ("length", True, "round bar"),
    "outside_diameter": ("length", True, "round tube"),
    "wall": ("length", True, "round tube: wall thickness"),
    "second_moment": ("second moment", True, "any other section or a finished ribbed tube: EI/E"),
    "shear_area": ("area", True, "with second_moment: shear coefficient times area"),
    "outer_fiber": ("length", True, "with second_moment: distance of the outermost fiber"),
    "load": ("force", False, "whole load"),
    "hung_mass": ("mass", False, "instead of load: mass hung on, weight by standard gravity"),
    "deflection": ("length", False, "under the load; four-point: at mid-span"),
    "size_error": ("length", False, "standard uncertainty of width, depth, diameter and wall"),
    "span_error": ("length", False, "standard uncertainty of the span"),
    "deflection_error": ("length", False, "standard uncertainty of a deflection reading"),
    "load_error": ("ratio", False, "standard uncertainty of the loads, as a fraction"),
    "second_moment_error": ("ratio", False, "standard uncertainty of second_moment, a fraction"),
}
# common practice, no source: caliper, tape, dial gauge, kitchen scale
DEFAULT_ERRORS = {"size_error": 3e-5, "span_error": 5e-4, "deflection_error": 3e-5,
                  "load_error": 0.01, "second_moment_error": 0.03}
NOTES = ("name", "title", "based_on", "poisson", "density")
_NUMBER = re.compile(r"[-+]?(?:\d+\.?\d*|\.\d+)(?:[eE][-+]?\d+)?\Z", re.ASCII)
_HEADING = re.compile(r"\s*([A-Za-z_ ]+?)\s*(?:\[\s*([^\[\]]*?)\s*\])?\s*\Z", re.ASCII)
_FOURTH_POWER = re.compile(r"([A-Za-z]{1,20})\s*(?:\^|\*\*)\s*4\Z", re.ASCII)


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


def _to_si(value: str, unit: str | None, kind: str) -> float:
    if unit is not None and not _NUMBER.match(value):
        raise InputError(f"{short(value)} is not a plain number (the unit is in the heading)")
    text = value if unit is None else f"{value} {unit}"
    if kind == "second moment":
        found = re.match(r"\s*(\S+)\s+(.+?)\s*\Z", text)
        power = _FOURTH_POWER.match(found[2]) if found else None
        if not found or not power or not _NUMBER.match(found[1]):
            raise InputError(f"{short(text)} is not a second moment such as '1200 mm^4'")
        return float(found[1]) * parse_quantity(f"1 {power[1]}", "length") ** 4
    return parse_quantity(text, kind)


def _read_lines(path: Path) -> list[str]:
    def refuse(message: str) -> DefinitionError:
        return DefinitionError(str(path), [Problem("", message)])

    try:
        status = os.stat(path)
        if not stat.S_ISREG(status.st_mode):
            raise refuse("is not a regular file; give a table of bending tests (CSV)")
        if status.st_size > LARGEST_FILE:
            raise refuse(f"has {status.st_size:,} bytes; must be at most {LARGEST_FILE:,}")
        data = path.read_bytes()
    except OSError as error:
        raise refuse(f"can't be read ({error.strerror or error})") from None
    except ValueError as error:
        raise error if isinstance(error, InputError) else refuse("is not a usable file name"
                                                                 ) from None
    try:
        text = data.decode("utf-8-sig")
    except UnicodeDecodeError as error:
        raise refuse(f"is not UTF-8 text (byte {error.start}); give a CSV file") from None
    if "\0" in text:
        raise refuse("is not text; give a CSV file")
    return text.splitlines()


def _read_heading(
    cells: list[str], problems: list[Problem]
) -> list[tuple[str, str | None] | None]:
    columns: list[tuple[str, str | None] | None] = []
    seen: set[str] = set()
    for cell in cells:
        found = _HEADING.match(cell)
        name = found[1].strip().lower().replace(" ", "_") if found else cell.strip()
        columns.append(None)
        if not found or name not in COLUMNS:
            problems.append(Problem(
                f"heading {short(cell.strip())}", f"unknown; {nearest(name, list(COLUMNS))}"
            ))
            continue
        if name in seen:
            problems.append(Problem(f"heading {name}", "appears twice"))
            continue
        seen.add(name)
        kind, unit = COLUMNS[name][0], found[2] or None
        if kind not in ("text", "ratio") and unit is not None:
            try:
                _to_si("1", unit, kind)
            except InputError as error:
                problems.append(Problem(f"heading {name}", str(error)))
                continue
        columns[-1] = (name, unit)
    return columns


def read_coupon_table(path: str | Path) -> CouponTable:
    """Read and check a table of bending tests.

    The first line that is not empty and does not start with ``#`` is the heading, such as
    ``coupon, test, temperature [degC], span [mm], width [mm], depth [mm], load [N], deflection
    [mm]``; commas or semicolons. A comment line ``# column: value unit`` sets a column for all
    rows (``# span: 64 mm``); ``# name:``, ``# title:``, ``# based_on:``, ``# poisson:`` and
    ``# density:`` describe the material.

    Raises:
        DefinitionError: with every problem found (the first 20), each with its row.
    """
    lines = _read_lines(Path(path))
    problems: list[Problem] = []
    constants: dict[str, float | str] = {}
    remarks: dict[str, str] = {}
    comments: list[str] = []
    content: list[tuple[int, str]] = []
    for number, line in enumerate(lines, start=1):
        stripped = line.strip()
        if not stripped.startswith("#"):
            if stripped.strip(",; \t"):
                content.append((number, line))
            continue
        key, colon, value = stripped.lstrip("#").partition(":")
        name, value = key.strip().lower().replace(" ", "_"), value.strip()
        if colon and name in NOTES:
            remarks[name] = value
        elif colon and name in COLUMNS and name != "coupon":
            try:
                kind = COLUMNS[name][0]
                constants[name] = value if kind == "text" else _to_si(value, None, kind)
            except InputError as error:
                problems.append(Problem(f"line {number}", f"{name}: {error}"))
        else:
            comments.append(stripped.lstrip("# "))
    if not content:
        raise DefinitionError(str(path), [Problem("", "has no rows; give a heading and readings")])
    if len(content) > MOST_ROWS:
        raise DefinitionError(str(path), [Problem("", f"has more than {MOST_ROWS:,} rows")])
    delimiter = ";" if ";" in content[0][1] else ","
    columns: list[tuple[str, str | None] | None] = []
    gathered: dict[tuple[str, float], _Readings] = {}
    for index, (number, line) in enumerate(content):
        try:
            cells = next(csv.reader([line], delimiter=delimiter, strict=True))
        except (csv.Error, StopIteration) as error:
            problems.append(Problem(f"line {number}", f"is not CSV ({error})"))
            continue
        if index == 0:
            columns = _read_heading(cells, problems)
            if problems:
                break
            continue
        before = len(problems)
        row = _read_row(cells, columns, constants, number, problems)
        if len(problems) > MOST_PROBLEMS:
            break
        if len(problems) > before:
            continue
        name = str(row.get("coupon", f"row {index}"))
        readings = gathered.setdefault(
            (name, float(row["temperature"])), _Readings(name, row, number)
        )
        for column in row.keys() | readings.row.keys():
            if column in ("load", "deflection") or row.get(column) == readings.row.get(column):
                continue
            problems.append(Problem(
                f"line {number}", f"{column} differs from line {readings.first} of the same "
                f"coupon {short(name)}; give the coupon another name"
            ))
        readings.load.append(float(row["load"]))
        readings.deflection.append(float(row["deflection"]))
        readings.lines.append(number)
    if not problems and not gathered:
        problems.append(Problem("", "has a heading but no readings"))
    if problems:
        raise DefinitionError(str(path), problems[:MOST_PROBLEMS])
    return CouponTable(
        str(path), tuple(readings.coupon() for readings in gathered.values()), remarks,
        tuple(comments),
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
        numbers = {c: float(v) for c, v in self.row.items() if COLUMNS[c][0] != "text"}
        return Coupon(
            self.name, str(self.row["test"]),
            {c: v for c, v in numbers.items()
             if c not in ("load", "deflection") and not c.endswith("_error")},
            {c: numbers.get(c, default) for c, default in DEFAULT_ERRORS.items()},
            np.array(self.load), np.array(self.deflection), tuple(self.lines),
        )


def _read_row(
    cells: list[str], columns: list[tuple[str, str | None] | None],
    constants: Mapping[str, float | str], number: int, problems: list[Problem],
) -> dict[str, float | str]:
    where = f"line {number}"
    row: dict[str, float | str] = dict(constants)
    if len(cells) > len(columns) and any(cell.strip() for cell in cells[len(columns):]):
        problems.append(Problem(where, f"has {len(cells)} cells for {len(columns)} headings"))
        return row
    for cell, column in zip(cells, columns, strict=False):
        value = cell.strip()
        if column is None or not value:
            continue
        name, unit = column
        if COLUMNS[name][0] == "text":
            row[name] = value[:80]
            continue
        try:
            row[name] = _to_si(value, unit, COLUMNS[name][0])
        except InputError as error:
            problems.append(Problem(where, f"{name}: {error}"))
            return row
    if "hung_mass" in row and "load" in row:
        problems.append(Problem(where, "has both load and hung_mass; give one"))
    elif "hung_mass" in row:
        row["load"] = float(row.pop("hung_mass")) * GRAVITY
    problems += [Problem(where, message) for message in _check_row(row)]
    return row


def _check_row(row: Mapping[str, float | str]) -> list[str]:
    messages = [
        f"{name} missing; {COLUMNS[name][2]}"
        for name in ("test", "temperature", "span", "load", "deflection") if name not in row
    ]
    if "test" in row and row["test"] not in BEND_TESTS:
        messages.append(f"test: {short(row['test'])} is not one of: {', '.join(BEND_TESTS)}")
    for name, value in row.items():
        if isinstance(value, float) and not math.isfinite(value):
            messages.append(f"{name} is not finite")
        elif COLUMNS[name][1] and isinstance(value, float) and not value > 0:
            messages.append(f"{name} must be above 0 {KINDS.get(COLUMNS[name][0], ('',))[0]}")
        elif name.endswith("_error") and isinstance(value, float) and not value >= 0:
            messages.append(f"{name} must not be negative")
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
