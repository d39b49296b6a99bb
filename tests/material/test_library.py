"""The library: every file complete and sourced, and the published numbers reproduced."""

from __future__ import annotations

from pathlib import Path

import numpy as np
import pytest

from gridshell.define.tables.design import Material
from gridshell.material.catalog import load_material, material_names
from gridshell.material.properties import FROM_MEMORY, KINDS
from gridshell.material.resolve import material_data, properties

# NIST Cryogenic Material Properties, 6061-T6 aluminum (UNS A96061), coefficients as published.
NIST_MODULUS = (7.771221e1, 1.030646e-2, -2.924100e-4, 8.993600e-7, -1.070900e-9)  # GPa
NIST_STRAIN = (-4.1277e2, -3.0389e-1, 8.7696e-3, -9.9821e-6)  # (L - L293)/L293 x 1e5
NIST_CONDUCTIVITY = (0.07918, 1.0957, -0.07277, 0.08084, 0.02803, -0.09464, 0.04179, -0.00571)
NIST_HEAT = (46.6467, -314.292, 866.662, -1298.3, 1162.27, -637.795, 210.351, -38.3094, 2.96344)

ALUMINUM = Material("6061-T6")
KELVIN = np.linspace(80.0, 294.0, 25)


def polynomial(coefficients, argument):
    return sum(c * argument**power for power, c in enumerate(coefficients))


def test_6061_modulus_follows_nist():
    found = properties(ALUMINUM, temperature=KELVIN).modulus
    assert found == pytest.approx(1e9 * polynomial(NIST_MODULUS, KELVIN), rel=2e-3)


def test_6061_conductivity_and_heat_capacity_follow_nist():
    found = properties(ALUMINUM, temperature=KELVIN)
    logarithm = np.log10(KELVIN)
    assert found.conductivity == pytest.approx(
        10 ** polynomial(NIST_CONDUCTIVITY, logarithm), rel=0.01
    )
    assert found.heat_capacity == pytest.approx(10 ** polynomial(NIST_HEAT, logarithm), rel=0.02)


@pytest.mark.parametrize("kelvin", [100.0, 194.7, 250.0])
def test_6061_contraction_follows_nist(kelvin):
    strain = material_data(ALUMINUM, Path()).curves["expansion"].integral(293.0, kelvin)
    assert strain == pytest.approx(1e-5 * polynomial(NIST_STRAIN, kelvin), rel=0.01)


def test_epoxy_expansion_is_the_handbook_table():
    # Springer Handbook of Condensed Matter and Materials Data (2005), Table 3.3-29
    epoxy = Material("epoxy-casting")
    found = properties(epoxy, temperature=np.array([-50.0, 0.0, 20.0]) + 273.15)
    assert found.expansion == pytest.approx([4.9e-5, 6.1e-5, 6.2e-5])


@pytest.mark.parametrize("name", material_names())
def test_every_material_is_complete_sourced_and_sane(name):
    data = load_material(name)
    assert data.name == name
    needed = {"modulus", "poisson", "density", "strength", "strain_at_break", "expansion",
              "conductivity", "heat_capacity"}
    assert needed <= set(data.curves)
    assert data.title and data.family and data.cautions
    for key, curve in data.curves.items():
        assert curve.source != "not stated", key
        words = ("from memory", "common practice, no source", "NIST", "Springer Handbook",
                 "NETZSCH", "Crawford", "Aluminum Association")
        assert any(word in curve.source for word in words), (key, curve.source)
        if KINDS[key].outside != "fixed":
            assert np.isfinite([curve.low, curve.high]).all(), f"{key} has no stated range"
    room = properties(Material(name))
    assert room.modulus > 0 and room.strength < room.modulus * 10
    # Stiffness never rises with temperature.
    modulus = data.curves["modulus"]
    kelvin = np.linspace(modulus.low, modulus.high, 200)
    assert np.all(np.diff(modulus.at(kelvin)) <= 1e-9 * modulus.value[0])
    for key in ("modulus", "strength"):
        if FROM_MEMORY in room.sources[key]:
            assert any(note.startswith(FROM_MEMORY) and key in note for note in room.notes)


def test_hot_melts_cover_dry_ice():
    # 194.7 K, the temperature of dry ice at 1 atm
    for name in ("hot-melt-eva", "hot-melt-polyamide", "polycaprolactone"):
        cold = properties(Material(name), temperature=194.7)
        warm = properties(Material(name))
        assert cold.modulus > 5 * warm.modulus
        assert cold.strain_at_break < 0.05 < warm.strain_at_break


def test_hot_melt_is_plainly_stiffer_out_of_a_freezer():
    # common practice, no source: a household freezer (-18 degC) plainly stiffens a thin casting
    freezer = properties(Material("hot-melt-eva"), temperature=255.15)
    room = properties(Material("hot-melt-eva"))
    assert freezer.modulus > 3 * room.modulus
