"""The tube as a beam with joints, as a table and as cards of bulk data."""

from __future__ import annotations

import csv
import io
from itertools import pairwise

import numpy as np

from gridshell.define.tables.design import Design
from gridshell.proof.decks.nastran import card
from gridshell.tube.joints.of_tube import tube_joints
from gridshell.tube.section.lands import tube_stiffness
from gridshell.wall.assess import Wall

Row = tuple[str, float, str]


def beam_rows(design: Design, wall: Wall) -> list[Row]:
    """Name, value and unit of what describes the tube as a beam, lands included."""
    found = tube_stiffness(wall)
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
    springs = tube_joints(wall, found).springs
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


def beam_cards(design: Design, wall: Wall, title: list[str]) -> str:
    """The tube as beams of bulk data (GRID, CBEAM, PBEAM), its joints as springs (CBUSH, PBUSH).

    E and G are those of the material; areas and moments of area are those that give EA, EI, GJ and
    the shear stiffness. A joint turns about y and z, and is rigid else.

    Args:
        design: one design.
        wall: of the design.
        title: lines of the header.
    """
    value = {name: number for name, number, _ in beam_rows(design, wall)}
    modulus = float(wall.properties.modulus)
    shear = modulus / (2 * (1 + float(wall.properties.poisson)))
    area, second = value["EA"] / modulus, value["EI"] / modulus
    share = value["GA"] / (shear * area)
    lines = [f"$ {line}" for line in title]
    lines += [
        "BEGIN BULK", card("MAT1", 1, modulus, None, float(wall.properties.poisson)),
        # A, I1, I2, I12, J and mass of end A; K1, K2 of the beam follow on a line of their own.
        card("PBEAM", 1, 1, area, second, value["EI in the stiffer plane"] / modulus, None,
             value["GJ"] / shear, value["mass per length"], *[None] * 8, share, share),
    ]
    stations = [0.0, *_joints(design), value["length"]]
    flexibility = value.get("rotation of a joint per moment", 0.0)
    count, node = 0, 1
    for k, (left, right) in enumerate(pairwise(stations), 1):
        inner = np.linspace(left, right, _BEAMS + 1)
        first = node
        lines += [card("GRID", node + j, None, float(x), 0.0, 0.0) for j, x in enumerate(inner)]
        for j in range(_BEAMS):
            count += 1
            lines.append(card("CBEAM", count, 1, first + j, first + j + 1, 0.0, 0.0, 1.0))
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
    return "\n".join([*lines, "ENDDATA", ""])


_BEAMS = 8  # between two joints
