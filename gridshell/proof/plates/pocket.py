"""Buckling of one pocket or one rib as a thin plate: Ritz with polynomials on the true outline.

The plate is a convex polygon; each edge is free, held (no deflection), or clamped, and a held edge
may be restrained by a spring against turning and by a rib that must twist along with it. The
trial functions are a product of edge distances (one power held, two clamped) and all polynomials
up to a degree, so the supports are exact and the buckling load comes from above, to four digits.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from itertools import pairwise

import numpy as np
from numpy.polynomial import chebyshev, polynomial
from numpy.polynomial.legendre import leggauss

from gridshell.define.errors import InputError
from gridshell.define.tables.design import Design
from gridshell.define.types import Array
from gridshell.material.properties import Properties
from gridshell.tube.buckling.local import rib_stress, triangle_stress
from gridshell.wall.geometry.lattice import lattice
from gridshell.wall.geometry.rib_section import rib_section
from gridshell.wall.stiffness.strip import strip_lengths

_POWER = {"free": 0, "held": 1, "clamped": 2}


@dataclass(frozen=True)
class Edge:
    """Support of one edge.

    Attributes:
        support: free, held or clamped.
        spring: moment per length and turn on a held edge, N (N m per m per rad).
        twist: torsion stiffness G J of what must turn with the edge, N m2; for a rib between two
            pockets that buckle up and down in turn, half of it belongs to each.
    """

    support: str = "held"
    spring: float = 0.0
    twist: float = 0.0


HELD, CLAMPED, FREE = Edge("held"), Edge("clamped"), Edge("free")


def critical_factor(
    corners: Sequence[tuple[float, float]],
    edges: Sequence[Edge],
    load: tuple[float, float, float],
    bending: float,
    poisson: float,
    degree: int = 9,
) -> float:
    """Factor on a uniform membrane load at which the plate buckles.

    Args:
        corners: (x, y) of 3 or 4 corners, counterclockwise, m.
        edges: support of the edge that starts at each corner.
        load: compression Nx, Ny and shear Nxy, N/m; compression positive.
        bending: plate stiffness D, N m.
        poisson: Poisson's ratio.
        degree: of the polynomials beside the edge distances.

    Raises:
        InputError: not 3 or 4 corners, or a load that can't buckle the plate.

    >>> side = [(0, 0), (1, 0), (1, 1), (0, 1)]
    >>> k = critical_factor(side, [HELD] * 4, (1, 0, 0), 1.0, 0.3) / np.pi**2
    >>> round(k, 3)  # Timoshenko and Gere, Theory of Elastic Stability, 9.2: k = 4
    4.0
    """
    points = np.asarray(corners, dtype=float)
    if len(points) not in (3, 4) or len(edges) != len(points):
        raise InputError(f"a plate of {len(points)} corners; must have 3 or 4, one edge for each")
    middle = points.mean(axis=0)
    size = float(np.max(np.abs(points - middle)))
    scaled = (points - middle) / size
    trials = _trials(scaled, edges, degree)
    x, y, weight = _quadrature(scaled, degree + 9)

    def at(dx: int, dy: int, px: Array, py: Array) -> Array:
        return np.stack([
            polynomial.polyval2d(px, py, polynomial.polyder(
                polynomial.polyder(c, dx, axis=0), dy, axis=1)) for c in trials
        ])

    xx, yy, xy = at(2, 0, x, y), at(0, 2, x, y), at(1, 1, x, y)
    dx, dy = at(1, 0, x, y), at(0, 1, x, y)
    elastic = (xx * weight) @ xx.T + (yy * weight) @ yy.T
    elastic += poisson * ((xx * weight) @ yy.T + (yy * weight) @ xx.T)
    elastic += 2 * (1 - poisson) * (xy * weight) @ xy.T
    elastic *= bending / size**2
    slide = (dx * weight) @ dy.T
    membrane = load[0] * (dx * weight) @ dx.T + load[1] * (dy * weight) @ dy.T
    membrane += load[2] * (slide + slide.T)
    nodes, weights = leggauss(degree + 9)
    for start, edge in enumerate(edges):
        if not (edge.spring or edge.twist):
            continue
        a, b = scaled[start], scaled[(start + 1) % len(points)]
        length = float(np.linalg.norm(b - a))
        t = (b - a) / length
        n = np.array([t[1], -t[0]])
        px, py = (a + (nodes[:, None] + 1) / 2 * (b - a)).T
        w = weights * length / 2
        turn = n[0] * at(1, 0, px, py) + n[1] * at(0, 1, px, py)
        elastic += edge.spring / size * (turn * w) @ turn.T
        along = (n[0] * t[0] * at(2, 0, px, py) + n[1] * t[1] * at(0, 2, px, py)
                 + (n[0] * t[1] + n[1] * t[0]) * at(1, 1, px, py))
        elastic += edge.twist / size**3 * (along * w) @ along.T
    return _smallest(elastic, membrane)


def _smallest(elastic: Array, membrane: Array) -> float:
    from scipy.linalg import eigh

    # Polynomials far from square to each other: keep the part that rounding leaves independent.
    scale = 1 / np.sqrt(np.diag(elastic))
    values, vectors = eigh(elastic * np.outer(scale, scale))
    kept = values > 1e-12 * values[-1]
    basis = (scale[:, None] * vectors[:, kept]) / np.sqrt(values[kept])
    inverse = eigh(basis.T @ membrane @ basis, eigvals_only=True)
    if not inverse[-1] > 0:
        raise InputError("this load does not compress the plate anywhere; it can't buckle")
    return float(1 / inverse[-1])


def _trials(corners: Array, edges: Sequence[Edge], degree: int) -> list[Array]:
    """Coefficients of x^i y^j of the trial functions."""
    bubble = np.ones((1, 1))
    for start, edge in enumerate(edges):
        a, b = corners[start], corners[(start + 1) % len(corners)]
        normal = np.array([a[1] - b[1], b[0] - a[0]])
        distance = np.array([[-normal @ a, normal[1]], [normal[0], 0.0]])
        for _ in range(_POWER[edge.support]):
            bubble = _times(bubble, distance)
    base = [chebyshev.cheb2poly(np.eye(degree + 1)[k])[: k + 1] for k in range(degree + 1)]
    return [
        _times(bubble, np.outer(base[i], base[j]))
        for i in range(degree + 1) for j in range(degree + 1 - i)
    ]


def _times(a: Array, b: Array) -> Array:
    product = np.zeros((a.shape[0] + b.shape[0] - 1, a.shape[1] + b.shape[1] - 1))
    for (i, j), value in np.ndenumerate(a):
        product[i: i + b.shape[0], j: j + b.shape[1]] += value * b
    return product


def _quadrature(corners: Array, order: int) -> tuple[Array, Array, Array]:
    """Gauss points over the polygon, exact to the degree of the products."""
    nodes, weights = leggauss(order)
    u, v = (grid.ravel() for grid in np.meshgrid((nodes + 1) / 2, (nodes + 1) / 2))
    w = np.outer(weights, weights).ravel() / 4
    parts = []
    for b, c in pairwise(corners[1:]):
        a = corners[0]
        # A square folded to a triangle at a.
        point = a + u[:, None] * (b - a) + (u * v)[:, None] * (c - b)
        area = abs((b - a)[0] * (c - a)[1] - (b - a)[1] * (c - a)[0])
        parts.append((point, w * u * area))
    points = np.concatenate([p for p, _ in parts])
    return points[:, 0], points[:, 1], np.concatenate([q for _, q in parts])


@dataclass(frozen=True)
class LocalMode:
    """One local buckling stress, uniaxial compression along the tube, Pa.

    Attributes:
        name: which plate.
        constant: of the wall and tube formula; None where it has none.
        supported: edges free to turn.
        elastic: edges turned against the ribs' torsion (pocket) or the skin's bending (rib).
        clamped: edges held against turning.
    """

    name: str
    constant: float | None
    supported: float
    elastic: float
    clamped: float


def local_modes(design: Design, properties: Properties) -> tuple[LocalMode, ...]:
    """Pocket and rib of a (scalar) design as plates, beside the constants of the tube's checks.

    Pockets reach to the rib center lines. An edge is shared by two pockets that buckle up and
    down in turn, so half of the rib's torsion stiffness belongs to each; the foot of a rib turns
    against the skin on both sides, whose far edges turn the same way (6 D/w each).

    Raises:
        InputError: no pockets to check.
    """
    grid = lattice(design)
    ribs, skin = design.ribs, float(design.skin.thickness)
    modulus, poisson = float(properties.modulus), float(properties.poisson)
    width, height = float(grid.cell_width), float(grid.cell_height)
    if ribs.pattern == "isogrid" and ribs.orientation == "hoop":
        corners = [(0.0, 0.0), (height, -width / 2), (height, width / 2)]
        altitude, length = height, width
    elif ribs.pattern == "isogrid":
        corners = [(0.0, 0.0), (height, 0.0), (height / 2, width)]
        altitude, length = width, height
    elif ribs.pattern == "orthogrid":
        corners = [(0.0, 0.0), (height, 0.0), (height, width), (0.0, width)]
        altitude, length = min(width, height), height
    elif ribs.pattern == "diagonal":
        corners = [(0.0, 0.0), (height / 2, -width / 2), (height, 0.0), (height / 2, width / 2)]
        length = float(np.hypot(width, height)) / 2
        altitude = width * height / 2 / length
    else:
        raise InputError(
            f"ribs.pattern {ribs.pattern!r} has no pocket of one shape; known: isogrid, "
            "orthogrid, diagonal"
        )
    section = rib_section(ribs.height, ribs.width, ribs.draft, ribs.root_fillet)
    plate = modulus / (12 * (1 - poisson**2))
    shear = modulus / (2 * (1 + poisson))
    torsion = float(strip_lengths(skin, section, ribs.root_fillet).torsion)
    count = len(corners)

    def pocket(edge: Edge) -> float:
        return critical_factor(
            corners, [edge] * count, (skin, 0.0, 0.0), plate * skin**3, poisson)

    breadth, depth = float(section.mean_width), float(section.height)

    def rib(foot: Edge) -> float:
        return critical_factor(
            [(0, 0), (length, 0), (length, depth), (0, depth)], [foot, HELD, FREE, HELD],
            (breadth, 0.0, 0.0), plate * breadth**3, poisson)

    triangular = ribs.pattern == "isogrid"
    foot_spring = 2 * 6 * plate * skin**3 / altitude
    return (
        LocalMode(
            "skin pocket",
            float(triangle_stress(modulus, poisson, skin, altitude)) if triangular else None,
            pocket(HELD), pocket(Edge(twist=shear * torsion / 2)), pocket(CLAMPED),
        ),
        LocalMode(
            "rib", float(rib_stress(modulus, poisson, breadth, depth)),
            rib(HELD), rib(Edge(spring=foot_spring)), rib(CLAMPED),
        ),
    )
