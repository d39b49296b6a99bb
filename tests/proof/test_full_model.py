"""The tube meshed from end to end, solved by CalculiX: held to closed forms, then to the waves.

Plain tubes: Timoshenko, Strength of Materials (EA, EI, GJ); Timoshenko and Gere, Theory of Elastic
Stability (columns, rings under pressure); NASA SP-8007 (torsion, without its correlation factor,
from memory).
"""

import os
import signal
import tempfile
import threading
from pathlib import Path

import numpy as np
import pytest

pytest.importorskip("skfem")

from gridshell.define.errors import InputError
from gridshell.proof.cell.compare import cell_of
from gridshell.proof.cell.geometry import COARSE, Cell
from gridshell.proof.cell.homogenize import MissingPackage
from gridshell.proof.cell.mesh import quarter_cell
from gridshell.proof.mesh import deck
from gridshell.proof.mesh import run as full_model
from gridshell.proof.mesh.ends import FullTube
from gridshell.proof.mesh.mesh import fitted, tube_mesh
from gridshell.proof.mesh.modes import second_volume
from gridshell.proof.mesh.run import RESOLUTIONS, run_full_model
from gridshell.proof.waves.cell import TubeCell
from gridshell.proof.waves.run import seamless
from gridshell.proof.waves.waves import WaveTube
from gridshell.report.plots.proof.full_model import draw_full_mode, mode_surface
from gridshell.wall.assess import assess_wall

needs_solver = pytest.mark.skipif(
    deck.shutil.which(deck.PROGRAM) is None,
    reason=f"the program {deck.PROGRAM} (Debian package {deck.PACKAGE}) is not installed",
)
PLAIN = {"tube__outside_diameter": 0.2, "tube__length": 0.12, "skin__thickness": 4e-3}
RIBBED = {"tube__outside_diameter": 0.1, "tube__length": 0.085, "skin__thickness": 2e-3}


# -- mesh ------------------------------------------------------------------------------------


def _volume(points, corners):
    """Of hexahedra with straight sides, corners in bit order, by Gauss points of skfem."""
    import skfem

    basis = skfem.Basis(skfem.MeshHex(points, corners), skfem.ElementHex1(), intorder=4)
    return float(np.abs(np.asarray(basis.dx)).sum())


@pytest.mark.parametrize("pattern", ["isogrid", "orthogrid", "diagonal"])
@pytest.mark.parametrize("whole", [False, True])
def test_mesh_is_closed_and_holds_the_volume(pattern, whole):
    cell = Cell(pattern, 40e-3, 2 * np.pi * 60e-3 / 10, 2e-3, 5e-3, 2e-3, 0.03, 2e-3, 1e-3,
                side=-1, radius=60e-3)
    mesh = tube_mesh(cell, 0.06, RESOLUTIONS["coarse"], whole)
    faces = np.sort(mesh.elements[:, [[0, 1, 2, 3], [4, 5, 6, 7], [0, 1, 5, 4], [1, 2, 6, 5],
                                      [2, 3, 7, 6], [3, 0, 4, 7]]].reshape(-1, 4), axis=1)
    kept, times = np.unique(faces, axis=0, return_counts=True)
    assert times.max() == 2
    outside = mesh.points[kept[times == 1]]
    # What is left lies on the ends, the plane of bending or a skin or rib face; never inside.
    smooth = np.abs(np.hypot(outside[..., 1], outside[..., 2]) - 61e-3).max(axis=1) < 1e-9
    assert smooth.sum() == len(mesh.faces)
    points, corners = quarter_cell(fitted(cell, 0.06)[0], RESOLUTIONS["coarse"])
    quarters = 3 * (20 if whole else 10)
    assert len(mesh.elements) == quarters * corners.shape[1]
    flat = _volume(np.stack([points[0], (60e-3 + points[2]) * np.sin(points[1] / 60e-3),
                             (60e-3 + points[2]) * np.cos(points[1] / 60e-3)]), corners)
    order = np.array([0, 4, 3, 1, 7, 5, 2, 6])  # back to the bits of the cell
    assert _volume(mesh.points.T, mesh.elements.T[order]) == pytest.approx(
        quarters * flat, rel=1e-9)
    if not whole:
        assert np.abs(mesh.points[mesh.plane, 2]).max() < 1e-12
        assert mesh.points[:, 2].min() > -1e-12


def test_ring_that_only_bends_loses_area_exactly():
    """w = a cos nt, v = -(a/n) sin nt: area changes by -(pi/2) a^2 (1 - 1/n^2), all round."""
    cell = Cell("plain", 0.01, 0.01, 2e-3, radius=0.1)
    mesh = tube_mesh(cell, 0.05, COARSE)
    properties = type("Soft", (), {"modulus": 1e9, "poisson": 0.3})()
    tube = FullTube(mesh, cell, properties)
    nodes = tube.face_nodes
    angle = mesh.angle[nodes]
    for n in (2, 3, 5):
        w, v = 1e-3 * np.cos(n * angle), -1e-3 / n * np.sin(n * angle)
        moved = np.stack([0 * w, w * np.cos(angle) - v * np.sin(angle),
                          w * np.sin(angle) + v * np.cos(angle)], axis=1)
        exact = -np.pi / 4 * 1e-6 * (1 - 1 / n**2) * 0.05
        assert second_volume(tube, nodes, moved) == pytest.approx(exact, rel=2e-3)


# -- the program -----------------------------------------------------------------------------


def test_missing_program_names_the_package(monkeypatch, make_design, make_properties):
    monkeypatch.setenv("PATH", "")
    with pytest.raises(MissingPackage, match="calculix-ccx"):
        run_full_model(make_design(), make_properties())


def _fake(folder: Path, monkeypatch, body: str) -> Path:
    """A stand-in for the program, and an empty place for scratch folders."""
    program, scratch = folder / "bin", folder / "scratch"
    program.mkdir()
    scratch.mkdir()
    (program / "ccx").write_text(f"#!/bin/sh\n{body}\n")
    (program / "ccx").chmod(0o755)
    monkeypatch.setenv("PATH", f"{program}:{os.environ['PATH']}")
    monkeypatch.setattr(tempfile, "tempdir", str(scratch))
    return scratch


def test_failure_is_told_and_leaves_nothing(tmp_path, monkeypatch):
    scratch = _fake(tmp_path, monkeypatch, "echo '*ERROR reading *ELEMENT'; exit 201")
    with pytest.raises(deck.SolverFailed, match=r"reading \*ELEMENT"):
        deck.run("*HEADING\n")
    assert not list(scratch.iterdir())


@pytest.mark.parametrize("kind", [signal.SIGINT, signal.SIGTERM])
def test_interrupt_ends_the_program_and_leaves_nothing(kind, tmp_path, monkeypatch):
    scratch = _fake(tmp_path, monkeypatch, f"echo $$ > {tmp_path}/pid; exec sleep 60")
    # A shell starts what runs in the background deaf to interrupts.
    before = signal.signal(signal.SIGINT, signal.default_int_handler)
    alarm = threading.Timer(1.0, os.kill, (os.getpid(), kind))
    alarm.start()
    try:
        with pytest.raises(KeyboardInterrupt):
            deck.run("*HEADING\n")
    finally:
        alarm.cancel()
        signal.signal(signal.SIGINT, before)
    assert not list(scratch.iterdir())
    with pytest.raises(ProcessLookupError):
        os.kill(int((tmp_path / "pid").read_text()), 0)


@needs_solver
def test_real_program_says_what_is_wrong():
    with pytest.raises(deck.SolverFailed, match="ERROR"):
        deck.run("*NODE\n1,0,0,0\n*STEP\n*STATIC\n*BOUNDARY\nNOSET,1\n*END STEP\n")


def test_what_is_not_known_says_so(monkeypatch, make_design, make_properties):
    monkeypatch.setattr(full_model, "solver", lambda: "ccx")
    for words, key in (("load 'shear'", "loads"), ("ends 'glued'", "ends")):
        with pytest.raises(InputError, match=words):
            run_full_model(make_design(), make_properties(), **{key: (words.split("'")[1],)})
    with pytest.raises(InputError, match="resolution"):
        run_full_model(make_design(), make_properties(), resolution="huge")
    with pytest.raises(InputError, match="families"):
        run_full_model(make_design("families"), make_properties())
    with pytest.raises(InputError, match="unknowns"):
        run_full_model(make_design(tube__length=60.0), make_properties())


# -- plain tubes -----------------------------------------------------------------------------


@pytest.fixture(scope="module")
def plain(make_design, make_properties):
    return run_full_model(make_design("plain", **PLAIN), make_properties())


@needs_solver
def test_plain_tube_as_a_beam(plain):
    E, v, inner, outer = 2e9, 0.35, 96e-3, 100e-3
    exact = {"EA": E * np.pi * (outer**2 - inner**2),
             "EI": E * np.pi / 4 * (outer**4 - inner**4),
             "GJ": E / (2 * (1 + v)) * np.pi / 2 * (outer**4 - inner**4)}
    for name, value in exact.items():
        # A wall 4 % of the radius can't thin out at its very ends: 0.2 %.
        assert plain.row(name, "round").solid == pytest.approx(value, rel=4e-3)
        # Plates that hold the ends from growing stiffen a short tube a little.
        assert 0.999 < plain.row(name, "clamped").solid / value < 1.05


@needs_solver
def test_plain_tube_buckles_as_shell_theory_says(plain):
    for load, least, most in (("compression", 0.97, 1.03), ("lateral", 0.97, 1.02),
                              ("hydrostatic", 0.97, 1.03), ("torsion", 0.9, 1.1)):
        assert least < plain.row(load, "round").ratio < most, load
    # The compressed side alone buckles in bending, at or above the load of the whole ring.
    assert 0.8 < plain.row("bending", "round").ratio < 1.0


@needs_solver
def test_clamping_never_weakens(plain):
    for load in full_model.LOADS:
        gain = plain.row(load, "clamped").solid / plain.row(load, "round").solid
        assert 1.0 < gain < 2.0, load
    assert "of the load with round ends" in plain.row("lateral", "clamped").notes[-1]


@needs_solver
def test_torsion_of_a_plain_tube(make_design, make_properties):
    """Shear stress 0.747 E (t/r)^(5/4) (r/l)^(1/2), simple supports (SP-8007)."""
    length, thickness, radius = 0.15, 2e-3, 0.099
    design = make_design("plain", tube__length=length, skin__thickness=thickness)
    found = run_full_model(design, make_properties(), loads=("torsion",), ends=("round",))
    stress = found.row("torsion", "round").solid / (2 * np.pi * radius**2 * thickness)
    exact = 0.747 * 2e9 * (thickness / radius) ** 1.25 * (radius / length) ** 0.5
    assert stress == pytest.approx(exact, rel=0.08)


@needs_solver
@pytest.mark.long
def test_slender_tube_is_a_column(make_design, make_properties):
    """Euler: pi^2 EI/L^2 with round ends; four times that between plates that can't tilt."""
    design = make_design("plain", tube__length=1.2, tube__outside_diameter=44e-3,
                         skin__thickness=4e-3)
    found = run_full_model(design, make_properties(), loads=("compression",))
    bending = 2e9 * np.pi / 4 * (22e-3**4 - 18e-3**4)
    for ends, share in (("round", 1.0), ("clamped", 4.0)):
        euler = share * np.pi**2 * bending / 1.2**2
        sheared = euler / (1 + 2 * euler / found.row("EA", ends).formula * 2 * 1.35)
        row = found.row("compression", ends)
        assert row.solid == pytest.approx(sheared, rel=0.01)
        assert "column" in row.notes[0] and "1 round" in row.notes[1]
        assert row.ratio == pytest.approx(1.0, abs=0.015)


# -- ribs ------------------------------------------------------------------------------------


@needs_solver
@pytest.mark.long
@pytest.mark.parametrize("pattern", ["orthogrid", "isogrid"])
def test_ribbed_tube_agrees_with_its_waves(pattern, make_design, make_properties):
    """Two programs, two meshes, two ways to write the ends: the same tube."""
    design, properties = seamless(make_design(pattern, **RIBBED)), make_properties()
    cell = cell_of(design, assess_wall(design, properties).grid)
    cell, _, _ = fitted(cell, RIBBED["tube__length"])
    # Waves (m, n) that govern; the isogrid's pockets buckle in rings between its rows of nodes.
    governing = {"orthogrid": {"compression": [(2, 3), (1, 3)], "lateral": [(1, 4), (1, 3)]},
                 "isogrid": {"compression": [(4, 0), (2, 3)]}}[pattern]
    found = run_full_model(design, properties, loads=tuple(governing), ends=("round",))
    waves = WaveTube(TubeCell(cell, 2e9, 0.35, COARSE), RIBBED["tube__length"])
    for name in ("EA", "EI", "GJ"):
        assert found.row(name, "round").solid == pytest.approx(getattr(waves, name), rel=0.01)
    for load, pairs in governing.items():
        state = waves.compression() if load == "compression" else waves.pressure(False)
        matrix = waves.model.stress_matrix(state)
        lowest = min(waves.modes(matrix, m, n)[0].load for m, n in pairs)
        assert found.row(load, "round").solid == pytest.approx(lowest, rel=0.03)
    assert found.modes["compression", "round"][0].is_general == (pattern == "orthogrid")
    assert found.to_dict()["modes"][0]["load"] == "compression"


@needs_solver
def test_picture_of_a_mode(plain, tmp_path):
    axis, angle, height = mode_surface(plain, "compression", "round")
    assert height.shape == (len(axis), len(angle))
    assert np.abs(height).max() == pytest.approx(1.0)
    np.testing.assert_allclose(height[:, 0], height[:, -1], atol=1e-6)  # it closes
    assert np.abs(height[[0, -1]]).max() < 1e-6  # round ends
    draw_full_mode(plain, "torsion", "clamped", tmp_path / "mode.png")
    assert (tmp_path / "mode.png").stat().st_size > 20_000
    with pytest.raises(InputError, match="was not computed"):
        mode_surface(plain, "compression", "round", 9)
