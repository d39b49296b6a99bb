"""Line forces to forces of the tube, and how many ribs a half wave spans, against counting."""

from __future__ import annotations

import numpy as np
import pytest
from scipy.linalg import eigh

from gridshell.tube.buckling.bending import coupled_bending_load
from gridshell.tube.buckling.general import resultant, ribs_per_half_wave, wave_law, wave_notes
from gridshell.tube.buckling.wave_laws import condensed, layer_work, skin_bowing
from gridshell.tube.buckling.wave_stiffness import wave_stiffness
from gridshell.tube.buckling.waves import LowestWave, lowest_wave
from gridshell.wall.assess import assess_wall
from gridshell.wall.stiffness.smeared import skin_stiffness


def test_resultants_are_integrals_round_the_tube():
    radius, angle = 0.07, np.linspace(0, 2 * np.pi, 2001)[:-1]
    step = radius * 2 * np.pi / 2000
    even, bent = np.ones(2000), np.cos(angle)
    assert resultant("compression", radius) == pytest.approx(np.sum(even) * step)
    assert resultant("bending", radius) == pytest.approx(
        np.sum(bent * radius * np.cos(angle)) * step)
    assert resultant("torsion", radius) == pytest.approx(np.sum(even * radius) * step)
    assert resultant("lateral", radius) == resultant("hydrostatic", radius) == 1.0


def test_true_bending_is_the_compression_load_where_many_waves_go_round():
    # NASA/SP-8007-2020/REV 2, 4.1.1.2: for thin tubes, the stress that buckles in compression at
    # the most compressed fiber; the whole ring only lifts it a little.
    thickness, radius, length = 1e-4, 0.05, 0.05
    A, D = skin_stiffness(1e9, 0.3, thickness)
    law = wave_stiffness(A, 0 * A, D, radius)
    line = float(lowest_wave("compression", law, length).load)
    moment = min(coupled_bending_load(law, length, m, 60) for m in (14, 16, 18, 20))
    assert 1.0 <= moment / (line * np.pi * radius**2) < 1.15


def wave(m, n):
    return LowestWave(1.0, float(m), float(n), False)


def test_ribs_in_a_half_wave_are_counted(make_design, make_properties):
    # Orthogrid: rings are met along, stringers round; the fewer of the two count.
    built = assess_wall(make_design("orthogrid"), make_properties())
    grid, length = built.grid, 0.6
    rows, around = length / float(grid.cell_height), 2 * np.pi * grid.radius / grid.cell_width
    assert ribs_per_half_wave(built, wave(5, 2)) == pytest.approx(rows / 5)
    assert ribs_per_half_wave(built, wave(1, 6)) == pytest.approx(around / 12)
    # Rings of buckles have no half wave round: n = 0 counts as half a wave.
    assert ribs_per_half_wave(built, wave(1, 0)) == pytest.approx(min(rows, around))
    short = wave_notes(built, wave(np.ceil(rows / 1.9), 2))
    assert any("less than two ribs" in note for note in short)
    assert not any("less than two ribs" in note for note in wave_notes(built, wave(rows / 2.1, 2)))


def test_a_tube_without_ribs_has_none_to_count(make_design, make_properties):
    built = assess_wall(make_design("plain"), make_properties())
    assert np.isposinf(ribs_per_half_wave(built, wave(40, 9)))


def test_the_closest_family_of_an_isogrid_and_the_widest_of_ones_own(
    make_design, make_properties
):
    # Isogrid, hoop ribs of length a: rows of nodes a sqrt(3)/2 apart along, in a row a round.
    built = assess_wall(make_design("isogrid"), make_properties())
    side = float(built.grid.cell_width)
    row = float(built.grid.cell_height)
    assert ribs_per_half_wave(built, wave(20, 2)) == pytest.approx(0.6 / 20 / row)
    assert ribs_per_half_wave(built, wave(1, 15)) == pytest.approx(
        np.pi * built.grid.radius / 15 / side)
    # Own families: axial ribs, and two at 60 deg; round, the widest met counts.
    own = assess_wall(make_design("families"), make_properties())
    met = [float(line.pitch) / abs(float(line.cosine)) for line in own.grid.families
           if abs(float(line.cosine)) > 1e-6]
    assert ribs_per_half_wave(own, wave(1, 15)) == pytest.approx(
        np.pi * own.grid.radius / 15 / max(met))
    met = [float(line.pitch) / abs(float(line.sine)) for line in own.grid.families
           if abs(float(line.sine)) > 1e-3]
    assert ribs_per_half_wave(own, wave(15, 2)) == pytest.approx(0.6 / 15 / max(met))


def test_work_of_bending_is_the_integral_round_the_tube(make_design, make_properties):
    """N cos(t) on l^2 (W^2 + V^2), and the energy of each wave, by sums over many points round."""
    law = wave_law(assess_wall(make_design("plain", tube__length=1.0), make_properties()))
    top, length, count = 4, 1.0, 64
    x, y = np.full(top + 1, (np.pi / length) ** 2), (np.arange(top + 1) / law.radius) ** 2
    k22, k23, k33, bent = condensed(law, x, y)
    layers, plain = layer_work(law, x, y, y * k23 / k22, bent)
    single = skin_bowing(law, x, y=y, k22=k22, k23=k23, k33=k33, bent=bent,
                         share=law.skin_along) * plain / layers
    t = 2 * np.pi * np.arange(count) / count
    waves = [(np.cos(n * t), 0 * t, n) for n in range(top + 1)] + [
        (0 * t, np.sin(n * t), n) for n in range(1, top + 1)]

    def integral(f):
        return 2 * np.sum(f) / count  # 1 for cos^2 and sin^2

    energy, work = np.zeros((2, len(waves), len(waves)))
    for i, (w1, v1, n1) in enumerate(waves):
        for j, (w2, v2, n2) in enumerate(waves):
            if n1 == n2:
                each = k33[n1] * w1 * w2 + k22[n1] * v1 * v2
                # the coupling of W cos with V sin, each by its own mean square
                both = n1 / law.radius * k23[n1] * float(n1 > 0 and i != j)
                energy[i, j] = single[n1] * (integral(each) + both)
            work[i, j] = integral(np.cos(t) * x[0] * (w1 * w2 + law.in_plane * v1 * v2))
    value = eigh(work, energy, eigvals_only=True)[-1]
    found = coupled_bending_load(law, length, 1, top)
    assert found == pytest.approx(np.pi * float(law.radius) ** 2 / value, rel=1e-9)
    bare = coupled_bending_load(law._replace(in_plane=0.0), length, 1, top)
    assert abs(bare / found - 1) > 1e-3  # so that the work on V shows
