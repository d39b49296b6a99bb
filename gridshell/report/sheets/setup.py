"""The set-up sheet of milled molds: stock, zero, set-ups in order, the tool of each feature."""

from __future__ import annotations

import math
import textwrap
from collections.abc import Sequence

from gridshell.mold.checks.release.undercut import undercut
from gridshell.mold.pieces.cores.inserts import (
    carried_wall,
    insert_growth,
    insert_layout,
    recess_radius,
)
from gridshell.mold.pieces.cores.round_mold import LOWER, UPPER, arbor_radii
from gridshell.mold.pieces.cores.sliding import SHUT_OFF
from gridshell.mold.pieces.features.hole_table import ZERO, Feature, hole_table, length
from gridshell.mold.pieces.mold_set import MoldSet
from gridshell.mold.pieces.splitting import Span, spans
from gridshell.report.sheets.parts import DEFER, MACHINE_CAUTIONS
from gridshell.report.sheets.setup_round import ALLOWANCE, round_blocks

WIDTH = 92  # characters of the plain text


def setup_text(molds: MoldSet) -> str:
    """The sheet as plain text.

    Args:
        molds: every piece of a design, its halves to be milled.
    """
    inch = molds.design.units == "inch"
    parts = spans(molds.plan, molds.planes)
    lines = [*textwrap.wrap(molds.design.title, WIDTH), "Set-up sheet for milling the halves",
             f"all lengths in {'inches' if inch else 'mm'} of the mold", "",
             *_block("Zero of every piece and of every program", [
                 f"{ZERO}. x runs along the tube, y across, z along the pull, as in holes.csv and "
                 "the STEP files."])]
    rows = hole_table(molds)
    whole = molds.design.tube.segments == 1
    for title, entries, numbered in round_blocks(molds, rows, inch) if whole else ():
        lines += _block(title, entries, numbered)
    for name in (UPPER, LOWER) if whole else ():
        lines += _block(f"{name}: largest tool that makes each feature", [
            *_hole_tools([row for row in rows if row.piece == name], inch),
            f"bore R {length(molds.plan.outer, inch)}: boring head, or ball up to that radius; its "
            "corner at the end walls is sharp"])
    for number, span in enumerate(() if whole else parts, start=1):
        for role in ("core", "cavity"):
            name = role + (f"-{number}" if len(parts) > 1 else "")
            own = [row for row in rows if row.piece == name]
            lines += _block(f"{name}: stock", [_stock(molds, span, role == "core", inch)])
            lines += _block(f"{name}: set-ups", _setups(molds, role == "core", own), True)
            lines += _block(f"{name}: largest tool that makes each feature",
                            _tools(molds, role == "core", own, inch))
    lines += _sliding(molds, inch) if molds.core_pieces else []
    lines += _insert_mold(molds, inch) if molds.mold.core == "rubber" else []
    lines += _block("Not said here", [
        "Feeds, speeds, clamps and the order of tools are the shop's. Run each program in the air "
        "first.", "Fits and every hole: holes.csv and the sheets of holes."])
    return "\n".join(lines + _block("Cautions", [MACHINE_CAUTIONS[0], MACHINE_CAUTIONS[2], DEFER]))


def _block(title: str, entries: Sequence[str], numbered: bool = False) -> list[str]:
    lines = [title]
    for number, entry in enumerate(entries, start=1):
        mark = f"  {number}. " if numbered else "  - "
        lines += textwrap.wrap(entry, WIDTH, initial_indent=mark,
                               subsequent_indent=" " * len(mark))
    return [*lines, ""]


def _stock(molds: MoldSet, span: Span, core: bool, inch: bool) -> str:
    """Finished size of a piece, and with an allowance to face every side."""
    plan = molds.plan
    key = molds.mold.key_length * 1e3 if span.joint_end else 0.0
    low = min(plan.parting, (plan.inner + plan.clearance) * math.sin(plan.left))
    high = max(plan.floor if _carries(molds, core) else plan.inner, plan.parting)
    height = high - plan.bottom if core else plan.top - low
    sides = (span.end - span.start + key, 2 * plan.half_width, height)
    finished = " x ".join(length(side, inch) for side in sides)
    sawn = " x ".join(length(side + 2 * ALLOWANCE, inch) for side in sides)
    return (f"finished {finished} (x, y, z); saw {sawn}, {length(ALLOWANCE, inch)} on every side "
            "(common practice)")


def _carries(molds: MoldSet, core: bool) -> bool:
    """Whether a half has the ribs itself."""
    return bool(molds.design.has_ribs) and molds.mold.core == "rigid" and (
        core == (molds.design.ribs.side == "inside"))


def _recess(molds: MoldSet, core: bool) -> float | None:
    """Radius of a half's recess for what carries the ribs, mm; None without one."""
    if core != (molds.design.ribs.side == "inside"):
        return None
    wall = carried_wall(molds.plan, molds.mold, molds.design)
    return recess_radius(molds.plan, molds.mold, wall)


def _setups(molds: MoldSet, core: bool, rows: Sequence[Feature]) -> list[str]:
    """What is cut in which clamping."""
    plan, design = molds.plan, molds.design
    ribbed = _carries(molds, core)
    text = ", engrave the text" if molds.mold.engraving else ""
    sides = [row for row in rows if row.along in ("x", "-x") and row.feature != "split plane"]
    shape = "grooves and the faces between them" if ribbed else "the round face"
    if _recess(molds, core) is not None:
        shape = "the prints and the recess between them" if core else "the recess"
    seam = ("" if plan.half_angle >= math.pi / 2 - 1e-9 else
            " The seam faces lean: tilt the piece or the spindle, or step them with a ball.")
    if core:
        steps = [
            f"Underside up, in a vise on its long sides: face the underside{text}.",
            "Turned over, underside down on parallels, zero from the faced long side and end: face "
            "the parting, bore and ream the flange holes, mill the flash grooves, rough and finish "
            f"{shape} along the pull.{seam}"]
        start = undercut(design, molds.grid, molds.ribs[molds.cast_segments[0].name]).start
        if ribbed and start is not None:
            steps.append(
                f"Flanks beyond {math.degrees(start):.0f} deg from the crown lie in shadow along "
                "the pull: turn the core about its axis (rotary axis, or wedges of known angle) "
                "and finish them square to their own face.")
    else:
        steps = [
            f"Top up, in a vise on its long sides: face the top, mill the ledges{text}.",
            "Turned over, top down on parallels, zero as on the core: face the parting, bore the "
            f"flange holes, mill the pry slots, bore out {shape} and the core's seats.{seam}"]
    if sides:
        what = ", ".join(sorted({row.feature for row in sides}))
        steps.append(f"On end, ends faced square to the parting: {what}, by their y and z. Gates "
                     "open into a cone outwards." if any(r.feature == "gate" for r in sides) else
                     f"On end, ends faced square to the parting: {what}, by their y and z.")
    return steps


def _tools(molds: MoldSet, core: bool, rows: Sequence[Feature], inch: bool) -> list[str]:
    """What tool each kind of feature asks for: no larger one makes it."""
    plan = molds.plan
    found = _hole_tools(rows, inch)
    if _carries(molds, core):
        found += _groove_tools(molds, inch)
    recess = _recess(molds, core)
    if recess is not None:
        found.append(
            f"recess R {length(recess, inch)}, " + (
                f"between prints R {length(plan.inner, inch)}: any ball or flat end mill; its ends "
                "are sharp, so finish them with a flat one" if core else
                "bored between the end walls: ball up to that radius, its ends with a flat one"))
    if not core:
        radius = plan.floor if _carries(molds, core) else plan.outer
        found += [] if recess is not None else [
            f"bore R {length(radius, inch)}: ball up to that radius; the corner at the end walls "
            "is sharp, so finish it with a flat end mill (or make the end walls as plates)"]
        if molds.mold.end_draft:
            found.append(f"end walls, cones of {math.degrees(molds.mold.end_draft):.3g} deg round "
                         "the tube's axis: ball in steps along the pull, or plates turned to it")
    elif recess is None and not _carries(molds, core):
        found.append(f"core R {length(plan.inner, inch)}: any ball or flat end mill, it is convex")
    return found


def _hole_tools(rows: Sequence[Feature], inch: bool) -> list[str]:
    """Tools of holes, slots and grooves."""
    found = []
    for feature, size, fit in sorted({
            (row.feature, row.diameter, row.fit) for row in rows if row.diameter is not None}):
        found.append(f"{feature} {length(size, inch)}: drill" + {
            "press": " under size, ream to a press fit of the pin",
            "slip": " and ream or bore to size", "tapped": " and tap"}.get(fit, " to size"))
    for row in {row.feature: row for row in rows if row.width is not None}.values():
        if row.feature == "key":
            continue
        # A pry slot is open sideways, so that its length alone limits the tool.
        sides = (row.length,) if row.feature == "pry slot" else (row.length, row.width, row.height)
        size = min(value for value in sides if value is not None)
        found.append(f"{row.feature}: end mill up to {length(size, inch)}, corners then have half "
                     "of that as their radius"
                     + (": ease the keys' corners" if row.feature == "socket" else ""))
    return found


def _groove_tools(molds: MoldSet, inch: bool) -> list[str]:
    """Tools of the grooves."""
    design, mm = molds.design, 1e3 * molds.factor
    draft = math.degrees(float(design.ribs.draft))
    depth, width = float(design.ribs.height) * mm, float(design.ribs.width) * mm
    found = [f"grooves: {length(width, inch)} wide at the bottom, {length(depth, inch)} deep: "
             f"tapered end mill of {draft:.3g} deg a side, its flat end up to that width; the "
             "bottom edges are sharp"]
    fillets = [group.fillet * mm for ribs in molds.ribs.values() for group in ribs.pockets
               if group.fillet > 0]
    if fillets:
        found.append(f"upper edges of the grooves, rounded by R {length(min(fillets), inch)}"
                     + ("" if max(fillets) - min(fillets) < 5e-3 else
                        f" to {length(max(fillets), inch)}")
                     + ": corner-rounding cutter, or a small ball in steps")
    return found


def _sliding(molds: MoldSet, inch: bool) -> list[str]:
    """The pieces of a sliding core: stock, set-ups, tools."""
    plan, pieces = molds.plan, molds.core_pieces
    inner = plan.inner - carried_wall(plan, molds.mold, molds.design)
    stock = []
    for piece in pieces:
        sides = (plan.length, 2 * plan.floor * math.sin(piece.half),
                 plan.floor - inner * math.cos(piece.half))
        stock.append(
            f"piece {piece.number}, {'key' if piece.key else 'wide'}, middle "
            f"{90 - math.degrees(piece.angle) + 0.0:+.1f} deg from the crown towards +y: finished "
            "within "
            + " x ".join(length(side, inch) for side in sides) + " (along, across, along its pull)")
    lean = f"{math.degrees(SHUT_OFF):g} deg"
    seat = f"bore R {length(inner, inch)}, the seat on the body"
    if molds.design.tube.segments == 1:
        low, high = arbor_radii(plan, carried_wall(plan, molds.mold, molds.design))
        seat = (f"the cone of the arbor, R {length(low, inch)} to R {length(high, inch)} (best "
                "bored with all pieces clamped together in a ring)")
    return [*_block("core-piece: stock", stock), *_block("core-piece: set-ups", [
        f"On its back: {seat}, and both ends square to "
        f"{length(plan.length, inch)} (a slip fit between the prints).",
        f"Joints to the neighbors; those of a key lean by {lean} to its pull, those of wide "
        "pieces meet them (faces in the STEP files). Fit keys last.",
        "Screwed from below to a saddle of that radius, turned so that the pull of the piece "
        "stands upright: rough and finish the grooves along it."], True),
        *_block("core-piece: largest tool that makes each feature",
                _groove_tools(molds, inch))]


def _insert_mold(molds: MoldSet, inch: bool) -> list[str]:
    """The two halves that the rubber insert is cast in; one has the part's own pockets and ribs."""
    grow = insert_growth(molds.mold)
    own = insert_layout(
        molds.plan, molds.mold, carried_wall(molds.plan, molds.mold, molds.design), grow)
    mm = 1e3 * molds.factor * grow
    low = min(own.parting, (own.inner + own.clearance) * math.sin(own.left))
    lines = []
    for core in (True, False):
        ribbed = core != (molds.design.ribs.side == "inside")
        shape = "the pockets and the faces between them" if ribbed else "the round face"
        sides = (own.end - own.start, 2 * own.half_width,
                 max(own.inner, own.parting) - own.bottom if core else own.top - low)
        entries = [
            "finished " + " x ".join(length(side, inch) for side in sides)
            + f" (x, y, z); {length(ALLOWANCE, inch)} more on every side to face",
            f"set-ups as {'core' if core else 'cavity'} above, with {shape} along the pull; zero "
            "at the insert's low-x end, midway between the flanges, on their parting",
            f"core R {length(own.inner, inch)}" if core else
            f"bore R {length(own.outer, inch)}, seats R {length(own.inner + own.clearance, inch)}"]
        if ribbed:
            entries.append(
                f"pockets {length(float(molds.design.ribs.height) * mm, inch)} deep: tapered end "
                f"mill of {math.degrees(float(molds.design.ribs.draft)):.3g} deg a side, its "
                "radius at most that of the corners in the STEP file")
        lines += _block(f"{'insert-core' if core else 'insert-cavity'}: stock and set-ups", entries)
    return lines
