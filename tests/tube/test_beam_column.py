"""Moment, shear force and deflection of a beam under loads across and along it at once.

Sources: Timoshenko, Strength of Materials (beam deflections); Timoshenko and Gere, Theory of
Elastic Stability, chapter 1 (beam-columns) and 2.17 (shear); a finite element beam written here,
stiffness and initial stress by Przemieniecki, Theory of Matrix Structural Analysis.
"""

from __future__ import annotations

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from gridshell.tube.section.beam_column import (
    _FOOT,
    _SPREAD,
    _TANGENT,
    AcrossLoads,
    beam_column,
    foot_factor,
    spread_factor,
    tangent_factor,
)
from gridshell.tube.section.column import JointSprings, Member

STIFF = 1e15


def matrices(elements, length, EI, GA):
    """Stiffness, initial stress for unit compression, and load of a unit even load.

    The exact two-node Timoshenko element; the stress works on the whole slope, bending and shear.
    """
    h = length / elements
    phi = 12 * EI / (GA * h**2)
    size = 2 * (elements + 1)
    K, G, f = np.zeros((size, size)), np.zeros((size, size)), np.zeros(size)
    k = EI / (h**3 * (1 + phi)) * np.array([
        [12, 6 * h, -12, 6 * h], [6 * h, (4 + phi) * h**2, -6 * h, (2 - phi) * h**2],
        [-12, -6 * h, 12, -6 * h], [6 * h, (2 - phi) * h**2, -6 * h, (4 + phi) * h**2],
    ])
    g = np.zeros((4, 4))
    points, weights = np.polynomial.legendre.leggauss(4)
    for x, weight in zip((points + 1) / 2, weights / 2, strict=True):
        slope = np.array([
            (-6 * x + 6 * x**2 - phi) / h, 1 - 4 * x + 3 * x**2 + phi / 2 * (1 - 2 * x),
            (6 * x - 6 * x**2 + phi) / h, -2 * x + 3 * x**2 - phi / 2 * (1 - 2 * x),
        ]) / (1 + phi)
        g += weight * h * np.outer(slope, slope)
    for e in range(elements):
        part = slice(2 * e, 2 * e + 4)
        K[part, part] += k
        G[part, part] += g
        f[part] += h * np.array([1 / 2, h / 12, 1 / 2, -h / 12])
    return K, G, f


def by_finite_elements(support, length, EI, GA, across, compression, elements=80):
    """Largest moment, and deflection, of a beam from x = 0 (the foot) to its other end."""
    K, G, even = matrices(elements, length, EI, GA)
    size = len(K)
    tip = size - 2
    middle = elements if elements % 2 == 0 else elements + 1
    f = across.load * even
    if support == "free-free":
        f = -(across.force / length + across.load) * even
        f[middle] += across.force + across.load * length
    else:
        f[tip if support == "cantilever" else middle] += across.force
    if support == "cantilever":
        f[tip + 1] += across.moment
    else:
        f[1] += across.moment
        f[tip + 1] -= across.moment
    x = np.linspace(0, length, elements + 1)
    if support == "cantilever":  # a quarter sine that leaves its foot in line
        bow = 4 * across.bow * (1 - np.cos(np.pi * x / (2 * length)))
        slope = 4 * across.bow * np.pi / (2 * length) * np.sin(np.pi * x / (2 * length))
    else:
        bow = across.bow * np.sin(np.pi * x / length)
        slope = across.bow * np.pi / length * np.cos(np.pi * x / length)
    shape = np.stack([bow, slope], 1).ravel()
    f = f + compression * (G @ shape)
    fixed = (0, 1) if support == "cantilever" else (0, tip)
    free = [i for i in range(size) if i not in fixed]
    u = np.zeros(size)
    u[free] = np.linalg.solve((K - compression * G)[np.ix_(free, free)], f[free])
    w = u[0::2]
    if support == "cantilever":
        lever = length - x
        moment = across.force * length + across.load * length**2 / 2 + across.moment
        moment += compression * (w[-1] + bow[-1])
        return moment, w[-1], lever
    half = length / 2
    at = elements // 2
    if support == "free-free":
        whole = across.force + across.load * length
        moment = whole * half / 2 - whole / length * length**2 / 8 + across.moment
    else:
        moment = across.force * half / 2 + across.load * length**2 / 8 + across.moment
    return moment + compression * (w[at] + bow[at]), w[at], x


LOADS = [
    AcrossLoads(force=2.0), AcrossLoads(load=1.5), AcrossLoads(moment=0.7),
    AcrossLoads(bow=0.02), AcrossLoads(force=2.0, load=1.5, moment=0.7, bow=0.02),
]


@pytest.mark.parametrize("support", ["cantilever", "simply-supported", "free-free", "none"])
@pytest.mark.parametrize("across", LOADS)
@pytest.mark.parametrize("share", [0.0, 0.05, 0.4, 0.9])
def test_moment_and_deflection_by_finite_elements(support, across, share):
    length, EI, GA = 3.0, 7.0, 40.0
    member = Member(support, length, EI, GA)
    compression = share * float(member.column_load)
    moment, deflection, _ = by_finite_elements(support, length, EI, GA, across, compression)
    found = beam_column(member, across, compression)
    assert float(found.moment) == pytest.approx(moment, rel=2e-3, abs=1e-9)
    assert float(found.deflection) == pytest.approx(deflection, rel=2e-3, abs=1e-9)


@pytest.mark.parametrize("series, factor, first", [
    (_TANGENT, tangent_factor, 1 / 3), (_SPREAD, spread_factor, 5 / 12),
    (_FOOT, foot_factor, 1 / 4),
])
def test_series_of_small_loads_meet_the_closed_form(series, factor, first):
    # Maclaurin's series of tan, sec and their products (Abramowitz and Stegun, 4.3.67 and 4.3.69).
    u = np.array([0.2, 0.3])
    closed = (factor(u) - 1) / (first * u**2)
    sums = 1 + sum(term * u ** (2 * power) for power, term in enumerate(series, start=1))
    assert closed == pytest.approx(sums, abs=2e-6)


def test_published_factors():
    # Timoshenko and Gere, chapter 1: at P = 0.695 Pcr (u = 1.309) the middle moment of a pinned
    # beam under a force in its middle is 2.86 times that without axial load.
    assert float(tangent_factor(np.pi / 2 * 0.695**0.5)) == pytest.approx(2.86, abs=0.005)
    # The forms in which they print the other two, at u = 1.
    assert float(spread_factor(1.0)) == pytest.approx(2 * (1 / np.cos(1.0) - 1), rel=1e-12)
    assert float(foot_factor(1.0)) == pytest.approx(
        2 * (1 - 1 / np.cos(1.0) + np.tan(1.0)), rel=1e-12)
    for factor in (tangent_factor, spread_factor, foot_factor):
        assert float(factor(0.0)) == 1.0


def test_textbook_deflections():
    for support, force, load, expected in [
        ("cantilever", 3.0, 0.0, 3 * 8 / (3 * 10)), ("cantilever", 0.0, 3.0, 3 * 16 / (8 * 10)),
        ("simply-supported", 3.0, 0.0, 3 * 8 / (48 * 10)),
        ("simply-supported", 0.0, 3.0, 5 * 3 * 16 / (384 * 10)),
        ("free-free", 3.0, 0.0, 3 * 8 / (128 * 10)),
    ]:
        found = beam_column(Member(support, 2.0, 10.0, STIFF), AcrossLoads(force, load))
        assert float(found.deflection) == pytest.approx(expected, rel=1e-9)
        assert float(found.growth) == 1.0


@pytest.mark.parametrize("support", ["cantilever", "simply-supported", "free-free"])
def test_shear_share_and_shear_force_without_axial_load(support):
    member = Member(support, 3.0, 7.0, 40.0)
    found = beam_column(member, AcrossLoads(2.0, 1.5, shear=0.3))
    stiff = beam_column(Member(support, 3.0, 7.0, STIFF), AcrossLoads(2.0, 1.5))
    assert float(found.shear_share) == pytest.approx(
        1 - float(stiff.deflection / found.deflection))
    reaction = {"cantilever": 2 + 4.5, "simply-supported": 1 + 2.25, "free-free": 6.5 / 2}[support]
    assert float(found.shear) == pytest.approx(reaction + 0.3)


@pytest.mark.parametrize("support", ["cantilever", "simply-supported", "free-free"])
@pytest.mark.parametrize("share", [0.02, 0.3, 0.8, 0.97])
def test_shear_force_is_the_steepest_slope_of_the_moment(support, share):
    # M'' + k^2 M = s M0'' by a fine march in x, with its ends: the largest |M'|.
    length, EI, GA, force, load = 2.0, 3.0, 30.0, 2.0, 1.1
    member = Member(support, length, EI, GA)
    P = share * float(member.column_load)
    s = 1 / (1 - P / GA)
    k = np.sqrt(P * s / EI)
    x = np.linspace(0, length, 20001)
    if support == "cantilever":  # from the tip; M'(L) = s (F + q L), M(0) = 0
        C = (s * (force + load * length) - s * load / k * np.sin(k * length)) / (
            k * np.cos(k * length))
        M = s * load / k**2 * (1 - np.cos(k * x)) + C * np.sin(k * x)
    else:
        F, q = (force, load) if support == "simply-supported" else (
            force + load * length, -(force / length + load))
        half = np.minimum(x, length - x)
        M = s * F * np.sin(k * half) / (2 * k * np.cos(k * length / 2)) + s * q / k**2 * (
            np.cos(k * (x - length / 2)) / np.cos(k * length / 2) - 1)
    found = beam_column(member, AcrossLoads(force, load), P)
    assert float(found.moment) == pytest.approx(np.abs(M).max(), rel=1e-5)
    steepest = float(np.abs(np.gradient(M, x)).max())
    assert float(found.shear) >= steepest * (1 - 1e-3)
    # One load at a time it is that slope; together the sum of their largest.
    assert float(found.shear) <= steepest * (1.001 if support == "free-free" else 1.35)


@pytest.mark.parametrize("support", ["cantilever", "simply-supported", "free-free"])
def test_joints_bend_by_the_unit_load_method(support):
    # The finite element beam of the loads, which takes joints as springs at their places.
    from gridshell.loads.section_forces import Loads
    from gridshell.loads.varying_beam import Beam, deflect

    length, EI, GA, c = 2.0, 5.0, 300.0, 0.07
    beam = Beam.uniform(length, EI, 1.0, GA, elements=40, joints={10: c, 20: c, 30: c})
    loads = Loads.none(41)
    loads.across_at[0 if support == "cantilever" else 20] = 3.0
    across = AcrossLoads(force=3.0)
    if support == "free-free":
        loads.across_fore[:] = loads.across_aft[:] = -3.0 / length
    else:
        loads.across_fore[:] = loads.across_aft[:] = 0.8
        across = AcrossLoads(force=3.0, load=0.8)
    w = deflect(beam, loads, support).deflection
    expected = w[0] if support == "cantilever" else w[20] - (w[0] + w[-1]) / 2
    member = Member(support, length, EI, GA, JointSprings(c, 3))
    assert float(beam_column(member, across).deflection) == pytest.approx(
        abs(expected), rel=1e-3)


@pytest.mark.parametrize("support", ["cantilever", "simply-supported", "free-free", "none"])
def test_at_and_above_the_column_load_all_is_large_and_finite(support):
    member = Member(support, 2.0, np.array([3.0, 3.0, 3.0]), 30.0)
    P = float(member.column_load[0]) * np.array([0.999, 1.0, 50.0])
    found = beam_column(member, AcrossLoads(1.0, 0.5, 0.2, 0.1, 0.01), P)
    for value in (found.moment, found.shear, found.deflection, found.growth):
        assert np.all(np.isfinite(value))
    assert np.all(found.moment[1:] > 1e6) and found.moment[0] > 50


@settings(max_examples=60, deadline=None)
@given(
    st.sampled_from(["cantilever", "simply-supported", "free-free", "none"]),
    st.floats(0.0, 1.2), st.floats(0.0, 3.0), st.floats(0.0, 3.0), st.floats(0.0, 3.0),
    st.floats(0.0, 0.01),
)
def test_more_load_never_bends_less(support, share, force, load, moment, bow):
    member = Member(support, 2.0, 3.0, 30.0, JointSprings(0.02, 2))
    P = np.linspace(0, 1.3, 40) * float(member.column_load)
    across = AcrossLoads(force, load, moment, 0.0, bow)
    grown = beam_column(member, across, P)
    for value in (grown.moment, grown.shear, grown.deflection):
        assert np.all(np.diff(value) >= -1e-9 * np.abs(value[1:]))
    axial = share * float(member.column_load)
    base = beam_column(member, across, axial)
    for more in (AcrossLoads(force + 0.1, load, moment, 0.0, bow),
                 AcrossLoads(force, load, moment + 0.1, 0.0, bow),
                 AcrossLoads(force, load, moment, 0.0, bow + 1e-4)):
        assert float(beam_column(member, more, axial).moment) >= float(base.moment)
