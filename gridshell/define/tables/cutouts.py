"""Where a window or vent hole of the whole tube lies in one casting, and whether there is room."""

from __future__ import annotations

import math
from typing import NamedTuple

from gridshell.define.errors import Problem, Problems
from gridshell.define.tables.design import Design
from gridshell.define.tables.mold import Cutout, Mold

LEAST_LAND = 1e-4  # m, of full wall between a cut-out and a pocket, an end or another cut-out


class Place(NamedTuple):
    """Where a cut-out lies.

    Attributes:
        section: cast length, counted from 0.
        segment: round the tube, counted from 0.
        hoop: of its middle, from the middle of the casting, at the skin's middle radius, m.
        axial: of its middle, from the lower end of the casting, m.
    """

    section: int
    segment: int
    hoop: float
    axial: float


def size_of(cutout: Cutout) -> tuple[float, float]:
    """Width round the tube and length along it, m.

    Args:
        cutout: as stated.
    """
    if cutout.shape == "round":
        return cutout.diameter, cutout.diameter
    return cutout.width, cutout.length


def place_of(design: Design, cutout: Cutout) -> Place:
    """The casting that a cut-out is in, and where.

    Args:
        design: one design (no arrays).
        cutout: as stated, on the whole tube.
    """
    section_length, pitch = float(design.section_length), 2 * math.pi / _segments(design)
    section = min(int(cutout.position // section_length), int(design.tube.sections) - 1)
    turn = cutout.angle % (2 * math.pi)
    segment = min(int(turn // pitch), _segments(design) - 1)
    return Place(section, segment, (turn - (segment + 0.5) * pitch) * float(design.skin_radius),
                 cutout.position - section * section_length)


def wall_growth(design: Design) -> float:
    """How much a cut-out's sides, drafted like the ribs, widen over the wall's depth, m.

    Args:
        design: one design (no arrays).
    """
    depth = design.skin.thickness + design.rib_height
    return float(depth * math.tan(design.ribs.draft))


def room_of(design: Design, cutout: Cutout) -> tuple[float, tuple[float, float]]:
    """How far the middle of a cut-out may be from that of its casting, and between which heights.

    Args:
        design: one design (no arrays).
        cutout: as stated.

    Returns:
        Hoop distance at the skin's middle radius (inf on a tube without seams), and the least and
        greatest distance from the lower end of the casting, m. The cut-out has no place where the
        first is negative or the others cross.
    """
    width, length = (side / 2 + wall_growth(design) for side in size_of(cutout))
    edge = max(cutout.land, LEAST_LAND)
    # The arc of a casting is shortest at its inner face, and a cut-out is widest at the rib tips.
    radius = float(design.skin_radius)
    depth = float(design.skin.thickness / 2 + design.rib_height)
    inner = radius - depth if design.ribs.side == "inside" else radius
    seams = design.tube.segments > 1 or float(design.tube.seam_land) > 0
    hoop = math.pi * radius / _segments(design) - (width + edge) * radius / inner
    return (hoop if seams else math.inf,
            (length + edge, float(design.section_length) - length - edge))


def check_place(
    design: Design, cutout: Cutout, place: Place, where: str, *, moves: bool = False
) -> list[Problem]:
    """What is wrong with where a cut-out lies, with the nearest value that would be accepted.

    Args:
        design: one design (no arrays).
        cutout: as stated.
        place: where it lies.
        where: its path in the definition.
        moves: it will be moved to a pocket, so that only its size matters.
    """
    problems, radius = Problems(), float(design.skin_radius)
    if cutout.position > design.tube.length:
        problems.add(f"{where}.position", f"{cutout.position * 1e3:g} mm is beyond the tube; must "
                     f"be at most {float(design.tube.length) * 1e3:g} mm")
        return problems
    most, (low, high) = room_of(design, cutout)
    across, along = ("diameter",) * 2 if cutout.shape == "round" else ("width", "length")
    what = f"{cutout.name!r} with its land"
    if most < 0:
        problems.add(f"{where}.{across}", f"{what} is wider than one casting; state it smaller, "
                     "or fewer tube.segments")
    elif abs(place.hoop) > most and not moves:
        middle = (place.segment + 0.5) * 2 * math.pi / _segments(design)
        nearest = math.degrees(middle + math.copysign(most, place.hoop) / radius)
        # Rounded towards the middle of the casting, so that the value told is accepted.
        inwards = math.floor if place.hoop > 0 else math.ceil
        problems.add(
            f"{where}.angle", f"{what} reaches over a seam; the nearest angle that is accepted is "
            f"{inwards(nearest * 100) / 100:g} deg, or state it smaller or other tube.segments")
    if low > high:
        problems.add(f"{where}.{along}", f"{what} is longer than one section; state it smaller, or "
                     "fewer tube.sections")
    elif not low <= place.axial <= high and not moves:
        start = place.section * float(design.section_length)
        upper = place.axial > high
        nearest = (start + (high if upper else low)) * 1e3
        inwards = math.floor if upper else math.ceil
        problems.add(
            f"{where}.position", f"{what} reaches over the end of a section; the nearest position "
            f"that is accepted is {inwards(nearest * 100) / 100:g} mm, or state it smaller or "
            "other tube.sections")
    return problems


def check_cutouts(design: Design, mold: Mold) -> list[Problem]:
    """Cut-outs that no casting has room for where they are stated.

    Args:
        design: one design (no arrays).
        mold: its ``[mold]`` table.
    """
    return [problem for index, cutout in enumerate(mold.cutout, start=1)
            for problem in check_place(design, cutout, place_of(design, cutout),
                                       f"mold.cutout[{index}]", moves=cutout.snap)]


def _segments(design: Design) -> int:
    return int(design.tube.segments)
