"""Barrowman's method against the constants of his report and against slender-body theory."""

import numpy as np
import pytest

from gridshell.define.tables.body import read_body
from gridshell.loads.normal_force import (
    body_center,
    body_slope,
    fin_center,
    fin_interference,
    fin_slope,
    shape_radius,
    transition_center,
)
from gridshell.loads.placed import place_body


def volume(shape, fore, aft, length):
    x, weights = np.polynomial.legendre.leggauss(60)
    radius = shape_radius(shape, (x + 1) / 2, fore, aft, length)
    return float(np.pi * radius**2 @ weights) * length / 2


# Barrowman (1967): centers of pressure of noses, as fractions of their length.
@pytest.mark.parametrize(("shape", "published", "tolerance"), [
    ("cone", 2 / 3, 1e-9), ("ogive", 0.466, 2e-3), ("parabola", 0.5, 0.04),
])
def test_nose_center_is_the_published_one(shape, published, tolerance):
    length, aft = 0.5, 0.05
    found = body_center(0.0, np.pi * aft**2, length, volume(shape, 0.0, aft, length)) / length
    assert found == pytest.approx(published, abs=tolerance)


def test_nose_slope_is_two_on_its_base():
    # Barrowman (1967): every nose has 2 per radian on its base area.
    assert body_slope(0.0, 0.3, 0.3) == 2.0
    # A boattail takes normal force away.
    assert body_slope(0.3, 0.2, 0.3) == pytest.approx(-2 / 3)


@pytest.mark.parametrize(("fore", "aft"), [(0.04, 0.06), (0.06, 0.03), (0.0, 0.05)])
def test_transition_center_agrees_with_the_volume_form(fore, aft):
    cone = volume("transition", fore, aft, 0.2)
    expected = body_center(np.pi * fore**2, np.pi * aft**2, 0.2, cone)
    assert transition_center(2 * fore, 2 * aft, 0.2) == pytest.approx(float(expected))


def test_blunt_ogive_is_a_half_sphere():
    x = np.linspace(0, 1, 9)
    expected = np.sqrt(1 - (1 - x) ** 2)
    assert shape_radius("ogive", x, 0.0, 1.0, 1.0) == pytest.approx(expected)


def test_fins_agree_with_the_short_form():
    # Barrowman and Barrowman (1966), low speed: 4 N (S/d)^2/(1 + sqrt(1 + (2 l/(CR + CT))^2)),
    # l the mid-chord line (from memory), times 1 + R/(S + R).
    rng = np.random.default_rng(3)
    root, tip, span, sweep = rng.uniform(0.05, 0.3, (4, 200))
    d = rng.uniform(0.03, 0.2, 200)
    line = np.hypot(span, sweep + tip / 2 - root / 2)
    short = 4 * 3 * (span / d) ** 2 / (1 + np.sqrt(1 + (2 * line / (root + tip)) ** 2))
    short *= 1 + d / 2 / (span + d / 2)
    assert fin_slope(3, root, tip, span, sweep, d / 2, np.pi / 4 * d**2) == pytest.approx(short)


def test_fins_get_stronger_towards_mach_one_and_stop_there():
    values = [float(fin_slope(4, 0.1, 0.1, 0.1, 0.0, 0.05, 0.01, mach))
              for mach in (0.0, 0.4, 0.8, 1.2)]
    assert values[0] < values[1] < values[2] == values[3]


def test_fin_center_of_triangle_and_six_fins():
    # Clipped delta limit: a triangle with its leading edge swept to the tip, X = CR.
    # Barrowman's formula: X/3 + CR/6 = CR/2.
    assert fin_center(0.3, 0.0, 0.3) == pytest.approx(0.15)
    assert fin_interference(0.05, 0.05, 6) == pytest.approx(1.25)
    assert fin_interference(0.05, 0.05, 5) == pytest.approx(1.5)


def test_body_on_cells_has_the_sum_of_its_parts():
    body = read_body({"part": [
        {"name": "nose", "shape": "cone", "length": "300 mm", "outside_diameter": "60 mm",
         "mass": "100 g"},
        {"name": "flare", "shape": "transition", "fore_diameter": "60 mm",
         "outside_diameter": "98 mm", "length": "100 mm", "mass": "50 g"},
        {"name": "tube", "role": "tube", "fins": {
            "count": 3, "root_chord": "120 mm", "tip_chord": "60 mm", "span": "80 mm",
            "sweep": "50 mm"}},
    ]})
    placed = place_body(body, 0.9, 0.098, 1.0, cells=800)
    reference = np.pi / 4 * 0.098**2
    nose = body_slope(0.0, np.pi / 4 * 0.06**2, reference)
    flare = body_slope(np.pi / 4 * 0.06**2, reference, reference)
    fins = float(fin_slope(3, 0.12, 0.06, 0.08, 0.05, 0.049, reference))
    at = [0.2, 0.3 + float(transition_center(0.06, 0.098, 0.1)),
          0.4 + 0.9 - 0.12 + fin_center(0.12, 0.06, 0.05)]
    slope, center = placed.normal_force()
    assert slope == pytest.approx(nose + flare + fins)
    assert center == pytest.approx(np.dot([nose, flare, fins], at) / slope, rel=1e-5)
