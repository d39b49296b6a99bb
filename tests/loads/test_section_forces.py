"""Section forces against textbook beams, and the free balance against rounding."""

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from gridshell.loads.section_forces import (
    Loads,
    MassLine,
    clamped_balance,
    forces_along,
    free_balance,
    hinged_balance,
    resultants,
    supported_balance,
)


def uniform(length=2.0, per_length=3.0, cells=300):
    x = np.linspace(0, length, cells + 1)
    return MassLine(x, np.full(cells, per_length), np.zeros(cells + 1))


def line(mass, value):
    loads = Loads.none(len(mass.stations))
    loads.across_fore[:] = loads.across_aft[:] = value
    return loads


def test_simply_supported_under_even_load():
    # Roark, beams: w L^2/8 at mid-span, w L/2 at the ends.
    mass = uniform()
    loads, first, second = supported_balance(mass.stations, line(mass, -5.0), 0, 300)
    found = forces_along(mass.stations, loads)
    assert first == pytest.approx(5.0) and second == pytest.approx(5.0)
    assert np.abs(found.moment).max() == pytest.approx(5.0 * 2.0**2 / 8)
    assert np.abs(found.shear).max() == pytest.approx(5.0)


def test_overhanging_beam_has_equal_moments_at_the_published_place():
    # Supports at 0.2071 L make support and mid-span moments equal, 0.02145 w L^2
    # (Roark, overhanging beams; the usual place for two straps).
    mass = uniform(1.0, cells=10000)
    at = 2071
    loads, *_ = supported_balance(mass.stations, line(mass, -1.0), at, 10000 - at)
    found = forces_along(mass.stations, loads)
    middle = np.interp(0.5, found.position, found.moment)
    support = found.moment[2 * at]
    assert abs(support) == pytest.approx(0.02145, rel=1e-3)
    assert abs(middle) == pytest.approx(abs(support), rel=2e-3)


def test_cantilever_under_a_triangle():
    # Roark: load rising from 0 at the free end to w at the wall, w L^2/6 and w L/2 there.
    mass = uniform(1.5)
    loads = Loads.none(301)
    ramp = 4.0 * mass.stations / 1.5
    loads.across_fore[:], loads.across_aft[:] = ramp[:-1], ramp[1:]
    loads, _, force, couple = clamped_balance(mass.stations, loads, 300)
    assert force == pytest.approx(-4.0 * 1.5 / 2)
    assert abs(couple) == pytest.approx(4.0 * 1.5**2 / 6)


def test_free_bar_pushed_across_its_end():
    # Rigid-body dynamics of a uniform bar: M = F x (1 - x/L)^2, largest 4/27 F L at a third
    # (Timoshenko and Young, Advanced Dynamics; from memory).
    mass = uniform(2.0, cells=3000)
    loads = Loads.none(3001)
    loads.across_at[0] = 7.0
    balanced, _, across, turning = free_balance(mass, loads)
    found = forces_along(mass.stations, balanced)
    assert found.moment.max() == pytest.approx(4 / 27 * 7.0 * 2.0, rel=1e-6)
    assert found.position[found.moment.argmax()] == pytest.approx(2 / 3, abs=1e-3)
    assert across == pytest.approx(7.0 / 6.0)
    assert turning == pytest.approx(-7.0 * 1.0 / (6.0 * 2.0**2 / 12))


def test_free_bar_pushed_in_the_middle_is_two_cantilevers():
    mass = uniform(2.0)
    loads = Loads.none(301)
    loads.across_at[150] = 8.0
    found = forces_along(mass.stations, free_balance(mass, loads)[0])
    assert np.abs(found.moment).max() == pytest.approx(8.0 * 2.0 / 8)


def test_rod_hinged_at_its_end_struck_at_the_center_of_percussion():
    # Struck at 2/3 L from the hinge a uniform rod puts no force on it (center of percussion).
    mass = uniform(1.5)
    loads = Loads.none(301)
    loads.across_at[100] = 9.0
    _, _, reaction = hinged_balance(mass, loads, 300)
    assert reaction == pytest.approx(0.0, abs=1e-12)


def test_couple_steps_the_moment():
    x = np.linspace(0, 1, 5)
    loads = Loads.none(5)
    loads.couple_at[2] = 3.0
    loads, *_ = supported_balance(x, loads, 0, 4)
    moment = forces_along(x, loads).moment
    assert moment[5] - moment[4] == pytest.approx(3.0)
    assert moment[-1] == pytest.approx(0.0, abs=1e-12)


@settings(deadline=None, max_examples=60)
@given(st.integers(0, 2**32 - 1))
def test_free_balance_closes_to_rounding(seed):
    rng = np.random.default_rng(seed)
    n = int(rng.integers(3, 60))
    x = np.cumsum(10 ** rng.uniform(-4, 0, n + 1))
    mass = MassLine(x, 10 ** rng.uniform(-3, 2, n), rng.uniform(0, 5, n + 1))
    events = (3,)
    loads = Loads(*(rng.normal(size=(*events, k)) for k in (n, n + 1, n, n, n + 1, n + 1)))
    balanced, *_ = free_balance(mass, loads)
    found = forces_along(x, balanced)
    for values in (found.compression, found.shear, found.moment):
        assert np.all(np.abs(values[..., -1]) <= 1e-10 * np.abs(values).max(-1))
    for left in resultants(x, balanced):
        assert np.all(np.abs(left) < 1e-9 * np.abs(x).max() * n)
