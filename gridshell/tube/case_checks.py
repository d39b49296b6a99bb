"""The checks of one load case: general instability, column, ovalization, pockets, ribs,
strength."""

from __future__ import annotations

import dataclasses

import numpy as np

from gridshell.define.errors import InputError
from gridshell.define.tables.design import Case
from gridshell.define.tables.mold import mold_of
from gridshell.define.types import Quantity
from gridshell.tube.as_built.own import own_knockdowns
from gridshell.tube.buckling.bending import bending_notes
from gridshell.tube.buckling.general import ovalization, wave_notes
from gridshell.tube.buckling.knockdown import LONGEST, THINNEST, Knockdown
from gridshell.tube.case_forces import CaseForces
from gridshell.tube.joints.line_forces import SectionLoads
from gridshell.tube.result import BucklingLoads, Check, margin_of, notes_where
from gridshell.tube.strength.brittle import SOURCE as CORNER_SOURCE
from gridshell.tube.strength.brittle import corner_factor, is_brittle
from gridshell.tube.strength.cutouts import (
    HOLE_SOURCE,
    buckling_left,
    peak_beside,
    stated_cutouts,
)
from gridshell.tube.strength.fiber import fiber_stress, pressed_outside
from gridshell.tube.strength.local_use import LocalUse, local_use
from gridshell.tube.strength.thermal_gradient import gradient_stress, with_gradient
from gridshell.wall.assess import Wall
from gridshell.wall.stress import WallStress, skin_per_force


def _positive(value: Quantity) -> bool:
    return bool(np.any(np.asarray(value) > 0))


def holes_left(built: Wall, knockdown: Quantity) -> tuple[Quantity, tuple[str, ...]]:
    """Share of the general instability loads that the cut-outs of ``[mold]`` leave, and a note.

    Args:
        built: one or many.
        knockdown: factor of the load without them.
    """
    left: Quantity = 1.0
    cutouts = mold_of(built.design).cutout
    if not cutouts:
        return left, ()
    for one in cutouts:
        size = max(float(value) for value in (one.diameter, one.width, one.length)
                   if value is not None)
        left = np.minimum(left, buckling_left(
            size / 2, built.grid.radius, built.equivalent.thickness, knockdown))
    return left, notes_where((np.asarray(left) < 1, HOLE_SOURCE))


LANDS_NOTE = (
    "less by the axial load that seam lands draw"
)


def lands_left(built: Wall) -> tuple[Quantity, tuple[str, ...]]:
    """Share of the load of the wall without lands that a tube with seam lands carries, and a note.

    Lands strain with the wall, so of an axial load they take r times the line force of the wall, r
    the ratio of the axial stiffnesses: the mean is 1 + s (r - 1) of the wall's, s their share of
    the circumference. On a wave cos^2(n t) their work counts twice that share where they lie on
    crests; what they hold is not counted. Ours; against waves coupled by the lands the load was
    never below (`tests/tube/test_lands_buckling.py`). Pressure takes no such share, with its push
    on closed ends either: there the lands hold more than they draw, 1.007 times the load without
    them at the least in 120 random tubes.

    Args:
        built: one or many.
    """
    grid, wall = built.grid, built.curved[0]
    share = grid.segments * grid.seam_land / (2 * np.pi * grid.radius)
    if not built.sections or not np.any(np.asarray(share) > 0):
        return 1.0, ()
    axial = wall[..., 0, 0] - wall[..., 0, 1] ** 2 / wall[..., 1, 1]
    more = share * np.maximum(built.properties.modulus * built.depth / axial - 1, 0.0)
    left = (1 + more) / (1 + 2 * more)
    return left, notes_where((np.asarray(left) < 0.999, LANDS_NOTE))


def general_checks(
    case: Case, built: Wall, loads: BucklingLoads, forces: CaseForces
) -> list[Check]:
    """General instability of the wall under each load and under all of them together.

    Args:
        case: the load case.
        built: one or many.
        loads: of perfect theory, for the modulus of the wall.
        forces: of the case.
    """
    radius, length = built.grid.radius, built.design.tube.length
    thickness = built.design.skin.thickness
    knocks = own_knockdowns(built)
    lands, land = lands_left(built)
    plain_range = () if built.design.has_ribs else notes_where(
        (radius / thickness > THINNEST, "r/t above 1500: outside the knockdown's data"),
        (length / radius > LONGEST, "L/r above 5: knockdown's data are for shorter tubes"),
    )
    checks: list[Check] = []
    shares: list[Quantity] = []

    def add(
        name: str, kind: str, perfect: Quantity, applied: Quantity, knock: Knockdown,
        notes: tuple[str, ...], left: Quantity,
    ) -> None:
        holes, hole = holes_left(built, knock.factor)
        left = left * holes
        allowable = perfect * knock.factor * left * forces.modulus_ratio
        checks.append(Check(
            name=name, kind=kind, allowable=allowable, applied=applied,
            knockdown=knock.factor * left, source=knock.source,
            margin=margin_of(allowable, applied, case.factor), notes=notes + hole,
        ))
        with np.errstate(invalid="ignore", divide="ignore"):
            shares.append(applied / allowable)

    if loads.compression is not None and _positive(forces.compression):
        add("general instability in compression", "force",
            loads.compression.load * 2 * np.pi * radius, forces.compression,
            knocks["compression"], wave_notes(built, loads.compression) + plain_range + land,
            lands)
    if loads.compression is not None and _positive(forces.moment):
        perfect = loads.compression.load * np.pi * radius**2
        add("general instability in bending", "moment", perfect, forces.moment, knocks["bending"],
            wave_notes(built, loads.compression) + plain_range
            + bending_notes(built, perfect, loads.compression.n) + land, lands)
    pressure = loads.hydrostatic if case.pressure_on_ends else loads.lateral
    if pressure is not None and _positive(forces.external):
        add("general instability under external pressure", "pressure", pressure.load,
            forces.external, knocks["pressure"], wave_notes(built, pressure), 1.0)
    if loads.torsion is not None and _positive(forces.flow):
        add("general instability in torsion and shear", "line_force", loads.torsion.load,
            forces.flow, knocks["torsion"], wave_notes(built, loads.torsion), 1.0)
    if len(shares) > 1:
        total: Quantity = 0.0
        for share in shares:
            total = total + share
        checks.append(Check(
            name="general instability, loads combined", kind="ratio",
            allowable=np.ones(np.shape(total)), applied=total, knockdown=1.0,
            source="NASA/SP-8007-2020/REV 2, Eq. 41-47",
            margin=margin_of(1.0, total, case.factor),
            notes=("sum of the ratios of the single loads",),
        ))
    return checks


def column_checks(case: Case, built: Wall, forces: CaseForces) -> list[Check]:
    """Buckling of the whole tube as a column, and flattening in bending.

    Args:
        case: the load case.
        built: one or many.
        forces: of the case.
    """
    checks = []
    if _positive(forces.pushed):
        allowable = forces.member.column_load
        checks.append(Check(
            name="column buckling", kind="force", allowable=allowable, applied=forces.pushed,
            knockdown=1.0, source="Timoshenko and Gere, Theory of Elastic Stability, 2.17",
            margin=margin_of(allowable, forces.pushed, case.factor),
            notes=_column_notes(built, forces),
        ))
    if _positive(forces.moment):
        allowable = forces.modulus_ratio * ovalization(
            built, case.factor * forces.external / forces.modulus_ratio)
        checks.append(Check(
            name="ovalization in bending", kind="moment", allowable=allowable,
            applied=forces.moment, knockdown=1.0,
            source="NASA/SP-8007-2020/REV 2, Eq. 16, generalized",
            margin=margin_of(allowable, forces.moment, case.factor),
            notes=notes_where((
                built.design.tube.length / built.grid.radius < 20,
                "formula for a long tube: ends that stay round raise it",
            )),
        ))
    return checks


def _column_notes(built: Wall, forces: CaseForces) -> tuple[str, ...]:
    notes: tuple[str, ...] = (forces.member.ends,)
    straightness = built.design.tube.straightness
    if np.ndim(straightness) == 0 and np.ndim(forces.growth) == 0:
        if float(straightness) > 0:
            notes += (f"axis bowed by 1/{1 / float(straightness):.0f} of the length before any "
                      "load",)
        if 1.005 < float(forces.growth) < 1e6:
            notes += (f"it makes the bending moment {float(forces.growth):.2f} times as large at "
                      "the loads times the factor",)
    if np.any(np.asarray(forces.member.joints.flexibility) > 0) and forces.member.joints.count:
        notes += ("the give of the joints is in it, on the safe side",)
    return notes + notes_where((
        (np.asarray(forces.external) > 0) | (np.asarray(forces.tension) > 0),
        "pressure neither helps nor harms a column: on the bent wall it cancels its push or pull "
        "on the ends",
    ))


def _gradient(case: Case, built: Wall) -> WallStress | None:
    """Stress of the case's temperature difference across the wall; None without one.

    Of the short-time modulus however long the loads stay on: the difference may come late and
    quickly, and how it relaxes is not credited.
    """
    if not np.any(np.asarray(case.temperature_difference) != 0):
        return None
    known = built.properties
    expansion = known.expansion
    if expansion is None:
        raise InputError(
            f"case {case.name!r}: temperature_difference needs the material's expansion; state "
            "material.properties.expansion")
    return gradient_stress(built, case.temperature_difference * known.quick_share, expansion)




def _worst_uses(
    built: Wall, section: SectionLoads, sign: float, gradient: WallStress | None, way: float = 1.0
) -> list[LocalUse]:
    """Local use at the extreme fiber, without and with the temperature difference: what that
    relieves is not credited. ``sign`` and ``way`` as `fiber_stress` has them."""
    state = fiber_stress(built, section, sign, way)
    found = [local_use(built, state)]
    if gradient is not None:
        found.append(local_use(built, with_gradient(state, gradient)))
    return found


def _local_source(built: Wall) -> str:
    """Formula of a plate, and why no factor: plates carry on beyond buckling.

    Von Karman, Sechler and Donnell (1932), cited from memory: a flat plate buckles stably, and a
    plate that is not quite flat carries its buckling load.
    """
    if built.design.ribs.formula == "thin":
        formula = "NASA CR-124075, 4.2"
    else:
        formula = "pocket and rib together, tube/buckling/local.py"
    return f"{formula}; plates buckle stably (von Karman, Sechler and Donnell, 1932)"


def local_checks(case: Case, built: Wall, forces: CaseForces) -> list[Check]:
    """Pockets, ribs and strength at the compressed and at the stretched side of the section.

    Args:
        case: the load case.
        built: one or many.
        forces: of the case.
    """
    gradient = _gradient(case, built)
    # A shear force flows both ways round the tube. Patterns are their own mirror images; families
    # of the user's own may carry one way only.
    uses: list[LocalUse] = []
    swell = pressed_outside(built)
    for way in (1.0, -1.0) if built.grid.pattern == "families" else (1.0,):
        squeezed = forces.squeezed(case)
        uses += _worst_uses(built, squeezed, -1.0, gradient, way)
        uses += _worst_uses(built, forces.stretched(case), 1.0, gradient, way)
        if np.any(np.asarray(case.pressure) < 0):
            # Internal pressure stretches the pockets round the tube, and so relieves them; a
            # relieving load is not multiplied by the design factor (NASA/SP-8007-2020/REV 2, 3.0).
            relieving = np.where(np.asarray(case.pressure) < 0,
                                 case.pressure / case.factor / swell, case.pressure)
            uses += _worst_uses(
                built, dataclasses.replace(squeezed, pressure=relieving), -1.0, gradient, way)
    checks: list[Check] = []
    pockets = [use.pocket for use in uses if use.pocket is not None]
    if pockets:
        use = _largest(pockets) / forces.modulus_ratio
        checks.append(Check(
            name="skin pocket buckling", kind="ratio", allowable=np.ones(np.shape(use)),
            applied=use, knockdown=1.0,
            source=_local_source(built)
            if built.grid.pattern == "isogrid" else "Timoshenko and Gere, 9.3; plates buckle "
            "stably (von Karman, Sechler and Donnell, 1932)",
            margin=margin_of(1.0, use, case.factor),
            notes=(uses[0].pocket_note, "taken flat: curvature would raise it"),
        ))
    ribs = [use for use in uses if use.rib is not None]
    if ribs:
        share: Quantity = -np.inf
        applied: Quantity = 0.0
        allowable: Quantity = np.inf
        for one in ribs:
            assert one.rib is not None
            worse = one.rib > share
            applied = np.where(worse, one.rib_applied, applied)
            allowable = np.where(worse, one.rib_allowable, allowable)
            share = np.maximum(share, one.rib)
        allowable = allowable * forces.modulus_ratio
        wide = built.sections[0].mean_width > built.sections[0].height / 2
        checks.append(Check(
            name="rib crippling", kind="pressure", allowable=allowable, applied=applied,
            knockdown=1.0, source=_local_source(built),
            margin=margin_of(allowable, applied, case.factor),
            notes=notes_where(
                (wide, "rib wider than half its height: it will not cripple as a plate")),
        ))
    return checks + _strength_checks(case, built, forces, uses) + _cutout_checks(
        case, built, forces)


def _cutout_checks(case: Case, built: Wall, forces: CaseForces) -> list[Check]:
    """Stress beside the cut-outs of ``[mold]``, as if each lay at the worst fiber of the case."""
    cutouts = stated_cutouts(mold_of(built.design), built.depth)
    if forces.strength is None or not cutouts:
        return []
    states = [fiber_stress(built, forces.squeezed(case), -1.0).skin_middle,
              fiber_stress(built, forces.stretched(case), 1.0).skin_middle]
    thickness, poisson = 1 / skin_per_force(built, 0)[..., 0], built.properties.poisson
    largest: Quantity = 0.0
    sources: list[str] = []
    for one in cutouts:
        for state in states:
            _, peak, source = peak_beside(
                one, thickness, poisson, state[..., 0], state[..., 1], state[..., 2])
            largest = np.maximum(largest, peak)
        sources.append(source)
    return [Check(
        name="strength beside cut-outs", kind="pressure",
        allowable=forces.strength + 0.0 * largest, applied=largest, knockdown=1.0,
        source="; ".join(dict.fromkeys(sources)),
        margin=margin_of(forces.strength, largest, case.factor),
        notes=("taken at the worst fiber under the largest forces of the case; 'loads' takes each "
               "where it lies", "flat plate: a hole larger than about half of sqrt(r t) sees more"),
        subject="joint",
    )]


def _largest(values: list[Quantity]) -> Quantity:
    largest = values[0]
    for value in values[1:]:
        largest = np.maximum(largest, value)
    return largest


def _strength_checks(
    case: Case, built: Wall, forces: CaseForces, uses: list[LocalUse]
) -> list[Check]:
    """Stress of skin and ribs against the material's, and at pocket corners of a brittle one."""
    if forces.strength is None:
        return []
    skin = _largest([use.skin_stress for use in uses])
    stresses: list[tuple[str, Quantity, str, tuple[str, ...]]] = [
        ("strength of the skin", skin, "material", ())]
    ribs = [use.rib_strength for use in uses if use.rib_strength is not None]
    if ribs:
        stresses.append(("strength of the ribs", _largest(ribs), "material", ()))
    brittle = is_brittle(built)
    if ribs and np.any(brittle):
        factor = np.where(brittle, corner_factor(built), 1.0)
        stresses.append((
            "strength at pocket corners, brittle", factor * skin, CORNER_SOURCE,
            ("a brittle wall does not yield where the skin steps up to a rib; a larger "
             "ribs.root_fillet helps",)))
    return [
        Check(
            name=name, kind="pressure", allowable=forces.strength + 0.0 * stress, applied=stress,
            knockdown=1.0, source=source,
            margin=margin_of(forces.strength, stress, case.factor), notes=notes,
            subject="strength",
        )
        for name, stress, source, notes in stresses
    ]
