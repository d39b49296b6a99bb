"""Energy of an imperfect tube: forces and tangent stiffness of a state, ends and load held."""

from __future__ import annotations

from collections.abc import Callable
from typing import Any, NamedTuple

import numpy as np

from gridshell.define.types import Array
from gridshell.tube.as_built.shell import Grid, Wall6, grid

ENDS = ("round", "clamped", "growing")
# x over the radius -> deviation over the radius and its slope
Profile = Callable[[Array], tuple[Array, Array]]


class Stress(NamedTuple):
    """Stress and rotation of a state at the points of integration, (elements, points) each.

    Attributes:
        along: N_x over A11.
        around: N_t.
        shear: N_xt.
        slope: w,x and w0,x together.
        side: v,x.
        turn: f and w0,t/R together.
    """

    along: Array
    around: Array
    shear: Array
    slope: Array
    side: Array
    turn: Array


class Tangent:
    """Tangent stiffness of one set of waves, held unknowns taken out; None where not positive.

    Attributes:
        band: lower band, held unknowns replaced by 1 on the diagonal.
    """

    def __init__(self, band: Array) -> None:
        from scipy.linalg import cholesky_banded  # here: it takes longer to load than most tubes

        self.band = band
        self._factor: Any = None
        try:
            self._factor = cholesky_banded(band, lower=True, check_finite=False)
        except np.linalg.LinAlgError:
            pass

    @property
    def positive(self) -> bool:
        """Whether every small motion costs energy."""
        return self._factor is not None

    def solve(self, force: Array) -> Array:
        """Motion under a force; only of a positive tangent."""
        from scipy.linalg import cho_solve_banded

        return np.asarray(cho_solve_banded((self._factor, True), force, check_finite=False))


class Model:
    """One set of waves round on one tube, with its ends.

    Ends: *round* keeps the circle, free to warp and to turn about the height at which the load
    does not bend the wall; *clamped* is a rigid plate; *growing* lets the circle grow as the
    membrane wants, which is what the linear formulas presume.
    """

    def __init__(self, wall: Wall6, nodes: Array, waves: tuple[int, ...], ends: str = "round",
                 points: tuple[float, int] = (2 * np.pi, 1), reverse: bool = False) -> None:
        self.wall, self.waves, self.ends = wall, waves, ends
        self.grid: Grid = grid(wall, nodes, waves, *points, reverse=reverse)
        g = self.grid
        own = len(g.fields)
        self._load_height(wall.height, own)
        self.control = np.zeros(g.size)
        self.held = self._held()
        low, high = np.tril_indices(4 * own)
        rows = g.rows
        self._width = 4 * own
        self._pick = (low, high)
        self._place = ((rows[:, low] - rows[:, high]) * g.size + rows[:, high]).ravel()
        free = np.ones(g.size)
        free[self.held] = 0.0
        self._free = free
        # Zero for whatever touches a held unknown.
        self._kept = np.zeros((self._width, g.size))
        for k in range(min(self._width, g.size)):
            self._kept[k, :g.size - k] = free[k:] * free[:g.size - k]

    def _load_height(self, height: float, own: int) -> None:
        """The end moves at the height of the axial force: u_0 there, not at the skin."""
        g = self.grid
        if 0 not in self.waves or not height:
            return
        u = next(k for k, f in enumerate(g.fields) if f.name == "u" and f.wave == 0)
        w = next(k for k, f in enumerate(g.fields) if f.name == "w" and f.wave == 0)
        for element, shift in ((0, 0), (-1, 2 * own)):
            g.linear[element, :, :, 2 * w + 1 + shift] += (
                height * g.linear[element, :, :, 2 * u + shift])

    def _held(self) -> Array:
        g, held = self.grid, []
        for end in (0, -1):
            for field in g.fields:
                k, name = field.wave, field.name
                place = g.at(end, name, k)
                if name in ("v", "w") or k == 0 or self.ends == "clamped":
                    held.append(place)
                if name == "w" and (self.ends == "clamped" or (self.ends == "growing" and k == 0)):
                    held.append(place + 1)
        if 0 in self.waves:
            self.control[g.at(-1, "u", 0)] = -1.0
            if self.ends == "growing":
                for end in (0, -1):
                    self.control[g.at(end, "w", 0)] = self.wall.poisson / self.wall.length
        return np.array(sorted(held))

    # -- a state -------------------------------------------------------------------------

    def turns_of(self, state: Array) -> Array:
        """(elements, 3, points) w,x, v,x and f of a state."""
        g = self.grid
        return np.asarray(
            (g.turns.reshape(len(g.rows), -1, g.rows.shape[1]) @ state[g.rows][..., None])
            .reshape(g.turns.shape[:3]))

    def deviation(self, profiles: dict[int, Profile]) -> tuple[Array, Array]:
        """Slope and turn of an initial deviation sum w_k(x) cos(k t).

        Args:
            profiles: of each wave round, over the radius.
        """
        slope, turn = np.zeros(self.grid.places.shape), np.zeros(self.grid.places.shape)
        for k, profile in profiles.items():
            value, rise = profile(self.grid.places)
            slope += rise * np.cos(k * self.grid.angles)
            turn -= k * value * np.sin(k * self.grid.angles)
        return slope, turn

    def evaluate(self, state: Array, start: tuple[Array, Array], tangent: bool = True
                 ) -> tuple[Array, Array | None, Stress]:
        """Inner forces, tangent band before anything is held, and stress of a state.

        Args:
            state: all unknowns.
            start: of `deviation`.
            tangent: whether the band is wanted.
        """
        g, c = self.grid, self.wall.stiffness
        elements, count = g.places.shape
        size = g.rows.shape[1]
        local = state[g.rows]
        q = self.turns_of(state)
        wx, vx, f = q[:, 0], q[:, 1], q[:, 2]
        slope, turn = wx + start[0], f + start[1]
        strain = (g.linear.reshape(elements, -1, size) @ local[..., None]).reshape(
            elements, 6, count)
        strain[:, 0] += wx * (wx / 2 + start[0]) + vx * vx / 2
        strain[:, 1] += f * (f / 2 + start[1])
        strain[:, 2] += wx * turn + f * start[0]
        stress = c @ strain
        pull = stress * g.weights[:, None]
        B = g.linear.copy()
        B[:, 0] += slope[..., None] * g.turns[:, 0] + vx[..., None] * g.turns[:, 1]
        B[:, 1] += turn[..., None] * g.turns[:, 2]
        B[:, 2] += turn[..., None] * g.turns[:, 0] + slope[..., None] * g.turns[:, 2]
        flat = B.reshape(elements, -1, size)
        force: Array = np.asarray(np.bincount(
            g.rows.ravel(), weights=(pull.reshape(elements, 1, -1) @ flat).ravel(),
            minlength=g.size), float)
        found = Stress(stress[:, 0], stress[:, 1], stress[:, 2], slope, vx, turn)
        if not tangent:
            return force, None, found
        return force, self._band(B, pull[:, 0], pull[:, 1], pull[:, 2]), found

    def _band(self, B: Array, nx: Array, nt: Array, nxt: Array) -> Array:
        g = self.grid
        elements = len(g.rows)
        size = g.rows.shape[1]
        CB = (self.wall.stiffness @ B.reshape(elements, 6, -1)).reshape(B.shape)
        CB *= g.weights[:, None, :, None]
        matrix = np.swapaxes(B.reshape(elements, -1, size), 1, 2) @ CB.reshape(elements, -1, size)
        G = g.turns
        SG = np.empty_like(G)
        SG[:, 0] = nx[..., None] * G[:, 0] + nxt[..., None] * G[:, 2]
        SG[:, 1] = nx[..., None] * G[:, 1]
        SG[:, 2] = nxt[..., None] * G[:, 0] + nt[..., None] * G[:, 2]
        matrix += np.swapaxes(G.reshape(elements, -1, size), 1, 2) @ SG.reshape(elements, -1, size)
        low, high = self._pick
        return np.asarray(np.bincount(
            self._place, weights=matrix[:, low, high].ravel(), minlength=self._width * g.size,
        ), float).reshape(self._width, g.size)

    def under(self, stress: Stress) -> Tangent:
        """Tangent of this set of waves under the stress of a state of another set.

        Both must have their points of integration at the same places.
        """
        g = self.grid
        B = g.linear.copy()
        B[:, 0] += stress.slope[..., None] * g.turns[:, 0] + stress.side[..., None] * g.turns[:, 1]
        B[:, 1] += stress.turn[..., None] * g.turns[:, 2]
        B[:, 2] += stress.turn[..., None] * g.turns[:, 0] + stress.slope[..., None] * g.turns[:, 2]
        w = g.weights
        return self.tangent(self._band(B, stress.along * w, stress.around * w, stress.shear * w))

    def tangent(self, band: Array) -> Tangent:
        """The tangent with the held unknowns taken out."""
        held = band * self._kept
        held[0, self.held] = 1.0
        return Tangent(held)

    def times(self, band: Array, motion: Array) -> Array:
        """Band matrix times a motion."""
        out = band[0] * motion
        for k in range(1, self._width):
            part = band[k, :-k]
            out[k:] += part * motion[:-k]
            out[:-k] += part * motion[k:]
        return np.asarray(out)

    @property
    def free(self) -> Array:
        """1 for each unknown that may move, 0 for the held."""
        return self._free
