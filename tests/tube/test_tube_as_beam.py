"""The tube as a beam against textbook cases and a finite element beam written here.

Sources: Timoshenko, Strength of Materials (beam deflections, thin tube); Timoshenko, Vibration
Problems in Engineering (Euler and Timoshenko beams); Timoshenko and Gere, Theory of Elastic
Stability, 2.17 (column with shear).
"""

from __future__ import annotations

import numpy as np
import pytest
from scipy.linalg import eigh, solve

from gridshell.tube.buckling.general import buckling_loads
from gridshell.tube.buckling.wave_stiffness import LINE_ELEMENT, wave_stiffness
from gridshell.tube.section.beam import beam, column_load, first_frequency
from gridshell.tube.section.stiffness import beam_stiffness
from gridshell.wall.assess import assess_wall
from gridshell.wall.stiffness.smeared import family_stiffness, skin_stiffness

SUPPORTS = ("cantilever", "simply-supported", "free-free")


def beam_matrices(elements, length, EI, GA, mass, rotary):
    """Stiffness and mass of a Timoshenko beam: linear shear, quadratic bending by condensation.

    The exact two-node element (shear parameter phi = 12 EI/(GA h^2)) and its consistent mass
    with rotary inertia, Przemieniecki, Theory of Matrix Structural Analysis, chapter 11, by
    numerical integration of its shapes.
    """
    h = length / elements
    phi = 12 * EI / (GA * h**2)
    size = 2 * (elements + 1)
    K, M = np.zeros((size, size)), np.zeros((size, size))
    k = EI / (h**3 * (1 + phi)) * np.array([
        [12, 6 * h, -12, 6 * h], [6 * h, (4 + phi) * h**2, -6 * h, (2 - phi) * h**2],
        [-12, -6 * h, 12, -6 * h], [6 * h, (2 - phi) * h**2, -6 * h, (4 + phi) * h**2],
    ])
    m = np.zeros((4, 4))
    points, weights = np.polynomial.legendre.leggauss(4)
    for point, weight in zip((points + 1) / 2, weights / 2, strict=True):
        x = point
        w = np.array([
            1 - 3 * x**2 + 2 * x**3 + phi * (1 - x),
            h * (x - 2 * x**2 + x**3 + phi / 2 * (x - x**2)),
            3 * x**2 - 2 * x**3 + phi * x,
            h * (-(x**2) + x**3 - phi / 2 * (x - x**2)),
        ]) / (1 + phi)
        turn = np.array([
            6 / h * (-x + x**2), 1 - 4 * x + 3 * x**2 + phi * (1 - x),
            6 / h * (x - x**2), -2 * x + 3 * x**2 + phi * x,
        ]) / (1 + phi)
        m += weight * h * (mass * np.outer(w, w) + rotary * np.outer(turn, turn))
    for e in range(elements):
        part = slice(2 * e, 2 * e + 4)
        K[part, part] += k
        M[part, part] += m
    return K, M


def held(support, size):
    """Free unknowns (deflection, slope alternate)."""
    fixed = {"cantilever": [0, 1], "simply-supported": [0, size - 2], "free-free": []}[support]
    return [i for i in range(size) if i not in fixed]


@pytest.mark.parametrize("support, constant", [
    ("cantilever", 1.8751), ("simply-supported", np.pi), ("free-free", 4.7300)])
def test_euler_frequencies(support, constant):
    # Published roots: 1.875, pi, 4.730.
    found = first_frequency(support, 2.0, 30.0, 1e15, 0.5, 0.0)
    expected = constant**2 / (2 * np.pi * 2.0**2) * np.sqrt(30.0 / 0.5)
    assert float(found) == pytest.approx(expected, rel=3e-5)


@pytest.mark.parametrize("support", SUPPORTS)
@pytest.mark.parametrize("diameters, within", [(5, 0.043), (8, 0.01), (15, 0.001), (40, 1e-4)])
def test_frequencies_of_a_tube_with_shear_and_rotary_inertia(support, diameters, within):
    # Thin tube of E = 1, v = 0.35, R = 1: EI = pi, GA = pi G, J = m/2.
    length, EI, GA, mass = 2.0 * diameters, np.pi, np.pi / 2.7, 1.0
    K, M = beam_matrices(60, length, EI, GA, mass, mass / 2)
    free = held(support, len(K))
    values = eigh(K[np.ix_(free, free)], M[np.ix_(free, free)], eigvals_only=True)
    first = values[2] if support == "free-free" else values[0]
    expected = np.sqrt(first) / (2 * np.pi)
    found = float(first_frequency(support, length, EI, GA, mass, mass / 2))
    assert found == pytest.approx(expected, rel=within if support == "free-free" else within / 3)
    assert found < expected * (1 + 1e-3)  # what error there is, is low


@pytest.mark.parametrize("support", ["cantilever", "simply-supported"])
def test_deflection_moment_and_shear_by_finite_elements(support):
    length, EI, GA, force, load, elements = 3.0, 7.0, 40.0, 2.0, 1.5, 40
    K, _ = beam_matrices(elements, length, EI, GA, 1.0, 0.0)
    h = length / elements
    f = np.zeros(len(K))
    for e in range(elements):
        f[2 * e:2 * e + 4] += load * h * np.array([1 / 2, h / 12, 1 / 2, -h / 12])
    middle = elements if support == "simply-supported" else 2 * elements
    f[middle] += force
    free = held(support, len(K))
    u = np.zeros(len(K))
    u[free] = solve(K[np.ix_(free, free)], f[free])
    answer = beam(support, length, EI, GA, force, load)
    assert float(answer.deflection) == pytest.approx(u[middle], rel=1e-9)
    reactions = K @ u - f
    if support == "cantilever":
        assert float(answer.shear) == pytest.approx(-reactions[0])
        assert float(answer.moment) == pytest.approx(abs(reactions[1]))
    else:
        assert float(answer.shear) == pytest.approx(-reactions[0])
        half = length / 2
        assert float(answer.moment) == pytest.approx(
            -reactions[0] * half - load * half**2 / 2)
    no_shear = beam(support, length, EI, 1e15, force, load)
    assert float(answer.shear_share) == pytest.approx(
        1 - float(no_shear.deflection / answer.deflection))


def test_free_free_body_accelerated_by_a_force_at_mid_length():
    # Balanced by its own inertia: subtract the rigid motion and solve.
    length, EI, GA, force, elements = 3.0, 7.0, 40.0, 2.0, 40
    K, M = beam_matrices(elements, length, EI, GA, 1.0, 0.0)
    size = len(K)
    middle = elements
    f = np.zeros(size)
    f[middle] = force
    rigid = np.zeros(size)
    rigid[0::2] = 1.0
    f -= M @ rigid * (force / length)
    free = [i for i in range(size) if i not in (0, size - 2)]
    u = np.zeros(size)
    u[free] = np.linalg.solve(K[np.ix_(free, free)], f[free])
    answer = beam("free-free", length, EI, GA, force)
    assert float(answer.deflection) == pytest.approx(u[middle] - u[0], rel=1e-6)
    assert float(answer.moment) == pytest.approx(force * length / 8)
    assert float(answer.shear) == pytest.approx(force / 2)


def test_textbook_deflections():
    stiff = 1e15
    for support, force, load, expected in [
        ("cantilever", 3.0, 0.0, 3 * 8 / (3 * 10)), ("cantilever", 0.0, 3.0, 3 * 16 / (8 * 10)),
        ("simply-supported", 3.0, 0.0, 3 * 8 / (48 * 10)),
        ("simply-supported", 0.0, 3.0, 5 * 3 * 16 / (384 * 10)),
    ]:
        assert float(beam(support, 2.0, 10.0, stiff, force, load).deflection) == pytest.approx(
            expected, rel=1e-9)


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
    assert float(column_load("simply-supported", 3.0, 5.0, 1e15)) == pytest.approx(euler)
    assert float(column_load("cantilever", 3.0, 5.0, 1e15)) == pytest.approx(euler / 4)
    assert float(column_load("none", 3.0, 5.0, 8.0)) == pytest.approx(euler / (1 + euler / 8.0))
    assert float(column_load("none", 3.0, 5e9, 8.0)) == pytest.approx(8.0, rel=1e-6)


@pytest.mark.parametrize("slender", [15.0, 30.0, 80.0])
def test_shell_theory_with_one_wave_round_is_the_column(slender):
    # Timoshenko and Gere, 11.1: n = 1, m = 1 of a long tube is Euler's column.
    from gridshell.tube.buckling.waves import compression_load

    E, v, t, R = 1.0, 0.3, 0.01, 1.0
    A, D = skin_stiffness(E, v, t)
    B = np.zeros_like(A)
    law = wave_stiffness(A, B, D, R, LINE_ELEMENT)
    shell = float(compression_load(law, (np.pi / slender) ** 2, np.array(1.0))) * 2 * np.pi * R
    stiffness = beam_stiffness(A, B, D, R)
    column = float(column_load("simply-supported", slender, stiffness.EI, stiffness.GA))
    assert shell == pytest.approx(column, rel=0.3 / slender**2 * 10)


def test_longer_tubes_are_never_stiffer(make_design, make_properties):
    lengths = np.linspace(0.3, 6.0, 60)
    EI, GA = 50.0, 1e5
    for support in ("cantilever", "simply-supported", "free-free"):
        loads = column_load(support, lengths, EI, GA)
        assert np.all(np.diff(loads) < 0)
        assert np.all(np.diff(first_frequency(support, lengths, EI, GA, 0.3, 1e-4)) < 0)
        assert np.all(np.diff(beam(support, lengths, EI, GA, 10.0, 2.0).deflection) > 0)
    # General instability of whole designs: a multiple of a length is never stronger.
    for pattern in ("isogrid", "orthogrid"):
        base = assess_wall(make_design(pattern), make_properties())
        for times in (2, 3):
            design = make_design(pattern, tube__length=0.6 * times, tube__sections=times)
            more = buckling_loads(assess_wall(design, make_properties()))
            for name in ("compression", "lateral", "hydrostatic", "torsion"):
                short = float(getattr(buckling_loads(base), name).load)
                assert float(getattr(more, name).load) <= short * (1 + 1e-3)
