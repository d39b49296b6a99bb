"""Normal force of a slender body with fins at a small angle of attack.

Source of the method: Barrowman, J. S., The Practical Calculation of the Aerodynamic
Characteristics of Slender Finned Vehicles, thesis, Catholic University of America, 1967.
Slopes are per radian, referred to an area the caller names.
"""

from __future__ import annotations

import numpy as np

from gridshell.define.types import Array, Quantity

SMALL_ANGLE = np.radians(10.0)  # the method's own limit: angles near zero
HIGHEST_MACH = 0.8  # subsonic fin theory; near Mach 1 it has no meaning


def shape_radius(shape: str, along: Quantity, fore: float, aft: float, length: float) -> Array:
    """Outside radius of a nose, transition or cylinder at the fraction ``along`` of its length.

    >>> shape_radius("ogive", np.array([0.0, 1.0]), 0.0, 0.05, 0.2).round(12)
    array([0.  , 0.05])

    Args:
        shape: cylinder, cone, ogive (tangent), parabola (tangent at its base) or transition
            (conical).
        along: fraction of the length, 0 at the fore end and 1 at the aft end.
        fore: radius of the fore end, m.
        aft: radius of the aft end, m.
        length: m.
    """
    x = np.asarray(along, dtype=float)
    if shape == "cylinder":
        return np.full(x.shape, aft)
    if shape in ("cone", "transition"):
        return fore + (aft - fore) * x
    if shape == "parabola":
        return aft * (2 * x - x**2)
    if shape == "ogive":
        rho = (aft**2 + length**2) / (2 * aft)
        return np.sqrt(rho**2 - (length * (1 - x)) ** 2) + aft - rho
    raise ValueError(f"unknown shape {shape!r}")


def fin_interference(body_radius: Quantity, span: Quantity, count: Quantity) -> Quantity:
    """Factor on the fins for the body between them, 1 + R/(S + R); half that gain for six fins.

    Source: Barrowman (1967) for three and four fins; six fins from his shorter paper of 1966
    (from memory); five are taken like four.

    >>> round(float(fin_interference(1.0, 1.0, 4)), 3)
    1.5

    Args:
        body_radius: m.
        span: of one fin from the body's surface, m.
        count: of fins.
    """
    gain = body_radius / (np.asarray(span, dtype=float) + body_radius)
    return 1 + np.where(np.asarray(count) >= 6, 0.5, 1.0) * gain


def fin_slope(
    *, count: Quantity, root_chord: Quantity, tip_chord: Quantity, span: Quantity,
    sweep: Quantity, body_radius: Quantity, reference_area: Quantity, mach: Quantity = 0.0,
) -> Quantity:
    """Slope of the normal force coefficient of a set of fins with the body between them.

    One fin has 2 pi AR (A_f/A_ref)/(2 + sqrt(4 + (beta AR/cos Gamma)^2)) with AR = 2 S^2/A_f,
    beta = sqrt(1 - M^2) and Gamma the sweep of the mid-chord line; N >= 3 fins act as N/2 in any
    direction. Source: Barrowman (1967), fin section (Diederich's relation). Lengths in m.

    The published short form 4 N (S/d)^2/(1 + sqrt(1 + (2 l/(C_R + C_T))^2)) is the same at low
    speed; three unswept square fins of one caliber on a body:

    >>> slope = fin_slope(count=3, root_chord=1.0, tip_chord=1.0, span=1.0, sweep=0.0,
    ...                   body_radius=0.5, reference_area=np.pi/4)
    >>> round(float(slope), 4), round((1 + 0.5/1.5)*12/(1 + 2**0.5), 4)
    (6.6274, 6.6274)

    Args:
        count: of fins.
        root_chord: m.
        tip_chord: m.
        span: of one fin from the body's surface, m.
        sweep: of the leading edge from root to tip, m.
        body_radius: m.
        reference_area: m2.
        mach: Mach number.
    """
    area = (root_chord + np.asarray(tip_chord, dtype=float)) * span / 2
    aspect = 2 * np.asarray(span, dtype=float) ** 2 / area
    back = sweep + (np.asarray(tip_chord, dtype=float) - root_chord) / 2  # of the mid-chord line
    cosine = span / np.hypot(span, back)
    beta = np.sqrt(1 - np.minimum(mach, HIGHEST_MACH) ** 2)
    one = 2 * np.pi * aspect * (area / reference_area) / (
        2 + np.sqrt(4 + (beta * aspect / cosine) ** 2)
    )
    return np.asarray(count) / 2 * one * fin_interference(body_radius, span, count)


def fin_center(root_chord: Quantity, tip_chord: Quantity, sweep: Quantity) -> Quantity:
    """Center of pressure of a fin aft of its root's leading edge (quarter of the mean chord).

    X/3 (C_R + 2 C_T)/(C_R + C_T) + (C_R + C_T - C_R C_T/(C_R + C_T))/6.
    Source: Barrowman (1967). A rectangular fin has the quarter chord:

    >>> fin_center(1.0, 1.0, 0.0)
    0.25

    Args:
        root_chord: m.
        tip_chord: m.
        sweep: of the leading edge from root to tip, m.
    """
    total = root_chord + tip_chord
    return sweep / 3 * (root_chord + 2 * tip_chord) / total + (
        total - root_chord * tip_chord / total
    ) / 6
