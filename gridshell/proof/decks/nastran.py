"""Nastran bulk data of a tube of shells: section with full A, B, D, ends, loads, solutions.

The cards are those of the open description of bulk data (NASA SP-222, the NASTRAN user's manual,
and its successors): GRID, CQUAD4, PCOMP with MAT8, RBE2, SPC1, FORCE, MOMENT, PLOAD4, EIGRL. Units:
N, m, kg, s, Pa.
"""

from __future__ import annotations

from collections.abc import Iterable, Sequence

import numpy as np

from gridshell.define.types import Array
from gridshell.proof.decks.layup import layup
from gridshell.proof.decks.shells import ShellMesh
from gridshell.proof.shells.tube import ShellWall

SECTION = 1
LEFT, RIGHT, SUPPORT = 1, 2, 1  # rigid ends, and the set of constraints


def real(value: float) -> str:
    """A number in the 16 columns of a large field.

    >>> real(0.0), real(-1.23456789e-5)
    ('0.0', '-1.234567890E-05')
    """
    return "0.0" if value == 0 else f"{value:.9E}"


def card(name: str, *fields: int | float | str | None) -> str:
    """One card in large fields of 16 columns, four on a line.

    >>> print(card("GRID", 1, None, 0.5, 0.0, 0.0))
    GRID*                  1                 5.000000000E-01             0.0
    *                    0.0
    """
    words = ["" if f is None else f if isinstance(f, str) else
             str(int(f)) if isinstance(f, (int, np.integer)) else real(float(f)) for f in fields]
    lines = []
    for first in range(0, len(words), 4):
        head = f"{name}*" if first == 0 else "*"
        lines.append(f"{head:<8}" + "".join(f"{word:>16}" for word in words[first:first + 4]))
    return "\n".join(line.rstrip() for line in lines)


def _small(value: float) -> str:
    """A number in the 8 columns of a small field, four digits.

    >>> _small(-3.2853068e-3), _small(2.347)
    ('-3.285-3', '2.347+0')
    """
    digits, power = f"{value:.3e}".split("e")
    return f"{digits}{int(power):+d}"


def _section(wall: ShellWall) -> list[str]:
    """PCOMP of three plies that have the wall's A, B, D, and their MAT8; mass by NSM."""
    plies = layup(wall.stiffness)
    depth = float(plies.thickness.sum())
    fields = ["PCOMP", str(SECTION), _small(plies.bottom), _small(wall.areal_mass), *[""] * 5]
    lines = [",".join(fields)]
    for k, thick in enumerate(plies.thickness, 1):
        lines.append(f"{',' if k % 2 else lines.pop() + ','}{k},{_small(thick)},0.0,NO")
    for k in range(3):
        along, around, poisson, shear = plies.constants(k)
        across = (wall.shear[0] / depth, wall.shear[1] / depth, 0.0)
        lines.append(card("MAT8", k + 1, along, around, poisson, shear, *across))
    return lines


def _rigid(number: int, center: int, nodes: Iterable[int]) -> list[str]:
    return [card("RBE2", number, center + 1, "123456", *(int(node) + 1 for node in nodes))]


def bulk(mesh: ShellMesh, wall: ShellWall) -> list[str]:
    """Nodes, elements, section and rigid ends of a tube.

    Args:
        mesh: of the tube.
        wall: of its shells.
    """
    lines = [card("GRID", k, None, *point) for k, point in enumerate(mesh.points, 1)]
    lines += [card("CQUAD4", k, SECTION, *(int(n) + 1 for n in quad))
              for k, quad in enumerate(mesh.quads, 1)]
    first = len(mesh.quads)
    lines += _section(wall)
    for which, center, nodes in ((LEFT, mesh.centers[0], mesh.left),
                                 (RIGHT, mesh.centers[1], mesh.right)):
        lines += _rigid(first + which, center, nodes)
    return lines


def deck(
    mesh: ShellMesh, wall: ShellWall, title: Sequence[str], solution: int,
    loads: Sequence[tuple[str, Sequence[str]]] = (), held: str = "123456", modes: int = 6,
) -> str:
    """A deck ready to run.

    Args:
        mesh: of the tube.
        wall: of its shells.
        title: lines of the header.
        solution: 101 (static) or 103 (modes).
        loads: name of each case and its load cards, all of set number 1 on, in order.
        held: unknowns of the left center that are held; the right center is free.
        modes: of solution 103.
    """
    lines = [f"$ {line}" for line in title]
    lines += [f"SOL {solution}", "CEND", "ECHO = NONE", f"SPC = {SUPPORT}"]
    if solution == 103:
        lines += ["METHOD = 1", "DISPLACEMENT = NONE"]
    for number, (name, _) in enumerate(loads, 1):
        lines += [f"SUBCASE {number}", f"  LABEL = {name[:60]}", f"  LOAD = {number}",
                  "  DISPLACEMENT = ALL", "  SPCFORCES = ALL"]
    lines += ["BEGIN BULK", card("PARAM", "AUTOSPC", "YES"), card("PARAM", "K6ROT", 100.0)]
    if solution == 103:
        lines.append(card("EIGRL", 1, None, None, modes))
    lines.append(card("SPC1", SUPPORT, held, mesh.centers[0] + 1))
    lines += bulk(mesh, wall)
    for _, cards in loads:
        lines += cards
    return "\n".join([*lines, "ENDDATA", ""])


def end_loads(number: int, node: int, force: Array, moment: Array) -> list[str]:
    """FORCE and MOMENT cards at a node (from 0), N and N m."""
    lines = []
    for name, vector in (("FORCE", force), ("MOMENT", moment)):
        if np.any(np.asarray(vector) != 0):
            lines.append(card(name, number, node + 1, 0, 1.0, *(float(v) for v in vector)))
    return lines


def pressure(number: int, mesh: ShellMesh, value: float) -> list[str]:
    """PLOAD4 on every element, Pa, positive outward."""
    count = len(mesh.quads)
    return [card("PLOAD4", number, k, value) for k in range(1, count + 1)] if value else []
