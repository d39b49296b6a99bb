"""The search over buckling waves: nothing that can win is passed over, and laws it must keep.

``python tests/tube/test_wave_search.py 10000`` holds the compiled search of arrays to the plain
Python search of one wall for 10,000 random walls, half of them thin and long (radius up to 20,000
times the skin, length up to 200 radii), and to every whole wave for 400 of them. The suite does the
first for 100 and the second for 950.
"""

from __future__ import annotations

import subprocess
import sys
from pathlib import Path

import numpy as np
import pytest

from gridshell.define.machine_code import loaded
from gridshell.tube.buckling import wave_laws
from gridshell.tube.buckling.wave_laws import (
    SERIES_FLOOR,
    TERMS,
    helix_window,
    largest_eigenvalue,
    lowest_root,
    scratch_of_torsion,
    series_matrix,
    window,
)
from gridshell.tube.buckling.wave_stiffness import (
    DONNELL,
    LINE_ELEMENT,
    SANDERS,
    Bowing,
    WaveStiffness,
    wave_stiffness,
)
from gridshell.tube.buckling.waves import LOADS, crimping, lowest_wave
from gridshell.wall.stiffness.smeared import family_stiffness, skin_stiffness

KINDS = LOADS[:3]


def search(load, A, B, D, radius, length):
    return lowest_wave(load, wave_stiffness(A, B, D, radius), length)


def random_laws(random_walls, count, seed):
    """Random walls that also shear across and bow between ribs, and lengths."""
    random = np.random.default_rng(seed)
    A, B, D, radius = random_walls(count, seed)
    along, around = 10 ** random.uniform(-2.5, 0.5, (2, count)) * A[:, 0, 0]
    skin = random.uniform(0.2, 0.8, count) * np.minimum(A[:, 0, 0], A[:, 1, 1])
    # A clamped pocket under pressure gives with the fourth power of its width; ribs give too.
    thick = 0.3 * np.sqrt(12 * D[:, 0, 0] / A[:, 0, 0])
    pocket = (radius * 10 ** random.uniform(-1.5, -0.3, count)) ** 2
    gives = 10 ** random.uniform(-3.5, -2, count) * (pocket / (radius * thick)) ** 2
    bowing = Bowing(gives / (1 + 1.43 * gives) * random.integers(0, 2, count), skin,
                    random.uniform(0, 0.45, count), pocket)
    theory = [LINE_ELEMENT, SANDERS, DONNELL][seed % 3]
    law = wave_stiffness(A, B, D, radius, theory, (along, around), bowing)
    return law, radius * 10 ** random.uniform(-0.3, 0.7, count)


def one(law, i):
    return WaveStiffness(*(
        float(np.broadcast_to(value, law.shape)[i]) for value in law))


def every_wave(load, w, length):
    """Lowest load over every whole wave down to the shortest, by the array law."""
    m = np.arange(1.0, np.floor(max(length / w.shortest, 2.0)) + 1)[:, None]
    n = np.arange(2.0, np.floor(max(np.pi * w.radius / w.shortest, 3.0)) + 1)[None, :]
    kind = LOADS.index(load)
    x = (m * np.pi / length) ** 2
    with np.errstate(all="ignore"):
        best = wave_laws.wave_load(w, kind, x, (n / w.radius) ** 2).min()
        if load == "compression":
            best = min(best, wave_laws.wave_load(w, kind, x, 0.0 * x).min())
    return best


def near_winner(w, load, length, n):
    """Loads of every wave along with as many waves round as the winner, and a few more or fewer."""
    half = np.pi / length
    for round_ in np.arange(max(n - 3, 2), n + 4):
        y = (round_ / w.radius) ** 2
        m = np.arange(1.0, length / w.shortest)
        if load == "torsion":
            yield series_load(w, length, round_)[0]
        else:
            yield wave_laws.wave_load(w, LOADS.index(load), (m * half) ** 2, y).min()


def series_load(w, length, n):
    """Load of the series of torsion and of the two helices that place it."""
    scratch = scratch_of_torsion()
    lower, m = wave_laws.two_helices(
        w, length, n, np.inf, low=0.0, most=np.inf, energy=scratch[0], work=scratch[1])
    series_matrix(w, length, (n / w.radius) ** 2, max(m - TERMS // 2, 1.0), scratch)
    return length * w.radius / (4 * np.sqrt(np.linalg.eigvalsh(scratch[2])[-1])), lower


def every_series(w, length):
    """Lowest series or pair of helices over all waves round."""
    top = max(np.pi * w.radius / w.shortest, 3.0)
    return min(min(series_load(w, length, n)) for n in np.arange(2.0, np.floor(top) + 1))


def worst_gap(random_walls, count, seed, torsion=True):
    """Largest relative difference of the array search from every whole wave, and the load.

    Waves shorter than those have the load of `crimping` for their limit.
    """
    law, length = random_laws(random_walls, count, seed)
    worst = []
    for load in LOADS if torsion else KINDS:
        together = lowest_wave(load, law, length).load
        for i in range(count):
            full = (
                every_series(one(law, i), length[i]) if load == "torsion"
                else every_wave(load, one(law, i), length[i])
            )
            full = min(full, float(crimping(load, one(law, i))))
            worst.append((abs(together[i] / full - 1), load, i))
    return max(worst)


def single_gaps(random_walls, count, seed):
    """Largest relative difference of the array search from the single one, for each load.

    Every second wall is thin and long.
    """
    law, length = random_laws(random_walls, count, seed)
    random = np.random.default_rng(seed)
    thin = wave_stiffness(
        *skin_stiffness_of(random, count), radius=1.0, theory=[LINE_ELEMENT, SANDERS][seed % 2])
    far = 10 ** random.uniform(-0.5, 2.3, count)
    gaps = {}
    for load in LOADS:
        both = np.concatenate([lowest_wave(load, law, length).load,
                               lowest_wave(load, thin, far).load])
        tables = np.concatenate([law.table((count,)), thin.table((count,))])
        spans, found = np.concatenate([length, far]), np.empty((3, 1))
        limit = np.concatenate([np.broadcast_to(crimping(load, walls), (count,))
                                for walls in (law, thin)])
        gaps[load] = 0.0
        for i in range(seed % 2, 2 * count, 2):
            with np.errstate(all="ignore"):
                if load == "torsion":
                    wave_laws.torsion_of_many(
                        tables[i:i + 1], spans[i:i + 1], found, wave_laws.scratch_of_torsion())
                else:
                    wave_laws.lowest_of_many(
                        tables[i:i + 1], LOADS.index(load), spans[i:i + 1], found,
                        wave_laws.scratch_of_loads())
            single = min(found[0, 0], limit[i])
            gaps[load] = max(gaps[load], abs(both[i] / single - 1))
    return gaps


def skin_stiffness_of(random, count):
    """A, B, D of skins of radius 1, 150 to 20,000 times as thick."""
    A, D = skin_stiffness(
        1.0, random.uniform(0, 0.45, count), 10 ** random.uniform(-4.3, -2.2, count))
    return A, 0 * A, D


def test_a_wave_without_a_number_is_never_passed_over(monkeypatch):
    """No later wave takes the place of a load that is none: none is never a pass."""
    A, D = skin_stiffness(1e9, 0.3, 1e-3)
    law = wave_stiffness(A, 0 * A, D, radius=0.1)
    one = wave_laws.design_of(law.table(()), 0)
    sound = wave_laws.wave_load

    def broken(w, kind, x, y):
        return np.where(np.arange(np.size(x)) == 1, np.nan, sound(w, kind, x, y))

    monkeypatch.setattr(wave_laws, "wave_load", broken)
    assert np.isnan(wave_laws.lowest_of_one(
        one, wave_laws.COMPRESSION, 0.3, 1.0, 2.0, wave_laws.scratch_of_loads())[0])


def test_single_search_is_the_array_search(random_walls):
    assert max(single_gaps(random_walls, 100, 7).values()) < 1e-9


@pytest.mark.parametrize("seed, count, torsion", [(0, 200, False), (1, 200, False),
                                                  (3, 15, True)])
def test_array_search_is_the_search_over_every_whole_wave(random_walls, seed, count, torsion):
    gap, load, i = worst_gap(random_walls, count, seed, torsion)
    assert gap < 1e-9, (load, i)


@pytest.mark.parametrize("seed", range(3))
def test_no_wave_costs_less_than_the_bound_of_the_search(random_walls, seed):
    # A wave lies in the window of any load above its own, whatever wall, wave and theory.
    law, length = random_laws(random_walls, 150, seed)
    for i in range(150):
        w = one(law, i)
        m = np.unique(np.rint(np.geomspace(1, max(length[i] / w.shortest, 2), 12)))
        top = max(np.pi * w.radius / w.shortest, 3)
        for n in np.unique(np.rint(np.geomspace(2, top, 10))):
            y = (n / w.radius) ** 2
            for step in m:
                l = step * np.pi / length[i]  # noqa: E741
                for kind in range(3):
                    load = wave_laws.wave_load(w, kind, l * l, y)
                    low, high, _ = window(w, kind, load * 1.001, y)
                    assert low <= l * l <= high, (i, step, n, kind)
                energy, work = wave_laws.helix(w, l, y)
                if work > 0:
                    low, high = helix_window(w, energy / work * 1.001, y)
                    assert low <= l <= high, (i, step, n)


@pytest.mark.parametrize("seed", range(3))
def test_nor_with_ribs_as_deep_as_a_quarter_of_the_radius(seed):
    """Thin skins with few deep ribs: layers far from the skin move much more than it does."""
    random = np.random.default_rng(seed)
    for _ in range(60):
        radius, side = 1.0, random.choice([-1.0, 1.0])
        thickness, height = 10 ** random.uniform(-2.5, -1.3), random.uniform(0.02, 0.25)
        poisson = random.uniform(-0.6, 0.45)
        A, D = skin_stiffness(1.0, poisson, thickness)
        B = 0 * A
        for cosine, sine in ((1.0, 0.0), (0.0, 1.0)) if random.random() < 0.5 else ((1.0, 0.0),):
            area = random.uniform(0.02, 0.5) * height
            added = family_stiffness(
                cosine, sine, 1.0, area, side * (thickness + height) / 2,
                area * height**2 / 12, area * height**2 / 50)
            A, B, D = A + added[0], B + added[1], D + added[2]
        shear = 10 ** random.uniform(-2, 0, 2) * A[0, 0]
        w = wave_stiffness(A, B, D, radius, LINE_ELEMENT, (float(shear[0]), float(shear[1])))
        length = 10 ** random.uniform(-0.3, 2.5)
        for n in (2.0, 3.0, 5.0, 9.0):
            for step in np.unique(np.rint(np.geomspace(1, max(length / w.shortest, 2), 8))):
                l = step * np.pi / length  # noqa: E741
                for kind in range(3):
                    load = wave_laws.wave_load(w, kind, l * l, n * n)
                    low, high, _ = window(w, kind, load * 1.001, n * n)
                    assert low <= l * l <= high, (step, n, kind)
                energy, work = wave_laws.helix(w, l, n * n)
                if work > 0:
                    low, high = helix_window(w, energy / work * 1.001, n * n)
                    assert low <= l <= high, (step, n)


@pytest.mark.parametrize("seed", range(2))
def test_steepness_is_by_the_largest_canonical_correlation(random_walls, seed):
    # Hotelling: the squared correlations are the eigenvalues of Gaa^-1 Gah Ghh^-1 Gha.
    A, B, D, radius = random_walls(30, seed)
    for a, b, d, r in zip(A, B, D, radius, strict=True):
        axial, hoop, cross = (
            np.array([[a[i, j], b[i, j]], [b[i, j], d[i, j]]])
            for i, j in ((0, 0), (1, 1), (0, 1)))
        squared = np.linalg.eigvals(
            np.linalg.solve(axial, cross) @ np.linalg.solve(hoop, cross.T)).real.max()
        expected = 5 / np.sqrt(1 - squared)
        assert float(wave_stiffness(a, b, d, r).steepness) == pytest.approx(expected, rel=1e-6)


@pytest.mark.parametrize("kind", range(4))
def test_relief_of_the_bow_is_the_largest_of_all_shorter_waves(random_walls, kind):
    """By looking at each: e x/(1 + ((x + y/4) b)^2) and the like of the other loads."""
    law, _ = random_laws(random_walls, 12, 1)
    table = law.table((12,))
    tried = 0
    for i in range(12):
        w = wave_laws.design_of(table, i)
        b = w.pocket * wave_laws.PRESSED
        if not w.compliance > 0:
            continue
        tried += 1
        for least, y in ((0.01 / b, 0.1 / b), (3 / b, 0.2 / b), (0.2 / b, 30 / b)):
            x = least * np.geomspace(1, 1e4, 40_001)
            press = 1 + ((x + y / 4) * b) ** 2
            along, around = (w.compliance * part / press
                             for part in (w.skin_along * x, w.skin_round * y))
            if kind == wave_laws.COMPRESSION:
                each = along
            elif kind == wave_laws.TORSION:
                each = w.compliance * w.skin_along * 2 * np.sqrt(x * y) / press
            else:
                each = around + (along / 2 if kind == wave_laws.HYDROSTATIC else 0)
            found = wave_laws.bow_relief(w, kind, least, y)
            assert found >= each.max() * (1 - 1e-9)
            if kind == wave_laws.COMPRESSION:
                assert found == pytest.approx(each.max(), rel=1e-6)
    assert tried > 2


@pytest.mark.parametrize("seed", range(3))
def test_no_load_changes_faster_with_length_than_the_search_counts_on(random_walls, seed):
    law, length = random_laws(random_walls, 60, seed + 20)
    for i in range(60):
        w = one(law, i)
        top = max(np.pi * w.radius / w.shortest, 3)
        y = (np.unique(np.rint(np.geomspace(2, top, 8)))[:, None] / w.radius) ** 2
        l = np.geomspace(np.pi / length[i], np.pi / w.shortest, 100)  # noqa: E741
        most = 0.9 * w.steepness * np.diff(np.log(l))
        with np.errstate(all="ignore"):
            energy, work = wave_laws.helix(w, l, y)
            loads = [np.where(work > 0, energy / work, np.nan)]
            loads += [wave_laws.wave_load(w, kind, l * l, y) for kind in range(3)]
        for load in loads:
            slope = np.abs(np.diff(np.log(load), axis=1))
            assert not np.any(slope > most), i


@pytest.mark.parametrize("load", LOADS)
def test_dense_waves_are_passed_over_in_lots_and_none_is_missed(load):
    # Thin and long: one wave of many hundred along wins, next to many that nearly do.
    thickness = np.array([2e-4, 1e-3, 1e-4, 5e-5])
    A, D = skin_stiffness(1.0, 0.3, thickness)
    length = np.array([40.0, 200.0, 3.0, 1.0])
    law = wave_stiffness(A, 0 * A, D, 1.0)
    found = lowest_wave(load, law, length)
    for i in range(4):
        w = one(law, i)
        with np.errstate(over="ignore"):
            every = min(near_winner(w, load, length[i], found.n[i]))
        assert float(found.load[i]) == pytest.approx(every, rel=1e-9)


@pytest.mark.parametrize("seed", range(3))
def test_series_of_torsion_is_not_far_below_its_helices(random_walls, seed):
    law, length = random_laws(random_walls, 60, seed + 10)
    for i in range(60):
        for n in (2.0, 3.0, 5.0, 9.0):
            series, helices = series_load(one(law, i), length[i], n)
            assert 1.1 * SERIES_FLOOR < series / helices


def test_one_design_is_searched_as_many_are(random_walls, tmp_path):
    # Plain Python in a process that loads no compiler, against the compiled search here.
    text = (
        "import sys, numpy as np\n"
        "from gridshell.tube.buckling.wave_stiffness import wave_stiffness\n"
        "from gridshell.tube.buckling.waves import LOADS, lowest_wave\n"
        "data = np.load(sys.argv[1])\n"
        "law = wave_stiffness(data['A'], data['B'], data['D'], data['radius'])\n"
        "for load in LOADS:\n"
        "    wave = lowest_wave(load, law, data['length'])\n"
        "    print(*(x for part in (wave.load, wave.m, wave.n) for x in part.tolist()))\n"
        "from gridshell.define.machine_code import loaded\n"
        "assert not loaded()\n"
    )
    A, B, D, radius = random_walls(20, seed=4)
    length = radius * np.linspace(0.5, 8, 20)
    path = tmp_path / "walls.npz"
    np.savez(path, A=A, B=B, D=D, radius=radius, length=length)
    printed = subprocess.run([sys.executable, "-c", text, str(path)], check=True,
                             capture_output=True, text=True).stdout
    repeat = np.arange(100) % 20  # enough of them to be compiled
    for load, line in zip(LOADS, printed.splitlines(), strict=True):
        alone = np.array(line.split(), float).reshape(3, 20)
        wave = search(load, A[repeat], B[repeat], D[repeat], radius[repeat], length[repeat])
        assert loaded()
        np.testing.assert_allclose(wave.load, alone[0][repeat], rtol=1e-11)
        assert np.array_equal(wave.n, alone[2][repeat])
        assert np.array_equal(wave.m, alone[1][repeat])


def test_a_wall_that_gives_way_by_itself_has_no_load():
    # D' not positive definite, or no number at all: never a load to rely on.
    A, D = np.eye(3), np.eye(3) * 1e-4
    for bad in (np.diag([-1e-4, 1e-4, 1e-4]), np.diag([1e-4, -1e-4, 1e-4]),
                np.array([[1e-4, -3e-4, 0], [-3e-4, 1e-4, 0], [0, 0, 1e-5]])):
        for load in LOADS:
            alone = lowest_wave(load, wave_stiffness(A, 0 * A, bad, 1.0), 2.0).load
            assert float(alone) == 0
            many = np.broadcast_to(bad, (100, 3, 3))
            assert np.all(lowest_wave(load, wave_stiffness(A, 0 * A, many, 1.0), 2.0).load == 0)
    for load in LOADS:
        assert not lowest_wave(load, wave_stiffness(A, 0 * A, D * np.nan, 1.0), 2.0).load > 0
        assert not lowest_wave(load, wave_stiffness(A, 0 * A, D, np.nan), 2.0).load > 0


@pytest.mark.parametrize("seed", range(20))
def test_largest_eigenvalue(seed):
    # Against LAPACK; close pairs too.
    random = np.random.default_rng(seed)
    root = random.normal(size=(6, 6)) * 10 ** random.uniform(-9, 9)
    square = root @ root.T
    if seed % 2:
        value, vector = np.linalg.eigh(square)
        value[-2] = value[-1] * (1 - 10.0 ** -random.integers(3, 16))
        square = vector @ np.diag(value) @ vector.T
    found = largest_eigenvalue(square, np.empty((6, 6)), np.empty((6, 6)))
    assert found == pytest.approx(np.linalg.eigvalsh(square)[-1], rel=1e-9)


@pytest.fixture(scope="module")
def many(random_walls):
    A, B, D, radius = random_walls(400, seed=2)
    length = radius * 10 ** np.random.default_rng(5).uniform(-0.3, 1.5, len(radius))
    return A, B, D, radius, length


def test_array_shapes_broadcast(many):
    A, B, D, radius, length = (part[:6] for part in many)
    grid = search(
        "compression", A[:, None], B[:, None], D[:, None], radius[:, None], length[None, :])
    assert grid.load.shape == (6, 6)
    for row in range(6):
        for column in range(6):
            alone = search("compression", A[row], B[row], D[row], radius[row], length[column])
            assert grid.load[row, column] == pytest.approx(float(alone.load), rel=1e-12)


@pytest.mark.parametrize("load", LOADS)
def test_loads_grow_in_proportion_to_the_modulus(load, many):
    A, B, D, radius, length = (part[:60] for part in many)
    once = search(load, A, B, D, radius, length)
    sevenfold = search(load, 7 * A, 7 * B, 7 * D, radius, length)
    assert sevenfold.load == pytest.approx(7 * once.load, rel=1e-9)


@pytest.mark.parametrize("load", LOADS)
def test_similar_tubes(load, many):
    # All lengths scaled by k: A k, B k^2, D k^3; N grows with k, pressure not at all.
    A, B, D, radius, length = (part[:60] for part in many)
    k = 2.5
    once = search(load, A, B, D, radius, length)
    larger = search(load, k * A, k**2 * B, k**3 * D, k * radius, k * length)
    power = 0 if load in ("lateral", "hydrostatic") else 1
    assert larger.load == pytest.approx(k**power * once.load, rel=1e-9)


@pytest.mark.parametrize("load", LOADS)
def test_longer_is_never_stronger(load, many):
    # A tube twice or three times as long can buckle in the same waves, so its load is no higher.
    # Between those lengths whole half waves may not fit as well, so the load can rise a little:
    # by less than 1 part in m^2 or so; held here against the lowest of all longer tubes.
    for A, B, D, radius, length in zip(*(part[:40] for part in many), strict=True):
        base = float(search(load, A, B, D, radius, length).load)
        for times in (2, 3):
            longer = float(search(load, A, B, D, radius, times * length).load)
            assert longer <= base * (1 + (1e-3 if load == "torsion" else 1e-9))


def test_between_whole_multiples_length_costs_little_and_only_by_rounding(many):
    A, B, D, radius, length = (part[0] for part in many)
    lengths = length * np.linspace(1.0, 6.0, 60)
    loads = np.array([float(search("lateral", A, B, D, radius, x).load) for x in lengths])
    # One half wave along: falls to the long-tube load, which it may dip below by a hair.
    assert np.all(np.diff(loads) <= 1e-4 * loads[:-1])
    # Compression: the classical garland. With m natural half waves the load of a length between
    # is at most 1 + 1/(4 m^2) or so above that of an endless tube (Timoshenko and Gere, 9.2).
    endless = search("compression", A, B, D, radius, 60 * length)
    natural = 60 * length / float(endless.m)
    lengths = natural * np.linspace(3.0, 12.0, 50)
    loads = np.array([float(search("compression", A, B, D, radius, x).load) for x in lengths])
    assert np.all(loads >= float(endless.load) * (1 - 1e-4))
    assert np.all(loads <= float(endless.load) * (1 + 1 / (lengths / natural - 0.5) ** 2 / 2))


@pytest.mark.parametrize("a, b, c", [(1.0, 5.0, 6.0), (0.0, 2.0, 3.0), (1e-12, 2.0, 3.0)])
def test_lowest_root(a, b, c):
    root = float(lowest_root(a, b, c))
    assert a * root**2 - b * root + c == pytest.approx(0, abs=1e-9)
    assert root == pytest.approx(2.0 if a == 1 else 1.5)


if __name__ == "__main__":
    sys.path.insert(0, str(Path(__file__).parent.parent))
    from conftest import make_random_walls

    total, lot = int(sys.argv[1]), 250
    lowest: dict[str, float] = dict.fromkeys(LOADS, 0.0)
    for start in range(0, total, lot):
        for load, gap in single_gaps(make_random_walls, lot, 100 + start // lot).items():
            lowest[load] = max(lowest[load], gap)
        told = ", ".join(f"{load} {gap:.1e}" for load, gap in lowest.items())
        print(f"{start + lot} walls, array search against single: {told}", flush=True)
        gap, load, _ = worst_gap(make_random_walls, 10, 5000 + start // lot)
        print(f"  10 walls against every whole wave: {gap:.1e} ({load})", flush=True)
