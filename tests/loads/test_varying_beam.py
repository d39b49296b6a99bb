"""The beam of varying stiffness against analytic beams, to 0.1 % and mostly far closer."""

import numpy as np
import pytest
from scipy.optimize import brentq

from gridshell.define.errors import InputError
from gridshell.loads.section_forces import Loads
from gridshell.loads.varying_beam import Beam, column_load, deflect, frequencies

# Blevins, Formulas for Natural Frequency and Mode Shape (1979), table 8-1: roots of beams.
ROOTS = {
    "free-free": (4.73004074, 7.85320462, 10.9956078),
    "cantilever": (1.87510407, 4.69409113, 7.85475744),
    "simply-supported": (np.pi, 2 * np.pi, 3 * np.pi),
    "clamped-clamped": (4.73004074, 7.85320462, 10.9956078),
    "clamped-pinned": (3.92660231, 7.06858275, 10.21017612),
}


@pytest.mark.parametrize("ends", ROOTS)
def test_frequencies_of_uniform_beams(ends):
    beam = Beam.uniform(1.7, 35.0, 2.4, elements=60)
    expected = np.square(ROOTS[ends]) / (2 * np.pi * 1.7**2) * np.sqrt(35.0 / 2.4)
    assert frequencies(beam, 3, ends)[0] == pytest.approx(expected, rel=1e-5)


def test_short_and_stiff_elements_cost_no_accuracy():
    x = np.sort(np.concatenate([np.linspace(0, 1, 41), [0.3000001, 0.55]]))
    x = x[np.concatenate(([True], np.diff(x) > 1e-12))]
    n = len(x) - 1
    beam = Beam(x, np.ones(n), np.full(n, np.inf), np.ones(n), np.zeros(n + 1))
    assert frequencies(beam, 1)[0][0] * 2 * np.pi == pytest.approx(4.73004074**2, rel=1e-6)


def test_shear_lowers_the_frequency_of_a_pinned_beam_as_it_should():
    # Exact for pinned ends without rotary inertia: w^2 = EI k^4/(m (1 + EI k^2/GA)), k = n pi/L
    # (Timoshenko, Vibration Problems in Engineering).
    EI, GA, m, L = 20.0, 300.0, 1.5, 1.0
    beam = Beam.uniform(L, EI, m, GA, elements=80)
    k = np.arange(1, 4) * np.pi / L
    expected = np.sqrt(EI * k**4 / (m * (1 + EI * k**2 / GA))) / (2 * np.pi)
    assert frequencies(beam, 3, "simply-supported")[0] == pytest.approx(expected, rel=1e-3)


def test_heavy_tip_mass_on_a_cantilever():
    # Roark: f = sqrt(3 EI/(L^3 (M + 0.24 m)))/(2 pi), from memory; the beam's own mass 1/1000.
    beam = Beam.uniform(2.0, 50.0, 0.005, elements=20)
    lumps = np.zeros(21)
    lumps[0] = 10.0
    loaded = Beam(beam.stations, beam.bending, beam.shear, beam.mass, lumps)
    expected = np.sqrt(3 * 50.0 / (2.0**3 * (10.0 + 0.24 * 0.01))) / (2 * np.pi)
    assert frequencies(loaded, 1, "cantilever")[0][0] == pytest.approx(expected, rel=1e-4)


# Timoshenko and Gere, Theory of Elastic Stability, chapter 2: multiples of pi^2 EI/L^2.
@pytest.mark.parametrize(("ends", "multiple"), [
    ("simply-supported", 1.0), ("cantilever", 0.25), ("clamped-clamped", 4.0),
    ("clamped-pinned", 2.04575),
])
def test_column_loads(ends, multiple):
    beam = Beam.uniform(1.3, 8.0, elements=40)
    assert column_load(beam, ends) == pytest.approx(multiple * np.pi**2 * 8.0 / 1.3**2, rel=1e-4)


def test_column_with_shear_is_engessers():
    # Engesser: P = Pe/(1 + Pe/GA) (Timoshenko and Gere, section 2.17).
    euler, GA = np.pi**2 * 8.0, 60.0
    beam = Beam.uniform(1.0, 8.0, shear=GA, elements=60)
    assert column_load(beam) == pytest.approx(euler / (1 + euler / GA), rel=1e-4)


def test_a_beam_of_few_elements_is_solved_whole():
    # (k L)^2 = 22.3733, 61.6728, 120.9034 (Blevins, 1979, table 8-1)
    found, _ = frequencies(Beam.uniform(1.0, 1.0, 1.0, elements=8), 3)
    assert found * 2 * np.pi == pytest.approx([22.3733, 61.6728, 120.9034], rel=0.01)


def test_column_with_shear_needs_few_elements():
    # The slope of a soft beam is mostly its shear's: the stress matrix must know that.
    euler, GA = np.pi**2 * 8.0, 60.0
    for elements, within in ((4, 0.03), (8, 8e-3)):
        beam = Beam.uniform(1.0, 8.0, shear=GA, elements=elements)
        assert column_load(beam) == pytest.approx(euler / (1 + euler / GA), rel=within)


def test_stepped_column():
    # Timoshenko and Gere, section 2.14: free top l1, EI1 on a clamped foot l2, EI2:
    # tan(k1 l1) tan(k2 l2) = k1/k2.
    l1, l2, one, two = 0.8, 1.2, 3.0, 11.0

    def left(p):
        k1, k2 = np.sqrt(p / one), np.sqrt(p / two)
        return np.sin(k1 * l1) * np.sin(k2 * l2) * k2 - k1 * np.cos(k1 * l1) * np.cos(k2 * l2)

    expected = brentq(left, 0.5, 10.0)
    x = np.linspace(0, 2, 101)
    n = 100
    beam = Beam(x, np.where(x[1:] < 0.8 + 1e-9, one, two), np.full(n, np.inf), np.ones(n),
                np.zeros(n + 1))
    assert column_load(beam, "cantilever") == pytest.approx(expected, rel=1e-5)


def test_column_under_its_own_weight():
    # Greenhill: q L = 7.837 EI/L^2 (Timoshenko and Gere, section 2.12).
    beam = Beam.uniform(1.0, 1.0, elements=80)
    weight = (np.arange(80) + 0.5) / 80
    assert column_load(beam, "cantilever", weight) == pytest.approx(7.837, rel=1e-3)


def test_column_with_a_joint():
    # Half-sine sides and a kink at mid-length: tan(kL/2) = 2 c/(k EI), c the joint's stiffness.
    EI, L, c = 5.0, 1.0, 4.0
    k = brentq(lambda k: np.sin(k * L / 2) * k * EI - 2 * c * np.cos(k * L / 2), 0.1, np.pi)
    beam = Beam.uniform(L, EI, elements=40, joints={20: 1 / c})
    assert column_load(beam) == pytest.approx(EI * k**2, rel=1e-5)


def test_deflection_with_shear_and_joint_by_unit_loads():
    # Pinned ends, F at mid-span: F L^3/48EI + F L/4GA + c (L/4)^2 F (unit-load method).
    EI, GA, L, c, F = 12.0, 90.0, 1.6, 0.02, 5.0
    beam = Beam.uniform(L, EI, 1.0, GA, elements=8, joints={4: c})
    loads = Loads.none(9)
    loads.across_at[4] = F
    found = deflect(beam, loads, "simply-supported").deflection[4]
    assert found == pytest.approx(F * (L**3 / (48 * EI) + L / (4 * GA) + c * (L / 4) ** 2))


def test_even_load_on_clamped_beam():
    # Roark: w L^4/(384 EI) at mid-span.
    beam = Beam.uniform(2.0, 7.0, elements=10)
    loads = Loads.none(11)
    loads.across_fore[:] = loads.across_aft[:] = 3.0
    found = deflect(beam, loads, "clamped-clamped").deflection[5]
    assert found == pytest.approx(3.0 * 2.0**4 / (384 * 7.0))


def test_even_load_on_a_soft_clamped_beam_of_two_elements():
    # Timoshenko: w L^4/(384 EI) + w L^2/(8 GA) at mid-span, exact at the nodes.
    beam = Beam.uniform(2.0, 7.0, shear=9.0, elements=2)
    loads = Loads.none(3)
    loads.across_fore[:] = loads.across_aft[:] = 3.0
    found = deflect(beam, loads, "clamped-clamped").deflection[1]
    assert found == pytest.approx(3.0 * 2.0**4 / (384 * 7.0) + 3.0 * 2.0**2 / (8 * 9.0))


def test_line_load_that_grows_on_a_soft_cantilever():
    # Held aft, w x/L from the free fore end: tip w L^4/(30 EI) + w L^2/(6 GA), one element.
    beam = Beam.uniform(2.0, 7.0, shear=9.0, elements=1)
    loads = Loads.none(2)
    loads.across_aft[:] = 3.0
    found = deflect(beam, loads, "cantilever").deflection[0]
    assert found == pytest.approx(3.0 * 2.0**4 / (30 * 7.0) + 3.0 * 2.0**2 / (6 * 9.0))


def test_free_beam_pushed_in_the_middle():
    # Each half a cantilever from the middle under F/L: tip against middle F L^3/(128 EI).
    beam = Beam.uniform(2.0, 7.0, elements=20)
    loads = Loads.none(21)
    loads.across_at[10] = 4.0
    loads.across_fore[:] = loads.across_aft[:] = -2.0
    shape = deflect(beam, loads).deflection
    assert shape[10] - shape[0] == pytest.approx(4.0 * 2.0**3 / (128 * 7.0))
    assert np.trapezoid(shape, beam.stations) == pytest.approx(0.0, abs=1e-4)


def test_couple_on_a_cantilever():
    # Couple C at the free fore end: deflection C L^2/2EI there (Roark).
    beam = Beam.uniform(2.0, 7.0, elements=4)
    loads = Loads.none(5)
    loads.couple_at[0] = 3.0
    found = deflect(beam, loads, "cantilever").deflection[0]
    assert found == pytest.approx(3.0 * 4.0 / (2 * 7.0))


def test_refusals_say_why():
    beam = Beam.uniform(1.0, 1.0, elements=4)
    loads = Loads.none(5)
    loads.across_at[0] = 1.0
    with pytest.raises(InputError, match="not in balance"):
        deflect(beam, loads)
    with pytest.raises(InputError, match="move as a whole"):
        deflect(beam, loads, [(0, "across")])
    with pytest.raises(InputError, match="is not one of"):
        frequencies(beam, 1, "glued")
    with pytest.raises(InputError, match="free ends"):
        column_load(beam, "free-free")
    with pytest.raises(InputError, match="not inside"):
        Beam.uniform(1.0, 1.0, elements=4, joints={0: 1.0})
    with pytest.raises(InputError, match="rise"):
        Beam.uniform(1.0, -1.0, elements=4)
