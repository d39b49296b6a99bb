"""The three-dimensional scene of a design: bodies, and where copies of them stand."""

from __future__ import annotations

import math

from gridshell.define.constants import DIRECT_PROCESSES
from gridshell.define.errors import InputError
from gridshell.define.tables.design import Design
from gridshell.define.tables.mold import mold_of
from gridshell.explore.scene.buckle import tube_dimensions
from gridshell.explore.scene.halves import mold_halves
from gridshell.explore.scene.shape import casting
from gridshell.explore.serve.packing import packed
from gridshell.mold.checks.release.flanks import out_of_mold
from gridshell.mold.checks.release.undercut import CLEAR
from gridshell.mold.pieces.mold_set import COLORS
from gridshell.wall.geometry.lattice import lattice

_MOST_COPIES = 120  # castings drawn; a longer tube is cut short


def scene(design: Design, mold: bool = True) -> bytes:
    """The light mesh of a design, packed for the page (see `gridshell.explore.serve.packing`).

    Bodies: ``ribbed``, ``ribbed-1``... and ``rest`` are one casting, of which the numbered ones
    are pockets that stand at many places; ``closed`` stands for all of them where they are too many
    to be drawn; ``core`` and ``cavity`` are the mold's halves, open where
    the ribbed side of the casting lies against them. Head: ``copies`` (angle, shift) of the casting
    in the tube; ``growth`` of the mold; ``grooved`` half; ``pull``, the way out of it along z.

    Args:
        design: one design.
        mold: whether the halves are wanted; they take a third of the time.
    """
    grid = lattice(design)
    part = casting(design, grid)
    bodies = {"rest": part.rest} | ({"ribbed": part.lands} if len(part.lands.points) else {})
    if part.drawn:
        bodies["closed"] = part.closed
    places = {}
    for number, kind in enumerate(part.pockets, start=1):
        bodies[f"ribbed-{number}"] = kind.mesh
        places[f"ribbed-{number}"] = kind.places
    notes = list(part.notes)
    grow = 1.0
    try:
        process = mold_of(design).process
        if process in DIRECT_PROCESSES:
            notes.append(f"no mold: the part itself is made (mold.process {process!r})")
        elif mold:
            halves, grow = mold_halves(design)
            bodies |= halves
    except InputError as error:
        notes.append(f"no mold: {error}")
    length, segments = float(design.section_length) * 1e3, design.tube.segments
    sections = max(1, min(design.tube.sections, _MOST_COPIES // segments))
    if sections < design.tube.sections:
        notes.append(f"{sections} of {design.tube.sections} sections are drawn")
    copies = [
        [segment * 2 * math.pi / segments, section * length]
        for section in range(sections) for segment in range(segments)
    ]
    return packed(bodies, {
        "pull": out_of_mold(design),
        "copies": copies, "length": length, "growth": grow,
        "grooved": "core" if design.ribs.side == "inside" else "cavity",
        "segments": segments, "pockets": part.drawn, "notes": notes, "roles": {},
        "colors": COLORS,
        "clear": CLEAR, "dimensions": tube_dimensions(design),
    }, places)
