"""Strength under a load that stays on: the law, the library, and what the user states."""

from __future__ import annotations

import numpy as np
import pytest

from gridshell.define.tables.design import Material
from gridshell.material.catalog import load_material, material_names
from gridshell.material.coupon.evaluate import run_coupon
from gridshell.material.coupon.material_file import write_material_file
from gridshell.material.data import read_material_file
from gridshell.material.resolve import properties
from gridshell.material.rupture import rupture_factor

DAY, YEAR = 86400.0, 3.156e7
METALS = {"aluminum-2219-t87", "aluminum-6061-t6", "aluminum-7075-t6", "steel-mild"}


def test_straight_line_in_logs_then_a_knee():
    # ISO 9080: log stress over log time is a straight line; by hand 0.9^3 after three decades.
    assert rupture_factor(6e4, 0.9, 60.0) == pytest.approx(0.729)
    assert rupture_factor(np.array([0.01, 60.0]), 0.9, 60.0) == pytest.approx(1.0)
    # one decade beyond the data counts twice: 0.9^(4 + 1)
    assert rupture_factor(6e5, 0.9, 60.0, longest=6e4) == pytest.approx(0.59049)


@pytest.mark.parametrize("name", material_names())
def test_library_never_gains_with_time_or_heat(name):
    data = load_material(name)
    assert data.rupture is not None and "from memory" in data.rupture.source
    assert data.rupture.per_decade.high >= data.curves["strength"].high - 1e-6
    strength = data.curves["strength"]
    kelvin = np.linspace(strength.low, strength.high, 60)[:, None]
    duration = np.geomspace(1.0, 30 * YEAR, 40)
    factor, _ = data.rupture.at(kelvin, duration)
    assert np.all(np.diff(factor, axis=0) <= 1e-12) and np.all(np.diff(factor, axis=1) <= 1e-12)
    assert np.all((factor > 0) & (factor <= 1))
    room = properties(Material(name, load_duration=YEAR))
    if name in METALS:
        assert room.strength == room.short_time_strength
    else:
        assert room.strength < 0.75 * room.short_time_strength
        assert room.strength == pytest.approx(room.rupture_factor * room.short_time_strength)


def test_without_a_duration_nothing_is_lost():
    found = properties(Material("hot-melt-eva"))
    assert found.rupture_factor == 1.0 and found.strength == found.short_time_strength


def test_hotter_than_the_data_is_not_known():
    stated = Material("hot-melt-eva", temperature=335.0, modulus=1e6, strength=1e5,
                      load_duration=DAY)
    found = properties(stated)
    assert np.isnan(found.strength)
    assert any("strength_per_decade" in note for note in found.notes)
    assert properties(Material(**{**vars(stated), "strength_per_decade": 0.5})).strength < 1e5


def test_a_material_without_data_loses_a_tenth_per_decade_and_says_so():
    stated = {"name": "mine", "modulus": 1e9, "poisson": 0.4, "density": 1e3, "strength": 1e7,
              "load_duration": 6e4}
    found = properties(Material(**stated))
    assert found.strength == pytest.approx(0.729e7)
    assert any("no data" in note and "strength_per_decade" in note for note in found.notes)
    kept = properties(Material(**stated, strength_per_decade=1.0))
    assert kept.strength == 1e7
    assert not any(note.startswith("strength over time") for note in kept.notes)
    many = properties(Material(**{**stated, "load_duration": np.array([60.0, 600.0])}))
    assert many.strength == pytest.approx([1e7, 0.9e7])


def test_creep_goes_on_beyond_its_data():
    # Hotter than Findley's data and longer than a stated factor covers, the modulus still falls.
    creep = load_material("hot-melt-eva").creep
    end = creep.amplitude.high
    hot, notes = creep.at(np.array([end, end + 10.0]), DAY)
    assert hot[1] < hot[0] and any("continued" in note for note in notes)
    epoxy = load_material("epoxy-casting").creep
    longer, notes = epoxy.at(294.15, np.array([1e3, 1e6, 1e8]))
    assert longer == pytest.approx([0.6, 0.6, 0.6 ** (8 / 6)])
    assert any("extrapolated" in note for note in notes)


def test_a_measured_material_keeps_the_loss_of_its_base(tmp_path):
    table = tmp_path / "a.csv"
    table.write_text(
        "# based on: hot-melt-eva\ntest,temperature [degC],span [mm],width [mm],depth [mm],"
        "load [N],deflection [mm]\nthree-point,21,64,10,4,5,1.0\n", encoding="utf-8")
    write_material_file(run_coupon(table), tmp_path / "mine.toml")
    mine, base = read_material_file(tmp_path / "mine.toml"), load_material("hot-melt-eva")
    assert mine.rupture.at(300.0, DAY)[0] == pytest.approx(base.rupture.at(300.0, DAY)[0])
    assert "taken from hot-melt-eva" in mine.rupture.source
