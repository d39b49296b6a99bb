"""Heat transfer correlations and air against published tables and worked examples."""

import numpy as np
import pytest

from gridshell.define.tables.chill import ChillStep, Uncovered
from gridshell.thermal.heat.air import air
from gridshell.thermal.heat.correlations import (
    cross_flow_nusselt,
    free_convection_nusselt,
    radiation_coefficient,
    still_air_coefficient,
    still_air_notes,
    wind_coefficient,
    wind_notes,
)
from gridshell.thermal.heat.surroundings import exposure_surroundings, step_surroundings

# Incropera and DeWitt, Table A.4, air at atmospheric pressure (from memory):
# K, kinematic viscosity m2/s, conductivity W/(m K), Prandtl number.
AIR_TABLE = [
    (200, 7.590e-6, 18.1e-3, 0.737),
    (250, 11.44e-6, 22.3e-3, 0.720),
    (300, 15.89e-6, 26.3e-3, 0.707),
    (350, 20.92e-6, 30.0e-3, 0.700),
    (400, 26.41e-6, 33.8e-3, 0.690),
]


@pytest.mark.parametrize(("kelvin", "viscosity", "conductivity", "prandtl"), AIR_TABLE)
def test_air_against_the_handbook_table(kelvin, viscosity, conductivity, prandtl):
    found = air(float(kelvin))
    assert found.viscosity == pytest.approx(viscosity, rel=0.02)
    assert found.conductivity == pytest.approx(conductivity, rel=0.02)
    assert found.prandtl == pytest.approx(prandtl, rel=0.025)


def test_cross_flow_worked_examples():
    # Incropera and DeWitt, Example 7.4 (from memory).
    assert cross_flow_nusselt(6071.0, 0.70) == pytest.approx(40.6, abs=0.1)
    # Cengel, Heat Transfer, solved problem of an insulated steam pipe, D = 0.116 m, 4 m/s.
    assert cross_flow_nusselt(3.254e4, 0.7336) == pytest.approx(107.0, rel=2e-3)


def test_wind_coefficient_of_the_worked_example():
    # Incropera and DeWitt, Example 7.4: 10 m/s, 12.7 mm, air 26.2 degC, surface 128.4 degC: 96
    # W/(m2 K) (from memory); our own air properties are within 2 % of the book's.
    found = wind_coefficient(10.0, 12.7e-3, 401.55, 299.35)
    assert found == pytest.approx(96.0, rel=0.02)


def test_still_air_worked_example():
    # Incropera and DeWitt, Example 9.4: pipe 0.1 m, 165 degC in air of 23 degC: Ra = 5.073e6,
    # h = 7.29 W/(m2 K) (from memory; the book's Nu = 23.3 is 1 % above its own formula).
    assert free_convection_nusselt(5.073e6, 0.697) == pytest.approx(23.3, rel=0.012)
    assert still_air_coefficient(0.1, 438.15, 296.15) == pytest.approx(7.29, rel=0.02)


def test_limits_of_the_correlations():
    # Re -> 0: Churchill and Bernstein tends to 0.3; Ra -> 0: Churchill and Chu to 0.36.
    assert cross_flow_nusselt(0.0, 0.7) == pytest.approx(0.3)
    assert free_convection_nusselt(0.0, 0.7) == pytest.approx(0.36)
    # Large Ra: slope 1/3.
    ratio = free_convection_nusselt(8e15, 0.7) / free_convection_nusselt(1e15, 0.7)
    assert np.log(ratio) / np.log(8) == pytest.approx(1 / 3, abs=0.005)


def test_out_of_range_is_said():
    assert wind_notes(3.0, 0.1, 294.0) == []
    assert "Churchill and Bernstein" in wind_notes(1e-6, 1e-3, 294.0)[0]
    assert still_air_notes(0.1, 294.0, 195.0) == []
    assert "Churchill and Chu" in still_air_notes(20.0, 294.0, 195.0)[0]


def test_radiation_coefficient_is_the_difference_of_fourth_powers():
    hot, cold = 310.0, 250.0
    flux = 5.670374419e-8 * 0.9 * (hot**4 - cold**4)
    assert radiation_coefficient(0.9, hot, cold) * (hot - cold) == pytest.approx(flux)


def test_sun_is_spread_over_the_circumference():
    outside, inside = exposure_surroundings(Uncovered(sun=np.pi * 100, absorptivity=0.5), 0.1,
                                             0.09, 0.9)
    assert outside.flux == pytest.approx(50.0)
    assert inside is None


def test_kinds_of_step():
    warm = np.array([290.0])
    facing = np.ones(1)

    def coefficient(**stated):
        outside, _ = step_surroundings(ChillStep(duration=60.0, **stated), 0.1, 0.09, 0.9)
        return outside.heat(warm, 0.0, facing)

    dry_ice = coefficient(kind="dry-ice")
    assert dry_ice[0] == pytest.approx(57.0)
    assert dry_ice[1] == pytest.approx(194.7)
    freezer = coefficient(kind="freezer")
    assert freezer[1] == pytest.approx(255.15)
    # Common practice, no source: a few W/(m2 K) each of convection and radiation in still air.
    assert 7 < freezer[0] < 14
    windy = coefficient(kind="wind", wind=5.0, temperature=255.0)
    assert windy[0] > 2 * freezer[0]
    assert coefficient(kind="still-air", temperature=255.15)[0] == pytest.approx(freezer[0])


def test_ramp_of_the_surroundings():
    step = ChillStep(kind="dry-ice", duration=100.0, ramp=50.0)
    outside, _ = step_surroundings(step, 0.1, 0.09, 0.9, before=294.7)
    assert [float(outside.at(t)) for t in (0.0, 25.0, 50.0, 80.0)] == pytest.approx(
        [294.7, 244.7, 194.7, 194.7])
