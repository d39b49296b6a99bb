"""Barrowman's method against the constants of his report and against slender-body theory."""

import numpy as np
import pytest

from gridshell.define.tables.body import read_body
from gridshell.loads.normal_force import (
    fin_center,
    fin_interference,
    fin_slope,
    shape_radius,
)
from gridshell.loads.placed import place_body


def transition_center(fore, aft, length):
    """Barrowman (1967): center of pressure of a conical transition from its fore end, m."""
    ratio = fore / aft
    return length / 3 * (1 + (1 - ratio) / (1 - ratio**2))


def placed(*parts, cells=800):
    """A body of some parts ahead of a tube 98 mm across, which has no normal force of its own."""
    return place_body(read_body({"part": [*parts, {"name": "tube", "role": "tube"}]}),
                      0.9, 0.098, 1.0, cells=cells)


# Barrowman (1967): every nose has 2 per radian on its base area, and its center of pressure at
# these fractions of its length.
@pytest.mark.parametrize(("shape", "published", "tolerance"), [
    ("cone", 2 / 3, 1e-4), ("ogive", 0.466, 2e-3), ("parabola", 0.5, 0.04),
])
def test_a_nose_has_the_published_force_and_center(shape, published, tolerance):
    body = placed({"name": "nose", "shape": shape, "length": "490 mm",
                   "outside_diameter": "98 mm", "mass": "100 g"})
    slope, center = body.normal_force()
    assert slope == pytest.approx(2.0)
    assert center / 0.49 == pytest.approx(published, abs=tolerance)


# Slender-body theory: 2 (A_aft - A_fore)/A_ref; a boattail takes normal force away.
@pytest.mark.parametrize(("fore", "aft"), [(0.04, 0.06), (0.06, 0.03)])
def test_a_transition_agrees_with_the_closed_form(fore, aft):
    body = placed({"name": "flare", "shape": "transition", "fore_diameter": f"{fore} m",
                   "outside_diameter": f"{aft} m", "length": "200 mm", "mass": "50 g"})
    slope, center = body.normal_force()
    assert slope == pytest.approx(2 * (aft**2 - fore**2) / 0.098**2)
    assert center == pytest.approx(transition_center(fore, aft, 0.2), rel=1e-4)


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
    found = fin_slope(count=3, root_chord=root, tip_chord=tip, span=span, sweep=sweep,
                      body_radius=d / 2, reference_area=np.pi / 4 * d**2)
    assert found == pytest.approx(short)


def test_fins_get_stronger_towards_mach_one_and_stop_there():
    values = [float(fin_slope(count=4, root_chord=0.1, tip_chord=0.1, span=0.1, sweep=0.0,
                              body_radius=0.05, reference_area=0.01, mach=mach))
              for mach in (0.0, 0.4, 0.8, 1.2)]
    assert values[0] < values[1] < values[2] == values[3]


def test_fin_center_of_triangle_and_six_fins():
    # Clipped delta limit: a triangle with its leading edge swept to the tip, X = CR.
    # Barrowman's formula: X/3 + CR/6 = CR/2.
    assert fin_center(0.3, 0.0, 0.3) == pytest.approx(0.15)
    assert fin_interference(0.05, 0.05, 6) == pytest.approx(1.25)
    assert fin_interference(0.05, 0.05, 5) == pytest.approx(1.5)


def test_body_on_cells_has_the_sum_of_its_parts():
    body = place_body(read_body({"part": [
        {"name": "nose", "shape": "cone", "length": "300 mm", "outside_diameter": "60 mm",
         "mass": "100 g"},
        {"name": "flare", "shape": "transition", "fore_diameter": "60 mm",
         "outside_diameter": "98 mm", "length": "100 mm", "mass": "50 g"},
        {"name": "tube", "role": "tube", "fins": {
            "count": 3, "root_chord": "120 mm", "tip_chord": "60 mm", "span": "80 mm",
            "sweep": "50 mm"}},
    ]}), 0.9, 0.098, 1.0, cells=800)
    nose = 2 * (0.06 / 0.098) ** 2
    flare = 2 - nose
    fins = float(fin_slope(
        count=3, root_chord=0.12, tip_chord=0.06, span=0.08, sweep=0.05, body_radius=0.049,
        reference_area=np.pi / 4 * 0.098**2))
    at = [0.2, 0.3 + transition_center(0.06, 0.098, 0.1),
          0.4 + 0.9 - 0.12 + fin_center(0.12, 0.06, 0.05)]
    slope, center = body.normal_force()
    assert slope == pytest.approx(nose + flare + fins)
    assert center == pytest.approx(np.dot([nose, flare, fins], at) / slope, rel=1e-5)


def test_center_of_a_tapered_swept_fin():
    # Barrowman (1967): X/3 (C_R + 2 C_T)/(C_R + C_T) + (C_R + C_T - C_R C_T/(C_R + C_T))/6.
    assert fin_center(2.0, 1.0, 0.6) == pytest.approx(0.2 * 4 / 3 + (3 - 2 / 3) / 6)
