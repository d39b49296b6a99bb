"""How far the skin bows between ribs: plate and beam tables, limits, scaling."""

import numpy as np
import pytest

from gridshell.wall.assess import assess_wall
from gridshell.wall.stiffness.skin_bowing import _TRIANGLE, _rectangle

# Center deflection of a clamped square is 0.00126 q a^4/D (Timoshenko and Woinowsky-Krieger, Theory
# of Plates and Shells, 2nd ed., Table 35; from memory); means below are our own Ritz solutions.


def clamped_mean(ratio, terms=6):
    """Mean deflection over q a^4/D of a clamped rectangle, Ritz with x^2 (1-x)^2 P_k."""
    from numpy.polynomial import Legendre, Polynomial

    x, weight = np.polynomial.legendre.leggauss(30)
    x, weight = (x + 1) / 2, weight / 2
    base = Polynomial([0, 0, 1, -2, 1])
    shapes = [base * Legendre.basis(2 * k, domain=[0, 1]).convert(kind=Polynomial)
              for k in range(terms)]
    w0, w1, w2 = (np.array([s.deriv(k)(x) if k else s(x) for s in shapes]) for k in range(3))
    gram = [(w * weight) @ w.T for w in (w0, w1, w2)]
    mean = np.kron(w0 @ weight, w0 @ weight)
    stiff = (np.kron(gram[2], gram[0]) + 2 * ratio**2 * np.kron(gram[1], gram[1])
             + ratio**4 * np.kron(gram[0], gram[2]))
    amplitude = np.linalg.solve(stiff, mean)
    return mean @ amplitude, float(amplitude @ np.kron(*[[s(0.5) for s in shapes]] * 2))


def test_square_has_the_center_deflection_of_the_tables():
    assert clamped_mean(1.0)[1] == pytest.approx(0.00126, rel=0.01)


@pytest.mark.parametrize("ratio", [1.0, 0.8, 0.6, 0.5, 0.3])
def test_rectangles(ratio):
    assert _rectangle(ratio) == pytest.approx(clamped_mean(ratio)[0], rel=0.05)


def test_strip_and_triangle():
    assert _rectangle(0.0) == pytest.approx(1 / 720)  # clamped beam, mean of x^2 (1-x)^2/24
    # w = c (L1 L2 L3)^2 alone is a lower bound, 8.267e-5 (polynomial integrals).
    assert 8.267e-5 < _TRIANGLE < 8.267e-5 * 1.01


@pytest.mark.parametrize("pattern", ["isogrid", "orthogrid", "diagonal"])
def test_limits_and_scaling(make_design, make_properties, pattern):
    def lost(**values):
        built = assess_wall(make_design(pattern, **values), make_properties())
        return float(built.bowing.hoop_loss)

    assert 0 < lost() < 1 / 1.43
    thin = [lost(skin__thickness=t) for t in (3e-3, 2e-3, 1e-3, 0.5e-3, 0.25e-3)]
    assert np.all(np.diff(thin) > 0)
    assert lost(tube__outside_diameter=5.0) < 0.01 * lost(tube__outside_diameter=0.1)
    # A question of shape alone.
    built = assess_wall(make_design(pattern), make_properties()).bowing
    soft = assess_wall(make_design(pattern), make_properties(modulus=3e6)).bowing
    assert float(soft.hoop_loss) == pytest.approx(float(built.hoop_loss), rel=1e-9)


def test_nothing_where_there_are_no_pockets(make_design, make_properties):
    assert assess_wall(make_design("plain"), make_properties()).bowing.hoop_loss == 0
    handbook = make_design("isogrid", ribs__formula="thin")
    assert assess_wall(handbook, make_properties()).bowing.hoop_loss == 0


def test_a_pocket_gives_as_a_clamped_rectangle_of_its_own_shape(make_design, make_properties):
    """Orthogrid: 1.6 times the mean deflection of the Ritz plate, under skin force over R^2."""
    built = assess_wall(make_design("orthogrid"), make_properties())
    known, skin = built.properties, float(built.design.skin.thickness)
    width = float(built.sections[0].root_width)
    short, long = sorted(float(line.pitch) - width for line in built.grid.families)
    assert 0.5 < short / long < 0.95
    membrane = known.modulus * skin / (1 - known.poisson**2)
    mean = clamped_mean(short / long)[0] * short**4 / (membrane * skin**2 / 12)
    expected = 1.6 * membrane / float(built.grid.radius) ** 2 * mean
    assert float(built.bowing.pocket) == pytest.approx(expected, rel=0.05)
