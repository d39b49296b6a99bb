"""The bend test of a finished tube: its file, and the deflection a tube in that set-up has."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from pathlib import Path

import numpy as np

from gridshell.define.constants import BEND_TESTS, GRAVITY
from gridshell.define.errors import Problem, short
from gridshell.define.files.readings import Column, column, read_sheet
from gridshell.define.types import Array

# Bounds keep slips of a unit out. Errors are standard uncertainties (common practice, no source):
# tape, dial gauge, kitchen scale, caliper, thermometer.
SETTINGS: Mapping[str, Column] = {
    "test": column("text", "one of " + ", ".join(BEND_TESTS) + "; three-point if left out"),
    "span": column("length", "distance of the supports; cantilever: free length", least=1e-3,
                   most=1000.0),
    "load_span": column("length", "four-point: distance of the two loads", least=0.0, most=1000.0),
    "first_support": column(
        "length", "fore end of the tube to the first support; centered if left out. A cantilever "
        "is clamped at its aft end", least=0.0, most=1000.0),
    "temperature": column("temperature", "of the tube in the test; the design's if left out",
                          above=0.0, most=2000.0),
    "seam_angle": column(
        "angle", "of the seams from the plane of bending; 90 deg, across it, if left out",
        least=0.0, most=2 * np.pi),
    "mass": column("mass", "of the finished tube as weighed", least=1e-6, most=1e6),
    "skin_thickness": column("length", "mean of the skin as measured", least=1e-6, most=1.0),
    "load_error": column("ratio", "of the loads", least=0.0, most=1.0),
    "span_error": column("length", "of the span", least=0.0, most=1.0),
    "deflection_error": column("length", "of one deflection reading", least=0.0, most=1.0),
    "mass_error": column("mass", "of the mass", least=0.0, most=1e6),
    "thickness_error": column("length", "of the mean skin thickness", least=0.0, most=1.0),
    "temperature_error": column("temperature_difference", "of the temperature", least=0.0,
                                most=100.0),
}
DEFAULTS: Mapping[str, float] = {
    "seam_angle": np.pi / 2, "load_error": 0.01, "span_error": 5e-4, "deflection_error": 3e-5,
    "mass_error": 1e-3, "thickness_error": 3e-5, "temperature_error": 1.0,
}
COLUMNS: Mapping[str, Column] = {
    "load": column("force", "whole load", least=-1e9, most=1e9),
    "hung_mass": column("mass", "instead of load: mass hung on", least=-1e8, most=1e8),
    "deflection": column("length", "at mid-span; cantilever: under the load", least=-100.0,
                         most=100.0),
}


@dataclass(frozen=True)
class BendTest:
    """A bend test as read.

    Attributes:
        source: name of the file.
        test: one of `gridshell.define.constants.BEND_TESTS`.
        settings: those of `SETTINGS` that are known, SI.
        load: (n,) of each reading, N.
        deflection: (n,) of each reading, m.
    """

    source: str
    test: str
    settings: Mapping[str, float]
    load: Array
    deflection: Array


def read_bend_test(path: str | Path) -> BendTest:
    """Read a bend test; see `gridshell.define.files.readings` for the form of the file.

    Raises:
        DefinitionError: with every problem found, each with its line.
    """
    sheet = read_sheet(path, "bend test (CSV)", COLUMNS, SETTINGS)
    problems, settings = sheet.problems, dict(sheet.settings)
    test = str(settings.pop("test", "three-point"))
    if test not in BEND_TESTS:
        problems.add("test", f"{short(test)} is not one of: {', '.join(BEND_TESTS)}")
    stated = {**DEFAULTS, **{name: float(value) for name, value in settings.items()}}
    if "span" not in stated:
        problems.add("span", "missing; write a line such as '# span: 800 mm'")
    if test == "four-point" and not 0 < stated.get("load_span", 0.0) < stated.get("span", 1.0):
        problems.add("load_span", "must be given, above 0 and below the span")
    weight = "hung_mass" in sheet.headings
    if "deflection" not in sheet.headings or weight == ("load" in sheet.headings):
        problems.add("", "needs a column deflection and one of load, hung_mass")
    sheet.refuse()
    needed = ("hung_mass" if weight else "load", "deflection")
    problems += [
        Problem(f"line {number}", f"has no {name}")
        for number, row in sheet.rows for name in needed if name not in row
    ]
    sheet.refuse()
    load, deflection = (np.array([float(row[name]) for _, row in sheet.rows]) for name in needed)
    if weight:
        load = load * GRAVITY
    if len(load) < 3 or np.ptp(load) == 0:
        problems.add("", f"{len(load)} readings; at least 3 at different loads")
    sheet.refuse()
    return BendTest(str(path), test, stated, load, deflection)


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
