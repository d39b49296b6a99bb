"""The bend test of a finished tube: its file, and the deflection a tube in that set-up has.

The file is CSV: lines that start with ``#`` hold the set-up as ``# key = value`` with units, then
a heading ``load [N], deflection [mm]`` (or ``hung_mass [g]``), then one reading a line.
"""

from __future__ import annotations

import csv
import os
import stat
from collections.abc import Mapping
from dataclasses import dataclass
from pathlib import Path

import numpy as np

from gridshell.define.constants import BEND_TESTS, GRAVITY
from gridshell.define.errors import DefinitionError, InputError, Problem
from gridshell.define.schema import nearest, short
from gridshell.define.types import Array
from gridshell.define.units import parse_quantity

LARGEST_FILE = 1_000_000  # bytes
MOST_ROWS = 20_000

# key -> (kind of quantity, default, doc); errors are standard uncertainties (common practice, no
# source): tape, dial gauge, kitchen scale, calliper, thermometer
SETTINGS: Mapping[str, tuple[str, float | None, str]] = {
    "span": ("length", None, "distance of the supports; cantilever: free length"),
    "load_span": ("length", None, "four-point: distance of the two loads"),
    "first_support": ("length", None, "fore end of the tube to the first support; centered if left "
                      "out. A cantilever is clamped at its aft end"),
    "temperature": ("temperature", None, "of the tube in the test; the design's if left out"),
    "seam_angle": ("angle", np.pi / 2, "of the seams from the plane of bending; 90 deg, across it, "
                   "if left out"),
    "mass": ("mass", None, "of the finished tube as weighed"),
    "skin_thickness": ("length", None, "mean of the skin as measured"),
    "load_error": ("ratio", 0.01, "of the loads"),
    "span_error": ("length", 5e-4, "of the span"),
    "deflection_error": ("length", 3e-5, "of one deflection reading"),
    "mass_error": ("mass", 1e-3, "of the mass"),
    "thickness_error": ("length", 3e-5, "of the mean skin thickness"),
    "temperature_error": ("temperature_difference", 1.0, "of the temperature"),
}


@dataclass(frozen=True)
class BendTest:
    """A bend test as read, SI.

    Attributes:
        source: name of the file.
        test: one of `TESTS`.
        settings: those of `SETTINGS` that are known.
        load: (n,) of each reading, N.
        deflection: (n,) of each reading, m.
    """

    source: str
    test: str
    settings: Mapping[str, float]
    load: Array
    deflection: Array


def read_bend_test(path: str | Path) -> BendTest:
    """Read the CSV of a bend test.

    Args:
        path: of the file.
    Raises:
        DefinitionError: with every problem found, each with its line.
    """
    source = str(path)
    try:
        status = os.stat(path)
        if not stat.S_ISREG(status.st_mode):
            raise DefinitionError(source, [Problem("", "is not a regular file; give a CSV file")])
        if status.st_size > LARGEST_FILE:
            raise DefinitionError(source, [Problem(
                "", f"has {status.st_size:,} bytes; a bend test has at most {LARGEST_FILE:,}")])
        written = Path(path).read_text(encoding="utf-8-sig")
    except (OSError, ValueError) as error:
        if isinstance(error, DefinitionError):
            raise
        why = getattr(error, "strerror", None) or "is not UTF-8 text"
        raise DefinitionError(source, [Problem("", f"can't be read ({why})")]) from None
    return _parse(written, source)


def _parse(written: str, source: str) -> BendTest:
    problems: list[Problem] = []
    test, rows = "three-point", []
    settings: dict[str, float] = {}
    for number, line in enumerate(written.splitlines(), start=1):
        if line.lstrip().startswith("#"):
            key, equals, value = line.lstrip()[1:].partition("=")
            key, value = key.strip(), value.strip().strip('"')
            if not equals:
                continue
            if key == "test":
                if value not in BEND_TESTS:
                    problems.append(Problem(
                        f"line {number}",
                        f"test {short(value)} is not one of: {', '.join(BEND_TESTS)}"))
                test = value
            elif key in SETTINGS:
                try:
                    settings[key] = parse_quantity(value, SETTINGS[key][0])
                except InputError as error:
                    problems.append(Problem(f"line {number}", f"{key}: {error}"))
            else:
                problems.append(Problem(
                    f"line {number}", f"unknown setting {short(key)}; "
                    f"{nearest(key, [*SETTINGS, 'test'])}"))
        elif line.strip():
            rows.append((number, next(csv.reader([line]))))
    load, deflection = _readings(rows, problems)
    if "span" not in settings:
        problems.append(Problem("span", "missing; write a line such as '# span = 800 mm'"))
    elif not settings["span"] > 0:
        problems.append(Problem("span", "must be above 0"))
    if test == "four-point" and not 0 < settings.get("load_span", 0.0) < settings.get("span", 1.0):
        problems.append(Problem("load_span", "must be given, above 0 and below the span"))
    for key, number_read in settings.items():
        if number_read < 0 or (key in ("mass", "skin_thickness") and number_read == 0):
            problems.append(Problem(key, f"{number_read:g} is too small"))
    if problems:
        raise DefinitionError(source, problems)
    full = {key: default for key, (_, default, _) in SETTINGS.items() if default is not None}
    return BendTest(source, test, {**full, **settings}, load, deflection)


def _readings(rows: list[tuple[int, list[str]]], problems: list[Problem]) -> tuple[Array, Array]:
    nothing = np.zeros(0)
    if not rows:
        problems.append(Problem("", "no heading; write a line 'load [N], deflection [mm]'"))
        return nothing, nothing
    number, heads = rows[0]
    kinds = {"load": "force", "hung_mass": "mass", "deflection": "length"}
    columns: dict[str, tuple[int, float]] = {}
    for place, head in enumerate(heads):
        name, _, unit = head.strip().partition("[")
        name, unit = name.strip(), unit.rstrip().removesuffix("]").strip()
        if name not in kinds:
            problems.append(Problem(
                f"line {number}", f"unknown column {short(name)}; {nearest(name, list(kinds))}"))
            continue
        try:
            columns[name] = (place, parse_quantity(f"1 {unit}", kinds[name]))
        except InputError as error:
            problems.append(Problem(f"line {number}", f"column {name}: {error}"))
    if "deflection" not in columns or ("load" in columns) == ("hung_mass" in columns):
        problems.append(Problem(
            f"line {number}", "needs a column deflection and one of load, hung_mass"))
        return nothing, nothing
    if len(rows) > MOST_ROWS:
        problems.append(Problem("", f"has {len(rows):,} rows; at most {MOST_ROWS:,}"))
        return nothing, nothing
    values = []
    for number, row in rows[1:]:
        try:
            values.append([float(row[place]) * unit for place, unit in columns.values()])
        except (ValueError, IndexError):
            problems.append(Problem(f"line {number}", f"{short(','.join(row))} is not a reading"))
    table = np.asarray(values, dtype=float).reshape(-1, len(columns))
    if not np.all(np.isfinite(table)):
        problems.append(Problem("", "a reading is not finite"))
        return nothing, nothing
    by_name = dict(zip(columns, table.T, strict=True))
    load = by_name.get("load", by_name.get("hung_mass", nothing) * GRAVITY)
    if len(load) < 3 or np.ptp(load) == 0:
        problems.append(Problem("", f"{len(load)} readings; at least 3 at different loads"))
    return load, by_name["deflection"]


def bend_flexibility(
    test: str, span: float, EI: float, GA: float, joints: Array, *,
    joint_flexibility: float, load_span: float = 0.0,
) -> tuple[float, float]:
    """Deflection per load at mid-span (cantilever: under the load at its tip), m/N.

    Three-point L^3/48EI + L/4GA, four-point with total load W at s from the supports
    s(3L^2 - 4s^2)/48EI + s/2GA, cantilever L^3/3EI + L/GA (Roark's Formulas for Stress and Strain,
    beams); a joint adds c m(a) m1(a), the moments there of the load and of a unit load where the
    deflection is read (unit-load method).

    Args:
        test: one of `TESTS`.
        span: distance of the supports, or free length of a cantilever, m.
        EI: bending stiffness, N m2.
        GA: shear stiffness, N.
        joints: (n,) distance of each joint from the first support (cantilever: from the clamp), m.
        joint_flexibility: rotation per moment of one joint, rad/(N m).
        load_span: four-point: distance of the two loads, m.
    Returns:
        the uniform tube's share (bending and shear) and the joints' share, m/N.

    >>> middle = np.array([0.5])
    >>> found = bend_flexibility("three-point", 1.0, 1.0, 1e12, middle, joint_flexibility=1.0)
    >>> [round(v, 6) for v in found]
    [0.020833, 0.0625]
    """
    a = joints[(joints > 0) & (joints < span)]
    if test == "cantilever":
        return span**3 / (3 * EI) + span / GA, float(joint_flexibility * np.sum((span - a) ** 2))
    near = np.minimum(a, span - a)
    if test == "three-point":
        return span**3 / (48 * EI) + span / (4 * GA), float(
            joint_flexibility * np.sum((near / 2) ** 2))
    s = (span - load_span) / 2
    return s * (3 * span**2 - 4 * s**2) / (48 * EI) + s / (2 * GA), float(
        joint_flexibility * np.sum(np.minimum(near, s) / 2 * near / 2))
