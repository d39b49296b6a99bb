"""Filling: the narrowest gap that melt runs through before it sets, and where air stays behind."""

from __future__ import annotations

import dataclasses
from collections.abc import Sequence
from dataclasses import dataclass
from typing import Any

import numpy as np

from gridshell.define.constants import GRAVITY
from gridshell.define.tables.casting import FILLED_WITH, Casting
from gridshell.define.tables.design import Design
from gridshell.define.tables.mold import Mold
from gridshell.define.types import Array, Quantity
from gridshell.material.properties import Properties
from gridshell.mold.checks.heat.cooling import HOT, wait
from gridshell.mold.checks.heat.transfer import (
    contact_temperature,
    effusivity,
    slab_cooling_time,
)
from gridshell.mold.checks.release.flanks import Flanks
from gridshell.mold.checks.release.undercut import CLEAR
from gridshell.mold.checks.result import CAUTION, COMMON, FAILS, OK, UNKNOWN, MoldCheck, least
from gridshell.mold.pieces.features.pouring import end_holes
from gridshell.mold.pieces.layout import mold_layout, reduced_holes
from gridshell.wall.geometry.lattice import Lattice
from gridshell.wall.geometry.pattern import pocket_shapes
from gridshell.wall.geometry.pockets import inscribed_radius

SMALLEST_GAP = 1.0e-3  # m, common practice for pouring by hand, whatever the sums say
LEVEL = np.sin(np.radians(0.5))  # a ceiling that rises less keeps its bubbles
# Pa s where poured; from memory, grades differ several-fold.
VISCOSITY = {"hot-melt polymer": 5.0, "wax": 0.01, "casting resin": 0.8,
             "low-melting plastic": 500.0, "mold rubber": 20.0}
SLOT = ("flow in a slot, mean speed w^2 dp/(12 eta x) (plane Poiseuille flow; White, Viscous Fluid "
        "Flow), against the slab's cooling time; combined here")


def slot_fill_time(
    gap: Quantity, length: Quantity, viscosity: Quantity, pressure: Quantity
) -> Quantity:
    """Time for a liquid to fill a slot under a steady pressure, 6 eta L^2/(w^2 p), s.

    The front runs at w^2 p/(12 eta x) (plane Poiseuille flow: White, Viscous Fluid Flow, and
    every text on fluid mechanics); integrated over x here.

    Args:
        gap: w, m.
        length: L, m.
        viscosity: eta, Pa s.
        pressure: p, Pa.

    >>> round(float(slot_fill_time(1e-3, 0.1, 1.0, 1e3)), 9)
    60.0
    """
    return 6 * viscosity * np.asarray(length) ** 2 / (np.asarray(gap) ** 2 * pressure)


def narrowest_filled(
    length: Quantity, viscosity: Quantity, pressure: Quantity, diffusivity: Quantity, *,
    start: Quantity, wall: Quantity, sets_at: Quantity,
) -> Quantity:
    """Narrowest slot that fills before its middle sets, m; 0 where it can't set.

    Filling takes 6 eta L^2/(w^2 p) and setting w^2/(pi^2 a) ln(...), so that
    w^4 = 6 eta L^2 pi^2 a/(p ln(...)); see `slot_fill_time` and
    `gridshell.mold.checks.heat.transfer.slab_cooling_time`. Infinite where it sets at once.

    Args:
        length: L, m.
        viscosity: eta, Pa s.
        pressure: p, Pa.
        diffusivity: a, m2/s.
        start: temperature when poured, K.
        wall: temperature of the mold's face, K.
        sets_at: temperature at which it no longer flows, K.
    """
    # A slot of 1 m gives the factor in front of w^2.
    setting = slab_cooling_time(1.0, diffusivity, start, wall, sets_at)
    filling = slot_fill_time(1.0, length, viscosity, pressure)
    with np.errstate(divide="ignore"):
        return np.where(np.isinf(setting), 0.0, (filling / setting) ** 0.25)


def fill_checks(
    design: Design, grid: Lattice, mold: Mold, *, part: Properties, shell: Properties,
    start: float, flanks: Flanks, gates: Sequence[MoldCheck] = (), advise: bool = True,
) -> tuple[MoldCheck, ...]:
    """Narrow grooves and skin against filling, and air that stays behind.

    Args:
        design: one design (no arrays).
        grid: its lattice.
        mold: the `[mold]` table.
        part: its material where its data cover.
        shell: the mold's material.
        start: temperature when poured, K.
        flanks: of one panel.
        gates: the check of the pour through the gates, if there is one.
        advise: False does not look for a lean that lets the air out.
    """
    melts = _melts(mold.casting, part, start)
    checks = [
        _gap(row, part, shell, mold.casting, start) for row in fill_ways(design, grid)
    ]
    for gate in gates:
        checks = [_after_the_pour(check, gate, mold.casting, melts) for check in checks]
    return (*checks, *_air(design, mold, flanks, advise))


def liquid_viscosity(casting: Casting, part: Properties) -> float | None:
    """As stated, or the usual one of the material's family, Pa s; None where neither is known."""
    if casting.viscosity is not None:
        return float(casting.viscosity)
    return VISCOSITY.get(part.family)


def pot_life(casting: Casting, part: Properties) -> float | None:
    """How long a resin stays thin enough to run, s: as stated, or its material's; None: not known.
    """
    known = part.pot_life if casting.pot_life is None else casting.pot_life
    return None if known is None else float(known)


def pot_life_source(casting: Casting, part: Properties) -> str:
    """Where the pot life comes from, and which field states another."""
    if casting.pot_life is not None:
        return "mold.casting.pot_life"
    return (f"of {part.name}, {part.sources.get('pot_life', 'stated')}; state yours as "
            "mold.casting.pot_life")


@dataclass(frozen=True)
class FillWay:
    """What must fill.

    Attributes:
        name: of the check.
        gap: width of the slot, m.
        run: length that the liquid runs in it, m.
        head: mean height of liquid that drives it, m.
    """

    name: str
    gap: Quantity
    run: Quantity
    head: Quantity


def fill_ways(design: Design, grid: Lattice) -> list[FillWay]:
    """Grooves and skin, each as a slot to be filled.

    Args:
        design: one design, or arrays of dimensions.
        grid: its lattice.
    """
    head = design.section_length / 2
    has_land = bool(np.all(np.asarray(grid.seam_land) > 0)) and not grid.closed
    across = grid.panel_width / 2 if has_land else design.section_length
    ways = []
    if design.has_ribs:
        ways.append(FillWay("narrow grooves fill", design.ribs.width, across, head))
    run: Quantity = 0.0
    for shape in pocket_shapes(grid):
        run = np.maximum(run, inscribed_radius(shape.corners))
    return [*ways, FillWay(
        "skin fills", design.skin.thickness, np.where(np.asarray(run) > 0, run, across), head)]


def smallest_gap(
    way: FillWay, casting: Casting, part: Properties, shell: Properties, start: float,
    warm: Quantity | None = None,
) -> Quantity:
    """Narrowest gap that fills before the liquid sets or thickens, never below `SMALLEST_GAP`, m.

    Args:
        way: what must fill.
        casting: the `[mold.casting]` table.
        part: its material where its data cover.
        shell: the mold's material.
        start: temperature when poured, K.
        warm: temperature of the mold, K; as stated if left out.
    """
    viscosity = liquid_viscosity(casting, part)
    if viscosity is None:
        return SMALLEST_GAP + 0.0 * way.run
    pressure = _pressure(way, casting, part)
    if not _melts(casting, part, start):
        # Slower than the pot life is too narrow: slot_fill_time solved for the gap.
        life = pot_life(casting, part)
        return np.maximum(SMALLEST_GAP, np.sqrt(slot_fill_time(
            1.0, way.run, viscosity, pressure) / (np.inf if life is None else life)))
    thermal = (part.conductivity, part.density, part.heat_capacity)
    face = contact_temperature(
        effusivity(*thermal), start,
        effusivity(shell.conductivity, shell.density, shell.heat_capacity),
        casting.mold_temperature if warm is None else warm)
    return np.maximum(SMALLEST_GAP, narrowest_filled(
        way.run, viscosity, pressure, thermal[0] / (thermal[1] * thermal[2]), start=start,
        wall=face, sets_at=part.softening_temperature))


def _pressure(way: FillWay, casting: Casting, part: Properties) -> Quantity:
    return part.density * GRAVITY * way.head + casting.pour_pressure


def _melts(casting: Casting, part: Properties, start: float) -> bool:
    """Whether it sets by cooling, and what that needs is known; otherwise it cures."""
    known = None not in (part.conductivity, part.heat_capacity, part.softening_temperature)
    return known and start > casting.mold_temperature + HOT


def _gap(
    way: FillWay, part: Properties, shell: Properties, casting: Casting, start: float
) -> MoldCheck:
    name, gap, length, head = way.name, float(way.gap), float(way.run), float(way.head)
    stated, viscosity = casting.viscosity is not None, liquid_viscosity(casting, part)
    notes = [f"runs {length * 1e3:.0f} mm under a mean head of {head * 1e3:.0f} mm"]
    limit = float(smallest_gap(way, casting, part, shell, start))
    verdict = least(gap, limit)
    if viscosity is None:
        return MoldCheck(
            name, gap, limit=limit, kind="length", verdict=verdict,
            advice=(
                "viscosity is not known (state mold.casting.viscosity); compared with the gap that "
            "hand pouring usually fills"),
            source=COMMON, notes=tuple(notes),
        )
    if not stated:
        notes.append(f"viscosity {viscosity:g} Pa s of a {part.family}: from memory, measure yours")
    pressure = float(_pressure(way, casting, part))
    time = float(slot_fill_time(gap, length, viscosity, pressure))
    details: dict[str, Any] = {"fill_time": time, "viscosity": viscosity, "run": length,
                               "pressure": pressure}
    if not _melts(casting, part, start):
        limit_time = pot_life(casting, part)
        if limit_time is None:
            return MoldCheck(
                name, gap, limit=limit, kind="length",
                verdict=FAILS if verdict == FAILS else UNKNOWN,
                advice=(f"the resin takes {wait(time)} to run in; how long {part.name} stays thin "
                        "enough is not known: state mold.casting.pot_life, or pot_life under "
                        "[material.properties]"),
                source=SLOT, notes=tuple(notes), details=details,
            )
        return MoldCheck(
            name, gap, limit=limit, kind="length", verdict=verdict,
            advice=(
                f"once poured the resin runs in within {wait(time)}" + (
                    "" if verdict == OK else f", but {gap * 1e3:.3g} mm is "
                    f"{'less' if verdict == FAILS else 'hardly more'} than the {limit * 1e3:.2g} "
                    "mm that pouring by hand usually fills") if time <= limit_time else
                f"does not fill: the resin takes {wait(time)} to run in and thickens in "
                f"{wait(limit_time)}; at least {limit * 1e3:.2g} mm wide, or thinner resin"),
            source=SLOT, notes=(*notes, f"pot life {wait(limit_time)}: "
                                f"{pot_life_source(casting, part)}"),
            details=details,
        )
    advice = f"{gap * 1e3:.2g} mm wide; melt runs through {limit * 1e3:.2g} mm before it sets"
    if verdict != OK:
        warmer = np.linspace(float(casting.mold_temperature), start, 400)
        enough = warmer[smallest_gap(way, casting, part, shell, start, warmer) <= gap]
        if enough.size:
            details["mold_temperature_that_fills"] = float(enough[0])
            advice += f"; warm the mold to {enough[0] - 273.15:.0f} degC before pouring"
            soft = shell.softening_temperature
            if soft is not None and enough[0] > soft - HOT:
                advice += f", which {shell.name} does not stand: use metal, or a wider gap"
        else:
            advice += "; make it wider, or press the melt in"
    return MoldCheck(
        name, gap, limit=limit, kind="length", verdict=verdict, advice=advice, source=SLOT,
        notes=(*notes, f"never below {SMALLEST_GAP * 1e3:g} mm ({COMMON})"), details=details,
    )


def upwards(filled: str) -> Array:
    """Unit vector up in the frame of the flanks: x along the tube, side, towards the crown.

    The gates are at the end where x begins, so that is the upper one.

    Args:
        filled: how the mold stands, of `[mold.casting] filled`.
    """
    return {"end-up": np.array([-1.0, 0.0, 0.0]), "crown-up": np.array([0.0, 0.0, 1.0]),
            "crown-down": np.array([0.0, 0.0, -1.0])}[filled]


def traps_air(flanks: Flanks, up: Array) -> np.ndarray:
    """Places whose groove keeps air when the mold stands with ``up`` upwards, (n,) bool.

    A bubble under the mold, which is where the part's face looks up, runs along the flank. It
    gets out if the flank rises from the rib's tip to the skin, square to its edge; a level
    ceiling keeps it too.

    Args:
        flanks: of one panel, n places.
        up: unit vector (3,).
    """
    ceiling = flanks.normal[:, 1] @ up
    # Along the edge it only gets to the next node, so that part of the ruling does not count.
    to_skin = -flanks.ruling
    to_skin = to_skin - np.sum(to_skin * flanks.edge, axis=-1, keepdims=True) * flanks.edge
    rises = (to_skin @ up) / np.linalg.norm(to_skin, axis=-1)
    level = (ceiling > CLEAR) & (rises < LEVEL)
    blind = (ceiling >= -CLEAR) & (rises < -CLEAR)
    return np.asarray(level | blind)


VENTS_NEEDED = {"end-up": 2, "crown-up": 2, "crown-down": 4}
HIGH = {"end-up": "each corner of the upper end land", "crown-up": "the crown, at both ends",
        "crown-down": "both seams, at both ends"}
LEANS = np.radians(np.arange(10, 90, 5))  # back from standing on the end


def best_lean(flanks: Flanks) -> tuple[float, str, float]:
    """How far to lean a mold back from standing on its end so that the least air stays.

    Returns:
        Angle from upright (rad), crown up or crown down, share of the flank area that keeps air.
    """
    best = (0.0, "crown up", np.inf)
    for way, sign in (("crown up", 1.0), ("crown down", -1.0)):
        for lean in LEANS:
            kept = traps_air(flanks, np.array([-np.cos(lean), 0.0, sign * np.sin(lean)]))
            share = float(flanks.area[kept].sum() / flanks.area.sum())
            if share < best[2] - 1e-3:
                best = (float(lean), way, share)
    return best


def _freed(share: float) -> str:
    return "no flank keeps air" if share < 1e-3 else f"{share:.0%} of the flank area keeps air"


def _air_advice(flanks: Flanks, filled: str, shares: dict[str, float], pockets: int) -> str:
    """Where air stays, why, and how the mold would better stand."""
    advice = (f"grooves along {pockets} pockets keep air ({shares[filled]:.0%} of the flank area): "
              f"with the mold standing {filled} their upper flanks are level or fall towards the "
              "skin, so that a bubble under them can't rise out")
    best = min(FILLED_WITH, key=lambda way: shares[way])
    lean, way, share = best_lean(flanks)
    if share < min(0.5 * shares[filled], shares[best] + 1e-3):
        advice += (f"; {_freed(share)} if the mold stands on its end and leans back by "
                   f"{np.degrees(lean):.0f} deg, {way}: lean it so on a wedge" + (
                       ", with mold.vents = 3 so that one is at the crown" if way == "crown up"
                       else ""))
    elif shares[best] < 0.5 * shares[filled]:
        advice += (f"; {_freed(shares[best])} if the mold stands {best} "
                   f"(mold.casting.filled = {best!r})")
    else:
        advice += "; tap and turn the mold while it fills, or fill it under vacuum"
    return advice


def _vents(design: Design, mold: Mold) -> MoldCheck:
    """Whether every high place of the mold as it stands has its vent."""
    filled = mold.casting.filled
    made = sum(hole.what == "vent" for hole in end_holes(mold_layout(design, mold, 1e3), mold))
    needed = VENTS_NEEDED[filled]
    advice = f"vents are at {HIGH[filled]}, where the air goes with the mold standing {filled}"
    if made < needed:
        advice = (f"air stays at {HIGH[filled]}, the high places of a mold that stands {filled}: "
                  f"mold.vents = {needed}")
    if made < mold.vents:
        advice += (f"; {mold.vents - made} of the {mold.vents} vents stated find no room beside "
                   "the gates and are not made")
    if filled != "end-up":
        advice += ("; pour through an elbow at the gate, raise the gate's end by some 10 deg until "
                   "liquid stands in the far vents, plug those, then level the mold")
    return MoldCheck(
        "vents at high points", float(made), limit=float(needed), kind="ratio",
        verdict=OK if made >= needed else CAUTION, advice=advice, source=COMMON,
        notes=tuple(reduced_holes(design, mold)))


def _air(design: Design, mold: Mold, flanks: Flanks, advise: bool) -> tuple[MoldCheck, ...]:
    checks: list[MoldCheck] = []
    filled = mold.casting.filled
    if len(flanks.angle):
        shares, counts = {}, {}
        for way in FILLED_WITH:
            kept = traps_air(flanks, upwards(way))
            shares[way] = float(flanks.area[kept].sum() / flanks.area.sum())
            counts[way] = int(np.unique(flanks.pocket[kept]).size)
        verdict = OK if shares[filled] < 1e-3 else CAUTION
        checks.append(MoldCheck(
            "air trapped in grooves and pocket corners", shares[filled], limit=0.0, kind="ratio",
            verdict=verdict,
            advice=("every groove lets its air out into the skin" if verdict == OK else
                    _air_advice(flanks, filled, shares, counts[filled]) if advise else ""),
            source="slope of every flank from rib tip to skin; derived here",
            notes=(
                f"mold stands {filled}; a ceiling that rises by less than 0.5 deg is level "
                f"({COMMON})",
                "tap or rock the mold while it fills; bubbles cling even where they can rise"),
            details={"share": shares, "pockets": counts},
        ))
    return (*checks, _vents(design, mold))


def _after_the_pour(
    check: MoldCheck, gate: MoldCheck, casting: Casting, melts: bool
) -> MoldCheck:
    """A gap that is wide enough does not fill if the pour itself comes too late."""
    pour, limit = float(gate.value or 0.0), float(gate.limit or np.inf)
    own = 0.0 if melts else float(check.details.get("fill_time", 0.0))
    if pour + own <= limit or check.verdict == FAILS:
        return check
    return dataclasses.replace(
        check, verdict=FAILS, advice=(
            f"does not fill though the gap is wide enough: the pour takes {wait(pour)}"
            + (f" and the run into the gap {wait(own)}" if own else "")
            + f", and it sets in {wait(limit)}; see {gate.name!r}"))
