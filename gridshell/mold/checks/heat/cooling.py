"""Softening of the mold's face and time to cool, in the mold's own and in other materials."""

from __future__ import annotations

import functools
from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np

from gridshell.define.constants import ROOM_TEMPERATURE
from gridshell.define.tables.casting import Casting
from gridshell.define.tables.design import Material
from gridshell.define.types import Array, Quantity
from gridshell.material.properties import Properties
from gridshell.material.resolve import properties
from gridshell.mold.checks.heat.transfer import (
    GIVE_UP,
    Cooling,
    Lining,
    contact_temperature,
    effusivity,
    follow_cooling,
    slab_cooling_time,
)
from gridshell.mold.checks.result import CAUTION, COMMON, FAILS, OK, UNKNOWN, MoldCheck

COMPARED = ("pla", "petg", "abs", "polycarbonate", "silicone-mold", "aluminum-6061-t6",
            "steel-mild")
NEAR_SOFT = 10.0  # K below softening where a printed face begins to lose its detail
HOT = 5.0  # K above the mold, below which a pour is a resin that cures and not a melt that cools
PATIENCE = 1800.0  # s
INCROPERA = ("Incropera and DeWitt, Fundamentals of Heat and Mass Transfer, two semi-infinite "
             "solids in contact")
SLAB = ("slab with its faces at the mold's temperature, first term of the series (Carslaw and "
        "Jaeger, Conduction of Heat in Solids, 2nd ed., Section 3.3); the usual cooling-time "
        "equation of injection molding (Menges, Michaeli and Mohren, How to Make Injection Molds; "
        "from memory)")


@dataclass(frozen=True)
class CoolingPlan:
    """Cooling of one design's places in every mold material.

    Attributes:
        places: names.
        thickness: of the places, m.
        molds: materials, the one of the design first.
        contact: (molds,) temperature of the face when the melt touches it, K.
        simple: (molds, places) time by `slab_cooling_time` in a mold that stays cold, s.
        followed: with molds that warm up.
        start: when poured, K.
        release: when taken out, K.
        mold_temperature: K.
        lining: of rubber on the side of the ribs, if there is one.
    """

    places: tuple[str, ...]
    thickness: Array
    molds: tuple[Properties, ...]
    contact: Array
    simple: Array
    followed: Cooling
    start: float
    release: float
    mold_temperature: float
    lining: Lining | None = None


def shared_wall(
    wall: Quantity, thickness: Quantity, mean_thickness: Quantity, diffusivity: Quantity,
    time: Quantity, pitch: Quantity,
) -> Quantity:
    """Thickness of mold that a place of the part has to itself, m.

    In a metal the heat of a thick place spreads sideways into mold that thin places leave cold,
    in a plastic it does not: the wall goes from its own thickness to its share by heat,
    wall x thickness/mean, as the depth that heat reaches, sqrt(pi a t) (Incropera and DeWitt,
    Section 5.7), goes from nothing to the distance between thick and thin places. Our estimate.

    Args:
        wall: depth of mold behind the face, m.
        thickness: of the place, m.
        mean_thickness: of the whole part, m.
        diffusivity: of the mold, m2/s.
        time: that heat has had, s.
        pitch: distance between thick and thin places, m.
    """
    reached = np.sqrt(np.pi * np.asarray(diffusivity) * np.where(np.isfinite(time), time, 0.0))
    share = np.minimum(reached / pitch, 1.0)
    return wall * (1 + (np.asarray(thickness) / mean_thickness - 1) * share)


@functools.cache
@functools.lru_cache(maxsize=32)  # the library does not change while a program runs
def mold_properties(name: str) -> Properties:
    """A library material of a mold, at room temperature, where every one of them has data.

    Args:
        name: of a library material.
    """
    return properties(Material(name), temperature=ROOM_TEMPERATURE)


def cooling_plan(
    places: Sequence[tuple[str, float]], part: Properties, mold: Properties, casting: Casting, *,
    mean_thickness: float, pitch: float, mold_wall: float, start: float, release: float,
    lining: Lining | None = None,
) -> CoolingPlan:
    """Follow the cooling of slabs in the mold's own and in every compared material.

    Args:
        places: name and thickness (m) of each slab.
        part: the material, where its data cover.
        mold: the mold's own material.
        casting: temperatures of the mold.
        mean_thickness: of the whole part, m: how much heat its mold takes up on average.
        pitch: distance between thick and thin places, m.
        mold_wall: depth of mold on either side, the mean of cavity and core, m.
        start: temperature when poured, K.
        release: temperature when taken out, K.
        lining: of rubber on the side of the ribs; None: the mold's material is on both sides.
    """
    temperature = float(casting.mold_temperature)
    molds = (mold, *(mold_properties(name) for name in COMPARED if name != mold.name))
    thickness = np.array([t for _, t in places])
    own = effusivity(part.conductivity, part.density, part.heat_capacity)
    contact = np.array([
        float(contact_temperature(own, start, effusivity(
            m.conductivity, m.density, m.heat_capacity), temperature)) for m in molds])
    diffusivity = part.conductivity / (part.density * part.heat_capacity)
    # Rubber on one side holds nearly all the heat on it: as half of a slab of twice the thickness.
    simple = np.broadcast_to(slab_cooling_time(
        thickness * (1 if lining is None else 2), diffusivity, start, temperature, release),
        (len(molds), len(thickness)))
    spread = np.array([m.conductivity / (m.density * m.heat_capacity) for m in molds], float)
    wall = shared_wall(
        mold_wall, thickness, mean_thickness, spread[:, None], simple, pitch)
    followed = follow_cooling(
        thickness, part, molds, wall, start=start, mold_temperature=temperature, release=release,
        heat_transfer=float(casting.heat_transfer), lining=lining)
    return CoolingPlan(
        tuple(name for name, _ in places), thickness, molds=molds, contact=contact,
        simple=np.asarray(simple), followed=followed, start=start, release=release,
        mold_temperature=temperature, lining=lining,
    )


def cooling_checks(
    plan: CoolingPlan | None, part: Properties, mold: Properties, start: float
) -> tuple[MoldCheck, ...]:
    """Softening of the mold's face, and time to the peel temperature in each mold material.

    Args:
        plan: None for a resin that is poured cold and cures, or where properties are missing.
        part: material of the part.
        mold: material of the mold.
        start: temperature when poured, K.
    """
    if plan is not None:
        return _softening(plan), _times(plan)
    limit, first, second = (
        _softening_limit(mold), "mold face against softening", "time to the peel temperature")
    if part.conductivity is None or part.heat_capacity is None:
        why = (f"conductivity or heat capacity of {part.name} is not known: state it under "
               "[material.properties]")
        return (MoldCheck(
            first, None, limit=limit, kind="temperature", verdict=UNKNOWN, advice=why,
            source=COMMON,
        ),
                MoldCheck(
                    second, None, limit=None, kind="time", verdict=UNKNOWN, advice=why,
                    source=COMMON,
                ))
    if mold.softening_temperature is not None and start >= mold.softening_temperature:
        return (MoldCheck(
            first, start, limit=limit, kind="temperature", verdict=FAILS,
            advice=(f"mold and melt are at {start - 273.15:.0f} degC, where {mold.name} is "
                          "soft"),
            source=COMMON,
        ),
                MoldCheck(
                    second, None, limit=None, kind="time", verdict=UNKNOWN,
                    advice="the mold is as hot as what is poured: it cools with the mold",
                    source=COMMON,
                ))
    return (
        MoldCheck(
            first, None, limit=limit, kind="temperature", verdict=OK,
            advice="poured no hotter than the mold: nothing softens but by the heat of curing",
            source=COMMON,
        ),
        MoldCheck(
            second, None, limit=None, kind="time", verdict=UNKNOWN,
            advice=("it cures and does not cool: keep to the supplier's time, and pour thick lands "
                  "in two goes, for curing heats them"),
            source=COMMON,
        ))


def _softening_limit(mold: Properties) -> float | None:
    """Where the mold's face softens, K; None where that is not known."""
    known = mold.softening_temperature
    return None if known is None else float(known)


def stands(mold: Properties, contact: float) -> str:
    """Verdict on a mold material whose face comes to a temperature.

    Args:
        mold: its material.
        contact: temperature of its face, K.
    """
    if mold.softening_temperature is None:
        # Only metals that melt far above any pour come without one in the library.
        return OK if mold.modulus > 30e9 else UNKNOWN
    if contact >= mold.softening_temperature:
        return FAILS
    return CAUTION if contact >= mold.softening_temperature - NEAR_SOFT else OK


def _softening(plan: CoolingPlan) -> MoldCheck:
    mold, contact = plan.molds[0], float(plan.contact[0])
    verdict = stands(mold, contact)
    standing = [m.name for m, c in zip(plan.molds, plan.contact, strict=True)
                if stands(m, float(c)) == OK]
    degrees = f"{contact - 273.15:.0f} degC"
    limit = _softening_limit(mold)
    if verdict == OK:
        advice = f"{mold.name} stays solid: its face comes to {degrees}"
    elif verdict == UNKNOWN:
        advice = f"softening temperature of {mold.name} is not known; its face comes to {degrees}"
    else:
        advice = (f"the face of {mold.name} comes to {degrees} and softens at "
                  f"{float(mold.softening_temperature) - 273.15:.0f} degC: the mold slumps and "
                  "sticks to the part")
        metals = [name for name in standing if name.startswith(("aluminum", "steel"))]
        others = [name for name in standing if name not in metals]
        if metals:
            advice += f"; milled metal is the answer ({', '.join(metals)})"
        if others:
            advice += f"; {', '.join(others)} would stand it too"
    return MoldCheck(
        "mold face against softening", contact, limit=limit, kind="temperature", verdict=verdict,
        advice=advice,
        source=(
            INCROPERA + "; softening: " + mold.sources.get("softening_temperature", "not stated")),
        notes=(f"caution within {NEAR_SOFT:g} K ({COMMON})",
         "printed molds soften sooner where they are thin or sparsely filled"),
        details={m.name: {"face": float(c), "softening": m.softening_temperature,
                  "verdict": stands(m, float(c))}
         for m, c in zip(plan.molds, plan.contact, strict=True)},
    )


def _times(plan: CoolingPlan) -> MoldCheck:
    released = plan.followed.released
    own = released[0]
    slowest = int(np.argmax(np.where(np.isnan(own), np.inf, own)))
    value = float(own[slowest])
    details = {
        "followed": {m.name: dict(zip(plan.places, row.tolist(), strict=True))
                     for m, row in zip(plan.molds, released, strict=True)},
        "cold_mold": dict(zip(plan.places, plan.simple[0].tolist(), strict=True)),
    }
    notes = [
        "followed: mold as deep as cavity wall and solid core on average warms up and loses heat "
        "to still air; one way through the thickness, perfect contact, no heat of melting",
        "cold_mold: the mold's face stays at the mold's temperature, as in a cooled metal mold",
    ]
    if plan.lining is not None:
        notes[0] = (
            f"followed: {plan.lining.properties.name} {plan.lining.thickness * 1e3:.0f} mm thick "
            "on the side of the ribs and round them, still air behind it (the half that carries it "
            "takes more heat: this is the longest), the mold on the other side; one way through "
            "the thickness, perfect contact, no heat of melting")
        notes[1] = ("cold_mold: the mold's face stays at the mold's temperature, nothing leaves on "
                    "the side of the rubber")
    where = f"{plan.places[slowest]} ({plan.thickness[slowest] * 1e3:.1f} mm)"
    if np.isnan(value):
        return MoldCheck(
            "time to the peel temperature", None, limit=None, kind="time", verdict=CAUTION,
            advice=(f"{where} is not down to {plan.release - 273.15:.0f} degC within "
            f"{GIVE_UP / 3600:.0f} h: the mold holds the heat"),
            source=SLAB, notes=tuple(notes), details=details,
        )
    names = [m.name for m in plan.molds]
    best = int(np.nanargmin(released[:, slowest]))
    advice = f"the {where} is slowest: wait {wait(value)} in {names[0]}"
    if names[best] != names[0] and released[best, slowest] < 0.7 * value:
        advice += f"; {names[best]} takes {wait(float(released[best, slowest]))}"
    verdict = OK
    if value > PATIENCE:
        verdict = CAUTION
        advice += "; thinner lands or a fan on the mold shorten it"
    return MoldCheck(
        "time to the peel temperature", value, limit=PATIENCE, kind="time", verdict=verdict,
        advice=advice, source=SLAB, notes=(*notes, f"limit: {COMMON}"), details=details,
    )


def wait(seconds: float) -> str:
    """A waiting time as one says it.

    Args:
        seconds: s.

    >>> wait(42.0), wait(600.0), wait(9000.0)
    ('42 s', '10 min', '2.5 h')
    """
    if seconds < 100:
        return f"{seconds:.0f} s" if seconds >= 10 else f"{seconds:.1f} s"
    return f"{seconds / 60:.0f} min" if seconds < 6000 else f"{seconds / 3600:.1f} h"
