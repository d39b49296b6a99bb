"""Undercut: flank normals against geometry worked out independently here."""

import math

import numpy as np
import pytest

from gridshell.define.files.reading import design_from_table
from gridshell.define.tables.design import with_values
from gridshell.mold.checks.release.flanks import lock_angle, panel_flanks
from gridshell.mold.checks.release.undercut import (
    segments_that_release,
    undercut,
    undercut_checks,
)
from gridshell.mold.relief.ribbing import ribbing
from gridshell.wall.geometry.lattice import lattice


def make(pattern="orthogrid", diameter=160, **ribs):
    table = {
        "title": "Invented scenario: mold under test",
        "material": {"name": "hot-melt-eva"},
        "tube": {"outside_diameter": f"{diameter} mm", "length": "300 mm", "segments": 2,
                 "seam_land": "8 mm", "end_land": "10 mm"},
        "skin": {"thickness": "2 mm"},
        "ribs": {"pattern": pattern, "height": "5 mm", "width": "2 mm", "draft": "3 deg",
                 "spacing": "20 mm", "corner_radius": "1 mm", **ribs},
    }
    if pattern == "orthogrid":
        table["ribs"].setdefault("hoop_spacing", "25 mm")
    return design_from_table(table)


def found_for(design):
    grid = lattice(design)
    return undercut(design, grid, ribbing(design, grid)), grid


@pytest.mark.parametrize("side", ["inside", "outside"])
def test_axial_flanks_lean_by_their_plane_geometry(side):
    """The flank of an axial rib is a plane: its rib's middle plane turned by the draft."""
    design = make(side=side)
    found, grid = found_for(design)
    flanks = found.flanks
    axial = ~flanks.corner & (np.abs(flanks.edge[:, 0]) > 0.99)
    # Rib middle planes stand at whole cells from the panel's edge.
    step = float(grid.cell_width / grid.radius)
    first = -float(grid.panel_width / grid.radius) / 2
    middle = first + np.rint((flanks.angle[axial] - first) / step) * step
    # +1 where the pocket lies on the far side (growing angle) of its rib.
    away = np.sign(flanks.angle[axial] - middle)
    # Inside ribs leave the core upwards, outside ribs leave the cavity downwards; the flank
    # towards the crown locks in the first case, the one away from it in the second.
    turn = -away if side == "inside" else away
    expected = np.sin(turn * middle - math.radians(3.0))
    assert found.lean[axial] == pytest.approx(expected, abs=1e-4)  # the inset is an arc


def test_hoop_flanks_never_lock():
    found, _ = found_for(make())
    flanks = found.flanks
    hoop = ~flanks.corner & (np.abs(flanks.edge[:, 0]) < 0.01)
    assert hoop.any()
    assert (found.lean[hoop] < 0).all()


def test_moving_the_rib_up_meets_the_block_just_where_it_locks():
    """Brute force in the cross section: a point of the rib's flank, moved along the pull, enters
    the block of mold beside it, or does not."""
    design = make()
    found, grid = found_for(design)
    flanks = found.flanks
    axial = ~flanks.corner & (np.abs(flanks.edge[:, 0]) > 0.99)
    radius = float(grid.radius) - 1e-3  # the pocket's floor
    mouth = radius * np.stack([np.sin(flanks.angle), np.cos(flanks.angle)], axis=-1)[axial]
    tip = mouth + flanks.ruling[axial, 1:]
    into = flanks.normal[axial, 1, 1:]  # towards the block in the pocket
    moved = (mouth + tip) / 2 + np.array([0.0, 0.05e-3])
    along = tip - mouth
    # On the block's side of the line through mouth and tip?
    side = along[:, 0] * (moved - mouth)[:, 1] - along[:, 1] * (moved - mouth)[:, 0]
    block = along[:, 0] * into[:, 1] - along[:, 1] * into[:, 0]
    enters = np.sign(side) == np.sign(block)
    assert np.array_equal(enters, found.locked[axial])
    assert enters.any() and not enters.all()


def test_diagonal_ribs_lock_from_the_angle_of_the_formula():
    """On a wide tube cells are small against the radius and the flanks close to flat."""
    design = make("isogrid", diameter=3000, spacing="40 mm", draft="5 deg")
    found, grid = found_for(design)
    diagonal = max(abs(line.cosine) for line in grid.families)
    expected = lock_angle(math.radians(5.0), diagonal)
    cell = float(grid.cell_width / grid.radius)
    assert found.start == pytest.approx(float(expected), abs=cell)
    assert found.start > math.radians(5.0)  # an axial rib would lock from its draft


def test_lock_angle_agrees_with_the_components_of_the_normal():
    draft, theta = np.radians(4.0), np.radians(30.0)
    phi = np.linspace(0, np.pi / 2, 90001)
    # Unit normal: the draft leans it towards the tip, the rib's angle turns it off the hoop.
    lean = np.cos(draft) * np.cos(theta) * np.sin(phi) - np.sin(draft) * np.cos(phi)
    assert phi[np.argmax(lean > 0)] == pytest.approx(
        float(lock_angle(draft, np.cos(theta))), abs=1e-4)


def test_overhang_reaches_the_height_of_a_rib_near_the_seam():
    found, _ = found_for(make())
    assert found.overhang[found.locked].max() == pytest.approx(5e-3, rel=0.02)


def test_proposed_segments_release_and_one_fewer_locks():
    design = make(side="outside", draft="6 deg", spacing="30 mm")
    enough = segments_that_release(design)
    assert enough is not None
    for segments, locks in ((enough, False), (enough - 1, True)):
        tried, _ = found_for(with_values(design, {"tube.segments": segments}))
        assert bool(tried.locked.any()) is locks


def test_hoop_ribs_alone_are_free():
    """A wide cell leaves one rib at the crown and lands whose flanks face away: nothing locks."""
    design = make(side="outside", diameter=60, spacing="48 mm")
    found, grid = found_for(design)
    sides = undercut_checks(design, grid, found)[0]
    assert found.start is None
    assert sides.verdict == "ok"


def test_corners_of_inside_ribs_nearly_open():
    """The arcs keep their angle round the tube where the radii close in; an offset that grew
    with depth would overhang by 1 mm on the 98 mm tube."""
    for diameter, radius, most in ((98, "2 mm", 0.35e-3), (98, "1 mm", 0.2e-3), (400, "3 mm", 0)):
        found, _ = found_for(make("isogrid", diameter=diameter, corner_radius=radius))
        assert found.corner_overhang <= most


def test_corners_of_outside_ribs_open():
    found, grid = found_for(make("isogrid", side="outside"))
    assert found.corner_overhang == 0
    assert undercut_checks(make("isogrid", side="outside"), grid, found)[1].verdict == "ok"


def test_no_pockets_no_flanks():
    design = design_from_table({
        "title": "Invented scenario: plain", "material": {"name": "pla"},
        "tube": {"outside_diameter": "60 mm", "length": "100 mm", "segments": 2},
        "skin": {"thickness": "2 mm"}, "ribs": {"pattern": "plain"}})
    grid = lattice(design)
    assert len(panel_flanks(design, grid, ribbing(design, grid)).angle) == 0
    found, _ = found_for(design)
    assert [c.verdict for c in undercut_checks(design, grid, found)] == ["ok"]
