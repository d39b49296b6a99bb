"""Buckling modes of the meshed tube: their loads, their waves, and the work of the pressure."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from gridshell.define.types import Array, IntArray
from gridshell.proof.decks.model import square_shapes
from gridshell.proof.mesh.ends import FullTube

GENERAL_SHARE = 0.5  # of the skin's motion in waves longer than two nodes: a general mode
ENERGY = 0.5  # strain energy of a mode, as the solver scales its modes
_ALONG, _AROUND = 241, 241  # places of the regular net, round: of half a tube


@dataclass(frozen=True)
class FullMode:
    """One buckling mode.

    Attributes:
        load: N, N m or Pa of the whole tube.
        along: half waves along of the strongest wave in it.
        around: waves round of that wave.
        share: of the skin's motion that is in waves longer than two node distances, 0 to 1.
        axis: places of the net along the tube, m, (k,).
        angle: places of the net round it, half a tube or all round, rad, (m,).
        height: outward motion of the skin there, largest 1, (axis, angle).
    """

    load: float
    along: int
    around: int
    share: float
    axis: Array
    angle: Array
    height: Array

    @property
    def is_general(self) -> bool:
        """Whether the whole wall waves, rather than pockets or ribs between nodes."""
        return self.share >= GENERAL_SHARE

    @property
    def words(self) -> str:
        """What it looks like."""
        if self.is_general:
            return f"mainly {self.along} half waves along, {self.around} round"
        row, column = np.unravel_index(int(np.argmax(np.abs(self.height))), self.height.shape)
        return (f"pockets or ribs between nodes, most {self.axis[row] * 1e3:.0f} mm along at "
                f"{np.degrees(self.angle[column]):.0f} deg")


def modes_of(
    tube: FullTube, load: str, kind: str, size: float, count: int, rows: tuple[float, float]
) -> tuple[FullMode, ...]:
    """Lowest modes of a load, lowest first.

    Args:
        tube: the model.
        load: which load.
        kind: of ends, round or clamped.
        size: load to start from; the answer is best if it lies within a few times this.
        count: how many factors the solver looks for.
        rows: rows of rib nodes along and nodes round, to tell general from local.
    """
    answer = tube.buckle(load, kind, size, count)
    factors = answer.factors()
    shapes = answer.tables("set FACE")[-len(factors):]
    found = []
    for factor, (nodes, motion) in zip(factors, shapes, strict=True):
        # The table repeats the growth that round ends have before buckling; a mode has none.
        if load != "torsion":
            motion[np.isin(nodes, tube.end_nodes), 1:] = 0.0
        value = float(factor) * size
        if load in ("bending", "torsion"):
            value = abs(value)  # the load may as well act the other way round
        if value > 0 and load in ("lateral", "hydrostatic"):
            change = second_volume(tube, nodes, motion)
            work = ENERGY / value - change
            value = ENERGY / work if work > 0 else np.inf
        if value > 0:
            found.append(shape(
                value, tube.mesh.points[nodes], motion, (tube.mesh.length, tube.mesh.radius),
                tube.mesh.whole, rows))
    return tuple(sorted(found, key=lambda mode: mode.load))


def second_volume(tube: FullTube, nodes: Array, motion: Array) -> float:
    """Second-order change of the volume inside the smooth face for a displacement, m3.

    Pressure that stays normal to the skin does the work p times the change of volume. The solver
    keeps the load's direction, so its energy lacks p times this: with K the strain energy of a
    mode and q its load, K/q becomes K/q less the change. A ring under dead pressure buckles at
    n^2 D/R^3; with this term at the true (n^2 - 1) D/R^3.
    """
    moved = np.zeros_like(tube.mesh.points)
    moved[nodes] = motion
    # A cubic polynomial in the size of the motion: three values give the square's factor.
    step = 1e-2 * tube.mesh.radius / max(float(np.abs(moved).max()), 1e-300)
    points, faces = tube.mesh.points, tube.face_elements
    sizes = [_volume(points + s * moved, faces) for s in (-step, 0.0, step)]
    change = (sizes[0] - 2 * sizes[1] + sizes[2]) / (2 * step**2)
    return float(change * np.sign(sizes[1]))


def _volume(points: Array, faces: IntArray) -> float:
    """Half the flux of (0, y, z) through faces with 8 nodes: the volume inside, ends closed."""
    place, weight = np.polynomial.legendre.leggauss(3)
    total = 0.0
    corners = points[faces]  # (faces, 8, 3)
    for a, wa in zip(place, weight, strict=True):
        for b, wb in zip(place, weight, strict=True):
            value, along, across = square_shapes(a, b)
            at = np.einsum("k,fkc->fc", value, corners)
            normal = np.cross(np.einsum("k,fkc->fc", along, corners),
                              np.einsum("k,fkc->fc", across, corners))
            total += wa * wb * float(np.sum(at[:, 1:] * normal[:, 1:])) / 2
    return total


def shape(
    load: float, points: Array, motion: Array, size: tuple[float, float], whole: bool,
    rows: tuple[float, float],
) -> FullMode:
    """A mode from the motion of nodes of the skin.

    Args:
        load: at which it appears, N, N m or Pa of the whole tube.
        points: (nodes, 3) along the axis, then across; the angle counts from the first of these.
        motion: of each node, (nodes, 3).
        size: length of the tube and radius of its skin, m.
        whole: nodes lie all round, not only at angles from 0 to pi.
        rows: rows of rib nodes along and nodes round, to tell general from local.
    """
    axis, angle, height = _net(points, motion, size, whole)
    # Sine waves along, waves round (a half tube is its own mirror image).
    all_round = height[:, :-1] if whole else np.concatenate(
        [height, height[:, -2:0:-1]], axis=1)
    around = np.fft.rfft(all_round, axis=1)
    odd = np.concatenate([around[:-1], -around[:0:-1]])
    power = np.abs(np.fft.fft(odd, axis=0)[: len(axis)]) ** 2
    power[:, 1:] *= 2
    row, column = np.unravel_index(int(np.argmax(power)), power.shape)
    m, n = np.arange(power.shape[0])[:, None], np.arange(power.shape[1])
    long = (m < max(rows[0], 2)) & (n < max(rows[1] / 2, 2))
    share = float(power[long].sum() / power.sum())
    return FullMode(
        load, int(row), around=int(column), share=share, axis=axis, angle=angle, height=height,
    )


def _net(
    points: Array, motion: Array, size: tuple[float, float], whole: bool
) -> tuple[Array, Array, Array]:
    """Outward motion of the skin on a regular net, largest 1."""
    from scipy.interpolate import LinearNDInterpolator

    length, radius = size
    # From the place itself: the mesh's own angle of nodes on the seam of a whole tube is 0 or 2 pi.
    turn = np.arctan2(points[:, 2], points[:, 1]) % (2 * np.pi)
    outward = motion[:, 1] * np.cos(turn) + motion[:, 2] * np.sin(turn)
    x = points[:, 0]
    if whole:
        turn = np.concatenate([turn - 2 * np.pi, turn, turn + 2 * np.pi])
        outward, x = np.tile(outward, 3), np.tile(x, 3)
    else:
        turn = np.where(turn > 1.5 * np.pi, 0.0, turn)  # -0.0 came out as 2 pi
    axis = np.linspace(0, length, _ALONG)
    angle = (np.linspace(0, 2 * np.pi, 2 * _AROUND - 1) if whole
             else np.linspace(0, np.pi, _AROUND))
    at = np.stack(np.meshgrid(axis, angle * radius, indexing="ij"), axis=-1)
    height = LinearNDInterpolator(np.stack([x, turn * radius], axis=1), outward)(at)
    height = np.nan_to_num(height)
    return axis, angle, np.asarray(height / max(float(np.abs(height).max()), 1e-300))
