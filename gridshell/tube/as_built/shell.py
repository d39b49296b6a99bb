"""Strains of an imperfect cylinder: cubic Hermite elements along, a few waves round.

u = sum u_k(x) cos(k t), v = sum v_k(x) sin(k t), w = sum w_k(x) cos(k t); each function of x is a
cubic between nodes with value and slope as unknowns. Lengths are over the radius and line forces
over A11, so that every number is near 1.

Membrane strains with the initial deviation w0 (free of stress), rotation f = (w,t - v)/R:

    e_x = u,x + w,x (w,x + 2 w0,x)/2 + v,x^2/2
    e_t = (v,t + w)/R + f (f + 2 w0,t/R)/2
    g   = u,t/R + v,x + w,x (f + w0,t/R) + f w0,x

and the curvatures of `gridshell.tube.buckling.wave_stiffness.Theory`; Sanders (NASA TR R-24, 1959)
with the rotation about the normal replaced by v,x, so that the load works as it does in
`gridshell.tube.buckling.wave_laws`. A theory without in-plane work drops v from f and v,x^2.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from gridshell.define.types import Array, IntArray
from gridshell.tube.buckling.wave_stiffness import SANDERS, Theory

_POINTS, _WEIGHTS = np.polynomial.legendre.leggauss(3)


@dataclass(frozen=True)
class Wall6:
    """A wall on its radius without units.

    Attributes:
        stiffness: (6, 6) A, B, D over A11, A11 R and A11 R^2.
        length: over the radius.
        radius: of the reference surface, m.
        membrane: A11, N/m.
        theory: which terms of curvature and rotation to keep.
    """

    stiffness: Array
    length: float
    radius: float
    membrane: float
    theory: Theory = SANDERS

    @property
    def poisson(self) -> float:
        """Hoop growth over axial shortening of the membrane, A12/A22 and no bending."""
        return float(self.stiffness[0, 1] / self.stiffness[1, 1])

    @property
    def height(self) -> float:
        """Height of the axial force that does not bend the wall, over the radius."""
        c = self.stiffness
        free = c[0, 0] - c[0, 1] ** 2 / c[1, 1]
        return float((c[0, 3] - c[0, 1] * c[1, 3] / c[1, 1]) / free)

    @property
    def axial(self) -> float:
        """Axial force per shortening strain, free to grow round, over A11."""
        c = self.stiffness
        return float(c[0, 0] - c[0, 1] ** 2 / c[1, 1])


def wall6(
    A: Array, B: Array, D: Array, radius: float, length: float, theory: Theory = SANDERS
) -> Wall6:
    """A wall without units.

    Args:
        A: (3, 3) N/m.
        B: (3, 3) N.
        D: (3, 3) N m.
        radius: of the reference surface, m.
        length: m.
        theory: of curvature and rotation.
    """
    c = np.zeros((6, 6))
    unit = float(A[0, 0])
    c[:3, :3], c[:3, 3:], c[3:, 3:] = A / unit, B / (unit * radius), D / (unit * radius**2)
    c[3:, :3] = c[:3, 3:].T
    return Wall6(c, length / radius, radius, unit, theory)


@dataclass(frozen=True)
class Field:
    """One function of x: a displacement and its waves round.

    Attributes:
        name: u, v or w.
        wave: k of cos(k t) or sin(k t).
    """

    name: str
    wave: int


@dataclass(frozen=True)
class Grid:
    """Points of integration and the strains there per unknown.

    Attributes:
        nodes: (elements + 1,) places along, over the radius.
        fields: of each unknown; node by node, field by field, value then slope.
        places: (elements, points) x over the radius.
        angles: (elements, points) t, rad.
        weights: (elements, points) of the mean round times the integral along.
        linear: (elements, 6, points, unknowns of an element) strains.
        turns: (elements, 3, points, unknowns of an element) w,x, v,x and f.
        rows: (elements, unknowns of an element) place in the vector of all unknowns.
    """

    nodes: Array
    fields: tuple[Field, ...]
    places: Array
    angles: Array
    weights: Array
    linear: Array
    turns: Array
    rows: IntArray

    @property
    def size(self) -> int:
        """Number of all unknowns, before any is held."""
        return 2 * len(self.fields) * len(self.nodes)

    def at(self, end: int, name: str, wave: int, slope: bool = False) -> int:
        """Place of an unknown of the first (0) or last (-1) node."""
        node = 0 if end == 0 else len(self.nodes) - 1
        return 2 * (node * len(self.fields) + self.fields.index(Field(name, wave))) + slope


def waves_of(set_of_waves: tuple[int, ...]) -> tuple[Field, ...]:
    """Fields of a set of waves round; no v for the wave 0, which is torsion."""
    return tuple(
        Field(name, wave) for wave in set_of_waves
        for name in ("u", "v", "w") if wave or name != "v"
    )


def grid(wall: Wall6, nodes: Array, waves: tuple[int, ...], turn: float, count: int,
         reverse: bool = False) -> Grid:
    """Strains of every unknown at every point of integration.

    Args:
        wall: the wall.
        nodes: places along, over the radius.
        waves: round.
        turn: integrate over 0..turn round the tube, rad.
        count: points there (midpoint rule: exact for waves that fit it).
        reverse: sine for cosine and minus cosine for sine: the other kind of wave.
    """
    fields = waves_of(waves)
    size = np.diff(nodes)
    s = (_POINTS + 1) / 2
    # Cubic Hermite: value and slope at both ends, (4, points); per element by its size.
    value = np.array([1 - 3 * s**2 + 2 * s**3, s - 2 * s**2 + s**3, 3 * s**2 - 2 * s**3,
                      s**3 - s**2])
    first = np.array([-6 * s + 6 * s**2, 1 - 4 * s + 3 * s**2, 6 * s - 6 * s**2,
                      3 * s**2 - 2 * s])
    second = np.array([-6 + 12 * s, -4 + 6 * s, 6 - 12 * s, 6 * s - 2])
    h = size[:, None, None]
    scale = np.concatenate([np.ones_like(h), h, np.ones_like(h), h], axis=1)
    value, first, second = value * scale, first * scale / h, second * scale / h**2
    t = (np.arange(count) + 0.5) * turn / count
    elements, points = len(size), len(s) * count
    blocks = 4 * len(fields)
    linear = np.zeros((elements, len(s), count, 6, blocks))
    turns = np.zeros((elements, len(s), count, 3, blocks))
    theory = wall.theory
    a, b, c, d = theory.a, theory.b, theory.c, theory.d
    for place, field in enumerate(fields):
        n = field.wave
        cos, sin = np.cos(n * t), np.sin(n * t)
        if reverse:
            cos, sin = np.sin(n * t), -np.cos(n * t)
        for local in range(4):
            column = 2 * (place + (local // 2) * len(fields)) + local % 2
            f0, f1, f2 = (one[:, local, :, None] for one in (value, first, second))
            into = linear[..., column]
            if field.name == "u":
                into[..., 0] = f1 * cos
                into[..., 2] = -n * f0 * sin
                into[..., 5] = d * n * f0 * sin
            elif field.name == "v":
                into[..., 1] = n * f0 * cos
                into[..., 2] = f1 * sin
                into[..., 4] = a * n * f0 * cos
                into[..., 5] = c * f1 * sin
                turns[..., 1, column] = theory.in_plane * f1 * sin
                turns[..., 2, column] = -theory.in_plane * f0 * sin
            else:
                into[..., 1] = f0 * cos
                into[..., 3] = -f2 * cos
                into[..., 4] = (n**2 + b) * f0 * cos
                into[..., 5] = 2 * n * f1 * sin
                turns[..., 0, column] = f1 * cos
                turns[..., 2, column] = -n * f0 * sin
    step = 2 * len(fields)
    rows = step * np.arange(elements)[:, None] + np.arange(2 * step)
    x = nodes[:-1, None] + size[:, None] * s
    shape = (elements, points)
    return Grid(
        nodes, fields, np.repeat(x, count, axis=1).reshape(shape),
        np.broadcast_to(t, (elements, len(s), count)).reshape(shape),
        weights=np.repeat(size[:, None] * _WEIGHTS / 2, count, axis=1).reshape(shape) / count,
        linear=np.ascontiguousarray(np.moveaxis(linear.reshape(*shape, 6, blocks), 2, 1)),
        turns=np.ascontiguousarray(np.moveaxis(turns.reshape(*shape, 3, blocks), 2, 1)), rows=rows,
    )
