"""Pocket and rib buckling together, against the exact solution of strips that share an edge.

Skin between two ribs that stand on it, and the ribs, are plates of a row w = Y(y) sin(mu x), whose
fourth-order equation has a closed solution (Timoshenko and Gere, Theory of Elastic Stability, 9.2,
9.4 and 9.6: plates with two opposite sides simply supported). The shared edge stays on its line and
turns; the load at which the moments of both plates cancel is exact for thin plates. Nothing here
is taken from the package.
"""

from __future__ import annotations

import numpy as np
import pytest

from gridshell.tube.buckling.local import flange, held_rib_stress, held_triangle_stress, pair_stress


def edge_stiffness(stress, mu, t, h, b, d, v):
    """Moment per turn at the edge of two half pockets and one rib, E = 1: opposite and like turns.

    Args:
        stress: compression of both, (n,). mu: pi over half wave. t, h: skin and its width.
        b, d: rib width and height. v: Poisson's ratio.
    """
    skin, rib = t**3 / 12 / (1 - v * v), b**3 / 12 / (1 - v * v)
    stress = np.asarray(stress, complex)

    def roots(force, bending):
        q = mu * np.sqrt(force / bending)
        return np.sqrt(mu * mu + q), np.sqrt(q - mu * mu)

    p, q = roots(stress * t, skin)
    c = h / 2
    opposite = skin * (p * p + q * q) / (p * np.tanh(p * c) + q * np.tan(q * c))
    alike = skin * (p * p + q * q) / (p / np.tanh(p * c) - q / np.tan(q * c))
    p, q = roots(stress * b, rib)
    ch, sh, co, si = np.cosh(p * d), np.sinh(p * d), np.cos(q * d), np.sin(q * d)
    m, k = v * mu * mu, (2 - v) * mu * mu
    # Y = C (cosh - cos) + S sinh + T sin, Y'(0) = 1; no moment and no shear force at the free edge.
    moment = ((p * p - m) * ch + (q * q + m) * co, (p * p - m) * sh, -(q * q + m) * si)
    force = (p * (p * p - k) * sh - q * (q * q + k) * si, p * (p * p - k) * ch,
             -q * (q * q + k) * co)
    m3, f3 = (row[2] - row[1] * q / p for row in (moment, force))
    m0, f0 = (-row[1] / p for row in (moment, force))
    of_rib = -rib * (m0 * f3 - m3 * f0) / (moment[0] * f3 - m3 * force[0]) * (p * p + q * q)
    return (2 * opposite + of_rib).real, (2 * alike + of_rib).real


def exact(t, h, b, d, v, near):
    """Lowest stress of the pair over half waves of any length; E = 1, ``near`` a rough answer."""
    stress = np.linspace(2e-4, 1, 3000) * 1.7 * near
    lowest = np.inf
    for wave in np.geomspace(0.4 * min(h, d), 8 * max(h, d), 40):
        with np.errstate(all="ignore"):
            for total in edge_stiffness(stress, np.pi / wave, t, h, b, d, v):
                gone = np.flatnonzero(~(total > 0))
                if gone.size:
                    lowest = min(lowest, stress[gone[0]])
    return lowest


@pytest.mark.parametrize("v", [0.2, 0.4])
@pytest.mark.parametrize("width", [0.5, 0.8, 1.2, 2.0])
@pytest.mark.parametrize("spread", [0.5, 1.0, 2.0, 4.0, 9.0])
def test_pair_against_exact_strips(v, width, spread):
    # Rib height over width 8 to 16 and any other: only its thin-plate ratios count.
    height = 10 * width
    pocket = spread * height
    closed = float(held_rib_stress(1.0, v, width, height, 1e3 * pocket, 1.0, pocket))
    truth = exact(1.0, pocket, width, height, v, closed)
    assert 0.88 < closed / truth < 1.0


def test_each_alone_is_on_the_unsafe_side_where_both_are_equal():
    # t = b, h = 2 d: pocket k = 4 and rib with the foot held by unloaded skin are nearly equal;
    # together they buckle a fifth lower, and the closed form knows.
    v, t, d = 0.3, 1.0, 10.0
    h = 2 * d
    pocket = 4 * np.pi**2 * t**2 / (12 * (1 - v * v) * h**2)
    truth = exact(t, h, 1.0, d, v, pocket)
    assert truth < 0.85 * pocket
    assert float(held_rib_stress(1.0, v, 1.0, d, 1e4, t, h)) < truth


def test_limits_of_the_pair():
    skin, rib = (3.0, 7.0, 2.0), (5.0, 9.0, 1.0)
    # One plate without stiffness: the other with a hinged edge; infinitely stiff: clamped.
    assert float(pair_stress(skin, (5.0, 9.0, 1e-12))) == pytest.approx(3.0)
    assert float(pair_stress(skin, (50.0, 90.0, 1e12))) == pytest.approx(7.0)
    # Equal hinged stresses meet at that stress whatever the stiffness, and order does not count.
    assert float(pair_stress((3.0, 7.0, 2.0), (3.0, 9.0, 5.0))) == pytest.approx(3.0)
    assert float(pair_stress(skin, rib)) == pytest.approx(float(pair_stress(rib, skin)))
    # Between the two hinged stresses.
    assert 3.0 < float(pair_stress(skin, rib)) < 5.0


def test_flange_coefficients():
    # Timoshenko and Gere, 9.6: long hinged flange 6 (1 - v)/pi^2 + (b/a)^2 in units of k; clamped
    # 1.28 at its best wave, l = 1.64 d (v = 0.25).
    v = 0.25
    unit = np.pi**2 / (12 * (1 - v * v))
    for slender in (3.0, 6.0):
        hinged, _, _ = flange(1.0, v, 1.0, 1.0, slender)
        assert float(hinged) / unit == pytest.approx(
            6 * (1 - v) / np.pi**2 + 1 / slender**2, rel=0.02)
    best = min(float(flange(1.0, v, 1.0, 1.0, wave)[1]) for wave in np.linspace(1, 3, 200))
    assert best / unit == pytest.approx(1.28, rel=0.035)  # the fit is 3 % above at its least


def test_a_compressed_rib_holds_its_triangle_less():
    still = float(held_triangle_stress(1.0, 0.3, 1.0, 10.0, 4.0))
    hinged = float(held_triangle_stress(1.0, 0.3, 1.0, 10.0, 0.0))
    loaded = [float(held_triangle_stress(1.0, 0.3, 1.0, 10.0, 4.0, (s, 2 * s)))
              for s in (10.0, 0.3, hinged, 0.8 * hinged)]
    assert still > loaded[0] > loaded[1] > hinged
    assert loaded[2] == pytest.approx(hinged)
    assert loaded[3] < hinged
