"""The finished tube's bend test against its prediction: actual EI, and where the rest comes from.

The file is CSV: lines that start with ``#`` hold the set-up as ``# key = value`` with units, then
a heading ``load [N], deflection [mm]`` (or ``hung_mass [g]``), then one reading a line.
"""

from __future__ import annotations

import csv
import os
import stat
from collections.abc import Callable, Mapping
from dataclasses import dataclass
from pathlib import Path
from typing import Any

import numpy as np

from gridshell.define.errors import DefinitionError, InputError, Problem
from gridshell.define.joints import read_joints
from gridshell.define.model import Design, with_values
from gridshell.define.schema import nearest, short
from gridshell.define.types import Array
from gridshell.define.units import parse_quantity

TESTS = ("three-point", "four-point", "cantilever")
STANDARD_GRAVITY = 9.80665  # m/s2, ISO 80000-3
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
    """A bend test as read, SI. ``settings`` are those of `SETTINGS` that are known."""

    source: str
    test: str
    settings: Mapping[str, float]
    load: Array
    deflection: Array


def read_bend_test(path: str | Path) -> BendTest:
    """Read the CSV of a bend test.

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
                if value not in TESTS:
                    problems.append(Problem(
                        f"line {number}", f"test {short(value)} is not one of: {', '.join(TESTS)}"))
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
    load = by_name.get("load", by_name.get("hung_mass", nothing) * STANDARD_GRAVITY)
    if len(load) < 3 or np.ptp(load) == 0:
        problems.append(Problem("", f"{len(load)} readings; at least 3 at different loads"))
    return load, by_name["deflection"]


def bend_flexibility(
    test: str, span: float, EI: float, GA: float, joints: Array, joint_flexibility: float,
    load_span: float = 0.0,
) -> tuple[float, float]:
    """Deflection per load at mid-span (cantilever: under the load at its tip), m/N.

    Returns the uniform tube's share (bending and shear) and the joints' share. Three-point
    L^3/48EI + L/4GA, four-point with total load W at s from the supports s(3L^2 - 4s^2)/48EI +
    s/2GA, cantilever L^3/3EI + L/GA (Roark's Formulas for Stress and Strain, beams); a joint adds
    c m(a) m1(a), the moments there of the load and of a unit load where the deflection is read
    (unit-load method).

    Args:
        joints: distance of each joint from the first support (cantilever: from the clamp), m.

    >>> [round(v, 6) for v in bend_flexibility("three-point", 1.0, 1.0, 1e12, np.array([0.5]), 1.0)]
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


@dataclass(frozen=True)
class Predicted:
    """What the design predicts: EI N m2, GA N, mass kg, modulus Pa, joint rad/(N m)."""

    EI: float
    GA: float
    mass: float
    modulus: float
    joint_flexibility: float = 0.0


def predict(design: Design) -> Predicted:
    """EI, GA, mass, modulus and joint flexibility of one design."""
    from gridshell.tube.assess import assess
    from gridshell.tube.joints import JointWall, end_compliance, joint_rotation

    tube = assess(design, needed=())
    made, joints = tube.wall.properties, read_joints(design.joints)
    radius = float(tube.wall.grid.radius)
    flexibility = 0.0
    if design.tube.sections > 1:
        wall = JointWall(
            radius, joints.end.thickness or float(tube.wall.depth), float(made.modulus),
            float(made.poisson), float(made.strength or 1.0), float(tube.wall.A[0, 0]),
            float(tube.stiffness.EI),
        )
        flexibility = float(joint_rotation(
            end_compliance(joints.end, joints.bond, wall), radius))
    return Predicted(float(tube.stiffness.EI), float(tube.stiffness.GA), float(tube.mass),
                     float(made.modulus), flexibility)


def void_factor(voids: float) -> float:
    """Modulus of a wall with a share of voids over that of the full wall, (1 - voids)^2.

    Source: Gibson and Ashby, Cellular Solids (1997), closed cells at high density (from memory);
    scattered round voids, a few per cent.
    """
    return (1 - voids) ** 2


@dataclass(frozen=True)
class Cause:
    """One cause of the difference: factor on the measured stiffness, its standard uncertainty in
    the logarithm, and its share of the whole difference (None where there is none to share)."""

    name: str
    factor: float
    uncertainty: float
    share: float | None
    remark: str


@dataclass(frozen=True)
class MeasuredResult:
    """A bend test against the prediction.

    Attributes:
        test: as read. flexibility: measured, m/N, and its standard uncertainty.
        predicted_flexibility: of the design as stated, joints included, m/N.
        residual: standard deviation of the readings about the line, m.
        EI, EI_error: actual, joints taken out, and its standard uncertainty, N m2.
        EI_predicted: N m2.
        ratio: actual over predicted stiffness, joints left in on both sides or neither: 1 is as
            predicted.
        effective_modulus: that gives the actual EI with the wall as stated, at the temperature of
            the test, Pa; with its standard uncertainty.
        corrected_modulus: the same at the design's temperature, for [material] modulus, Pa.
        causes: where the difference comes from; their factors multiply to it.
        margins: name of case -> (as designed, corrected, corrected less two uncertainties).
        notes: on range and reading.
    """

    test: BendTest
    flexibility: tuple[float, float]
    predicted_flexibility: float
    residual: float
    EI: float
    EI_error: float
    EI_predicted: float
    ratio: float
    effective_modulus: tuple[float, float]
    corrected_modulus: float
    causes: tuple[Cause, ...]
    margins: Mapping[str, tuple[float, float, float]]
    notes: tuple[str, ...]


def _fit(test: BendTest) -> tuple[float, float, float, float]:
    """Slope of deflection over load, its standard uncertainty, residual, and relative error of the
    slope from span and load scale; the zero is free."""
    load, deflection = test.load, test.deflection
    x = load - load.mean()
    slope = float(x @ (deflection - deflection.mean()) / (x @ x))
    left = deflection - deflection.mean() - slope * x
    residual = float(np.sqrt(left @ left / max(len(load) - 2, 1)))
    # The gauge's own error counts where the readings happen to fall too well on the line.
    each = max(residual, test.settings["deflection_error"])
    scale = float(np.hypot(
        test.settings["load_error"], 3 * test.settings["span_error"] / test.settings["span"]))
    return slope, each / float(np.sqrt(x @ x)), residual, scale


def measured(
    design: Design, test: BendTest | str | Path,
    predictor: Callable[[Design], Predicted] = predict,
    margins: Callable[[Design], Mapping[str, float]] | None = None,
) -> MeasuredResult:
    """Compare a bend test with the design and share the difference out among its causes.

    In turn the design takes the measured wall, the temperature of the test, the voids that the
    weighed mass tells of, and its joints; what is left is the material's own modulus, rib sizes
    and all else. The factors multiply to the whole difference.

    Args:
        design: one design as stated.
        test: as read, or the name of its file.
        predictor: gives `Predicted` for a design.
        margins: gives the margin of each case of a design; None: `gridshell.tube.assess`.
    Raises:
        InputError: the test does not fit the tube, or a slope that is not positive.
    """
    if not isinstance(test, BendTest):
        test = read_bend_test(test)
    set_up, length = test.settings, float(design.tube.length)
    span, load_span = set_up["span"], set_up.get("load_span", 0.0)
    start = set_up.get("first_support", (length - span) / 2)
    if test.test == "cantilever":
        start = length - span
    if start < -1e-9 or start + span > length * (1 + 1e-9):
        raise InputError(
            f"span: {span * 1e3:g} mm from {start * 1e3:g} mm does not lie on the tube, "
            f"{length * 1e3:g} mm long"
        )
    slope, slope_error, residual, scale = _fit(test)
    if not slope > 0:
        raise InputError("deflection: does not grow with the load; check signs and columns")
    sections = int(design.tube.sections)
    places = np.linspace(0, length, sections + 1)[1:-1]
    places = length - places if test.test == "cantilever" else places - start
    notes = []

    def flexibility(p: Predicted, factor: float = 1.0) -> tuple[float, float]:
        return bend_flexibility(test.test, span, p.EI * factor, p.GA * factor, places,
                                p.joint_flexibility, load_span)

    stated = predictor(design)
    plain, in_joints = flexibility(stated)
    # Wall thickness, temperature, voids: one after the other.
    walled, wall_error, wall_note = design, 0.0, "not measured"
    thickness = set_up.get("skin_thickness")
    if thickness is not None:
        walled = with_values(design, {"skin.thickness": thickness})
        wall_note = f"{thickness * 1e3:.3g} mm for {float(design.skin.thickness) * 1e3:.3g} mm"
    at_wall = predictor(walled)
    if thickness is not None:
        more = predictor(with_values(design, {
            "skin.thickness": thickness + set_up["thickness_error"]}))
        wall_error = abs(np.log(more.EI / at_wall.EI))
    warmed, warm_error, warm_note = walled, 0.0, "not measured"
    temperature = set_up.get("temperature")
    if temperature is not None:
        warmed = with_values(walled, {"material.temperature": temperature})
        warm_note = (f"{temperature - 273.15:.1f} degC for "
                     f"{float(design.material.temperature) - 273.15:.1f} degC")
        if design.material.modulus is not None:
            warm_note += "; the stated modulus has no temperature curve, so none was counted"
    at_warm = predictor(warmed)
    if temperature is not None:
        more = predictor(with_values(warmed, {
            "material.temperature": temperature + set_up["temperature_error"]}))
        warm_error = abs(np.log(more.EI / at_warm.EI))
    voids, void_error, void_note = 0.0, 0.0, "not weighed"
    if "mass" in set_up:
        voids = 1 - set_up["mass"] / at_wall.mass
        void_note = f"weighed {set_up['mass'] * 1e3:.4g} g for {at_wall.mass * 1e3:.4g} g"
        void_error = 2 * set_up["mass_error"] / at_wall.mass
        if voids <= 0:
            void_note += ": none; heavier than predicted (flash, thicker ribs or lands)"
            voids = 0.0
        elif voids > 0.1:
            notes.append(f"voids of {voids:.0%} are beyond the few per cent of the void formula; "
                         "look for a thin wall or an unfilled rib first")
    softened = void_factor(voids)
    factors = [
        ("wall thickness", plain / flexibility(at_wall)[0], wall_error, wall_note),
        ("temperature", flexibility(at_wall)[0] / flexibility(at_warm)[0], warm_error, warm_note),
        ("voids", softened, void_error, void_note),
    ]
    bent, jointed = flexibility(at_warm, softened)
    factors.append(("joints", bent / (bent + jointed), 0.0,
                    f"{int(np.sum((places > 0) & (places < span)))} within the span"))
    rest = (bent + jointed) / slope
    own = float(np.hypot(slope_error / slope, scale))
    factors.append(("modulus, rib sizes, all else", rest, float(np.sqrt(
        own**2 + wall_error**2 + warm_error**2 + void_error**2)), "what is left"))
    whole = float(np.log(plain / slope))
    clear = abs(whole) > 2 * own
    if not clear:
        notes.append("the difference is within the test's uncertainty: nothing to explain")
    causes = tuple(Cause(
        name, float(factor), float(error),
        float(np.log(factor) / whole) if clear else None, remark,
    ) for name, factor, error, remark in factors)
    if residual > 3 * set_up["deflection_error"]:
        notes.append(f"readings scatter by {residual * 1e3:.2g} mm about the line: look for play, "
                     "slip or creep (read at the same time after each load)")
    if slope <= jointed:
        raise InputError("deflection: smaller than that of the joints alone; check the joints")
    stiffness = plain / (slope - jointed)
    error = float(np.hypot(slope_error, slope * scale)) / (slope - jointed)
    corrected = stated.modulus * stiffness / float(factors[1][1])
    return MeasuredResult(
        test, (slope, float(np.hypot(slope_error, slope * scale))), plain + in_joints, residual,
        stated.EI * stiffness, stated.EI * stiffness * error, stated.EI,
        (plain + in_joints) / slope, (stated.modulus * stiffness,
                                      stated.modulus * stiffness * error),
        corrected, causes,
        _margins(design, corrected, error, margins or _assessed_margins), tuple(notes),
    )


def _assessed_margins(design: Design) -> dict[str, float]:
    from gridshell.tube.assess import assess

    return {case.name: float(case.margin) for case in assess(design).cases}


def _margins(
    design: Design, modulus: float, error: float,
    margins: Callable[[Design], Mapping[str, float]],
) -> dict[str, tuple[float, float, float]]:
    if not design.case:
        return {}
    low = max(1 - 2 * error, 0.05)
    sets = [margins(design)] + [
        margins(with_values(design, {"material.modulus": value}))
        for value in (modulus, modulus * low)
    ]
    return {name: (sets[0][name], sets[1][name], sets[2][name]) for name in sets[0]}


def text(result: MeasuredResult) -> str:
    """The comparison as plain text, the answer first."""
    whole = float(np.prod([cause.factor for cause in result.causes]))
    width = max([28, *(len(name) for name in result.margins)]) + 2
    share = [f"  {cause.name:30s}{cause.factor:8.3f} +-{cause.uncertainty:6.3f}"
             + ("" if cause.share is None else f"{cause.share:8.0%}") + f"   {cause.remark}"
             for cause in result.causes]
    E, dE = result.effective_modulus
    lines = [
        f"The built tube is {result.ratio:.3f} times as stiff as predicted.",
        f"  EI            {result.EI:.4g} +- {2 * result.EI_error:.2g} N m^2 (two standard "
        f"uncertainties); predicted {result.EI_predicted:.4g} N m^2",
        f"  modulus       {E / 1e6:.4g} +- {2 * dE / 1e6:.2g} MPa effective in the test; enter "
        f"modulus = \"{result.corrected_modulus / 1e6:.4g} MPa\" in [material] to go on with it",
        f"  flexibility   {result.flexibility[0] * 1e3:.4g} mm/N; predicted "
        f"{result.predicted_flexibility * 1e3:.4g} mm/N; readings within "
        f"{result.residual * 1e3:.2g} mm of the line", "",
        f"Where it comes from, against a tube in one piece (x{whole:.3f} in all): factor, "
        "uncertainty, share", *share, "",
    ]
    if result.margins:
        lines.append("Margins: as designed, corrected, corrected less two uncertainties")
        lines += [f"  {name:{width}s}{a:+8.2f}{b:+8.2f}{c:+8.2f}"
                  for name, (a, b, c) in result.margins.items()]
        lines.append("")
    return "\n".join([*lines, *(f"  {note}" for note in result.notes)]).rstrip()


def as_dict(result: MeasuredResult) -> dict[str, Any]:
    """SI: ``EI``, ``EI_error``, ``EI_predicted`` N m2; moduli Pa; ``flexibility`` m/N; ``ratio``;
    ``causes`` with ``factor`` and ``share``; ``margins``; ``notes``. null is an infinite margin."""
    def finite(value: float) -> float | None:
        return float(value) if np.isfinite(value) else None

    return {
        "EI": result.EI, "EI_error": result.EI_error, "EI_predicted": result.EI_predicted,
        "ratio": result.ratio, "flexibility": result.flexibility[0],
        "flexibility_error": result.flexibility[1],
        "predicted_flexibility": result.predicted_flexibility, "residual": result.residual,
        "effective_modulus": result.effective_modulus[0],
        "effective_modulus_error": result.effective_modulus[1],
        "corrected_modulus": result.corrected_modulus,
        "causes": [dict(vars(cause)) for cause in result.causes],
        "margins": {name: {"designed": finite(a), "corrected": finite(b), "low": finite(c)}
                    for name, (a, b, c) in result.margins.items()},
        "readings": {"load": result.test.load.tolist(),
                     "deflection": result.test.deflection.tolist()},
        "notes": list(result.notes),
    }
