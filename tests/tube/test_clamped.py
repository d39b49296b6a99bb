"""Ends built in: limits known in closed form, a shell solver, and laws of constrained waves."""

from __future__ import annotations

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from gridshell.define.tables.design import Case, with_values
from gridshell.tube.assess import assess_tube
from gridshell.tube.buckling import clamped
from gridshell.tube.buckling.clamped import clamped_wave, clamped_waves
from gridshell.tube.buckling.general import buckling_loads
from gridshell.tube.buckling.wave_laws import design_of, wave_load
from gridshell.tube.buckling.wave_stiffness import wave_stiffness
from gridshell.tube.buckling.waves import LOADS, lowest_wave
from gridshell.wall.assess import assess_wall
from gridshell.wall.stiffness.smeared import skin_stiffness

MODULUS, POISSON = 1e9, 0.3


def plain(radius, thickness, length, load):
    """Lowest load with free ends, and with clamped ends, of a plain tube."""
    A, D = skin_stiffness(MODULUS, POISSON, thickness)
    law = wave_stiffness(A, 0 * A, D, radius)
    free = lowest_wave(load, law, length)
    return free, clamped_wave(load, law, length, free)


def test_a_very_short_tube_is_a_wide_column():
    # Timoshenko and Gere, Theory of Elastic Stability, 2.2: built-in ends 4 pi^2 D/L^2.
    thickness, length = 1e-3, 0.01
    free, held = plain(1.0, thickness, length, "compression")
    plate = MODULUS * thickness**3 / (12 * (1 - POISSON**2))
    assert free.load == pytest.approx(np.pi**2 * plate / length**2, rel=2e-3)
    assert held.load == pytest.approx(4 * np.pi**2 * plate / length**2, rel=2e-3)
    assert held.gain == pytest.approx(4.0, rel=3e-3) and held.m == 1


def test_a_thin_tube_under_pressure_is_a_clamped_beam():
    # Where waves are long, what holds a wave is its axial stretch, E t w,xxxx, as in a beam, and
    # built-in ends take pi^4 to 4.7300^4; with the best number of waves the load goes with the
    # fourth root (derived from Donnell's equation; L. H. Sobel, AIAA Journal 2 (1964), finds about
    # 1.5 with ends held along, from memory).
    _, held = plain(1.0, 2e-4, 3.0, "lateral")
    assert held.n > 12
    assert held.gain == pytest.approx(4.7300 / np.pi, rel=0.02)
    assert plain(1.0, 2e-4, 3.0, "hydrostatic")[1].gain == pytest.approx(4.73 / np.pi, rel=0.02)


@pytest.mark.parametrize("load", ["compression", "lateral"])
def test_waves_beyond_the_last_are_not_forgotten(load, monkeypatch):
    """Few waves along with clamped ends, the rest with free ones: hardly another load."""
    whole = plain(1.0, 1e-2, 10.0, load)[1].load
    monkeypatch.setattr(clamped, "_MOST", clamped._FEWEST)
    assert plain(1.0, 1e-2, 10.0, load)[1].load == pytest.approx(whole, rel=3e-3)
    # Where the last is so long a wave that those beyond go first, theirs is the load.
    monkeypatch.setattr(clamped, "_FEWEST", 4)
    monkeypatch.setattr(clamped, "_MOST", 4)
    free, held = plain(1.0, 1e-2, 10.0, load)
    assert free.load <= held.load <= 1.01 * whole


def test_a_long_thin_tube_has_an_answer():
    free, held = plain(1.0, 3e-4, 29.0, "compression")
    assert free.load <= held.load < np.inf
    free, held = plain(1.0, 3e-4, 60.0, "compression")  # so many waves earn no credit
    assert held.load == free.load


def test_compression_hardly_gains_where_many_waves_have_the_same_load():
    # NASA/SP-8007-2020/REV 2, 4.1.1.1: ends hardly matter to tubes of moderate length.
    _, held = plain(0.1, 2e-4, 0.2, "compression")
    assert 1 < held.gain < 1.05


@pytest.mark.parametrize(("wall", "side", "load"), [
    ("orthogrid", "outside", "compression"), ("orthogrid", "inside", "lateral"),
    ("isogrid", "outside", "hydrostatic"), ("isogrid", "inside", "compression"),
])
def test_never_above_a_tube_of_shells(make_design, make_properties, wall, side, load):
    # pyfe3d: facets with full A, B, D and transverse shear, all held at both ends.
    pytest.importorskip("pyfe3d")
    from gridshell.proof.shells.sample import shell_wall
    from gridshell.proof.shells.tube import ShellTube, unit_state

    design = make_design(wall, ribs__side=side, tube__length=0.3)
    made = shell_wall(assess_wall(design, make_properties()))
    radius, length = float(design.skin_radius), 0.3
    law = wave_stiffness(*made.stiffness, radius, shear=made.shear)
    free = lowest_wave(load, law, length)
    held = clamped_wave(load, law, length, free)
    tube = ShellTube(made, radius, length, 60, 40)
    unit = unit_state(load, radius)
    judge = {support: tube.mode(int(wave.n), unit, support=support).load
             / (2 * np.pi * radius if load == "compression" else 1)
             for support, wave in (("fixed-fixed", held), ("simply-supported", free))}
    assert 0.95 < held.load / judge["fixed-fixed"] < 1.005
    # and neither is its gain, wave for wave
    other = wave_load(design_of(law.table(()), 0), LOADS.index(load),
                      (np.arange(1, 60) * np.pi / length) ** 2, (held.n / radius) ** 2).min()
    free_there = tube.mode(int(held.n), unit).load / (
        2 * np.pi * radius if load == "compression" else 1)
    assert held.load / other < 1.01 * judge["fixed-fixed"] / free_there


@settings(deadline=None, max_examples=8)
@given(st.integers(0, 39), st.floats(-1.5, 1.5), st.sampled_from(LOADS[:3]))
def test_held_ends_never_lower_a_load_nor_lift_it_by_more_than_two_places(
    random_walls, which, length, load
):
    A, B, D, over = random_walls(40)  # the same each time
    radius = float(over[which])
    span = radius * float(np.exp(length))
    law = wave_stiffness(A[which], B[which], D[which], radius)
    free = lowest_wave(load, law, span)
    held = clamped_wave(load, law, span, free)
    m = np.arange(1, span / float(law.shortest) + 1)  # shorter waves only hold
    of_free_wave = np.sort(wave_load(
        law, LOADS.index(load), (m * np.pi / span) ** 2, (free.n / radius) ** 2))
    first = 3 if free.n else 2
    assert free.load * (1 - 1e-6) <= held.load
    # two constraints of each symmetry, and one symmetry has the lowest wave
    if len(m) > 2 * first:
        assert held.load <= of_free_wave[2 * first] * (1 + 1e-6)
    assert held.gain == pytest.approx(held.load / free.load)


def test_one_design_and_many(make_design, make_properties):
    lengths = np.array([0.3, 0.6])
    design = make_design("isogrid", tube__ends="clamped", tube__length=lengths)
    many = buckling_loads(assess_wall(design, make_properties()))
    for i, length in enumerate(lengths):
        one = assess_wall(with_values(design, {"tube.length": float(length)}), make_properties())
        single = buckling_loads(one)
        plain_ends = buckling_loads(assess_wall(
            with_values(one.design, {"tube.ends": "simply-supported"}), make_properties()))
        for load in LOADS:
            found, free = getattr(single, load), getattr(plain_ends, load)
            assert getattr(many, load).load[i] == pytest.approx(found.load, rel=1e-6)
            assert getattr(many, load).n[i] == found.n
            assert free.gain == 1.0
            if load == "torsion":
                assert found.load == free.load  # no credit
            else:
                assert found.load == pytest.approx(found.gain * free.load) and found.gain > 1.0


def test_a_load_of_zero_stays_zero(make_design, make_properties):
    A, D = skin_stiffness(MODULUS, POISSON, 1e-3)
    law = wave_stiffness(A, 0 * A, -D, 0.1)
    free = lowest_wave("compression", law, 0.2)
    assert clamped_waves("compression", law, 0.2, free).load <= 0


def test_the_checks_use_it_and_say_so(make_design, make_properties):
    case = (Case("deep", pressure=1e3, compression=10.0),)
    usual, held = (
        assess_tube(make_design("isogrid", tube__ends=ends, case=case), make_properties())
        for ends in ("simply-supported", "clamped"))
    name = "general instability under external pressure"
    before, after = (next(check for check in tube.cases[0].checks if check.name == name)
                     for tube in (usual, held))
    assert after.allowable > 1.1 * before.allowable
    assert "ends clamped" in after.notes[0] and "ends clamped" not in before.notes[0]
    assert any("ends clamped" in note for note in held.notes)
    assert not any("ends clamped" in note for note in usual.notes)
