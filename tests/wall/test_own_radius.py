"""Ribs at their own radius: against rings and strings written out point by point."""

import dataclasses

import numpy as np
import pytest
from numpy.polynomial.legendre import leggauss

from gridshell.define.tables.design import with_values
from gridshell.wall.assess import assess_wall
from gridshell.wall.stiffness.curvature import node_entries, on_radius
from gridshell.wall.stiffness.smeared import family_entries, symmetric


def ring(area, height, pitch, middle, radius, poisson):
    """A22, B22, D22 of rings (E = 1) from the strain at each height: e - (v/R) times the strain
    gathered below, which the Poisson contraction moves inward; plane geometry, our own."""
    points, weights = leggauss(20)
    z = middle + height / 2 * points
    found = []
    for shape in (lambda z: np.ones_like(z), lambda z: z / (1 + z / radius)):
        inner, share = leggauss(12)
        below = z[:, None] / 2 * (1 + inner)  # from the skin's middle surface up
        found.append(shape(z) - poisson / radius * (z / 2 * (shape(below) @ share)))
    stretch, bend = found
    part = area / pitch * weights / 2 * (1 + z / radius)
    return part @ stretch**2, part @ (stretch * bend), part @ bend**2


@pytest.mark.parametrize("middle", [4e-3, -4e-3])
@pytest.mark.parametrize("poisson", [0.0, 0.38])
def test_rings_against_points(middle, poisson):
    area, height, pitch, radius = 15e-6, 6e-3, 30e-3, 60e-3
    entries = family_entries(
        0.0, 1.0, pitch, area, middle, area * height**2 / 12, 0.0, 1 + middle / radius, poisson
    )
    expected = ring(area, height, pitch, middle, radius, poisson)
    for found, wanted in zip(entries, expected, strict=True):
        # Left out: second order in z/R, which is up to 0.12 at the tip.
        assert found[3] == pytest.approx(wanted, rel=0.002 if poisson == 0 else 0.006)


def test_strings_do_not_feel_the_radius():
    flat = family_entries(1.0, 0.0, 0.03, 2.0, 4e-3, 1e-6, 0.0)
    bent = family_entries(1.0, 0.0, 0.03, 2.0, 4e-3, 1e-6, 0.0, 1.07, 0.4)
    for one, other in zip(flat, bent, strict=True):
        assert one[0] == pytest.approx(other[0], rel=1e-12)


def test_node_terms_without_growth_are_those_of_the_flat_wall(make_design, make_properties):
    for pattern in ("isogrid", "orthogrid", "diagonal"):
        built = assess_wall(make_design(pattern), make_properties())
        args = (built.properties.modulus, built.properties.poisson, built.offsets[0],
                built.rib_grids[0][1])
        flat, same, outward = (node_entries(*args, g) for g in (1.0, 1 + 1e-9, 1.1))
        for one, other, more in zip(flat, same, outward, strict=True):
            assert np.allclose(one, other, rtol=1e-6, atol=1e-6 * max(map(abs, one)))
            assert not np.allclose(one, more, rtol=1e-3)


def test_node_terms_follow_the_parallel_axes(make_design, make_properties):
    # What nodes add to D about the skin is what they add to A times I/A + z^2 (Steiner), to B
    # times z, on a flat wall.
    for pattern in ("isogrid", "orthogrid", "diagonal"):
        built = assess_wall(make_design(pattern), make_properties())
        section, z = built.sections[0], float(built.offsets[0])
        A, B, D = node_entries(built.properties.modulus, built.properties.poisson, z,
                               built.rib_grids[0][1], 1.0)
        spread = float(section.inertia / section.area) + z * z
        assert np.allclose(B, np.multiply(A, z), rtol=1e-12)
        assert np.allclose(D, np.multiply(A, spread), rtol=1e-12)
        assert max(A) > 0


def test_nodes_on_a_longer_circle_lose_what_the_ribs_contract(make_design, make_properties):
    # As in family_entries: g times the length, 1 - v (g - 1) of the hoop strain for each hoop
    # direction, on what nodes have beyond bars; A12 with one, A22 with two, A11 with none.
    built = assess_wall(make_design("orthogrid"), make_properties())
    grid, modulus, poisson, growth = built.rib_grids[0][1], 2e9, 0.35, 1.08
    A, _, _ = node_entries(modulus, poisson, 4e-3, grid, growth)
    turned, section = grid.at(growth), grid.sections[0]
    layer, bars = turned.layer(poisson), turned.bars()
    scale = modulus * section.area * growth / section.even_width
    once = 1 - 0.35 * 0.08
    for entry, part, hoop in ((0, layer.G11, 0), (1, layer.G12, 1), (3, layer.G22, 2)):
        assert A[entry] == pytest.approx(scale * once**hoop * (part - bars[entry]), rel=1e-12)


def test_both_sides_meet_the_flat_wall_on_a_large_radius(make_design, make_properties):
    # Additions fall as 1/R, with opposite sign inside and outside.
    found = {}
    for side in ("inside", "outside"):
        for diameter in (0.2, 2.0):
            built = assess_wall(make_design("orthogrid", ribs__side=side, ribs__height=5e-3,
                                     tube__outside_diameter=diameter), make_properties())
            more = on_radius(built.properties.modulus, built.properties.poisson,
                             built.grid.radius, built.rib_grids[0][1], built.offsets)
            found[side, diameter] = float(symmetric(more[2])[1, 1]) / float(built.D[1, 1])
    assert found["inside", 0.2] > 0 > found["outside", 0.2]
    for side in ("inside", "outside"):
        assert found[side, 2.0] / found[side, 0.2] == pytest.approx(0.1, rel=0.25)


def test_where_no_rib_runs_the_skin_alone_shears(make_design, make_properties):
    # Rings only: without the skin's own shear they buckled as far too weak rings of n = 0.
    from gridshell.tube.buckling.general import buckling_loads

    design = make_design("families")
    family = design.ribs.family[0]
    rings = with_values(design, {
        "ribs.family": (dataclasses.replace(family, angle=np.pi / 2, spacing=0.03),)})
    built = assess_wall(rings, make_properties())
    along, around = (float(part) for part in built.transverse_shear)
    shear = 5 / 6 * 2e9 / 2.7 * 1.5e-3
    assert along == pytest.approx(shear, rel=1e-9)
    assert 0.2 * shear < around < shear  # mostly that of the ribs
    found = buckling_loads(built, ("compression",)).compression
    assert not bool(found.on_edge) and float(found.m) < 40
