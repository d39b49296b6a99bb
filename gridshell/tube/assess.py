"""Assess a tube: stiffness, mass, frequencies, and every check of every load case."""

from __future__ import annotations

import numpy as np

from gridshell.define.constants import SUPPORTS
from gridshell.define.tables.design import Case, Design
from gridshell.define.types import Array, Quantity
from gridshell.material.properties import Properties
from gridshell.material.resolve import properties as resolve
from gridshell.tube.buckling.bending import bending_notes
from gridshell.tube.buckling.general import (
    buckling_loads,
    ovalization,
    range_notes,
    wave_notes,
)
from gridshell.tube.buckling.knockdown import LONGEST, THINNEST, Knockdown, knockdowns
from gridshell.tube.buckling.wave_stiffness import LINE_ELEMENT, Theory
from gridshell.tube.result import (
    BucklingLoads,
    CaseResult,
    Check,
    TubeResult,
    margin_of,
    notes_where,
)
from gridshell.tube.section.beam import BeamAnswer, beam, column_load, first_frequency
from gridshell.tube.section.lands import tube_stiffness
from gridshell.tube.section.stiffness import BeamStiffness
from gridshell.tube.strength.local_use import LocalUse, local_use
from gridshell.wall.assess import Wall, assess_wall
from gridshell.wall.stress import strain_of, stress_of


def _needed(cases: tuple[Case, ...]) -> tuple[str, ...]:
    """The buckling loads that some case asks for."""

    def some(value: Quantity) -> bool:
        return bool(np.any(np.asarray(value) > 0))

    needed = set()
    for case in cases:
        transverse = some(case.transverse) or some(case.acceleration)
        pressure = some(case.pressure)
        if some(case.compression) or some(case.moment) or transverse or (
            pressure and case.pressure_on_ends
        ):
            needed.add("compression")
        if pressure:
            needed.add("hydrostatic" if case.pressure_on_ends else "lateral")
        if some(case.torque) or some(case.shear) or transverse:
            needed.add("torsion")
    return tuple(sorted(needed))


def assess_tube(
    design: Design,
    properties: Properties | None = None,
    theory: Theory = LINE_ELEMENT,
    cells_round: Quantity | None = None,
    cells_along: Quantity | None = None,
    needed: tuple[str, ...] | None = None,
    buckling: BucklingLoads | None = None,
) -> TubeResult:
    """Assess one design, or an array of designs of one pattern.

    Args:
        design: one or many.
        properties: of the material at the temperature of use; None: looked up.
        theory: shell theory of general instability.
        cells_round, cells_along: see `gridshell.wall.geometry.lattice.lattice`.
        needed: buckling loads to find; None: those that the load cases ask for.
        buckling: loads of perfect theory if they are known already, instead of a search.
    Raises:
        InputError: the material can't be resolved.
    """
    if properties is None:
        properties = resolve(design.material, design.folder)
    built = assess_wall(design, properties, cells_round, cells_along)
    stiffness = tube_stiffness(built)
    mass = built.tube_mass
    length = design.tube.length
    line_mass = mass / length
    rotary = line_mass * built.grid.radius**2 / 2
    frequencies = {
        support: first_frequency(support, length, stiffness.EI, stiffness.GA, line_mass, rotary)
        for support in SUPPORTS
    }
    loads = buckling
    if loads is None:
        loads = buckling_loads(built, _needed(design.case) if needed is None else needed, theory)
    cases = tuple(
        _assess_case(case, built, stiffness, line_mass, loads) for case in design.case
    )
    if all(np.ndim(case.margin) == 0 for case in cases):  # one design under one set of loads
        cases = tuple(_worst_first(case) for case in cases)
    slender = length / (2 * built.grid.radius)
    notes = range_notes(built) + built.range_notes + notes_where(
        (slender < 8, "shorter than eight diameters: frequencies may be a few per cent low"),
        ((built.grid.seam_land + built.grid.end_land) > 0,
         "solid lands count in mass and tube stiffness, not in general instability"),
        (bool((design.mold or {}).get("cutout")),
         "cut-outs of [mold] are in neither mass nor stiffness here: mold weighs them, loads "
         "checks them"),
        (stiffness.EI_max > 1.005 * stiffness.EI,
         "EI across the plane of the seams; in that plane it is higher"),
    )
    return TubeResult(design, built, mass, stiffness, frequencies, loads, cases, notes)


def _worst_first(case: CaseResult) -> CaseResult:
    ordered = tuple(sorted(case.checks, key=lambda check: float(check.margin)))
    return CaseResult(
        case.name, ordered, case.compression, case.moment, case.shear, case.beam
    )


def _section_forces(
    case: Case, stiffness: BeamStiffness, length: Quantity, line_mass: Quantity
) -> tuple[Quantity, Quantity, BeamAnswer | None]:
    """Moment and shear force with those of the transverse loads, and the deflection."""
    if case.support == "none":
        return case.moment, case.shear, None
    answer = beam(
        case.support, length, stiffness.EI, stiffness.GA, case.transverse,
        line_mass * case.acceleration,
    )
    return case.moment + answer.moment, case.shear + answer.shear, answer


def _assess_case(
    case: Case, built: Wall, stiffness: BeamStiffness, line_mass: Quantity, loads: BucklingLoads
) -> CaseResult:
    radius, length = built.grid.radius, built.design.tube.length
    moment, shear, answer = _section_forces(case, stiffness, length, line_mass)
    crushing = np.maximum(case.pressure, 0.0)
    ends = crushing * np.pi * radius**2 if case.pressure_on_ends else 0.0
    # Internal pressure on closed ends pulls the tube and so relieves compression; a relieving
    # load is not multiplied by the design factor (NASA/SP-8007-2020/REV 2, 3.0).
    relief = np.maximum(-case.pressure, 0.0) * np.pi * radius**2 * float(case.pressure_on_ends)
    pushed = np.maximum(case.compression, 0.0) + 0.0 * radius
    compression = np.maximum(pushed - relief / case.factor, 0.0)
    flow = case.torque / (2 * np.pi * radius**2) + shear / (np.pi * radius)
    checks = _general_checks(
        case, built, stiffness, loads, compression, moment, flow, crushing
    )
    checks += _local_checks(case, built, compression, ends, moment, flow)
    return CaseResult(case.name, tuple(checks), case.compression, moment, shear, answer)


def _general_checks(
    case: Case, built: Wall, stiffness: BeamStiffness, loads: BucklingLoads,
    compression: Quantity, moment: Quantity, flow: Quantity, crushing: Quantity,
) -> list[Check]:
    radius, length = built.grid.radius, built.design.tube.length
    thickness = built.design.skin.thickness
    knocks = knockdowns(built.design.has_ribs, radius, thickness)
    plain_range = () if built.design.has_ribs else notes_where(
        (radius / thickness > THINNEST, "r/t above 1500: outside the knockdown's data"),
        (length / radius > LONGEST, "L/r above 5: knockdown's data are for shorter tubes"),
    )
    checks: list[Check] = []
    shares: list[Quantity] = []

    def add(
        name: str, kind: str, perfect: Quantity, applied: Quantity, knock: Knockdown,
        notes: tuple[str, ...],
    ) -> None:
        allowable = perfect * knock.factor
        checks.append(Check(
            name, kind, allowable, applied, knock.factor, knock.source,
            margin_of(allowable, applied, case.factor), notes,
        ))
        with np.errstate(invalid="ignore"):
            shares.append(applied / allowable)

    if loads.compression is not None and bool(np.any(compression > 0)):
        add("general instability in compression", "force",
            loads.compression.load * 2 * np.pi * radius, compression, knocks["compression"],
            wave_notes(built, loads.compression) + plain_range)
    if loads.compression is not None and bool(np.any(moment > 0)):
        add("general instability in bending", "moment",
            loads.compression.load * np.pi * radius**2, moment, knocks["bending"],
            wave_notes(built, loads.compression) + plain_range + bending_notes(
                built, loads.compression.load * np.pi * radius**2, loads.compression.n))
    pressure = loads.hydrostatic if case.pressure_on_ends else loads.lateral
    if pressure is not None and bool(np.any(crushing > 0)):
        add("general instability under external pressure", "pressure", pressure.load,
            crushing, knocks["pressure"], wave_notes(built, pressure))
    if loads.torsion is not None and bool(np.any(flow > 0)):
        add("general instability in torsion and shear", "line_force", loads.torsion.load, flow,
            knocks["torsion"], wave_notes(built, loads.torsion))
    if len(shares) > 1:
        total: Quantity = 0.0
        for share in shares:
            total = total + share
        checks.append(Check(
            "general instability, loads combined", "ratio", np.ones(np.shape(total)), total, 1.0,
            "NASA/SP-8007-2020/REV 2, Eq. 41-47", margin_of(1.0, total, case.factor),
            ("sum of the ratios of the single loads",),
        ))
    straight = Knockdown(1.0, "none: elastic column of a straight tube")
    if bool(np.any(compression > 0)):
        allowable = column_load(case.support, length, stiffness.EI, stiffness.GA)
        checks.append(Check(
            "column buckling", "force", allowable, compression, straight.factor,
            straight.source, margin_of(allowable, compression, case.factor),
            ("fixed at one end" if case.support == "cantilever" else "pinned at both ends",),
        ))
    if bool(np.any(moment > 0)):
        allowable = ovalization(built)
        checks.append(Check(
            "ovalization in bending", "moment", allowable, moment, 1.0,
            "NASA/SP-8007-2020/REV 2, Eq. 16, generalized",
            margin_of(allowable, moment, case.factor),
            notes_where((
                length / radius < 20,
                "formula for a long tube: ends that stay round raise it",
            )),
        ))
    return checks


def _states(
    built: Wall, case: Case, compression: Quantity, ends: Quantity, moment: Quantity,
    flow: Quantity,
) -> list[LocalUse]:
    """Local use on the compressed and on the stretched side of the section."""
    radius = built.grid.radius
    found = []
    tension = np.maximum(-case.compression, 0.0) + np.maximum(
        -case.pressure, 0.0
    ) * np.pi * radius**2 * float(case.pressure_on_ends)
    for sign in (-1.0, 1.0):
        pull = tension if sign > 0 else 0.0
        axial = (
            -(compression + ends) / (2 * np.pi * radius) + pull / (2 * np.pi * radius)
            + sign * moment / (np.pi * radius**2)
        )
        hoop = -case.pressure * radius
        forces: Array = np.stack(
            np.broadcast_arrays(*(np.asarray(f, float) for f in (axial, hoop, flow))), axis=-1
        )
        strain, curvature = strain_of(built, forces)
        found.append(local_use(built, stress_of(built, strain, curvature)))
    return found


def _local_source(built: Wall) -> str:
    thin = built.design.ribs.formula == "thin"
    return "none: " + ("NASA CR-124075, 4.2" if thin else "plate eigenproblem, proof/pocket")


def _local_checks(
    case: Case, built: Wall, compression: Quantity, ends: Quantity, moment: Quantity,
    flow: Quantity,
) -> list[Check]:
    states = _states(built, case, compression, ends, moment, flow)
    checks: list[Check] = []
    first = states[0]
    second = states[1]
    if first.pocket is not None and second.pocket is not None:
        use = np.maximum(first.pocket, second.pocket)
        checks.append(Check(
            "skin pocket buckling", "ratio", np.ones(np.shape(use)), use, 1.0,
            _local_source(built)
            if built.grid.pattern == "isogrid" else "none: Timoshenko and Gere, 9.3",
            margin_of(1.0, use, case.factor),
            (first.pocket_note, "taken flat: curvature would raise it"),
        ))
    if first.rib is not None and second.rib is not None:
        worse = second.rib > first.rib
        applied = np.where(worse, second.rib_applied, first.rib_applied)
        allowable = np.where(worse, second.rib_allowable, first.rib_allowable)
        fat = built.sections[0].mean_width > built.sections[0].height / 2
        checks.append(Check(
            "rib crippling", "pressure", allowable, applied, 1.0,
            _local_source(built),
            margin_of(allowable, applied, case.factor),
            notes_where((fat, "rib wider than half its height: it will not cripple as a plate")),
        ))
    strength = built.properties.strength
    if strength is not None:
        stress = np.maximum(first.skin_stress, second.skin_stress)
        checks.append(Check(
            "strength of the skin", "pressure", strength + 0.0 * stress, stress, 1.0,
            "material", margin_of(strength, stress, case.factor),
        ))
        if first.rib_strength is not None and second.rib_strength is not None:
            stress = np.maximum(first.rib_strength, second.rib_strength)
            checks.append(Check(
                "strength of the ribs", "pressure", strength + 0.0 * stress, stress, 1.0,
                "material", margin_of(strength, stress, case.factor),
            ))
    return checks
