"""Windows and vent holes: stress beside them, stiffness lost, reinforcement that mends it.

Stress beside holes is that of a flat plate (`holes`); the notes say when the tube's curve, the
hole's size or buckling put a hole outside of that.
"""

from __future__ import annotations

import dataclasses
from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np

from gridshell.define.errors import InputError
from gridshell.define.tables.mold import Mold
from gridshell.define.types import Array, Quantity
from gridshell.tube.strength.holes import (
    RingLand,
    ellipse_factor,
    hole_edge_stress,
    land_needed,
    land_stress,
)

SHAPES = ("circle", "ellipse", "slot", "rectangle")


@dataclass(frozen=True)
class WallCutout:
    """An opening in the wall.

    Attributes:
        shape: circle, ellipse, slot (round ends) or rectangle (round corners).
        length: along the tube, m.
        width: round the tube, m.
        position: of its middle along the tube, m.
        angle: of its middle round the tube, rad.
        corner_radius: rectangle only, m.
        land: width of the solid land round it, m.
        land_thickness: whole thickness of the land (skin and what is added), m; 0 is none.
    """

    shape: str
    length: float
    width: float
    position: float = 0.0
    angle: float = 0.0
    corner_radius: float = 0.0
    land: float = 0.0
    land_thickness: Quantity = 0.0

    def __post_init__(self) -> None:
        if self.shape not in SHAPES:
            raise InputError(f"cutout: {self.shape!r} is not one of: {', '.join(SHAPES)}")
        if not (self.length > 0 and self.width > 0):
            raise InputError("cutout: length and width must be above 0")
        if self.shape == "circle" and not np.isclose(self.length, self.width):
            raise InputError("cutout: a circle has one size; length and width must be equal")
        if self.shape == "rectangle" and not 0 < self.corner_radius <= min(
                self.length, self.width) / 2:
            raise InputError(
                f"cutout: corner_radius {self.corner_radius * 1e3:g} mm; must be above 0 and at "
                f"most {min(self.length, self.width) / 2 * 1e3:g} mm"
            )


def stated_cutouts(mold: Mold, depth: Quantity) -> tuple[WallCutout, ...]:
    """The cut-outs of ``[mold]``.

    Args:
        mold: as stated.
        depth: full depth of the wall, which their lands have, m.
    """
    found = []
    for one in mold.cutout:
        if one.shape == "round":
            size = (one.diameter, one.diameter)
        else:
            size = (one.length, one.width)
        found.append(WallCutout(
            "circle" if one.shape == "round" else "rectangle", *size, one.position, one.angle,
            one.corner_radius, one.land, depth,
        ))
    return tuple(found)


def opening_factor(cutout: WallCutout) -> tuple[float, str]:
    """Peak over far stress for a pull along the tube, and where it comes from.

    Slot and rectangle are read as the ellipse of the same width across and tip radius,
    1 + 2 sqrt(a/rho) (Peterson's equivalent ellipse, from memory); a rectangle's corner sees less
    of it than a tip, so this is an upper bound."""
    half = cutout.width / 2
    if cutout.shape == "circle":
        return 3.0, "Kirsch (1898)"
    if cutout.shape == "ellipse":
        return float(ellipse_factor(cutout.width, cutout.length)), "Inglis (1913)"
    radius = (min(cutout.length, cutout.width) / 2 if cutout.shape == "slot"
              else cutout.corner_radius)
    if cutout.shape == "slot" and cutout.length >= cutout.width:
        return 3.0, "a slot along the pull, read as its round end (upper bound, Kirsch 1898)"
    return float(1 + 2 * np.sqrt(half / radius)), "Inglis (1913), equivalent ellipse (from memory)"


@dataclass(frozen=True)
class CutSection:
    """The tube's section through a cut-out, in parts of the plain section.

    Attributes:
        EA: axial stiffness over that of the uncut tube.
        EI: bending stiffness over that of the uncut tube, in the plane asked for.
        shift: of the neutral axis out of the tube's axis, m, away from the opening.
        length: of tube the loss acts over, m.
    """

    EA: float
    EI: float
    shift: float
    length: float


def cut_section(
    cutouts: Sequence[WallCutout], radius: float, stretch: float, modulus: float,
    bending_plane: float = 0.0,
) -> CutSection:
    """Stiffness left where cut-outs open a section (those given are taken to lie in one).

    Wall and lands as a thin ring: each opening takes its arc away, each land adds its own section
    beside it. EI about the shifted neutral axis. The loss is taken to act over the opening and
    half its width beyond each end, where the wall picks up its stress again (common practice, no
    source).

    Args:
        cutouts: the openings.
        radius: of the tube, m.
        stretch: A11 of the wall, N/m.
        modulus: of the lands, Pa.
        bending_plane: angle of the extreme fiber, rad.
    Raises:
        InputError: an opening takes half of the tube or more, or nothing is left.
    """
    whole, EI_whole = 2 * np.pi * radius * stretch, np.pi * radius**3 * stretch
    EA, first, second = whole, 0.0, EI_whole
    for cut in cutouts:
        half = cut.width / 2 / radius
        if half >= np.pi / 2:
            raise InputError(
                f"cutout: {cut.width * 1e3:g} mm wide opens half of the tube or more; the section "
                "is no longer a closed tube"
            )
        middle = cut.angle - bending_plane
        EA -= 2 * half * radius * stretch
        first -= stretch * radius**2 * 2 * np.sin(half) * np.cos(middle)
        second -= stretch * radius**3 * (half + np.sin(2 * half) * np.cos(2 * middle) / 2)
        if cut.land and cut.land_thickness:
            # Only what the land adds over the wall it replaces.
            gain = max(modulus * float(cut.land_thickness) - stretch, 0.0) * cut.land
            for side in (-1, 1):
                where = middle + side * (half + cut.land / 2 / radius)
                EA += gain
                first += gain * radius * np.cos(where)
                second += gain * (radius * np.cos(where)) ** 2
    if EA <= 0:
        raise InputError("cutout: the openings leave nothing of the section")
    shift = first / EA
    length = max((cut.length + cut.width for cut in cutouts), default=0.0)
    return CutSection(EA / whole, (second - EA * shift**2) / EI_whole, shift, length)


def cut_notes(cutout: WallCutout, radius: float, thickness: float) -> tuple[str, ...]:
    """What the flat-plate figures leave out for this opening.

    Args:
        cutout: the opening.
        radius: of the tube, m.
        thickness: of the wall, m.
    """
    notes = []
    half = max(cutout.length, cutout.width) / 2
    size = half / np.sqrt(radius * thickness)
    if size > 0.5:
        notes.append(
            f"a/sqrt(r t) = {size:.2f}: the tube's curve raises the stress beside the hole over "
            "the flat plate's (care above about 0.5, from memory); prove it with finite elements "
            "or a test"
        )
    if size > 0.4:
        notes.append(
            "an unreinforced hole of this size may start buckling early (a/sqrt(r t) above about "
            "0.4; Starnes 1972, from memory)"
        )
    if cutout.land_thickness > thickness:
        notes.append("a land on one side bends as it takes load and helps less than worked out")
    return tuple(notes)


# Buckling load with a hole over that without, against half its size over sqrt(r t): of tubes as
# they are made, and at most of perfect ones (own shells, gridshell/proof/shells/hole_sizes.csv).
_HOLE_SIZE = (0.4, 1.0, 2.0, 4.0)
_HOLE_LEFT = (1.0, 0.5, 0.35, 0.25)
_PERFECT_SIZE = (0.3, 0.5, 0.7, 1.0, 1.3, 1.6, 2.0, 2.5, 3.0, 4.0)
_PERFECT_LEFT = (1.0, 0.85, 0.69, 0.5, 0.39, 0.3, 0.21, 0.13, 0.09, 0.042)
HOLE_SOURCE = (
    "cut-out: times a reduction after J. H. Starnes, NASA TN D-6672 (1972), from memory, and no "
    "more than perfect tubes of shells with a round hole carry (own solutions); no credit for lands"
)


def buckling_left(
    half: Quantity, radius: Quantity, thickness: Quantity, knockdown: Quantity
) -> Quantity:
    """Share of the knocked-down buckling load that a hole leaves.

    Of tubes as they are made, holes with half a size below 0.4 sqrt(r t) take nothing; larger ones
    start buckling at their edges: 1 at 0.4 through 0.5 at 1, 0.35 at 2 and 0.25 at 4, and on as one
    over the size. A perfect tube with the hole carries less than that from 1.3 on, and no made one
    carries more, so with its knockdown factor the tube is held below it too.

    >>> [round(float(buckling_left(a, 1.0, 1.0, 0.4)), 3) for a in (0.3, 1.0, 2.0)]
    [1.0, 0.5, 0.35]
    >>> [round(float(0.9 * buckling_left(a, 1.0, 1.0, 0.9)), 3) for a in (0.3, 2.0, 8.0)]
    [0.9, 0.21, 0.005]

    Args:
        half: half of the larger size of the hole, m.
        radius: of the tube, m.
        thickness: of the equivalent wall, m.
        knockdown: factor of the tube without the hole.
    """
    size = half / np.sqrt(radius * thickness)

    def beyond(last: float, power: int) -> Quantity:
        return np.minimum(1.0, last / np.maximum(size, 1e-12)) ** power

    made = np.interp(size, _HOLE_SIZE, _HOLE_LEFT) * beyond(_HOLE_SIZE[-1], 1)
    perfect = np.interp(size, _PERFECT_SIZE, _PERFECT_LEFT) * beyond(_PERFECT_SIZE[-1], 3)
    return np.minimum(made, perfect / knockdown)


@dataclass(frozen=True)
class CutWall:
    """The wall round an opening.

    Attributes:
        radius: of the tube, m.
        thickness: that stretches as the wall does, m.
        stretch: A11 of the wall, N/m.
        modulus: of the material, Pa.
        strength: of the material, Pa.
        poisson: of the material.
    """

    radius: float
    thickness: float
    stretch: float
    modulus: float
    strength: float
    poisson: float = 1 / 3


@dataclass(frozen=True)
class CutoutResult:
    """Stress beside one cut-out.

    Attributes:
        factor: peak over far axial stress.
        peak: with what hoop and shear add, Pa.
        allowable: Pa.
        margin: allowable/(peak factor) - 1.
        land_needed: thickness of a land of the stated width that brings the margin to 0, m.
        remark: on that land.
        section: stiffness left.
        source: of the factor.
        notes: limits that this opening is outside of.
    """

    factor: float
    peak: float
    allowable: float
    margin: float
    land_needed: float | None
    remark: str
    section: CutSection
    source: str
    notes: tuple[str, ...]


def peak_beside(
    cutout: WallCutout, thickness: Quantity, poisson: Quantity, axial: Quantity,
    hoop: Quantity = 0.0, shear: Quantity = 0.0,
) -> tuple[Quantity, Quantity, str]:
    """Peak stress beside one cut-out under far stresses, without and with its land, and the source.

    Round holes with a land are solved exactly; other shapes take their factor on the axial stress
    with hoop and shear on top by the round hole's, and gain from a land as a round hole of their
    width does.

    Args:
        cutout: the opening.
        thickness: of the wall round it, m.
        poisson: of the material.
        axial: far axial stress, Pa.
        hoop: far hoop stress, Pa.
        shear: far shear stress, Pa.
    """
    base, source = opening_factor(cutout)
    axial, hoop, shear = (np.asarray(value, float)[..., None] for value in (axial, hoop, shear))
    bare: Quantity = np.abs(
        hole_edge_stress(axial, hoop, shear, np.linspace(0, np.pi, 361))).max(axis=-1)
    axial, hoop = axial[..., 0], hoop[..., 0]
    bare = bare + (base - 3.0) * np.abs(axial)
    if not (cutout.land and np.any(np.asarray(cutout.land_thickness) > 0)):
        return bare, bare, source
    # Shear is turned into the pair of pulls that gives the same peak at the plain hole.
    ring = RingLand(cutout.width / 2, cutout.land, thickness, cutout.land_thickness, poisson)
    edge, beside = land_stress(ring, axial, hoop)
    plain, _ = land_stress(dataclasses.replace(ring, thickness=thickness), axial, hoop)
    left = np.where(plain > 0, np.maximum(edge, beside) / np.where(plain > 0, plain, 1.0), 1.0)
    return bare, bare * left, source + "; ring land, exact plane stress"


def assess_cutout(
    cutout: WallCutout, wall: CutWall, axial: float, hoop: float = 0.0, shear: float = 0.0,
    factor: float = 1.4,
) -> CutoutResult:
    """Peak stress, margin and mend of one cut-out under far stresses in the wall.

    Args:
        cutout: the opening.
        wall: round it.
        axial: far axial stress, Pa.
        hoop: far hoop stress, Pa.
        shear: far shear stress, Pa.
        factor: design factor.
    """
    bare, landed, source = peak_beside(
        cutout, wall.thickness, wall.poisson, axial, hoop, shear)
    peak = float(landed)
    ring = RingLand(cutout.width / 2, cutout.land or cutout.width / 2, wall.thickness,
                    wall.thickness, wall.poisson)
    needed: float | None = wall.thickness
    remark = "the plain wall is enough"
    if peak > 0:
        # The pull along the tube that alone gives the same peak at a plain round hole.
        needed, remark = land_needed(ring, float(bare) / 3.0, wall.strength / factor)
    return CutoutResult(
        factor=peak / abs(axial) if axial else float("nan"),
        peak=peak,
        allowable=wall.strength,
        margin=float("inf") if peak == 0 else wall.strength / (peak * factor) - 1,
        land_needed=needed,
        remark=remark,
        section=cut_section([cutout], wall.radius, wall.stretch, wall.modulus, cutout.angle),
        source=source,
        notes=cut_notes(cutout, wall.radius, wall.thickness),
    )


def piecewise_stiffness(
    cutouts: Sequence[WallCutout], stations: Array, EI: Quantity, wall: CutWall
) -> Array:
    """(n,) EI between stations with each cut-out's loss over the length it acts on, N m2.

    Cut-outs that share a cell are taken together as one section, bent about its weakest plane.

    Args:
        cutouts: the openings.
        stations: (n + 1,) along the tube from its fore end, m.
        EI: of the uncut tube, N m2.
        wall: round the openings.
    """
    left = np.broadcast_to(np.asarray(EI, dtype=float), (len(stations) - 1,)).copy()
    middles = (np.asarray(stations)[1:] + np.asarray(stations)[:-1]) / 2
    planes = np.radians(np.arange(0, 180, 5))
    for index, middle in enumerate(middles):
        here = [cut for cut in cutouts
                if abs(middle - cut.position) < (cut.length + cut.width) / 2]
        if here:
            left[index] *= min(1.0, *(
                cut_section(here, wall.radius, wall.stretch, wall.modulus, float(plane)).EI
                for plane in planes))
    return left
