"""The tube of solid cells: held to closed forms on plain tubes, to itself, then the formulas to it.

Plain tubes: Timoshenko, Strength of Materials (EA, EI, GJ); Timoshenko and Gere, Theory of Elastic
Stability (ring under pressure 3 D/R^3, classical compression); in bending, plain cylinders buckle
at nearly the classical stress (Seide and Weingarten, Journal of Applied Mechanics, 1961, from
memory).
"""

from dataclasses import replace

import numpy as np
import pytest

pytest.importorskip("skfem")

from gridshell.define.errors import InputError
from gridshell.proof.cell.curved import curved_stiffness
from gridshell.proof.cell.geometry import COARSE, Cell
from gridshell.proof.cell.mesh import quarter_cell
from gridshell.proof.waves.bending import bending_load
from gridshell.proof.waves.cell import StressState, TubeCell
from gridshell.proof.waves.run import run_whole_tube, seamless
from gridshell.proof.waves.waves import WaveTube
from gridshell.tube.buckling.bending import coupled_bending_load
from gridshell.tube.buckling.wave_laws import compression_load, pressure_load, torsion_load
from gridshell.tube.buckling.wave_stiffness import wave_stiffness
from gridshell.wall.stiffness.smeared import skin_stiffness

E, V, T, R, L, N = 2e9, 0.3, 1e-3, 0.1, 0.2, 24


@pytest.fixture(scope="module")
def plain():
    """A plain tube of 24 x 20 cells."""
    cell = Cell("plain", L / 20, 2 * np.pi * R / N, T, radius=R)
    return WaveTube(TubeCell(cell, E, V, COARSE), L)


@pytest.fixture(scope="module")
def law():
    """Shell theory of the same tube."""
    A, D = skin_stiffness(E, V, T)
    return wave_stiffness(A, np.zeros((3, 3)), D, R)


@pytest.fixture(scope="module")
def ribbed():
    """A small orthogrid tube with ribs outside."""
    cell = Cell("orthogrid", 36e-3, 2 * np.pi * 73e-3 / 15, 1.8e-3, 6e-3, 2.2e-3, 0.05, 2e-3, 1e-3,
                side=1, radius=73e-3)
    return WaveTube(TubeCell(cell, 1.0e9, 0.4, COARSE), 36e-3 * 20)


def test_plain_tube_as_a_beam(plain):
    inner, outer = R - T / 2, R + T / 2
    assert plain.EA == pytest.approx(E * np.pi * (outer**2 - inner**2), rel=1e-8)
    assert plain.EI == pytest.approx(E * np.pi / 4 * (outer**4 - inner**4), rel=1e-6)
    shear = E / (2 * (1 + V))
    assert plain.GJ == pytest.approx(shear * np.pi / 2 * (outer**4 - inner**4), rel=1e-8)


@pytest.mark.parametrize(("m", "n"), [(1, 3), (2, 4), (5, 5), (4, 8), (10, 0)])
def test_plain_tube_in_compression(plain, law, m, n):
    matrix = plain.model.stress_matrix(plain.compression())
    x, y = np.asarray((m * np.pi / L) ** 2), np.asarray((n / R) ** 2)
    theory = float(compression_load(law, x, y)) * 2 * np.pi * R
    mode = plain.general(matrix, m, n)
    assert mode.load == pytest.approx(theory, rel=0.012)
    exact = next(found for found in plain.modes(matrix, m, n, 2) if found.n == n)
    assert exact.is_general
    assert mode.load / exact.load == pytest.approx(1.0, abs=0.003)
    assert mode.load > exact.load * (1 - 1e-6)  # Ritz is an upper bound


def test_plain_tube_under_pressure(plain, law):
    """The formula leaves out the pressure's work along the axis, which is on the safe side."""
    for on_ends in (False, True):
        matrix = plain.model.stress_matrix(plain.pressure(on_ends))
        x, y = np.asarray((np.pi / L) ** 2), np.asarray((5 / R) ** 2)
        theory = float(pressure_load(law, x, y, float(on_ends)))
        assert 0.98 < theory / plain.general(matrix, 1, 5).load < 1.0


@pytest.mark.parametrize("n", [2, 3])
def test_long_plain_tube_flattens_as_a_ring(n):
    cell = Cell("plain", L / 20, 2 * np.pi * R / (2 * N), T, radius=R)
    fine = WaveTube(TubeCell(cell, E, V, COARSE), L)
    matrix = fine.model.stress_matrix(fine.pressure(False))
    ring = (n * n - 1) * E * T**3 / (12 * (1 - V**2)) / R**3
    assert fine.general(matrix, 1e-3, n).load == pytest.approx(ring, rel=0.005)


def test_plain_tube_in_torsion(plain, law):
    matrix = plain.model.stress_matrix(plain.torsion())
    for m, n in ((2.0, 6), (2.5, 7)):
        theory = torsion_load(
            law, np.asarray(m * np.pi / L), np.asarray((n / R) ** 2), np.pi / L
        ) * 2 * np.pi * R**2
        assert plain.torsional(matrix, m, n).load == pytest.approx(float(theory), rel=0.015)


def test_plain_tube_in_bending(plain, law):
    for m, most in ((2, 8), (6, 5)):
        theory = coupled_bending_load(law, L, m, most)
        assert bending_load(plain, m, most)[0] == pytest.approx(theory, rel=0.015)


def test_bending_is_nearly_classical(law):
    classical = E * T**2 / (R * np.sqrt(3 * (1 - V**2)))
    lowest = min(coupled_bending_load(law, L, m, 40) for m in range(6, 16))
    assert 1.0 < lowest / (np.pi * R**2 * classical) < 1.06


def test_state_stresses_carry_the_load(ribbed):
    model, cells = ribbed.model, ribbed.cells_round
    for state, axial in ((ribbed.compression(), -1.0), (ribbed.pressure(False), 0.0)):
        assert isinstance(state, StressState)
        force = model.mean_stress(state.stress, 0) * cells
        assert force == pytest.approx(axial, abs=1e-6)
    # Closed ends carry the pressure on the bore.
    force = model.mean_stress(ribbed.pressure(True).stress, 0) * cells
    assert force == pytest.approx(-np.pi * (73e-3 - 0.9e-3) ** 2, rel=1e-6)


def test_agrees_with_the_quarter_cell(ribbed):
    """EA and GJ of another assembly: a quarter of the cell with mirror conditions."""
    cell = ribbed.model.cell
    quarter = curved_stiffness(cell, 1.0e9, 0.4, COARSE)
    around = 2 * np.pi * cell.radius
    assert ribbed.EA == pytest.approx(quarter[0, 0] * around, rel=1e-6)
    assert ribbed.GJ == pytest.approx(quarter[2, 2] * around * cell.radius**2, rel=1e-6)


def test_a_tube_moved_as_a_whole_stores_no_energy(ribbed):
    model = ribbed.model
    angle = model.basis.doflocs[1] / model.cell.radius
    moved = np.where(model.component == 2, np.cos(angle), 0.0)
    moved = np.where(model.component == 1, -np.sin(angle), moved)
    scale = np.abs(model.stiffness).max()
    assert np.abs(model.stiffness @ moved).max() < 1e-4 * scale


def test_mirrored_wave_is_the_wave_of_minus_n(ribbed):
    mirrored = ribbed.smooth(3, -2)
    tie = ribbed.ties.matrix(*ribbed.phases(3, -2))
    inside = tie.conj().T @ (ribbed.model.stiffness @ mirrored.shapes)
    forces = tie.conj().T @ ribbed._wave_forces(ribbed.phases(3, -2))
    assert np.abs(inside - forces).max() < 1e-6 * np.abs(forces).max()


def test_whole_tube_of_a_design(make_design, make_properties):
    design = make_design("orthogrid", skin__thickness=2.5e-3)
    result = run_whole_tube(design, make_properties(), loads=("compression",))
    for name in ("EA", "EI", "GJ", "column"):
        assert result.row(name).ratio == pytest.approx(1.0, abs=0.02)
    assert result.row("general, compression").ratio == pytest.approx(1.0, abs=0.06)
    exact = result.row("compression, exact at that wave")
    assert exact.ratio > 1.0  # pockets can only help the wall to buckle
    assert result.lowest.startswith("general")
    assert result.to_dict()["rows"][0]["name"] == "EA"


def test_thin_skin_buckles_in_its_pockets_first(ribbed):
    thin = WaveTube(
        TubeCell(replace(ribbed.model.cell, thickness=0.5e-3), 1.0e9, 0.4, COARSE), ribbed.length
    )
    matrix = thin.model.stress_matrix(thin.compression())
    pockets, wall = thin.modes(matrix, 2, 2)[0], thin.general(matrix, 2, 2)
    assert not pockets.is_general and wall.is_general
    assert pockets.load < 0.4 * wall.load


def test_seamless_has_no_lands(make_design):
    design = seamless(make_design("isogrid", tube__segments=2, tube__end_land=5e-3))
    assert design.tube.segments == 1 and design.tube.end_land == 0.0


def test_what_is_not_known_says_so(make_design, make_properties):
    with pytest.raises(InputError, match="'shear' is unknown"):
        run_whole_tube(make_design(), make_properties(), loads=("shear",))
    with pytest.raises(InputError, match="resolution"):
        run_whole_tube(make_design(), make_properties(), resolution="huge")
    with pytest.raises(InputError, match="families"):
        run_whole_tube(make_design("families"), make_properties())


def test_side_of_the_ribs_matters_in_a_small_tube(ribbed):
    """Under pressure inner rings resist flattening more than outer ones of the same section."""
    outer = ribbed.general(ribbed.model.stress_matrix(ribbed.pressure(False)), 1e-3, 2).load
    inside = WaveTube(
        TubeCell(replace(ribbed.model.cell, side=-1), 1.0e9, 0.4, COARSE), ribbed.length
    )
    inner = inside.general(inside.model.stress_matrix(inside.pressure(False)), 1e-3, 2).load
    assert 1.15 < inner / outer < 1.4


@pytest.mark.parametrize("side", [1, -1])
@pytest.mark.parametrize("radius", [0.05, 0.0668, 0.1])
def test_curved_mesh_has_no_cracks(side, radius):
    """Ribs of unlike length meet at the same corners whatever the radius stretches."""
    from scipy.spatial import cKDTree

    cell = Cell("isogrid", 28e-3 * 3**0.5, 28e-3, 2.2e-3, 6e-3, 2.5e-3, 0.0, 2e-3, 1e-3, side=side,
                radius=radius)
    points, _ = quarter_cell(cell, COARSE)
    assert not cKDTree(points.T).query_pairs(0.1e-3)
