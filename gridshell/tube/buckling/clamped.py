"""Buckling of a tube whose ends are built in: held along, round, across, and against turning.

The waves of `gridshell.tube.buckling.wave_laws` have ends that are free to move along and to turn.
Built-in ends are the same waves under two constraints at each end, each taken up by a force of its
own: the method of Lagrangian multipliers of B. Budiansky and P. C. Hu, NACA Report 848 (1946). The
waves stay uncoupled but for these forces, so every effect that the law of a wave knows is kept.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from gridshell.define.types import Array, Quantity
from gridshell.tube.buckling import wave_laws
from gridshell.tube.buckling.wave_stiffness import WaveStiffness
from gridshell.tube.buckling.waves import LOADS, LowestWave, crimping

_STIFFEST = 1e8  # transverse shear over bending from which on it counts as rigid
_FEWEST, _MOST = 60, 1500  # waves along; the rest is a sum that falls with the square of m
_FARTHEST = 200_000  # waves along up to which those beyond `_MOST` are looked at
_HALVINGS = 26


@dataclass(frozen=True)
class _Waves:
    """The waves of one number round and one symmetry along.

    Attributes:
        m: half waves along; 0 is an even motion along, which works on no load.
        stiffness: in U, V, W and the deflection C that bends, (waves, 4, 4).
        work: of a unit load in the same, (waves, 4).
        alone: load of each wave by itself, infinite for m = 0, (waves,).
        second: its second root, likewise.
        ends: motion along and turn of the wall at an end, (waves, 4, ends).
    """

    m: Array
    stiffness: Array
    work: Array
    alone: Array
    second: Array
    ends: Array

    def moved(self, load: float) -> Array:
        """What unit forces on the ends move in each wave under a load, (waves, 4, ends)."""
        matrix = self.stiffness.copy()
        index = np.arange(4)
        matrix[:, index, index] -= load * self.work
        try:
            found: Array = np.asarray(np.linalg.solve(matrix, self.ends), float)
        except np.linalg.LinAlgError:  # just the load of a wave by itself: a little less of it
            return self.moved(load * (1 - 1e-9))
        return found

    def compliance(self, load: float) -> Array:
        """What forces on the ends move there under a load, (ends, ends)."""
        each = np.einsum("mik,mil->mkl", self.ends, self.moved(load))
        # Waves beyond the last: the terms fall with the square of m, in steps of two.
        found: Array = each.sum(axis=0) + each[-1] * self.m[-1] / 2
        return found

    def stands(self, load: float) -> bool:
        """Whether the tube carries a load with its ends held.

        The matrix of waves and constraints has one value below zero for each constraint where the
        tube stands; waves that buckle by themselves and the ends' compliance count them.
        """
        buckled = int(np.sum(self.alone < load) + np.sum(self.second < load))
        return buckled == 0 or buckled <= int(np.sum(np.linalg.eigvalsh(self.compliance(load)) < 0))

    def lowest(self) -> tuple[float, float]:
        """Lowest load with the ends held, and half waves along of its largest wave."""
        ordered = np.sort(np.concatenate([self.alone, self.second]))
        # Each constraint lifts a load by at most one place in the order of those without.
        # Rings hardly longer than their wall is deep have fewer waves than that: the last is safe.
        places = min(self.ends.shape[-1], int(np.isfinite(ordered).sum()) - 1)
        low, high = ordered[0], ordered[places]
        for _ in range(_HALVINGS):
            middle = (low + high) / 2
            low, high = (middle, high) if self.stands(middle) else (low, middle)
        _, forces = np.linalg.eigh(self.compliance(low))
        height = np.abs((self.moved(low) @ forces)[:, 2, :]).max(axis=-1)
        return float(low), float(self.m[int(np.argmax(height))])


def _stiffness(w: WaveStiffness, x: Array, y: float) -> Array:
    """Full matrix of each wave; entries as `WaveStiffness` has them."""
    l, n = np.sqrt(x), np.sqrt(y)  # noqa: E741 the wave number's own symbol
    cc = w.sxx * x * x + w.sxy * x * y + w.syy * y * y
    shear = np.minimum(w.shear_x * x + w.shear_y * y, _STIFFEST * (cc + w.s0))
    found = np.zeros((len(x), 4, 4))
    for i, j, value in (
        (0, 0, w.k11x * x + w.k11y * y), (0, 1, l * n * w.k12), (0, 2, l * w.p0),
        (0, 3, l * (w.px * x + w.py * y)), (1, 1, w.k22x * x + w.k22y * y), (1, 2, n * w.r0),
        (1, 3, n * (w.rx * x + w.ry * y)), (2, 2, w.s0 + shear),
        (2, 3, (w.sx * x + w.sy * y) / 2 - shear), (3, 3, cc + shear),
    ):
        found[:, i, j] = found[:, j, i] = value
    return found


def _alone(w: WaveStiffness, kind: int, x: Array, y: float) -> tuple[Array, Array, Array]:
    """Loads of each wave by itself, both roots, and the work of a unit load on V and W.

    What bowing of the skin and the depth of the layers take from the load of a wave is added to the
    work of the load on it. Half waves shorter than the wall is deep only hold: no theory of walls
    knows their load, and the search does not look at them either.
    """
    k22, k23, k33, _ = wave_laws.condensed(w, x, y)
    if kind == wave_laws.COMPRESSION:
        on_v, on_w = w.in_plane * x, x
    else:
        axial = x * w.radius / 2 if kind == wave_laws.HYDROSTATIC else 0.0 * x
        on_v, on_w = w.in_plane * axial, w.radius * y - w.in_plane / w.radius + axial
    b, c = k22 * on_w + k33 * on_v, k22 * k33 - y * k23 * k23
    first = wave_laws.lowest_root(on_v * on_w, b, c)
    full = wave_laws.wave_load(w, kind, x, y)
    with np.errstate(divide="ignore"):
        second = np.where(on_v > 0, c / (on_v * on_w * first), np.inf)
    more = np.where(x <= (np.pi / w.shortest) ** 2, first / full, 0.0)
    work = np.stack([on_v * more, on_w * more], axis=-1)
    return np.where(more > 0, full, np.inf), np.where(more > 0, second / more, np.inf), work


def _waves(w: WaveStiffness, kind: int, length: float, n: float, odd: bool, count: int) -> _Waves:
    m = np.arange(1.0 if odd else 2.0, count, 2.0)
    x, y = (m * np.pi / length) ** 2, float((n / w.radius) ** 2)
    alone, second, work = _alone(w, kind, x, y)
    stiffness, on = _stiffness(w, x, y), np.zeros((len(m), 4))
    on[:, 1:3] = work
    ends = np.zeros((len(m), 4, 2))
    ends[:, 0, 0] = 1.0  # U cos(l x) at an end
    ends[:, 3, 1] = np.sqrt(x)  # and the slope of C sin(l x)
    if n == 0:  # the ends come nearer to each other: nothing holds them along
        ends = ends[:, :, 1:]
    elif not odd:  # an even motion along belongs to these; its mean square is twice that of a wave
        m = np.append(0.0, m)
        still = np.diag([2 * float(w.k11y) * y, 1.0, 1.0, 1.0])
        stiffness = np.concatenate([still[None], stiffness])
        on = np.concatenate([np.zeros((1, 4)), on])
        slide = np.zeros((1, 4, 2))
        slide[0, 0, 0] = 1.0
        ends = np.concatenate([slide, ends])
        alone, second = np.append(np.inf, alone), np.append(np.inf, second)
    return _Waves(m, stiffness, on, alone, second, ends)


def clamped_wave(load: str, w: WaveStiffness, length: float, free: LowestWave) -> LowestWave:
    """Lowest load of one tube with its ends built in, over every whole wave.

    Torsion keeps the load of ends that are free to move along and to turn, on the safe side.

    Args:
        load: one of `LOADS`.
        w: coefficients of one wall.
        length: of the tube, m.
        free: the lowest load of `lowest_wave`.
    """
    if load == "torsion" or not np.isfinite(free.load) or not free.load > 0 or free.on_edge:
        return free  # ever shorter waves feel no ends
    kind = LOADS.index(load)
    count = int(np.clip(2 * length / float(w.shortest), _FEWEST, _MOST))
    farthest = length / float(w.shortest)
    if farthest > _FARTHEST:
        return free
    # The ends of waves beyond the last are taken as free: held ones only lift their loads.
    beyond = (np.arange(float(count), farthest + 1) * np.pi / length) ** 2
    best, best_m, best_n = np.inf, 1.0, 2.0
    top_n = max(np.pi * float(w.radius) / float(w.shortest), 3.0)
    n, start = float(free.n), True
    with np.errstate(all="ignore"):
        while n <= top_n:
            _, high, last = wave_laws.window(w, kind, best, (n / w.radius) ** 2)
            for odd in (True, False) if high >= 0 else ():
                waves = _waves(w, kind, length, n, odd, count)
                if best == np.inf or not waves.stands(best):
                    (best, best_m), best_n = waves.lowest(), n
            some = beyond[: np.searchsorted(beyond, high, "right")]
            if len(some):
                loads = wave_laws.wave_load(w, kind, some, (n / w.radius) ** 2)
                least = int(np.argmin(loads))  # also what is not a number
                if not loads[least] >= best:
                    best, best_m, best_n = float(loads[least]), float(count + least), n
            if high < 0 and last and not start:
                break
            if start:
                n, start = 0.0 if load == "compression" else 2.0, False
            else:
                n += 2.0 if n == 0 else 1.0
    best = min(best, float(crimping(load, w)))
    return LowestWave(
        best, best_m, best_n, free.on_edge, gain=best / float(free.load))


def clamped_waves(
    load: str, law: WaveStiffness, length: Quantity, free: LowestWave
) -> LowestWave:
    """`clamped_wave` of one wall or many, one after the other.

    Args:
        load: one of `LOADS`.
        law: wave matrix of one wall or many.
        length: of the tube, m.
        free: the lowest loads of `lowest_wave`, of the shape of both.
    """
    shape = np.shape(free.load)
    if not shape:
        one = wave_laws.design_of(law.table(()), 0)
        return clamped_wave(load, one, float(length), free)
    table = law.table(shape)
    span = np.broadcast_to(np.asarray(length, float), shape).ravel()
    parts = [np.ravel(np.broadcast_to(value, shape)) for value in (
        free.load, free.m, free.n, free.on_edge)]
    rows = [
        clamped_wave(load, wave_laws.design_of(table, i), float(span[i]),
                     LowestWave(*(part[i] for part in parts)))
        for i in range(len(table))
    ]
    return LowestWave(*(
        np.array([getattr(row, name) for row in rows]).reshape(shape)
        for name in ("load", "m", "n", "on_edge", "gain")
    ))
