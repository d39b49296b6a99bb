"""Do the ends of the part leave the end walls of the cavity?"""

from __future__ import annotations

import math

from gridshell.define.tables.design import Design
from gridshell.define.tables.mold import Mold
from gridshell.mold.checks.result import CAUTION, COMMON, OK, MoldCheck
from gridshell.mold.pieces.layout import end_dish, mold_layout

NAME = "release of the ends"
LEAST_DRAFT = math.radians(0.5)  # of walls along a pull (common practice, no source)


def end_checks(design: Design, mold: Mold, scale: float) -> tuple[MoldCheck, ...]:
    """The end walls are part of the cavity, which is pulled across the tube: they need draft.

    Args:
        design: one design (no arrays).
        mold: the `[mold]` table.
        scale: size of the mold over that of the part (shrinkage).
    """
    plan = mold_layout(design, mold, scale * 1e3)
    draft = float(mold.end_draft)
    dish = end_dish(plan, mold, plan.inner)
    # Of a half shell the walls stand square at the seams: not 1e-17.
    seams = math.atan(math.tan(draft) * round(math.cos(plan.half_angle), 12))
    if draft:
        advice = (f"the cavity's end walls lean by {math.degrees(draft):.3g} deg at the crown and "
                  f"{math.degrees(seams) + 0.0:.2g} deg at the seams (mold.end_draft); the ends "
                  f"come out longer by {dish:.2f} mm at the bore: face them square")
    else:
        advice = "the cavity's end walls stand along the pull and rub on the ends all the way"
    if draft < LEAST_DRAFT:
        advice += f"; state mold.end_draft of {math.degrees(LEAST_DRAFT):g} deg or more"
    return (MoldCheck(
        NAME, draft, limit=LEAST_DRAFT, kind="angle",
        verdict=OK if draft >= LEAST_DRAFT else CAUTION, advice=advice, source=COMMON,
        notes=("the core has no end walls: its prints run on through them; the end rings are of "
               "the joining jig and slide off along the tube",),
        details={"dish": dish * 1e-3, "draft_at_seams": seams},
    ),)
