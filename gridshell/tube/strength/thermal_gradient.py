"""Stress in the wall while its outer face is warmer or colder than its inner one."""

from __future__ import annotations

import numpy as np

from gridshell.define.types import Array, Quantity
from gridshell.wall.assess import Wall
from gridshell.wall.stiffness.smeared import components
from gridshell.wall.stress import RibStress, WallStress, stress_of


def gradient_stress(wall: Wall, difference: Quantity, expansion: Quantity) -> WallStress:
    """Stress of skin and ribs under a temperature that rises linearly from inside to outside.

    The closed tube keeps the wall from bending and lets it stretch: the strain is that at which the
    mean forces vanish, and each layer has E (strain - expansion T(z)) of it. A plain wall has
    E alpha dT/(2 (1 - v)) at its faces (Timoshenko and Goodier, Theory of Elasticity, thin tube).

    Args:
        wall: one or many.
        difference: temperature of the outer face less that of the inner one, K.
        expansion: linear expansion coefficient, 1/K.
    """
    known, skin = wall.properties, wall.design.skin.thickness
    half = skin / 2
    per_depth = expansion * difference / wall.depth  # free strain per height z
    plane = known.modulus / (1 - known.poisson)
    # Free strain is 0 at the skin's middle surface, so only the ribs push.
    shape = np.shape(per_depth + wall.grid.radius)
    push: Array = np.zeros((*shape, 3))
    for line, section, offset in zip(wall.grid.families, wall.sections, wall.offsets, strict=True):
        force = known.modulus * section.area / line.pitch * per_depth * offset
        push = push + components(*(force * turn for turn in (
            line.cosine**2, line.sine**2, line.cosine * line.sine)))
    strain: Array = np.asarray(np.linalg.solve(wall.thin_rib[0], push[..., None])[..., 0])
    state = stress_of(wall, strain, np.zeros(strain.shape))

    def free(z: Quantity, stiffness: Quantity) -> Array:
        return np.asarray(stiffness * per_depth * z, float)

    def skin_less(stress: Array, z: Quantity) -> Array:
        answer: Array = stress - free(z, plane)[..., None] * np.array([1.0, 1.0, 0.0])
        return answer

    side = wall.side
    return WallStress(
        skin_less(state.skin_rib_side, side * half),
        skin_less(state.skin_smooth_side, -side * half),
        state.skin_middle,
        tuple(
            RibStress(ribs.name, ribs.root - free(side * half, known.modulus),
                      ribs.tip - free(side * (half + section.height), known.modulus))
            for ribs, section in zip(state.ribs, wall.sections, strict=True)
        ),
    )


def with_gradient(load: WallStress, gradient: WallStress) -> WallStress:
    """Stress of a load and of a temperature difference together.

    Args:
        load: of the load.
        gradient: of the temperature difference.
    """
    return WallStress(
        load.skin_rib_side + gradient.skin_rib_side,
        load.skin_smooth_side + gradient.skin_smooth_side,
        load.skin_middle + gradient.skin_middle,
        tuple(RibStress(one.name, one.root + two.root, one.tip + two.tip)
              for one, two in zip(load.ribs, gradient.ribs, strict=True)),
    )
