"""Stress beside holes in a flat wall, by published theory, and beside a hole with a ring land."""

from __future__ import annotations

from dataclasses import dataclass, replace

import numpy as np

from gridshell.define.types import Quantity


def hole_edge_stress(
    axial: Quantity, hoop: Quantity, shear: Quantity, around: Quantity
) -> Quantity:
    """Stress along the edge of a round hole, Pa.

    (sx + sy) - 2 (sx - sy) cos 2a - 4 txy sin 2a. Kirsch (1898): 3 in tension at 90 deg and -1 at
    0 deg, 2 under equal pulls, 4 in pure shear.

    >>> [float(hole_edge_stress(1.0, 0.0, 0.0, a).round(9)) for a in (np.pi/2, 0.0)]
    [3.0, -1.0]
    >>> float(hole_edge_stress(1.0, 1.0, 0.0, 0.3)), float(abs(hole_edge_stress(0, 0, 1, -np.pi/4)))
    (2.0, 4.0)

    Args:
        axial: far axial stress, Pa.
        hoop: far hoop stress, Pa.
        shear: far shear stress, Pa.
        around: angle of the place on the edge from the axis, rad.
    """
    a = np.asarray(around, dtype=float)
    answer: Quantity = (
        axial + hoop - 2 * (np.asarray(axial) - hoop) * np.cos(2 * a) - 4 * shear * np.sin(2 * a))
    return answer


def ellipse_factor(across: Quantity, along: Quantity) -> Quantity:
    """Peak over far stress of an elliptical hole, 1 + 2 across/along. Inglis (1913).

    >>> ellipse_factor(2.0, 1.0)
    5.0

    Args:
        across: its size square to the pull, m.
        along: its size in line with the pull, m.
    """
    return 1 + 2 * across / along


@dataclass(frozen=True)
class RingLand:
    """A round hole in a sheet, with a ring of another thickness round it.

    Attributes:
        radius: of the hole, m.
        width: of the ring, m.
        sheet: thickness of the sheet, m.
        thickness: of the ring, m.
        poisson: of the material, the same in both.
    """

    radius: Quantity
    width: Quantity
    sheet: Quantity
    thickness: Quantity
    poisson: Quantity = 1 / 3


def land_stress(land: RingLand, axial: Quantity, hoop: Quantity) -> tuple[Quantity, Quantity]:
    """Largest stress at the edge of a round hole with a ring land, and beside the land.

    Exact plane-stress solution of a ring (thickness of the land) in an endless sheet, both of one
    material: Airy functions for the even part and the cos 2a part of the load, tied by force and
    displacement at the land's outer edge. Derived; equal thickness is Kirsch's hole:

    >>> edge, _ = land_stress(RingLand(0.01, 0.005, 1e-3, 1e-3), 1.0, 0.0)
    >>> round(float(edge), 9)
    3.0

    The land is taken as symmetric about the skin's middle; a one-sided land bends and gains less.

    Args:
        land: the hole and its land.
        axial: far axial stress in the sheet, Pa.
        hoop: far hoop stress in the sheet, Pa.
    Returns:
        Largest magnitude round the hole's edge, and the largest hoop or radial stress in the sheet
        at the land's outer edge, Pa.
    """
    a = np.asarray(land.radius, dtype=float)
    b = a + land.width
    ratio = np.asarray(land.thickness, dtype=float) / land.sheet  # ring over sheet
    nu = np.asarray(land.poisson, dtype=float)
    even = (np.asarray(axial, dtype=float) + hoop) / 2
    odd = (np.asarray(axial, dtype=float) - hoop) / 2
    s = a / b  # lengths over b from here on
    # Even part: ring s_r = A + B/r^2, sheet s_r = even + C/r^2; unknowns A, B, C.
    # Radial displacement of A + B/r^2 (plane stress): E u = A (1 - v) r - B (1 + v)/r.
    one, none = np.ones(np.broadcast(s, ratio, nu).shape), np.zeros(
        np.broadcast(s, ratio, nu).shape)
    matrix = np.stack([
        np.stack([one, 1 / s**2 * one, none], -1),
        np.stack([ratio * one, ratio * one, -one], -1),
        np.stack([(1 - nu) * one, -(1 + nu) * one, (1 + nu) * one], -1),
    ], -2)
    right = np.stack([none, one, (1 - nu) * one], -1)
    A, B, C = np.moveaxis(np.linalg.solve(matrix, right[..., None])[..., 0], -1, 0)
    edge_even, out_even = A - B / s**2, np.stack([1 + C, 1 - C])
    # cos 2a part. Ring: F = (P r^2 + Q r^4 + R/r^2 + S) cos 2a, sheet: far -r^2/2, R', S'.
    # s_r = -(2P + 6R/r^4 + 4S/r^2), s_t = 2P + 12 Q r^2 + 6R/r^4, t = 2P + 6Q r^2 - 6R/r^4 - 2S/r^2
    # E u_r = -2P(1+v) r - 4 v Q r^3 + 2R(1+v)/r^3 + 4S/r
    # E u_t = 2P(1+v) r + (6 + 2v) Q r^3 + 2R(1+v)/r^3 - 2S(1-v)/r
    p = 1 + nu
    rows = [
        [2 * one, none, 6 / s**4, 4 / s**2, none, none],
        [2 * one, 6 * s**2, -6 / s**4, -2 / s**2, none, none],
        [-2 * ratio, none, -6 * ratio, -4 * ratio, 6 * one, 4 * one],
        [2 * ratio, 6 * ratio, -6 * ratio, -2 * ratio, 6 * one, 2 * one],
        [-2 * p, -4 * nu, 2 * p, 4 * one, -2 * p, -4 * one],
        [2 * p, 6 + 2 * nu, 2 * p, -2 * (1 - nu), -2 * p, 2 * (1 - nu)],
    ]
    matrix = np.stack([np.stack([entry * one for entry in row], -1) for row in rows], -2)
    right = np.stack([none, none, one, -one, p * one, -p * one], -1)  # far field P = -1/2
    P, Q, R, _, R2, S2 = np.moveaxis(np.linalg.solve(matrix, right[..., None])[..., 0], -1, 0)
    edge_odd = 2 * P + 12 * Q * s**2 + 6 * R / s**4
    edge = np.maximum(np.abs(even * edge_even + odd * edge_odd),
                      np.abs(even * edge_even - odd * edge_odd))
    out_odd = np.stack([1 - 6 * R2 - 4 * S2, -1 + 6 * R2])
    beside = np.max([np.abs(even * out_even + sign * odd * out_odd) for sign in (1, -1)],
                    axis=(0, 1))
    return edge, beside


def land_needed(
    land: RingLand, stress: float, allowable: float, most: float = 10.0
) -> tuple[float | None, str]:
    """Thinnest land that brings both stresses of `land_stress` under an allowable.

    Args:
        land: the hole and the width of its land; its thickness is what is looked for.
        stress: far axial stress, Pa.
        allowable: design factor included, Pa.
        most: thickest land tried, over the sheet's thickness.
    Returns:
        That thickness (m) and a remark, or None and why no land of this width does it.
    """
    tried = land.sheet * np.linspace(1.0, most, 400)
    edge, beside = land_stress(replace(land, thickness=tried), stress, 0.0)
    good = np.asarray((edge <= allowable) & (beside <= allowable))
    if not good.any():
        least = float(np.maximum(edge, beside).min())
        return None, (
            f"no land {land.width * 1e3:g} mm wide does it: the least stress is "
            f"{least / 1e6:.3g} MPa of {allowable / 1e6:.3g} MPa; widen the land, thicken the "
            "wall or shrink the hole"
        )
    first = int(np.argmax(good))
    return float(tried[first]), (
        "the plain wall is enough" if first == 0 else f"{tried[first] / land.sheet:.2f} times the "
        "wall's thickness"
    )
