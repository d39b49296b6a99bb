"""Building the pieces of one design: castings, mold halves, mandrel and end ring."""

from __future__ import annotations

import functools
import itertools
from collections.abc import Callable, Sequence
from typing import Any

from gridshell.define.constants import ROOM_TEMPERATURE
from gridshell.define.errors import InputError
from gridshell.define.tables.design import Design
from gridshell.define.tables.mold import Mold, mold_of
from gridshell.mold.checks.castable import cast_refusal, known_material
from gridshell.mold.checks.direct import require_possible
from gridshell.mold.checks.filling.gate import completed
from gridshell.mold.checks.release.slides import sliding_pieces
from gridshell.mold.pieces.bed import mandrel_edges, split_planes
from gridshell.mold.pieces.cores.inserts import (
    RUBBER_NAME,
    carried_ring,
    carried_wall,
    insert_growth,
    insert_half,
    recess_radius,
    slid,
)
from gridshell.mold.pieces.cores.mandrel import mandrel_solid, ring_solid
from gridshell.mold.pieces.cores.round_mold import (
    ARBOR,
    CAP,
    LOWER,
    UPPER,
    arbor_solid,
    cap_solid,
    collapsing,
    lower_solid,
)
from gridshell.mold.pieces.cores.sliding import CorePiece, travel
from gridshell.mold.pieces.features.cutouts import CastSegment, cast_segments
from gridshell.mold.pieces.features.lettering import Plate, engraved
from gridshell.mold.pieces.features.pouring import require_room
from gridshell.mold.pieces.halves import cavity_solid, core_solid, part_solid, relieved
from gridshell.mold.pieces.layout import (
    Layout,
    insert_layout,
    layout,
    mold_layout,
    reduced_holes,
    require_end_walls,
)
from gridshell.mold.pieces.mold_set import MoldPiece, MoldSet, shrinkage_of
from gridshell.mold.pieces.oriented import as_made
from gridshell.mold.pieces.solids.booleans import combined
from gridshell.mold.pieces.splitting import Span, spans
from gridshell.mold.relief.faces import Island
from gridshell.mold.relief.families import castable_ribs, pocket_kinds
from gridshell.mold.relief.ribbing import islands, ribbing
from gridshell.wall.geometry.lattice import lattice

Progress = Callable[[str], None]
LONGEST_TITLE = 36  # letters engraved


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
        pieces += builder.round_mold() if builder.closed else [
            *builder.halves(), *builder.carriers()]
        pieces += builder.joining()
    return builder.mold_set(pieces)


def plan_molds(design: Design, mold: Mold | None = None) -> MoldSet:
    """The same without any solid: sizes, pockets and splits, from which sheets can be drawn.

    Args:
        design: one design (not an array).
        mold: instead of its ``[mold]`` table.

    Raises:
        InputError: as `build_molds`.
    """
    return _Builder(design, mold_of(design) if mold is None else mold, None).mold_set(())


def piece_names(design: Design, mold: Mold) -> list[str]:
    """Names of the pieces that `build_molds` would make, without making them.

    Raises:
        InputError: as `build_molds`.
    """
    builder = _Builder(design, mold, None)
    names = [f"part{_suffix(kind)}" for kind in builder.kinds]
    if mold.direct:
        return names
    for role in () if builder.closed else ("core", "cavity"):
        for kind in builder.kinds_of(role):
            names += [name for name, _, _ in builder.half_pieces(role, kind)]
    names += [*((UPPER, LOWER, ARBOR, CAP) if builder.closed else ()), *builder.carrier_names()]
    return [*names, *builder.mandrel_names(), "end-ring"]


class _Builder:
    """One run of building; keeps what the pieces share."""

    def __init__(self, design: Design, mold: Mold, progress: Progress | None) -> None:
        design = castable_ribs(design)
        mold = completed(design, mold)
        self.design, self.mold, self.grid = design, mold, lattice(design)
        self.say = progress or (lambda line: None)
        self.failed: dict[str, str] = {}
        self.planes: tuple[float, ...] = ()
        self.clean = True
        self.core = mold.core if design.has_ribs else "rigid"
        self.core_pieces: tuple[CorePiece, ...] = ()
        self.wall, self.grow = 0.0, 1.0
        self.inside = design.ribs.side == "inside"
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
        self.closed = design.tube.segments == 1 and not mold.direct
        self.plan = mold_layout(design, mold, self.scale)
        if not mold.direct:
            require_room(self.plan, mold)
            require_end_walls(self.plan, mold)
            self.notes += reduced_holes(design, mold)
            self._carry()
            self._split()

    def mold_set(self, pieces: Sequence[MoldPiece]) -> MoldSet:
        """What the pieces share, with those that are made."""
        return MoldSet(
            self.design, self.mold, grid=self.grid, shrinkage=self.shrinkage,
            pieces=tuple(pieces), plan=self.plan, ribs=self.ribs,
            cast_segments=tuple(self.kinds), planes=self.planes, notes=tuple(self.notes),
            failed=self.failed, core_pieces=self.core_pieces,
        )

    def _carry(self) -> None:
        """What carries the ribs: nothing but the rigid half, sliding pieces, or rubber."""
        if self.core == "sliding":
            self.core_pieces = sliding_pieces(
                self.design, self.grid, self.mold, self.ribs[self.kinds[0].name])
        self.wall = carried_wall(self.plan, self.mold, self.design)
        if self.core == "rubber":
            self.grow = insert_growth(self.mold)
            self.notes.append(
                f"insert of {RUBBER_NAME}, {self.wall:.1f} mm under the ribs; its own mold is "
                f"{self.grow:.4f} times as large")
        if self.core_pieces:
            keys = ", ".join(str(piece.number) for piece in self.core_pieces if piece.key)
            self.notes.append(
                f"core in {len(self.core_pieces)} sliding pieces {self.wall:.1f} mm thick; keys "
                f"{keys} go first, each piece moves {travel(self.plan):.1f} mm towards the axis")

    def _split(self) -> None:
        """Where the halves are split for the bed: along ribs if that can be."""
        if self.closed:
            return
        self.planes, self.clean = split_planes(
            self.plan, self.mold, list(self.ribs.values()), self.scale)
        if self.planes:
            self.notes.append(
                f"halves split at x = {', '.join(f'{x:.1f}' for x in self.planes)} mm"
                + ("" if self.clean else ", through pockets: no plane across meets ribs only")
            )

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

    def _carries(self, role: str) -> bool:
        """Whether a half is on the side of the ribs."""
        return (role == "core") == self.inside

    def _is_ribbed(self, role: str) -> bool:
        """Whether a half has the ribs itself."""
        return self.core == "rigid" and self._carries(role)

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
        recess = recess_radius(self.plan, self.mold, self.wall) if self._carries(role) else None
        pieces = []
        for name, label, span in self.half_pieces(role, kind):
            self.say(f"{name}: block, flanges{' and ribs' if ribbed else ''}")

            def made(span: Span = span, label: str = label) -> Any:
                solid = make(self.plan, self.mold, span, recess=recess)
                if ribbed:
                    solid = self._with_ribs(solid, make, kind, span)
                return self._engraved(solid, self._plate(self.plan, role, span), label)

            pieces += self._piece(
                name, role, made, casting=kind.name if ribbed else "",
                span=(span.start, span.end), ribbed=ribbed,
            )
        return pieces

    def round_mold(self) -> list[MoldPiece]:
        """Cavity halves, arbor, cap and sliding pieces of a tube without a seam."""
        plan, mold, span = self.plan, self.mold, (self.plan.start, self.plan.end)
        whole = Span(*span, False, False)
        pieces: list[MoldPiece] = []
        for name, role, make in (
            (UPPER, "cavity", lambda: self._engraved(
                cavity_solid(plan, mold, whole), self._plate(plan, "cavity", whole), UPPER)),
            (LOWER, "core", lambda: lower_solid(plan, mold)),
            (ARBOR, "arbor", lambda: arbor_solid(plan, mold, self.wall)),
            (CAP, "arbor", lambda: cap_solid(plan, self.wall)),
        ):
            self.say(name)
            pieces += self._piece(name, role, make, span=span)
        return pieces + self._slides(self.kinds[0])

    def carrier_names(self) -> list[str]:
        """Names of what carries the ribs in place of a rigid half, and of the mold for it."""
        names = []
        for kind in self.kinds if self.core != "rigid" else []:
            names += [f"core-piece{_suffix(kind)}-{p.number}" for p in self.core_pieces]
            if self.core == "rubber":
                names += [f"insert{_suffix(kind)}", f"{self._insert_half()}{_suffix(kind)}"]
        if self.core == "rubber":
            names.append("insert-core" if self.inside else "insert-cavity")
        return names

    def _insert_half(self) -> str:
        """The half of the insert's mold that has the ribs."""
        return "insert-cavity" if self.inside else "insert-core"

    def carriers(self) -> list[MoldPiece]:
        """Sliding pieces, or the rubber insert and its mold; none for a rigid half."""
        pieces: list[MoldPiece] = []
        for kind in self.kinds if self.core != "rigid" else []:
            pieces += self._slides(kind) if self.core == "sliding" else self._insert(kind)
        if self.core == "rubber":
            smooth = "insert-core" if self.inside else "insert-cavity"
            pieces += self._insert_mold(smooth, None)
        return pieces

    def _laid(self, kind: CastSegment, scale: float) -> list[Island]:
        return islands(self.design, self.grid, self.ribs[kind.name], scale, through=False)

    def _slides(self, kind: CastSegment) -> list[MoldPiece]:
        stem = f"core-piece{_suffix(kind)}"
        self.say(f"{stem}: {len(self.core_pieces)} sliding pieces")
        try:
            make = collapsing if self.closed else slid
            solids = make(
                self.plan, self.mold, self._laid(kind, self.scale), self.wall, self.core_pieces)
        except _kernel_errors() as error:
            self.failed[stem] = str(error) or type(error).__name__
            return []
        return [
            MoldPiece(
                f"{stem}-{piece.number}", "slide", solid, casting=kind.name,
                span=(0.0, self.plan.length), ribbed=True,
                pull=(0.0, float(-piece.outward[1]), float(-piece.outward[2])),
            ) for piece, solid in zip(self.core_pieces, solids, strict=True)
        ]

    def _insert(self, kind: CastSegment) -> list[MoldPiece]:
        self.say(f"insert{_suffix(kind)}")

        def made() -> Any:
            return carried_ring(
                self.plan, self.mold, self._laid(kind, self.scale), self.wall)

        pieces = self._piece(
            f"insert{_suffix(kind)}", "insert", made, casting=kind.name,
            span=(0.0, self.plan.length), ribbed=True)
        return pieces + self._insert_mold(self._insert_half(), kind)

    def _insert_mold(self, role: str, kind: CastSegment | None) -> list[MoldPiece]:
        """A half of the insert's mold: the ribbed one for a kind of casting, or the smooth one."""
        name = role if kind is None else f"{role}{_suffix(kind)}"
        self.say(name)
        own = insert_layout(self.plan, self.mold, self.wall, self.grow)
        span = Span(own.start, own.end, False, False)

        def made() -> Any:
            laid = [] if kind is None else self._laid(kind, self.scale * self.grow)
            solid = insert_half(self.plan, self.mold, laid, self.wall, role, self.grow)
            plate = self._plate(own, role.removeprefix("insert-"), span)
            return self._engraved(solid, plate, name)

        return self._piece(
            name, role, made, casting="" if kind is None else kind.name,
            span=(span.start, span.end), ribbed=kind is not None)

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

    def _plate(self, plan: Layout, role: str, span: Span) -> Plate:
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

    def mandrel_names(self) -> list[str]:
        """Names of the mandrel's pieces."""
        count = len(mandrel_edges(self.design, self.mold)) - 1
        return ["mandrel"] if count == 1 else [f"mandrel-{i + 1}" for i in range(count)]

    def joining(self) -> list[MoldPiece]:
        """Mandrel and end ring."""
        self.say("mandrel and end ring")
        design, mold = self.design, self.mold
        pieces = []
        edges = itertools.pairwise(mandrel_edges(design, mold))
        for name, span in zip(self.mandrel_names(), edges, strict=True):
            pieces += self._piece(
                name, "mandrel", functools.partial(mandrel_solid, design, mold, *span), span=span)
        return pieces + self._piece(
            "end-ring", "ring", functools.partial(ring_solid, design, mold), quantity=2)


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
        _refuse_round(design, mold)


def _refuse_round(design: Design, mold: Mold) -> None:
    """Refuse a tube without a seam that no core comes out of.

    Raises:
        InputError: naming the field.
    """
    why = None
    if not design.has_ribs or design.ribs.side == "outside" or mold.core != "sliding":
        why = ("has no seam, so a tube in one piece locks on its core; with ribs inside set "
               "mold.core = 'sliding' for a core that collapses")
    elif float(design.tube.seam_land) > 0:
        why = "has no seam; leave out tube.seam_land"
    elif mold.cutout:
        why = "is molded without windows; cut mold.cutout afterwards"
    if why is not None:
        raise InputError(
            f"tube.segments: 1 {why}; or set segments = 2 or more to cast shells that are bonded, "
            "or mold.process = 'print-part' or 'machine-part' to make the tube itself"
        )


def _kernel_errors() -> tuple[type[Exception], ...]:
    """What the kernel, or our use of it, raises when a solid can't be made."""
    from OCP.Standard import Standard_Failure

    return (RuntimeError, Standard_Failure)


def _suffix(kind: CastSegment) -> str:
    return f"-{kind.name}" if kind.name else ""
