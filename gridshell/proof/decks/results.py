"""Results of the solvers: tables of CalculiX (.dat, .frd) and of Nastran programs (.f06, .op2).

The binary file is read through a library (`gridshell.proof.decks.op2`). None on the registries
reads the printed tables, so a few lines do: factors or frequencies, and motions by node.
"""

from __future__ import annotations

import re
from dataclasses import dataclass
from pathlib import Path

import numpy as np

from gridshell.define.errors import InputError
from gridshell.define.types import Array, IntArray
from gridshell.proof.decks.op2 import read_op2
from gridshell.proof.mesh.deck import Output

SUFFIXES = (".dat", ".frd", ".f06", ".op2")
_NUMBER = r"[-+]?\d*\.\d*(?:[eE][-+]?\d+|[-+]\d+)?"


@dataclass(frozen=True)
class Shape:
    """Motion of nodes: of a load case or of a mode.

    Attributes:
        nodes: numbers from 0.
        motion: (nodes, 3), or (nodes, 6) with turns.
    """

    nodes: IntArray
    motion: Array


@dataclass(frozen=True)
class Answer:
    """What a solver found.

    Attributes:
        program: which wrote the file.
        factors: buckling factors, lowest first; empty if none.
        frequencies: Hz; empty if none.
        shapes: in the order of the file.
        points: places of the nodes by number, if the file has them, else None.
    """

    program: str
    factors: Array
    frequencies: Array
    shapes: tuple[Shape, ...]
    points: Array | None = None


def check_suffix(path: Path) -> None:
    """Refuse files that no reader here knows, by name.

    Args:
        path: of the result.

    Raises:
        InputError: another suffix.
    """
    if path.suffix.lower() not in SUFFIXES:
        raise InputError(f"--read {path}: must end in {', '.join(SUFFIXES)}")


def read_result(path: str | Path) -> Answer:
    """Read the result that a solver left.

    Args:
        path: .dat or .frd of CalculiX (each with the other beside it), or .f06 or .op2.

    Raises:
        InputError: not such a file, or it says that the run failed.
        MissingPackage: an .op2, and the package that reads it is not installed.
    """
    found = Path(path)
    check_suffix(found)
    if not found.is_file():
        raise InputError(f"--read {path}: no such file")
    if found.suffix.lower() == ".f06":
        return _read_f06(found)
    if found.suffix.lower() == ".op2":
        factors, frequencies, moved = read_op2(found)
        return Answer("Nastran", factors, frequencies, tuple(Shape(*one) for one in moved))
    table, fields = found.with_suffix(".dat"), found.with_suffix(".frd")
    if not table.is_file():
        raise InputError(f"--read {path}: {table.name} must lie beside it")
    output = Output(table.read_text(encoding="utf-8", errors="replace"))
    shapes: tuple[Shape, ...] = ()
    points = None
    if fields.is_file():
        points, shapes = _read_frd(fields)
    tables = tuple(Shape(np.asarray(nodes, dtype=int), motion)
                   for nodes, motion in output.tables("displacements"))
    factors = output.factors() if "B U C K L I N G" in output.text else np.zeros(0)
    frequencies = _frequencies(output.text)
    if not (len(factors) or len(frequencies)):
        shapes = tables
    elif len(factors):
        shapes = shapes[-len(factors):]
    if not (len(factors) or len(frequencies) or shapes):
        raise InputError(f"--read {path}: holds no displacements, frequencies or buckling factors")
    return Answer("CalculiX", factors, frequencies, shapes, points)


def _frequencies(text: str) -> Array:
    part = text.partition("E I G E N V A L U E   O U T P U T")[2].partition("P A R T I C")[0]
    rows = [line.split() for line in part.splitlines() if re.match(r"\s*\d+\s+[-+\d.]", line)]
    return np.array([float(row[3]) for row in rows if len(row) == 5])


def _read_frd(path: Path) -> tuple[Array, tuple[Shape, ...]]:
    """Places and displacements; columns are fixed (CalculiX GraphiX manual, result format)."""
    places: tuple[IntArray, Array] | None = None
    shapes: list[Shape] = []
    block = ""
    rows: list[str] = []
    with open(path, encoding="utf-8", errors="replace") as lines:
        for line in lines:
            if line.startswith(" -1"):
                if block:
                    rows.append(line[3:49])  # ten columns of a number, three times twelve
            elif line.startswith("    2C"):
                block = "NODES"
            elif line.startswith(" -4"):
                block = "DISP" if line[3:].split()[0] == "DISP" else ""
            elif line.startswith(" -3"):
                if rows and block == "NODES":
                    places = _fixed(rows)
                elif rows:
                    shapes.append(Shape(*_fixed(rows)))
                block, rows = "", []
    if places is None:
        return np.zeros((0, 3)), tuple(shapes)
    points = np.full((int(places[0].max()) + 1, 3), np.nan)
    points[places[0]] = places[1]
    return points, tuple(shapes)


def _fixed(rows: list[str]) -> tuple[IntArray, Array]:
    """Numbers of nodes from 0 and three values of each row of fixed columns."""
    text = np.array(rows, dtype="S46").view("S1").reshape(len(rows), 46)
    number = np.ascontiguousarray(text[:, :10]).view("S10").ravel().astype(int) - 1
    return number, np.ascontiguousarray(text[:, 10:]).view("S12").astype(float)


def _read_f06(path: Path) -> Answer:
    text = path.read_text(encoding="utf-8", errors="replace")
    wrong = re.search(r"^.*(?:\*ERROR|FATAL).*$", text, re.MULTILINE)
    if wrong:
        raise InputError(f"--read {path}: the run failed: {wrong[0].strip()[:120]}")
    factors = frequencies = np.zeros(0)
    buckled = re.search(r"SOL\s+105|B U C K L I N G|BUCKLING", text) is not None
    rows = []
    part = re.split(r"R E A L\s+E I G E N V A L U E S", text)
    for line in (part[-1] if len(part) > 1 else "").splitlines():
        words = line.replace("*", " ").split()
        if len(words) >= 3 and words[0].isdigit() and words[1].isdigit() and "." in words[2]:
            rows.append([float(word) for word in words[2:5]])
        elif rows:
            break
    if rows and (buckled or len(rows[0]) < 3):
        factors = np.array([row[0] for row in rows])
    elif rows:  # eigenvalue, radians, cycles
        frequencies = np.array([row[2] for row in rows])
    shapes: list[Shape] = []
    nodes: list[int] = []
    motion: list[list[float]] = []
    title = ""

    def done() -> None:
        if nodes:
            shapes.append(Shape(np.array(nodes) - 1, np.array(motion)))

    for line in text.splitlines():
        spaced = re.sub(r"\s+", "", line)
        if re.search(r"OUTPUTFORSUBCASE|DISPLACEMENTS|EIGENVECTOR|SPCFORCES|CONSTRAINTFORCES|"
                     r"APPLIEDFORCES", spaced):
            if nodes:
                done()
                nodes, motion = [], []
            title = spaced
        row = re.match(rf"\s*(\d+)\s+\d+((?:\s+{_NUMBER}){{6}})\s*$", line)
        if row and ("DISPLACEMENTS" in title or "EIGENVECTOR" in title):
            nodes.append(int(row[1]))
            motion.append([float(word) for word in row[2].split()])
    done()
    if not (len(rows) or shapes):
        raise InputError(f"--read {path}: holds no displacements, frequencies or buckling factors")
    if len(factors):
        shapes = shapes[-len(factors):]
    return Answer("Nastran", factors, frequencies, tuple(shapes))
