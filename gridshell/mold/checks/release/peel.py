"""Peeling: the strain a flexible piece takes to come off a mold that locks it."""

from __future__ import annotations

import math
from typing import Any

import numpy as np

from gridshell.define.constants import ROOM_TEMPERATURE
from gridshell.define.errors import InputError
from gridshell.define.tables.casting import Casting
from gridshell.define.tables.design import Design
from gridshell.define.types import Quantity
from gridshell.material.properties import Properties
from gridshell.mold.checks.release.undercut import Undercut
from gridshell.mold.checks.result import CAUTION, FAILS, OK, UNKNOWN, MoldCheck, most
from gridshell.thermal.curves import material_curves
from gridshell.thermal.stress.demolding import demolding_range, peel_strain
from gridshell.wall.assess import Wall

RUBBER = 20e6  # Pa, below which a mold is taken as one that bends out of the way itself


def opening_curvature(start: Quantity, furthest: Quantity, radius: Quantity) -> Quantity:
    """Change of curvature that opens a shell, held at its crown, until no rib locks, 1/m.

    Opened evenly, the wall at angle phi turns by phi R k. It slides once turned to within the
    angle ``start`` of the pull, so k R >= 1 - start/phi for every locked rib; the furthest asks
    for most, and bending evenly is the least peak that reaches it. Derived here.

    Args:
        start: angle at which ribs begin to lock, rad.
        furthest: angle of the furthest locked rib, rad.
        radius: of the shell, m.

    >>> float(opening_curvature(0.0, 1.5, 0.05))  # no draft: opened flat, 1/R
    20.0
    """
    with np.errstate(divide="ignore", invalid="ignore"):
        turned = np.where(furthest > start, 1 - start / furthest, 0.0)
    return turned / radius


def opening_strain(bent: Wall, curvature: Quantity) -> tuple[Quantity, Quantity]:
    """Hoop strain at the inner and outer face of a wall that is opened by a curvature.

    Plane sections stay plane about the neutral surface z = B22/A22 of the smeared wall; opening
    stretches the inner face and presses the outer one.

    Args:
        bent: the smeared wall.
        curvature: change of curvature, 1/m.

    Returns:
        strain of the inner face (tension positive) and of the outer face.
    """
    neutral = bent.B[..., 1, 1] / bent.A[..., 1, 1]
    half = bent.design.skin.thickness / 2
    inner = -(half if bent.side > 0 else bent.depth - half)
    outer = bent.depth - half if bent.side > 0 else half
    return (neutral - inner) * curvature, (neutral - outer) * curvature


def sheared_stretch(shear: Quantity) -> Quantity:
    """Largest principal strain of a block in simple shear, g/2 + sqrt(1 + g^2/4) - 1.

    Textbook finite strain (principal stretch of simple shear).

    Args:
        shear: g.

    >>> round(float(sheared_stretch(1.0)), 3)
    0.618
    """
    return np.asarray(shear) / 2 + np.sqrt(1 + np.asarray(shear) ** 2 / 4) - 1


def peel_checks(
    design: Design, found: Undercut, bent: Wall, warm: Properties, mold: Properties,
    casting: Casting,
) -> tuple[MoldCheck, ...]:
    """Whether the piece, or a rubber mold, takes what comes off by bending.

    Args:
        design: one design.
        found: its undercut.
        bent: the wall at the peel temperature.
        warm: the material there.
        mold: the mold's material.
        casting: how it is cast.
    """
    if found.start is None:
        return ()
    if mold.modulus < RUBBER:
        return (_rubber(design, found, mold, casting),)
    return (_opened(design, found, bent, warm, casting),)


def _opened(
    design: Design, found: Undercut, bent: Wall, warm: Properties, casting: Casting
) -> MoldCheck:
    assert found.start is not None
    name = "strain of peeling the piece off"
    source = "even opening of a half shell to curvature 1/R x (1 - start/phi); derived here"
    if design.ribs.side == "outside" or design.tube.segments == 1:
        why = ("a shell can't be opened inside its cavity" if design.tube.segments > 1
               else "a whole tube can't be opened")
        return MoldCheck(
            name, None, limit=None, kind="ratio", verdict=FAILS,
            advice=(
                f"{why}, so the locked ribs tear off or stay: cast against a rubber mold, make the "
            "grooved half in more pieces, or run the ribs round the tube only"),
            source=source,
        )
    curvature = opening_curvature(found.start, found.furthest, bent.grid.radius)
    inner, outer = (float(value) for value in opening_strain(bent, curvature))
    strain = max(inner, outer)
    section = bent.sections[0]
    sideways = float(peel_strain(
        found.overhang[found.locked].max(), section.mean_width, section.height))
    notes = [
        "held at the crown and opened evenly; nodes and nicks concentrate strain beyond this",
        f"ribs bent sideways instead, as cantilevers, would take {sideways:.0%}; a lattice braces "
        "its ribs against that",
    ]
    details: dict[str, Any] = {
        "curvature_change": float(curvature), "outer_face_strain": outer,
        "rib_sideways_strain": sideways, "peel_temperature": float(warm.temperature),
    }
    celsius = warm.temperature - 273.15
    if warm.strain_at_break is None or not np.isfinite(warm.strain_at_break):
        return MoldCheck(
            name, strain, limit=None, kind="ratio", verdict=UNKNOWN,
            advice=(f"strain at break of {warm.name} at {celsius:.0f} degC is not known; "
                    "test a strip"),
            source=source, notes=tuple(notes), details=details,
        )
    limit = float(warm.strain_at_break) / casting.peel_factor
    verdict = most(strain, limit)
    advice = (f"opening it puts {strain:.1%} into the rib tips; {warm.name} takes "
              f"{limit:.1%} at {celsius:.0f} degC (strain at break over {casting.peel_factor:g})")
    window = _window(strain, design, casting)
    if window is not None:
        low, high, note = window
        details["peel_from"], details["peel_to"] = low, high
        if low is not None and high is not None and verdict != FAILS:
            advice += f"; peel it between {low - 273.15:.0f} and {high - 273.15:.0f} degC"
        notes += note
    if warm.strength is not None and np.isfinite(warm.strength):
        yields = float(warm.strength / warm.modulus)
        details["strain_at_yield"] = yields
        if verdict == OK and strain > yields:
            verdict = CAUTION
            advice += (f"; it stays bent, for it gives from {yields:.1%} on: lay it on a mandrel "
                       "of its own radius at once")
    if verdict == FAILS:
        advice += "; it tears: cast against a rubber mold, more segments, or lower ribs"
    source += "; strain at break: " + warm.sources.get("strain_at_break", "not stated")
    return MoldCheck(
        name, strain, limit=limit, kind="ratio", verdict=verdict, advice=advice, source=source,
        notes=tuple(notes), details=details,
    )


def _window(
    strain: float, design: Design, casting: Casting
) -> tuple[float | None, float | None, tuple[str, ...]] | None:
    try:
        curves = material_curves(design.material, design.folder)
    except InputError:  # a material without thermal data still has its verdict at one temperature
        return None
    found = demolding_range(strain, curves, casting.peel_factor, room=ROOM_TEMPERATURE)
    return found.low, found.high, found.notes


def _rubber(
    design: Design, found: Undercut, mold: Properties, casting: Casting
) -> MoldCheck:
    deepest = float(found.overhang[found.locked].max())
    # Rises within the draft: what is left to clear shears the block between grooves over.
    shear = deepest / float(design.ribs.height)
    strain = float(sheared_stretch(shear))
    name, source = "strain of a rubber mold coming off", (
        "blocks between grooves sheared by overhang/height, principal stretch of simple shear; "
        "derived here")
    if mold.strain_at_break is None or not math.isfinite(float(mold.strain_at_break)):
        return MoldCheck(
            name, strain, limit=None, kind="ratio", verdict=UNKNOWN,
            advice=f"strain at break of {mold.name} is not known", source=source,
        )
    limit = float(mold.strain_at_break) / casting.peel_factor
    verdict = most(strain, limit)
    advice = ("the mold bends out of the way; support its back with a rigid shell while pouring"
              if verdict == OK else "the blocks between grooves tear: lower ribs or softer rubber")
    return MoldCheck(
        name, strain, limit=limit, kind="ratio", verdict=verdict, advice=advice, source=source,
        notes=("squat blocks: bending of tall thin ones is not in it",),
        details={"overhang": deepest},
    )
