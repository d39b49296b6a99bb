"""The tube as a beam with joints, as a table and as cards of bulk data."""

from __future__ import annotations

import csv
import io
from itertools import pairwise

import numpy as np

from gridshell.define.tables.design import Design
from gridshell.proof.decks.ends import UNIT_CASES
from gridshell.proof.decks.nastran import card, whole
from gridshell.tube.joints.of_tube import tube_joints, with_joints
from gridshell.tube.section.lands import tube_stiffness
from gridshell.wall.assess import Wall

Row = tuple[str, float, str]


def beam_rows(design: Design, wall: Wall) -> list[Row]:
    """Name, value and unit of the tube as a beam, with its lands and the slip of its seams."""
    bare = tube_stiffness(wall)
    joints = tube_joints(wall, bare)
    found, springs = with_joints(bare, joints), joints.springs
    length, radius = float(design.tube.length), float(wall.grid.radius)
    mass = float(wall.tube_mass) / length
    rows = [
        ("EA", float(found.EA), "N"), ("EI", float(found.EI), "N m2"),
        ("EI in the stiffer plane", float(found.EI_max), "N m2"),
        ("GJ", float(found.GJ), "N m2"), ("GA", float(found.GA), "N"),
        ("mass per length", mass, "kg/m"),
        ("rotary inertia per length", mass * radius**2 / 2, "kg m"),
        ("polar inertia per length", mass * radius**2, "kg m"),
        ("length", length, "m"), ("radius of the skin's middle surface", radius, "m"),
        ("center line, left end, x", 0.0, "m"), ("center line, right end, x", length, "m"),
    ]
    for k, place in enumerate(_joints(design), 1):
        rows.append((f"joint {k}, x", place, "m"))
    if springs.count:
        flexibility = float(np.asarray(springs.flexibility))
        rows.append(("rotation of a joint per moment", flexibility, "rad/(N m)"))
        if flexibility > 0:
            rows.append(("rotational stiffness of a joint", 1 / flexibility, "N m/rad"))
    return rows


def _joints(design: Design) -> list[float]:
    sections = int(design.tube.sections)
    return [float(design.tube.length) * k / sections for k in range(1, sections)]


def beam_table(design: Design, wall: Wall) -> str:
    """The tube as a beam, as CSV: name, value, unit."""
    text = io.StringIO()
    writer = csv.writer(text, lineterminator="\n")
    writer.writerow(["name", "value", "unit"])
    writer.writerows([name, f"{value:.9g}", unit] for name, value, unit in beam_rows(design, wall))
    return text.getvalue()


def beam_cards(design: Design, wall: Wall, title: list[str], solution: str = "") -> str:
    """The tube as beams of bulk data, its joints as springs (CBUSH, PBUSH) or rigid (RBE2).

    E and G are those of the material; areas and moments of area are those that give EA, EI, GJ and
    the shear stiffness. A joint turns about y and z, and is rigid else.

    Args:
        design: one design.
        wall: of the design.
        title: lines of the header.
        solution: "" for the cards alone, CBEAM and PBEAM, to be put into a larger model; stiffness
            (unit loads at the right end) or modes for a deck of a cantilever that is ready to run,
            CBAR and PBAR, which more programs know.
    """
    value = {name: number for name, number, _ in beam_rows(design, wall)}
    stations = [0.0, *_joints(design), value["length"]]
    flexibility = value.get("rotation of a joint per moment", 0.0)
    kind = "CBAR" if solution else "CBEAM"
    lines, count, node = _property(value, wall, kind), 0, 1
    for k, (left, right) in enumerate(pairwise(stations), 1):
        inner = np.linspace(left, right, _BEAMS + 1)
        first = node
        lines += [card("GRID", node + j, None, float(x), 0.0, 0.0) for j, x in enumerate(inner)]
        for j in range(_BEAMS):
            count += 1
            lines.append(card(kind, count, 1, first + j, first + j + 1, 0.0, 0.0, 1.0))
        node += _BEAMS + 1
        if k > 1:
            count += 1
            if flexibility > 0:
                lines.append(card("CBUSH", count, 2, first - 1, first, None, None, None, 0))
            else:
                lines.append(card("RBE2", count, first - 1, "123456", first))
    if flexibility > 0 and len(stations) > 2:
        stiff = 1e3 * value["EA"] / value["length"]
        turn = 1e3 * value["GJ"] / value["length"]
        lines.append(card("PBUSH", 2, "K", stiff, stiff, stiff, turn, 1 / flexibility,
                          1 / flexibility))
    head = [f"$ {line}" for line in title]
    if not solution:
        return "\n".join([*head, "BEGIN BULK", *lines, "ENDDATA", ""])
    tip = beam_nodes(design)
    lines += [card("PARAM", "POST", -1), whole("SPC1", 1, 123456, 1)]
    if solution == "modes":
        control = ["SOL 103", "CEND", "SUBCASE 1", "  SPC = 1", "  METHOD = 1",
                   "  DISPLACEMENT(PRINT,PLOT) = ALL"]
        lines.append(card("EIGRL", 1, None, None, 6))
    else:
        control = ["SOL 101", "CEND"]
        for k, case in enumerate(UNIT_CASES, 1):
            control += [f"SUBCASE {k}", f"  LABEL = {case.name}", "  SPC = 1", f"  LOAD = {k}",
                        "  DISPLACEMENT(PRINT,PLOT) = ALL"]
        lines += [card("FORCE", 1, tip, 0, 1.0, -1.0, 0.0, 0.0),
                  card("MOMENT", 2, tip, 0, 1.0, 0.0, 1.0, 0.0),
                  card("MOMENT", 3, tip, 0, 1.0, 1.0, 0.0, 0.0)]
    return "\n".join([*head, *control, "BEGIN BULK", *lines, "ENDDATA", ""])


def beam_nodes(design: Design) -> int:
    """How many nodes the beam has; the last is its right end."""
    return int(design.tube.sections) * (_BEAMS + 1)


def _property(value: dict[str, float], wall: Wall, kind: str) -> list[str]:
    """Material and section of all beams."""
    modulus, poisson = float(wall.properties.modulus), float(wall.properties.poisson)
    shear = modulus / (2 * (1 + poisson))
    area, turn, heavy = value["EA"] / modulus, value["GJ"] / shear, value["mass per length"]
    bend = value["EI"] / modulus, value["EI in the stiffer plane"] / modulus
    share = value["GA"] / (shear * area)
    # Stress points (C1 to F2), then K1 and K2 on a line of their own. Of a beam that can taper,
    # the far end says first that it is like the near one: not all programs tell K1 from that.
    section = {
        "CBEAM": card("PBEAM", 1, 1, area, *bend, None, turn, heavy, *[None] * 8,
                      "NO", 1.0, *[None] * 6, share, share),
        "CBAR": card("PBAR", 1, 1, area, *bend, turn, heavy, None, *[None] * 8, share, share),
    }[kind]
    return [card("MAT1", 1, modulus, None, poisson), section]


_BEAMS = 8  # between two joints
