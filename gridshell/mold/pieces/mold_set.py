"""All the pieces a maker needs for one design, and the exact geometry they were made from."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, field
from typing import Any

from gridshell.define.constants import ROOM_TEMPERATURE
from gridshell.define.tables.design import Design
from gridshell.define.tables.mold import Mold
from gridshell.mold.pieces.cores.sliding import CorePiece
from gridshell.mold.pieces.features.cutouts import CastSegment
from gridshell.mold.pieces.features.pouring import gate_diameter
from gridshell.mold.pieces.layout import Layout
from gridshell.mold.relief.ribbing import Ribbing
from gridshell.wall.geometry.lattice import Lattice

ROLES = ("part", "core", "cavity", "slide", "arbor", "insert", "insert-core", "insert-cavity",
         "mandrel", "ring")
# Muted and far apart in lightness, so that they can be told apart in gray too.
COLORS = {
    "part": (0.93, 0.78, 0.45), "core": (0.38, 0.52, 0.68), "cavity": (0.70, 0.75, 0.78),
    "mandrel": (0.45, 0.60, 0.45), "ring": (0.72, 0.50, 0.48),
    "slide": (0.55, 0.66, 0.80), "insert": (0.80, 0.62, 0.66), "insert-core": (0.42, 0.46, 0.58),
    "insert-cavity": (0.76, 0.78, 0.72), "arbor": (0.46, 0.54, 0.66),
}


@dataclass(frozen=True)
class MoldPiece:
    """One solid to print, mill or look at.

    Attributes:
        name: file name without ending, such as ``core-1``.
        role: part, core, cavity, mandrel, ring; slide for a sliding piece of the core, arbor for
            what holds them from inside in a tube without a seam, insert for one of rubber,
            insert-core and insert-cavity for the mold of that.
        solid: kernel solid in mm, in the place where it works; the tube's axis is x.
        quantity: how many the tube needs.
        casting: name of the casting it is for; "" for the plain one.
        span: (start, end) along x, mm.
        ribbed: whether it carries the ribs.
        pull: unit vector along which it leaves the part, of a sliding piece.
    """

    name: str
    role: str
    solid: Any
    quantity: int = 1
    casting: str = ""
    span: tuple[float, float] = (0.0, 0.0)
    ribbed: bool = False
    pull: tuple[float, float, float] | None = None

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
        core_pieces: of a sliding core.
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
    core_pieces: tuple[CorePiece, ...] = ()

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

    (mold - part)/mold, as ISO 294-4 defines molding shrinkage (from memory)."""
    if mold.shrinkage is not None:
        return float(mold.shrinkage), "mold.shrinkage"
    from gridshell.material.resolve import properties

    found = properties(design.material, design.folder, ROOM_TEMPERATURE).shrinkage
    if found is None:
        return 0.0, "not known for the material: 0; set mold.shrinkage"
    return float(found), f"material {design.material.name}"


def describe(mold_set: MoldSet) -> dict[str, Any]:
    """Main sizes in SI, for the table and JSON."""
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
        result["gates"] = mold_set.mold.gate_count
        result["gate_diameter"] = gate_diameter(plan, mold_set.mold) * 1e-3
        result["block"] = [
            (plan.end - plan.start) * 1e-3, 2 * plan.half_width * 1e-3,
            (plan.top - plan.bottom) * 1e-3,
        ]
    return result
