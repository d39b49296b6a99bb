"""Plate buckling by Ritz against published plate factors and the handbook's constants."""

import numpy as np
import pytest
from plate_constants import rib_constant, triangle, triangle_constant

from gridshell.define.errors import InputError
from gridshell.proof.plates.pocket import (
    CLAMPED,
    FREE,
    HELD,
    Edge,
    critical_factor,
)
from gridshell.tube.buckling.local import RIB_CONSTANT, SKIN_CONSTANT


def rectangle(a, b):
    return [(0.0, 0.0), (a, 0.0), (a, b), (0.0, b)]


# Timoshenko and Gere, Theory of Elastic Stability, chapter 9: factor k in k pi^2 D/b^2 (9.2: four
# held edges in compression; 9.7: in shear; values from memory).
@pytest.mark.parametrize(("aspect", "k"), [(0.6, 5.14), (1.0, 4.0), (1.4, 4.47), (2.0, 4.0)])
def test_held_rectangle_in_compression(aspect, k):
    found = critical_factor(rectangle(aspect, 1.0), [HELD] * 4, (1, 0, 0), 1.0, 0.3)
    assert found / np.pi**2 == pytest.approx(k, rel=2e-3)


@pytest.mark.parametrize(("aspect", "k"), [(1.0, 9.34), (1.5, 7.1), (2.0, 6.6)])
def test_held_rectangle_in_shear(aspect, k):
    found = critical_factor(rectangle(aspect, 1.0), [HELD] * 4, (0, 0, 1), 1.0, 0.3, degree=11)
    assert found / np.pi**2 == pytest.approx(k, rel=1e-2)


def test_clamped_square_in_compression():
    # k = 10.07, Timoshenko and Gere, 9.4 (from memory).
    found = critical_factor(rectangle(1.0, 1.0), [CLAMPED] * 4, (1, 0, 0), 1.0, 0.3)
    assert found / np.pi**2 == pytest.approx(10.07, rel=1e-3)


def test_one_free_edge():
    # Held on three sides, free on the fourth: k = 1.44 for a square, v = 0.25 (Timoshenko and
    # Gere, 9.4, from memory); long plate, exact: k -> 6 (1 - v)/pi^2 + (b/a)^2.
    square = critical_factor(rectangle(1, 1), [HELD, HELD, FREE, HELD], (1, 0, 0), 1.0, 0.25)
    assert square / np.pi**2 == pytest.approx(1.44, rel=5e-3)
    long = critical_factor(rectangle(8, 1), [HELD, HELD, FREE, HELD], (1, 0, 0), 1.0, 0.25)
    assert long / np.pi**2 == pytest.approx(6 * 0.75 / np.pi**2 + 1 / 64, rel=5e-3)


def test_triangle_under_even_pressure_is_exact():
    # A held polygon under even compression buckles at N = D times the membrane's lowest
    # eigenvalue (exact); for an equilateral triangle of height h that is 4 pi^2/h^2 (Lame).
    found = critical_factor(triangle(2 / np.sqrt(3)), [HELD] * 3, (1, 1, 0), 1.0, 0.3)
    assert found == pytest.approx(4 * np.pi**2, rel=1e-6)


def test_held_triangle_buckles_no_later_than_its_even_mode():
    # Rayleigh: the even mode has the same slope energy in every direction, so uniaxial
    # compression buckles at or below twice the even load.
    limit = 8 * np.pi**2 / (12 * (1 - 1 / 9))
    assert 0.9 * limit < triangle_constant() < limit


def test_handbook_constants_lie_between_held_and_clamped():
    # The handbook's 10.2 and 0.616 presume that neighbours restrain the edges.
    assert triangle_constant() == pytest.approx(6.86, abs=0.01)
    assert triangle_constant() < SKIN_CONSTANT < triangle_constant(edge=CLAMPED)
    assert rib_constant(4.0) < RIB_CONSTANT < rib_constant(4.0, foot=CLAMPED)
    # A rib with hinged foot meets 0.616 when it is about twice as long as high.
    assert rib_constant(1.95) == pytest.approx(RIB_CONSTANT, rel=0.02)


def test_springs_and_twisting_ribs_lead_from_held_to_clamped():
    spring = [triangle_constant(edge=Edge(spring=s)) for s in (0.0, 1.0, 10.0, 1e4)]
    twist = [triangle_constant(edge=Edge(twist=s)) for s in (0.0, 0.3, 3.0, 1e4)]
    for row in (spring, twist):
        assert np.all(np.diff(row) > 0)
        assert row[0] == pytest.approx(triangle_constant())
        assert row[-1] == pytest.approx(triangle_constant(edge=CLAMPED), rel=0.01)


def test_tension_does_not_buckle():
    with pytest.raises(InputError, match="can't buckle"):
        critical_factor(rectangle(1, 1), [HELD] * 4, (-1, -1, 0), 1.0, 0.3)
    with pytest.raises(InputError, match="3 or 4"):
        critical_factor([(0, 0), (1, 0)], [HELD] * 2, (1, 0, 0), 1.0, 0.3)
