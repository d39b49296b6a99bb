"""The closed form for fat ribs against plane finite elements, its limits and its symmetries."""

import numpy as np
import pytest

from gridshell.wall.geometry.lattice import FamilyLine
from gridshell.wall.geometry.rib_section import rib_section
from gridshell.wall.stiffness.finite_width import (
    corrections,
    crossing_node,
    crossing_sway,
    strip_lengths,
    triple_node,
)
from gridshell.wall.stiffness.smeared import skin_stiffness

ROOT3 = np.sqrt(3.0)


def isogrid_lines(length):
    row = length * ROOT3 / 2
    return [FamilyLine(0.0, 1.0, row, "hoop"), FamilyLine(ROOT3 / 2, 0.5, row, "diagonal"),
            FamilyLine(ROOT3 / 2, -0.5, row, "diagonal")]


def isogrid(length=26e-3, width=2.4e-3, height=5e-3, thickness=1.6e-3, poisson=0.33, side=1,
            fillet=0.0, radius=0.0, draft=0.0, modulus=1.0):
    section = rib_section(height, width, draft, fillet)
    return corrections(
        modulus, poisson, thickness, side, "isogrid", isogrid_lines(length), [section] * 3,
        fillet, radius, draft, length**2 * ROOT3 / 2,
    )


def test_isogrid_stays_isotropic():
    # Three equal families 60 deg apart make an isotropic wall whatever each contributes.
    for matrix in isogrid(fillet=0.8e-3, radius=2e-3, draft=0.05):
        assert matrix[0, 0] == pytest.approx(matrix[1, 1])
        assert matrix[2, 2] == pytest.approx((matrix[0, 0] - matrix[0, 1]) / 2)
        assert matrix == pytest.approx(matrix.T)
        assert matrix[:2, 2] == pytest.approx(np.zeros(2), abs=1e-12 * abs(matrix[0, 0]))


def test_the_side_turns_the_coupling_alone():
    outside, inside = isogrid(side=1), isogrid(side=-1)
    assert inside[0] == pytest.approx(outside[0])
    assert inside[1] == pytest.approx(-outside[1])
    assert inside[2] == pytest.approx(outside[2])


def test_arrays_are_the_scalars():
    widths = np.array([1.2e-3, 2.4e-3, 3.0e-3])
    together = isogrid(width=widths, fillet=0.5e-3, radius=1e-3)
    for index, width in enumerate(widths):
        for whole, one in zip(together, isogrid(width=width, fillet=0.5e-3, radius=1e-3),
                              strict=True):
            assert whole[index] == pytest.approx(one, rel=1e-12)


def test_thin_ribs_need_no_correction():
    # The smeared formula is exact in the limit; what is added fades with width over spacing.
    share = []
    for scale in (1.0, 0.5, 0.25):
        added = isogrid(width=2.4e-3 * scale, height=2.4e-3 * scale, thickness=1.6e-3 * scale)
        skin = skin_stiffness(1.0, 0.33, 1.6e-3 * scale)[0]
        share.append(added[0][0, 0] / skin[0, 0])
    assert share[1] < 0.6 * share[0] and share[2] < 0.6 * share[1]


@pytest.mark.parametrize("rounding", [0.0, 0.5, 2.0])
@pytest.mark.parametrize("poisson", [0.0, 0.45])
def test_isogrid_node_against_plane_stress(rounding, poisson):
    pytest.importorskip("skfem")
    from gridshell.proof.plates.node import triple_lengths

    width = 0.06
    solved = triple_lengths(width, rounding * width, poisson)
    assert triple_node(rounding, poisson, width) == pytest.approx(solved, rel=0.02, abs=0.03)


@pytest.mark.parametrize("angle", [45.0, 65.0, 90.0])
@pytest.mark.parametrize("rounding", [0.0, 1.0])
def test_crossing_node_against_plane_stress(angle, rounding):
    pytest.importorskip("skfem")
    from gridshell.proof.plates.node import crossing_lengths

    solved = crossing_lengths(0.06, rounding * 0.06, np.radians(angle), 0.3)
    formula = crossing_node(rounding, 0.3, np.sin(np.radians(angle)))
    assert formula == pytest.approx(solved, abs=0.03)


@pytest.mark.parametrize("angle", [50.0, 70.0, 90.0])
@pytest.mark.parametrize("rounding", [0.0, 1.0])
def test_crossing_ribs_sway_like_a_frame(angle, rounding):
    pytest.importorskip("skfem")
    from gridshell.proof.cell.geometry import Cell
    from gridshell.proof.plates.node import grid_stiffness

    width, psi = 0.05, np.radians(angle)
    c, s = np.cos(psi / 2), np.sin(psi / 2)
    cell = Cell("diagonal", 2 * c, 2 * s, 1.0, width=width, corner_radius=rounding * width)
    still = np.array([s * s, -c * c, 0.0])  # stretches neither family
    stiffness = still @ grid_stiffness(cell, 0.3) @ still / (8 * c * c * s * s)
    bars = width / np.sin(psi)  # E A/pitch
    assert crossing_sway(rounding, np.sin(psi), width) == pytest.approx(
        stiffness / bars, rel=0.03)


@pytest.mark.parametrize("thickness", [0.3, 0.7, 1.5])
@pytest.mark.parametrize(("height", "fillet"), [(0.8, 0.0), (2.0, 0.4), (4.0, 0.0)])
def test_strip_against_its_section(thickness, height, fillet):
    pytest.importorskip("skfem")
    from gridshell.proof.plates.strip import solved_lengths

    solved = solved_lengths(thickness, 1.0, height, fillet)
    formula = strip_lengths(thickness, rib_section(height, 1.0, 0.0, fillet), fillet)
    for name in ("stretch", "couple", "bend", "shear", "climb", "torsion"):
        assert getattr(formula, name) == pytest.approx(getattr(solved, name), rel=0.2), name
    assert formula.bend == pytest.approx(solved.bend, rel=0.08)
