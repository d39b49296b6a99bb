"""Cooling against the full series, the error function, and heat balances."""

import numpy as np
import pytest
from heat_slab import add_slab
from scipy.special import erf

from gridshell.define.tables.casting import Casting
from gridshell.material.properties import Properties
from gridshell.mold.checks.heat.cooling import cooling_checks, cooling_plan, mold_properties, stands
from gridshell.mold.checks.heat.transfer import (
    Lining,
    contact_temperature,
    effusivity,
    follow_cooling,
    slab_cooling_time,
)

MELT = Properties("melt", 300.0, 1e7, 0.4, 950.0, conductivity=0.2, heat_capacity=2200.0,
                  softening_temperature=353.15)
POUR = {"mean_thickness": 2e-3, "pitch": 0.02, "mold_wall": 0.01, "start": 448.15,
        "release": 313.15}
DIFFUSIVITY = 0.2 / (950.0 * 2200.0)
ANVIL = Properties("anvil", 300.0, 2e11, 0.3, 8000.0, conductivity=4e4, heat_capacity=5e4)


def series(fourier, mean=False):
    """Carslaw and Jaeger, Conduction of Heat in Solids, Section 3.3: slab of half thickness 1,
    faces suddenly held at 0, middle (or mean) over its starting temperature."""
    odd = 2 * np.arange(4000) + 1
    sign = np.where(np.arange(4000) % 2 == 0, 1.0, -1.0)
    decay = np.exp(-np.multiply.outer(fourier, (odd * np.pi / 2) ** 2))
    if mean:
        return 8 / np.pi**2 * (decay / odd**2).sum(axis=-1)
    return 4 / np.pi * (sign * decay / odd).sum(axis=-1)


@pytest.mark.parametrize("mean", [False, True])
def test_slab_time_inverts_the_series(mean):
    fourier = np.array([0.2, 0.4, 0.8, 1.5])
    ratio = series(fourier, mean)
    time = slab_cooling_time(2.0, 1.0, 1.0, 0.0, ratio, mean)
    assert time == pytest.approx(fourier, rel=0.015 if not mean else 0.02)


def test_slab_time_of_a_published_table():
    """Plane wall, Bi = infinity: theta = 1.2733 exp(-2.4674 Fo) (Incropera and DeWitt, table of
    the one-term coefficients; from memory)."""
    fourier = 0.7
    ratio = 1.2733 * np.exp(-(1.5708**2) * fourier)
    assert slab_cooling_time(2.0, 1.0, 1.0, 0.0, ratio) == pytest.approx(fourier, rel=2e-4)


def test_a_wall_warmer_than_the_release_never_cools_it():
    assert slab_cooling_time(1e-3, 1e-7, 450.0, 320.0, 310.0) == np.inf


def test_followed_slab_in_a_mold_of_endless_conductivity_is_the_series():
    followed = follow_cooling(
        np.array([3e-3]), MELT, [ANVIL], 0.05, start=450.0, mold_temperature=300.0, release=310.0,
        heat_transfer=10.0)
    fourier = DIFFUSIVITY * followed.time / 1.5e-3**2
    later = (fourier > 0.15) & (fourier < 1.2)
    ratio = (followed.middle[later, 0, 0] - 300.0) / 150.0
    assert later.sum() > 5
    assert ratio == pytest.approx(series(fourier[later]), abs=0.01)
    expected = float(slab_cooling_time(3e-3, DIFFUSIVITY, 450.0, 300.0, 310.0))
    assert followed.released[0, 0] == pytest.approx(expected, rel=0.02)


def test_face_stays_at_the_contact_temperature_at_first():
    """Two thick bodies: T = Tc between them as long as neither knows its far end, and the error
    function inside (Carslaw and Jaeger, Section 2.15)."""
    shell = mold_properties("petg")
    followed = follow_cooling(
        np.array([0.04]), MELT, [shell], 0.04, start=450.0, mold_temperature=300.0, release=449.0,
        heat_transfer=0.0)
    # Heat has entered the grid's first cells but has not crossed either side.
    reach = np.sqrt(4 * DIFFUSIVITY * followed.time)
    early = (reach > 3e-3) & (reach < 0.02 / 2.5)
    expected = contact_temperature(
        effusivity(0.2, 950.0, 2200.0), 450.0,
        effusivity(shell.conductivity, shell.density, shell.heat_capacity), 300.0)
    assert early.sum() > 3
    assert followed.face[early, 0, 0] == pytest.approx(float(expected), abs=1.5)
    middle = expected + (450.0 - expected) * erf(0.02 / reach[early])
    assert followed.middle[early, 0, 0] == pytest.approx(middle, abs=0.5)


def test_closed_off_mold_ends_at_the_mixing_temperature():
    """No heat to the air: the mean weighted by heat capacity (heat balance)."""
    shell = mold_properties("aluminum-6061-t6")
    followed = follow_cooling(
        np.array([4e-3]), MELT, [shell], 6e-3, start=450.0, mold_temperature=300.0, release=280.0,
        heat_transfer=0.0)
    part, mold = 2e-3 * 950.0 * 2200.0, 6e-3 * float(shell.density * shell.heat_capacity)
    mixed = (part * 450.0 + mold * 300.0) / (part + mold)
    assert followed.middle[-1, 0, 0] == pytest.approx(mixed, abs=0.2)
    assert np.isnan(followed.released[0, 0])


def test_modes_agree_with_the_marching_solver():
    """The same slab through `gridshell.thermal.heat.transient`, which steps in time."""
    from gridshell.thermal.heat.network import OUTSIDE, Builder, constant_solid
    from gridshell.thermal.heat.surroundings import Surroundings, constant_coefficient
    from gridshell.thermal.heat.transient import transient

    shell = mold_properties("petg")
    followed = follow_cooling(
        np.array([3e-3]), MELT, [shell], 8e-3, start=450.0, mold_temperature=300.0, release=330.0,
        heat_transfer=12.0)
    builder = Builder()
    melt = constant_solid("melt", 0.2, 950.0, 2200.0)
    petg = constant_solid("petg", *(float(v) for v in (
        shell.conductivity, shell.density, shell.heat_capacity)))
    first = add_slab(builder, 1.5e-3, 20, melt)
    last = add_slab(builder, 8e-3, 60, petg, first=first[-1])
    builder.face(last[-1], 1.0, OUTSIDE)
    begin = np.full(builder.count, 300.0)
    begin[first] = 450.0
    # The node on the face holds half a cell of each; it starts with the heat of both.
    melted, cold = 1.5e-3 / 20 * 950.0 * 2200.0, 8e-3 / 60 * float(
        shell.density * shell.heat_capacity)
    begin[first[-1]] = (melted * 450.0 + cold * 300.0) / (melted + cold)
    run = transient(builder.build(), begin,
                    {OUTSIDE: Surroundings(300.0, constant_coefficient(12.0))},
                    float(followed.released[0, 0]), tolerance=0.05)
    assert run.temperature[-1, first[0]] == pytest.approx(330.0, abs=0.3)


@pytest.mark.parametrize(("name", "verdict", "says"), [
    ("pla", "fails", "milled metal is the answer"),
    ("petg", "fails", "milled metal is the answer"),
    ("aluminum-6061-t6", "ok", "stays solid"),
    ("silicone-mold", "ok", "stays solid"),
])
def test_melt_at_175_degC_softens_printed_molds_and_no_metal(name, verdict, says):
    """That printed PLA and PETG slump under hot melt is common practice, no source."""
    shell = mold_properties(name)
    plan = cooling_plan([("skin", 1.5e-3)], MELT, shell, Casting(), **POUR)
    face, time = cooling_checks(plan, MELT, shell, 448.15)
    assert face.verdict == verdict
    assert says in face.advice
    assert time.value is not None and time.value > time.details["cold_mold"]["skin"]
    assert set(time.details["followed"]) >= {"pla", "petg", "abs", "aluminum-6061-t6",
                                             "steel-mild", "silicone-mold"}


def test_metal_cools_the_part_many_times_faster_than_plastic():
    plan = cooling_plan([("rib", 2e-3)], MELT, mold_properties("pla"), Casting(), **POUR)
    times = {m.name: t for m, t in zip(plan.molds, plan.followed.released[:, 0], strict=True)}
    assert times["pla"] > 10 * times["aluminum-6061-t6"]


def test_verdict_on_a_face_near_its_softening():
    petg = mold_properties("petg")
    soft = float(petg.softening_temperature)
    assert [stands(petg, soft + d) for d in (1.0, -5.0, -30.0)] == ["fails", "caution", "ok"]


def test_a_resin_and_missing_data_say_so():
    shell = mold_properties("petg")
    assert cooling_checks(None, MELT, shell, 295.0)[0].verdict == "ok"
    bare = Properties("bare", 300.0, 1e7, 0.4, 950.0)
    unknown = cooling_checks(None, bare, shell, 420.0)
    assert {c.verdict for c in unknown} == {"not known"}
    assert "[material.properties]" in unknown[0].advice


def test_a_mold_as_hot_as_the_melt_is_soft_too():
    face = cooling_checks(None, MELT, mold_properties("petg"), 448.0)[0]
    assert face.verdict == "fails"


def lined(thickness, wall, *, shell=ANVIL, round_it=(False,), transfer=10.0, release=330.0):
    rubber = mold_properties("silicone-mold")
    return follow_cooling(
        np.array([thickness] * len(round_it)), MELT, [shell], 0.05, start=450.0,
        mold_temperature=300.0, release=release, heat_transfer=transfer,
        lining=Lining(rubber, wall, np.array(round_it)))


def test_rubber_on_one_side_takes_longer_than_metal_on_both():
    """Between the slab cooled on both faces and that cooled on one alone (four times as long)."""
    metal = follow_cooling(
        np.array([3e-3]), MELT, [ANVIL], 0.05, start=450.0, mold_temperature=300.0, release=330.0,
        heat_transfer=10.0).released[0, 0]
    one = lined(3e-3, 10e-3).released[0, 0]
    assert 1.5 * metal < one < 4 * metal * 1.01
    # A rib with rubber all round waits longest.
    both = lined(3e-3, 10e-3, round_it=(False, True)).released[0]
    assert both[0] == pytest.approx(one) and both[1] > 2 * one


def test_a_lining_of_the_molds_own_material_changes_nothing():
    shell = mold_properties("petg")
    plain = follow_cooling(
        np.array([3e-3]), MELT, [shell], 8e-3, start=450.0, mold_temperature=300.0, release=330.0,
        heat_transfer=10.0)
    same = follow_cooling(
        np.array([3e-3]), MELT, [shell], 8e-3, start=450.0, mold_temperature=300.0, release=330.0,
        heat_transfer=10.0, lining=Lining(shell, 8e-3, np.array([False])))
    assert same.released == pytest.approx(plain.released, rel=1e-3)
    later = plain.time > 1.0
    assert same.middle[later] == pytest.approx(plain.middle[later], abs=0.05)


def test_a_rubber_core_is_known_to_the_check():
    """The same casting in a metal mold, its ribs in metal or in rubber."""
    from shapes import small

    from gridshell.define.tables.mold import Mold
    from gridshell.mold.checks.run import mold_checks

    design = small()
    rigid, rubber = (mold_checks(design, Mold(process="mill", core=core)).find(
        "time to the peel temperature") for core in ("rigid", "rubber"))
    assert rubber.value > 2 * rigid.value
    assert "silicone-mold" in rubber.notes[0]
