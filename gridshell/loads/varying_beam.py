"""A straight beam of varying stiffness with joints: deflected shape, frequencies, column load.

Two-node Timoshenko elements whose shape functions solve the static beam equation, so nodal
deflections under nodal loads are exact for any division. Stiffness, consistent mass and initial
stress of such elements: Przemieniecki, Theory of Matrix Structural Analysis (1968), chapters 5,
11 and 15. A joint is a rotational spring between two rotations at the same station. The solution
runs in the strains of the elements and not in their deflections (see `Beam.strain_shapes`).
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass, field
from functools import cached_property
from typing import Any

import numpy as np
from numpy.typing import NDArray
from scipy.linalg import eigh, null_space
from scipy.sparse.linalg import ArpackNoConvergence, LinearOperator, eigsh

from gridshell.define.errors import InputError
from gridshell.define.types import Array, Quantity
from gridshell.loads.section_forces import Loads

Index = NDArray[np.integer[Any]]

ENDS: Mapping[str, tuple[tuple[int, str], ...]] = {
    "free-free": (),
    "cantilever": ((-1, "across"), (-1, "turn")),  # clamped at the aft end
    "simply-supported": ((0, "across"), (-1, "across")),
    "clamped-clamped": ((0, "across"), (0, "turn"), (-1, "across"), (-1, "turn")),
    "clamped-pinned": ((0, "across"), (0, "turn"), (-1, "across")),
}


@dataclass(frozen=True)
class Beam:
    """A beam along x.

    Attributes:
        stations: (n + 1,) positions, m, rising.
        bending: (n,) EI of each element, N m2.
        shear: (n,) shear stiffness GA of each element, N; infinite is a beam without shear.
        mass: (n,) mass per length, kg/m.
        lumps: (n + 1,) mass at each station, kg.
        joints: station index -> rotation per moment of the joint there, rad/(N m).
    """

    stations: Array
    bending: Array
    shear: Array
    mass: Array
    lumps: Array
    joints: Mapping[int, float] = field(default_factory=dict)

    @classmethod
    def uniform(
        cls, length: float, bending: float, mass: float = 1.0, shear: float = np.inf, *,
        elements: int = 60, joints: Mapping[int, float] | None = None,
    ) -> Beam:
        """A uniform beam.

        Args:
            length: m.
            bending: EI, N m2.
            mass: per length, kg/m.
            shear: GA, N; infinite is a beam without shear.
            elements: how many, of equal length.
            joints: station index -> rotation per moment, rad/(N m).
        """
        full = np.ones(elements)
        return cls(np.linspace(0, length, elements + 1), bending * full, shear * full, mass * full,
                   np.zeros(elements + 1), joints or {})

    def __post_init__(self) -> None:
        if not (np.all(np.diff(self.stations) > 0) and np.all(self.bending > 0)
                and np.all(self.shear > 0)):
            raise InputError("beam: stations must rise, and EI and GA be above 0")
        for station in self.joints:
            if not 0 < station < len(self.stations) - 1:
                raise InputError(f"beam: a joint at station {station} is not inside the beam")

    @property
    def unknowns(self) -> int:
        """Count of deflections and rotations."""
        return 2 * len(self.stations) + len(self.joints)

    @property
    def across(self) -> Index:
        """Index of the deflection at each station."""
        return 2 * np.arange(len(self.stations))

    @property
    def turns(self) -> tuple[Index, Index]:
        """Index of the rotation just ahead and just aft of each station."""
        ahead = 2 * np.arange(len(self.stations)) + 1
        aft = ahead.copy()
        for extra, station in enumerate(sorted(self.joints)):
            aft[station] = 2 * len(self.stations) + extra
        return ahead, aft

    def _places(self) -> Index:
        """(n, 4) unknowns of each element: deflection and slope at its fore and aft ends."""
        ahead, aft = self.turns
        return np.stack([self.across[:-1], aft[:-1], self.across[1:], ahead[1:]], axis=1)

    def _assemble(self, elements: Array) -> Array:
        whole = np.zeros((self.unknowns, self.unknowns))
        places = self._places()
        np.add.at(whole, (places[:, :, None], places[:, None, :]), elements)
        return whole

    def flexibilities(self) -> Array:
        """Flexibility of each strain of `strain_shapes`, rad/(N m)."""
        length = np.diff(self.stations)
        phi = 12 * self.bending / (self.shear * length**2)
        joints = [self.joints[station] for station in sorted(self.joints)]
        return np.concatenate([
            length / self.bending, length * (1 + phi) / (3 * self.bending), np.asarray(joints)
        ])

    def strain_shapes(self) -> tuple[Array, Array]:
        """Motion of every unknown for a unit shift and turn, and for a unit of each strain.

        The strains of an element are e1 = turn(aft) - turn(fore), and e2 = the sum of both turns
        less twice the chord's; of a joint, its opening. In them the beam's stiffness is diagonal,
        so stiff and short elements beside soft and long ones cost no accuracy.
        """
        n = len(self.stations) - 1
        length = np.diff(self.stations)
        ahead, aft = self.turns
        strains = np.zeros((self.unknowns, 2 * n + len(self.joints)))
        openings = {station: 2 * n + k for k, station in enumerate(sorted(self.joints))}
        for i in range(n):
            if i in openings:
                strains[aft[i]] = strains[ahead[i]]
                strains[aft[i], openings[i]] = 1.0
            strains[ahead[i + 1]] = strains[aft[i]]
            strains[ahead[i + 1], i] += 1.0
            chord = (strains[aft[i]] + strains[ahead[i + 1]]) / 2
            chord[n + i] -= 0.5
            strains[2 * (i + 1)] = strains[2 * i] + length[i] * chord
        return self.rigid_modes(), strains

    @cached_property
    def _strained(self) -> tuple[Array, Array]:
        rigid, strains = self.strain_shapes()
        return rigid, strains * np.sqrt(self.flexibilities())

    def modes(self, ends: str | Sequence[tuple[int, str]]) -> Array:
        """Motions of all unknowns that the supports allow, in which strain energy is z.z/2.

        Free ends: measured from the mean axis, on which the mass neither shifts nor turns.

        Args:
            ends: one of `ENDS`, or (station, across or turn).
        Raises:
            InputError: the supports let the beam move as a whole.
        """
        rigid, strains = self._strained
        held = self.supported(ends)
        if len(held) == 0:
            weighted = rigid.T @ self.mass_matrix()
            return strains - rigid @ np.linalg.solve(weighted @ rigid, weighted @ strains)
        rigid_held, strain_held = rigid[held], strains[held]
        if len(held) < 2 or np.linalg.svd(rigid_held)[1][-1] < 1e-9 * np.abs(rigid_held).max():
            raise InputError("beam: the supports let it move as a whole")
        turned, triangle = np.linalg.qr(rigid_held, mode="complete")
        strain_held = turned.T @ strain_held
        motion = strains - rigid @ np.linalg.solve(triangle[:2], strain_held[:2])
        if len(held) > 2:  # supports beyond two constrain the strains themselves
            motion = motion @ null_space(strain_held[2:])
        return motion

    def mass_matrix(self) -> Array:
        """Consistent mass matrix (rotary inertia of the section left out), with the lumps."""
        return self._mass

    @cached_property
    def _mass(self) -> Array:
        length = np.diff(self.stations)
        phi = 12 * self.bending / (self.shear * length**2)
        # Deflection shape functions of the Timoshenko element, cubic in s; integrated by Gauss.
        points, weights = np.polynomial.legendre.leggauss(4)
        s = (points + 1) / 2
        shapes = self._shapes(s, phi, length)  # (n, 4, points)
        mass = np.einsum("nip,njp,p->nij", shapes, shapes, weights / 2)
        whole = self._assemble(mass * (self.mass * length)[:, None, None])
        whole[self.across, self.across] += self.lumps
        return whole

    @staticmethod
    def _shapes(s: Array, phi: Array, length: Array) -> Array:
        p, l = phi[:, None], length[:, None]  # noqa: E741
        return np.stack([
            (1 - 3 * s**2 + 2 * s**3 + p * (1 - s)) / (1 + p),
            l * (s - 2 * s**2 + s**3 + p / 2 * (s - s**2)) / (1 + p),
            (3 * s**2 - 2 * s**3 + p * s) / (1 + p),
            l * (-(s**2) + s**3 - p / 2 * (s - s**2)) / (1 + p),
        ], axis=1)

    def compression_matrix(self, compression: Array) -> Array:
        """Initial-stress matrix for the compression in each element, N (positive softens).

        Args:
            compression: (n,) in each element, N.
        """
        length = np.diff(self.stations)
        phi = 12 * self.bending / (self.shear * length**2)
        points, weights = np.polynomial.legendre.leggauss(3)
        s = (points + 1) / 2
        p, l = phi[:, None], length[:, None]  # noqa: E741
        slope = np.stack([
            (-6 * s + 6 * s**2 - p) / (1 + p) / l,
            (1 - 4 * s + 3 * s**2 + p / 2 * (1 - 2 * s)) / (1 + p),
            (6 * s - 6 * s**2 + p) / (1 + p) / l,
            (-2 * s + 3 * s**2 - p / 2 * (1 - 2 * s)) / (1 + p),
        ], axis=1)
        element = np.einsum("nip,njp,p->nij", slope, slope, weights / 2)
        return self._assemble(element * (compression * length)[:, None, None])

    def load_vector(self, loads: Loads) -> Array:
        """Work-equivalent nodal loads of line loads, forces and couples of one event."""
        length = np.diff(self.stations)
        phi = 12 * self.bending / (self.shear * length**2)
        points, weights = np.polynomial.legendre.leggauss(4)
        s = (points + 1) / 2
        line = loads.across_fore[:, None] * (1 - s) + loads.across_aft[:, None] * s
        element = np.einsum("nip,np,p->ni", self._shapes(s, phi, length), line, weights / 2)
        vector = np.zeros(self.unknowns)
        np.add.at(vector, self._places(), element * length[:, None])
        vector[self.across] += loads.across_at
        # A couple that steps the moment up by C turns the beam by -C in the sense of dw/dx.
        vector[self.turns[0]] -= loads.couple_at
        return vector

    def supported(self, ends: str | Sequence[tuple[int, str]]) -> Index:
        """Indices of the unknowns held at zero by named ends, or (station, across or turn).

        Args:
            ends: one of `ENDS`, or (station, across or turn).
        """
        if isinstance(ends, str) and ends not in ENDS:
            raise InputError(f"ends: {ends!r} is not one of: {', '.join(ENDS)}")
        held = ENDS[ends] if isinstance(ends, str) else ends
        return np.array([
            (self.across if what == "across" else self.turns[0])[station]
            for station, what in held
        ], dtype=int)

    def rigid_modes(self) -> Array:
        """(unknowns, 2) unit shift and unit turn."""
        modes = np.zeros((self.unknowns, 2))
        modes[self.across, 0] = 1.0
        modes[self.across, 1] = self.stations
        for index in self.turns:
            modes[index, 1] = 1.0
        return modes


@dataclass(frozen=True)
class Shape:
    """A deflected beam.

    Attributes:
        stations: (n + 1,), m.
        deflection: (n + 1,) across, m.
        turn_ahead: (n + 1,) rotation just ahead of each station, rad.
        turn_aft: (n + 1,) rotation just aft of each station, rad.
    """

    stations: Array
    deflection: Array
    turn_ahead: Array
    turn_aft: Array


def _shape(beam: Beam, solved: Array) -> Shape:
    ahead, aft = beam.turns
    return Shape(beam.stations, solved[beam.across], solved[ahead], solved[aft])


def deflect(beam: Beam, loads: Loads, ends: str | Sequence[tuple[int, str]] = "free-free") -> Shape:
    """Deflected shape under the loads of one event.

    A free-free beam must be in balance (inertia among the loads); its shape is given relative to
    its own mean axis: no net shift or turn of its mass.

    Args:
        beam: the beam.
        loads: of one event.
        ends: one of `ENDS`, or (station, across or turn).
    Raises:
        InputError: the supports let it move as a whole, or free loads are out of balance.

    >>> beam = Beam.uniform(2.0, 100.0, elements=4)
    >>> load = Loads.none(5); load.across_at[0] = 3.0
    >>> w = deflect(beam, load, "cantilever").deflection[0]
    >>> round(float(w), 6), 3.0 * 2.0**3 / (3 * 100.0)
    (0.08, 0.08)
    """
    vector = beam.load_vector(loads)
    if len(beam.supported(ends)) == 0:
        rigid = beam.rigid_modes()
        if np.any(np.abs(rigid.T @ vector) > 1e-6 * (np.abs(rigid).T @ np.abs(vector))):
            raise InputError("free-free beam: the loads are not in balance")
    motion = beam.modes(ends)
    solved = motion @ (motion.T @ vector)
    return _shape(beam, solved)


def _largest(motion: Array, matrix: Array, count: int) -> tuple[Array, Array]:
    """Largest eigenvalues of motion' matrix motion, falling, and their vectors.

    By Lanczos, which only multiplies vectors: the product is never formed. The wanted values lie
    far apart at the top, so a few steps do; where they do not, the whole matrix is solved.
    """
    n = motion.shape[1]
    if n > max(20, 4 * count):
        whole = LinearOperator((n, n), lambda v: motion.T @ (matrix @ (motion @ v)), dtype=float)
        try:
            values, vectors = eigsh(whole, count, which="LA", v0=np.cos(np.arange(n)))
            return values[::-1], vectors[:, ::-1]
        except ArpackNoConvergence:
            pass
    values, vectors = eigh(motion.T @ matrix @ motion, subset_by_index=[n - count, n - 1])
    return values[::-1], vectors[:, ::-1]


def frequencies(
    beam: Beam, count: int = 3, ends: str | Sequence[tuple[int, str]] = "free-free"
) -> tuple[Array, Array]:
    """Lowest bending frequencies, Hz, and their shapes (count, n + 1) with the largest value 1.

    Rigid motions of a free-free beam are left out. A uniform free-free beam has the published
    (k L)^2 = 22.3733, 61.6728, 120.9034 (Blevins, Formulas for Natural Frequency and Mode Shape,
    1979, table 8-1):

    >>> f, _ = frequencies(Beam.uniform(1.0, 1.0, 1.0))
    >>> (f * 2 * np.pi).round(2).tolist()
    [22.37, 61.67, 120.9]

    Args:
        beam: the beam.
        count: how many.
        ends: one of `ENDS`, or (station, across or turn).
    """
    motion = beam.modes(ends)
    inverse_squares, vectors = _largest(motion, beam.mass_matrix(), count)
    full = motion @ vectors
    shapes = full[beam.across].T
    shapes = shapes / np.take_along_axis(
        shapes, np.abs(shapes).argmax(axis=1, keepdims=True), axis=1
    )
    return 1 / np.sqrt(inverse_squares) / (2 * np.pi), shapes


def column_load(
    beam: Beam, ends: str | Sequence[tuple[int, str]] = "simply-supported",
    compression: Quantity = 1.0,
) -> float:
    """Factor on the given compression at which the beam buckles as a column.

    ``compression`` is one number or (n,), N, in each element; with 1 N the factor is the column
    load in N.

    Args:
        beam: the beam.
        ends: one of `ENDS`, or (station, across or turn).
        compression: one number or (n,), in each element, N.
    Raises:
        InputError: the ends are free.

    >>> round(column_load(Beam.uniform(1.0, 1.0, elements=12)) / np.pi**2, 4)
    1.0
    """
    if len(beam.supported(ends)) == 0:
        raise InputError("column load: free ends have no column load of their own; name the ends")
    full = np.broadcast_to(np.asarray(compression, dtype=float), beam.bending.shape)
    if not np.any(full > 0):
        return float("inf")
    largest = _largest(beam.modes(ends), beam.compression_matrix(full), 1)[0][0]
    return float(1 / largest) if largest > 0 else float("inf")
