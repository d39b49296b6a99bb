"""The finished tube's bend test against its prediction: actual EI, and where the rest is from."""

from __future__ import annotations

from collections.abc import Callable, Mapping
from dataclasses import dataclass, replace
from pathlib import Path

import numpy as np

from gridshell.define.errors import InputError
from gridshell.define.files.unit_cell_match import refuse_unit_cell
from gridshell.define.tables.design import Design, with_values
from gridshell.define.tables.joints import read_joints
from gridshell.tube.bend_test.readings import BendTest, bend_flexibility, read_bend_test

__all__ = ["BendTest", "MeasuredResult", "measured", "predict", "read_bend_test"]


@dataclass(frozen=True)
class Predicted:
    """What the design predicts: EI N m2, GA N, mass kg, modulus Pa, joint rad/(N m).

    ``EI`` is that of the softest plane, ``EI_max`` of the stiffest, if they differ.
    """

    EI: float
    GA: float
    mass: float
    modulus: float
    joint_flexibility: float = 0.0
    EI_max: float | None = None

    def bent(self, seam_angle: float) -> Predicted:
        """The same with the EI of one plane: seams at an angle from it, rad (pi/2: across)."""
        if self.EI_max is None:
            return self
        least, most = self.EI * np.sin(seam_angle) ** 2, self.EI_max * np.cos(seam_angle) ** 2
        return replace(self, EI=float(least + most))


def predict(design: Design) -> Predicted:
    """EI, GA, mass, modulus and joint flexibility of one design."""
    from gridshell.tube.assess import assess_tube
    from gridshell.tube.joints.end import end_compliance, joint_rotation
    from gridshell.tube.joints.line_forces import JointWall

    tube = assess_tube(design, needed=())
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
                     float(made.modulus), flexibility, float(tube.stiffness.EI_max))


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
        margins: gives the margin of each case of a design; None: `assess_tube`.
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

    seam_angle = set_up.get("seam_angle", np.pi / 2)

    def predicted(made: Design) -> Predicted:
        return predictor(made).bent(seam_angle)

    whole_tube = predictor(design)
    stated = whole_tube.bent(seam_angle)
    if whole_tube.EI_max is not None and whole_tube.EI_max > 1.005 * whole_tube.EI:
        notes.append(
            f"seams at {np.degrees(seam_angle):.0f} deg from the plane of bending "
            f"(seam_angle); EI predicted {whole_tube.EI:.4g} across it, "
            f"{whole_tube.EI_max:.4g} N m^2 in it")
    plain, in_joints = flexibility(stated)
    # Wall thickness, temperature, voids: one after the other.
    walled, wall_error, wall_note = design, 0.0, "not measured"
    thickness = set_up.get("skin_thickness")
    if thickness is not None:
        refuse_unit_cell(design, "the test's skin_thickness changes it")
        walled = with_values(design, {"skin.thickness": thickness})
        wall_note = f"{thickness * 1e3:.3g} mm for {float(design.skin.thickness) * 1e3:.3g} mm"
    at_wall = predicted(walled)
    if thickness is not None:
        more = predicted(with_values(design, {
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
    at_warm = predicted(warmed)
    if temperature is not None:
        more = predicted(with_values(warmed, {
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
    from gridshell.tube.assess import assess_tube

    return {case.name: float(case.margin) for case in assess_tube(design).cases}


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
