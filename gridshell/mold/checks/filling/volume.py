"""Volumes and masses: what to pour, what the finished tube weighs, solid against wall."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np

from gridshell.define.tables.cutouts import wall_growth
from gridshell.define.tables.design import Design, with_values
from gridshell.define.tables.joints import Joints, read_joints
from gridshell.define.tables.mold import Mold
from gridshell.material.properties import Properties
from gridshell.mold.checks.result import FAILS, OK, UNKNOWN, MoldCheck
from gridshell.mold.relief.ribbing import Ribbing
from gridshell.wall.assess import Wall
from gridshell.wall.geometry.lattice import Lattice
from gridshell.wall.geometry.mass import pocket_volume, rib_side

AGREEMENT = 0.01  # of the wall's volume


@dataclass(frozen=True)
class Batch:
    """Castings that are alike: their pockets, how many, and the solid's volume if there is one.

    Attributes:
        ribs: their pockets.
        count: how many.
        solid_volume: of one solid, m3; None without.
    """

    ribs: Ribbing
    count: int
    solid_volume: float | None = None


@dataclass(frozen=True)
class Term:
    """One difference of the solids against the wall, m3; positive: the solids have more.

    Attributes:
        name: of the difference.
        volume: m3.
    """

    name: str
    volume: float


def volume_terms(design: Design, grid: Lattice, batches: Sequence[Batch]) -> tuple[Term, ...]:
    """What the solids have beyond, or short of, `gridshell.wall.geometry.mass.tube_volume`.

    Args:
        design: one design.
        grid: its lattice.
        batches: all castings of the tube.
    """
    solid_pockets = windows = fillets = corners = 0.0
    for batch in batches:
        ribs = batch.ribs
        solid_pockets += batch.count * sum(
            float(np.sum(pocket_volume(design, grid, group))) for group in ribs.given_way_corners)
        windows -= batch.count * sum(
            cutout_volume(design, grid, c.size, c.stated.shape, c.stated.corner_radius)
            for c in ribs.cutouts)
        for group in ribs.pockets:
            fillets -= batch.count * group.shortfall
            if group.corner_radius < float(design.ribs.corner_radius):
                tighter = with_values(design, {"ribs.corner_radius": group.corner_radius})
                alike = slice(1) if group.cells is None else slice(None)
                share = len(group.corners) / len(group.corners[alike])
                corners -= batch.count * share * float(np.sum(
                    pocket_volume(tighter, grid, group.corners[alike])
                    - pocket_volume(design, grid, group.corners[alike])))
    return (
        Term("pockets left solid round cut-outs", solid_pockets),
        Term("cut-outs", windows),
        Term("root fillets that did not fit", fillets),
        Term("corner radii that did not fit", corners),
    )


def family_term(
    design: Design, grid: Lattice, batches: Sequence[Batch], wall_volume: float
) -> tuple[Term, ...]:
    """What polygons one by one have beyond the wall's formula, for the user's own rib families.

    That formula takes the families as crossing at points of their own and knows no borders.

    Args:
        design: one design.
        grid: its lattice.
        batches: all castings of the tube.
        wall_volume: of the whole tube by the wall's formula, m3.
    """
    if grid.pattern != "families":
        return ()
    thickness, height, side = float(design.skin.thickness), float(design.ribs.height), rib_side(
        design)
    gross = 2 * np.pi * float(design.tube.length) * (
        float(grid.radius) * thickness
        + height * (float(grid.radius) + side * (thickness + height) / 2))
    for batch in batches:
        for corners in (*(group.corners for group in batch.ribs.pockets),
                        *batch.ribs.given_way_corners):
            gross -= batch.count * float(np.sum(pocket_volume(design, grid, corners)))
    return (Term("polygons one by one, for the shares of the wall's formula", gross - wall_volume),)


def cutout_volume(
    design: Design, grid: Lattice, size: tuple[float, float], shape: str, corner_radius: float
) -> float:
    """Wall that a cut-out takes away, at full depth, m3.

    Seen along its middle it has the stated size at the skin's smooth face and grows with the
    draft; sides are radial otherwise. Frustum rule over the depth.

    Args:
        design: one design (no arrays).
        grid: its lattice.
        size: width and length, m.
        shape: round or rectangle.
        corner_radius: of a rectangle, m.
    """
    depth = float(design.skin.thickness + design.rib_height)
    growth = float(wall_growth(design))

    def area(more: float) -> float:
        if shape == "round":
            return float(np.pi * (size[0] / 2 + more) ** 2)
        width, length, radius = size[0] + 2 * more, size[1] + 2 * more, corner_radius + more
        return float(width * length - (4 - np.pi) * radius**2)

    return depth * (area(0.0) + 4 * area(growth / 2) + area(growth)) / 6


def mass_checks(
    design: Design, bent: Wall, mold: Mold, part: Properties, batches: Sequence[Batch],
) -> tuple[MoldCheck, ...]:
    """Pour and finished mass, and the solids against the wall, term by term.

    Args:
        design: one design (no arrays).
        bent: the wall of the design.
        mold: the `[mold]` table.
        part: its material at room temperature.
        batches: all castings of the tube.
    """
    grid = bent.grid
    wall_volume = float(bent.tube_volume)
    terms = volume_terms(design, grid, batches) + family_term(design, grid, batches, wall_volume)
    pieces = sum(batch.count for batch in batches)
    solids = [batch.solid_volume for batch in batches]
    built: float | None = None
    if all(volume is not None for volume in solids):
        built = sum(b.count * float(b.solid_volume or 0.0) for b in batches)
    expected = wall_volume + sum(term.volume for term in terms)
    whole = expected if built is None else built
    density = float(part.density)
    return (
        _agreement(wall_volume, built, expected, terms),
        _pour(whole, pieces, density, batches, mold),
        _finished(design, grid, whole, density, pieces),
    )


def _agreement(
    wall_volume: float, built: float | None, expected: float, terms: Sequence[Term]
) -> MoldCheck:
    named = {term.name: term.volume for term in terms if term.volume}
    details = {"wall_volume": wall_volume, "solid_volume": built, "terms": named,
               "explained_volume": expected}
    name, source = "solids against the wall's mass", "gross wall less its pockets, both ways"
    if built is None:
        return MoldCheck(
            name, None, limit=AGREEMENT, kind="ratio", verdict=UNKNOWN,
            advice="no solids were built", source=source, details=details,
        )
    unexplained = abs(built - expected) / wall_volume
    details["unexplained"] = built - expected
    difference = built / wall_volume - 1
    words = "; ".join(f"{term} {volume * 1e6:+.2f} cm3" for term, volume in named.items())
    advice = f"the solids have {difference:+.2%} of the wall's volume"
    advice += f": {words}; rest {(built - expected) * 1e6:+.2f} cm3" if words else ""
    return MoldCheck(
        name, unexplained, limit=AGREEMENT, kind="ratio",
        verdict=OK if unexplained <= AGREEMENT else FAILS, advice=advice, source=source,
        notes=("value: what no term explains, as a share of the wall's volume",), details=details,
    )


def _pour(
    whole: float, pieces: int, density: float, batches: Sequence[Batch], mold: Mold
) -> MoldCheck:
    each = [b.solid_volume for b in batches if b.solid_volume is not None]
    largest = max(each) if len(each) == len(batches) and each else whole / pieces
    spare = 1 + float(mold.casting.spare)
    mass = largest * density * spare
    return MoldCheck(
        "pour for one casting", mass, limit=None, kind="mass", verdict=OK,
        advice=(
            f"pour {mass * 1e3:.0f} g ({largest * spare * 1e6:.0f} cm3 cold) for the largest of "
        f"{pieces} castings; the part takes {largest * density * 1e3:.0f} g of it"),
        source="volume times density",
        notes=(f"{mold.casting.spare:.0%} spare for gate, vents and flash",),
        details={
            "pour_volume": largest * spare, "part_volume": largest, "part_mass": largest * density,
            "castings": pieces, "pour_mass_all": whole * density * spare},
    )


def _finished(
    design: Design, grid: Lattice, whole: float, density: float, pieces: int
) -> MoldCheck:
    joints = read_joints(design.joints)
    depth = float(design.skin.thickness + design.rib_height)
    middle = float(grid.radius) + rib_side(design) * (depth - float(design.skin.thickness)) / 2
    seams = 0 if grid.closed else grid.segments
    faces = seams * depth * float(design.tube.length)
    faces += (grid.sections - 1) * 2 * np.pi * middle * depth
    bond = faces * float(joints.bond.thickness)
    added = _joint_pieces(design, joints, seams, depth)
    mass = (whole + bond + added) * density
    notes = [f"{seams} seams and {grid.sections - 1} joints between sections"]
    if bond or added:
        notes.append("bond, strips, laps and rings taken as dense as the wall")
    words = f"{mass * 1e3:.0f} g"
    if bond:
        words += f", {bond * density * 1e3:.1f} g of it bond"
    if added:
        words += f", {added * density * 1e3:.1f} g strips, laps and rings"
    return MoldCheck(
        "finished tube", mass, limit=None, kind="mass", verdict=OK, advice=words,
        source="volume times density", notes=tuple(notes),
        details={
            "volume": whole, "bond_volume": bond, "added_volume": added,
            "bonded_area": float(faces), "castings": pieces},
    )


def _joint_pieces(
    design: Design, joints: Joints, seams: int, depth: float
) -> float:
    """Volume of cover strips, laps and rings, m3."""
    seam, end = joints.seam, joints.end
    added = 0.0
    if seam.kind == "lap":
        added += seams * float(seam.overlap * (seam.thickness or depth) * design.tube.length)
    elif seam.kind == "strip":
        thickness = seam.strip_thickness or design.skin.thickness
        added += seams * float(2 * seam.overlap * thickness * design.tube.length)
    if end.kind != "butt":
        thickness = float(end.ring_thickness or end.thickness or depth)
        # The ring lies against the wall on its outer or inner side.
        outside = float(design.tube.outside_diameter) / 2
        middle = outside + thickness / 2 if end.kind == "sleeve" else (
            outside - depth - thickness / 2)
        ring = 2 * np.pi * middle * thickness * 2 * float(end.engagement)
        added += (design.tube.sections - 1) * float(ring)
    return added
