"""Laws of use: time under load, temperature, a bowed axis, supports, stress from temperature."""

from __future__ import annotations

import dataclasses
from typing import Any

import numpy as np

from gridshell.define.tables.design import Design, Material, with_values
from gridshell.define.types import Array
from gridshell.material.catalog import load_material, material_names
from gridshell.tube.assess import assess_tube

from .draw import single, some
from .laws import Lot, Outcome, use


def of_library(lot: Lot, **changes: Any) -> Design:
    """The lot of a material of the library; the same one each time for the same lot."""
    names = material_names()
    name = names[int(1e6 * float(np.max(lot.design.skin.thickness))) % len(names)]
    return dataclasses.replace(lot.design, material=Material(name, **changes))


# Applied over allowable past which a tube has failed for good: behind its column load the size of
# what bends it says nothing.
FAILED = 1e3


def most_rise(before: dict[tuple[str, str], Array], after: dict[tuple[str, str], Array],
              count: int, kind: str = "") -> Array:
    """How much the use of any check fell, as a share of what it was: a margin that rose."""
    worst = np.zeros(count)
    for key, value in before.items():
        if kind not in key[1]:
            continue
        with np.errstate(all="ignore"):
            later = after.get(key, np.zeros(count))
            fall = 1 - np.minimum(later, FAILED) / np.minimum(value, FAILED)
        worst = np.fmax(worst, np.where(value > 1e-9, fall, 0.0))
    return worst


def longer_under_load(lot: Lot) -> list[Outcome]:
    """A case that lasts ten thousand times as long: no margin rises, no frequency changes."""
    def lasting(seconds: float) -> Design:
        return dataclasses.replace(of_library(lot), case=tuple(
            dataclasses.replace(case, duration=seconds) for case in lot.design.case))

    short, long = lot.assess(lasting(600.0)), lot.assess(lasting(6e6))
    changed = np.max([np.abs(lot.every(long.frequencies[name]) / lot.every(value) - 1)
                      for name, value in short.frequencies.items()], axis=0)
    return [
        Outcome("longer under load: no margin rises",
                most_rise(use(short, lot.count), use(long, lot.count), lot.count), 1e-5),
        Outcome("longer under load: vibration is as quick as before", changed, 1e-9),
    ]


def durations_are_one(lot: Lot) -> list[Outcome]:
    """A duration stated at the case or at the material: the same margins, warm on one face too.

    Ten designs of each lot; a short load on a material that is stated to carry lasting ones.
    """
    few = dataclasses.replace(lot, design=some(lot.design, np.arange(lot.count) < 10))

    def uses(material: float, case: float | None) -> dict[tuple[str, str], Array]:
        stated = of_library(few, load_duration=material, properties={"expansion": "5e-5 1/K"})
        return use(few.assess(dataclasses.replace(stated, case=tuple(
            dataclasses.replace(one, duration=case, temperature_difference=8.0)
            for one in stated.case))), few.count)

    worst = np.full(lot.count, np.nan)
    worst[:few.count] = 0.0
    own, same = uses(6e6, 600.0), uses(600.0, None)
    for key, value in same.items():
        with np.errstate(all="ignore"):
            gap = np.where((value > 1e-9) & (value < FAILED), np.abs(own[key] / value - 1), 0.0)
        worst[:few.count] = np.fmax(worst[:few.count], gap)
    return [Outcome("a duration at the case as at the material: the same margins", worst, 1e-5)]


def within_tables(lot: Lot) -> list[Outcome]:
    """At any temperature within the data of modulus and strength: finite stiffness and margins."""
    name = of_library(lot).material.name
    data = load_material(name)
    spans = [(curve.low, curve.high) for key, curve in data.curves.items()
             if key in ("modulus", "strength")]
    low = max((one for one, _ in spans if np.isfinite(one)), default=294.15)
    high = min((one for _, one in spans if np.isfinite(one)), default=294.15)
    kelvin = np.clip(low + (high - low) * lot.generator.random(lot.count), low, high)
    with np.errstate(all="ignore"):
        tube = assess_tube(of_library(lot, temperature=kelvin))
    bad = np.zeros(lot.count, bool)
    for value in (tube.stiffness.EA, tube.stiffness.EI, tube.stiffness.GJ, tube.mass,
                  *tube.frequencies.values()):
        number = lot.every(value)
        bad |= ~(np.isfinite(number) & (number > 0))
    if tube.wall.properties.strength is not None:  # else tension is no load that can be checked
        for case in tube.cases:
            bad |= np.isnan(lot.every(case.margin))
    return [Outcome("within the temperatures of the data: numbers",
                    np.where(bad, np.inf, 0.0), 0.0)]


def bowed_is_weaker(lot: Lot) -> list[Outcome]:
    """An axis bowed three times as far: no margin rises.

    But for pockets that stand for a long strip along the largest compression: what turns that
    direction may count for less than it adds (2 in a thousand seen), and for ribs that are hardly
    pressed: with a margin above 200 their stress may turn its sign, as in `is_continuous`.
    """
    bowed = with_values(lot.design, {"tube.straightness": 3 * lot.design.tube.straightness})
    before, after = use(lot.tube, lot.count), use(lot.assess(bowed), lot.count)
    before = {key: np.where(value < 0.005, 0.0, value) if "crippling" in key[1] else value
              for key, value in before.items()}
    if lot.design.ribs.pattern in ("families", "diagonal"):
        before = {key: value for key, value in before.items() if "pocket" not in key[1]}
    return [Outcome("more bow of the axis: no margin rises",
                    most_rise(before, after, lot.count), 1e-6)]


def freer_is_weaker(lot: Lot) -> list[Outcome]:
    """A foot clamped and the tip free instead of both ends pinned: no more column load.

    Under axial load and moment alone, which do not change with the support.
    """
    def held(support: str) -> Design:
        return dataclasses.replace(lot.design, case=tuple(
            dataclasses.replace(case, support=support, transverse=0.0, acceleration=0.0)
            for case in lot.design.case))

    pinned, mast = lot.assess(held("simply-supported")), lot.assess(held("cantilever"))
    return [Outcome("a free tip instead of a pinned one: no column margin rises", most_rise(
        use(pinned, lot.count), use(mast, lot.count), lot.count, "column"), 1e-6)]


def clamped_is_stronger(lot: Lot) -> list[Outcome]:
    """Ends of the wall built in: general instability at no less load. One design of each lot."""
    value = np.full(lot.count, np.nan)
    alone = single(lot.design, 0)
    if float(alone.tube.length) < 20 * float(alone.tube.outside_diameter):
        held = with_values(alone, {"tube.ends": "clamped"})
        free, built_in = lot.assess(alone).buckling, lot.assess(held).buckling
        value[0] = max((
            1 - float(getattr(built_in, kind).load / getattr(free, kind).load)
            for kind in ("compression", "lateral", "hydrostatic")
            if getattr(free, kind) is not None), default=0.0)
    return [Outcome("ends built in: general instability at no less load", value, 1e-6)]


def gradients_only_hurt(lot: Lot) -> list[Outcome]:
    """A temperature difference across the wall, and twice as much: no margin rises.

    What it relieves is not credited, and the use of strength is convex in it.
    """
    material = dataclasses.replace(
        lot.design.material, properties={"expansion": "2e-5 1/K"})

    def across(kelvin: Any) -> dict[tuple[str, str], Array]:
        return use(lot.assess(dataclasses.replace(lot.design, material=material, case=tuple(
            dataclasses.replace(case, temperature_difference=kelvin)
            for case in lot.design.case))), lot.count)

    size = 10 ** (3 * lot.generator.random(lot.count) - 1) * lot.generator.choice(
        [-1.0, 1.0], lot.count)
    none, once, twice = across(0.0), across(size), across(2 * size)
    return [
        Outcome("a temperature difference across the wall: no margin rises",
                most_rise(none, once, lot.count), 1e-6),
        Outcome("twice the temperature difference: no strength margin rises",
                most_rise(once, twice, lot.count, "strength of"), 1e-6),
    ]


USE_LAWS = (longer_under_load, durations_are_one, within_tables, bowed_is_weaker, freer_is_weaker,
            clamped_is_stronger, gradients_only_hurt)
