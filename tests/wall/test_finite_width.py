"""Ribs of finite width: the tables against their own finite elements, limits and symmetries."""

from __future__ import annotations

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from gridshell.wall.assess import assess_wall
from gridshell.wall.geometry.lattice import FamilyLine
from gridshell.wall.geometry.mass import pocket_outline_at
from gridshell.wall.geometry.rib_section import rib_section
from gridshell.wall.stiffness.finite_width import RibGrid, finite_width
from gridshell.wall.stiffness.forms import capped, least_ratio, ratios
from gridshell.wall.stiffness.lookup import found_at, refined, value_at
from gridshell.wall.stiffness.rib_layer import (
    _thin,
    bars_share,
    radius_of,
    rib_layer,
    rounding_of,
    solid_share,
)
from gridshell.wall.stiffness.smeared import family_stiffness, skin_stiffness, symmetric
from gridshell.wall.stiffness.strip import series_bound, strip_lengths

ROOT3 = np.sqrt(3.0)
VALUES = ("stretch", "couple", "bend", "shear", "flow_offset", "torsion")


def isogrid_lines(length, name="hoop"):
    row = length * ROOT3 / 2
    if name == "axial":
        return [FamilyLine(1.0, 0.0, row, "axial"), FamilyLine(0.5, ROOT3 / 2, row, "diagonal"),
                FamilyLine(0.5, -ROOT3 / 2, row, "diagonal")]
    return [FamilyLine(0.0, 1.0, row, "hoop"), FamilyLine(ROOT3 / 2, 0.5, row, "diagonal"),
            FamilyLine(ROOT3 / 2, -0.5, row, "diagonal")]


def crossing_lines(angle, pitch=1.0):
    c, s = np.cos(angle), np.sin(angle)
    return [FamilyLine(c, s, pitch, "diagonal"), FamilyLine(c, -s, pitch, "diagonal")]


def isogrid(length=26e-3, width=2.4e-3, height=5e-3, thickness=1.6e-3, poisson=0.33, side=1,
            fillet=0.0, radius=0.0, draft=0.0, modulus=1.0, name="hoop"):
    section = rib_section(height, width, draft, fillet)
    found = finite_width(modulus, poisson, thickness, side, RibGrid(
        "isogrid", isogrid_lines(length, name), [section] * 3, length**2 * ROOT3 / 2, fillet,
        radius, draft))
    return tuple(symmetric(part) for part in (found.A, found.B, found.D))


def test_bars_of_vanishing_width_are_sums_over_directions():
    # Mean of c^4, s^4, c^2 s^2 over the directions, twice: three at 60 deg make an isotropic layer,
    # A11 = A22 = 3 A12 = 3 A66 (NASA/SP-8007-2020/REV 2, Eq. 92-95).
    assert _thin("isogrid", 1.0) == pytest.approx((3 / 4, 3 / 4, 1 / 4, 1 / 4))
    assert _thin("orthogrid", 0.5) == pytest.approx((4 / 3, 2 / 3, 0.0, 0.0))
    c, s = np.cos(np.radians(30)), np.sin(np.radians(30))
    assert _thin("diagonal", 30.0) == pytest.approx(
        (2 * c**4, 2 * s**4, 2 * c**2 * s**2, 2 * c**2 * s**2))


def test_isogrid_stays_isotropic():
    # Three equal families 60 deg apart make an isotropic wall whatever each contributes.
    for matrix in isogrid(fillet=0.8e-3, radius=2e-3, draft=0.05):
        assert matrix[0, 0] == pytest.approx(matrix[1, 1], rel=1e-4)
        assert matrix[2, 2] == pytest.approx((matrix[0, 0] - matrix[0, 1]) / 2, rel=1e-3)
        assert matrix == pytest.approx(matrix.T)
        assert matrix[:2, 2] == pytest.approx(np.zeros(2), abs=1e-12 * abs(matrix[0, 0]))


def test_turned_by_a_right_angle_the_isogrid_is_the_same():
    for one, other in zip(isogrid(radius=1e-3), isogrid(radius=1e-3, name="axial"), strict=True):
        assert other == pytest.approx(one[[1, 0, 2]][:, [1, 0, 2]])


def test_the_side_turns_the_coupling_alone():
    outside, inside = isogrid(side=1), isogrid(side=-1)
    assert inside[0] == pytest.approx(outside[0])
    assert inside[1] == pytest.approx(-outside[1])
    assert inside[2] == pytest.approx(outside[2])
    assert outside[1][0, 0] > 0


def test_arrays_are_the_scalars():
    widths = np.array([1.2e-3, 2.4e-3, 3.0e-3, 14e-3])
    together = isogrid(width=widths, fillet=0.5e-3, radius=1e-3)
    for index, width in enumerate(widths):
        for whole, one in zip(together, isogrid(width=width, fillet=0.5e-3, radius=1e-3),
                              strict=True):
            assert whole[index] == pytest.approx(one, rel=1e-12)


def test_thin_ribs_are_the_handbooks():
    # The smeared formula is exact in the limit: what is beyond it fades with the width of a rib.
    gaps = []
    for scale in (1.0, 0.1, 0.01):
        sizes = {"width": 2.4e-3 * scale, "height": 5e-3, "thickness": 1.6e-3}
        found = isogrid(**sizes)
        section = rib_section(sizes["height"], sizes["width"])
        A, D = skin_stiffness(1.0, 0.33, sizes["thickness"])
        B = np.zeros((3, 3))
        for line in isogrid_lines(26e-3):
            more = family_stiffness(
                line.cosine, line.sine, line.pitch, section.area,
                sizes["thickness"] / 2 + section.centroid, section.inertia,
                section.torsion / (2 * 1.33))
            A, B, D = A + more[0], B + more[1], D + more[2]
        gaps.append([abs(one[0, 0] / other[0, 0] - 1)
                     for one, other in zip(found, (A, B, D), strict=True)])
    gaps = np.array(gaps)
    assert np.all(gaps[0] > 0.02)
    assert np.all(gaps[1] < 0.3 * gaps[0]) and np.all(gaps[2] < 0.3 * gaps[1])


@pytest.mark.parametrize("formula", ["strips", "layers"])
def test_ribs_that_close_the_pockets_are_a_plate(formula):
    # Skin and ribs are one plate of thickness t + h then: classical plate theory about z = 0.
    t, h, v = 1.0, 2.0, 0.3
    width = 10.0 if formula == "layers" else 9.99
    section = rib_section(h, width)
    lines = [FamilyLine(1.0, 0.0, 10.0, "axial"), FamilyLine(0.0, 1.0, 10.0, "hoop")]
    found = finite_width(1.0, v, t, 1.0, RibGrid("orthogrid", lines, [section] * 2, 100.0))
    plane = 1 / (1 - v * v)
    middle = h / 2  # of the whole plate, above the skin's middle surface
    for part, moment in ((found.A, t + h), (found.B, (t + h) * middle),
                         (found.D, (t + h) ** 3 / 12 + (t + h) * middle**2)):
        wanted = [plane * moment, v * plane * moment, 0, plane * moment, 0, moment / (2 * (1 + v))]
        assert [float(x) for x in part] == pytest.approx(wanted, rel=5e-3)


# --- strips -------------------------------------------------------------------------------------


@pytest.mark.parametrize(("thickness", "height", "fillet", "draft"), [
    (0.13, 0.15, 0.0, 0.0), (0.45, 0.8, 0.0, 0.0), (0.45, 2.4, 0.4, 0.0), (0.8, 4.0, 0.7, 0.0),
    (1.3, 0.45, 0.2, 0.0), (4.0, 0.8, 0.0, 0.0), (0.7, 2.0, 0.0, 0.05), (0.4, 0.8, 0.3, 0.2),
])
def test_strip_against_its_section(thickness, height, fillet, draft):
    # Sections between those of the table, solved by finite elements here.
    pytest.importorskip("skfem")
    from gridshell.proof.plates.strip import solved_lengths

    tip = 1 - 2 * height * np.tan(draft)
    solved = solved_lengths(thickness, tip, height, fillet, draft)
    found = strip_lengths(thickness, rib_section(height, tip, draft, fillet), fillet)
    near = 0.05 if draft == 0 else 0.12
    for name in VALUES:
        assert getattr(found, name) == pytest.approx(getattr(solved, name), rel=near), name


@settings(deadline=None, max_examples=150)
@given(thickness=st.floats(-4, 4), height=st.floats(-5, 3), fillet=st.floats(0, 1.5),
       tip=st.floats(0.01, 1.0))
def test_a_strip_is_between_nothing_and_its_bound(thickness, height, fillet, tip):
    t, h = np.exp(thickness), np.exp(height)
    fillet = min(fillet, h)
    draft = np.arctan((1 - tip) / 2 / h)
    section = rib_section(h, tip, draft, fillet)
    found, bound = strip_lengths(t, section, fillet), series_bound(t, 1.0, tip, h, fillet)
    scale = t * np.sqrt(12.0)
    forms = [(x.stretch, x.couple / scale, x.bend) for x in (found, bound)]
    least, most = ratios(*forms)
    # ratios lose digits where a skin is fifty times as thick as its rib is wide
    assert float(least) >= -1e-12 and float(most) <= 1 + 1e-8  # but for rounding
    for name in ("shear", "flow_offset"):
        assert 0 < getattr(found, name) <= getattr(bound, name) * (1 + 1e-9), name
    assert found.torsion > 0
    assert found.free_torsion(t) > -1e-9 * found.torsion


def test_columns_in_series_are_plates_about_another_surface():
    # Compliance of a plate of depth t + h about z = 0, h/2 below its middle: invert A, B, D.
    t, h = 1.3, 0.7
    bound = series_bound(t, 1.0, 1.0, h, 0.0)
    A, B, D = t + h, (t + h) * h / 2, (t + h) ** 3 / 12 + (t + h) * h**2 / 4
    inverse = np.linalg.inv([[A, B], [B, D]])
    assert bound.stretch == pytest.approx(1 - inverse[0, 0] * t)
    assert bound.couple / t**3 == pytest.approx(-inverse[0, 1])
    assert bound.bend == pytest.approx(1 - inverse[1, 1] * t**3 / 12)
    assert bound.shear == pytest.approx(1 - t / (t + h))
    assert bound.flow_offset * t == pytest.approx(h / 2 * 1.0)
    assert bound.torsion == pytest.approx(((t + h) ** 3 - t**3) / 3)


def test_series_bound_of_flanks_and_fillets_against_many_columns():
    t, tip, h, fillet = 0.6, 0.7, 1.5, 0.4
    root = 1.0
    y = (np.arange(200_000) + 0.5) / 200_000
    flank = (root - tip) / 2 * y  # both flanks together
    columns = [(tip, np.array([h])), (2 * (root - tip) / 2, h * y),
               (2 * fillet, fillet * (1 - np.sqrt(1 - (1 - y) ** 2)))]
    assert flank.size
    found = series_bound(t, root, tip, h, fillet)
    d = [(w, x / t) for w, x in columns]
    wanted = {
        "stretch": sum(w * np.mean(x * (1 - x + x * x) / (1 + x) ** 3) for w, x in d),
        "bend": sum(w * np.mean(1 - 1 / (1 + x) ** 3) for w, x in d),
        "shear": sum(w * np.mean(x / (1 + x)) for w, x in d),
        "flow_offset": sum(w * np.mean(x) / 2 for w, x in d),
        "torsion": sum(w * np.mean((1 + x) ** 3 - 1) * t**3 / 3 for w, x in d),
    }
    for name, value in wanted.items():
        assert getattr(found, name) == pytest.approx(value, rel=0.02), name


def test_a_tall_rib_adds_its_own_torsion_alone():
    # Saint-Venant: a thin rectangle has h b^3/3 (Timoshenko and Goodier, section 109).
    low, high = (strip_lengths(1.0, rib_section(h, 0.5), 0.0) for h in (10.0, 14.0))
    assert high.torsion - low.torsion == pytest.approx(4.0 * 0.5**3 / 3)
    assert high.stretch == pytest.approx(low.stretch, rel=0.01)


# --- layers -------------------------------------------------------------------------------------


def layer(pattern, shape, width, radius, poisson):
    """A layer of a solved and of a read grid; lengths over the node distance."""
    from gridshell.proof.cell.formula import cell_lines
    from gridshell.proof.cell.geometry import Cell
    from gridshell.proof.plates.node import grid_stiffness
    from gridshell.wall.stiffness.rib_layer import unit_rectangle

    x, y, _ = unit_rectangle(pattern, shape)
    cell = Cell(pattern, x, y, 1.0, width=width, corner_radius=radius)
    lines, node_area = cell_lines(cell)
    return (grid_stiffness(cell, poisson),
            rib_layer(pattern, lines, node_area, width, radius, poisson))


@pytest.mark.parametrize(("pattern", "shape", "width", "radius", "poisson", "near"), [
    ("isogrid", 1.0, 0.06, 0.0, 0.3, 0.01), ("isogrid", 1.0, 0.12, 0.07, 0.45, 0.01),
    ("isogrid", 1.0, 0.31, 0.02, 0.0, 0.01), ("isogrid", 1.12, 0.09, 0.05, 0.3, 0.02),
    ("orthogrid", 1.0, 0.12, 0.1, 0.4, 0.01), ("orthogrid", 0.5, 0.2, 0.0, 0.3, 0.015),
    ("orthogrid", 0.8, 0.6, 0.1, 0.2, 0.015), ("diagonal", 45.0, 0.1, 0.06, 0.35, 0.01),
    ("diagonal", 38.0, 0.2, 0.0, 0.3, 0.015), ("diagonal", 26.0, 0.1, 0.02, 0.3, 0.02),
])
def test_layer_against_plane_stress(pattern, shape, width, radius, poisson, near):
    # Shapes between those of the table, at other Poisson's ratios than its zero.
    pytest.importorskip("skfem")
    solved, found = layer(pattern, shape, width, radius, poisson)
    largest = np.sqrt(solved[0, 0] * solved[1, 1])
    assert found.G11 == pytest.approx(solved[0, 0], rel=near)
    assert found.G22 == pytest.approx(solved[1, 1], rel=near)
    assert found.G12 == pytest.approx(solved[0, 1], abs=near * largest)
    assert found.G66 == pytest.approx(solved[2, 2], rel=near, abs=0.2 * near * largest)


def test_patterns_turned_by_a_right_angle_swap_axial_and_hoop():
    tall = rib_layer("orthogrid", [FamilyLine(1.0, 0.0, 2.0, "axial"),
                                   FamilyLine(0.0, 1.0, 1.0, "hoop")], 2.0, 0.2, 0.1, 0.3)
    wide = rib_layer("orthogrid", [FamilyLine(1.0, 0.0, 1.0, "axial"),
                                   FamilyLine(0.0, 1.0, 2.0, "hoop")], 2.0, 0.2, 0.1, 0.3)
    assert (tall.G11, tall.G22, tall.G12, tall.G66) == pytest.approx(
        (wide.G22, wide.G11, wide.G12, wide.G66))
    assert tall.G22 > 1.5 * tall.G11  # hoop ribs twice as close
    area = 1 / np.sin(1.0)
    flat, steep = (rib_layer("diagonal", crossing_lines(angle), area, 0.1, 0.05, 0.3)
                   for angle in (0.5, np.pi / 2 - 0.5))
    assert (flat.G11, flat.G22, flat.G66) == pytest.approx((steep.G22, steep.G11, steep.G66))
    assert flat.G11 > 3 * flat.G22


def test_solid_share_by_counting_points():
    random = np.random.default_rng(3)
    # A square pocket of side 1 - b with corners r: 1 - (1-b)^2 + (4 - pi) r^2; and an equilateral
    # triangle, by distance to its sides and corners.
    solid, corners = solid_share("orthogrid", [1.0, 1.0], 1.0, [0.2, 0.2], 0.1)
    assert solid == pytest.approx(1 - 0.64 + (4 - np.pi) * 0.01)
    assert corners == pytest.approx((4 - np.pi) * 0.01)
    width, radius, row = 0.15, 0.08, ROOT3 / 2
    points = random.random((400_000, 2)) * [1.0, row]
    inside = ((points[:, 1] < ROOT3 * points[:, 0]) & (points[:, 1] < ROOT3 * (1 - points[:, 0])))
    x, y = points[inside].T
    away = np.stack([y, (ROOT3 * x - y) / 2, (ROOT3 * (1 - x) - y) / 2])
    inner = width / 2 + radius  # sides of the triangle on whose corners the arcs are centered
    centers = np.array([[inner * ROOT3, inner], [1 - inner * ROOT3, inner],
                        [0.5, row - 2 * inner]])
    core = np.all(away >= inner, axis=0)
    near = np.min([np.hypot(x - cx, y - cy) for cx, cy in centers], axis=0) < radius
    sides = [np.hypot(*(centers[i] - centers[i - 1])) for i in range(3)]
    assert np.ptp(sides) < 1e-12
    along = (away >= width / 2).all(axis=0) & ~core & ~near
    # Beside the core: within the slabs between two arcs' centers.
    slab = np.zeros(x.shape, bool)
    for i in range(3):
        a, b = centers[i], centers[(i + 1) % 3]
        t = ((x - a[0]) * (b - a)[0] + (y - a[1]) * (b - a)[1]) / sides[0] ** 2
        off = np.abs((x - a[0]) * (b - a)[1] - (y - a[1]) * (b - a)[0]) / sides[0]
        slab |= (t > 0) & (t < 1) & (off < radius)
    pocket = core | near | (along & slab)
    found, _ = solid_share("isogrid", [row] * 3, row, [width] * 3, radius)
    assert found == pytest.approx(1 - pocket.mean(), abs=0.004)


def test_rounding_is_undone_by_radius():
    for width, room, radius in ((0.1, 0.2, 0.05), (0.02, 0.4, 0.4), (0.3, 0.05, 0.0)):
        rounding = float(rounding_of(width, room, radius))
        assert 0 <= rounding <= 1
        assert radius_of(width, room, rounding) == pytest.approx(radius, abs=1e-15)


@pytest.mark.parametrize("angle", [0.3, 0.8, np.pi / 4])
def test_bars_that_cross_keep_a_lower_bound_of_solved_nodes(angle):
    # Complementary energy is least for the true stress, so bars whose stresses add where they
    # cross are never stiffer than the solved grid.
    pytest.importorskip("skfem")
    solved, _ = layer("diagonal", np.degrees(angle), 0.15, 0.0, 0.3)
    pitch = np.sin(2 * angle)
    lines = crossing_lines(angle, pitch)
    section = rib_section(1.0, 0.15)
    kept = float(bars_share(lines, [section] * 2, 0.3))
    bars = sum(0.15 / pitch * np.outer(line.pull, line.pull) for line in lines)
    assert np.linalg.eigvalsh(solved - kept * bars)[0] > -1e-3 * solved[0, 0]
    assert 0.8 < kept < 1


def test_share_of_bars_that_cross_at_right_angles():
    # 1/(1 + v phi): two bars in equal and opposite stress, each 1 - phi of it free.
    lines = [FamilyLine(1.0, 0.0, 1.0, "a"), FamilyLine(0.0, 1.0, 1.0, "b")]
    section = rib_section(2.0, 0.2)
    assert float(bars_share(lines, [section] * 2, 0.3)) == pytest.approx(1 / 1.06)
    assert float(bars_share(lines[:1], [section], 0.3)) == 1.0


# --- forms and tables ---------------------------------------------------------------------------


@settings(deadline=None, max_examples=100)
@given(values=st.lists(st.floats(-2, 2), min_size=12, max_size=12), share=st.floats(0.05, 2.0))
def test_caps_of_forms_against_numpy(values, share):
    one, two = (np.array(values[k:k + 4]).reshape(2, 2) for k in (0, 4))
    part, bound = one @ one.T + 1e-3 * np.eye(2), two @ two.T + 0.1 * np.eye(2)
    entries = [(m[0, 0], m[0, 1], m[1, 1]) for m in (part, bound)]
    factor = np.linalg.inv(np.linalg.cholesky(bound))
    exact, vectors = np.linalg.eigh(factor @ part @ factor.T)
    assert [float(x) for x in ratios(*entries)] == pytest.approx(list(exact), rel=1e-6, abs=1e-9)
    held = capped(*entries, share)
    back = np.linalg.inv(factor)
    wanted = back @ (vectors * np.minimum(exact, share)) @ vectors.T @ back.T
    assert [float(x) for x in held] == pytest.approx(
        [wanted[0, 0], wanted[0, 1], wanted[1, 1]], rel=1e-6, abs=1e-7)


def test_least_ratio_with_and_without_shear_coupling():
    part = [1.0, 0.0, 0.0, 1.0, 0.0, 2.0]
    assert float(least_ratio([2.0, 0.0, 0.0, 3.0, 0.0, 5.0], part)) == pytest.approx(2.0)
    assert float(least_ratio([2.0, 0.0, 0.0, 3.0, 0.0, 3.0], part)) == pytest.approx(1.5)
    exact = np.linalg.eigvalsh(np.array([[2, 0, 2**-0.5], [0, 3, 0], [2**-0.5, 0, 2.5]]))[0]
    assert float(least_ratio([2.0, 0.0, 1.0, 3.0, 0.0, 5.0], part)) == pytest.approx(exact)
    # Each of an array by itself, whether or not a neighbor is coupled.
    many = least_ratio([2.0, 0.0, np.array([0.0, 1.0]), 3.0, 0.0, 5.0], part)
    assert many == pytest.approx([2.0, exact])


def test_a_table_stays_between_its_neighbors_and_holds_its_edge():
    axes = ((0.0, 1.0, 4.0), (0.0, 2.0), (0.0, 1.0))
    values = np.zeros((3, 2, 2, 2))
    values[..., 0] = np.array([0.0, 1.0, 1.5])[:, None, None]
    values[..., 1] = np.array([0.0, 3.0])[None, :, None] + np.array([0.0, 1.0])[None, None, :]
    table = refined(axes, values, (9, 5, 3))

    def read(*coordinates):
        place = found_at(table.grid, *coordinates)
        return value_at(table.rows, 0, place), value_at(table.rows, 1, place)

    for x, value in ((0.0, 0.0), (1.0, 1.0), (4.0, 1.5), (-3.0, 0.0), (9.0, 1.5)):
        first, second = read(x, 0.5, 0.25)
        assert float(first) == pytest.approx(value)
        assert float(second) == pytest.approx(0.75 + 0.25)
    points = np.linspace(0, 4, 200)
    first, _ = read(points, np.zeros(200), 1.0)
    assert np.isnan(read(np.nan, 0.5, 0.25)[0])
    assert np.all(np.diff(first) >= 0) and first.max() <= 1.5


@pytest.mark.parametrize("side", [1, -1])
@pytest.mark.parametrize("turned", [False, True])
def test_one_set_of_parallel_ribs_against_its_section(side, turned):
    # Plane strain across and Saint-Venant warping by finite elements; along the ribs E A is exact.
    pytest.importorskip("skfem")
    from gridshell.proof.cell.geometry import Cell
    from gridshell.proof.plates.strip import section_stiffness

    t, width, height, pitch, v = 0.8, 1.0, 1.5, 9.0, 0.4
    across, twist = section_stiffness(
        Cell("orthogrid", 1.0, 1.0, t, height, width, 0.0, 0.0, 0.2), pitch, v)
    line = FamilyLine(0.0, 1.0, pitch, "f") if turned else FamilyLine(1.0, 0.0, pitch, "f")
    section = rib_section(height, width, 0.0, 0.2)
    found = finite_width(1.0, v, t, side, RibGrid("families", [line], [section], 1.0, 0.2))
    A, B, D = (symmetric(part) for part in (found.A, found.B, found.D))
    i = 0 if turned else 1  # across the ribs
    for matrix, (row, column), sign in ((A, (0, 0), 1), (B, (0, 1), side), (D, (1, 1), 1)):
        assert matrix[i, i] == pytest.approx(sign * across[row, column], rel=0.03)
        assert matrix[2, 2] == pytest.approx(sign * twist[row, column], rel=0.06)
    # With the strain along held, the ribs' own E A/pitch and what the skin's contraction gives.
    plain = t / (1 - v * v)
    along = A[1 - i, 1 - i] - float(section.area) / pitch - plain
    # (Gauss points along the fillet cut E A by up to a thousandth.)
    assert along == pytest.approx(v * v * (A[i, i] - plain), abs=1e-3 * float(section.area) / pitch)
    assert A[0, 1] == pytest.approx(v * A[i, i])


def test_sharp_pockets_stay_sharp_as_they_are_cast(make_design, make_properties):
    # As the outline of the pocket that is weighed and cast, on a tube so wide that it is flat.
    for radius in (0.0, 1e-3):
        built = assess_wall(make_design(
            "isogrid", tube__outside_diameter=2e3, ribs__draft=0.2, ribs__corner_radius=radius),
            make_properties())
        for depth in (0.0, 2e-3, 5e-3):
            found = built.rib_grids[0][1].corner_at(depth)
            outline = float(pocket_outline_at(built.design, built.grid, depth)[2])
            assert float(found) == pytest.approx(outline, rel=1e-3, abs=1e-9)
            assert (found > 0) == (radius > 0)
