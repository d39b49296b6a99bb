"""Polygons between rib families: they tile the panel, and known patterns come out as known."""

from __future__ import annotations

import dataclasses
import math

import numpy as np
from hypothesis import given, settings
from hypothesis import strategies as st

from gridshell.define.tables.design import Design, Material, RibFamily, Ribs, Skin, Tube
from gridshell.wall.geometry.arrangement import BORDER, family_cells
from gridshell.wall.geometry.lattice import Lattice, lattice
from gridshell.wall.geometry.pattern import panel_pockets
from gridshell.wall.geometry.pockets import polygon_area


def tube(ribs: Ribs, segments: int = 2, land: float = 4e-3) -> Design:
    return Design(
        title="Invented scenario: test tube", material=Material(name="pla"),
        tube=Tube(outside_diameter=60e-3, length=90e-3, segments=segments,
                  seam_land=land, end_land=5e-3),
        skin=Skin(thickness=1.2e-3), ribs=ribs)


def own(pattern: Ribs, segments: int = 2, land: float = 4e-3) -> tuple[Lattice, Lattice]:
    """A grid of a known pattern, and the same families as if they were the user's own."""
    grid = lattice(tube(pattern, segments, land))
    return grid, dataclasses.replace(grid, pattern="families")


PATTERNS = {
    "isogrid": Ribs(pattern="isogrid", height=3e-3, width=1e-3, spacing=14e-3),
    "axial isogrid": Ribs(pattern="isogrid", orientation="axial", height=3e-3, width=1e-3,
                          spacing=14e-3),
    "orthogrid": Ribs(pattern="orthogrid", height=3e-3, width=1e-3, spacing=14e-3,
                      hoop_spacing=11e-3),
}


def test_families_that_meet_at_nodes_are_the_known_patterns() -> None:
    for name, ribs in PATTERNS.items():
        grid, free = own(ribs)
        expected = sorted(
            float(polygon_area(corners)) for kind in panel_pockets(grid) for corners in kind.corners
        )
        cells = family_cells(free)
        found = sorted(float(polygon_area(cell.corners)) for cell in cells)
        assert np.allclose(found, expected, rtol=1e-9), name
        sides = {len(cell.corners) for cell in cells}
        assert sides == ({3} if "isogrid" in name else {4}), name


def test_two_families_leave_parallelograms_of_pitch_over_sine() -> None:
    """Plane geometry: two sets of lines crossing at an angle w leave cells of p1 p2/sin w."""
    ribs = Ribs(pattern="families", height=3e-3, width=1e-3, family=(
        RibFamily(angle=math.radians(25), spacing=12e-3),
        RibFamily(angle=math.radians(-60), spacing=15e-3)))
    grid = lattice(tube(ribs))
    first, second = grid.families
    expected = float(first.pitch * second.pitch) / math.sin(
        float(first.angle) - float(second.angle))
    whole = [cell for cell in family_cells(grid) if not cell.cut]
    assert len(whole) > 10
    for cell in whole:
        assert len(cell.corners) == 4
        assert math.isclose(float(polygon_area(cell.corners)), expected, rel_tol=1e-9)


def test_a_closed_tube_has_whole_polygons_all_round() -> None:
    grid, free = own(PATTERNS["isogrid"], segments=1, land=0.0)
    assert free.closed
    cells = family_cells(free)
    total = sum(float(polygon_area(cell.corners)) for cell in cells)
    assert math.isclose(total, float(grid.panel_width * grid.panel_height), rel_tol=1e-9)
    assert len(cells) == sum(len(kind.corners) for kind in panel_pockets(grid))
    assert not any(np.ptp(cell.corners[:, 0]) > float(grid.panel_width) / 2 for cell in cells)


families = st.lists(
    st.tuples(st.floats(-90, 90), st.floats(9, 30)), min_size=1, max_size=4)


@settings(max_examples=60, deadline=None)
@given(families)
def test_polygons_of_any_families_tile_the_panel(stated: list[tuple[float, float]]) -> None:
    ribs = Ribs(pattern="families", height=3e-3, width=1e-3, family=tuple(
        RibFamily(angle=math.radians(angle), spacing=spacing * 1e-3) for angle, spacing in stated))
    grid = lattice(tube(ribs))
    cells = family_cells(grid)
    areas = np.array([float(polygon_area(cell.corners)) for cell in cells])
    assert np.all(areas > 0)
    field = float(grid.panel_width * grid.panel_height)
    # Corners within a micrometer are made one, which may take slivers away.
    assert abs(areas.sum() - field) < 1e-6 * 2 * len(cells) * 0.1
    assert abs(areas.sum() / field - 1) < 1e-3
    for cell in cells:
        assert len(cell.families) == len(cell.corners)
        side = np.roll(cell.corners, -1, axis=0) - cell.corners
        turn = np.cross(
            np.pad(side, ((0, 0), (0, 1))), np.pad(np.roll(side, -1, axis=0), ((0, 0), (0, 1)))
        )[:, 2]
        assert np.all(turn > -1e-9)
        for along, number in zip(side, cell.families, strict=True):
            if number != BORDER and np.hypot(*along) > 1e-4:
                line = grid.families[number]
                lean = along[0] * float(line.cosine) - along[1] * float(line.sine)
                assert abs(lean) < 1e-5
