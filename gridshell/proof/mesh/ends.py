"""Ends, loads and static answers of the whole meshed tube: what goes into each deck."""

from __future__ import annotations

from dataclasses import dataclass
from functools import cached_property

import numpy as np

from gridshell.define.types import Array, IntArray
from gridshell.material.properties import Properties
from gridshell.proof.cell.geometry import Cell
from gridshell.proof.decks import inp
from gridshell.proof.decks.model import face_nodes
from gridshell.proof.mesh import deck
from gridshell.proof.mesh.mesh import TubeMesh

Term = tuple[int, int, float]
_SMALL = 1e-12  # coefficients below are zero
_STRAIN = 1e-4  # of the static states; anything, the answer is linear


@dataclass(frozen=True)
class StaticState:
    """A static answer.

    Attributes:
        forces: on the nodes of the left and of the right end, (nodes, 3), N.
        moved: the three extra nodes that describe the ends, (3, 3).
    """

    forces: tuple[Array, Array]
    moved: Array


class FullTube:
    """A meshed tube and its decks.

    Six numbers describe an end as a whole: motion along, tilt, even growth, growth with the
    cosine, and (right end) turn. They are unknowns of extra nodes, and equations tie the nodes of
    the end to them.
    """

    def __init__(
        self, mesh: TubeMesh, cell: Cell, properties: Properties, threads: int = 1
    ) -> None:
        self.mesh, self.side, self.threads = mesh, cell.side, threads
        self.face_radius = cell.radius - cell.side * cell.thickness / 2
        count = len(mesh.points)
        # (node, direction) of each number of the left and the right end
        self.along = ((count, 1), (count + 1, 1))
        self.tilt = ((count, 2), (count + 1, 2))
        self.growth = ((count, 3), (count + 1, 3))
        self.shift = ((count + 2, 1), (count + 2, 2))
        self.turn = (count + 2, 3)
        self._known: dict[str, dict[str, StaticState]] = {}
        self._nodes = (mesh.end(False), mesh.end(True))
        self._body = (
            inp.nodes(np.concatenate([mesh.points, np.zeros((3, 3))]))
            + inp.bricks(mesh.elements)
            + inp.material(float(properties.modulus), float(properties.poisson))
            + inp.node_set("ENDS", np.concatenate(self._nodes))
            + inp.node_set("REFS", np.arange(count, count + 3, dtype=np.int64))
            + inp.node_set("FACE", self.face_nodes)
        )

    @property
    def end_nodes(self) -> IntArray:
        """Nodes of both ends."""
        return np.concatenate(self._nodes)

    @cached_property
    def face_nodes(self) -> IntArray:
        """All nodes of the smooth face."""
        return np.unique(self.face_elements)

    @cached_property
    def face_elements(self) -> IntArray:
        """(faces, 8) nodes of the smooth face: corners, then the middles of the sides."""
        return face_nodes(self.mesh.elements, self.mesh.faces)

    # -- ties ----------------------------------------------------------------------------

    def _sides(self, twisted: bool) -> list[Term]:
        """What the other half does to this one: mirror image, or its opposite in torsion."""
        if self.mesh.whole:
            return []
        ways = (1, 2) if twisted else (3,)
        return [(int(k), way, 0.0) for k in self.mesh.plane for way in ways]

    def _end(self, right: bool, kind: str, plate: bool, twisted: bool) -> tuple[str, list[Term]]:
        """Equations and zero values of one end.

        Args:
            right: which end.
            kind: round or clamped.
            plate: the end stays plane (always so when clamped).
            twisted: the right end turns as a whole.
        """
        mesh, tied, zero = self.mesh, [], []
        for k in self._nodes[right]:
            k = int(k)
            y, angle = float(mesh.points[k, 1]), float(mesh.angle[k])
            on_plane = not mesh.whole and abs(mesh.points[k, 2]) < 1e-6 * mesh.radius
            if (plate or kind == "clamped") and not (twisted and on_plane):
                tied.append([(k, 1, 1.0), (*self.along[right], -1.0), (*self.tilt[right], -y)])
            cosine, sine = float(np.cos(angle)), float(np.sin(angle))
            out = mesh.radius + float(mesh.height[k])
            for way, radial, hoop in ((2, cosine, -sine), (3, sine, cosine)):
                if on_plane and way == (2 if twisted else 3):
                    continue  # held by the mirror
                terms = [(k, way, 1.0)]
                if twisted and right:
                    terms.append((*self.turn, -hoop * out))
                elif kind == "round" and not twisted:
                    terms += [(*self.growth[right], -radial),
                              (*self.shift[right], -radial * cosine)]
                terms = [term for term in terms if abs(term[2]) > _SMALL]
                if len(terms) == 1:
                    zero.append((k, way, 0.0))
                else:
                    tied.append(terms)
        return "".join(inp.equation(terms) for terms in tied), zero

    def _model(self, kind: str, plate: bool, twisted: bool, held: list[Term]) -> str:
        left, zero_left = self._end(False, kind, plate, twisted)
        right, zero_right = self._end(True, kind, plate, twisted)
        zero = self._sides(twisted and not self.mesh.whole) + zero_left + zero_right + held
        return self._body + left + right + inp.held(zero)

    # -- static states -------------------------------------------------------------------

    def _states(self, kind: str) -> dict[str, StaticState]:
        """Even shortening, bending, and (round ends) pressure on free ends: forces and growth."""
        if kind not in self._known:
            mesh = self.mesh
            near, far = _STRAIN * mesh.length, _STRAIN * mesh.length / mesh.radius
            text = self._model(kind, True, False, [])
            names = ["push", "bend"]
            for push, bend in ((near, 0.0), (0.0, far)):
                text += _static(inp.held([
                    (*self.along[0], 0.0), (*self.along[1], -push),
                    (*self.tilt[0], bend / 2), (*self.tilt[1], -bend / 2)]))
            answer = self._run(text)
            states = [*zip(answer.tables("forces"), answer.tables("displacements"), strict=True)]
            if kind == "round":
                names.append("press")
                slide = [(int(self._nodes[0][0]), 1, 0.0)]
                answer = self._run(self._model(kind, False, False, slide) + _static(
                    inp.pressures(mesh.faces, -self.side)))
                states.append((answer.tables("forces")[0], answer.tables("displacements")[0]))
            self._known[kind] = {
                name: StaticState(self._split(forces), moved)
                for name, (forces, (_, moved)) in zip(names, states, strict=True)
            }
        return self._known[kind]

    def _split(self, table: tuple[Array, Array]) -> tuple[Array, Array]:
        place = np.zeros((len(self.mesh.points), 3))
        place[table[0]] = table[1]
        return place[self._nodes[0]], place[self._nodes[1]]

    @property
    def _share(self) -> float:
        return 1.0 if self.mesh.whole else 0.5

    def stiffness(self, kind: str) -> dict[str, float]:
        """EA, EI, GJ of the tube between its ends (half meshes only)."""
        pushed, bent = (self._states(kind)[name].forces for name in ("push", "bend"))
        y = self.mesh.points[self._nodes[1], 1]
        z = self.mesh.points[self._nodes[1], 2]
        found = {
            "EA": -float(pushed[1][:, 0].sum()) / _STRAIN / self._share,
            "EI": -float(bent[1][:, 0] @ y) * self.mesh.radius / _STRAIN / self._share,
        }
        rate = _STRAIN / self.mesh.radius
        zero = [(*self.along[0], 0.0), (*self.along[1], 0.0), (*self.tilt[0], 0.0),
                (*self.tilt[1], 0.0)] if kind == "clamped" else []
        text = self._model(kind, False, True, zero) + _static(
            inp.held([(*self.turn, rate * self.mesh.length)]))
        twisted = self._split(self._run(text).tables("forces")[0])[1]
        found["GJ"] = float(y @ twisted[:, 2] - z @ twisted[:, 1]) / rate / self._share
        return found

    # -- buckling ------------------------------------------------------------------------

    def buckle(self, load: str, kind: str, size: float, count: int) -> deck.Output:
        """Factors and modes of a load (of the whole tube) of the given size.

        Round ends are loaded by the nodal forces of the static state, which leave the stress as
        it is in the middle of the tube and let the end warp when it buckles.
        """
        if kind == "clamped":
            held: list[Term] = [(*self.along[0], 0.0)]
            if load != "bending":
                held += [(*self.tilt[0], 0.0), (*self.tilt[1], 0.0)]
        else:  # nothing but this one node keeps the tube from sliding as a whole
            held = [(int(self._nodes[0][0]), 1, 0.0)]
        part = size * self._share
        pushes: list[Term] = []
        text = ""
        if load in ("lateral", "hydrostatic"):
            text = inp.pressures(self.mesh.faces, -self.side * size)
        if load == "torsion":
            pushes = [(*self.turn, part)]
        elif kind == "round":
            pushes, growth = self._round(load, part, size)
            held += growth
        elif load == "bending":
            pushes = [(*self.tilt[0], part), (*self.tilt[1], -part)]
        elif load != "lateral":
            pushes = [(*self.along[1], -part * self._bore(load))]
        return self._run(
            self._model(kind, False, load == "torsion", held)
            + f"*STEP\n*BUCKLE\n{count},0.001\n{text}{inp.forces(pushes)}"
            "*NODE PRINT, NSET=FACE\nU\n*END STEP\n"
        )

    def _bore(self, load: str) -> float:
        """Axial force of the whole tube per unit of the load."""
        return float(np.pi * self.face_radius**2) if load == "hydrostatic" else 1.0

    def _round(self, load: str, part: float, size: float) -> tuple[list[Term], list[Term]]:
        """Nodal forces and growth of round ends that leave the stress as in mid-length.

        The growth has this value before buckling and does not change when the tube buckles.
        """
        states = self._states("round")
        y = self.mesh.points[self._nodes[1], 1]
        parts: list[tuple[StaticState, float]] = []
        if load in ("lateral", "hydrostatic"):
            parts.append((states["press"], size))
        if load in ("compression", "hydrostatic"):
            state = states["push"]
            parts.append((state, part * self._bore(load) / -float(state.forces[1][:, 0].sum())))
        if load == "bending":
            state = states["bend"]
            parts.append((state, part / -float(state.forces[1][:, 0] @ y)))
        pushes = [
            (int(k), 1, float(scale * force[0]))
            for state, scale in parts if state is not states["press"]
            for nodes, forces in zip(self._nodes, state.forces, strict=True)
            for k, force in zip(nodes, forces, strict=True)
        ]
        moved = np.sum([scale * state.moved for state, scale in parts], axis=0)
        first = len(self.mesh.points)
        growth = [(node, way, float(moved[node - first, way - 1]))
                  for node, way in (*self.growth, *self.shift)]
        return pushes, growth

    def _run(self, text: str) -> deck.Output:
        return deck.run(text, self.threads)


def _static(values: str) -> str:
    return (f"*STEP\n*STATIC\n{values}*NODE PRINT, NSET=ENDS\nRF\n"
            "*NODE PRINT, NSET=REFS\nU\n*END STEP\n")
