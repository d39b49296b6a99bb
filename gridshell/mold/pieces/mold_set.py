"""All the pieces a maker needs for one design: castings, mold halves, mandrel and end ring."""

from __future__ import annotations

import functools
import itertools
import math
from collections.abc import Callable, Mapping
from dataclasses import dataclass, field
from typing import Any

import numpy as np

from gridshell.define.constants import ROOM_TEMPERATURE
from gridshell.define.errors import InputError
from gridshell.define.tables.design import Design
from gridshell.define.tables.mold import Mold, mold_of
from gridshell.mold.checks.castable import cast_refusal, known_material
from gridshell.mold.checks.direct import require_possible
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
from gridshell.mold.pieces.layout import (
    Layout,
    fits_upright,
    layout,
    longest_piece,
    reduced_holes,
    splits,
)
from gridshell.mold.pieces.lettering import Plate, engraved
from gridshell.mold.pieces.mandrel import mandrel_length, mandrel_radius, mandrel_solid, ring_solid
from gridshell.mold.pieces.oriented import as_made
from gridshell.mold.relief.families import castable_ribs, pocket_kinds
from gridshell.mold.relief.ribbing import Ribbing, clean_planes, islands, ribbing
from gridshell.wall.geometry.lattice import Lattice, lattice

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
    quantity: int = 1
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
        plan: sizes of the mold halves (of the part alone where it is made directly), mm.
        ribs: pockets of each kind of casting, by its name.
        cast_segments: kinds of cast segment and where each is used.
        planes: where the halves are split, mm.
        notes: what the maker must know.
        failed: pieces that could not be made, with the reason.
    """

    design: Design
    mold: Mold
    grid: Lattice
    shrinkage: float
    pieces: tuple[MoldPiece, ...]
    plan: Layout
    ribs: dict[str, Ribbing]
    cast_segments: tuple[CastSegment, ...]
    planes: tuple[float, ...] = ()
    notes: tuple[str, ...] = ()
    failed: Mapping[str, str] = field(default_factory=dict)

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
    """Build every piece of a design's molds, or the parts alone where they are made directly.

    Args:
        design: one design (not an array).
        mold: instead of its ``[mold]`` table.
        progress: called with a line of text at each step.

    Raises:
        InputError: the design can't be made as stated; the message says what to change.
    """
    builder = _Builder(design, mold_of(design) if mold is None else mold, progress)
    pieces = builder.parts()
    if not builder.mold.direct:
        pieces += [*builder.halves(), *builder.joining()]
    return MoldSet(
        builder.design, builder.mold, grid=builder.grid, shrinkage=builder.shrinkage, pieces=tuple(pieces),
        plan=builder.plan, ribs=builder.ribs, cast_segments=tuple(builder.kinds),
        planes=builder.planes, notes=tuple(builder.notes), failed=builder.failed,
    )


def piece_names(design: Design, mold: Mold) -> list[str]:
    """Names of the pieces that `build_molds` would make, without making them.

    Args:
        design: one design (no arrays).
        mold: the `[mold]` table.

    Raises:
        InputError: as `build_molds`.
    """
    builder = _Builder(design, mold, None)
    names = [f"part{_suffix(kind)}" for kind in builder.kinds]
    if mold.direct:
        return names
    for role in ("core", "cavity"):
        for kind in builder.kinds_of(role):
            names += [name for name, _, _ in builder.half_pieces(role, kind)]
    return [*names, *builder.mandrel_names(), "end-ring"]


class _Builder:
    """One run of building; keeps what the pieces share."""

    def __init__(self, design: Design, mold: Mold, progress: Progress | None) -> None:
        design = castable_ribs(design)
        self.design, self.mold, self.grid = design, mold, lattice(design)
        self.say = progress or (lambda line: None)
        self.failed: dict[str, str] = {}
        self.planes: tuple[float, ...] = ()
        self.clean = True
        self.inside = design.ribs.side == "inside"
        self.bed = None if mold.bed is None else [side * 1e3 for side in mold.bed]
        _refuse_impossible(design, mold)
        self.say("laying out the rib pattern")
        self.kinds = cast_segments(
            design, self.grid, mold.cutout, pocket_kinds(design, self.grid))
        self.ribs = {kind.name: ribbing(design, self.grid, kind.cutouts) for kind in self.kinds}
        self.shrinkage, source = (0.0, "") if mold.direct else shrinkage_of(design, mold)
        self.notes = [] if mold.direct else [f"linear shrinkage {self.shrinkage:.2%} from {source}"]
        for name, found in self.ribs.items():
            self.notes += [f"{name}: {note}" if name else note for note in found.notes]
        self.scale = 1e3 / (1 - self.shrinkage)
        self.plan = layout(design, mold, self.scale)
        if not mold.direct:
            self.notes += reduced_holes(design, mold)
            self._split()

    def _split(self) -> None:
        """Where the halves are split for the bed: along ribs if that can be."""
        clean = [clean_planes(found, self.scale) for found in self.ribs.values()]
        shared = clean[0]
        for other in clean[1:]:
            shared = shared[[bool(np.isclose(other, x).any()) for x in shared]]
        self.planes, self.clean = splits(self.plan, self.bed, self.mold.key_length * 1e3, shared)
        if self.planes:
            self.notes.append(
                f"halves split at x = {', '.join(f'{x:.1f}' for x in self.planes)} mm"
                + ("" if self.clean else ", through pockets: no plane across meets ribs only")
            )
        self._say_what_stands_on_end()

    def _say_what_stands_on_end(self) -> None:
        """Pieces that fit the bed only in another way than they are best printed."""
        if self.bed is None or self.mold.process != "print":
            return
        edges = [self.plan.start, *self.planes, self.plan.end]
        longest = max(b - a for a, b in itertools.pairwise(edges))
        if self.planes:
            longest += self.mold.key_length * 1e3
        rods = self._mandrel_edges()
        sizes = lying_sizes(self.plan, self.design, self.mold, longest, rods[1] - rods[0])
        ways = {"core": "on its underside", "cavity": "bore up", "mandrel": "upright",
                "end-ring": "flat"}
        for name, (long, wide, high) in sizes.items():
            if fits_upright(self.bed, (long, wide), high):
                continue
            shown = f"{name}: {long:.0f} x {wide:.0f} x {high:.0f} mm does not fit mold.bed "
            if longest_piece(self.bed, wide, high) >= long:
                self.notes.append(f"{shown}{ways[name]}, as it prints best; turn it")
            else:
                self.notes.append(f"{shown}any way up; use a larger bed or stock of that size")

    def parts(self) -> list[MoldPiece]:
        """The castings at their finished size."""
        true = layout(self.design, self.mold, 1e3)
        pieces = []
        for kind in self.kinds:
            self.say(f"part{_suffix(kind)}: {self.ribs[kind.name].count} pockets")
            name = f"part{_suffix(kind)}"

            def made(kind: CastSegment = kind) -> Any:
                laid = islands(self.design, self.grid, self.ribs[kind.name], 1e3, through=True)
                solid = part_solid(true, laid, self.mold)
                if self.mold.direct:
                    return as_made(solid, true, self.mold.process)
                return solid

            pieces += self._piece(
                name, "part", made, quantity=len(kind.places), casting=kind.name,
                span=(0.0, true.length), ribbed=True,
            )
        return pieces

    def _piece(
        self, name: str, role: str, made: Callable[[], Any], **about: Any
    ) -> list[MoldPiece]:
        """The piece, or none: one that the kernel can't make leaves the others as they are."""
        try:
            return [MoldPiece(name, role, made(), **about)]
        except _kernel_errors() as error:
            self.failed[name] = str(error) or type(error).__name__
            return []

    def halves(self) -> list[MoldPiece]:
        """Core and cavity, split where the bed asks for it."""
        pieces = []
        for role in ("core", "cavity"):
            for kind in self.kinds_of(role):
                pieces += self._half(role, kind)
        return pieces

    def kinds_of(self, role: str) -> list[CastSegment]:
        """The cast segments that need a half of their own; the smooth half fits every one."""
        return self.kinds if self._is_ribbed(role) else self.kinds[:1]

    def _is_ribbed(self, role: str) -> bool:
        return (role == "core") == self.inside

    def half_pieces(self, role: str, kind: CastSegment) -> list[tuple[str, str, Span]]:
        """Name, engraved label and span of each piece of a half."""
        parts = spans(self.plan, self.planes)
        stem = f"{role}{_suffix(kind) if self._is_ribbed(role) else ''}"
        if len(parts) == 1:
            return [(stem, stem, parts[0])]
        return [(f"{stem}-{number}", f"{stem}-{number} of {len(parts)}", span)
                for number, span in enumerate(parts, start=1)]

    def _half(self, role: str, kind: CastSegment) -> list[MoldPiece]:
        make = core_solid if role == "core" else cavity_solid
        ribbed = self._is_ribbed(role)
        pieces = []
        for name, label, span in self.half_pieces(role, kind):
            self.say(f"{name}: block, flanges{' and ribs' if ribbed else ''}")

            def made(span: Span = span, label: str = label) -> Any:
                solid = make(self.plan, self.mold, span)
                if ribbed:
                    solid = self._with_ribs(solid, make, kind, span)
                return self._engraved(solid, self._plate(role, span), label)

            pieces += self._piece(
                name, role, made, casting=kind.name if ribbed else "",
                span=(span.start, span.end), ribbed=ribbed,
            )
        return pieces

    def _engraved(self, solid: Any, plate: Plate, label: str) -> Any:
        depth = self.mold.engraving_depth * 1e3
        try:
            return engraved(solid, plate, self._lines(label), self.mold.engraving * 1e3, depth)
        except _kernel_errors() as error:
            self.notes.append(f"{label}: no text is engraved ({error}); mark the piece by hand")
            return solid

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
            return Plate(
                2, -1, height=plan.bottom, center=(middle, 0.0, plan.bottom), along=(1, 0, 0),
                up=(0, -1, 0), room=room,
            )
        return Plate(
            2, 1, height=plan.top, center=(middle, 0.0, plan.top), along=(1, 0, 0), up=(0, 1, 0),
            room=room,
        )

    def _lines(self, label: str) -> list[str]:
        # Of "kind of thing: which one" the second half tells molds apart.
        title = self.design.title.partition(":")[2].strip() or self.design.title
        title = title if len(title) <= LONGEST_TITLE else title[:LONGEST_TITLE - 3].rstrip() + "..."
        return [
            title, f"{self.design.material.name}  x{self.scale / 1e3:.4f}", label.upper(),
        ]

    def _mandrel_edges(self) -> list[float]:
        """Where the mandrel is split for the bed, mm."""
        whole = mandrel_length(self.design, self.mold)
        count = 1
        if self.bed is not None:
            across = 2 * mandrel_radius(self.design, self.mold)
            most = longest_piece(self.bed, across, across)
            if most > 0:
                count = math.ceil(whole / most)
        return [whole * i / count for i in range(count + 1)]

    def mandrel_names(self) -> list[str]:
        """Names of the mandrel's pieces."""
        count = len(self._mandrel_edges()) - 1
        return ["mandrel"] if count == 1 else [f"mandrel-{i + 1}" for i in range(count)]

    def joining(self) -> list[MoldPiece]:
        """Mandrel and end ring."""
        self.say("mandrel and end ring")
        design, mold = self.design, self.mold
        pieces = []
        edges = itertools.pairwise(self._mandrel_edges())
        for name, span in zip(self.mandrel_names(), edges, strict=True):
            pieces += self._piece(
                name, "mandrel", functools.partial(mandrel_solid, design, mold, *span), span=span)
        return pieces + self._piece(
            "end-ring", "ring", functools.partial(ring_solid, design, mold), quantity=2)


def lying_sizes(
    plan: Layout, design: Design, mold: Mold, longest: float, mandrel: float
) -> dict[str, tuple[float, float, float]]:
    """Length, width and height of each kind of piece in the orientation to print it, mm.

    Args:
        plan: sizes of the halves, mm.
        design: one design (no arrays).
        mold: the `[mold]` table.
        longest: of the pieces of a half along x, mm.
        mandrel: longest piece of the mandrel, mm.
    """
    across = 2 * mandrel_radius(design, mold)
    ring = float(design.tube.outside_diameter) * 1e3 + 2 * mold.ring_wall * 1e3
    core = (plan.floor if plan.base == plan.inner else plan.inner) - plan.bottom
    return {
        "core": (longest, 2 * plan.half_width, core),
        "cavity": (longest, 2 * plan.half_width, plan.top - plan.parting),
        "mandrel": (across, across, mandrel),
        "end-ring": (ring, ring, (mold.ring_wall + mold.ring_height) * 1e3),
    }


def _refuse_impossible(design: Design, mold: Mold) -> None:
    """Refuse what no piece can be made of, before any work.

    Raises:
        InputError: naming the field.
    """
    if not mold.direct:
        refusal = cast_refusal(mold, known_material(design, ROOM_TEMPERATURE))
        if refusal is not None:
            raise InputError(refusal)
    require_possible(design, mold)
    if design.tube.segments < 2 and not mold.direct:
        raise InputError(
            "tube.segments: 1 has no seam, so the ribs lock a one-piece tube on its core; set "
            "segments = 2 or more to cast shells that are bonded, or mold.process = 'print-part' "
            "or 'machine-part' to make the tube itself"
        )


def _kernel_errors() -> tuple[type[Exception], ...]:
    """What the kernel, or our use of it, raises when a solid can't be made."""
    from OCP.Standard import Standard_Failure

    return (RuntimeError, Standard_Failure)


def _suffix(kind: CastSegment) -> str:
    return f"-{kind.name}" if kind.name else ""


def describe(mold_set: MoldSet) -> dict[str, Any]:
    """Main sizes in SI, for the table and JSON.

    Args:
        mold_set: every piece of a design.
    """
    plan = None if mold_set.mold.direct else mold_set.plan
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


