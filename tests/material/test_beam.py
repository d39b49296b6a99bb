"""Beam formulas against published cases: test standards, handbooks, the elastica."""

from __future__ import annotations

import numpy as np
import pytest
from scipy.integrate import solve_bvp, solve_ivp
from scipy.optimize import brentq

from gridshell.material.coupon.beam import (
    Section,
    deflection_factors,
    load_per_modulus,
    outer_strain,
    rectangle,
    round_tube,
    shear_ratio,
)
from gridshell.material.coupon.elastica import (
    cantilever_elastica,
    load_parameter,
    three_point_elastica,
)

# K. Mattiasson, Numerical results from large deflection beam and frame problems analysed by means
# of elliptic integrals, Int. J. Numer. Meth. Eng. 17 (1981) 145-153 (the problem of Bisshopp and
# Drucker, 1945): P L^2/(E I) -> tip deflection over length. From memory.
MATTIASSON = {1.0: 0.30172, 2.0: 0.49346, 5.0: 0.71379, 10.0: 0.81061}


@pytest.mark.parametrize(("load", "deflection"), MATTIASSON.items())
def test_cantilever_elastica_published_values(load, deflection):
    angle = brentq(lambda phi: cantilever_elastica(phi)[0] - load, 1e-3, 1.55)
    assert cantilever_elastica(angle)[1] == pytest.approx(deflection, abs=1e-5)


@pytest.mark.parametrize("load", [0.3, 1.0, 3.0])
def test_cantilever_elastica_against_integration(load):
    # E I theta'' = -P cos(theta), theta(0) = 0, theta'(1) = 0, by shooting
    def shoot(start, rows=False):
        found = solve_ivp(
            lambda s, y: [y[1], -load * np.cos(y[0]), np.sin(y[0])], (0, 1), [0, start, 0],
            rtol=1e-10, atol=1e-12,
        )
        return found.y[:, -1] if rows else found.y[1, -1]

    tip = shoot(brentq(shoot, 0, load), rows=True)
    exact, linear = load_parameter("cantilever", tip[2])
    assert exact == pytest.approx(load, rel=1e-6)
    assert linear == pytest.approx(3 * tip[2])


@pytest.mark.parametrize("load", [1.0, 3.0, 6.0])
def test_three_point_elastica_against_a_boundary_value_solver(load):
    """Half a beam from mid-span: slope, curvature, x, y over the unknown arc length."""
    def slopes(s, y, p):
        # vertical reaction P/2 up and its sideways part P/2 tan(phi) inwards, phi the end slope
        half, phi = p
        moment_rate = -load / 2 * (np.cos(y[0]) + np.tan(phi) * np.sin(y[0]))
        return half * np.array([y[1], moment_rate, np.cos(y[0]), np.sin(y[0])])

    def ends(a, b, p):
        return np.array([a[0], a[2], a[3], b[1], b[2] - 0.5, b[0] - p[1]])

    s = np.linspace(0, 1, 60)
    angle = load / 16
    guess = np.array([angle * s, angle * 2 * (1 - s), 0.5 * s, 0.3 * angle * s**2])
    found = solve_bvp(slopes, ends, s, guess, p=[0.5, angle], tol=1e-8)
    assert found.success
    exact, linear = load_parameter("three-point", found.y[3, -1])
    assert exact == pytest.approx(load, rel=1e-5)
    assert linear > exact  # the beam slides in and softens


def test_inversion_matches_the_parametric_curves():
    for kind, curve, end in (("cantilever", cantilever_elastica, 1.4),
                             ("three-point", three_point_elastica, 0.65)):
        load, deflection = curve(np.linspace(0.01, end, 20011))
        exact, _ = load_parameter(kind, deflection)
        assert exact == pytest.approx(load, rel=1e-6)
    assert np.isnan(load_parameter("three-point", 0.3)[0])
    assert np.isnan(load_parameter("cantilever", np.array([0.9]))[0]).all()


def test_standard_bending_formulas():
    # ISO 178 / ASTM D790 three-point: E = L^3 m/(4 b d^3). ASTM D6272 four-point at mid-span:
    # E = 0.21 L^3 m/(b d^3) for a load span of L/3, 0.17 for L/2. Shear left out.
    span, b, d = 0.08, 0.015, 0.004
    section = Section(b * d**3 / 12, None, d / 2)
    small = 1e-7
    for test, load_span, factor, digits in (
        ("three-point", 0.0, 0.25, 6), ("four-point", span / 3, 0.21, 2),
        ("four-point", span / 2, 0.17, 2), ("cantilever", 0.0, 4.0, 6),
    ):
        per_modulus, _, _ = load_per_modulus(test, small, span, load_span, section, 0.3)
        found = small / per_modulus * b * d**3 / span**3  # = factor
        assert round(float(found), digits) == factor


def test_four_point_mid_span_against_roark():
    # Roark's Formulas for Stress and Strain, simply supported beam, one load W at distance a:
    # superposed twice; mid-span deflection of one: W a (3 L^2 - 4 a^2)/(48 E I).
    span, a = 1.0, 0.3
    bending, _ = deflection_factors("four-point", span, span - 2 * a)
    assert bending == pytest.approx(2 * 0.5 * a * (3 - 4 * a**2) / 48)


def test_four_point_with_no_load_span_is_three_point():
    for test in ("three-point", "four-point"):
        assert deflection_factors(test, 2.0, 0.0) == (pytest.approx(1 / 48), pytest.approx(1 / 4))


def test_shear_deflection_of_timoshenko_and_gere():
    # Mechanics of Materials: simple beam, mid-span load, delta = P L^3/(48 E I) *
    # (1 + 12 f E I/(G A L^2)); rectangle f = 6/5, E/G = 2 at nu = 0.
    b, d, span = 0.02, 0.05, 0.3
    section = rectangle(b, d, 0.0)
    assert shear_ratio("three-point", span, 0.0, section, 0.0) == pytest.approx(
        12 * 1.2 * 2 * (d**2 / 12) / span**2
    )
    # cantilever: P L/(kappa G A) over P L^3/(3 E I)
    assert shear_ratio("cantilever", span, 0.0, section, 0.0) == pytest.approx(
        3 * 1.2 * 2 * (d**2 / 12) / span**2
    )


def test_cowper_shear_coefficients():
    # Cowper (1966), Table 1: nu = 0.3 gives 0.850 (rectangle), 0.886 (circle), 0.531 (thin tube)
    assert rectangle(1.0, 1.0, 0.3).shear_area == pytest.approx(0.850, abs=5e-4)
    bar = round_tube(1.0, 0.5, 0.3)
    assert bar.shear_area / (np.pi / 4) == pytest.approx(0.886, abs=5e-4)
    assert bar.second_moment == pytest.approx(np.pi / 64)
    thin = round_tube(1.0, 1e-5, 0.3)
    assert thin.shear_area / (np.pi * 1e-5) == pytest.approx(0.531, abs=5e-4)


def test_outer_strain_of_the_standards():
    # ISO 178: 6 h s/L^2. ASTM D6272: 4.70 D d/L^2 (L/3), 4.36 D d/L^2 (L/2).
    section = rectangle(0.01, 0.004, 0.3)
    scale = 1e-3 * 0.004 / 0.064**2
    for test, load_span, factor in (("three-point", 0.0, 6.0), ("four-point", 0.064 / 3, 4.70),
                                    ("four-point", 0.032, 4.36)):
        found = outer_strain(test, 1e-3, 0.064, load_span, section)
        assert found / scale == pytest.approx(factor, abs=0.006)


def test_sections_and_spans_broadcast():
    section = rectangle(np.array([0.01, 0.02]), 0.004, 0.35)
    per_modulus, _, _ = load_per_modulus(
        "three-point", np.array([[1e-3], [2e-3], [3e-3]]), 0.064, 0.0, section, 0.35
    )
    assert per_modulus.shape == (3, 2)
    assert per_modulus[:, 1] == pytest.approx(2 * per_modulus[:, 0])
