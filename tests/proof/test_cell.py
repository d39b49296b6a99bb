"""The solid cell: exact where theory is exact, converged, and what the formulas are held to."""

from dataclasses import replace

import numpy as np
import pytest

pytest.importorskip("skfem")

from gridshell.define.errors import InputError
from gridshell.proof.cell.curved import curved_stiffness, shell_stiffness
from gridshell.proof.cell.formula import Stiffness, cell_formulas
from gridshell.proof.cell.geometry import COARSE, MEDIUM, Cell
from gridshell.proof.cell.homogenize import converged, homogenize
from gridshell.proof.cell.mesh import quarter_cell
from gridshell.wall.stiffness.smeared import skin_stiffness

ROOT3 = np.sqrt(3.0)
CAST = Cell("isogrid", 26e-3 * ROOT3, 26e-3, 1.6e-3, 5e-3, 2.4e-3, np.radians(3.0), 2e-3, 0.8e-3)


def mesh_volume(cell, size=MEDIUM):
    import skfem

    points, corners = quarter_cell(cell, size)
    basis = skfem.Basis(skfem.MeshHex(points, corners), skfem.ElementHex1())
    return float(np.sum(basis.dx)) * 4 / cell.area


def test_plain_plate_is_exact():
    wall = homogenize(Cell("plain", 20e-3, 15e-3, 1.6e-3), 2e9, 0.33, COARSE)
    A, D = skin_stiffness(2e9, 0.33, 1.6e-3)
    assert wall.A == pytest.approx(A, rel=1e-8, abs=1e-8 * A[0, 0])
    assert wall.D == pytest.approx(D, rel=1e-8, abs=1e-8 * D[0, 0])
    assert np.abs(wall.B).max() < 1e-9 * A[0, 0] * 1.6e-3


def test_volume_of_the_cell():
    # Straight ribs: area of the pockets is that of similar triangles, 1 - (1 - sqrt3 b/a)^2.
    straight = replace(CAST, draft=0.0, corner_radius=0.0, root_fillet=0.0)
    share = 1 - (1 - ROOT3 * 2.4 / 26) ** 2
    assert mesh_volume(straight) == pytest.approx(1.6e-3 + 5e-3 * share, rel=1e-12)
    square = Cell("orthogrid", 30e-3, 26e-3, 1.6e-3, 5e-3, 2.4e-3)
    share = 1 - (1 - 2.4 / 30) * (1 - 2.4 / 26)
    assert mesh_volume(square) == pytest.approx(1.6e-3 + 5e-3 * share, rel=1e-12)
    # Rounded corners, straight flanks: each corner of angle g keeps r^2 (cot(g/2) - (pi - g)/2).
    rounded = replace(straight, corner_radius=2e-3)
    filled = 2 * 3 * 4e-6 * (ROOT3 - np.pi / 3) / (26e-3**2 * ROOT3 / 2)
    assert mesh_volume(rounded) - mesh_volume(straight) == pytest.approx(5e-3 * filled, rel=1e-6)


def test_isogrid_is_isotropic_and_symmetric():
    wall = homogenize(CAST, 1.0, 0.45, COARSE)
    for matrix in (wall.A, wall.B, wall.D):
        assert matrix[0, 0] == pytest.approx(matrix[1, 1], rel=1e-6)
        assert matrix[2, 2] == pytest.approx((matrix[0, 0] - matrix[0, 1]) / 2, rel=1e-6)
        assert matrix == pytest.approx(matrix.T)


def test_orientation_and_side_are_mirrors():
    other = replace(CAST, along_axis=26e-3, round_hoop=26e-3 * ROOT3 * 1.05, orientation="axial",
                    side=-1)
    here = replace(CAST, along_axis=26e-3 * ROOT3 * 1.05)
    one, two = homogenize(here, 1.0, 0.4, COARSE), homogenize(other, 1.0, 0.4, COARSE)
    swap = [1, 0, 2]
    assert two.A[np.ix_(swap, swap)] == pytest.approx(one.A, rel=1e-6, abs=1e-12)
    assert two.B[np.ix_(swap, swap)] == pytest.approx(-one.B, rel=1e-6, abs=1e-12)
    assert two.D[np.ix_(swap, swap)] == pytest.approx(one.D, rel=1e-6, abs=1e-14)


@pytest.mark.long
def test_finer_mesh_changes_little():
    coarse = homogenize(CAST, 1.0, 0.4, COARSE)
    medium = homogenize(CAST, 1.0, 0.4, MEDIUM)
    for name, most in (("A", 0.015), ("B", 0.04), ("D", 0.04)):
        ratio = getattr(coarse, name)[0, 0] / getattr(medium, name)[0, 0]
        assert 1.0 < ratio < 1 + most  # displacement elements approach from above


@pytest.mark.parametrize("cell", [
    CAST,
    pytest.param(replace(CAST, draft=0.0, corner_radius=0.0, root_fillet=0.0),
                 marks=pytest.mark.long),
    Cell("orthogrid", 30e-3, 26e-3, 1.6e-3, 5e-3, 2.4e-3, 0.05, 2e-3, 0.8e-3),
    pytest.param(Cell("diagonal", 36.8e-3, 36.8e-3, 1.6e-3, 4e-3, 2e-3, 0.0, 1e-3, 0.5e-3),
                 marks=pytest.mark.long),
])
def test_fat_rib_formula_halves_the_error_at_least(cell):
    wall, _ = converged(cell, 1.0, 0.4)
    handbook, improved = cell_formulas(cell, 1.0, 0.4)
    for name, most in (("A", 0.015), ("B", 0.045), ("D", 0.035)):
        solid = getattr(wall, name)
        old = getattr(handbook, name)[0, 0] / solid[0, 0] - 1
        new = getattr(improved, name)[0, 0] / solid[0, 0] - 1
        assert abs(new) < abs(old) / 2
        assert abs(new) < most


def test_curved_plain_tube_is_exact():
    t, radius, poisson = 1.6e-3, 20e-3, 0.3
    found = curved_stiffness(Cell("plain", 5e-3, 5e-3, t, radius=radius), 1.0, poisson, COARSE)
    inner, outer = radius - t / 2, radius + t / 2
    area = 2 * np.pi * radius
    assert found[0, 0] * area == pytest.approx(np.pi * (outer**2 - inner**2), rel=1e-5)
    torsion = np.pi / 2 * (outer**4 - inner**4) / (2 * (1 + poisson))  # exact for a round tube
    assert found[2, 2] * area * radius**2 == pytest.approx(torsion, rel=1e-6)


def test_curved_cell_tends_to_the_flat_one():
    flat = homogenize(CAST, 1.0, 0.4, COARSE)
    wall = Stiffness(flat.A, flat.B, flat.D)
    off = []
    for radius in (0.1, 0.4):
        found = curved_stiffness(replace(CAST, radius=radius), 1.0, 0.4, COARSE)
        shell = shell_stiffness(wall, radius)
        off.append([abs(shell[k, k] / found[k, k] - 1) for k in (0, 2)])
    assert max(off[1]) < 0.005
    assert all(far < near for near, far in zip(off[0], off[1], strict=True))


def test_what_cannot_be_meshed_says_so():
    with pytest.raises(InputError, match=r"corner_radius .* leaves no"):
        quarter_cell(replace(CAST, corner_radius=9e-3))
    with pytest.raises(InputError, match="families"):
        quarter_cell(replace(CAST, pattern="families"))


def test_stretched_isogrid():
    # Whole cells round a tube, and every radius but that of the skin, stretch the triangles.
    # Without sway of its own the formula moved by 0.11 (A11) and 0.26 (D11) per unit of stretch
    # against the cell.
    shape = {"thickness": 2e-3, "height": 6e-3, "width": 3e-3, "draft": 0.0,
             "corner_radius": 3e-3, "root_fillet": 0.0}
    ratios = []
    for stretch in (0.95, 1.05):
        x, y = 28e-3 * 3**0.5, 28e-3 * stretch
        solid = homogenize(Cell("isogrid", x, y, *shape.values()), 1.0, 0.3, COARSE)
        formula = cell_formulas(Cell("isogrid", x, y, **shape), 1.0, 0.3)[1]
        ratios.append([formula.A[0, 0] / solid.A[0, 0], formula.A[1, 1] / solid.A[1, 1],
                       formula.D[0, 0] / solid.D[0, 0], formula.D[1, 1] / solid.D[1, 1]])
    slope = np.subtract(ratios[1], ratios[0]) / 0.1
    assert abs(slope[0]) < 0.07 and np.abs(slope).max() < 0.13
