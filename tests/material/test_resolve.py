"""From the statement to the properties: what replaces what, and what is refused."""

from __future__ import annotations

import re
from pathlib import Path

import numpy as np
import pytest

from gridshell.define.errors import InputError
from gridshell.define.tables.design import Material
from gridshell.material.creep import NO_DATA, Creep, findley_factor
from gridshell.material.curve import Curve
from gridshell.material.resolve import material_data, properties

EVA = "hot-melt-eva"


def test_unknown_material_names_the_nearest():
    with pytest.raises(InputError, match=r"hot-melt-evaa.*did you mean hot-melt-eva"):
        properties(Material("hot-melt-evaa"))


@pytest.mark.parametrize("name", ["../catalog", "a/b", "x" * 199, "..", "con"])
def test_odd_names_are_refused(name):
    with pytest.raises(InputError, match="not in the library"):
        properties(Material(name))


def test_stated_values_replace_the_library():
    stated = Material(EVA, modulus=1e8, strength=5e6, poisson=0.4, density=1000.0)
    found = properties(stated)
    assert (found.modulus, found.strength, found.poisson, found.density) == (1e8, 5e6, 0.4, 1e3)
    assert found.sources["modulus"] == "stated by you"
    assert found.expansion == properties(Material(EVA)).expansion


def test_own_name_needs_the_three_properties_only():
    found = properties(Material("my mix", modulus=1e9, poisson=0.3, density=1e3))
    assert found.name == "my mix" and found.strength is None and found.expansion is None
    with pytest.raises(InputError, match="not in the library"):
        properties(Material("my mix", modulus=1e9, poisson=0.3))


def test_free_table_replaces_one_property_by_a_value_or_a_curve():
    stated = Material(EVA, properties={
        "expansion": "1e-4 1/K",
        "strength": {"temperature": ["-20 degC", "20 degC"], "value": ["10 MPa", "1 MPa"]},
        "shrinkage": "2 %",
    })
    found = properties(stated, temperature=273.15)
    assert found.expansion == 1e-4 and found.shrinkage == 0.02
    assert found.strength == pytest.approx(np.sqrt(10.0) * 1e6)  # half way on a log scale


@pytest.mark.parametrize(("table", "message"), [
    ({"expanson": "1e-4 1/K"}, "did you mean 'expansion'"),
    ({"expansion": 1e-4}, "has no unit"),
    ({"expansion": "1 m"}, "wrong kind"),
    ({"density": "-3 kg/m^3"}, "too small"),
    ({"expansion": {"value": ["1e-4 1/K", "2e-4 1/K"]}}, "0 entries for 2 values"),
    ({"expansion": {"value": ["1e-4 1/K", "2e-4 1/K"],
                    "temperature": ["20 degC", "10 degC"]}}, "must rise"),
    ({"shrinkage": {"value": [0.01, 0.02], "temperature": ["1 K", "2 K"]}}, "one value"),
    ({"expansion": {"valeu": "1e-4 1/K"}}, "did you mean 'value'"),
])
def test_bad_properties_are_named(table, message):
    with pytest.raises(InputError, match=message):
        properties(Material(EVA, properties=table))


def test_outside_the_data_modulus_is_refused_unless_stated():
    with pytest.raises(InputError, match=r"no modulus data at 126.9 degC; must be -80 degC to 50"):
        properties(Material(EVA, temperature=400.0))
    found = properties(Material(EVA, temperature=400.0, modulus=1e6))
    assert found.modulus == 1e6
    assert found.strength is None  # withheld
    assert found.expansion == pytest.approx(2.2e-4)  # held
    assert any(note.startswith("strength: not known") for note in found.notes)
    assert any(note.startswith("expansion: held") for note in found.notes)


def test_arrays_broadcast_and_withheld_entries_are_nan():
    stated = Material(EVA, modulus=np.array([[1e6], [2e6]]))
    found = properties(stated, temperature=np.array([250.0, 300.0, 400.0]))
    assert np.isnan(found.strength).tolist() == [False, False, True]
    assert found.density.shape == (3,)
    assert (found.modulus * found.density).shape == (2, 3)


def test_one_array_call_equals_many_single_calls():
    kelvin = np.linspace(200.0, 320.0, 13)
    together = properties(Material(EVA), temperature=kelvin)
    for key in ("modulus", "strength", "poisson", "expansion", "heat_capacity"):
        single = [getattr(properties(Material(EVA), temperature=t), key) for t in kelvin]
        assert getattr(together, key) == pytest.approx(single)


def test_load_duration_softens_and_array_durations_broadcast():
    short = properties(Material(EVA))
    hour = properties(Material(EVA, load_duration=3600.0))
    assert hour.short_time_modulus == short.modulus
    # Findley with a = 0.30, n = 0.25, t0 = 60 s: 1.3 / (1 + 0.3 * 60**0.25)
    assert hour.modulus / short.modulus == pytest.approx(1.3 / (1 + 0.3 * 60**0.25))
    many = properties(Material(EVA, load_duration=np.array([1.0, 60.0, 1e5])))
    assert many.creep_factor[:2].tolist() == [1.0, 1.0] and many.creep_factor[2] < 0.5
    long = properties(Material(EVA, load_duration=1e9))
    assert any("extrapolated" in note for note in long.notes)
    metal = properties(Material("6061-T6", load_duration=1e5))
    assert metal.creep_factor == 1.0 and not any("creep" in note for note in metal.notes)


def test_the_shear_modulus_is_that_of_an_isotropic_material():
    found = properties(Material("mine", modulus=2.6e9, poisson=0.3, density=1e3))
    assert found.shear_modulus == pytest.approx(1e9)  # E/(2 (1 + v))


def test_temperatures_are_named_in_degrees_celsius():
    # ISO 80000-5: 0 degC is 273.15 K.
    with pytest.raises(InputError, match=r"no modulus data at -173\.1 degC|at -173\.2 degC"):
        properties(Material(EVA, temperature=100.0))


@pytest.mark.parametrize(("key", "given"), [
    ("poisson", 0.52), ("poisson", -1.02), ("modulus", "2.1e12 Pa"), ("density", "3.1e4 kg/m^3"),
])
def test_values_beyond_what_any_material_has_are_refused(key, given):
    with pytest.raises(InputError, match=f"material.properties.{key}"):
        properties(Material(EVA, properties={key: given}))


def test_creep_that_nobody_knows_is_said_and_can_be_stated():
    stated = {"name": "mine", "modulus": 1e9, "poisson": 0.3, "density": 1e3}
    for duration, said in ((30.0, False), (60.0, False), (61.0, True), (np.array([1, 1e5]), True)):
        found = properties(Material(**stated, load_duration=duration))
        assert (NO_DATA in found.notes) == said and np.all(found.modulus == 1e9)
    known = properties(Material(**stated, load_duration=np.array([60.0, 1e5]), creep_factor=0.4))
    assert known.modulus.tolist() == [1e9, 0.4e9] and NO_DATA not in known.notes
    assert known.creep_factor.tolist() == [1.0, 0.4] and known.short_time_modulus == 1e9
    # What is stated replaces the library's law too.
    assert properties(Material(EVA, load_duration=3600.0, creep_factor=0.9)).creep_factor == 0.9


def test_findley_against_its_own_creep_strain():
    # e(t) = e0 + m t^n (Findley, Lai and Onaran): modulus ratio is the ratio of the strains.
    e0, m, n, t0 = 1e-3, 2e-4, 0.3, 30.0
    time = np.array([30.0, 300.0, 3e4])
    strain = e0 + m * time**n
    assert findley_factor(time, m * t0**n / e0, n, t0) == pytest.approx(
        (e0 + m * t0**n) / strain
    )


def test_material_file_beside_the_definition(tmp_path):
    (tmp_path / "mine.toml").write_text(
        'name = "mine"\n[modulus]\nvalue = "1 GPa"\n[poisson]\nvalue = 0.3\n'
        '[density]\nvalue = "1000 kg/m^3"\n[creep]\nform = "factor"\nfactor = 0.5\n'
    )
    found = properties(Material("x", file="mine.toml", load_duration=10.0), tmp_path)
    assert found.modulus == 0.5e9 and found.name == "mine"


@pytest.mark.parametrize(("content", "message"), [
    ("", "name: missing"),
    ('name = "m"\n[modulu]\nvalue = "1 GPa"', "modulu: unknown key; did you mean 'modulus'"),
    ('name = "m"\n[creep]\nform = "wobble"', "not one of: factor, findley"),
    ('name = "m"\n[creep]\nform = "findley"\nexponent = 0.2', "creep.amplitude: missing"),
    ('name = "m"\n[modulus]\nvalue = "1 GPa"\nvalid = ["20 degC"]', "lower and a higher"),
    ('name = "m"\ncreep = 3', "not a table"),
    ('name = "m"', "material.modulus: m does not give it"),
    ("name = [", "not valid TOML"),
])
def test_bad_material_files(tmp_path, content, message):
    (tmp_path / "bad.toml").write_text(content)
    with pytest.raises(InputError, match=message):
        properties(Material("x", file="bad.toml"), tmp_path)


def test_missing_file(tmp_path):
    with pytest.raises(InputError, match="can't be read"):
        properties(Material("x", file="none.toml"), tmp_path)


def test_thermal_strain_is_the_integral_of_expansion():
    kelvin = np.linspace(200.0, 300.0, 2001)
    expansion = properties(Material(EVA), temperature=kelvin).expansion
    strain = material_data(Material(EVA), Path()).curves["expansion"].integral(300.0, 200.0)
    assert strain == pytest.approx(
        -np.trapezoid(expansion, kelvin), rel=1e-6
    )


def test_curve_never_overshoots():
    curve = Curve(np.array([200.0, 250.0, 260.0, 300.0]), np.array([2e9, 2e9, 1e7, 1e7]), "log",
                  200.0, 300.0)
    found = curve.at(np.linspace(200.0, 300.0, 500))
    assert found.max() <= 2e9 * (1 + 1e-9) and found.min() >= 1e7 * (1 - 1e-9)


def test_limits_are_named():
    notes = properties(Material(EVA, temperature=220.0)).notes
    assert any(note.startswith("brittle below") for note in notes)
    assert any(note.startswith("below the lowest usual") for note in notes)


def test_strength_nobody_knows_is_none_or_no_number_whatever_stands_beside_it():
    # Data of this steel end at 100 degC.
    steel = Material("steel-mild")
    assert properties(steel, temperature=383.0).strength is None
    for temperature in ([383.0], [383.0, 393.0], [293.0, 383.0]):
        found = properties(steel, temperature=np.array(temperature)).strength
        assert np.isnan(found).tolist() == [t > 373.15 for t in temperature]


def test_creep_never_mends_a_material_as_it_warms():
    # Data that are better warm than cold are held at their hot end, not continued.
    warm = Curve(np.array([273.0, 293.0]), np.array([0.5, 0.9]), low=273.0, high=293.0)
    creep = Creep(warm, None, 0.0, 1.0, np.inf, "invented")
    assert creep.at(333.0, 100.0)[0] == pytest.approx(0.9)
    falling = Curve(np.array([273.0, 293.0]), np.array([0.9, 0.5]), low=273.0, high=293.0)
    assert Creep(falling, None, 0.0, 1.0, np.inf, "").at(333.0, 100.0)[0] < 0.5
    easing = Creep(None, falling, 0.3, 1.0, np.inf, "invented")
    assert easing.at(333.0, 100.0)[0] == pytest.approx(easing.at(293.0, 100.0)[0])


@pytest.mark.parametrize(("table", "field"), [
    ('[expansion]\nvalue = "1.04e-2 1/K"', "expansion"),
    ("[shrinkage]\nvalue = 0.205", "shrinkage"),
    ("[modulus]\nvalue = \"1 GPa\"\nscatter = 1.03", "modulus.scatter"),
])
def test_a_little_beyond_the_bounds_is_refused(tmp_path, table, field):
    (tmp_path / "bad.toml").write_text(f'name = "m"\n{table}\n')
    with pytest.raises(InputError, match=rf"{re.escape(field)}.*too large"):
        properties(Material("x", file="bad.toml"), tmp_path)
