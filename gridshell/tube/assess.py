"""Assess a tube: stiffness, mass, frequencies, and every check of every load case."""

from __future__ import annotations

import copy
import dataclasses

import numpy as np

from gridshell.define.checks import check_design, check_stated
from gridshell.define.errors import InputError
from gridshell.define.possible import declared
from gridshell.define.tables.design import Case, Design, with_values
from gridshell.define.tables.mold import mold_of
from gridshell.define.types import BoolArray, Quantity
from gridshell.material.properties import Properties
from gridshell.material.resolve import properties as resolve
from gridshell.tube.buckling.general import buckling_loads, range_notes
from gridshell.tube.buckling.wave_stiffness import LINE_ELEMENT, Theory
from gridshell.tube.case_checks import column_checks, general_checks, local_checks
from gridshell.tube.case_forces import CaseForces, case_forces
from gridshell.tube.joints.of_tube import TubeJoints, case_joint_checks, tube_joints, with_joints
from gridshell.tube.result import BucklingLoads, CaseResult, Check, TubeResult, notes_where
from gridshell.tube.section.column import JointSprings
from gridshell.tube.section.lands import tube_stiffness
from gridshell.tube.section.stiffness import BeamStiffness
from gridshell.tube.section.vibration import VibratingTube
from gridshell.wall.assess import Wall, assess_wall

# Diameters below which a tube's own shape bends with it: among the shells of proof/shells the exact
# beam was up to 1.57 times the lowest mode at one to two diameters, 2.6 times below; from two on
# within 4 %.
SHORTEST_BEAM = 2.0

_LOADS = ("compression", "moment", "shear", "torque", "pressure", "transverse", "acceleration",
          "temperature_difference")


def _some(value: Quantity) -> bool:
    return bool(np.any(np.asarray(value) > 0))


def _needed(design: Design) -> tuple[str, ...]:
    """The buckling loads that some case asks for."""
    needed = set()
    for case in design.case:
        transverse = _some(case.transverse) or _some(case.acceleration)
        pressure = _some(case.pressure)
        # The axial force shears the tube where its axis is bowed, or is bent by a moment.
        bowed = _some(case.compression) and (
            _some(design.tube.straightness) or _some(case.moment))
        if _some(case.compression) or _some(case.moment) or transverse or (
            pressure and case.pressure_on_ends
        ):
            needed.add("compression")
        if pressure:
            needed.add("hydrostatic" if case.pressure_on_ends else "lateral")
        if _some(case.torque) or _some(case.shear) or transverse or bowed:
            needed.add("torsion")
    return tuple(sorted(needed))


def _sound(design: Design, stiffness: BeamStiffness, mass: Quantity) -> BoolArray:
    """Where stiffness and mass are finite and above 0, and material and loads such as a file may
    state."""
    good: BoolArray = np.asarray(True)
    for value in (*vars(stiffness).values(), mass):
        good = good & np.isfinite(value) & (np.asarray(value) > 0)
    for table in (design.material, *design.case):
        for rule in declared(table, "stated"):
            good = good & rule.kept
    return good


def _refuse(design: Design, whole: bool) -> None:
    """Refuse what a file would not be allowed to state.

    Args:
        design: one or many.
        whole: one design, all of whose fields must fit each other.
    Raises:
        InputError: with every problem found.
    """
    problems = check_design(design) if whole else check_stated(design)
    if problems:
        raise InputError("\n".join(str(problem) for problem in problems))


def _is_one(design: Design) -> bool:
    """Whether every field of the tube, its wall and its material is a single number."""
    return all(
        np.ndim(value) == 0
        for part in (design.tube, design.skin, design.ribs)
        for value in vars(part).values() if isinstance(value, (int, float, np.ndarray))
    )


def assess_tube(
    design: Design,
    properties: Properties | None = None,
    theory: Theory = LINE_ELEMENT,
    *,
    cells_round: Quantity | None = None,
    cells_along: Quantity | None = None,
    needed: tuple[str, ...] | None = None,
    buckling: BucklingLoads | None = None,
    least: bool = False,
) -> TubeResult:
    """Assess one design, or an array of designs of one pattern.

    Args:
        design: one or many.
        properties: of the material at the temperature of use; None: looked up.
        theory: shell theory of general instability.
        cells_round: see `gridshell.wall.geometry.lattice.lattice`.
        cells_along: see `gridshell.wall.geometry.lattice.lattice`.
        needed: buckling loads to find; None: those that the load cases ask for.
        buckling: loads of perfect theory if they are known already, instead of a search.
        least: with the lower bound of the wall's stiffness, see `gridshell.wall.assess`.
    Raises:
        InputError: the material can't be resolved, or one design that lies outside of what a
            definition file may state or whose stiffness is not a finite number above 0. Designs of
            an array that do get a margin of NaN, which is no pass.
    """
    if properties is None:
        properties = resolve(design.material, design.folder)
    # A search that brings its own cells leaves the spacing open.
    _refuse(design, cells_round is None and cells_along is None and _is_one(design))
    built = assess_wall(design, properties, cells_round, cells_along, least)
    stiffness = tube_stiffness(built)
    mass = built.tube_mass
    sound = _sound(design, stiffness, mass)
    if sound.ndim == 0 and not sound:
        raise InputError(
            "design: its stiffness, mass or loads are not finite numbers above 0 (EI "
            f"{float(stiffness.EI):.3g} N m^2, mass {float(mass):.3g} kg); check the sizes of skin "
            "and ribs and the loads of each case"
        )
    length = design.tube.length
    line_mass = mass / length
    loads = buckling
    if loads is None:
        loads = buckling_loads(built, _needed(design) if needed is None else needed, theory)
    joints = tube_joints(built, stiffness)
    jointed = with_joints(stiffness, joints)
    cases = tuple(
        _assess_case(case, built, jointed, line_mass, (joints, loads, sound))
        for case in design.case
    )
    if all(np.ndim(case.margin) == 0 for case in cases):  # one design under one set of loads
        cases = tuple(_worst_first(case) for case in cases)
    return TubeResult(
        design=design, wall=built, mass=mass, stiffness=stiffness,
        vibrating=_vibrating(built, jointed, line_mass, joints.springs), buckling=loads,
        cases=cases, notes=_notes(built, stiffness), unchecked=_unchecked(built, joints),
    )


def assess_cases(tube: TubeResult, cases: tuple[Case, ...]) -> tuple[CaseResult, ...]:
    """Other load cases on a straight tube that is assessed already, whose wall is used again.

    Args:
        tube: one, assessed.
        cases: of loads.
    """
    built = copy.copy(tube.wall)  # with all that was found of it, for no case changes the wall
    design = with_values(tube.design, {"case": cases, "tube.straightness": 0.0})
    object.__setattr__(built, "design", design)
    known = {name: load for name, load in vars(tube.buckling).items() if load is not None}
    missing = tuple(name for name in _needed(design) if name not in known)
    loads = dataclasses.replace(buckling_loads(built, missing), **known)
    joints = tube_joints(built, tube.stiffness)
    sound = _sound(design, tube.stiffness, tube.mass)
    jointed, line_mass = with_joints(tube.stiffness, joints), tube.mass / design.tube.length
    return tuple(
        _assess_case(case, built, jointed, line_mass, (joints, loads, sound)) for case in cases)


def least_margin(tube: TubeResult) -> Quantity | None:
    """Lowest margin where the wall's stiffness is no more than its lower bound, or the formula's.

    Args:
        tube: one or many.

    Returns:
        None where every wall lies within the unit cells that the formula was held to.
    """
    if not np.any(tube.wall.outside_map):
        return None
    with np.errstate(all="ignore"):
        bound = assess_tube(tube.design, tube.wall.properties, least=True)
    return np.where(tube.wall.outside_map, np.minimum(tube.margin, bound.margin), tube.margin)[()]


def _vibrating(
    built: Wall, stiffness: BeamStiffness, line_mass: Quantity, joints: JointSprings
) -> VibratingTube:
    """Vibration is short, so by the short-time modulus."""
    radius, quick = built.grid.radius, built.properties.quick_share
    return VibratingTube(
        built.design.tube.length, stiffness.EI * quick, stiffness.GA * quick, line_mass=line_mass,
        rotary=line_mass * radius**2 / 2, joints=joints)


def _notes(built: Wall, stiffness: BeamStiffness) -> tuple[str, ...]:
    design = built.design
    diameters = design.tube.length / (2 * built.grid.radius)
    stated = design.as_built
    return range_notes(built) + built.range_notes + notes_where(
        (stated is not None and stated.knockdown == "measured",
         "knockdown factors in compression and bending are MEASURED: the tube's own, from its scan "
         "(as_built.shape); those of torsion and pressure are published"),
        (stated is not None and stated.knockdown == "expected",
         "knockdown factors in compression and bending are EXPECTED: of a tube whose whole "
         "tolerance lies in its worst wave (as_built.roundness, thickness); nothing is measured "
         "yet: scan the finished tube ('gridshell tube FILE --shape SCAN.csv'); those of torsion "
         "and pressure are published"),
        (stated is not None and stated.knockdown != "published" and design.ribs.pattern != "plain",
         "the own factor was held to six solved tubes of plain walls and eight with ribs; five of "
         "these chose what pockets and ribs take: keep the published factor (as_built.knockdown) "
         "until a proof test bears it out"),
        (diameters < SHORTEST_BEAM,
         "frequencies are those of a beam whose section keeps its shape; a tube shorter than two "
         "diameters vibrates at less, free-free down to 0.64 of it, below one diameter to 0.38: "
         "take a shell model (gridshell mesh)"),
        ((built.grid.seam_land + built.grid.end_land) > 0,
         "solid lands count in mass and tube stiffness; general instability takes no credit for "
         "their stiffness, on the safe side; under axial load and bending it counts the load that "
         "seam lands draw"),
        (design.tube.ends == "clamped",
         "ends clamped: buckling of the wall under axial load, bending and pressure takes both "
         "edges as built into stiff plates all round, which hold them along and against turning; "
         "torsion takes no credit, the column follows each case's support, and knockdown factors "
         "come from tests compared with ends that are free to turn"),
        (bool(mold_of(design).cutout),
         "cut-outs of [mold] are in neither mass nor stiffness here, only in general instability "
         "and in the stress beside them, at the worst fiber of each case: mold weighs them, loads "
         "checks them where they lie"),
        (stiffness.EI_max > 1.005 * stiffness.EI,
         "EI across the plane of the seams; in that plane it is higher"),
    )


def _unchecked(built: Wall, joints: TubeJoints) -> tuple[str, ...]:
    """What could not be checked, and what to state so that it can."""
    if built.properties.strength is not None:
        return ()
    what = "strength of skin and ribs"
    if joints.present:
        what += ", seams and joints"
    return (f"{what}: the material's strength is not known here; state material.strength",)


def _worst_first(case: CaseResult) -> CaseResult:
    def place(check: Check) -> float:
        return -np.inf if np.isnan(check.margin) else float(check.margin)

    return dataclasses.replace(case, checks=tuple(sorted(case.checks, key=place)))


def _assess_case(
    case: Case, built: Wall, stiffness: BeamStiffness, line_mass: Quantity,
    known: tuple[TubeJoints, BucklingLoads, BoolArray],
) -> CaseResult:
    joints, loads, sound = known
    forces = case_forces(case, built, stiffness, line_mass, joints)
    checks = general_checks(case, built, loads, forces)
    checks += column_checks(case, built, forces)
    checks += local_checks(case, built, forces)
    if joints.present and forces.strength is not None:
        checks += case_joint_checks(
            joints, forces.squeezed(case), forces.stretched(case), forces.strength,
            forces.modulus_ratio)
    checks = _not_known(case, checks, forces, sound) + checks
    return CaseResult(
        name=case.name, checks=tuple(checks), compression=case.compression, moment=forces.moment,
        shear=forces.shear, beam=forces.beam, support=case.support, growth=forces.growth,
        notes=_case_notes(case, forces),
    )


def _not_known(
    case: Case, checks: list[Check], forces: CaseForces, sound: BoolArray
) -> list[Check]:
    """Checks that no design passes: a load that nothing checks, a design that can't be assessed."""
    stated: BoolArray = np.asarray(False)
    for name in _LOADS:
        stated = stated | (np.asarray(getattr(case, name)) != 0)
    lowest: Quantity = np.inf
    for check in checks:
        lowest = np.minimum(lowest, check.margin)
    bare = stated & np.isposinf(lowest)
    if forces.strength is None:  # pulls and internal pressure are held by strength alone
        bare = bare | (np.asarray(case.compression) < 0) | (np.asarray(case.pressure) < 0)
    found = []
    for name, bad, why in (
        ("stated load that no check covers", bare,
         "tension and internal pressure are held by strength, which is not known; state "
         "material.strength"),
        ("design outside of what can be assessed", ~sound,
         "stiffness, mass or loads are not finite numbers above 0"),
    ):
        if np.any(bad):
            found.append(Check(
                name=name, kind="ratio", allowable=np.nan, applied=np.nan, knockdown=1.0,
                source="none", margin=np.where(bad, np.nan, np.inf)[()], notes=(why,),
                subject="unknown",
            ))
    return found


def _case_notes(case: Case, forces: CaseForces) -> tuple[str, ...]:
    return forces.notes + notes_where(
        (np.asarray(case.factor) < 1,
         "the design factor is below 1: the loads are reduced, not increased, before the check"),
    )
