"""Input of CalculiX, in the language it shares with Abaqus: cards, then whole decks of solids.

The language is that of the program's manual (G. Dhondt, CalculiX CrunchiX user's manual): nodes,
elements, sets, linear equations between unknowns, loads, and steps.
"""

from __future__ import annotations

from collections.abc import Iterable, Sequence

import numpy as np

from gridshell.define.types import Array, IntArray
from gridshell.proof.decks.ends import GROWTH, Step, Unknown, equations
from gridshell.proof.decks.model import FACES, Model, Solid, face_nodes

_PER_LINE = 8  # entries of a data line of a set
_TERMS = 4  # terms of an equation on a line (a line of the input takes at most 16 entries)


def nodes(points: Array, first: int = 1) -> str:
    """Node cards, numbered from ``first``."""
    lines = [f"{k},{x:.10e},{y:.10e},{z:.10e}" for k, (x, y, z) in enumerate(points, first)]
    return "\n".join(["*NODE, NSET=ALL", *lines]) + "\n"


def bricks(elements: IntArray, name: str = "BODY", kind: str = "C3D20R") -> str:
    """Hexahedra with 20 nodes (numbers from 0) as a set."""
    lines = []
    for k, row in enumerate(elements + 1, 1):
        words = [str(n) for n in row]
        lines.append(f"{k}," + ",".join(words[:10]) + ",\n" + ",".join(words[10:]))
    return "\n".join([f"*ELEMENT, TYPE={kind}, ELSET={name}", *lines]) + "\n"


def material(
    modulus: float, poisson: float, density: float | None = None, name: str = "BODY"
) -> str:
    """Isotropic elastic material of an element set."""
    mass = "" if density is None else f"*DENSITY\n{density:.10e}\n"
    return (f"*MATERIAL, NAME=CAST\n*ELASTIC\n{modulus:.10e},{poisson:.10e}\n{mass}"
            f"*SOLID SECTION, ELSET={name}, MATERIAL=CAST\n")


def node_set(name: str, members: IntArray) -> str:
    """A set of nodes (numbers from 0)."""
    return _set("NSET", name, members)


def element_set(name: str, members: IntArray) -> str:
    """A set of elements (numbers from 0)."""
    return _set("ELSET", name, members)


def _set(kind: str, name: str, members: IntArray) -> str:
    words = [str(n + 1) for n in members]
    lines = [",".join(words[k:k + _PER_LINE]) for k in range(0, len(words), _PER_LINE)]
    return "\n".join([f"*{kind}, {kind}={name}", *lines]) + "\n"


def surface(name: str, faces: IntArray) -> str:
    """A set of faces: element from 0, face from 1."""
    lines = [f"{element + 1},S{face}" for element, face in faces]
    return "\n".join([f"*SURFACE, NAME={name}, TYPE=ELEMENT", *lines]) + "\n"


def equation(terms: Iterable[tuple[int, int, float]]) -> str:
    """Sum of coefficient times unknown is zero; (node from 0, direction 1..3, coefficient).

    The first term is the one that the others decide.
    """
    words = [f"{node + 1},{way},{value:.10e}" for node, way, value in terms]
    lines = [",".join(words[k:k + _TERMS]) for k in range(0, len(words), _TERMS)]
    return "\n".join(["*EQUATION", str(len(words)), *lines]) + "\n"


def held(values: Iterable[tuple[int, int, float]], options: str = "") -> str:
    """Unknowns with given values: (node from 0, direction, value)."""
    lines = [f"{node + 1},{way},{way},{value:.10e}" for node, way, value in values]
    return "\n".join([f"*BOUNDARY{options}", *lines]) + "\n" if lines else ""


def forces(values: Iterable[tuple[int, int, float]], options: str = "") -> str:
    """Nodal forces: (node from 0, direction, value)."""
    lines = [f"{node + 1},{way},{value:.10e}" for node, way, value in values if value]
    return "\n".join([f"*CLOAD{options}", *lines]) + "\n" if lines else ""


def pressures(faces: IntArray, value: float, options: str = "") -> str:
    """Pressure on element faces (element from 0, face from 1), positive pushing inward."""
    lines = [f"{element + 1},P{face},{value:.10e}" for element, face in faces]
    return "\n".join([f"*DLOAD{options}", *lines]) + "\n"


# -- decks of solids -------------------------------------------------------------------------


def _where(model: Model, unknown: Unknown) -> tuple[int, int]:
    """Node and direction of an unknown: ends turn in nodes of their own, and grow in others."""
    if unknown.node is not None:
        return unknown.node, unknown.way
    if unknown.way <= 3:
        return model.centers[unknown.right], unknown.way
    extra = len(model.points) + unknown.right
    if unknown.way < GROWTH:
        return extra, unknown.way - 3
    return extra + 2, unknown.way - GROWTH + 1


def body(model: Model, ends: str) -> str:
    """Nodes, elements, sets, section and ties of a tube of solids.

    Args:
        model: of kind solid.
        ends: of `gridshell.proof.decks.ends.ENDS`.
    """
    part = model.parts[0]
    section = part.section
    assert isinstance(section, Solid)
    extra = np.repeat(model.points[list(model.centers)][None], 2, axis=0).reshape(-1, 3)
    count = len(model.points)
    text = [
        nodes(np.concatenate([model.points, extra])), bricks(part.cells, part.name),
        material(section.modulus, section.poisson, section.density, part.name),
        surface("SMOOTH", model.faces), node_set("SMOOTH_NODES", model.surface()),
        node_set("CENTERS", np.arange(count - 2, count + 4)),
    ]
    for name, rim in zip(("LEFT", "RIGHT"), model.rims, strict=True):
        text += [node_set(name, rim.nodes), surface(name, _faces(part.cells, rim.nodes))]
    if ends != "free":
        text += [equation([(*_where(model, unknown), value) for unknown, value in terms])
                 for terms in equations(model, ends)]
    return "".join(text)


def _idle(model: Model, ends: str) -> list[tuple[int, int, float]]:
    """Unknowns of the extra nodes that no end uses: held, or they would be loose."""
    count = len(model.points)
    if ends == "free":
        used = set()
    else:
        ways = (1, 2, 3, 4, 5, 6) if ends != "round" else (2, 3, 4, GROWTH, GROWTH + 1)
        used = {_where(model, Unknown(None, way, right)) for way in ways
                for right in (False, True)}
    return [(node, way, 0.0) for node in range(count - 2, count + 4) for way in (1, 2, 3)
            if (node, way) not in used]


def _faces(cells: IntArray, members: IntArray) -> IntArray:
    """Faces of solids that lie in a set of nodes."""
    found = []
    for face in range(1, len(FACES) + 1):
        rows = face_nodes(cells, np.stack(
            [np.arange(len(cells)), np.full(len(cells), face)], axis=1))
        element = np.flatnonzero(np.isin(rows, members).all(axis=1))
        found.append(np.stack([element, np.full(len(element), face)], axis=1))
    return np.concatenate(found)


def deck(
    model: Model, ends: str, title: Sequence[str], solution: str, steps: Sequence[Step],
    modes: int = 6, text: str | None = None,
) -> str:
    """A deck ready to run; of ends that are free, the mesh alone.

    Args:
        model: of kind solid.
        ends: of `gridshell.proof.decks.ends.ENDS`.
        title: lines of the header.
        solution: static, modes or buckling.
        steps: one for each case, or the one of the modes.
        modes: how many modes of vibration or buckling.
        text: of `body`, if it is known already.
    """
    known = body(model, ends) if text is None else text
    lines = ["".join(f"** {line}\n" for line in title), known]
    idle = _idle(model, ends)
    for step in steps:
        kind = {"static": "*STATIC\n", "modes": f"*FREQUENCY\n{modes}\n",
                "buckling": f"*BUCKLE\n{modes}\n"}[solution]
        lines.append(f"** case: {step.name}\n*STEP\n{kind}")
        given = {_where(model, u): value for u, value in step.held}
        given |= {(node, way): 0.0 for node, way, _ in idle}
        lines.append(held(((*at, value) for at, value in given.items()), ", OP=NEW"))
        if solution != "modes":
            lines.append(forces(((*_where(model, u), value) for u, value in step.forces),
                                ", OP=NEW") or "*CLOAD, OP=NEW\n")
            if step.pressure:
                lines.append(pressures(model.faces, -model.side * step.pressure, ", OP=NEW"))
            else:
                lines.append("*DLOAD, OP=NEW\n")
            if step.acceleration:
                lines.append(f"*DLOAD\n{model.parts[0].name},GRAV,{step.acceleration:.10e},"
                             "0.,0.,-1.\n")
        lines.append("*NODE PRINT, NSET=CENTERS\nU\n")
        lines.append("*NODE FILE\nU\n*END STEP\n")
    return "".join(lines)
