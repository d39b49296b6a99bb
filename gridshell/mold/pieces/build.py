"""Building the pieces of one design: castings, mold halves, mandrel and end ring."""

from __future__ import annotations

import functools
import itertools
from collections.abc import Callable
from typing import Any

from gridshell.define.constants import ROOM_TEMPERATURE
from gridshell.define.errors import InputError
from gridshell.define.tables.design import Design
from gridshell.define.tables.mold import Mold, mold_of
from gridshell.mold.checks.castable import cast_refusal, known_material
from gridshell.mold.checks.direct import require_possible
from gridshell.mold.checks.gate import with_gates
from gridshell.mold.pieces.bed import mandrel_edges, split_planes
from gridshell.mold.pieces.booleans import combined
from gridshell.mold.pieces.cutouts import CastSegment, cast_segments
from gridshell.mold.pieces.halves import cavity_solid, core_solid, part_solid, relieved
from gridshell.mold.pieces.layout import layout, reduced_holes
from gridshell.mold.pieces.lettering import Plate, engraved
from gridshell.mold.pieces.mandrel import mandrel_solid, ring_solid
from gridshell.mold.pieces.mold_set import MoldPiece, MoldSet, shrinkage_of
from gridshell.mold.pieces.oriented import as_made
from gridshell.mold.pieces.pouring import require_room
from gridshell.mold.pieces.splitting import Span, spans
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
        pieces += [*builder.halves(), *builder.joining()]
    return MoldSet(
        builder.design, builder.mold, grid=builder.grid, shrinkage=builder.shrinkage,
        pieces=tuple(pieces), plan=builder.plan, ribs=builder.ribs,
        cast_segments=tuple(builder.kinds), planes=builder.planes, notes=tuple(builder.notes),
        failed=builder.failed,
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
        mold = with_gates(design, mold)
        self.design, self.mold, self.grid = design, mold, lattice(design)
        self.say = progress or (lambda line: None)
        self.failed: dict[str, str] = {}
        self.planes: tuple[float, ...] = ()
        self.clean = True
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
        self.plan = layout(design, mold, self.scale)
        if not mold.direct:
            require_room(self.plan, mold)
            self.notes += reduced_holes(design, mold)
            self._split()

    def _split(self) -> None:
        """Where the halves are split for the bed: along ribs if that can be."""
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
