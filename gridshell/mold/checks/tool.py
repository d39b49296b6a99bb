"""Making the mold: grooves against the milling tool, thin blocks against the printer's nozzle."""

from __future__ import annotations

import math

import numpy as np

from gridshell.define.tables.design import Design
from gridshell.define.tables.mold import Mold
from gridshell.mold.checks.release.undercut import Undercut
from gridshell.mold.checks.result import CAUTION, COMMON, FAILS, OK, MoldCheck, least, most
from gridshell.mold.relief.ribbing import Ribbing
from gridshell.wall.geometry.lattice import Lattice
from gridshell.wall.geometry.mass import at_radius, pocket_outline_at
from gridshell.wall.geometry.pockets import inscribed_radius

LINES_IN_BLOCK = 4  # printed lines across the thinnest block: a wall on both sides, filled
LINES_IN_GROOVE = 2  # narrower grooves close up with stringing
SLENDER = 3.0  # height over width above which a printed block snaps off in demolding


def block_widths(design: Design, grid: Lattice, ribs: Ribbing) -> list[tuple[str, float]]:
    """Width of the block that forms each kind of pocket at its top, m: the circle it holds.

    The top is the pocket's floor at the skin, where the block is narrowest."""
    found = []
    for group in ribs.pockets:
        radius, inset, _ = (float(v) for v in pocket_outline_at(design, grid, 0.0))
        flat = at_radius(group.corners[:1], radius, grid.radius)
        found.append((group.name, 2 * (float(np.asarray(inscribed_radius(flat))[0]) - inset)))
    return found


def reach_ratio(depth: float, tool_diameter: float) -> float:
    """Depth that a tool must cut over its diameter.

    Args:
        depth: m.
        tool_diameter: m.

    >>> reach_ratio(6e-3, 2e-3)
    3.0
    """
    return depth / tool_diameter


def making_checks(
    design: Design, grid: Lattice, mold: Mold, ribs: Ribbing, found: Undercut, scale: float
) -> tuple[MoldCheck, ...]:
    """Checks of the process stated: milling or printing.

    Args:
        design: one design (no arrays).
        grid: its lattice.
        mold: the `[mold]` table.
        ribs: its pockets as molded.
        found: its undercut.
        scale: size of the mold over that of the part (shrinkage).
    """
    if not design.has_ribs:
        return ()
    if mold.process == "mill":
        return _milled(design, mold, ribs, found, scale)
    return _printed(design, grid, mold, ribs, scale)


def _milled(
    design: Design, mold: Mold, ribs: Ribbing, found: Undercut, scale: float
) -> tuple[MoldCheck, ...]:
    tool, width = float(mold.tool_diameter), float(design.ribs.width) * scale
    depth = float(design.ribs.height) * scale
    ratio, limit = reach_ratio(depth, tool), float(mold.casting.tool_reach)
    draft = math.degrees(float(design.ribs.draft))
    fits = FAILS if tool > width else OK
    checks = [MoldCheck(
        "tool in the grooves", tool, limit=width, kind="length", verdict=fits,
        advice=("the tool enters the groove" if fits == OK else
        f"the groove is {width * 1e3:.2f} mm wide at its bottom: a tool up to that, or wider ribs"),
        source="plane geometry", notes=("tool diameter against the width of the groove's bottom",),
    )]
    deepest = "reaches the bottom of the groove" if ratio <= limit else (
        f"too slender: it chatters and breaks; ribs up to {limit * tool / scale * 1e3:.1f} mm "
        "high, or a wider groove for a thicker tool")
    checks.append(MoldCheck(
        "tool reach", ratio, limit=limit, kind="ratio", verdict=most(ratio, limit, near=1.0),
        advice=deepest, source=COMMON,
        notes=(f"groove depth {depth * 1e3:.2f} mm over tool diameter; limit: casting.tool_reach",),
    ))
    checks.append(_radii(design, tool, ribs))
    flat = found.start is None
    inside = design.ribs.side == "outside"
    if inside:
        how, verdict = ("grooves inside a hollow half: near the parting no straight tool reaches "
                        "them; print or cast the cavity instead", CAUTION)
        if design.tube.segments > 2:
            how = ("grooves inside a hollow piece: check that holder and spindle clear its edges")
    elif flat:
        how, verdict = "every groove is open to a tool along the pull: three axes do", OK
    else:
        how, verdict = (f"grooves beyond {math.degrees(found.start or 0.0):.0f} deg from the crown "
                        "need the core turned under the tool (a rotary axis)", CAUTION)
    notes = (f"flanks lean {draft:.3g} deg: a tapered tool of that angle, flat at its end, because "
             "the bottom edge of a groove is sharp",)
    checks.append(MoldCheck(
        "milling access", found.start, limit=None, kind="angle", verdict=verdict, advice=how,
        source="normals of the flanks; see the undercut", notes=notes,
    ))
    return tuple(checks)


def _radii(design: Design, tool: float, ribs: Ribbing) -> MoldCheck:
    """Inside radii in plan: grooves run between blocks, whose corners are outside corners."""
    radii = [c.stated.corner_radius for c in ribs.cutouts if c.stated.shape == "rectangle"]
    radii += [c.stated.diameter / 2 for c in ribs.cutouts if c.stated.shape == "round"]
    name = "inside radii against the tool"
    if not radii:
        return MoldCheck(
            name, None, limit=tool / 2, kind="length", verdict=OK,
            advice="none to cut: pocket corners are outside corners of the blocks between grooves",
            source=COMMON,
        )
    smallest = float(min(radii))
    # In the molds a cut-out is a closed island too, so the tool goes round it.
    return MoldCheck(
        name, smallest, limit=tool / 2, kind="length", verdict=OK,
        advice=(
            "windows are islands in the mold: the tool runs round them, so their corner radius may "
            "be smaller than the tool's"),
        source=COMMON,
    )


def _printed(
    design: Design, grid: Lattice, mold: Mold, ribs: Ribbing, scale: float
) -> tuple[MoldCheck, ...]:
    line = float(mold.casting.line_width)
    groove = float(design.ribs.width) * scale
    checks = [MoldCheck(
        "printed groove", groove, limit=LINES_IN_GROOVE * line, kind="length",
        verdict=least(groove, LINES_IN_GROOVE * line),
        advice=("wide enough to stay open" if groove >= LINES_IN_GROOVE * line
        else "closes up while printing: wider ribs or a finer nozzle"),
        source=COMMON, notes=(f"{LINES_IN_GROOVE} line widths",),
    )]
    widths = block_widths(design, grid, ribs)
    if not widths:
        return tuple(checks)
    name, narrow = min(widths, key=lambda row: row[1])
    narrow *= scale
    limit = LINES_IN_BLOCK * line
    verdict = least(narrow, limit)
    slender = float(design.ribs.height) * scale / narrow
    advice = f"the block of the {name} pocket is {narrow * 1e3:.1f} mm wide at its top"
    if verdict == FAILS:
        advice += (": it prints as a loop or not at all; leave such pockets solid "
                   "(ribs.smallest_pocket) or space the ribs wider")
    elif slender > SLENDER:
        verdict = CAUTION
        advice += f" and {slender:.1f} times as high: it snaps off when the part is pulled"
    checks.append(MoldCheck(
        "thin blocks in print", narrow, limit=limit, kind="length", verdict=verdict, advice=advice,
        source=COMMON,
        notes=(
            f"{LINES_IN_BLOCK} line widths of {line * 1e3:g} mm; blocks higher than {SLENDER:g} "
            "times their width are slender",),
        details={"height_over_width": slender,
                                       "by_pocket": dict(_scaled(widths, scale))},
    ))
    radius = min(float(g.corner_radius) for g in ribs.pockets)
    checks.append(MoldCheck(
        "corners in print", radius * scale, limit=line / 2, kind="length",
        verdict=OK if radius * scale >= line / 2 else CAUTION,
        advice=("corners come out as drawn" if radius * scale >= line / 2
        else "corners come out with the radius of half a printed line"),
        source=COMMON,
    ))
    return tuple(checks)


def _scaled(widths: list[tuple[str, float]], scale: float) -> list[tuple[str, float]]:
    smallest: dict[str, float] = {}
    for name, width in widths:
        smallest[name] = float(np.minimum(smallest.get(name, np.inf), width * scale))
    return list(smallest.items())
