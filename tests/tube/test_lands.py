"""Solid lands in the tube's stiffness, against sections integrated point by point."""

import numpy as np
import pytest

from gridshell.tube.assess import assess_tube
from gridshell.tube.section.lands import lands_of, tube_stiffness, with_lands
from gridshell.tube.section.stiffness import beam_stiffness
from gridshell.wall.assess import assess_wall


@pytest.fixture
def built(make_design, make_properties):
    def run(pattern="isogrid", **values):
        return assess_wall(make_design(pattern, **values), make_properties())

    return run


def test_no_lands_change_nothing(built):
    bare = built(tube__segments=1)
    assert tube_stiffness(bare) == with_lands(
        beam_stiffness(*bare.curved, bare.grid.radius), lands_of(bare))
    for name in ("EA", "EI", "GJ", "GA", "EI_max"):
        grid = beam_stiffness(*bare.curved, bare.grid.radius)
        assert float(getattr(tube_stiffness(bare), name)) == pytest.approx(
            float(getattr(grid, name)), rel=1e-12)
    plain = built("plain", tube__seam_land=0.02, tube__segments=2)
    assert tube_stiffness(plain) == beam_stiffness(*plain.curved, plain.grid.radius)


@pytest.mark.parametrize("segments", [1, 2, 3, 4])
@pytest.mark.parametrize("side", ["inside", "outside"])
def test_section_with_seams_point_by_point(built, segments, side):
    # Textbook composite section (Timoshenko, Strength of Materials, beams of two materials): axial
    # force per angle times the square of the distance; Bredt's formula 4 A^2/sum(ds/(G t)) in
    # the form of compliances in series.
    land = 0.012
    tube = built("orthogrid", tube__segments=segments, tube__seam_land=land, ribs__side=side)
    R = float(tube.grid.radius)
    grid = beam_stiffness(*tube.curved, R)
    inner = min(R - tube.side * 0.75e-3, R + tube.side * (0.75e-3 + 5e-3))
    outer = inner + float(tube.depth)
    E, G = 2e9, 2e9 / 2.7
    angle = np.linspace(0, 2 * np.pi, 200_001)[:-1] + 1e-9
    nearest = np.abs((angle + np.pi / segments) % (2 * np.pi / segments) - np.pi / segments)
    on_land = nearest < land / R / 2
    step = angle[1] - angle[0]
    force = np.where(on_land, E * (outer**2 - inner**2) / 2, grid.EA / (2 * np.pi))
    second = np.where(on_land, E * (outer**4 - inner**4) / 4, grid.EI / np.pi)
    flow = np.where(on_land, 2 * np.pi / (G * np.pi / 2 * (outer**4 - inner**4)),
                    2 * np.pi / grid.GJ)
    found = tube_stiffness(tube)
    assert float(found.EA) == pytest.approx(force.sum() * step, rel=1e-3)
    planes = [(second * np.cos(angle - turn) ** 2).sum() * step
              for turn in np.linspace(0, np.pi, 37)]
    # The strip's own width, which the cosine varies over, is left out: (land/2R)^2/3.
    assert float(found.EI) == pytest.approx(min(planes), rel=5e-3)
    assert float(found.EI_max) == pytest.approx(max(planes), rel=5e-3)
    assert float(found.GJ) == pytest.approx((2 * np.pi) ** 2 / (flow.sum() * step), rel=1e-3)
    if segments > 2:
        assert float(found.EI) == float(found.EI_max)
    else:
        assert float(found.EI_max) > 1.01 * float(found.EI)


def test_end_lands_are_links_of_a_chain(built):
    # Springs in series: length over EA of each stretch.
    land, sections = 0.02, 3
    tube = built(tube__sections=sections, tube__end_land=land, tube__segments=1)
    grid, lands = beam_stiffness(*tube.curved, tube.grid.radius), lands_of(tube)
    solid = 2 * sections * land
    for name in ("EA", "EI", "GJ"):
        together = (0.6 - solid) / getattr(grid, name) + solid / getattr(lands, name)
        assert float(getattr(tube_stiffness(tube), name)) == pytest.approx(
            0.6 / float(together), rel=1e-9)


def test_all_land_is_a_thick_tube(built):
    tube = built(tube__segments=4, tube__seam_land=0.03)
    whole = 2 * np.pi * float(tube.grid.radius) / 4
    lands = lands_of(built(tube__segments=4, tube__seam_land=whole * (1 - 1e-9)))
    found = with_lands(beam_stiffness(*tube.curved, tube.grid.radius), lands)
    for name in ("EA", "EI", "GJ"):
        assert float(getattr(found, name)) == pytest.approx(float(getattr(lands, name)), rel=1e-6)


def test_tube_says_which_plane(make_design, make_properties):
    two = assess_tube(make_design("isogrid", tube__segments=2, tube__seam_land=0.02),
                      make_properties())
    assert any("plane of the seams" in note for note in two.notes)
    four = assess_tube(make_design("isogrid", tube__segments=4, tube__seam_land=0.02),
                       make_properties())
    assert not any("plane of the seams" in note for note in four.notes)
    assert float(four.stiffness.EI) > float(
        assess_tube(make_design("isogrid"), make_properties()).stiffness.EI)


def test_tube_says_that_cutouts_are_left_out(make_design, make_properties):
    from gridshell.define.tables.design import with_values

    design = make_design("isogrid")
    holed = with_values(design, {"mold": {"cutout": [
        {"shape": "round", "position": "300 mm", "diameter": "10 mm"}]}})
    assert any("cut-outs" in note for note in assess_tube(holed, make_properties()).notes)
    assert not any("cut-outs" in note for note in assess_tube(design, make_properties()).notes)
