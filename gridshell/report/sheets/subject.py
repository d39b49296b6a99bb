"""What a drawing sheet shows, and every round face of it with its radius."""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np

from gridshell.define.tables.design import Design
from gridshell.define.tables.mold import Mold
from gridshell.define.types import Array
from gridshell.mold.pieces.cores.inserts import carried_wall, recess_radius
from gridshell.mold.pieces.layout import Layout, layout, mold_layout
from gridshell.mold.relief.ribbing import Ribbing, cutout_island
from gridshell.report.sheets.parts import millimeters, pocket_spans, tip_spans
from gridshell.wall.geometry.lattice import Lattice

SIDES = ("part", "core", "cavity")
Span2 = tuple[tuple[float, float], tuple[float, float]]
"""Two ranges of angle from the crown, rad: at the rib tips, at the skin."""


@dataclass(frozen=True)
class Subject:
    """What one sheet shows.

    Attributes:
        design: one design.
        mold: its `[mold]` table.
        grid: its lattice.
        ribs: pockets and cut-outs of one cast segment.
        side: part, core or cavity.
        shrinkage: (mold - part)/mold; the part is drawn at its own size, molds at theirs.
        planes: where the halves are split along x, mm.
        name: of the cast segment, when the tube has several kinds.
    """

    design: Design
    mold: Mold
    grid: Lattice
    ribs: Ribbing
    side: str
    shrinkage: float
    planes: Sequence[float] = ()
    name: str = ""

    @property
    def scale(self) -> float:
        """Size drawn over the part's."""
        return 1.0 if self.side == "part" else 1 / (1 - self.shrinkage)

    @property
    def plan(self) -> Layout:
        """Sizes of the halves as drawn, mm."""
        make = layout if self.side == "part" else mold_layout
        return make(self.design, self.mold, self.scale * 1e3)

    @property
    def part(self) -> str:
        """What the part is called: a casting, or the part itself where there is no mold."""
        return "part" if self.mold.direct else "casting"

    @property
    def closed(self) -> bool:
        """Whether a whole tube is drawn, without a seam."""
        return self.whole and self.side == "part"

    @property
    def whole(self) -> bool:
        """Whether the tube has no seam; round it the halves of the mold are both cavities."""
        return int(self.design.tube.segments) == 1

    @property
    def ribbed(self) -> bool:
        """Whether the side has the ribs itself: the part always, else the half on their side,
        unless sliding pieces or rubber in its recess have them."""
        return bool(self.design.has_ribs and (
            self.side == "part" or (self._beside_ribs and self.mold.core == "rigid")))

    @property
    def _beside_ribs(self) -> bool:
        return self.side == ("core" if self.design.ribs.side == "inside" else "cavity")

    @property
    def recess(self) -> float | None:
        """Radius of the half's recess for what carries the ribs, mm; None without one."""
        if self.whole or not self._beside_ribs:
            return None
        plan = self.plan
        return recess_radius(plan, self.mold, carried_wall(plan, self.mold, self.design))

    @property
    def station(self) -> float:
        """Where the section across is taken: through the pockets nearest the middle, m."""
        middle = float(self.design.section_length) / 2
        if not self.ribs.pockets:
            return middle
        places = [float(x) for g in self.ribs.pockets for x in g.base[..., 1].mean(axis=1)]
        return min(places, key=lambda x: abs(x - middle))

    def windows(self) -> list[Array]:
        """Outlines (n, 2) of the cut-outs at the smooth face, seen along the pull: x, y, mm."""
        if self.side != "part" and not (self._beside_ribs and self.mold.core == "rigid"):
            return []
        found = []
        for cutout in self.ribs.cutouts:
            station = cutout_island(
                self.design, self.grid, cutout, self.scale * 1e3, through=True).stations[-1]
            share = np.linspace(0, 1, 9)
            angle, x = np.concatenate([
                station.loops.points(edge, share)[0] for edge in range(len(station.loops.arc))]).T
            found.append(np.stack([x, station.radius * np.cos(angle / station.radius)], axis=1))
        return found

    def window_notes(self) -> list[str]:
        """What each cut-out is and where its middle lies."""
        notes, units = [], self.design.units

        def mm(value: float) -> str:
            return millimeters(value * self.scale, units)

        lean = math.degrees(float(self.design.ribs.draft))
        for number in range(1, len(self.windows()) + 1):
            cutout = self.ribs.cutouts[number - 1]
            stated = cutout.stated
            size = f"diameter {mm(stated.diameter)}" if stated.shape == "round" else (
                f"{mm(stated.width)} round the tube by {mm(stated.length)} along it, corners "
                f"R {mm(stated.corner_radius)}")
            off = math.degrees(cutout.hoop / float(self.grid.radius))
            aside = "on the crown" if abs(off) < 0.005 else (
                f"{abs(off):.2f} deg off the crown, in the {'lower' if off > 0 else 'upper'} half "
                "of the view")
            notes.append(
                f"Cut-out {number}, {stated.name}: {size} at the smooth face; middle "
                f"{mm(cutout.axial)} from the left end of the {self.part}, {aside}; sides lean "
                f"{lean:.3g} deg, wider at the rib tips.")
        return notes

    def pockets(self) -> list[Span2]:
        """Angles from the crown that the pockets of the section cover: at the tips, at the skin."""
        if not (self.ribbed and self.ribs.pockets):
            return []
        return pocket_spans(self.design, self.grid, self.ribs, self.station)


@dataclass(frozen=True)
class RoundFace:
    """A face on a cylinder about the tube's axis.

    Attributes:
        name: on the sheet.
        radius: mm of the solid.
        outward: whether it looks away from the axis.
        place: where on the section it is: ``pocket`` in the pockets (or on the blocks that cast
            them), ``rib`` between them, ``end`` in the end walls, ``any`` all over.
    """

    name: str
    radius: float
    outward: bool
    place: str

    @property
    def words(self) -> str:
        """Its name on the section."""
        return self.name + (" (end walls)" if self.place == "end" and not self.outward else "")


def round_faces(subject: Subject) -> list[RoundFace]:
    """Every round face of a side."""
    plan, side = subject.plan, subject.side
    inside = subject.design.ribs.side == "inside"
    ribbed = subject.ribbed and bool(subject.ribs.pockets)
    if side == "part":
        smooth, ribby = ("outside", "inside") if inside else ("inside", "outside")
        found = [RoundFace(smooth, plan.far, inside, "any"),
                 RoundFace("rib tips and lands" if ribbed else ribby, plan.base, not inside, "rib")]
        return [*found, RoundFace("pocket floors", plan.floor, not inside, "pocket")] if (
            ribbed) else found
    core = side == "core"
    recess = subject.recess
    if ribbed:
        faces = [RoundFace("groove bottoms, lands", plan.base, core, "rib"),
                 RoundFace("block tops", plan.floor, core, "pocket")]
    elif recess is not None:
        what = "sliding pieces" if subject.mold.core == "sliding" else "rubber"
        faces = [RoundFace(f"recess for the {what}", recess, core, "any")]
        faces += [RoundFace("prints", plan.inner, True, "end")] if core else []
    else:
        faces = [RoundFace("core", plan.inner, True, "any") if core else
                 RoundFace("bore", plan.outer, False, "any")]
    return faces if core else [
        *faces, RoundFace("seats of the core", plan.inner + plan.clearance, False, "end")]


def leader_angles(subject: Subject, pockets: Sequence[Span2]) -> list[float]:
    """Where on its face each leader ends, as an angle from the crown towards +y, rad.

    Args:
        subject: what the sheet shows.
        pockets: of the section, from `Subject.pockets`.
    """
    floors = [(low + high) / 2 for _, (low, high) in pockets]
    tips = tip_spans(subject.design, subject.grid, subject.ribs, subject.station) if (
        pockets) else []
    edges = [-subject.plan.half_angle, *(a for tip in tips for a in tip),
             subject.plan.half_angle]
    solid = [(low + high) / 2 for low, high in zip(edges[::2], edges[1::2], strict=True)]
    faces = round_faces(subject)
    angles = []
    for number, face in enumerate(faces):
        # One after the other round the right half; the cavity's end walls show in the left one.
        share = 0.62 - 0.5 * number / (len(faces) - 1) if len(faces) > 1 else 0.4
        wanted = subject.plan.half_angle * share
        near = {"pocket": floors, "rib": solid, "end": [-0.4 * subject.plan.half_angle]}.get(
            face.place) or [wanted]
        # The left half of a cavity is cut through its end wall.
        right = [a for a in near if a > 0] if subject.side == "cavity" else near
        angles.append(min(right or near, key=lambda a: abs(a - wanted)))
    return angles


def missing_radii(subject: Subject, built: Sequence[float]) -> list[str]:
    """Radii of the sheet that no face of the solid has, in words.

    Args:
        subject: what the sheet shows.
        built: radii of the solid's faces about the axis, mm.
    """
    return [f"{face.name} R {face.radius:.3f}" for face in round_faces(subject)
            if not any(math.isclose(face.radius, radius, abs_tol=1e-4) for radius in built)]
