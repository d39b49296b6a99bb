"""The sheet of what carries the ribs in place of a rigid half: sliding pieces, or an insert.

Of sliding pieces it shows the ring that they make, cut across, and a row for each of them; of a
rubber insert its own section and those of the mold that it is cast in.
"""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass, replace
from pathlib import Path
from typing import Any

import numpy as np

from gridshell.define.files.replacing import replacing
from gridshell.mold.pieces.cores.inserts import (
    RUBBER_NAME,
    carried_wall,
    insert_growth,
    insert_layout,
)
from gridshell.mold.pieces.cores.round_mold import arbor_radii
from gridshell.mold.pieces.cores.sliding import SHUT_OFF, joint_place, travel
from gridshell.mold.pieces.layout import Layout
from gridshell.mold.pieces.mold_set import MoldSet
from gridshell.report.sheets.parts import (
    ACCENT,
    CURE_CAUTIONS,
    DEFER,
    FILL,
    INK,
    MACHINE_CAUTIONS,
    millimeters,
    page,
    ribbed_line,
    rows_block,
    text_block,
    view_title,
)
from gridshell.report.sheets.subject import RoundFace, Span2, Subject, leader_angles

BLOCK = 0.35  # of the ribs' radius, that is drawn of a half beyond its round face


@dataclass(frozen=True)
class View:
    """The section across one kind of piece.

    Attributes:
        role: of the pieces.
        title: above it.
        faces: with a leader each.
        angles: where the leaders end, from the crown towards +y, rad.
        back: radius of the side without ribs, mm; where a half is drawn to, of a mold.
        cut: whether the back is where the drawing ends, not a face.
        plan: sizes, mm.
        half: half of the angle that it takes about the axis, rad.
        pockets: angles that they cover at the section; () for a smooth side.
    """

    role: str
    title: str
    faces: tuple[RoundFace, ...]
    angles: tuple[float, ...]
    back: float
    cut: bool
    plan: Layout
    half: float
    pockets: Sequence[Span2]


def carrier_views(molds: MoldSet) -> list[View]:
    """Sections of what carries the ribs; none for a rigid half.

    Args:
        molds: every piece of a design.
    """
    plan, design = molds.plan, molds.design
    wall = carried_wall(plan, molds.mold, design)
    if not wall:
        return []
    inside = design.ribs.side == "inside"
    back = plan.inner - wall if inside else plan.outer + wall
    # The ribbed faces are those that a rigid half would have.
    ribbed = Subject(
        design, replace(molds.mold, core="rigid"), molds.grid,
        next(iter(molds.ribs.values())), "core" if inside else "cavity", molds.shrinkage)
    pockets = ribbed.pockets()
    rib, floors = leader_angles(ribbed, pockets)[:2]
    half = ribbed.plan.half_angle
    seat = RoundFace("back" if molds.mold.core == "rubber" else "seat on the body", back,
                     not inside, "any")
    whole = design.tube.segments == 1
    faces: tuple[RoundFace, ...] = (RoundFace("groove bottoms, lands", plan.base, inside, "rib"),
                                    RoundFace("block tops", plan.floor, inside, "pocket"), seat)
    # The arbor of a tube without a seam tapers: its seat has no one radius.
    faces = faces[:2] if whole else faces
    if molds.mold.core == "sliding":
        return [View("slide", "Section across the sliding pieces", faces,
                     (rib, floors, -0.45 * half)[:len(faces)], back, False, plan, half, pockets)]
    views = [View("insert", "Insert of rubber, section across", faces,
                  (rib, floors, -0.45 * half), back, False, plan, half, pockets)]
    own = insert_layout(plan, molds.mold, wall, insert_growth(molds.mold))
    for role in ("insert-core", "insert-cavity"):
        core = role == "insert-core"
        shown: tuple[RoundFace, ...] = ()
        angles: tuple[float, ...] = ()
        if core != inside:  # its pockets are the part's own
            shown += (RoundFace("rib tips, lands", own.base, core, "rib"),
                      RoundFace("pocket floors", own.floor, core, "pocket"))
            angles += (rib, floors)
        else:
            shown += (RoundFace("core", own.inner, True, "any") if core else
                      RoundFace("bore", own.outer, False, "any"),)
            angles += (0.35 * half,)
        if not core:
            shown += (RoundFace("seats of its core", own.inner + own.clearance, False, "end"),)
            angles += (-0.6 * half,)
        far = (1 - BLOCK) * own.inner if core else (1 + BLOCK) * own.outer
        views.append(View(role, f"{role}, section across", shown, angles, far, True, own, half,
                          pockets if core != inside else ()))
    return views


def missing_faces(view: View, built: Sequence[float]) -> list[str]:
    """Radii of a view that no face of the solids has, in words.

    Args:
        view: one section.
        built: radii of the solids' faces about the axis, mm.
    """
    return [f"{view.role}: {face.name} R {face.radius:.3f}" for face in view.faces
            if not any(math.isclose(face.radius, radius, abs_tol=1e-4) for radius in built)]


def carrier_figure(molds: MoldSet) -> Any:
    """The sheet as a matplotlib figure, A4 across.

    Args:
        molds: every piece of a design whose ribs something else than a rigid half carries.
    """
    views = carrier_views(molds)
    sliding = molds.mold.core == "sliding"
    figure = page(molds.design.title, (
        f"core in {len(molds.core_pieces)} sliding pieces" if sliding else
        f"insert of rubber ({RUBBER_NAME}) and the mold it is cast in")
        + ", at the size of the mold; dimensions in mm, sections not to scale")
    wide = (0.53 if sliding else 0.92) / len(views)
    for number, view in enumerate(views):
        _section(figure.add_axes((0.04 + number * wide, 0.44, 0.96 * wide, 0.42)), molds, view)
    (_pieces if sliding else _insert)(figure, molds, views)
    return figure


def _section(axes: Any, molds: MoldSet, view: View) -> None:
    """The ring between back and ribs, with joints, numbers, and leaders."""
    plan, half = view.plan, view.half
    angles = np.linspace(-half, half, 181)
    around = np.stack([np.sin(angles), np.cos(angles)], axis=-1)
    ribby = view.faces[0].radius
    line = ribbed_line(view.pockets, plan.base, plan.floor, half) if view.pockets else (
        ribby * around)
    area = np.concatenate([line, (view.back * around)[::-1]])
    body = axes.fill(area[:, 0], area[:, 1], fc=FILL, ec="none")[0]
    axes.plot(line[:, 0], line[:, 1], color=ACCENT if view.pockets else INK, lw=0.9)
    axes.plot(*(view.back * around).T, color=INK, lw=0.4 if view.cut else 0.9,
              ls="--" if view.cut else "-")
    if half < math.pi - 1e-9:
        for side in (0, -1):
            axes.plot([line[side, 0], view.back * around[side, 0]],
                      [line[side, 1], view.back * around[side, 1]], color=INK, lw=0.9)
    for face in view.faces:
        if face.place == "end":  # behind the section
            axes.plot(*(face.radius * around[:90]).T, color=INK, lw=0.5, ls="-.")
    if view.role == "slide":
        _joints(axes, molds, view, body)
    _labels(axes, molds, view, float(max(np.abs(line).max(), view.back)))
    view_title(axes, view.title)
    axes.set_aspect("equal")
    axes.set_axis_off()
    axes.margins(0.04)


def _joints(axes: Any, molds: MoldSet, view: View, body: Any) -> None:
    """Joints within the body, numbers, and the way that each piece goes."""
    plan, pieces = view.plan, molds.core_pieces
    for piece in pieces:
        if piece.key:
            for side in (1.0, -1.0):
                ends = [joint_place(piece, plan.base, side, out) for out in (
                    0.3 * view.back, max(plan.base, plan.floor))]
                axes.plot([p[1] for p in ends], [p[2] for p in ends], color=INK, lw=0.8,
                          clip_path=body)
        at = piece.outward * (0.55 * view.back + 0.45 * plan.base)
        axes.text(at[1], at[2], str(piece.number), fontsize=8, ha="center", va="center",
                  fontweight="bold" if piece.key else "normal")
        start, end = (piece.outward * share * view.back for share in (0.93, 0.8))
        axes.annotate("", end[1:], start[1:], arrowprops={
            "arrowstyle": "-|>,head_width=0.15,head_length=0.35", "lw": 0.7, "color": ACCENT})


def _labels(axes: Any, molds: MoldSet, view: View, size: float) -> None:
    """Labels of faces that look outwards above, of the others below, so that no leader meets one.

    From the right to the left in the order of the leaders' ends, each in a row of its own.
    """
    units, half = molds.design.units, view.half
    low = size * math.cos(half) if half > math.pi / 2 + 1e-9 else (
        min(view.back, view.plan.inner) * math.cos(half))
    row = 0.13 * size
    both = sorted(zip(view.faces, view.angles, strict=True), key=lambda item: -item[1])
    above = [item for item in both if item[0].outward]
    below = [item for item in both if not item[0].outward]
    for items, start, step in ((above, size, row), (below, low, -row)):
        for number, (face, angle) in enumerate(items, start=1):
            tip = face.radius * np.array([math.sin(angle), math.cos(angle)])
            left = face.place in ("any", "end") and angle < 0
            second = -0.25 if face.outward else 0.25  # clear of the leader on the left
            place = (size * (-0.55 if left else (0.7, second)[number > 1]), start + number * step)
            axes.annotate(
                f"{face.words} R {millimeters(face.radius / 1e3, units)}", tip, place, fontsize=7,
                ha="center", va="center", zorder=4,
                bbox={"boxstyle": "square,pad=0.15", "fc": "white", "ec": "none"},
                arrowprops={"arrowstyle": "-|>,head_width=0.15,head_length=0.35", "lw": 0.6,
                            "color": INK, "shrinkA": 0, "shrinkB": 0})
    axes.set_xlim(-1.15 * size, 1.25 * size)
    axes.set_ylim(low - (len(below) + 0.8) * row, size + (len(above) + 0.8) * row)


def _pieces(figure: Any, molds: MoldSet, views: Sequence[View]) -> None:
    """A row for each sliding piece, how they move, and the fits."""
    plan, units = molds.plan, molds.design.units

    def mm(value: float) -> str:
        return millimeters(value / 1e3, units)

    rows: list[tuple[str, ...]] = [("piece", "goes", "middle, deg towards +y", "across, tips")]
    rows += [
        (str(piece.number), "first (key)" if piece.key else "then",
         f"{90 - math.degrees(piece.angle) + 0.0:+.2f}",
         mm(2 * plan.base * math.sin(piece.half)))
        for piece in molds.core_pieces]
    y = rows_block(figure, (0.6, 0.87), "Pieces", rows, (0.0, 0.1, 0.235, 0.35), step=0.0195)
    whole = molds.design.tube.segments == 1
    wall = carried_wall(plan, molds.mold, molds.design)
    seat = (
        "The arbor inside tapers from R {} at the low-x end to R {} where it is drawn out.".format(
            *(f"{radius:.2f}" for radius in arbor_radii(plan, wall))) if whole else
        f"They sit on the body of the core with a slip fit of {mm(plan.clearance)} on the radius.")
    lines = [
        f"Each is {mm(plan.length)} long, a slip fit between the prints, and {mm(wall)} thick "
        "under the ribs.", seat,
        f"Sides of a key lean by {math.degrees(SHUT_OFF):g} deg to its own pull; the pieces "
        "beside it meet them (faces in the STEP files).",
        ("The arbor is drawn out first" if whole else "The body drops away first")
        + f"; then each key, and then each other piece, moves {mm(travel(plan))} towards the axis "
        "along its arrow and out at an end of the bore.",
        "Middles are counted from the crown. Number the pieces and mark an end: they fit in one "
        "order only."]
    text_block(figure, (0.6, y - 0.03), "How they go together", lines, 78)
    text_block(figure, (0.035, 0.38), "Cautions", [*MACHINE_CAUTIONS, DEFER], 110)


def _insert(figure: Any, molds: MoldSet, views: Sequence[View]) -> None:
    """Main sizes of the insert and of its mold, and how it is cast."""
    plan, units, own = molds.plan, molds.design.units, views[1].plan
    grow = insert_growth(molds.mold)

    def mm(value: float) -> str:
        return millimeters(value / 1e3, units)

    y = rows_block(figure, (0.035, 0.40), "Sizes", [
        ("insert: length", mm(plan.length)),
        ("rubber under the ribs", mm(carried_wall(plan, molds.mold, molds.design))),
        ("its mold over the insert (shrinkage of the rubber)", f"{grow:.5f}"),
        ("its mold: length between the end walls", mm(own.length)),
        ("its mold: length over all", mm(own.end - own.start)),
        ("its mold: width over the flanges", mm(2 * own.half_width)),
        ("its mold: slip of the core in the seats", mm(own.clearance)),
        ("draft of ribs and pockets", f"{math.degrees(float(molds.design.ribs.draft)):.3g} deg")],
        (0.0, 0.33), step=0.0205)
    text_block(figure, (0.035, y - 0.015), "Holes", [
        "Flange holes, gates and vents of the insert's mold have places of their own: "
        "holes-insert-core, holes-insert-cavity and holes.csv give them."],
        84)
    y = text_block(figure, (0.42, 0.40), "How it is cast and used", [
        "Clean, dry halves; release agent that suits the rubber.",
        "Mix the rubber as its supplier says, free it of bubbles, pour it slowly at one place; "
        "let it cure in full before it is opened.",
        "Peel the insert out, lay it in the recess between the prints; it must lie flat all over.",
        "Peel it off the casting from one end. Look it over before each pour: a torn edge "
        "leaves a rib short."], 92)
    text_block(figure, (0.42, y - 0.015), "Cautions",
               [*CURE_CAUTIONS[:1], *MACHINE_CAUTIONS, DEFER], 92)


def write_carrier_sheet(paths: Sequence[Path], molds: MoldSet) -> None:
    """Write the sheet to each path, by its ending (.pdf, .png), whole or not at all.

    Args:
        paths: of the pages.
        molds: every piece of a design whose ribs something else than a rigid half carries.

    Raises:
        InputError: a file can't be written.
    """
    figure = carrier_figure(molds)
    for path in paths:
        with replacing(path) as scratch:
            figure.savefig(scratch)
