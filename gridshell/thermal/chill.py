"""Chill a design, take it out, and say for how long it may be used."""

from __future__ import annotations

from collections.abc import Callable

import numpy as np

from gridshell.define.constants import DRY_ICE_TEMPERATURE
from gridshell.define.errors import DefinitionError, InputError
from gridshell.define.tables.chill import Chill, check_chill
from gridshell.define.tables.design import Design
from gridshell.define.types import Array
from gridshell.material.resolve import material_data
from gridshell.thermal.answers import Answer, fastest_rate, lowest_even, lowest_plunge
from gridshell.thermal.cautions import chill_cautions
from gridshell.thermal.curves import MaterialCurves, material_curves, tabulated
from gridshell.thermal.heat.history import UNCOVERED, History, history
from gridshell.thermal.heat.section import WallSection, wall_section
from gridshell.thermal.heat.surroundings import surroundings_notes
from gridshell.thermal.result import CRACKING, ChillResult, Crack, celsius
from gridshell.thermal.stress.cracking import Place, all_places, worst_of
from gridshell.thermal.window import ServiceLimit, usable_window

MARGIN_POINTS = 41  # temperatures at which the margin is asked for
ENERGY_CLOSES = 1e-3
PARTS: tuple[str, ...] = ("skin", "rib", "land")

STANDING_NOTES = (
    "frost and dew are left out: in damp air they warm the tube faster",
    "stress is elastic with the modulus of the moment; a soft polymer relaxes part of it",
    "the sun is spread round the tube; its sunny side is warmer than shown",
)


def chill(
    design: Design,
    margin_at: Callable[[Array], Array] | None = None,
    *,
    stated: Chill | None = None,
    curves: MaterialCurves | None = None,
    answers: bool = True,
) -> ChillResult:
    """Chill a design as its ``[chill]`` table says, and follow it back out in the open.

    Args:
        design: one design (scalar fields).
        margin_at: temperatures K (n,) -> lowest margin of the load cases (n,), such as
            `gridshell.thermal.margin.margin_function` makes; without it the window goes by the
            other limits alone.
        stated: a ``[chill]`` table instead of the design's.
        curves: a material instead of the design's.
        answers: whether the answers by root finding are wanted (most of the time it takes).

    Raises:
        InputError: a property the material lacks, or an impossible table.
    """
    table = stated or design.chill or Chill()
    bad = check_chill(table)
    if bad:
        raise DefinitionError("definition", bad)
    material_cautions: tuple[str, ...] = ()
    if curves is None:
        curves = material_curves(design.material, design.folder)
        material_cautions = material_data(design.material, design.folder).cautions
    low, high = _span(table)
    fast = tabulated(curves, low, high)
    section = wall_section(design, fast.solid, table.cells, table.sleeve)
    followed = history(section, table)
    places = all_places(followed.temperature, section, fast, table)
    cracks, worst = _cracks(followed, places)
    temperature = followed.temperature
    coldest, warmest = temperature.min(-1), temperature.max(-1)
    stiffness = _stiffness(temperature, section, fast, table)
    notes = [*curves.notes]
    margin = None
    if margin_at is not None:
        margin = _margin(margin_at, warmest, fast)
        notes.append("the lowest margin is that of the warmest point of the wall")
    limits = _limits(
        table, curves, coldest, warmest, stiffness, margin=margin, worst=worst)
    exposed_at = followed.phases[-1].start
    window, without = usable_window(followed.time, limits, exposed_at)
    imbalance = max(phase.imbalance for phase in followed.phases)
    notes += _notes(
        table, curves, section=section, followed=followed, stiffness=stiffness, imbalance=imbalance,
        places=places,
    )
    found: tuple[Answer, ...] = ()
    if answers:
        found = (fastest_rate(section, fast, table), lowest_even(section, fast, table),
                 lowest_plunge(section, fast, table))
    at = int(np.searchsorted(followed.time, exposed_at - 1e-9))
    means: dict[str, Array] = {
        name: _mean(temperature, section, name) for name in PARTS
        if name in section.parts}
    return ChillResult(
        title=design.title, material=curves.name, length=float(design.tube.length),
        reference=float(table.reference),
        time=followed.time, temperature=means, coldest=coldest, warmest=warmest,
        stiffness_ratio=stiffness, margin=margin, cracks=cracks, cracking_ratio=worst,
        phases=followed.phases, exposed_at=exposed_at, limits=limits, window=window,
        without=without, chilled_at={name: float(v[at]) for name, v in means.items()},
        answers=found,
        imbalance=imbalance, notes=tuple(dict.fromkeys(notes)),
        cautions=chill_cautions(table, material_cautions),
    )


def _span(table: Chill) -> tuple[float, float]:
    every = [table.start, table.fitted, table.reference, table.uncovered.temperature,
             *(s.surroundings for s in table.steps)]
    if table.uncovered.inside == "dry-ice" or any(s.inside == "dry-ice" for s in table.steps):
        every.append(DRY_ICE_TEMPERATURE)
    sun = table.uncovered.sun * table.uncovered.absorptivity / np.pi / 5.0
    return float(min(every)) - 1.0, float(max(every) + sun) + 1.0


def _mean(temperature: Array, section: WallSection, name: str) -> Array:
    part = section.parts[name]
    return np.asarray((temperature[:, part.nodes] * part.volume).sum(-1) / part.volume.sum())


def _stiffness(
    temperature: Array, section: WallSection, curves: MaterialCurves, table: Chill
) -> Array:
    volume = section.bare.node_volume()[..., 0, :]
    modulus = (curves.lasting_modulus(temperature) * volume).sum(-1) / volume.sum(-1)
    reference = curves.lasting_modulus(np.array([float(table.reference)]))
    if not np.isfinite(reference).all():
        raise InputError(
            f"chill.reference: {celsius(table.reference)} is outside the modulus data of "
            f"{curves.name}; choose a temperature within them")
    return np.asarray(modulus / reference)


def _margin(
    margin_at: Callable[[Array], Array], warmest: Array, curves: MaterialCurves
) -> Array:
    grid = np.linspace(warmest.min(), warmest.max(), MARGIN_POINTS)
    known = np.isfinite(curves.lasting_modulus(grid))
    found = np.full(grid.shape, np.nan)
    if known.any():
        found[known] = np.asarray(margin_at(grid[known]), dtype=float)
    # A margin follows the modulus, which falls by a ratio per degree: straight on a log scale.
    with np.errstate(invalid="ignore", divide="ignore"):
        return np.asarray(np.exp(np.interp(warmest, grid, np.log1p(found))) - 1)


def _cracks(followed: History, places: list[Place]) -> tuple[tuple[Crack, ...], Array]:
    cracks = []
    for place in places:
        known = np.isfinite(place.ratio)
        at = int(np.nanargmax(place.ratio)) if known.any() else 0
        cracks.append(Crack(place.name, float(place.ratio[at]), float(followed.time[at]),
                            float(place.stress[at]), place.by, place.ratio))
    cracks.sort(key=lambda c: -np.nan_to_num(c.peak, nan=-1.0))
    return tuple(cracks), worst_of(np.stack([place.ratio for place in places]), axis=0)


def _so_far(worst: Array) -> Array:
    """Peak of the cracking ratio so far: what has cracked stays cracked, and after a time at which
    it was not known nobody knows whether it did."""
    peak = np.fmax.accumulate(worst)
    lost = np.logical_or.accumulate(np.isnan(worst))
    return np.where(lost & ~(peak > 1), np.nan, peak)


def _limits(
    table: Chill, curves: MaterialCurves, coldest: Array, warmest: Array, stiffness: Array, *,
    margin: Array | None, worst: Array,
) -> tuple[ServiceLimit, ...]:
    limits = [ServiceLimit("stiffness ratio", float(table.limits.stiffness_ratio), stiffness, True)]
    if margin is not None:
        limits.append(ServiceLimit("lowest margin", float(table.limits.margin), margin, True))
    if np.isfinite(worst).any():
        limits.append(ServiceLimit(CRACKING, 1.0, _so_far(worst), False))
    soft = curves.softening_temperature
    if soft is not None and warmest.max() > soft:  # what has lost its shape does not get it back
        limits.append(ServiceLimit(
            "softening temperature", soft, np.maximum.accumulate(warmest), False, "K"))
    stated = (
        ("coldest allowed", table.limits.coldest),
        ("lowest service temperature", curves.service_low),
        ("brittle temperature", curves.brittle_temperature))
    for name, value in stated:
        if value is not None:
            limits.append(ServiceLimit(name, float(value), coldest, True, "K"))
            break
    return tuple(limits)


def _notes(
    table: Chill, curves: MaterialCurves, section: WallSection, followed: History,
    stiffness: Array, imbalance: float, places: list[Place],
) -> list[str]:
    notes = surroundings_notes(
        table.steps, table.uncovered, float(section.diameter), float(table.start))
    if any(step.kind in ("dry-ice", "contact") for step in table.steps):
        notes.append("contact with the coolant is an assumed conductance; fit it to a measured "
                     "chill-down")
    if imbalance > ENERGY_CLOSES:
        notes.append(f"heat does not balance: {imbalance:.2%} unaccounted for; lower "
                     "chill.tolerance or raise chill.cells")
    if not np.isfinite(stiffness).all():
        notes.append("part of the time the tube is outside the modulus data; curves have gaps")
    if any(not np.isfinite(place.ratio).all() for place in places):
        notes.append("part of the time modulus, strength or strain at break is not known: whether "
                     "the tube cracks then is not checked")
    if "land" not in section.parts:
        notes.append("no lands: thin wall against land is not checked")
    if any(part.where == "land" for part in table.attached) and "land" not in section.parts:
        notes.append("attached parts stated at a land are taken to sit in the skin")
    if any(step.name == UNCOVERED for step in table.steps):
        notes.append(f"a step is named {UNCOVERED!r} like the way back")
    cold, warm = float(followed.temperature.min()), float(followed.temperature.max())
    notes += [
        f"{key.replace('_', ' ')}: data cover {celsius(low)} to {celsius(high)} and the tube goes "
        f"from {celsius(cold)} to {celsius(warm)}; beyond the data the value at their end is used"
        for key, (low, high) in curves.held.items() if cold < low - 0.5 or warm > high + 0.5]
    if curves.softening_temperature is not None and warm > curves.softening_temperature:
        notes.append(f"softens: reaches {celsius(warm)}")
    return [*notes, *STANDING_NOTES]
