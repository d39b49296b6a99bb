"""The tube as a beam against textbook cases, and the limits of its stiffness.

Sources: Timoshenko, Strength of Materials (thin tube); Timoshenko and Gere, Theory of Elastic
Stability, 2.17 (column with shear).
"""

from __future__ import annotations

import numpy as np
import pytest

from gridshell.tube.buckling.general import buckling_loads
from gridshell.tube.buckling.wave_stiffness import LINE_ELEMENT, wave_stiffness
from gridshell.tube.section.beam_column import AcrossLoads, beam_column
from gridshell.tube.section.column import JointSprings, Member
from gridshell.tube.section.stiffness import beam_stiffness
from gridshell.tube.section.vibration import first_frequency
from gridshell.wall.assess import assess_wall
from gridshell.wall.stiffness.smeared import family_stiffness, skin_stiffness

# --- stiffness of the tube ----------------------------------------------------------------------


def test_thin_plain_tube():
    # 2 pi R t E, pi R^3 t E, 2 pi R^3 t G, pi R t G.
    E, v, t, R = 3.0, 0.3, 1e-4, 1.0
    A, D = skin_stiffness(E, v, t)
    found = beam_stiffness(A, np.zeros_like(A), D, R)
    G = E / (2 * (1 + v))
    assert float(found.EA) == pytest.approx(2 * np.pi * R * t * E, rel=1e-7)
    assert float(found.EI) == pytest.approx(np.pi * R**3 * t * E, rel=1e-7)
    assert float(found.GJ) == pytest.approx(2 * np.pi * R**3 * t * G, rel=1e-7)
    assert float(found.GA) == pytest.approx(np.pi * R * t * G, rel=1e-7)


@pytest.mark.parametrize("R", [0.05, 20.0])
def test_thin_plain_tube_of_any_radius(R):
    E, v, t = 3.0, 0.3, 1e-4 * R
    A, D = skin_stiffness(E, v, t)
    found, G = beam_stiffness(A, np.zeros_like(A), D, R), E / (2 * (1 + v))
    for name, exact in (("EA", 2 * np.pi * R * t * E), ("EI", np.pi * R**3 * t * E),
                        ("GJ", 2 * np.pi * R**3 * t * G), ("GA", np.pi * R * t * G)):
        assert float(getattr(found, name)) == pytest.approx(exact, rel=1e-7), name


@pytest.mark.parametrize("z", [-3e-3, 3e-3])
def test_crossing_ribs_stand_at_their_own_radius(z):
    # A rib at 45 deg and z is strained by (e_x + e_t R/(R + z) + g (R + z)/R)/2, to first order in
    # z/R; the hoop strain of a stretched tube is free. Written out on the strains of the points.
    E, v, t, R, per_length = 2.0, 0.3, 1e-3, 0.07, 1.5e-3
    A, D = skin_stiffness(E, v, t)
    B = np.zeros_like(A)
    for sine in (np.sqrt(0.5), -np.sqrt(0.5)):
        added = family_stiffness(np.sqrt(0.5), sine, 1.0, E * per_length, z, 0.0, 0.0)
        A, B, D = A + added[0], B + added[1], D + added[2]
    found = beam_stiffness(A, B, D, R)
    skin, rib = E * t / (1 - v**2), 2 * E * per_length
    inward, outward = 1 - z / R, 1 + z / R
    plate = E * t**3 / (12 * (1 - v**2)) / R**2  # of the skin itself, bent by -e_t/R
    hoop = skin + rib * inward**2 / 4 + plate
    mixed = v * skin + rib * inward / 4
    axial = skin + rib / 4
    assert float(found.EA) == pytest.approx(2 * np.pi * R * (axial - mixed**2 / hoop), rel=2e-4)
    shear, twist = E * t / (2 * (1 + v)), E * t**3 / (24 * (1 + v)) / R**2
    assert float(found.GJ) == pytest.approx(
        2 * np.pi * R**3 * (shear + twist + rib / 4 * outward**2), rel=1e-12)
    bending = (axial * 0 + skin + plate + rib / 4 * outward**2) - (
        v * skin + rib / 4 * outward) ** 2 / (skin + rib / 4)
    assert float(found.EI) == pytest.approx(np.pi * R**3 * bending, rel=1e-12)


@pytest.mark.parametrize("ratio, within", [(10.0, 3e-3), (50.0, 1.2e-4)])
def test_thick_plain_tube(ratio, within):
    # Exact: I = pi/4 (a^4 - b^4), J = 2 I (Timoshenko, Strength of Materials).
    A, D = skin_stiffness(1.0, 0.3, 1 / ratio)
    found = beam_stiffness(A, np.zeros_like(A), D, 1.0)
    outer, inner = 1 + 0.5 / ratio, 1 - 0.5 / ratio
    moment = np.pi / 4 * (outer**4 - inner**4)
    assert float(found.EI) == pytest.approx(moment, rel=within)
    assert float(found.GJ) == pytest.approx(2 * moment / 2.6, rel=within)


@pytest.mark.parametrize("side", [-1.0, 1.0])
def test_strings_stand_at_their_own_radius(side):
    # Sum of E A (R + z)^2 sin^2 over real strings, plus the skin.
    E, v, t, R, area, z, count = 2.0, 0.0, 0.01, 1.0, 4e-4, 0.04 * side, 24
    A, D = skin_stiffness(E, v, t)
    added = family_stiffness(1.0, 0.0, 2 * np.pi * R / count, E * area, z, 0.0, 0.0)
    found = beam_stiffness(A + added[0], added[1], D + added[2], R)
    angles = 2 * np.pi * np.arange(count) / count
    strings = E * area * np.sum(((R + z) * np.sin(angles)) ** 2)
    skin = E * np.pi * R * t * (R**2 + t**2 / 12)
    assert float(found.EI) == pytest.approx(strings + skin, rel=1e-12)
    assert float(found.EA) == pytest.approx(E * (2 * np.pi * R * t + count * area), rel=1e-12)


def test_rings_hold_the_contraction_back():
    # Endless stiff rings: EA tends from E t to E t/(1 - v^2) per length of circumference.
    E, v, t, R = 1.0, 0.4, 0.01, 1.0
    A, D = skin_stiffness(E, v, t)
    rings = family_stiffness(0.0, 1.0, 1.0, 1e4, 0.0, 0.0, 0.0)
    found = beam_stiffness(A + rings[0], rings[1], D + rings[2], R)
    assert float(found.EA) == pytest.approx(2 * np.pi * t / (1 - v**2), rel=1e-4)
    assert float(found.EI) == pytest.approx(np.pi * t / (1 - v**2), rel=1e-4)


# --- column -------------------------------------------------------------------------------------


def test_column_with_shear():
    # P = Pe/(1 + Pe/GA).
    euler = np.pi**2 * 5.0 / 9.0
    for support, EI, GA, expected in [
        ("simply-supported", 5.0, 1e15, euler), ("cantilever", 5.0, 1e15, euler / 4),
        ("none", 5.0, 8.0, euler / (1 + euler / 8.0)),
        ("free-free", 5.0, 8.0, euler / (1 + euler / 8.0)),
    ]:
        assert float(Member(support, 3.0, EI, GA).column_load) == pytest.approx(expected)
    assert float(Member("none", 3.0, 5e9, 8.0).column_load) == pytest.approx(8.0, rel=1e-6)


@pytest.mark.parametrize("support, joints, most", [
    ("simply-supported", 1, 1.24), ("simply-supported", 4, 1.65), ("cantilever", 1, 1.24),
    ("cantilever", 3, 1.65),
])
def test_column_with_soft_joints_is_on_the_safe_side(support, joints, most):
    # The finite element beam of the loads, which takes joints as springs at their places.
    from gridshell.loads.varying_beam import Beam, column_load

    length, EI, GA, cells = 2.0, 7.0, 900.0, 60
    for flexibility in (0.02, 0.3, 50.0):
        at = {cells * i // (joints + 1): flexibility for i in range(1, joints + 1)}
        beam = Beam.uniform(length, EI, 1.0, GA, elements=cells, joints=at)
        exact = column_load(beam, support)
        springs = JointSprings(flexibility, joints)
        found = float(Member(support, length, EI, GA, springs).column_load)
        assert exact / most <= found <= exact * (1 + 1e-3)
    # One joint in a tube that is stiff beside it: exact, 4/(c L) and 2/(c L) (two rigid links).
    stiff = Member("simply-supported", 2.0, 1e9, 1e12, JointSprings(0.5, 1))
    assert float(stiff.column_load) == pytest.approx(4 / (0.5 * 2.0), rel=1e-6)
    stiff = Member("cantilever", 2.0, 1e9, 1e12, JointSprings(0.5, 1))
    assert float(stiff.column_load) == pytest.approx(2 / (0.5 * 2.0), rel=1e-6)


@pytest.mark.parametrize("slender", [15.0, 30.0, 80.0])
def test_shell_theory_with_one_wave_round_is_the_column(slender):
    # Timoshenko and Gere, 11.1: n = 1, m = 1 of a long tube is Euler's column.
    from gridshell.tube.buckling.wave_laws import compression_load

    E, v, t, R = 1.0, 0.3, 0.01, 1.0
    A, D = skin_stiffness(E, v, t)
    B = np.zeros_like(A)
    law = wave_stiffness(A, B, D, R, LINE_ELEMENT)
    shell = float(compression_load(law, (np.pi / slender) ** 2, np.array(1.0))) * 2 * np.pi * R
    stiffness = beam_stiffness(A, B, D, R)
    column = float(Member("none", slender, stiffness.EI, stiffness.GA).column_load)
    assert shell == pytest.approx(column, rel=0.3 / slender**2 * 10)


def test_longer_tubes_are_never_stiffer(make_design, make_properties):
    lengths = np.linspace(0.3, 6.0, 60)
    EI, GA = 50.0, 1e5
    for support in ("cantilever", "simply-supported", "free-free"):
        member = Member(support, lengths, EI, GA)
        assert np.all(np.diff(member.column_load) < 0)
        assert np.all(np.diff(
            first_frequency(support, lengths, EI, GA, line_mass=0.3, rotary=1e-4)) < 0)
        assert np.all(np.diff(beam_column(member, AcrossLoads(10.0, 2.0), 5.0).deflection) > 0)
    # General instability of whole designs: a multiple of a length is never stronger.
    for pattern in ("isogrid", "orthogrid"):
        base = assess_wall(make_design(pattern), make_properties())
        for times in (2, 3):
            design = make_design(pattern, tube__length=0.6 * times, tube__sections=times)
            more = buckling_loads(assess_wall(design, make_properties()))
            for name in ("compression", "lateral", "hydrostatic", "torsion"):
                short = float(getattr(buckling_loads(base), name).load)
                assert float(getattr(more, name).load) <= short * (1 + 1e-3)
