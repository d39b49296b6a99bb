"""One flat facet of a tube: the matrices of pyfe3d's four-node shell element.

pyfe3d is a general-purpose finite-element library whose shell elements take full A, B, D
matrices. Every facet of an even mesh of a tube is the same rectangle, so one element is enough.
The library's geometric stiffness holds the slopes of the deflection normal to the element alone.
The slopes of the in-plane displacements (without them a column would carry twice its load) and the
turning of a pressure with the wall are added here, on the same bilinear shape functions.
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import Any

import numpy as np

from gridshell.define.types import Array
from gridshell.proof.cell.homogenize import MissingPackage

_CORNERS = np.array([[-1, -1], [1, -1], [1, 1], [-1, 1]])
_GAUSS = 1 / np.sqrt(3.0)


def shell_library() -> Any:
    """The pyfe3d package.

    Raises:
        MissingPackage: it is not installed; the message says how to add it.
    """
    try:
        import pyfe3d
    except ImportError:
        raise MissingPackage(
            "the shell model needs the optional package pyfe3d; install it with pip install "
            "'gridshell[proof]'"
        ) from None
    return pyfe3d


@dataclass(frozen=True)
class Facet:
    """Matrices of one facet, (24, 24).

    Unknowns are (u, v, w, rotations about the three) at the corners (0, 0), (a, 0), (a, c),
    (0, c); u axial, v hoop, w outward, in the frame of the cylinder at each corner.

    Attributes:
        stiffness: N/m and its like.
        mass: kg and its like.
        axial: geometric stiffness of unit axial force, for N/m of tension.
        hoop: of unit hoop force.
        shear: of unit shear flow.
        pressure: second variation of the enclosed volume, for Pa of pressure inside.
    """

    stiffness: Array
    mass: Array
    axial: Array
    hoop: Array
    shear: Array
    pressure: Array


def facet(
    wall: tuple[Array, Array, Array], shear: tuple[float, float], areal_mass: float,
    radius: float, sides: tuple[float, float],
) -> Facet:
    """Matrices of a facet whose corners lie on the cylinder.

    Args:
        wall: A, B, D, each (3, 3), N/m, N, N m; z outward.
        shear: transverse shear stiffness along and round the tube, N/m.
        areal_mass: kg/m2.
        radius: of the reference surface, m.
        sides: length along the tube, m, and angle round it, rad.

    Raises:
        MissingPackage: pyfe3d is not installed.
    """
    library = shell_library()
    long, turn = sides
    wide, high = 2 * radius * np.sin(turn / 2), radius * np.cos(turn / 2)
    # Axial, hoop, outward: right-handed, and the element's own frame.
    places = np.array([
        [(1 + p) / 2 * long, q * wide / 2, high] for p, q in _CORNERS
    ])
    element, data = library.Quad4(library.Quad4Probe()), library.Quad4Data()
    for number, name in enumerate(("c1", "c2", "c3", "c4")):
        setattr(element, name, 6 * number)
    for name in ("init_k_KC0", "init_k_KG", "init_k_M"):
        setattr(element, name, 0)
    flat = places.ravel()
    element.update_rotation_matrix(flat, 1.0, 0.0, 0.0)
    element.update_probe_xe(flat)
    section = _section(wall, shear, areal_mass)

    def matrix(size: int, update: Any, *given: Any) -> Array:
        rows, columns = np.zeros(size, library.INT), np.zeros(size, library.INT)
        values = np.zeros(size, library.DOUBLE)
        update(*given[:3], rows, columns, values, *given[3:])
        whole = np.zeros((24, 24))
        np.add.at(whole, (rows, columns), values)
        return whole

    k_size, g_size, m_size = (
        data.KC0_SPARSE_SIZE, data.KG_SPARSE_SIZE, data.M_SPARSE_SIZE)

    def load(*force: float) -> Array:
        normal = matrix(g_size, element.update_KG_given_stress, *force)
        return normal + _in_plane(long, wide, force)

    found = (
        matrix(k_size, lambda r, c, v: element.update_KC0(r, c, v, section)),
        matrix(m_size, lambda r, c, v: element.update_M(r, c, v, section)),
        load(1.0, 0.0, 0.0), load(0.0, 1.0, 0.0), load(0.0, 0.0, 1.0), _volume(places),
    )
    turned = _to_cylinder(turn)
    return Facet(*(turned.T @ part @ turned for part in found))


def _section(
    wall: tuple[Array, Array, Array], shear: tuple[float, float], areal_mass: float
) -> Any:
    from pyfe3d.shellprop import ShellProp

    section = ShellProp()
    for name, stiffness in zip("ABD", wall, strict=True):
        for entry, (i, j) in {"11": (0, 0), "12": (0, 1), "16": (0, 2), "22": (1, 1),
                              "26": (1, 2), "66": (2, 2)}.items():
            setattr(section, name + entry, float(stiffness[i, j]))
    section.A55, section.A44, section.A45 = float(shear[0]), float(shear[1]), 0.0
    A, D = wall[0], wall[2]
    # Read for the scale of the element's stabilization only.
    section.h = float(np.sqrt(12 * D[0, 0] / A[0, 0]))
    section.intrho = areal_mass
    return section


def _slopes(long: float, wide: float) -> list[tuple[Array, Array, float]]:
    """Slopes of the four shape functions along and round, and weight, at four Gauss points."""
    found = []
    for p in (-_GAUSS, _GAUSS):
        for q in (-_GAUSS, _GAUSS):
            along = _CORNERS[:, 0] * (1 + _CORNERS[:, 1] * q) / 4 * 2 / long
            around = _CORNERS[:, 1] * (1 + _CORNERS[:, 0] * p) / 4 * 2 / wide
            found.append((along, around, long * wide / 4))
    return found


def _in_plane(long: float, wide: float, force: tuple[float, ...]) -> Array:
    """Geometric stiffness of the slopes of u and v (Green's strain)."""
    found = np.zeros((24, 24))
    for along, around, weight in _slopes(long, wide):
        mixed = np.outer(along, around)
        part = weight * (force[0] * np.outer(along, along) + force[1] * np.outer(around, around)
                         + force[2] * (mixed + mixed.T))
        for way in (0, 1):
            found[way::6, way::6] += part
    return found


def strain_at_center(radius: float, sides: tuple[float, float]) -> Array:
    """Strains and curvatures (x, t, xt) in the middle of a facet from its unknowns, (6, 24).

    Args:
        radius: of the reference surface, m.
        sides: as of `facet`.
    """
    long, wide = sides[0], 2 * radius * np.sin(sides[1] / 2)
    along, around = _CORNERS[:, 0] / (2 * long), _CORNERS[:, 1] / (2 * wide)
    found = np.zeros((6, 4, 6))
    found[0, :, 0], found[1, :, 1] = along, around
    found[2, :, 0], found[2, :, 1] = around, along
    # A point at z moves by z times the rotation about y along, and less z times that about x round.
    found[3, :, 4], found[4, :, 3] = along, -around
    found[5, :, 4], found[5, :, 3] = around, -along
    strain: Array = found.reshape(6, 24) @ _to_cylinder(sides[1])
    return strain


def work_at_center(radius: float, sides: tuple[float, float]) -> Array:
    """Geometric stiffness of unit axial force, hoop force and shear flow, (3, 24, 24).

    One point in the middle, on the slopes of u, v and w: corners that move to and fro in turn do no
    work there. In a mesh that is solved whole such motions, which the element hardly resists,
    would buckle first.

    Args:
        radius: of the reference surface, m.
        sides: as of `facet`.
    """
    long, wide = sides[0], 2 * radius * np.sin(sides[1] / 2)
    along, around = _CORNERS[:, 0] / (2 * long), _CORNERS[:, 1] / (2 * wide)
    turned, found = _to_cylinder(sides[1]), np.zeros((3, 24, 24))
    mixed = np.outer(along, around)
    for number, part in enumerate(
        (np.outer(along, along), np.outer(around, around), mixed + mixed.T)
    ):
        for way in (0, 1, 2):
            found[number, way::6, way::6] = long * wide * part
        found[number] = turned.T @ found[number] @ turned
    return found


def _volume(places: Array) -> Array:
    """Second variation of the volume under the facet, half the flux of (0, y, z) through it.

    The volume is cubic in the places of the corners, so that central differences are exact.
    """
    step = float(np.abs(places).max())

    def volume(moved: Array) -> float:
        total = 0.0
        for p in (-_GAUSS, _GAUSS):
            for q in (-_GAUSS, _GAUSS):
                value = (1 + _CORNERS[:, 0] * p) * (1 + _CORNERS[:, 1] * q) / 4
                along = _CORNERS[:, 0] * (1 + _CORNERS[:, 1] * q) / 4
                around = _CORNERS[:, 1] * (1 + _CORNERS[:, 0] * p) / 4
                normal = np.cross(along @ moved, around @ moved)
                total += float((value @ moved)[1:] @ normal[1:]) / 2
        return total

    found = np.zeros((24, 24))
    for i in range(12):
        for j in range(12):
            value = 0.0
            for first, second in ((1, 1), (1, -1), (-1, 1), (-1, -1)):
                moved = places.copy()
                moved[i // 3, i % 3] += first * step
                moved[j // 3, j % 3] += second * step
                value += first * second * volume(moved)
            found[6 * (i // 3) + i % 3, 6 * (j // 3) + j % 3] = value / (4 * step**2)
    return -found  # pressure inside does the work p times the change of volume


def _to_cylinder(turn: float) -> Array:
    """Unknowns of the facet from those in the frame of the cylinder at each corner, (24, 24)."""
    whole = np.zeros((24, 24))
    for number, (_, side) in enumerate(_CORNERS):
        angle = side * turn / 2
        c, s = np.cos(angle), np.sin(angle)
        frame = np.array([[1, 0, 0], [0, c, s], [0, -s, c]])  # columns: axial, hoop, outward
        for first in (6 * number, 6 * number + 3):
            whole[first:first + 3, first:first + 3] = frame
    return whole
