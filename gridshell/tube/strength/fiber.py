"""Stress at the extreme fiber of a tube's section: bending and torsion by the distance from the
axis, pressure on the face that it acts on, and the skin that bows between its ribs."""

from __future__ import annotations

import dataclasses

import numpy as np

from gridshell.define.types import Array, Quantity
from gridshell.tube.joints.line_forces import SectionLoads
from gridshell.wall.assess import Wall, found_once
from gridshell.wall.stiffness.smeared import components
from gridshell.wall.stress import WallStress, skin_stress, strain_of, stress_of

_BENT, _TURNED = 0, 2  # which strain the section imposes: axial, or shear


def pressed_outside(wall: Wall) -> Quantity:
    """Largest hoop stress of pressure over p R/t, R of the skin's middle: (outer radius/R)^2.

    2 p b^2/(b^2 - a^2) at the inner face under external pressure on the outer radius b: Lame, in
    Timoshenko, Strength of Materials, thick-walled cylinder. Internal pressure gives less.

    Args:
        wall: one or many.
    """
    return (1 + wall.design.skin.thickness / (2 * wall.grid.radius)) ** 2


@found_once
def _imposed(wall: Wall) -> tuple[tuple[Array, Array], tuple[Array, Array]]:
    """Strain and curvature at the fiber of a unit moment, and of a unit torque, each (..., 3).

    A point at z of the wall strains by (R + z) times the tube's curvature or twist, the other
    strains are free: ribs outside, and the outer face of a thick wall, have more than the middle.
    """
    A, B, D = wall.thin_rib
    radius = np.asarray(wall.grid.radius, float)
    found = []
    for way in (_BENT, _TURNED):
        one, two = (k for k in range(3) if k != way)
        pull_1 = A[..., one, way] * radius + B[..., one, way]
        pull_2 = A[..., two, way] * radius + B[..., two, way]
        # The two free strains by Cramer's rule.
        square = A[..., one, one] * A[..., two, two] - A[..., one, two] ** 2
        let = {
            way: radius,
            one: (A[..., one, two] * pull_2 - A[..., two, two] * pull_1) / square,
            two: (A[..., one, two] * pull_1 - A[..., one, one] * pull_2) / square,
        }
        force, moment = B[..., way, way], D[..., way, way]
        for k, strain in let.items():
            force, moment = force + A[..., way, k] * strain, moment + B[..., way, k] * strain
        # Round the tube bending has the mean of cos^2, torsion all of it.
        whole = np.pi * radius * (1 if way == _BENT else 2) * (force * radius + moment)
        found.append((
            components(*(let[k] / whole for k in range(3))),
            components(*((k == way) / whole for k in range(3)))))
    return found[0], found[1]


def fiber_stress(
    wall: Wall, section: SectionLoads, sign: float, way: float = 1.0
) -> WallStress:
    """Stress at the extreme fiber of a state of the section.

    Axial force, pressure and shear force strain the wall evenly through its depth. Under pressure
    skin between ribs bows: with the share w of its hoop stiffness lost to that it carries
    w p R + (1 - w) of what it carries beside ribs (derived: q = p - N/R bows it by w R N/(q A)).

    Args:
        wall: one or many.
        section: its forces.
        sign: of the bending stress there.
        way: of the shear flow.
    """
    radius, thickness = wall.grid.radius, wall.design.skin.thickness

    def grown(part: Array, by: Quantity) -> Array:
        answer: Array = part * np.asarray(by, float)[..., None]
        return answer

    hoop = -section.pressure * radius * pressed_outside(wall)
    even = components(-section.compression / (2 * np.pi * radius), hoop,
                way * section.shear / (np.pi * radius))
    strain, _ = strain_of(wall, even)
    bent, turned = _imposed(wall)
    moment, torque = sign * section.moment, way * section.torque
    state = stress_of(
        wall, strain + grown(bent[0], moment) + grown(turned[0], torque),
        grown(bent[1], moment) + grown(turned[1], torque))
    bowing = wall.bowing.hoop_loss
    if not np.any(np.asarray(bowing) > 0) or not np.any(np.asarray(section.pressure) != 0):
        return state
    beside = skin_stress(wall, *strain_of(wall, components(0.0, hoop, 0.0)), 0.0)[..., 1]
    more = components(0.0, bowing * (hoop / thickness - beside), 0.0)
    return dataclasses.replace(
        state, skin_rib_side=state.skin_rib_side + more,
        skin_smooth_side=state.skin_smooth_side + more)
