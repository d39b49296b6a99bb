"""Stress recovery: from forces and moments in the wall to stress in the skin and in each rib."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from gridshell.define.types import Array, Quantity
from gridshell.wall.assess import Wall, found_once
from gridshell.wall.stiffness.smeared import components, entries_of, solved_3


@dataclass(frozen=True)
class RibStress:
    """Axial stress of one rib family, Pa (tension positive).

    Attributes:
        name: of the family.
        root: at the skin's surface. tip: at the rib's free edge.
    """

    name: str
    root: Quantity
    tip: Quantity


@dataclass(frozen=True)
class WallStress:
    """Stress in a wall, Pa (tension positive).

    Attributes:
        skin_rib_side: axial, hoop and shear stress at the face the ribs stand on, (..., 3).
        skin_smooth_side: the same at the other face, (..., 3).
        skin_middle: the same at the skin's middle surface, (..., 3).
        ribs: of each family.
    """

    skin_rib_side: Array
    skin_smooth_side: Array
    skin_middle: Array
    ribs: tuple[RibStress, ...]


def strain_of(wall: Wall, forces: Array, moments: Array | None = None) -> tuple[Array, Array]:
    """Strain and curvature of the middle surface under forces and moments.

    By the thin-rib stiffness, whose skin and bars carry exactly these forces: what fat ribs add
    lies in places (nodes, fillets) whose stress is not recovered, and may not be counted on.

    Args:
        wall: one or many.
        forces: N (..., 3): axial, hoop, shear, N/m, tension positive.
        moments: M (..., 3), N m/m. None: the tube keeps the wall from bending (curvature zero),
            as it does away from its ends.
    Returns:
        strain (..., 3), curvature (..., 3) in 1/m.
    """
    A, B, D = wall.thin_rib
    if moments is None:
        strain = components(*solved_3(*entries_of(A), *(forces[..., i] for i in range(3))))
        return strain, np.zeros(strain.shape)
    top = np.concatenate([A, B], axis=-1)
    bottom = np.concatenate([B, D], axis=-1)
    whole = np.concatenate([top, bottom], axis=-2)
    given = np.concatenate(np.broadcast_arrays(forces, moments), axis=-1)
    answer = np.linalg.solve(whole, given[..., None])[..., 0]
    return answer[..., :3], answer[..., 3:]


def stress_of(wall: Wall, strain: Array, curvature: Array) -> WallStress:
    """Stress in the skin's faces and along each rib under a strain and curvature.

    Plane stress in the skin, uniaxial stress E e in the ribs, with e = (c^2, s^2, c s).(strain +
    z curvature): the assumptions of the smeared method.
    """
    modulus = np.asarray(wall.properties.modulus)
    half = np.asarray(wall.design.skin.thickness / 2)
    ribs = []
    for line, section in zip(wall.grid.families, wall.sections, strict=True):
        pull = (line.cosine**2, line.sine**2, line.cosine * line.sine)

        def along(z: Quantity, pull: tuple[Quantity, ...] = pull) -> Quantity:
            return modulus * sum(
                pull[i] * (strain[..., i] + z * curvature[..., i]) for i in range(3))

        ribs.append(RibStress(
            line.name, along(wall.side * half), along(wall.side * (half + section.height))
        ))
    rib_side, smooth, middle = (
        skin_stress(wall, strain, curvature, z)
        for z in (wall.side * half, -wall.side * half, 0.0 * half)
    )
    return WallStress(rib_side, smooth, middle, tuple(ribs))


def skin_stress(wall: Wall, strain: Array, curvature: Array, z: Quantity) -> Array:
    """Axial, hoop and shear stress of the skin at a height from its middle, Pa (..., 3).

    Args:
        wall: one or many.
        strain: (..., 3), of the middle.
        curvature: (..., 3), 1/m.
        z: m.
    """
    poisson = np.asarray(wall.properties.poisson)
    plane = wall.properties.modulus / (1 - poisson**2)
    axial, hoop, shear = (strain[..., i] + z * curvature[..., i] for i in range(3))
    return components(
        plane * (axial + poisson * hoop), plane * (hoop + poisson * axial),
        plane * (1 - poisson) / 2 * shear)


@found_once
def skin_per_force(wall: Wall, way: int) -> Array:
    """Axial, hoop and shear stress of the skin's middle for each N/m of a line force, (..., 3).

    Args:
        wall: one or many.
        way: 0 axial, 1 hoop, 2 shear.
    """
    return skin_stress(wall, *strain_of(wall, np.eye(3)[way]), 0.0)


def von_mises(stress: Array) -> Quantity:
    """Equivalent stress of plane stress (..., 3), Pa: sqrt(sx^2 - sx sy + sy^2 + 3 t^2)."""
    x, y, shear = stress[..., 0], stress[..., 1], stress[..., 2]
    return np.sqrt(x**2 - x * y + y**2 + 3 * shear**2)


def principal(stress: Array) -> tuple[Quantity, Quantity]:
    """Larger and smaller principal stress of plane stress (..., 3), Pa (Mohr's circle)."""
    x, y, shear = stress[..., 0], stress[..., 1], stress[..., 2]
    center, reach = (x + y) / 2, np.hypot((x - y) / 2, shear)
    return center + reach, center - reach
