"""Holes against Kirsch and Inglis; the ring land against its limits."""

import csv
from dataclasses import replace
from pathlib import Path

import numpy as np
import pytest
from scipy.sparse import lil_matrix
from scipy.sparse.linalg import spsolve

from gridshell.define.errors import InputError
from gridshell.define.tables.design import Case
from gridshell.define.tables.mold import Cutout, Mold
from gridshell.tube.assess import assess_tube
from gridshell.tube.strength.cutouts import (
    CutWall,
    WallCutout,
    assess_cutout,
    buckling_left,
    cut_notes,
    cut_section,
    opening_factor,
    piecewise_stiffness,
    stated_cutouts,
)
from gridshell.tube.strength.holes import (
    RingLand,
    ellipse_factor,
    hole_edge_stress,
    land_needed,
    land_stress,
)

HOLES = Path(__file__).parents[2] / "gridshell/proof/shells/hole_sizes.csv"
WALL = CutWall(0.05, 0.004, 8e6, 2e9, 30e6)


def test_kirsch():
    # Kirsch (1898): 3 and -1 in tension, 2 under equal pulls, 4 in shear.
    a = np.linspace(0, np.pi, 721)
    pull = hole_edge_stress(1.0, 0.0, 0.0, a)
    assert pull.max() == pytest.approx(3.0) and pull.min() == pytest.approx(-1.0)
    assert np.abs(hole_edge_stress(0.0, 0.0, 1.0, a)).max() == pytest.approx(4.0)
    # A pressurized closed cylinder, hoop twice axial: 2.5 times the hoop stress (textbook).
    assert hole_edge_stress(0.5, 1.0, 0.0, a).max() == pytest.approx(2.5)


def test_ellipse_and_equivalents():
    assert ellipse_factor(1.0, 1.0) == 3.0
    assert opening_factor(WallCutout("ellipse", 0.01, 0.03))[0] == pytest.approx(7.0)
    # A slot across the pull is Inglis' ellipse of its tip radius: 1 + 2 sqrt(a/rho).
    assert opening_factor(WallCutout("slot", 0.01, 0.04))[0] == pytest.approx(5.0)
    assert opening_factor(WallCutout("slot", 0.04, 0.01))[0] == 3.0
    window = WallCutout("rectangle", 0.03, 0.02, corner_radius=0.01)
    assert opening_factor(window)[0] == pytest.approx(3.0)


@pytest.mark.parametrize("nu", [0.2, 1 / 3, 0.45])
def test_ring_land_limits(nu):
    # No land at all (thickness to zero): Kirsch's hole at the land's outer edge.
    _, beside = land_stress(RingLand(0.01, 0.004, 1e-3, 1e-12, nu), 1.0, 0.0)
    assert beside == pytest.approx(3.0, rel=1e-6)
    # Equal thickness: Kirsch at the hole, whatever the land.
    assert land_stress(RingLand(0.01, 0.004, 1e-3, 1e-3, nu), 1.0, 0.0)[0] == pytest.approx(3.0)
    # Rigid disk in equal pulls: radial stress 2/(1 + v) beside it (Goodier 1933, plane stress).
    _, beside = land_stress(RingLand(0.01, 0.004, 1e-3, 1e6, nu), 1.0, 1.0)
    assert beside == pytest.approx(2 / (1 + nu), rel=1e-4)
    # A very wide land is a thick disk, in equal pulls under 2/((1 - v) + k (1 + v)) of the far
    # stress (Lame, thickness k times the sheet's), and the hole in it doubles that (Kirsch).
    edge, _ = land_stress(RingLand(0.01, 10.0, 1e-3, 2e-3, nu), 1.0, 1.0)
    inside = 2 / ((1 - nu) + 2 * (1 + nu))
    assert edge == pytest.approx(2 * inside, rel=1e-4)


@pytest.mark.parametrize(("ratio", "nu"), [(2.5, 0.3), (0.4, 0.45)])
def test_ring_land_under_opposite_pulls_by_finite_elements(ratio, nu):
    # Pull along and push across: u = U(r) cos 2a, v = V(r) sin 2a, linear elements in r of a disk
    # 60 times the land's radius with Kirsch's far stresses on its rim.
    a, b, R = 1.0, 1.4, 84.0
    r = np.concatenate([np.linspace(a, b, 400)[:-1], np.geomspace(b, R, 1500)])
    n = len(r)
    left, right = r[:-1], r[1:]
    h, middle = right - left, (left + right) / 2
    zero = np.zeros(n - 1)
    # Strains at the middle of each element from U1, V1, U2, V2.
    B = np.stack([
        np.stack([-1 / h, zero, 1 / h, zero], -1),
        np.stack([1 / (2 * middle), 1 / middle, 1 / (2 * middle), 1 / middle], -1),
        np.stack([-1 / middle, -1 / h - 1 / (2 * middle), -1 / middle,
                  1 / h - 1 / (2 * middle)], -1),
    ], 1)
    C = np.array([[1, nu, 0], [nu, 1, 0], [0, 0, (1 - nu) / 2]]) / (1 - nu**2)
    t = np.where(middle < b, ratio, 1.0)
    k = np.einsum("eij,ik,ekl,e->ejl", B, C, B, t * middle * h)
    K = lil_matrix((2 * n, 2 * n))
    for e in range(n - 1):
        K[2 * e:2 * e + 4, 2 * e:2 * e + 4] += k[e]
    load = np.zeros(2 * n)
    load[-2:] = R, -R
    solved = spsolve(K.tocsr(), load)
    # Hoop stress of the first elements, led back to the free edge.
    stress = np.einsum("k,ekj,ej->e", C[1], B, np.stack(
        [solved[0:-3:2], solved[1:-2:2], solved[2:-1:2], solved[3::2]], -1))
    edge = np.polyval(np.polyfit(middle[:6], stress[:6], 2), a)
    found, _ = land_stress(RingLand(a, b - a, 1.0, ratio, nu), 1.0, -1.0)
    assert found == pytest.approx(abs(edge), rel=3e-3)


def test_ring_land_balances_the_section():
    # Equal pulls: force across the plane through the hole equals the far force (statics).
    # Sheet hoop stress 1 - C/r^2, ring A - B/r^2: check with thickness 3 by integration, using
    # the stresses at the hole's edge and at the land's edge that the function returns.
    edge, beside = land_stress(RingLand(1.0, 0.5, 1.0, 3.0, 0.3), 1.0, 1.0)
    A = edge / 2  # at a free edge B = -A a^2, hoop 2 A
    s_r = 3.0 * A * (1 - 1 / 1.5**2)  # sheet radial = 1 + C/b^2
    C = (s_r - 1) * 1.5**2
    R = 400.0
    sheet = (R - 1.5) + C * (1 / R - 1 / 1.5)
    ring = 3.0 * A * (0.5 + (1 - 1 / 1.5))
    assert sheet + ring == pytest.approx(R * (1 + C / R**2), rel=1e-6)
    assert beside == pytest.approx(max(abs(1 + C / 1.5**2), abs(1 - C / 1.5**2)))


def test_thicker_lands_help_and_the_needed_one_is_enough():
    land = RingLand(0.01, 0.006, 1e-3, 1e-3)

    def edge_of(thickness, stress=1.0):
        return float(land_stress(replace(land, thickness=thickness), stress, 0.0)[0])

    found = [edge_of(t * 1e-3) for t in (1, 2, 3, 4)]
    assert np.all(np.diff(found) < 0)
    needed, _ = land_needed(land, 5e6, 12e6)
    assert needed is not None and needed > 1e-3
    edge, beside = land_stress(replace(land, thickness=needed), 5e6, 0.0)
    assert max(edge, beside) <= 12e6
    assert edge_of(0.97 * needed, 5e6) > 12e6
    assert land_needed(land, 5e6, 20e6)[0] == pytest.approx(1e-3)
    none, why = land_needed(replace(land, width=0.001), 5e6, 5e6)
    assert none is None and "widen the land" in why


def test_cut_section_by_integration():
    r, stretch, half, plane = 0.05, 8e6, 0.3, 0.7
    cut = WallCutout("rectangle", 0.03, 2 * half * r, 0.0, 0.2, 0.003)
    t = np.linspace(0, 2 * np.pi, 400001)
    left = np.abs((t - 0.2 + np.pi) % (2 * np.pi) - np.pi) > half
    y = r * np.cos(t - plane)
    EA = np.trapezoid(stretch * left * r, t)
    first = np.trapezoid(stretch * left * r * y, t)
    second = np.trapezoid(stretch * left * r * y**2, t)
    found = cut_section([cut], r, stretch, 2e9, plane)
    assert found.EA == pytest.approx(EA / (2 * np.pi * r * stretch), rel=1e-4)
    assert found.EI == pytest.approx((second - first**2 / EA) / (np.pi * r**3 * stretch), rel=1e-4)
    assert found.shift == pytest.approx(first / EA, rel=1e-3)
    landed = WallCutout("rectangle", 0.03, 2 * half * r, 0.0, 0.2, 0.003, 0.005, 0.012)
    assert cut_section([landed], r, stretch, 2e9, plane).EI > found.EI
    assert cut_section([], r, stretch, 2e9).EI == pytest.approx(1.0)


def test_assessed_hole():
    hole = WallCutout("circle", 0.004, 0.004)
    found = assess_cutout(hole, WALL, 4e6, factor=1.5)
    assert found.factor == pytest.approx(3.0) and found.margin == pytest.approx(30 / 18 - 1)
    assert found.remark == "the plain wall is enough" and not found.notes
    tight = assess_cutout(hole, WALL, 9e6, factor=1.5)
    assert tight.margin < 0 and tight.land_needed > 0.004
    mended = assess_cutout(WallCutout("circle", 0.004, 0.004, land=0.002,
                                  land_thickness=tight.land_needed), WALL, 9e6, factor=1.5)
    assert mended.margin >= 0
    assert assess_cutout(hole, WALL, 0.0).margin == np.inf
    assert len(cut_notes(WallCutout("circle", 0.04, 0.04, land_thickness=0.01), 0.05, 0.004)) == 3


def test_stiffness_along_the_tube():
    x = np.linspace(0, 1, 101)
    cut = WallCutout("circle", 0.04, 0.04, 0.5)
    EI = piecewise_stiffness([cut], x, 100.0, WALL)
    assert EI[0] == 100.0 and EI[50] < 100.0
    assert (EI < 100.0).sum() == pytest.approx(8, abs=1)
    # The weakest plane is that through the opening.
    assert EI[50] == pytest.approx(100 * cut_section([cut], 0.05, 8e6, 2e9, 0.0).EI)


def test_cutouts_of_the_mold_table():
    mold = Mold(cutout=(
        Cutout(shape="round", position=0.2, diameter=0.01),
        Cutout(shape="rectangle", position=0.4, width=0.02, length=0.03),
    ))
    hole, window = stated_cutouts(mold, 0.006)
    assert hole.shape == "circle" and hole.width == 0.01 and hole.land_thickness == 0.006
    assert (window.length, window.width, window.position) == (0.03, 0.02, 0.4)


@pytest.mark.parametrize(("fields", "words"), [
    (("star", 0.1, 0.1), "not one of"), (("circle", 0.1, 0.2), "one size"),
    (("slot", 0.0, 0.1), "above 0"), (("rectangle", 0.1, 0.2), "corner_radius"),
])
def test_refusals(fields, words):
    with pytest.raises(InputError, match=words):
        WallCutout(*fields)


def test_half_the_tube_is_refused():
    with pytest.raises(InputError, match="no longer a closed tube"):
        cut_section([WallCutout("slot", 0.01, 0.2)], 0.05, 8e6, 2e9)


def test_a_hole_leaves_no_more_than_shells_carry():
    # Perfect tubes of shells with a round hole (gridshell/proof/shells), whatever the knockdown.
    with open(HOLES, newline="", encoding="utf-8") as file:
        rows = [{key: float(value) for key, value in row.items()} for row in csv.DictReader(file)]
    assert len(rows) >= 10 and max(row["size"] for row in rows) >= 3
    tight = []
    for row in rows:
        half = row["size"] * np.sqrt(1 / row["slender"])
        for knockdown in (0.2, 0.65, 0.9, 1.0):
            left = knockdown * float(buckling_left(half, 1.0, 1 / row["slender"], knockdown))
            assert left <= row["left"]
            tight.append(left / row["left"])
    assert max(tight) > 0.95  # and not idle
    # Starnes' curve alone, with the factor of a stout tube, was above them.
    assert 0.76 * 0.35 > min(row["left"] for row in rows if row["size"] == 2.0)


def test_the_checks_take_the_hole_with_their_own_knockdown(make_design, make_properties):
    case = (Case("push", compression=100.0, moment=1.0, torque=1.0, pressure=10.0),)
    hole = Mold(cutout=(Cutout(shape="round", position=0.3, diameter=0.06),))
    plain, cut = (assess_tube(make_design("isogrid", case=case, mold=mold), make_properties())
                  for mold in (None, hole))
    wall = cut.wall
    before = {check.name: check for check in plain.cases[0].checks}
    seen = 0
    for check in cut.cases[0].checks:
        if check.name.startswith("general instability") and "combined" not in check.name:
            knock = before[check.name].knockdown
            assert check.knockdown / knock == pytest.approx(float(buckling_left(
                0.03, wall.grid.radius, wall.equivalent.thickness, knock)))
            assert check.allowable < before[check.name].allowable
            assert any("Starnes" in note for note in check.notes)
            seen += 1
    assert seen == 4
