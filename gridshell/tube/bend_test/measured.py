"""The finished tube's bend test against its prediction: actual EI, and where the rest is from."""

from __future__ import annotations

import math
from collections.abc import Callable, Mapping
from dataclasses import dataclass, replace
from pathlib import Path

import numpy as np

from gridshell.define.errors import InputError
from gridshell.define.files.unit_cell_match import refuse_unit_cell
from gridshell.define.tables.design import Design, with_values
from gridshell.define.tables.joints import read_joints
from gridshell.define.types import Array
from gridshell.tube.bend_test.readings import BendTest, bend_flexibility, read_bend_test

MOST_ERROR = 0.15  # relative standard uncertainty of a stiffness beyond which a test says little
LEAST_LEFT = 0.05  # of the modulus, less two uncertainties; with less the margin is not known


@dataclass(frozen=True)
class Predicted:
    """What the design predicts.

    Attributes:
        EI: bending stiffness in the softest plane, N m2.
        GA: shear stiffness, N.
        mass: of the whole tube, kg.
        modulus: of the material, Pa.
        joint_flexibility: rotation per moment of one joint between sections, rad/(N m).
        EI_max: bending stiffness in the stiffest plane, N m2; None: the same in all.
    """

    EI: float
    GA: float
    mass: float
    modulus: float
    joint_flexibility: float = 0.0
    EI_max: float | None = None

    def bent(self, seam_angle: float) -> Predicted:
        """The same with the EI of one plane.

        Args:
            seam_angle: of the seams from that plane, rad (pi/2: across it).
        """
        if self.EI_max is None:
            return self
        least, most = self.EI * np.sin(seam_angle) ** 2, self.EI_max * np.cos(seam_angle) ** 2
        return replace(self, EI=float(least + most))


def predict(design: Design) -> Predicted:
    """EI, GA, mass, modulus and joint flexibility of one design in a test, which is short: creep
    under the loads of use is not in it."""
    from gridshell.tube.assess import assess_tube
    from gridshell.tube.joints.end import end_compliance, joint_rotation
    from gridshell.tube.joints.line_forces import joint_wall

    tube = assess_tube(with_values(design, {"material.load_duration": None}), needed=())
    joints = read_joints(design.joints)
    flexibility = 0.0
    if design.tube.sections > 1:
        wall = joint_wall(tube.wall, tube.stiffness.EI, joints.end.thickness)
        flexibility = float(joint_rotation(
            end_compliance(joints.end, joints.bond, wall), wall.radius))
    return Predicted(
        EI=float(tube.stiffness.EI), GA=float(tube.stiffness.GA), mass=float(tube.mass),
        modulus=float(tube.wall.properties.modulus), joint_flexibility=flexibility,
        EI_max=float(tube.stiffness.EI_max),
    )


def void_factor(voids: float) -> float:
    """Modulus of a wall with a share of voids over that of the full wall, (1 - voids)^2.

    Source: Gibson and Ashby, Cellular Solids (1997), closed cells at high density (from memory);
    scattered round voids, a few per cent.

    Args:
        voids: share of the volume.
    """
    return (1 - voids) ** 2


@dataclass(frozen=True)
class Cause:
    """One cause of the difference between test and prediction.

    Attributes:
        name: of the cause.
        factor: on the measured stiffness.
        uncertainty: standard uncertainty of the factor's logarithm.
        share: of the whole difference; None where there is none to share.
        remark: what was measured.
    """

    name: str
    factor: float
    uncertainty: float
    share: float | None
    remark: str


@dataclass(frozen=True)
class MeasuredResult:
    """A bend test against the prediction.

    Attributes:
        test: as read.
        flexibility: measured, m/N, and its standard uncertainty.
        predicted_flexibility: of the design as stated, joints included, m/N.
        residual: standard deviation of the readings about the line, m.
        EI: actual, joints taken out, N m2.
        EI_error: its standard uncertainty, N m2.
        EI_predicted: N m2.
        ratio: actual over predicted stiffness, joints left in on both sides or neither: 1 is as
            predicted.
        effective_modulus: that gives the actual EI with the wall as stated, at the temperature of
            the test, Pa; with its standard uncertainty.
        corrected_modulus: the same at the design's temperature, for [material] modulus, Pa.
        causes: where the difference comes from; their factors multiply to it.
        margins: name of case -> (as designed, corrected, corrected less two uncertainties; NaN
            where these leave nothing of the modulus).
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


@dataclass(frozen=True)
class _Line:
    """Straight line through the readings: slope (m/N), its standard uncertainty, residual (m), and
    relative error of the slope from span and load scale; the zero is free."""

    slope: float
    error: float
    residual: float
    scale: float

    @property
    def relative(self) -> float:
        """Relative standard uncertainty of the slope."""
        return float(np.hypot(self.error / self.slope, self.scale))


def _fit(test: BendTest) -> _Line:
    load, deflection = test.load, test.deflection
    x = load - load.mean()
    slope = float(x @ (deflection - deflection.mean()) / (x @ x))
    left = deflection - deflection.mean() - slope * x
    residual = float(np.sqrt(left @ left / max(len(load) - 2, 1)))
    # The gauge's own error counts where the readings happen to fall too well on the line.
    each = max(residual, test.settings["deflection_error"])
    scale = float(np.hypot(
        test.settings["load_error"], 3 * test.settings["span_error"] / test.settings["span"]))
    if not slope > 0:
        raise InputError("deflection: does not grow with the load; check signs and columns")
    return _Line(slope, each / float(np.sqrt(x @ x)), residual, scale)


def _joint_places(design: Design, test: BendTest) -> Array:
    """Distance of each joint from the first support (cantilever: from the clamp), m."""
    length, span = float(design.tube.length), test.settings["span"]
    start = test.settings.get("first_support", (length - span) / 2)
    if test.test == "cantilever":
        start = length - span
    if start < -1e-9 or start + span > length * (1 + 1e-9):
        raise InputError(
            f"span: {span * 1e3:g} mm from {start * 1e3:g} mm does not lie on the tube, "
            f"{length * 1e3:g} mm long"
        )
    places = np.linspace(0, length, int(design.tube.sections) + 1)[1:-1]
    return length - places if test.test == "cantilever" else places - start


@dataclass
class _Comparison:
    """The test, how a design is predicted in it, and what is worth saying."""

    test: BendTest
    places: Array
    predictor: Callable[[Design], Predicted]
    notes: list[str]

    @property
    def seam_angle(self) -> float:
        return float(self.test.settings["seam_angle"])

    def predicted(self, design: Design) -> Predicted:
        return self.predictor(design).bent(self.seam_angle)

    def flexibility(self, predicted: Predicted, factor: float = 1.0) -> tuple[float, float]:
        """Of the tube alone and of its joints, m/N; ``factor`` on the tube's stiffness."""
        set_up = self.test.settings
        return bend_flexibility(
            self.test.test, set_up["span"], predicted.EI * factor, predicted.GA * factor,
            self.places, joint_flexibility=predicted.joint_flexibility,
            load_span=set_up.get("load_span", 0.0),
        )

    def changed(
        self, design: Design, path: str, value: float, error: float
    ) -> tuple[Design, Predicted, float]:
        """The design with a measured value, its prediction, and what the value's error does to the
        logarithm of EI."""
        made = with_values(design, {path: value})
        at, more = self.predicted(made), self.predicted(with_values(design, {path: value + error}))
        return made, at, float(abs(np.log(more.EI / at.EI)))

    def causes(
        self, design: Design, stated: Predicted, line: _Line
    ) -> tuple[list[Cause], float]:
        """Every cause without its share (wall thickness, temperature, voids, joints, and what is
        left), and the flexibility of the joints, m/N."""
        set_up = self.test.settings
        plain = self.flexibility(stated)[0]
        wall, warm = (0.0, "not measured"), (0.0, "not measured")
        made, at_wall = design, stated
        thickness, temperature = set_up.get("skin_thickness"), set_up.get("temperature")
        if thickness is not None:
            refuse_unit_cell(design, "the test's skin_thickness changes it")
            made, at_wall, error = self.changed(
                design, "skin.thickness", thickness, set_up["thickness_error"])
            wall = (error, f"{thickness * 1e3:.3g} mm for "
                    f"{float(design.skin.thickness) * 1e3:.3g} mm")
        at_warm = at_wall
        if temperature is not None:
            _, at_warm, error = self.changed(
                made, "material.temperature", temperature, set_up["temperature_error"])
            said = (f"{temperature - 273.15:.1f} degC for "
                    f"{float(design.material.temperature) - 273.15:.1f} degC")
            if design.material.modulus is not None:
                said += "; the stated modulus has no temperature curve, so none was counted"
            warm = (error, said)
        softened, void_error, void_said = self._voids(at_wall.mass)
        bent, jointed = self.flexibility(at_warm, softened)
        within = int(np.sum((self.places > 0) & (self.places < set_up["span"])))
        thick, warmed = self.flexibility(at_wall)[0], self.flexibility(at_warm)[0]
        left = math.hypot(line.relative, wall[0], warm[0], void_error)
        return [
            Cause("wall thickness", plain / thick, wall[0], None, wall[1]),
            Cause("temperature", thick / warmed, warm[0], None, warm[1]),
            Cause("voids", softened, void_error, None, void_said),
            Cause("joints", bent / (bent + jointed), 0.0, None, f"{within} within the span"),
            Cause("modulus, rib sizes, all else", (bent + jointed) / line.slope, left, None,
                  "what is left"),
        ], jointed

    def _voids(self, mass: float) -> tuple[float, float, str]:
        """Factor of the voids that the weighed mass tells of, its uncertainty, and a remark."""
        set_up = self.test.settings
        if "mass" not in set_up:
            return void_factor(0.0), 0.0, "not weighed"
        voids = 1 - set_up["mass"] / mass
        said = f"weighed {set_up['mass'] * 1e3:.4g} g for {mass * 1e3:.4g} g"
        if voids <= 0:
            said += ": none; heavier than predicted (flash, thicker ribs or lands)"
            voids = 0.0
        elif voids > 0.1:
            self.notes.append(
                f"voids of {voids:.0%} are beyond the few per cent of the void formula; "
                "look for a thin wall or an unfilled rib first")
        return void_factor(voids), 2 * set_up["mass_error"] / mass, said


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
    with_it = _Comparison(test, _joint_places(design, test), predictor, [])
    line, notes = _fit(test), with_it.notes
    whole_tube = predictor(design)
    stated = whole_tube.bent(with_it.seam_angle)
    if whole_tube.EI_max is not None and whole_tube.EI_max > 1.005 * whole_tube.EI:
        notes.append(
            f"seams at {np.degrees(with_it.seam_angle):.0f} deg from the plane of bending "
            f"(seam_angle); EI predicted {whole_tube.EI:.4g} across it, "
            f"{whole_tube.EI_max:.4g} N m^2 in it")
    plain, in_joints = with_it.flexibility(stated)
    causes, jointed = with_it.causes(design, stated, line)
    whole = float(np.log(plain / line.slope))
    if abs(whole) > 2 * line.relative:
        causes = [replace(cause, share=float(np.log(cause.factor) / whole)) for cause in causes]
    else:
        notes.append("the difference is within the test's uncertainty: nothing to explain")
    if line.residual > 3 * test.settings["deflection_error"]:
        notes.append(f"readings scatter by {line.residual * 1e3:.2g} mm about the line: look for "
                     "play, slip or creep (read at the same time after each load)")
    if line.slope <= jointed:
        raise InputError("deflection: smaller than that of the joints alone; check the joints")
    stiffness = float(plain / (line.slope - jointed))
    slope_error = float(np.hypot(line.error, line.slope * line.scale))
    error = float(slope_error / (line.slope - jointed))
    if error > MOST_ERROR:
        notes.append(f"two standard uncertainties are {2 * error:.0%} of the stiffness: the test "
                     "says next to nothing; load it more, or read the deflection better")
    warmth = next(cause.factor for cause in causes if cause.name == "temperature")
    corrected = stated.modulus * stiffness / warmth
    return MeasuredResult(
        test=test,
        flexibility=(line.slope, slope_error),
        predicted_flexibility=plain + in_joints,
        residual=line.residual,
        EI=stated.EI * stiffness,
        EI_error=stated.EI * stiffness * error,
        EI_predicted=stated.EI,
        ratio=(plain + in_joints) / line.slope,
        effective_modulus=(stated.modulus * stiffness, stated.modulus * stiffness * error),
        corrected_modulus=corrected,
        causes=tuple(causes),
        margins=_margins(design, corrected, error, margins or _assessed_margins),
        notes=tuple(notes),
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
    # The measured modulus stands for the curve over temperature that the file may state.
    curves = {key: value for key, value in (design.material.properties or {}).items()
              if key != "modulus"}
    sets = [margins(design)] + [
        margins(with_values(design, {
            "material.modulus": value, "material.properties": curves or None}))
        for value in (modulus, modulus * max(1 - 2 * error, LEAST_LEFT))
    ]
    low = sets[2] if 1 - 2 * error >= LEAST_LEFT else dict.fromkeys(sets[0], math.nan)
    return {name: (sets[0][name], sets[1][name], low[name]) for name in sets[0]}
