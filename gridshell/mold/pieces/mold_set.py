"""All the pieces a maker needs for one design: castings, mold halves, mandrel and end ring."""

from __future__ import annotations

import math
from collections.abc import Callable
from dataclasses import dataclass, field
from typing import Any

import numpy as np

from gridshell.define.constants import ROOM_TEMPERATURE
from gridshell.define.errors import InputError
from gridshell.define.tables.design import Design
from gridshell.define.tables.mold import Mold, mold_of
from gridshell.mold.pieces.block import combined
from gridshell.mold.pieces.cutouts import CastSegment, cast_segments
from gridshell.mold.pieces.halves import (
    Span,
    cavity_solid,
    core_solid,
    gate_diameter,
    part_solid,
    relieved,
    spans,
)
from gridshell.mold.pieces.layout import Layout, layout, longest_piece, splits
from gridshell.mold.pieces.lettering import Plate, engraved
from gridshell.mold.pieces.mandrel import mandrel_length, mandrel_radius, mandrel_solid, ring_solid
from gridshell.mold.relief.ribbing import Ribbing, clean_planes, islands, ribbing
from gridshell.wall.geometry.lattice import Lattice, lattice
from gridshell.wall.geometry.pattern import panel_pockets

Progress = Callable[[str], None]
LONGEST_TITLE = 36  # letters engraved
ROLES = ("part", "core", "cavity", "mandrel", "ring")
# Muted and far apart in lightness, so that they can be told apart in gray too.
COLORS = {
    "part": (0.93, 0.78, 0.45), "core": (0.38, 0.52, 0.68), "cavity": (0.70, 0.75, 0.78),
    "mandrel": (0.45, 0.60, 0.45), "ring": (0.72, 0.50, 0.48),
}


@dataclass(frozen=True)
class MoldPiece:
    """One solid to print, mill or look at.

    Attributes:
        name: file name without ending, such as ``core-1``.
        role: part, core, cavity, mandrel or ring.
        solid: kernel solid in mm, in the place where it works; the tube's axis is x.
        quantity: how many the tube needs.
        casting: name of the casting it is for; "" for the plain one.
        span: (start, end) along x, mm.
        ribbed: whether it carries the ribs.
    """

    name: str
    role: str
    solid: Any
    quantity: int
    casting: str = ""
    span: tuple[float, float] = (0.0, 0.0)
    ribbed: bool = False

    @property
    def color(self) -> tuple[float, float, float]:
        """Red, green, blue from 0 to 1."""
        return COLORS[self.role]


@dataclass(frozen=True)
class MoldSet:
    """The pieces and the exact geometry that they were made from.

    Attributes:
        design: what was asked for.
        mold: its `[mold]` table.
        grid: its rib pattern.
        shrinkage: linear, (mold - part)/mold; factor: mold over part, 1/(1 - shrinkage).
        pieces: castings first, then mold halves, mandrel and ring.
        plan: sizes of the mold halves, mm; None for a tube without seams.
        ribs: pockets of each kind of casting, by its name.
        cast_segments: kinds of cast segment and where each is used.
        planes: where the halves are split, mm.
        notes: what the maker must know.
    """

    design: Design
    mold: Mold
    grid: Lattice
    shrinkage: float
    pieces: tuple[MoldPiece, ...]
    plan: Layout | None
    ribs: dict[str, Ribbing]
    cast_segments: tuple[CastSegment, ...]
    planes: tuple[float, ...] = ()
    notes: tuple[str, ...] = field(default=())

    @property
    def factor(self) -> float:
        """Length of the mold over that of the part."""
        return 1 / (1 - self.shrinkage)

    def piece(self, name: str) -> MoldPiece:
        """The piece of a name.

        Args:
            name: of the piece.

        Raises:
            KeyError: there is none.
        """
        for piece in self.pieces:
            if piece.name == name:
                return piece
        raise KeyError(name)


def shrinkage_of(design: Design, mold: Mold) -> tuple[float, str]:
    """Linear mold shrinkage and where it is from.

    (mold - part)/mold, as ISO 294-4 defines molding shrinkage (from memory).

    Args:
        design: one design (no arrays).
        mold: the `[mold]` table.
    """
    if mold.shrinkage is not None:
        return float(mold.shrinkage), "mold.shrinkage"
    from gridshell.material.resolve import properties

    found = properties(design.material, design.folder, ROOM_TEMPERATURE).shrinkage
    if found is None:
        return 0.0, "not known for the material: 0; set mold.shrinkage"
    return float(found), f"material {design.material.name}"


def build_molds(
    design: Design, mold: Mold | None = None, progress: Progress | None = None
) -> MoldSet:
    """Build every piece of a design's molds.

    Args:
        design: one design (not an array).
        mold: instead of its ``[mold]`` table.
        progress: called with a line of text at each step.

    Raises:
        InputError: the design can't be molded as stated; the message says what to change.
    """
    mold = mold_of(design) if mold is None else mold
    say = progress or (lambda line: None)
    grid = lattice(design)
    say("laying out the rib pattern")
    kinds = cast_segments(design, grid, mold.cutout, panel_pockets(grid) if design.has_ribs else [])
    ribs = {kind.name: ribbing(design, grid, kind.cutouts) for kind in kinds}
    shrinkage, source = shrinkage_of(design, mold)
    notes = [f"linear shrinkage {shrinkage:.2%} from {source}"]
    for name, found in ribs.items():
        notes += [f"{name}: {note}" if name else note for note in found.notes]
    if design.tube.segments < 2:
        raise InputError(
            "tube.segments: 1 has no seam, so the ribs lock a one-piece tube on its core and no "
            "mold in halves is possible; set segments = 2 or more to cast shells that are bonded, "
            "or machine the barrel from a tube or rolled plate"
        )
    job = _Builder(
        design, mold, grid, ribs, kinds, scale=1e3 / (1 - shrinkage), say=say, notes=notes
    )
    pieces = [*job.parts(), *job.halves(), *job.joining()]
    return MoldSet(
        design, mold, grid, shrinkage, tuple(pieces), job.plan, ribs, tuple(kinds),
        job.planes, tuple(notes),
    )


class _Builder:
    """One run of building; keeps what the pieces share."""

    def __init__(
        self, design: Design, mold: Mold, grid: Lattice, ribs: dict[str, Ribbing],
        kinds: list[CastSegment], *, scale: float, say: Progress, notes: list[str],
    ) -> None:
        self.design, self.mold, self.grid = design, mold, grid
        self.ribs, self.kinds, self.scale, self.say = ribs, kinds, scale, say
        self.plan = layout(design, mold, scale)
        self.bed = None if mold.bed is None else [side * 1e3 for side in mold.bed]
        clean = [clean_planes(found, scale) for found in ribs.values()]
        shared = clean[0]
        for other in clean[1:]:
            shared = shared[[bool(np.isclose(other, x).any()) for x in shared]]
        self.planes, self.clean = splits(self.plan, self.bed, mold.key_length * 1e3, shared)
        self.inside = design.ribs.side == "inside"
        self.notes = notes
        if self.planes:
            notes.append(
                f"halves split at x = {', '.join(f'{x:.1f}' for x in self.planes)} mm"
                + ("" if self.clean else ", through pockets: no plane across meets ribs only")
            )

    def parts(self) -> list[MoldPiece]:
        """The castings at their finished size."""
        true = layout(self.design, self.mold, 1e3)
        pieces = []
        for kind in self.kinds:
            self.say(f"part{_suffix(kind)}: {self.ribs[kind.name].count} pockets")
            laid = islands(self.design, self.grid, self.ribs[kind.name], 1e3, through=True)
            pieces.append(MoldPiece(
                f"part{_suffix(kind)}", "part", part_solid(true, laid, self.mold),
                len(kind.places), kind.name, (0.0, true.length), True,
            ))
        return pieces

    def halves(self) -> list[MoldPiece]:
        """Core and cavity, split where the bed asks for it."""
        pieces = []
        for role in ("core", "cavity"):
            ribbed = (role == "core") == self.inside
            # The smooth half is the same for every casting.
            for kind in self.kinds if ribbed else self.kinds[:1]:
                pieces += self._half(role, kind, ribbed)
        return pieces

    def _half(self, role: str, kind: CastSegment, ribbed: bool) -> list[MoldPiece]:
        make = core_solid if role == "core" else cavity_solid
        pieces = []
        parts = spans(self.plan, self.planes)
        for number, span in enumerate(parts, start=1):
            name = f"{role}{_suffix(kind) if ribbed else ''}"
            if len(parts) > 1:
                name += f"-{number}"
            self.say(f"{name}: block, flanges{' and ribs' if ribbed else ''}")
            solid = make(self.plan, self.mold, span)
            if ribbed:
                solid = self._with_ribs(solid, make, kind, span)
            label = name if len(parts) == 1 else f"{name} of {len(parts)}"
            solid = engraved(
                solid, self._plate(role, span), self._lines(label),
                self.mold.engraving * 1e3, self.mold.engraving_depth * 1e3,
            )
            pieces.append(MoldPiece(
                name, role, solid, 1, kind.name if ribbed else "", (span.start, span.end), ribbed
            ))
        return pieces

    def _with_ribs(self, block: Any, make: Any, kind: CastSegment, span: Span) -> Any:
        found = self.ribs[kind.name]
        if self.clean:
            laid = islands(self.design, self.grid, found, self.scale, through=False,
                           span=(span.start, span.end))
            return relieved(block, self.plan, laid, self.mold)
        # A joint through pockets: the whole half is laid, then cut where the joints are.
        laid = islands(self.design, self.grid, found, self.scale, through=False)
        everything = Span(self.plan.start, self.plan.end, False, False)
        whole = relieved(
            make(self.plan, self.mold, everything, features=False), self.plan, laid, self.mold
        )
        return combined("common", whole, [block])

    def _plate(self, role: str, span: Span) -> Plate:
        plan = self.plan
        margin = 4.0
        room = (span.end - span.start - 2 * margin, 2 * (plan.shoulder - margin))
        middle = (span.start + span.end) / 2
        if role == "core":
            room = (room[0], 2 * (plan.fastener - max(self.mold.screw_diameter,
                                                      self.mold.dowel_diameter) * 1e3))
            return Plate(2, -1, plan.bottom, (middle, 0.0, plan.bottom), (1, 0, 0), (0, -1, 0),
                         room)
        return Plate(2, 1, plan.top, (middle, 0.0, plan.top), (1, 0, 0), (0, 1, 0), room)

    def _lines(self, label: str) -> list[str]:
        # Of "kind of thing: which one" the second half tells molds apart.
        title = self.design.title.partition(":")[2].strip() or self.design.title
        title = title if len(title) <= LONGEST_TITLE else title[:LONGEST_TITLE - 3].rstrip() + "..."
        return [
            title, f"{self.design.material.name}  x{self.scale / 1e3:.4f}", label.upper(),
        ]

    def joining(self) -> list[MoldPiece]:
        """Mandrel and end ring."""
        self.say("mandrel and end ring")
        design, mold = self.design, self.mold
        whole, radius = mandrel_length(design, mold), mandrel_radius(design, mold)
        count = 1
        if self.bed is not None:
            most = longest_piece(self.bed, 2 * radius, 2 * radius)
            if most <= 0:
                self.notes.append(
                    f"the mandrel, {2 * radius:.0f} mm across, does not fit mold.bed; turn it or "
                    f"use a tube of that size"
                )
            else:
                count = math.ceil(whole / most)
        edges = [whole * i / count for i in range(count + 1)]
        pieces = [
            MoldPiece(
                "mandrel" if count == 1 else f"mandrel-{i + 1}", "mandrel",
                mandrel_solid(design, mold, edges[i], edges[i + 1]), 1, "",
                (edges[i], edges[i + 1]),
            )
            for i in range(count)
        ]
        pieces.append(MoldPiece("end-ring", "ring", ring_solid(design, mold), 2))
        return pieces


def _suffix(kind: CastSegment) -> str:
    return f"-{kind.name}" if kind.name else ""


def describe(mold_set: MoldSet) -> dict[str, Any]:
    """Main sizes in SI, for the table and JSON.

    Args:
        mold_set: every piece of a design.
    """
    plan = mold_set.plan
    result: dict[str, Any] = {
        "shrinkage": mold_set.shrinkage, "factor": mold_set.factor,
        "pieces": [
            {"name": p.name, "role": p.role, "quantity": p.quantity} for p in mold_set.pieces
        ],
        "pockets": {name or "plain": found.count for name, found in mold_set.ribs.items()},
        "notes": list(mold_set.notes),
    }
    if plan is not None:
        result["gate_diameter"] = gate_diameter(plan, mold_set.mold) * 1e-3
        result["block"] = [
            (plan.end - plan.start) * 1e-3, 2 * plan.half_width * 1e-3,
            (plan.top - plan.bottom) * 1e-3,
        ]
    return result


