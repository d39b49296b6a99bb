"""Molds of rib families of the user's own: valid solids that weigh what their polygons say."""

from __future__ import annotations

import math
from pathlib import Path

import numpy as np
import pytest
from shapes import small

from gridshell.define.errors import InputError
from gridshell.define.tables.design import Design, RibFamily, with_values
from gridshell.define.tables.mold import Mold
from gridshell.material.resolve import properties
from gridshell.mold.checks.run import mold_checks
from gridshell.mold.files.solids import solid_volume
from gridshell.mold.files.write import write_piece
from gridshell.mold.pieces.build import build_molds
from gridshell.mold.relief.families import castable_ribs, corners_of, family_groups, offset_sides
from gridshell.wall.assess import assess_wall
from gridshell.wall.geometry.lattice import lattice
from gridshell.wall.geometry.mass import pocket_volume, rib_side
from gridshell.wall.geometry.pockets import inset_corners, polygon_area

FAMILIES = {
    "two": ((25.0, 12e-3, None), (-60.0, 15e-3, 1.1e-3)),
    "three": ((90.0, 14e-3, None), (30.0, 13e-3, None), (-40.0, 16e-3, 2e-3)),
}


def own(name: str, side: str = "inside", **changes: object) -> Design:
    families = tuple(
        RibFamily(angle=math.radians(angle), spacing=spacing, width=width)
        for angle, spacing, width in FAMILIES[name])
    return small("families", side, spacing=None, family=families, segments=3, **changes)


@pytest.mark.parametrize(("name", "side"), [("two", "outside"), ("three", "inside")])
def test_own_families_give_valid_molds_that_weigh_what_they_should(
    name: str, side: str, tmp_path: Path
) -> None:
    design = own(name, side)
    molds = build_molds(design, Mold(engraving=0.0))
    assert not molds.failed
    for piece in molds.pieces:
        if piece.ribbed:
            check = write_piece(molds, piece, tmp_path, ("stl",))
            assert check.faults == []
    volume = solid_volume(molds.piece("part").solid) * 1e-9
    checks = mold_checks(design, Mold(engraving=0.0), [volume])
    agreement = checks.find("solids against the wall's mass")
    assert agreement.verdict == "ok" and agreement.value < 2e-3


@pytest.mark.parametrize("name", sorted(FAMILIES))
@pytest.mark.parametrize("side", ["inside", "outside"])
def test_the_wall_by_shares_weighs_what_its_polygons_do(name: str, side: str) -> None:
    # What is left: 1 of 18 and 6 of 34 polygons are too small for their corner radii.
    design = castable_ribs(own(name, side))
    grid = lattice(design)
    skin, height, way = float(design.skin.thickness), float(design.ribs.height), rib_side(design)
    solid = 2 * math.pi * float(design.tube.length) * (
        float(grid.radius) * skin + height * (float(grid.radius) + way * (skin + height) / 2))
    solid -= grid.segments * grid.sections * sum(
        float(np.sum(pocket_volume(design, grid, group.corners)))
        for group in family_groups(design, grid)[0])
    built = assess_wall(design, properties(design.material))
    assert float(built.tube_volume) == pytest.approx(solid, rel=0.015 if name == "two" else 0.035)


def test_half_the_width_of_its_own_rib_is_left_on_each_side() -> None:
    design = castable_ribs(own("two"))
    grid = lattice(design)
    groups, _ = family_groups(design, grid)
    half = np.array([0.8e-3, 0.55e-3])  # of the two families
    # Whole ones are parallelograms; those that a border cuts are not.
    whole = [
        (corners, cell) for group in groups if group.corners.shape[1:] == group.cells.shape[1:]
        for corners, cell in zip(group.corners, group.cells, strict=True)
        if len(cell) == 4 and np.allclose(cell[0] + cell[2], cell[1] + cell[3], atol=1e-7)
    ]
    assert whole
    for polygon, cell in whole:
        corners = inset_corners(polygon, np.asarray(0.8e-3))
        gaps = []
        for i in range(4):
            side = cell[(i + 1) % 4] - cell[i]
            normal = np.array([-side[1], side[0]]) / np.hypot(*side)
            gaps.append(float(((corners - cell[i]) @ normal).min()))
        assert sorted(gaps) == pytest.approx(sorted(np.tile(half, 2)), abs=1e-9)


def test_families_of_different_heights_are_refused_by_name() -> None:
    design = own("two")
    with pytest.raises(InputError, match=r"ribs\.family\[2\]\.height: 2 mm.*state 3 mm"):
        tall = with_values(design, {"ribs.family": (
            design.ribs.family[0],
            RibFamily(angle=-1.0, spacing=15e-3, height=2e-3))})
        build_molds(tall, Mold())


def test_offset_of_sides_and_their_polygon_are_plane_geometry() -> None:
    triangle = np.array([[0.0, 0.0], [4.0, 0.0], [0.0, 3.0]])
    inner = offset_sides(triangle, np.full(3, 0.5))
    # Incircle of radius 1: all lengths shrink by half.
    assert polygon_area(inner) == pytest.approx(polygon_area(triangle) / 4)
    cut = np.array([[0.0, 0.0], [3.9, 0.0], [3.9, 0.075], [0.0, 3.0]])
    assert corners_of(cut, [0, 2, 3]) == pytest.approx(triangle)
