"""Undercut: what keeps a piece from leaving the grooved mold half on a straight pull."""

from __future__ import annotations

import dataclasses
import math
from dataclasses import dataclass

import numpy as np

from gridshell.define.tables.design import Design, with_values
from gridshell.define.types import Array
from gridshell.mold.checks.release.flanks import Flanks, lock_angle, out_of_mold, panel_flanks
from gridshell.mold.checks.result import CAUTION, FAILS, OK, MoldCheck
from gridshell.mold.relief.ribbing import Ribbing, ribbing
from gridshell.wall.geometry.lattice import Lattice, lattice

CLEAR = 1e-4  # component of a unit normal that is taken as sliding, not locking
MOST_SEGMENTS = 24  # as many as [tube] takes
NOTICED = 0.05e-3  # m, an overhang at a corner that any polymer gives way to
_DERIVED = "normals of the ruled flanks at every pocket side; derived here"


@dataclass(frozen=True)
class Undercut:
    """What locks on a straight pull along the crown's radius.

    Attributes:
        flanks: the places looked at.
        lean: (n,) largest component of the flank's normal along the pull; above 0 locks.
        overhang: (n,) how far the rib tip sticks out under the groove's mouth, across the pull,
            m.
        radial: (n,) the same along the radius of the place, or of the rib crossing that a
            corner belongs to: it locks wherever it stands.
        locked: (n,) sides that lock; corners are in ``corner_overhang``.
        start: smallest angle from the crown at which a side locks, rad; None: none does.
        furthest: angle of the furthest side that locks, rad; 0 if none.
    """

    flanks: Flanks
    lean: Array
    overhang: Array
    radial: Array
    locked: np.ndarray
    start: float | None
    furthest: float

    @property
    def share(self) -> float:
        """Share of the flank area between corners that locks."""
        sides = ~self.flanks.corner
        total = self.flanks.area[sides].sum()
        return float(self.flanks.area[self.locked].sum() / total) if total > 0 else 0.0

    @property
    def corner_overhang(self) -> float:
        """Largest overhang at pocket corners even when pulled along their own radius, m."""
        corners = self.flanks.corner
        return float(np.maximum(self.radial[corners], 0.0).max(initial=0.0))


def overhang(flanks: Flanks, pull: Array) -> tuple[Array, Array]:
    """Component of the flank normals along a pull, and how far the rib tip sticks out across it.

    Args:
        flanks: n places.
        pull: unit vector (3,) or (n, 3), the way the piece leaves the mold.

    Returns:
        largest component over the height (n,), and overhang (n,) in m: positive where the tip
        lies outside the groove's mouth.
    """
    pull = np.broadcast_to(pull, flanks.ruling.shape)
    lean = np.einsum("nhi,ni->nh", flanks.normal, pull).max(axis=1, initial=-1.0)
    middle = flanks.normal[:, 1]
    across = middle - np.sum(middle * pull, axis=-1, keepdims=True) * pull
    size = np.linalg.norm(across, axis=-1, keepdims=True)
    across = np.divide(across, size, out=np.zeros_like(across), where=size > 1e-9)
    return lean, np.asarray(np.sum(flanks.ruling * across, axis=-1))


def some_flanks(flanks: Flanks, chosen: np.ndarray) -> Flanks:
    """Some places of all.

    Args:
        flanks: n places.
        chosen: (n,) True for those wanted.
    """
    arrays = {
        field.name: getattr(flanks, field.name)[chosen] for field in dataclasses.fields(flanks)
        if field.name != "height"
    }
    return dataclasses.replace(flanks, **arrays)


def undercut(design: Design, grid: Lattice, ribs: Ribbing) -> Undercut:
    """What locks when a casting is pulled straight out of its grooved half.

    Args:
        design: one design (no arrays).
        grid: its lattice.
        ribs: pockets and cut-outs of one cast segment, as they are molded.
    """
    flanks = panel_flanks(design, grid, ribs)
    way = out_of_mold(design)
    up = np.array([0.0, 0.0, 1.0])
    lean, sticks_out = overhang(flanks, way * up)
    outward = np.stack(
        [np.zeros_like(flanks.node), np.sin(flanks.node), np.cos(flanks.node)], axis=-1)
    radial_lean, radial = overhang(flanks, way * outward)
    radial = np.where(radial_lean > CLEAR, radial, 0.0)
    locked = (lean > CLEAR) & ~flanks.corner
    angles = np.abs(flanks.angle[locked])
    return Undercut(
        flanks, lean, overhang=sticks_out, radial=radial, locked=locked,
        start=float(angles.min()) if angles.size else None, furthest=float(angles.max(initial=0.0)),
    )


def segments_that_release(design: Design) -> int | None:
    """Least number of pieces round the tube of which no side locks; None above `MOST_SEGMENTS`.

    Rows repeat along the tube, so a section a few cells long tells."""
    grid = lattice(design)
    pitches = [float(line.pitch) for line in grid.families]
    own = grid.pattern == "families"
    row, narrow = (max(pitches), min(pitches)) if own else (grid.cell_height, design.ribs.spacing)
    length = np.minimum(2 * grid.end_land + 4 * row, design.section_length)
    short = with_values(design, {"tube.length": length, "tube.sections": 1})
    for segments in range(max(design.tube.segments + 1, 2), MOST_SEGMENTS + 1):
        tried = with_values(short, {"tube.segments": segments})
        grid = lattice(tried)
        if grid.panel_width <= narrow / 2:
            return None
        if not undercut(tried, grid, ribbing(tried, grid)).locked.any():
            return segments
    return None


def draft_that_releases(furthest: float, cosine: float) -> float | None:
    """Draft at which a rib at the furthest angle just slides, tan(draft) = tan(phi) cos(theta).

    None from a quarter round on, where no draft does.

    Args:
        furthest: angle of the furthest locked rib, rad.
        cosine: of the angle between rib and axis.
    """
    return float(np.arctan(np.tan(furthest) * cosine)) if furthest < math.pi / 2 else None


def undercut_checks(
    design: Design, grid: Lattice, found: Undercut, peels: bool = False, advise: bool = True,
) -> tuple[MoldCheck, ...]:
    """Sides against the straight pull, and pocket corners against any pull.

    Args:
        design: one design (no arrays).
        grid: its lattice.
        found: its undercut.
        peels: True when the piece (or a rubber mold) comes off by bending; a lock on the
            straight pull is then no more than a caution.
        advise: False does not look for the number of segments that would release.
    """
    edge = float(grid.panel_width / (2 * grid.radius))
    families = {line.name: float(np.degrees(lock_angle(design.ribs.draft, line.cosine)))
                for line in grid.families}
    if not len(found.flanks.angle):
        return (_without_pockets(design, grid, edge, families),)
    return _sides(design, grid, found, edge, families, peels, advise), _corners(design, grid, found)


def _without_pockets(
    design: Design, grid: Lattice, edge: float, families: dict[str, float]
) -> MoldCheck:
    if not grid.families:
        return MoldCheck(
            "undercut of the ribs", None, limit=None, kind="angle", verdict=OK,
            advice="plain wall: nothing to lock", source=_DERIVED,
        )
    start = np.radians(min(families.values()))
    return MoldCheck(
        "undercut of the ribs", start, limit=edge, kind="angle",
        verdict=OK if start >= edge else FAILS,
        advice=("ribs further from the crown than this lock on a straight pull" if start < edge
        else "nothing locks"),
        source="tan(phi) = tan(draft)/cos(rib angle); derived here",
        details={"angle_by_family_deg": families},
    )


def _sides(
    design: Design, grid: Lattice, found: Undercut, edge: float, families: dict[str, float],
    peels: bool, advise: bool,
) -> MoldCheck:
    largest = float(found.overhang[found.locked].max(initial=0.0))
    details = {
        "angle_by_family_deg": families, "locked_share": found.share, "overhang": largest,
        "locked_pockets": int(np.unique(found.flanks.pocket[found.locked]).size),
        "segments_that_release": None,
    }
    if found.start is None:
        return MoldCheck(
            "undercut of the ribs", None, limit=edge, kind="angle", verdict=OK,
            advice="nothing locks: every side slides off on a straight pull", source=_DERIVED,
            details=details,
        )
    cosine = max(abs(float(line.cosine)) for line in grid.families)
    enough = segments_that_release(design) if advise else None
    details["segments_that_release"] = enough
    draft = draft_that_releases(found.furthest, cosine)
    details["draft_that_releases"] = draft
    advice = [f"sides lock from {math.degrees(found.start):.1f} deg off the crown, "
              f"{found.share:.0%} of the flank area, by up to {largest * 1e3:.2g} mm"]
    if design.tube.segments == 1:
        advice.append("a whole tube leaves no way out: cast it in 2 segments or more")
    if enough is not None:
        advice.append(f"with {enough} segments nothing locks")
    elif advise:
        advice.append(f"no number of segments up to {MOST_SEGMENTS} frees it on a straight pull")
    advice.append("it comes off by bending" if peels else "and bending does not free it")
    return MoldCheck(
        "undercut of the ribs", found.start, limit=edge, kind="angle",
        verdict=CAUTION if peels else FAILS, advice="; ".join(advice), source=_DERIVED,
        notes=(
            "value: angle from the pull direction at which sides lock; limit: edge of the panel",),
        details=details,
    )


def _corners(design: Design, grid: Lattice, found: Undercut) -> MoldCheck:
    depth = found.corner_overhang
    if depth <= NOTICED:
        advice, verdict = "pocket corners open towards the pull", OK
    else:
        verdict = CAUTION
        advice = (f"pocket corners overhang by {depth * 1e3:.2g} mm wherever they stand, because "
                  "the radii run together towards the axis; more draft, or less rib height, "
                  "avoids it")
    return MoldCheck(
        "undercut at pocket corners", depth, limit=NOTICED, kind="length", verdict=verdict,
        advice=advice, source=_DERIVED,
        notes=(f"limit {NOTICED * 1e3:g} mm: common practice, no source",),
    )
