"""Making the part itself, without a mold: printed standing on its end, or milled from a blank."""

from __future__ import annotations

import math
from dataclasses import dataclass

import numpy as np

from gridshell.define.errors import InputError
from gridshell.define.tables.design import Design
from gridshell.define.tables.mold import Mold
from gridshell.define.types import Array
from gridshell.mold.checks.result import CAUTION, COMMON, FAILS, OK, UNKNOWN, MoldCheck, least, most
from gridshell.mold.checks.tool import block_widths, reach_ratio
from gridshell.mold.pieces.splitting import fits_upright
from gridshell.mold.relief.ribbing import Ribbing
from gridshell.wall.geometry.lattice import Lattice

STEEP = math.radians(45.0)  # slope from the horizontal above which a printer needs no support
FAIR = math.radians(30.0)
BRIDGE = 10e-3  # m, that a printer spans without support
LINES_IN_WALL = 2  # printed lines that make a wall tight
LAYER_STRENGTH = 0.5  # share of the strength that is left across layers
THIN_SKIN = 1e-3  # m, below which a milled skin hums and must be backed
SPARE_STOCK, SPARE_END = 2e-3, 5e-3  # m, left on a blank on each face and at each end


@dataclass(frozen=True)
class Blank:
    """Stock that a milled part comes from.

    Attributes:
        words: what it is.
        size: outside diameter, bore and length of a tube; width, height and length of a block, m.
    """

    words: str
    size: tuple[float, float, float]


def blank(design: Design) -> Blank:
    """The stock for one milled part, with allowance on every face."""
    outside = float(design.tube.outside_diameter)
    depth = float(design.skin.thickness + design.rib_height)
    length = float(design.section_length) + 2 * SPARE_END
    bore = max(outside - 2 * depth - 2 * SPARE_STOCK, 0.0)
    what = "tube or bored bar" if design.tube.segments == 1 else (
        "tube or bored bar, cut along into segments after milling or before")
    return Blank(what, (outside + 2 * SPARE_STOCK, bore, length))


def upward_sides(design: Design, ribs: Ribbing) -> tuple[Array, Array]:
    """Undersides of ribs when the tube stands on its end: slope from the horizontal and length.

    A pocket's upper sides are overhangs; a side at an angle theta from the axis that leans by the
    draft has a normal with the axial component cos(draft) sin(theta), so the surface slopes by
    acos of that. Plane geometry.

    Returns:
        slope (n,) rad and length (n,) m of every upper side, the part standing on its lower end.
    """
    slopes, lengths = [], []
    for group in ribs.pockets:
        side = np.roll(group.corners, -1, axis=1) - group.corners
        length = np.hypot(side[..., 0], side[..., 1])
        # Counterclockwise outlines: the solid lies to the right of each side.
        up = -side[..., 0] / length
        over = up > 1e-9
        slopes.append(np.arccos(np.clip(up[over] * math.cos(float(design.ribs.draft)), 0, 1)))
        lengths.append(length[over])
    if not slopes:
        return np.zeros(0), np.zeros(0)
    return np.concatenate(slopes), np.concatenate(lengths)


def print_checks(
    design: Design, mold: Mold, ribs: Ribbing, strength_margin: float | None
) -> tuple[MoldCheck, ...]:
    """Checks of a part that is printed standing on its end.

    Args:
        design: one design (no arrays).
        mold: the `[mold]` table.
        ribs: pockets and cut-outs of one segment.
        strength_margin: the least margin of the strength checks of all load cases; None without.
    """
    line = float(mold.casting.line_width)
    skin = float(design.skin.thickness)
    checks = [MoldCheck(
        "printed skin", skin, limit=LINES_IN_WALL * line, kind="length",
        verdict=least(skin, LINES_IN_WALL * line),
        advice=("thick enough to print tight" if skin >= LINES_IN_WALL * line else
        "fewer than two printed lines: make skin.thickness larger, or use a finer nozzle "
        "(mold.casting.line_width)"),
        source=COMMON, notes=(f"{LINES_IN_WALL} lines of {line * 1e3:g} mm",),
    )]
    if design.has_ribs:
        width = float(design.ribs.width)
        checks.append(MoldCheck(
            "printed rib", width, limit=LINES_IN_WALL * line, kind="length",
            verdict=least(width, LINES_IN_WALL * line),
            advice=("wide enough to print" if width >= LINES_IN_WALL * line else
            "fewer than two printed lines: make ribs.width larger, or use a finer nozzle "
            "(mold.casting.line_width)"),
            source=COMMON, notes=(f"{LINES_IN_WALL} lines of {line * 1e3:g} mm",),
        ))
        checks += _overhangs(design, ribs)
    checks.append(_layers(strength_margin))
    checks.append(_bed(design, mold))
    return tuple(checks)


def _overhangs(design: Design, ribs: Ribbing) -> list[MoldCheck]:
    slope, length = upward_sides(design, ribs)
    if not len(slope):
        return []
    flat = slope < STEEP - 1e-9
    worst = float(slope.min())
    span = float(length[flat].max(initial=0.0)) - float(design.ribs.width)
    details = {"overhanging_share": float(length[flat].sum() / length.sum()), "bridge": span}
    source = "slope of every pocket's upper sides; plane geometry. Limits: " + COMMON
    degrees = math.degrees(worst)
    if not flat.any():
        return [MoldCheck(
            "overhang of the ribs", worst, limit=STEEP, kind="angle", verdict=OK,
            advice=f"the flattest underside slopes {degrees:.0f} deg: no supports", source=source,
            details=details,
        )]
    advice = (f"{details['overhanging_share']:.0%} of the rib undersides slope less than 45 deg "
              f"(flattest {degrees:.0f} deg)")
    if worst >= FAIR:
        advice += ": they sag a little; print slowly with much cooling"
    elif span <= BRIDGE:
        advice += f": they bridge {span * 1e3:.1f} mm from node to node, which a printer spans"
    else:
        advice += (f" and would bridge {span * 1e3:.1f} mm: put supports into these pockets, or "
                   "run all ribs within 45 deg of the axis (diagonal, ribs.angle up to 45 deg)")
    return [MoldCheck(
        "overhang of the ribs", worst, limit=STEEP, kind="angle", verdict=CAUTION, advice=advice,
        source=source, notes=("printed standing on its end, the tube's axis upright",
         f"bridges up to {BRIDGE * 1e3:g} mm ({COMMON})"),
        details=details,
    )]


def _layers(margin: float | None) -> MoldCheck:
    name, source = "strength across layers", (
        f"{LAYER_STRENGTH:.0%} of the material's strength across printed layers; " + COMMON)
    note = ("layers lie across the tube's axis: bending and axial tension pull them apart",
            "stiffness and buckling are computed for the solid material: print one in full density "
            "and test it")
    if margin is None or not math.isfinite(margin):
        return MoldCheck(
            name, None, limit=None, kind="ratio", verdict=UNKNOWN,
            advice=("no load case or no strength is stated; test a printed strip pulled "
                         "across its layers"),
            source=source, notes=note,
        )
    left = (1 + margin) * LAYER_STRENGTH - 1
    verdict = FAILS if left < 0 else OK
    advice = (f"margin of safety of the strength checks {left:+.2f} with half the strength"
              + ("" if left >= 0 else ": thicker walls, or print it lying and accept supports"))
    return MoldCheck(
        name, left, limit=0.0, kind="ratio", verdict=verdict, advice=advice, source=source,
        notes=note,
    )


def _bed(design: Design, mold: Mold) -> MoldCheck:
    across = float(design.tube.outside_diameter)
    wide = across if design.tube.segments <= 2 else across * math.sin(
        math.pi / design.tube.segments)
    high = float(design.section_length)
    if mold.bed is None:
        return MoldCheck(
            "fits the bed", high, limit=None, kind="length", verdict=UNKNOWN,
            advice="mold.bed is not stated: check that the part fits standing on its end",
            source="bounding box",
        )
    deep = across if design.tube.segments == 1 else across / 2 * (
        1 - (0.0 if design.tube.segments == 2 else math.cos(math.pi / design.tube.segments)))
    fits = fits_upright(mold.bed, (wide, deep), high)
    shown = " x ".join(f"{side * 1e3:.0f}" for side in (wide, deep, high))
    return MoldCheck(
        "fits the bed", high, limit=float(mold.bed[2]), kind="length",
        verdict=OK if fits else FAILS, advice=(f"{shown} mm standing on its end" + ("" if fits else
                                             ": does not fit mold.bed; more tube.sections make it "
                                             "shorter, more tube.segments narrower")),
        source="bounding box against mold.bed, the third side upright",
    )


def machine_checks(
    design: Design, grid: Lattice, mold: Mold, ribs: Ribbing
) -> tuple[MoldCheck, ...]:
    """Checks of a part that is milled from a blank."""
    checks: list[MoldCheck] = []
    if design.has_ribs and ribs.pockets:
        checks += _pockets(design, grid, mold, ribs)
    checks.append(_access(design))
    skin = float(design.skin.thickness)
    checks.append(MoldCheck(
        "skin while milling", skin, limit=THIN_SKIN, kind="length",
        verdict=OK if skin >= THIN_SKIN else CAUTION,
        advice=("stiff enough between the ribs" if skin >= THIN_SKIN else
        "a skin this thin hums and lifts: mill the smooth side first and back it with a mandrel, "
        "wax or vacuum while the pockets are cut"),
        source=COMMON,
    ))
    stock = blank(design)
    outer, bore, length = stock.size
    checks.append(MoldCheck(
        "blank", length, limit=None, kind="length", verdict=OK,
        advice=(
            f"{stock.words}, at least {outer * 1e3:.1f} mm outside, "
            f"bore at most {bore * 1e3:.1f} mm, {length * 1e3:.1f} mm long for one section"),
        source=COMMON,
        notes=(
            f"{SPARE_STOCK * 1e3:g} mm on each face, {SPARE_END * 1e3:g} mm at each end to clamp "
            "and face",),
        details={"outside_diameter": outer, "bore": bore, "length": length},
    ))
    return tuple(checks)


def _pockets(design: Design, grid: Lattice, mold: Mold, ribs: Ribbing) -> list[MoldCheck]:
    tool, height = float(mold.tool_diameter), float(design.ribs.height)
    radius = min(group.corner_radius for group in ribs.pockets)
    name, narrow = min(block_widths(design, grid, ribs), key=lambda row: row[1])
    ratio, limit = reach_ratio(height, tool), float(mold.casting.tool_reach)
    fillet = min(group.fillet for group in ribs.pockets)
    draft = math.degrees(float(design.ribs.draft))
    fits = tool / 2 <= radius * (1 + 1e-9)
    checks = [
        MoldCheck(
            "smallest inside radius", radius, limit=tool / 2, kind="length",
            verdict=OK if fits else FAILS,
            advice=("the tool goes into every pocket corner" if fits else
            f"pocket corners of {radius * 1e3:.2f} mm are sharper than the tool cuts: "
            f"ribs.corner_radius at least {tool / 2 * 1e3:.2f} mm, or mold.tool_diameter at most "
            f"{2 * radius * 1e3:.2f} mm"),
            source="plane geometry",
        ),
        MoldCheck(
            "tool in the pockets", narrow, limit=tool, kind="length", verdict=least(narrow, tool),
            advice=(f"the {name} pocket is {narrow * 1e3:.1f} mm wide at the skin" + (
                "" if narrow >= tool else ": a smaller mold.tool_diameter, or wider ribs.spacing")),
            source="plane geometry",
        ),
        MoldCheck(
            "tool reach", ratio, limit=limit, kind="ratio", verdict=most(ratio, limit, near=1.0),
            advice=("reaches the skin" if ratio <= limit else
            f"too slender: it chatters and breaks; ribs.height up to {limit * tool * 1e3:.1f} mm, "
            "or a larger mold.tool_diameter with ribs.corner_radius to match"),
            source=COMMON, notes=("rib height over tool diameter; limit: mold.casting.tool_reach",),
        ),
    ]
    if draft > 0:
        checks.append(MoldCheck(
            "drafted sides", float(design.ribs.draft), limit=0.0, kind="angle", verdict=CAUTION,
            advice=(
                f"pocket sides lean {draft:.3g} deg: a tapered tool of that angle, or ribs.draft = "
            "'0 deg', for a milled part needs none"),
            source=COMMON,
        ))
    if fillet > 0:
        fine = fillet <= tool / 2 * (1 + 1e-9)
        checks.append(MoldCheck(
            "root fillet", fillet, limit=tool / 2, kind="length", verdict=OK if fine else CAUTION,
            advice=(
                f"an end mill with a corner radius of {fillet * 1e3:.2f} mm cuts it" if fine else
            f"{fillet * 1e3:.2f} mm is more than half the tool: a ball-nosed tool in several "
            "passes"),
            source="plane geometry",
        ))
    return checks


def _access(design: Design) -> MoldCheck:
    source = "direction of the pocket walls; the tool stands along the radius"
    if not design.has_ribs:
        return MoldCheck(
            "tool access", None, limit=None, kind="angle", verdict=OK,
            advice="plain wall: turned or bored", source=source,
        )
    if design.ribs.side == "outside":
        return MoldCheck(
            "tool access", None, limit=None, kind="angle", verdict=OK,
            advice="one set-up between centers, turned under the tool by a rotary axis",
            source=source,
        )
    if design.tube.segments == 1:
        return MoldCheck(
            "tool access", None, limit=None, kind="angle", verdict=FAILS,
            advice=("no straight tool reaches pockets inside a closed tube: ribs.side = 'outside', "
            "tube.segments = 2 or more, or an angle head with a shop that has one"),
            source=source,
        )
    return MoldCheck(
        "tool access", None, limit=None, kind="angle",
        verdict=OK if design.tube.segments > 2 else CAUTION,
        advice=("from inside, turned under the tool by a rotary axis" + (
            "" if design.tube.segments > 2 else
            "; next to the seams of a half shell the tool passes close over the opposite edge")),
        source=source,
    )


def require_possible(design: Design, mold: Mold) -> None:
    """Refuse what can't be made directly whatever its sizes.

    Raises:
        InputError: naming the field.
    """
    if mold.process == "machine-part" and design.has_ribs and design.ribs.side == "inside" and (
            design.tube.segments == 1):
        raise InputError(
            "tube.segments: 1 with ribs inside can't be milled, no straight tool reaches the "
            "pockets; set tube.segments = 2 or more, or ribs.side = 'outside'"
        )
    if mold.direct and design.tube.segments == 1:
        if float(design.tube.seam_land) > 0:
            raise InputError(
                "tube.seam_land: a tube in one piece (tube.segments = 1) has no seam; must be "
                "'0 mm'"
            )
        if mold.cutout:
            raise InputError(
                "mold.cutout: cut-outs are not made in a tube in one piece; cut them afterwards, "
                "or set tube.segments = 2 or more"
            )
