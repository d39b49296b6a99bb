"""Nastran bulk data of a tube: sections, ends, loads and solutions of shells and of solids.

The cards are those of the open description of bulk data (NASA SP-222, the NASTRAN user's manual,
and its successors): GRID, CQUAD4, CHEXA, PCOMP, PSHELL, PSOLID, MAT1, MAT8, RBE2, MPC, SPC, FORCE,
MOMENT, PLOAD4, GRAV, LOAD, EIGRL. Units: N, m, kg, s, Pa.
"""

from __future__ import annotations

from collections.abc import Sequence

import numpy as np

from gridshell.define.types import IntArray
from gridshell.proof.decks.ends import GROWTH, Step, Unknown, equations
from gridshell.proof.decks.layup import layup
from gridshell.proof.decks.model import FACES, Model, Part, Solid
from gridshell.proof.shells.tube import ShellWall

# Stiffness against turning about the normal of a flat element, over a millionth of its own: only to
# keep the matrix regular. 100 adds 2 to 3 % to EI of a mast of L/R 33, as wall and as ribs.
_K6ROT = 1.0
_RIGID = 1  # set of the equations of round ends
_ACROSS, _WEIGHT = 10_000, 20_000  # added to the number of a load that a LOAD card adds up
_NOTHING = 1e-4  # share of the modulus that a link keeps along the rib: no solver takes zero


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


def whole(name: str, *numbers: int) -> str:
    """A card of whole numbers in small fields of 8 columns, eight on a line.

    >>> print(whole("CQUAD4", 1, 1, 5, 6, 7, 8))
    CQUAD4         1       1       5       6       7       8
    """
    lines = []
    for first in range(0, len(numbers), 8):
        head = name if first == 0 else "+"
        lines.append(f"{head:<8}" + "".join(f"{n:>8}" for n in numbers[first:first + 8]))
    return "\n".join(lines)


def _section(number: int, part: Part) -> list[str]:
    """Property and materials of a part; materials are numbered from ten times its number on."""
    section, first = part.section, 10 * number
    if isinstance(section, ShellWall):
        return _plies(number, section)
    mass = section.density or None
    if isinstance(section, Solid):
        return [card("PSOLID", number, first),
                card("MAT1", first, section.modulus, None, section.poisson, mass)]
    bent = first + 1 if section.bending != section.across else first
    lines = [card("PSHELL", number, first, section.thickness, bent, None, first)]
    shear = section.modulus / (2 * (1 + section.poisson))
    if section.link:
        lines.append(card("MAT8", first, _NOTHING * section.modulus, section.modulus, 0.0, shear,
                          shear, shear))
    elif max(section.across, section.shear, section.bending) > 1:
        for k, factor in {first: section.across, bent: section.bending}.items():
            # The strip as a whole stretches freely along the rib: E and Poisson's ratio there.
            v = section.poisson
            across = section.modulus * factor / (1 + v**2 * (factor - 1))
            lines.append(card("MAT8", k, section.modulus, across, v, shear * section.shear, shear,
                              shear, mass))
    else:
        lines.append(card("MAT1", first, section.modulus, None, section.poisson, mass))
    return lines


def _plies(number: int, wall: ShellWall) -> list[str]:
    """PCOMP of three plies that have the wall's A, B, D, and their MAT8; mass by NSM."""
    plies = layup(wall.stiffness)
    depth, first = float(plies.thickness.sum()), 10 * number
    fields = ["PCOMP", str(number), _small(plies.bottom), _small(wall.areal_mass), *[""] * 5]
    lines = [",".join(fields)]
    for k, thick in enumerate(plies.thickness, 1):
        lines.append(
            f"{',' if k % 2 else lines.pop() + ','}{first + k},{_small(thick)},0.0,NO")
    for k in range(3):
        along, around, poisson, shear = plies.constants(k)
        across = (wall.shear[0] / depth, wall.shear[1] / depth, 0.0)
        lines.append(card("MAT8", first + k + 1, along, around, poisson, shear, *across))
    return lines


def _where(model: Model, unknown: Unknown) -> tuple[int, int]:
    """Node and component of an unknown; ends grow in nodes of their own."""
    if unknown.node is not None:
        return unknown.node, unknown.way
    if unknown.way < GROWTH:
        return model.centers[unknown.right], unknown.way
    return len(model.points) + unknown.right, unknown.way - GROWTH + 1


def body(model: Model, ends: str) -> str:
    """Nodes, elements, sections and ties of a tube.

    Args:
        model: the tube.
        ends: of `gridshell.proof.decks.ends.ENDS`.
    """
    lines = [card("GRID", k, None, *point) for k, point in enumerate(model.points, 1)]
    count = 0
    for number, part in enumerate(model.parts, 1):
        lines.append(f"$ part {number}: {part.name}, property {number}")
        lines += _section(number, part)
        # Middle nodes: bottom ring, then (bulk data) those between the rings, then the top ring.
        cells = part.cells if not model.is_solid else part.cells[
            :, [*range(12), *range(16, 20), *range(12, 16)]]
        kind = "CHEXA" if model.is_solid else "CQUAD4"
        lines += [whole(kind, k, number, *(int(n) + 1 for n in cell))
                  for k, cell in enumerate(cells, count + 1)]
        count += len(part.cells)
    if ends == "round":
        for right in (0, 1):
            lines.append(card("GRID", len(model.points) + right + 1, None,
                              *model.points[model.centers[right]]))
        lines += [card("MPC", _RIGID, *_mpc(model, terms)) for terms in equations(model, ends)]
    elif ends != "free":
        tied = "123" if model.is_solid else "123456"
        for center, rim in zip(model.centers, model.rims, strict=True):
            count += 1
            lines.append(card("RBE2", count, center + 1, tied, *(int(n) + 1 for n in rim.nodes)))
    return "\n".join(lines)


def _mpc(
    model: Model, terms: Sequence[tuple[Unknown, float]]
) -> list[int | float | None]:
    """Fields of MPC behind its set: two terms a line, fields 1 and 8 of which stay empty."""
    found: list[int | float | None] = []
    for k, (unknown, value) in enumerate(terms):
        node, way = _where(model, unknown)
        if k and k % 2 == 0:
            found += [None, None]
        found += [node + 1, way, value]
    # MYSTRAN takes no half of a line: of the two that make one in large fields.
    return found + [None] * (-(1 + len(found)) % 8)


def _sets(model: Model) -> list[str]:
    """Node sets of case control, named by a comment."""
    lines = []
    for number, (name, members) in enumerate((
        ("LEFT", model.rims[0].nodes), ("RIGHT", model.rims[1].nodes),
        ("CENTERS", np.array(model.centers)),
    ), 1):
        words = [str(int(n) + 1) for n in members]
        rows = [", ".join(words[k:k + 7]) for k in range(0, len(words), 7)]
        lines += [f"$ nodes {name}", f"SET {number} = " + ",\n      ".join(rows)]
    return lines


def deck(
    model: Model, ends: str, title: Sequence[str], solution: str, steps: Sequence[Step],
    modes: int = 6, text: str | None = None,
) -> str:
    """A deck ready to run; of ends that are free, the bulk data alone.

    Args:
        model: the tube.
        ends: of `gridshell.proof.decks.ends.ENDS`.
        title: lines of the header.
        solution: static (101), modes (103) or buckling (105, of one step).
        steps: one for each case, or the one of the modes; all held alike.
        modes: how many modes of vibration or buckling.
        text: of `body`, if it is known already.
    """
    known = body(model, ends) if text is None else text
    lines = [f"$ {line}" for line in title]
    if ends == "free":
        sets: list[str] = []
        for k, (name, rim) in enumerate(zip(("LEFT", "RIGHT"), model.rims, strict=True), 1):
            sets += [f"$ nodes {name}", whole("SET1", k, *(int(n) + 1 for n in rim.nodes))]
        return "\n".join([*lines, "BEGIN BULK", known, *sets, "ENDDATA", ""])
    number = {"static": 101, "modes": 103, "buckling": 105}[solution]
    lines += [f"SOL {number}", "CEND", "ECHO = NONE", *_sets(model)]
    if ends == "round":
        lines.append(f"MPC = {_RIGID}")
    for k, step in enumerate(steps, 1):
        lines += [f"SUBCASE {k}", f"  LABEL = {step.name[:60]}", "  SPC = 1"]
        if solution == "modes":
            lines += ["  METHOD = 1", "  DISPLACEMENT(PRINT,PLOT) = ALL"]
        else:
            lines += [f"  LOAD = {k}", "  DISPLACEMENT(PRINT,PLOT) = ALL"]
        if solution == "static":
            lines.append("  SPCFORCES = ALL")
    if solution == "buckling":
        lines += ["SUBCASE 2", "  LABEL = buckling", "  SPC = 1", "  METHOD = 1", "  STATSUB = 1",
                  "  DISPLACEMENT(PRINT,PLOT) = ALL"]
    # POST: the results also in an .op2 (of what case control says PLOT).
    lines += ["BEGIN BULK", card("PARAM", "POST", -1), card("PARAM", "AUTOSPC", "YES"),
              card("PARAM", "K6ROT", _K6ROT)]
    if model.kind == "ribs":
        # Ribs bend in their own plane: the element that does not lock there.
        lines.append(card("PARAM", "QUAD4TYP", "MIN4T"))
    if solution != "static":
        lines.append(card("EIGRL", 1, None, None, modes))
    for unknown, value in steps[0].held:
        node, way = _where(model, unknown)
        lines.append(card("SPC", 1, node + 1, way, value))
    if ends == "round":
        lines += [card("SPC1", 1, "3456", len(model.points) + right + 1) for right in (0, 1)]
    for k, step in enumerate(steps, 1):
        lines += _loads(k, model, step)
    return "\n".join([*lines, known, "ENDDATA", ""])


def _loads(number: int, model: Model, step: Step) -> list[str]:
    lines = []
    if step.acceleration:  # weight and forces are sets of their own, and one that adds them
        only = not (step.forces or step.pressure)
        weight, number = number if only else _WEIGHT + number, number if only else _ACROSS + number
        lines.append(card("GRAV", weight, 0, step.acceleration, 0.0, 0.0, -1.0))
        if not only:
            lines.append(card("LOAD", number - _ACROSS, 1.0, 1.0, number, 1.0, weight))
    for unknown, value in step.forces:
        node, way = _where(model, unknown)
        vector = [0.0, 0.0, 0.0]
        vector[(way - 1) % 3] = value
        lines.append(card("FORCE" if way <= 3 else "MOMENT", number, node + 1, 0, 1.0, *vector))
    if step.pressure:
        lines += _pressure(number, model, step.pressure)
    return lines


def _pressure(number: int, model: Model, value: float) -> list[str]:
    """PLOAD4 of a pressure from outside, Pa; on a shell positive along its normal, outward."""
    if not model.is_solid:
        return [card("PLOAD4", number, int(element) + 1, -value) for element, _ in model.faces]
    lines = []
    for element, face in model.faces:
        one, other = _opposite(model.parts[0].cells[element], int(face))
        lines.append(card("PLOAD4", number, int(element) + 1, -model.side * value, None, None, None,
                          one + 1, other + 1))
    return lines


def _opposite(cell: IntArray, face: int) -> tuple[int, int]:
    """Two corners at the ends of a diagonal of a face of a solid."""
    corners = FACES[face - 1]
    return int(cell[corners[0]]), int(cell[corners[2]])
