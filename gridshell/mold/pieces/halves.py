"""The castings and mold halves as solids: plain blocks with their features, then the laid ribs."""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import replace
from typing import Any

from gridshell.define.tables.mold import Mold
from gridshell.mold.pieces.features.fittings import (
    cutting,
    fasteners,
    flash_grooves,
    keys,
    pry_slots,
)
from gridshell.mold.pieces.features.pouring import gates_and_vents
from gridshell.mold.pieces.layout import (
    Layout,
    bore_profile,
    cavity_profile,
    core_profile,
    end_dish,
    part_profile,
)
from gridshell.mold.pieces.solids.booleans import combined, cut_out
from gridshell.mold.pieces.solids.joining import solid_of, with_sheet
from gridshell.mold.pieces.solids.plain import half_turned, pin, prism
from gridshell.mold.pieces.splitting import Span
from gridshell.mold.relief.closed import lay_closed_tube
from gridshell.mold.relief.faces import Island, lay_sheet


def part_solid(plan: Layout, islands: Sequence[Island], mold: Mold) -> Any:
    """The casting: a shell of the full wall depth with its pockets and cut-outs.

    Args:
        plan: sizes of the halves, mm.
        islands: its pockets and cut-outs.
        mold: the `[mold]` table.
    """
    if plan.half_angle < math.pi - 1e-9:
        return relieved(prism(part_profile(plan), 0.0, plan.length), plan, islands, mold)
    if islands:
        return solid_of(lay_closed_tube(
            plan.base, plan.far, plan.length, islands, mold.mesh_tolerance * 1e3))
    whole, bore = (
        pin((start, 0, 0), (end, 0, 0), 2 * radius) for start, end, radius in (
            (0.0, plan.length, plan.outer), (-1.0, plan.length + 1.0, plan.inner)))
    return cut_out(whole, [bore])


def core_solid(
    plan: Layout, mold: Mold, span: Span, features: bool = True, recess: float | None = None
) -> Any:
    """One piece of the core half, ribs not laid yet.

    Args:
        plan: sizes of the halves, mm.
        mold: the `[mold]` table.
        span: the piece along x, mm.
        features: False for the bare block.
        recess: radius that it has along the casting where something else carries the ribs, mm.
    """
    block = prism(core_profile(plan), span.start, span.end)
    if not features:
        return block
    additions, cuts = keys(plan, mold, span, core=True)
    cuts += fasteners(plan, mold, span, core=True)
    cuts += cutting(flash_grooves(plan, mold), down=True)
    body = cut_out(combined("fuse", block, additions), cuts)
    if recess is None:
        return body
    # Not by `cut_out`: the middle of a ring lies beside it.
    ring = prism(part_profile(replace(plan, inner=recess)), 0.0, plan.length)
    return combined("cut", body, [ring])


def cavity_solid(
    plan: Layout, mold: Mold, span: Span, features: bool = True, recess: float | None = None
) -> Any:
    """One piece of the cavity half, ribs not laid yet.

    Args:
        plan: sizes of the halves, mm.
        mold: the `[mold]` table.
        span: the piece along x, mm.
        features: False for the bare block.
        recess: radius that it has along the casting where something else carries the ribs, mm.
    """
    block = prism(cavity_profile(plan), span.start, span.end)
    bore = bore_solid(plan, mold, recess)
    if not features:
        return combined("cut", block, [bore])
    additions, cuts = keys(plan, mold, span, core=False)
    cuts.append(bore)
    cuts += fasteners(plan, mold, span, core=False)
    cuts += cutting(pry_slots(plan, mold, span), down=False, sideways=True)
    cuts += gates_and_vents(plan, mold, span.start <= plan.start, span.end >= plan.end)
    return cut_out(combined("fuse", block, additions), cuts)


def bore_solid(plan: Layout, mold: Mold, recess: float | None = None) -> Any:
    """What a cavity half is bored out by between its end walls, which lean by their draft.

    Args:
        plan: sizes of the halves, mm.
        mold: the `[mold]` table.
        recess: radius of the bore where something else carries the ribs, mm.
    """
    wide = plan.outer if recess is None else recess
    if not mold.end_draft:
        return prism(bore_profile(replace(plan, outer=wide)), 0.0, plan.length)
    # On beyond the seats, where there is nothing to cut, so that no surfaces touch.
    low = plan.inner - (plan.outer - plan.inner) / 2
    dish, far = end_dish(plan, mold, low), plan.length
    brim = [] if recess is None else [(0.0, wide), (far, wide)]
    return half_turned([
        (-dish, 0.0), (-dish, low), (0.0, plan.outer), *brim, (far, plan.outer), (far + dish, low),
        (far + dish, 0.0)])


def relieved(block: Any, plan: Layout, islands: Sequence[Island], mold: Mold) -> Any:
    """A half (or casting) with its laid ribs, or the block itself if there are none.

    Args:
        block: a plain solid.
        plan: sizes of the halves, mm.
        islands: its pockets and cut-outs.
        mold: the `[mold]` table.
    """
    if not islands:
        return block
    sheet = lay_sheet(plan.base, islands, mold.mesh_tolerance * 1e3)
    return with_sheet(block, plan.base, plan.far, sheet)
