"""Tubes of shell elements: held to closed forms, then the formulas to them.

Closed forms: Timoshenko, Strength of Materials (EA, EI, GJ of a thin tube); Timoshenko and Gere,
Theory of Elastic Stability, 2nd ed. (Euler column 2.1, ring under pressure 7.3 and axial
compression 11.1); Blevins, Formulas for Natural Frequency and Mode Shape (slender beams; from
memory).
"""

from __future__ import annotations

import json

import numpy as np
import pytest

pytest.importorskip("pyfe3d")

from gridshell.cli import main
from gridshell.define.constants import CELL_PATTERNS
from gridshell.proof.shells.sample import BEAM, SUPPORTS, draws, ratios, read, solve_row
from gridshell.proof.shells.tube import ShellTube, ShellWall, unit_state
from gridshell.tube.buckling.general import solid_notes
from gridshell.tube.buckling.waves import LOADS
from gridshell.wall.assess import assess_wall

E, NU, T, R = 70e9, 0.3, 1e-3, 0.1
ROWS = read()


def plain(length, along=60):
    A = E * T / (1 - NU**2) * np.array([[1, NU, 0], [NU, 1, 0], [0, 0, (1 - NU) / 2]])
    shear = 5 / 6 * E / (2 * (1 + NU)) * T
    return ShellTube(
        ShellWall((A, 0 * A, A * T**2 / 12), (shear, shear), 2700 * T), R, length, along)


def test_beam_stiffness_of_a_thin_tube():
    found = plain(1.0).beam()
    area = 2 * np.pi * R * T
    assert found["EA"] == pytest.approx(E * area, rel=2e-3)
    assert found["EI"] == pytest.approx(E * area * R**2 / 2, rel=3e-3)
    assert found["GJ"] == pytest.approx(E / 2 / (1 + NU) * area * R**2, rel=4e-3)


def test_ring_column_and_axisymmetric_wrinkles():
    plate = E * T**3 / (12 * (1 - NU**2))
    long = plain(20.0, 120)
    assert long.mode(2, unit_state("lateral", R)).load == pytest.approx(3 * plate / R**3, rel=0.01)
    euler = np.pi**2 * E * np.pi * R**3 * T / 20.0**2
    assert long.mode(1, unit_state("compression", R)).load == pytest.approx(euler, rel=0.01)
    # N = E t^2/(R sqrt(3 (1 - v^2))), short waves without turns round.
    classical = 2 * np.pi * E * T**2 / np.sqrt(3 * (1 - NU**2))
    assert plain(0.2, 320).mode(0, unit_state("compression", R)).load == pytest.approx(
        classical, rel=0.01)


def test_pressure_inside_does_not_help_a_column():
    """The pressure on the bent wall cancels the pull of the closed ends."""
    long, pressure = plain(20.0, 120), 5e5
    free = long.mode(1, unit_state("compression", R)).load
    inside = long.mode(1, unit_state("compression", R), {
        "axial": pressure * R / 2, "hoop": pressure * R, "pressure": pressure}).load
    assert pressure * np.pi * R**2 > 2 * free  # what a wrong relief would add
    assert inside == pytest.approx(free, rel=0.02)


@pytest.mark.parametrize(("support", "root"), [
    ("simply-supported", np.pi), ("cantilever", 1.8751), ("fixed-fixed", 4.7300),
    ("free-free", 4.7300),
])
def test_slender_tube_vibrates_as_a_beam(support, root):
    length = 60 * R
    euler = root**2 / (2 * np.pi * length**2) * np.sqrt(E * R**2 / 2 / 2700)
    assert plain(length).frequency(support) == pytest.approx(euler, rel=0.02)


# -- the sample ------------------------------------------------------------------------------


def test_no_row_is_left_out():
    stated = list(draws(len(ROWS)))
    assert len(ROWS) == 50
    for row, told in zip(ROWS, stated, strict=True):
        assert row.design.ribs.pattern == told["pattern"]
        assert row.radius * 2 < told["diameter"]
        assert row.design.tube.outside_diameter == pytest.approx(told["diameter"], rel=1e-8)
        assert row.design.tube.length == pytest.approx(told["length"], rel=1e-8)
    assert {row.design.ribs.pattern for row in ROWS} == set(CELL_PATTERNS)


@pytest.mark.parametrize("number", [0, 12])
def test_kept_rows_are_what_the_solver_says(number):
    row = ROWS[number]
    guess = {name: (float(m), n) for name, (m, n) in row.waves.items()}
    solved, waves = solve_row(row.wall, row.radius, row.length, guess)
    assert waves == row.waves
    for name, value in row.solved.items():
        assert solved[name] == pytest.approx(value, rel=1e-4, nan_ok=True)


# Largest difference in walls no deeper than 0.16 of the radius: the figures of the README.
LIMITS = {"EA": 0.003, "EI": 0.003, "GJ": 0.025, "column": 0.015,
          "compression": 0.056, "lateral": 0.035, "hydrostatic": 0.034, "torsion": 0.049}


def test_formulas_on_the_same_wall():
    theory, _ = ratios(ROWS)
    deep = np.array([row.depth > 0.16 for row in ROWS])
    assert deep.sum() == 3
    for name in (*BEAM, *LOADS):
        off = np.abs(theory[name] - 1)
        known = np.isfinite(off) & ~deep
        assert off[known].max() <= LIMITS[name]
        assert np.sqrt(np.mean(off[known] ** 2)) < 0.015
    # Deeper walls: thin shells say so much less, and the range notes of `tube` warn of them.
    assert 1.15 < max(theory[name][deep].max() for name in LOADS) < 1.25
    for row in (row for row in ROWS if row.depth > 0.16):
        assert "deeper than" in " ".join(solid_notes(assess_wall(row.design, row.properties)))


def test_frequencies_from_two_diameters_on():
    _, tube = ratios(ROWS)
    long = np.array([row.length > 4 * row.radius for row in ROWS])
    assert long.sum() > 25
    for support in SUPPORTS:
        assert tube[support][long] == pytest.approx(np.ones(long.sum()), abs=0.045)
        assert tube[support].max() > 1.5  # no beam when shorter: the range is not a formality


def test_command(tmp_path, capsys):
    assert main(["prove", "--shells", "--plot", str(tmp_path / "s.png")]) == 0
    shown = capsys.readouterr().out
    assert shown.startswith("50 random tubes solved as shells")
    assert (tmp_path / "s.png").stat().st_size > 30_000
    assert main(["prove", "--shells", "--json"]) == 0
    tubes = json.loads(capsys.readouterr().out)["tubes"]
    assert len(tubes) == 50 and any(one["theory"]["column"] is None for one in tubes)
    assert main(["prove", "--shells", "--solve", "x.csv"]) == 2
    assert "--shells: takes no --solve" in capsys.readouterr().err
