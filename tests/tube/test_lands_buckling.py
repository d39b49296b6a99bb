"""Seam lands in general instability: what `lands_left` allows is on the safe side.

A land holds the whole rib layer, so it only adds to the wall's strain energy; hoop force and shear
flow keep their size by equilibrium, so by Rayleigh's quotient no load of pressure on the wall alone
or of torsion falls. Axial load is not spread evenly: the stiffer land draws more of it. So
compression, and pressure with its push on closed ends, are solved with the waves round coupled by
the lands (Ritz, line-element strains; no other source).
"""

from __future__ import annotations

import numpy as np
import pytest
from scipy.linalg import eigh

from gridshell.tube.buckling.wave_stiffness import LINE_ELEMENT, wave_stiffness
from gridshell.tube.buckling.waves import lowest_wave
from gridshell.wall.stiffness.smeared import family_stiffness, skin_stiffness

POINTS, ROUND = 720, 20
MODULUS, POISSON, SKIN = 1e9, 0.3, 1e-3
FAMILIES = {
    "isogrid": [(0.0, 1.0), (np.sqrt(0.75), 0.5), (np.sqrt(0.75), -0.5)],
    "orthogrid": [(1.0, 0.0), (0.0, 1.0)], "stringers": [(1.0, 0.0)], "rings": [(0.0, 1.0)],
}


def walls(pattern, height, width, pitch, side):
    """A, B, D of the ribbed wall and of a land as deep."""
    A, D = skin_stiffness(MODULUS, POISSON, SKIN)
    B = 0 * A
    shear = MODULUS / (2 * (1 + POISSON))
    for cosine, sine in FAMILIES[pattern]:
        added = family_stiffness(
            cosine, sine, pitch, MODULUS * width * height, side * (SKIN + height) / 2,
            MODULUS * width * height**3 / 12, shear * height * width**3 / 3)
        A, B, D = A + added[0], B + added[1], D + added[2]
    land_A, land_D = skin_stiffness(MODULUS, POISSON, SKIN + height)
    z = side * height / 2
    return (A, B, D), (land_A, z * land_A, land_D + z * z * land_A)


def axial(wall):
    """Axial stiffness of a wall free to contract round the tube."""
    return wall[0][0, 0] - wall[0][0, 1] ** 2 / wall[0][1, 1]


def compression(wall, land, radius, length, m, share, seams, ends=None):
    """Axial load per radius at which m half waves along buckle, all waves round together.

    With ``ends`` the pressure on wall and closed ends instead, whose push the lands draw as they
    draw any axial load; 0 leaves the push out, 1 keeps it.
    """
    angle = (np.arange(POINTS) + 0.5) * 2 * np.pi / POINTS
    apart = 2 * np.pi / seams
    inside = np.abs((angle + apart / 2) % apart - apart / 2) < share * apart / 2
    l, n = m * np.pi / length, np.arange(ROUND + 1)  # noqa: E741 the wave number's own symbol
    c, s = np.cos(np.outer(angle, n)), np.sin(np.outer(angle, n))
    none = np.zeros_like(c)
    strain = np.stack([np.hstack(row) for row in (
        (-l * c, none, none), (none, n / radius * c, c / radius), (-n / radius * s, l * s, none),
        (none, none, l * l * c), (none, none, (n**2 - 1) / radius**2 * c),
        (n / radius**2 * s, l / radius * s, 2 * l * n / radius * s),
    )], axis=1)
    size, stiff, work, whole, hoop = len(n), 0.0, 0.0, 0.0, 0.0
    for part, (A, B, D) in ((~inside, wall), (inside, land)):
        law = np.block([[A, B], [B, D]])
        rows = strain[part]
        stiff = stiff + np.tensordot(rows, np.einsum("ij,pju->piu", law, rows), ([0, 1], [0, 1]))
        force = axial((A, B, D))
        slopes = np.zeros((3 * size, 3 * size))
        slopes[size:2 * size, size:2 * size] = s[part].T @ s[part]
        slopes[2 * size:, 2 * size:] = c[part].T @ c[part]
        work = work + force * l * l * slopes
        whole += force * part.sum() * 2 * np.pi / POINTS
        turned = np.zeros_like(slopes)
        turned[2 * size:, 2 * size:] = (c[part].T @ c[part]) * (n**2 - 1) / radius
        hoop = hoop + turned
    if ends is not None:  # p pi R^2 on each end, against ``whole`` per radius
        work, whole = hoop + ends * np.pi * radius / whole * work, 1.0
        work = (work + work.T) / 2
    keep = np.delete(np.arange(3 * size), size)  # there is no V of n = 0
    value = eigh(work[np.ix_(keep, keep)], stiff[np.ix_(keep, keep)], eigvals_only=True)
    return whole / value[-1]


@pytest.mark.parametrize("pattern", sorted(FAMILIES))
@pytest.mark.parametrize(("share", "seams"), [(0.03, 2), (0.15, 1)])
@pytest.mark.parametrize("side", [-1.0, 1.0])
def test_a_tube_with_lands_carries_what_is_allowed(pattern, share, seams, side):
    wall, land = walls(pattern, 4e-3, 1.2e-3, 20e-3, side)
    radius, length = 0.05, 0.12

    def lowest(part):
        return min(compression(wall, land, radius, length, m, part, seams) for m in range(1, 7))

    ratio = axial(land) / axial(wall)
    left = (1 + share * (ratio - 1)) / (1 + 2 * share * (ratio - 1))
    assert left < 1 and lowest(share) > left * lowest(0.0)


@pytest.mark.parametrize("pattern", sorted(FAMILIES))
@pytest.mark.parametrize(("height", "share"), [(4e-3, 0.15), (1.5e-3, 0.02)])
def test_pressure_on_ends_is_no_lower_with_lands(pattern, height, share):
    wall, land = walls(pattern, height, 1.2e-3, 20e-3, 1.0)
    law = wave_stiffness(*wall, 0.05, LINE_ELEMENT)._replace(
        depth=0.0, high_along=0.0, deep_along=0.0)

    def lowest(part, ends):
        return min(compression(wall, land, 0.05, 0.04, m, part, 1, ends) for m in (1, 2))

    bare = lowest(0.0, 1.0)
    assert bare == pytest.approx(float(lowest_wave("hydrostatic", law, 0.04).load), rel=1e-6)
    assert lowest(0.0, 0.0) > 1.05 * bare  # short tubes: the push counts
    assert lowest(share, 1.0) > 1.003 * bare


def test_the_checks_use_it(make_design, make_properties):
    from gridshell.define.tables.design import Case
    from gridshell.tube.assess import assess_tube

    case = (Case("push", compression=100.0, moment=1.0, torque=1.0, pressure=10.0),)
    bare, made = (assess_tube(make_design(
        "isogrid", tube__segments=2, tube__seam_land=land, case=case), make_properties())
        for land in (0.0, 10e-3))
    radius = float(made.wall.grid.radius)
    share = 2 * 10e-3 / (2 * np.pi * radius)
    more = share * (2e9 * 6.5e-3 / axial((made.wall.curved[0],)) - 1)
    for name in ("compression", "bending"):
        check, plain = (next(
            c for c in tube.cases[0].checks if c.name.endswith("instability in " + name))
            for tube in (made, bare))
        perfect = made.buckling.compression.load * (
            2 * np.pi * radius if name == "compression" else np.pi * radius**2)
        assert check.knockdown / plain.knockdown == pytest.approx(
            (1 + more) / (1 + 2 * more), rel=1e-3)
        assert check.allowable == pytest.approx(perfect * check.knockdown)
        assert any("seam lands draw" in note for note in check.notes)
        assert not any("seam lands draw" in note for note in plain.notes)


def test_without_a_land_it_is_the_law_of_one_wave():
    wall, land = walls("orthogrid", 4e-3, 1.2e-3, 20e-3, 1.0)
    law = wave_stiffness(*wall, 0.05, LINE_ELEMENT)._replace(
        depth=0.0, high_along=0.0, deep_along=0.0)
    found = lowest_wave("compression", law, 0.12)
    ritz = compression(wall, land, 0.05, 0.12, int(found.m), 0.0, 2)
    # n = 1 is the column, which the search leaves out and this keeps
    assert ritz == pytest.approx(2 * np.pi * float(found.load), rel=1e-6)
