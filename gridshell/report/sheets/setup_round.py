"""Set-ups of the mold of a tube without a seam: two cavity halves, a turned arbor and its cap."""

from __future__ import annotations

import math

from gridshell.mold.pieces.cores.inserts import carried_wall
from gridshell.mold.pieces.cores.round_mold import (
    ARBOR,
    CAP,
    LOWER,
    UPPER,
    arbor_radii,
    arbor_tapping,
    cap_bore,
    pilot_radius,
)
from gridshell.mold.pieces.features.hole_table import Feature, length
from gridshell.mold.pieces.mold_set import MoldSet

ALLOWANCE = 2.0  # mm of stock on every side (common practice)

Entries = list[tuple[str, list[str], bool]]
"""Title of a block, its entries, whether they are numbered."""


def round_blocks(molds: MoldSet, rows: list[Feature], inch: bool) -> Entries:
    """Stock and set-ups of halves, arbor and cap.

    Args:
        molds: every piece of the design.
        rows: from `hole_table`.
        inch: whether the job is in inches.
    """
    found: Entries = []
    for name in (UPPER, LOWER):
        own = [row for row in rows if row.piece == name]
        found += [(f"{name}: stock", [_half_stock(molds, inch)], False),
                  (f"{name}: set-ups", _half_setups(molds, name, own, inch), True)]
    plan, wall = molds.plan, carried_wall(molds.plan, molds.mold, molds.design)
    low, high = arbor_radii(plan, wall)
    pilot, tapped = pilot_radius(plan, wall), arbor_tapping(plan, molds.mold, wall)

    def mm(value: float) -> str:
        return length(value, inch)

    taper = math.degrees(math.atan2(high - low, plan.length))
    found += [
        (f"{ARBOR}: stock", [
            f"round bar, diameter {mm(2 * (plan.inner + ALLOWANCE))}, length "
            f"{mm(plan.end - plan.start + 2 * ALLOWANCE)} (finished diameter {mm(2 * plan.inner)}, "
            f"length {mm(plan.end - plan.start)})"], False),
        (f"{ARBOR}: set-ups, turned", [
            f"Face both ends, center them, drill and tap {mm(tapped)}, {mm(2 * tapped)} deep "
            "(jacks that draw it out).",
            f"Between centers in one clamping, so that all runs true: print R {mm(plan.inner)}, "
            f"{mm(plan.end - plan.length)} long; cone from R {mm(high)} at the print to R "
            f"{mm(low)} over {mm(plan.length)} ({taper:.3f} deg a side: top slide or offset); "
            f"pilot R {mm(pilot)}, {mm(-plan.start)} long.",
            "Polish the cone along the axis; the sliding pieces close on it without clearance."],
         True),
        (f"{CAP}: stock and set-ups, turned", [
            f"round bar, diameter {mm(2 * (plan.inner + ALLOWANCE))}: in one clamping outside R "
            f"{mm(plan.inner)} and bore R {mm(cap_bore(plan, wall))}, then part off at "
            f"{mm(-plan.start)} and face square."], False),
    ]
    return found


def _half_stock(molds: MoldSet, inch: bool) -> str:
    plan = molds.plan
    sides = (plan.end - plan.start, 2 * plan.half_width, plan.top - plan.parting)
    finished = " x ".join(length(side, inch) for side in sides)
    sawn = " x ".join(length(side + 2 * ALLOWANCE, inch) for side in sides)
    return f"finished {finished} (x, y, z); saw {sawn}"


def _half_setups(molds: MoldSet, name: str, rows: list[Feature], inch: bool) -> list[str]:
    plan, upper = molds.plan, name == UPPER
    text = ", engrave the text" if upper and molds.mold.engraving else ""
    grooves = "mill the pry slots" if upper else "mill the flash grooves"
    lean = molds.mold.end_draft
    steps = [
        f"Outside up, in a vise on its long sides: face it, mill the ledges{text}.",
        "Turned over, parting up: face the parting, bore and ream the flange holes, "
        f"{grooves}, rough the bore along the pull.",
        f"Both halves pinned and screwed together: bore R {length(plan.outer, inch)} between the "
        f"end walls and the seats R {length(plan.inner + plan.clearance, inch)} in one clamping, "
        "so that no step is left at the partings (or finish each half alone with a ball along the "
        "pull)" + (f"; end walls, cones of {math.degrees(lean):.3g} deg: ball in steps, or plates "
                   "turned to it." if lean else "; end walls square.")]
    sides = sorted({row.feature for row in rows if row.along in ("x", "-x")})
    if sides:
        steps.append(f"On end, ends faced square to the parting: {', '.join(sides)}, by their y "
                     "and z. Gates open into a cone outwards.")
    return steps
