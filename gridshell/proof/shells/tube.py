"""A tube of shell elements: an even mesh of facets, solved wave by wave round the tube.

A mesh of equal facets looks the same after a turn by one facet, so each of its modes goes with
exp(i n theta): one row of facets along the tube, its two edges tied by that phase, is the whole
mesh. The answer is that of the full mesh of the general-purpose solver, at the cost of a strip.
"""

from __future__ import annotations

from dataclasses import dataclass, fields
from typing import Any

import numpy as np

from gridshell.define.types import Array, IntArray
from gridshell.proof.shells.element import Facet, facet

SUPPORTS = ("simply-supported", "cantilever", "fixed-fixed", "free-free")
LEAST_ROUND = 160  # fewest facets round the tube
_U, _V, _W, _RX, _RT, _RR = range(6)  # unknowns of a node


@dataclass(frozen=True)
class ShellWall:
    """What the elements are made of, about the reference surface.

    Attributes:
        stiffness: A, B, D, each (3, 3), N/m, N, N m.
        shear: transverse shear stiffness along and round the tube, N/m.
        areal_mass: kg/m2.
    """

    stiffness: tuple[Array, Array, Array]
    shear: tuple[float, float]
    areal_mass: float


@dataclass(frozen=True)
class ShellMode:
    """The lowest buckling load of a wave.

    Attributes:
        load: N, Pa or N m of the whole tube.
        n: waves round.
        m: half waves along, counted in the deflection.
    """

    load: float
    n: int
    m: int


class ShellTube:
    """A tube of facets.

    Attributes:
        wall: of the elements.
        radius: of the reference surface, m.
        length: m.
        along: facets along the tube.
        per_wave: facets in one wave round it.
    """

    def __init__(
        self, wall: ShellWall, radius: float, length: float, along: int = 80, per_wave: int = 80
    ) -> None:
        self.wall, self.radius, self.length = wall, radius, length
        self.along, self.per_wave = along, per_wave
        self._facets: dict[int, Facet] = {}

    def _facet(self, n: int) -> tuple[Facet, int]:
        around = max(LEAST_ROUND, self.per_wave * n)
        if around not in self._facets:
            self._facets[around] = facet(
                self.wall.stiffness, self.wall.shear, self.wall.areal_mass, self.radius,
                (self.length / self.along, 2 * np.pi / around),
            )
        return self._facets[around], around

    def matrices(self, n: int) -> dict[str, Any]:
        """Sparse matrices of the whole tube for displacements with exp(i n theta).

        Args:
            n: waves round.

        Returns:
            By the names of `gridshell.proof.shells.element.Facet`, each (6 (along + 1),) square.
        """
        from scipy.sparse import coo_matrix

        one, around = self._facet(n)
        phase = np.exp(2j * np.pi * n / around)
        tie = np.zeros((24, 12), dtype=complex)
        for corner, (node, value) in enumerate(((0, 1.0), (1, 1.0), (1, phase), (0, phase))):
            tie[6 * corner:6 * corner + 6, 6 * node:6 * node + 6] = value * np.eye(6)
        first = 6 * np.arange(self.along)[:, None, None]
        rows = np.broadcast_to(first + np.arange(12)[:, None], (self.along, 12, 12)).ravel()
        columns = np.broadcast_to(first + np.arange(12)[None, :], (self.along, 12, 12)).ravel()
        found = {}
        for field in fields(one):
            strip = tie.conj().T @ getattr(one, field.name) @ tie * around
            values = np.broadcast_to(strip, (self.along, 12, 12)).ravel()
            size = 6 * (self.along + 1)
            found[field.name] = coo_matrix((values, (rows, columns)), (size, size)).tocsc()
        return found

    def _free(self, n: int, support: str) -> IntArray:
        """Unknowns that the ends leave free."""
        last = 6 * self.along
        held: list[int] = []
        round_end, clamped = (_V, _W), (_U, _V, _W, _RX, _RT, _RR)
        for first, kind in zip((0, last), {
            "simply-supported": (round_end, round_end), "cantilever": (clamped, ()),
            "fixed-fixed": (clamped, clamped), "free-free": ((), ()),
        }[support], strict=True):
            held += [first + way for way in kind]
        if n == 0 and support == "simply-supported":
            held.append(6 * (self.along // 2) + _U)
        return np.setdiff1d(np.arange(last + 6), held)

    # -- stiffness -----------------------------------------------------------------------

    def beam(self) -> dict[str, float]:
        """EA (N), EI and GJ (N m2) of the tube, its end sections moved as planes."""
        last, r, long = 6 * self.along, self.radius, self.length
        stretch = {_U: 1.0, _RT: 0.0, _RX: 0.0, _RR: 0.0}
        # e_x turns the wall against the hoop direction of this right-handed frame.
        twist = {_U: 0.0, _V: -r, _RX: 1.0}
        # A section that turns about y: u = R cos t, rotation e_y = cos t e_t + sin t e_r.
        bend = {_U: r, _RT: 1.0, _RR: -1j}
        found = {}
        for name, n, ends, pinned, scale in (
            ("EA", 0, stretch, [_V], long), ("GJ", 0, twist, [], long),
            ("EI", 1, bend, [_W], long / 8),
        ):
            stiffness = self.matrices(n)["stiffness"]
            given = np.zeros(last + 6, dtype=complex)
            held = list(pinned)
            for way, value in ends.items():
                held += [way, last + way]
                given[way], given[last + way] = (
                    (-value, value) if name == "EI" else (0.0, value))
            free = np.setdiff1d(np.arange(last + 6), held)
            given[free] = _solve(stiffness[free][:, free], -(stiffness @ given)[free])
            energy = float(np.real(given.conj() @ (stiffness @ given)))
            # Bending: turned by -1 and +1, curvature 2/L; the mean of cos^2 is one half.
            found[name] = energy * scale
        return found

    # -- buckling ------------------------------------------------------------------------

    def mode(
        self, n: int, unit: dict[str, float], dead: dict[str, float] | None = None,
        support: str = "simply-supported",
    ) -> ShellMode | None:
        """Lowest factor on a state of stress at which waves n appear; None if none does.

        Args:
            n: waves round.
            unit: what grows: axial, hoop, shear (N/m, tension positive) and pressure (Pa,
                inside positive).
            dead: what stands there from the start, in the same words.
            support: of the ends, one of `SUPPORTS`.
        """
        import scipy.sparse.linalg as sparse

        parts = self.matrices(n)
        free = self._free(n, support)
        stiffness = parts["stiffness"]
        for name, size in (dead or {}).items():
            stiffness = stiffness + size * parts[name]
        load = sum(size * parts[name] for name, size in unit.items())
        stiffness, load = stiffness[free][:, free], load[free][:, free]
        factor = sparse.splu(stiffness.tocsc())
        inverse = sparse.LinearOperator(
            stiffness.shape, matvec=factor.solve, dtype=stiffness.dtype)
        start = np.random.default_rng(0).standard_normal(len(free)) + 0j
        value, vector = sparse.eigsh(
            -load, k=1, M=stiffness, Minv=inverse, which="LA", v0=start, tol=1e-7, ncv=40)
        if not value[0] > 0:
            return None
        whole = np.zeros(6 * (self.along + 1), dtype=complex)
        whole[free] = vector[:, 0]
        height = whole[_W::6]
        top = height[np.argmax(np.abs(height))]
        shape = np.real(height / top)
        shape = shape[np.abs(shape) > 1e-3]
        return ShellMode(
            1 / float(value[0]), n, 1 + int(np.sum(shape[1:] * shape[:-1] < 0)))

    def lowest(self, load: str, waves: list[int]) -> ShellMode:
        """Lowest buckling load of the whole tube.

        Args:
            load: compression (N), lateral, hydrostatic (Pa), torsion (N m).
            waves: waves round that are looked at.

        Raises:
            RuntimeError: no wave buckles.
        """
        found = [self.mode(n, unit_state(load, self.radius)) for n in waves]
        known = [mode for mode in found if mode is not None]
        if not known:
            raise RuntimeError(f"none of the waves {waves} buckles in {load}")
        return min(known, key=lambda mode: mode.load)

    # -- vibration -----------------------------------------------------------------------

    def frequency(self, support: str) -> float:
        """First frequency of the tube as a beam (n = 1), Hz.

        Args:
            support: of the ends, one of `SUPPORTS`.
        """
        import scipy.sparse.linalg as sparse

        parts = self.matrices(1)
        free = self._free(1, support)
        stiffness, mass = (parts[name][free][:, free].tocsc() for name in ("stiffness", "mass"))
        # A free tube has two motions without strain: look from a little below zero.
        scale = float(np.real(stiffness.diagonal().sum() / mass.diagonal().sum()))
        below = -1e-9 * scale
        value = sparse.eigsh(
            stiffness, k=3, M=mass, sigma=below, which="LM", return_eigenvectors=False)
        rigid = 2 if support == "free-free" else 0
        return float(np.sqrt(np.sort(value)[rigid])) / (2 * np.pi)


def unit_state(load: str, radius: float) -> dict[str, float]:
    """Membrane forces (N/m) and pressure (Pa) in mid-length of a unit load of the whole tube.

    Args:
        load: compression (1 N), lateral or hydrostatic (1 Pa outside), torsion (1 N m).
        radius: of the reference surface, m.
    """
    if load == "compression":
        return {"axial": -1 / (2 * np.pi * radius)}
    if load == "torsion":
        return {"shear": 1 / (2 * np.pi * radius**2)}
    state = {"hoop": -radius, "pressure": -1.0}
    return {**state, "axial": -radius / 2} if load == "hydrostatic" else state


def _solve(matrix: Any, right: Array) -> Array:
    import scipy.sparse.linalg as sparse

    return np.asarray(sparse.splu(matrix.tocsc()).solve(right))
