"""Where the wall formula has been held to solid cells, and how far it was off there."""

from __future__ import annotations

import numpy as np

from gridshell.define.types import BoolArray, Quantity

# Ratios over which the closed form has been held to solid cells (gridshell/proof/maps), and the
# largest difference found there in A, B and D, percent of the entry (12 and 66: of sqrt(11 22)).
MAPPED = {
    "rib width / node distance": (0.02, 0.16),
    "rib height / rib width": (0.3, 7.0),
    "rib height / node distance": (0.0, 0.35),
    "skin thickness / rib width": (0.25, 2.0),
    "corner radius / rib width": (0.0, 2.1),
    "root fillet / rib width": (0.0, 0.5),
    "Poisson's ratio": (0.2, 0.48),
}
FOUND = {
    "isogrid": (1.2, 4.0, 1.6), "orthogrid": (1.0, 2.5, 2.0), "diagonal": (1.0, 4.0, 2.6),
}

WITHIN = "A within"  # how the note of a wall inside the map begins

# Sine of the crossing angle of diagonal ribs above which the map holds (solved at 90 deg); cells
# at 70 and 50 deg were 5 and 9 % low in B and 2 and 6 % in D, in that direction.
SQUARE_ENOUGH = 0.98


def outside_map(
    pattern: str, thickness: Quantity, width: Quantity, height: Quantity, root_fillet: Quantity,
    corner_radius: Quantity, poisson: Quantity, node_distance: Quantity,
    crossing: Quantity | None = None,
) -> BoolArray:
    """Whether each wall lies outside of what the closed form was held to; see `range_notes`.

    >>> bool(outside_map("isogrid", 1.6e-3, 2.4e-3, 5e-3, 0.8e-3, 2e-3, 0.33, 26e-3))
    False
    """
    if pattern not in FOUND:
        return np.ones(np.shape(thickness), bool)
    out: BoolArray = np.zeros(np.shape(thickness), bool)
    for name, ratio in _ratios(
        thickness, width, height, root_fillet, corner_radius, poisson, node_distance
    ).items():
        out = out | _beyond(name, ratio)
    return out if crossing is None else out | (np.sin(crossing) < SQUARE_ENOUGH)


def _beyond(name: str, ratio: Quantity) -> BoolArray:
    """Whether a ratio lies outside of the map; the ends belong to it."""
    low, high = MAPPED[name]
    return np.asarray((ratio < low * (1 - 1e-9)) | (ratio > high * (1 + 1e-9)))


def _ratios(
    thickness: Quantity, width: Quantity, height: Quantity, root_fillet: Quantity,
    corner_radius: Quantity, poisson: Quantity, node_distance: Quantity,
) -> dict[str, Quantity]:
    return {
        "rib width / node distance": width / node_distance,
        "rib height / rib width": height / width,
        "rib height / node distance": height / node_distance,
        "skin thickness / rib width": thickness / width,
        "corner radius / rib width": corner_radius / width,
        "root fillet / rib width": root_fillet / width,
        "Poisson's ratio": poisson,
    }


def range_notes(
    pattern: str, thickness: Quantity, width: Quantity, height: Quantity, root_fillet: Quantity,
    corner_radius: Quantity, poisson: Quantity, node_distance: Quantity,
    crossing: Quantity | None = None,
) -> tuple[str, ...]:
    """How far the closed form may be trusted for a wall (for arrays: for all of them).

    Args:
        width: of the ribs at the tip, m. node_distance: shortest along a rib, m.
        crossing: diagonal only; angle between the two families, rad. Others as in
            `gridshell.wall.stiffness.finite_width.corrections`.
    Returns:
        One line on the difference found against solid cells, or one for each ratio outside.

    >>> range_notes("isogrid", 1.6e-3, 2.4e-3, 5e-3, 0.8e-3, 2e-3, 0.33, 26e-3)
    ('A within 1.2 %, B within 4 %, D within 1.6 % of solid cells',)
    >>> range_notes("isogrid", 1.6e-3, 2.4e-3, 20e-3, 0.0, 0.0, 0.33, 80e-3)
    ('rib height / rib width 8.33 is outside 0.3 to 7, where the formula was held to solid cells',)
    """
    if pattern not in FOUND:
        return (
            "no node terms for this pattern: stiffness on the low side; mass by shares, 2 % low to "
            "5 % high for most, without the pockets too small to cast",)
    ratios = _ratios(
        thickness, width, height, root_fillet, corner_radius, poisson, node_distance)
    outside = []
    for name, ratio in ratios.items():
        low, high = MAPPED[name]
        values = np.ravel(np.asarray(ratio, dtype=float))
        out = values[_beyond(name, values)]
        if out.size:
            outside.append(
                f"{name} {out[np.argmax(np.abs(np.log(np.maximum(out, 1e-9) / high)))]:.3g} is "
                f"outside {low:g} to {high:g}, where the formula was held to solid cells"
            )
    if crossing is not None and np.any(np.sin(crossing) < SQUARE_ENOUGH):
        angle = np.degrees(np.min(np.arcsin(np.sin(crossing))))
        outside.append(
            f"ribs cross at {angle:.0f} deg, far from square: B and D in the direction they lie "
            "across are up to 10 % low (safe side)"
        )
    if outside:
        return tuple(outside)
    a, b, d = FOUND[pattern]
    return (f"{WITHIN} {a:g} %, B within {b:g} %, D within {d:g} % of solid cells",)
