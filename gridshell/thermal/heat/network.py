"""Heat in a network of nodes: walls of any number of layers, ribs as fins, contacts, surfaces.

A node sits on each face and between cells (vertex-centered finite volumes), so a surface
temperature is a node and not an extrapolation. Every geometric number may carry leading axes
for many designs at once; all of them then share nodes and time steps.
"""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass, field

import numpy as np

from gridshell.define.types import Array, Quantity

Property = Callable[[Array], Array]
OUTSIDE, INSIDE = 0, 1


@dataclass(frozen=True)
class Solid:
    """What a layer is made of.

    Attributes:
        name: for messages.
        conductivity: of temperature (K, array) -> W/(m K).
        capacity: of temperature -> volumetric heat capacity, J/(m^3 K): density times heat
            capacity.
    """

    name: str
    conductivity: Property
    capacity: Property


def constant_solid(name: str, conductivity: float, density: float, heat_capacity: float) -> Solid:
    """A solid whose properties do not change with temperature."""
    return Solid(
        name,
        lambda t: np.full(np.shape(t), float(conductivity)),
        lambda t: np.full(np.shape(t), float(density * heat_capacity)),
    )


@dataclass(frozen=True)
class Network:
    """Nodes joined by conductors and contacts, with surfaces; see `Builder`.

    Attributes:
        count: number of nodes.
        solids: materials.
        ends: nodes of each conductor (m, 2).
        solid: index of the material of each conductor (m,).
        shape: area over length of each conductor (..., m), m^2/m.
        volume: material that each end of a conductor holds (..., m, 2), m^3.
        contact_ends: nodes of each contact (c, 2).
        contact: conductance of each contact (..., c), W/K.
        face_node: node of each face (f,).
        face_area: of each face (..., f), m^2.
        face_side: OUTSIDE or INSIDE of each face (f,).
        face_radiates: 1.0 where the face sees far surroundings and the sun, else 0.0 (f,).
    """

    count: int
    solids: tuple[Solid, ...]
    ends: np.ndarray
    solid: np.ndarray
    shape: Array
    volume: Array
    contact_ends: np.ndarray
    contact: Array
    face_node: np.ndarray
    face_area: Array
    face_side: np.ndarray
    face_radiates: Array

    def node_volume(self) -> Array:
        """Volume of each solid at each node (..., solids, nodes), m^3."""
        batch = self.volume.shape[:-2]
        found = np.zeros((*batch, len(self.solids), self.count))
        for element, (first, last) in enumerate(self.ends):
            found[..., self.solid[element], first] += self.volume[..., element, 0]
            found[..., self.solid[element], last] += self.volume[..., element, 1]
        return found


@dataclass
class Builder:
    """Puts a network together, piece by piece.

    Attributes:
        count: number of nodes so far.
        solids: materials so far.
    """

    count: int = 0
    solids: list[Solid] = field(default_factory=list)
    _conductors: list[tuple[int, int, int, Quantity, Quantity, Quantity]] = field(
        default_factory=list)
    _contacts: list[tuple[int, int, Quantity]] = field(default_factory=list)
    _faces: list[tuple[int, Quantity, int, bool]] = field(default_factory=list)

    def node(self) -> int:
        """A new node."""
        self.count += 1
        return self.count - 1

    def conductor(
        self, first: int, last: int, solid: Solid, shape: Quantity, volume_first: Quantity = 0.0,
        volume_last: Quantity = 0.0,
    ) -> None:
        """Material between two nodes: area over length (m) and the volume at either end (m^3)."""
        if solid not in self.solids:
            self.solids.append(solid)
        self._conductors.append(
            (first, last, self.solids.index(solid), shape, volume_first, volume_last))

    def contact(self, first: int, last: int, conductance: Quantity) -> None:
        """A contact between two nodes, W/K."""
        self._contacts.append((first, last, conductance))

    def face(self, node: int, area: Quantity, side: int, radiates: bool = True) -> None:
        """A surface of a node, m^2."""
        self._faces.append((node, area, side, radiates))

    def wall(
        self, inner: Quantity, outer: Quantity, cells: int, solid: Solid, share: Quantity = 1.0,
        first: int | None = None, last: int | None = None,
    ) -> list[int]:
        """A cylindrical layer, one meter of its length, from the inner to the outer radius.

        Args:
            inner: radii, m.
            outer: radii, m.
            cells: number of cells.
            share: of the circumference.
            first: nodes already there at the inner or outer radius.
            last: nodes already there at the inner or outer radius.

        Returns:
            the nodes, from the inside outwards.

        The conductance of a cell is 2 pi k / ln(r2/r1), Carslaw and Jaeger, Conduction of Heat
        in Solids, 2nd ed., Section 7.2; the volume is split at the middle radius.
        """
        nodes = [first if first is not None else self.node()]
        nodes += [self.node() for _ in range(cells - 1)]
        nodes.append(last if last is not None else self.node())
        inner, outer = np.asarray(inner, dtype=float), np.asarray(outer, dtype=float)
        radii = [inner + (outer - inner) * i / cells for i in range(cells + 1)]
        for i in range(cells):
            low, high = radii[i], radii[i + 1]
            middle = (low + high) / 2
            around = np.pi * np.asarray(share, dtype=float)
            self.conductor(
                nodes[i], nodes[i + 1], solid, 2 * around / np.log(high / low),
                around * (middle**2 - low**2), around * (high**2 - middle**2))
        return nodes

    def build(self) -> Network:
        """The network."""
        def spread(values: list[Quantity]) -> Array:
            if not values:
                return np.zeros((0,))
            shaped = np.broadcast_arrays(*[np.asarray(v, dtype=float) for v in values])
            return np.stack(shaped, axis=-1)

        pairs = [tuple(sorted(c[:2])) for c in [*self._conductors, *self._contacts]]
        if len(set(pairs)) < len(pairs):
            raise ValueError("two nodes are joined twice; give the sum of both instead")
        parts = list(zip(*self._conductors, strict=True)) if self._conductors else [()] * 6
        first = spread(list(parts[4]))
        last = spread(list(parts[5]))
        first, last = np.broadcast_arrays(first, last)
        return Network(
            count=self.count,
            solids=tuple(self.solids),
            ends=np.array([parts[0], parts[1]], dtype=int).T.reshape(-1, 2),
            solid=np.array(parts[2], dtype=int),
            shape=spread(list(parts[3])),
            volume=np.stack([first, last], axis=-1),
            contact_ends=np.array([c[:2] for c in self._contacts], dtype=int).reshape(-1, 2),
            contact=spread([c[2] for c in self._contacts]),
            face_node=np.array([f[0] for f in self._faces], dtype=int),
            face_area=spread([f[1] for f in self._faces]),
            face_side=np.array([f[2] for f in self._faces], dtype=int),
            face_radiates=np.array([float(f[3]) for f in self._faces]),
        )
