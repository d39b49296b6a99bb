"""Cracking check: stress and strain at each place of the wall against what the material takes."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from gridshell.define.tables.chill import AttachedPart, Chill
from gridshell.define.types import Array, Quantity
from gridshell.thermal.curves import MaterialCurves
from gridshell.thermal.heat.section import SectionPart, WallSection
from gridshell.thermal.stress.stress import (
    bonded_stress,
    bore_hoop_stress,
    common_strain,
    edge_stress_factor,
    land_share,
    shrink_pressure,
    tube_end_factor,
)

THIN_AT_LAND = "thin wall at the land"


@dataclass(frozen=True)
class Place:
    """One place where it may crack.

    Attributes:
        name: in words.
        stress: tension there without factor, Pa (times, ...).
        ratio: with factor and handling strain, over what the material takes; 1 cracks; NaN where
            that is not known at every point and no known point cracks.
        by: "strain" or "strength": which of the two governs at the peak.
    """

    name: str
    stress: Array
    ratio: Array
    by: str


def cracking_ratio(
    stress: Array, temperature: Array, curves: MaterialCurves, factor: Quantity,
    handling_strain: Quantity,
) -> tuple[Array, Array]:
    """Ratios by strain and by strength; NaN where the material's limit is not known.

    Above its brittle temperature a material yields before it breaks, and only the strain counts
    (if it is known); below, both.

    Args:
        stress: tension, Pa.
        temperature: K, same shape.
    """
    modulus = curves.modulus(temperature)
    strain = factor * np.maximum(stress, 0.0) / modulus + handling_strain
    by_strain = np.full(np.shape(strain), np.nan)
    by_strength = np.full(np.shape(strain), np.nan)
    if curves.strain_at_break is not None:
        by_strain = strain / curves.strain_at_break(temperature)
    if curves.strength is not None:
        by_strength = strain * modulus / curves.strength(temperature)
        if curves.strain_at_break is not None and curves.brittle_temperature is not None:
            by_strength = np.where(temperature > curves.brittle_temperature, np.nan, by_strength)
    return by_strain, by_strength


def _both(by_strain: Array, by_strength: Array) -> Array:
    return np.fmax(by_strain, by_strength)


def worst_of(ratio: Array, axis: int) -> Array:
    """Highest cracking ratio along an axis; NaN where some are not known and no known one cracks.

    >>> worst_of(np.array([[0.2, np.nan], [1.2, np.nan], [0.2, 0.4]]), -1).tolist()
    [nan, 1.2, 0.4]
    """
    highest = np.fmax.reduce(ratio, axis=axis)
    unknown = np.isnan(ratio).any(axis=axis)
    return np.where(unknown & ~(highest > 1), np.nan, highest)


def _place(
    name: str, stress: Array, temperature: Array, curves: MaterialCurves, chill: Chill
) -> Place:
    """A place from stress and temperature at its points (times, ..., points)."""
    by_strain, by_strength = cracking_ratio(
        stress, temperature, curves, chill.limits.cracking_factor, chill.handling_strain)
    ratio = _both(by_strain, by_strength)
    known = np.isfinite(ratio).any()
    by = "unknown"
    if known:
        peak = np.unravel_index(np.nanargmax(ratio), ratio.shape)
        strength = by_strength[peak]
        by = "strength" if np.isfinite(strength) and strength >= ratio[peak] else "strain"
    return Place(
        name, np.fmax.reduce(np.maximum(stress, 0.0), axis=-1), worst_of(ratio, -1), by)


def _mean(temperature: Array, part: SectionPart) -> Array:
    return np.asarray((temperature[..., part.nodes] * part.volume).sum(-1) / part.volume.sum(-1))


def wall_places(
    temperature: Array, section: WallSection, curves: MaterialCurves, chill: Chill
) -> list[Place]:
    """Every place of the wall itself.

    Args:
        temperature: of the tube's nodes, K (times, ..., nodes).

    Skin and ribs share one strain (the tube can't curl): biaxial in the skin, along the rib in
    the ribs (of a grid half of them, see `WallSection.rib_sharing`). Lands share their strain
    with the wall beside them as rings or along seams.
    """
    base = chill.fitted
    parts = section.parts
    nu = curves.poisson(np.asarray(np.mean(temperature)))
    skin = parts["skin"]

    def free(t: Array) -> Array:
        return curves.strain(base, t)

    # One strain for skin, foot and ribs together.
    pieces = [name for name in ("skin", "foot", "rib") if name in parts]
    strains, weights = [], []
    for name in pieces:
        part = parts[name]
        t = temperature[..., part.nodes]
        plane = section.rib_sharing if name == "rib" else 1 / (1 - nu)
        strains.append(free(t))
        weights.append(part.volume * plane * curves.modulus(t))
    held = common_strain(np.concatenate(strains, -1), np.concatenate(weights, -1))[..., None]
    places = []
    skin_t = temperature[..., skin.nodes]
    skin_stress = curves.modulus(skin_t) / (1 - nu) * (held - free(skin_t))
    places.append(_place("skin", skin_stress * tube_end_factor(nu), skin_t, curves, chill))
    if "rib" in parts:
        rib_t = temperature[..., parts["rib"].nodes]
        rib_stress = curves.modulus(rib_t) * (held - free(rib_t))
        places.append(_place("rib", rib_stress * chill.concentration, rib_t, curves, chill))
    if "land" in parts:
        land = parts["land"]
        land_t = temperature[..., land.nodes]
        modulus = curves.modulus(land_t)
        land_strain = common_strain(free(land_t), land.volume * modulus)[..., None]
        inner_stress = modulus / (1 - nu) * (land_strain - free(land_t)) * tube_end_factor(nu)
        ring = land_share(section.end_land, section.land_depth, section.thickness,
                          section.radius, nu)
        gap = land_strain - held  # positive: the land holds the wall long
        wide = np.asarray(ring)[..., None]
        seam = np.asarray(section.cross)[..., None]
        # Bending at the edge pulls on one face whichever way the land moves.
        bent = np.abs(gap) * wide * edge_stress_factor(nu)
        along = gap * seam
        beside = curves.modulus(skin_t) * np.maximum(bent, along) * chill.concentration
        places.append(_place(THIN_AT_LAND, beside + np.maximum(skin_stress, 0.0), skin_t, curves,
                             chill))
        pulled = modulus * np.maximum(-gap, 0.0) * np.maximum(1 - wide, 1 - seam)
        places.append(_place("land", np.maximum(inner_stress, 0.0) + pulled, land_t, curves,
                             chill))
    return places


def part_mismatch(
    part: AttachedPart, temperature: Quantity, curves: MaterialCurves, base: float
) -> Array:
    """Strain by which a part is too large for the tube at a temperature of the tube, K."""
    t = np.asarray(temperature, dtype=float)
    own = part.expansion * (base + part.follows * (t - base) - base)
    return np.asarray(own - curves.strain(base, t))


def attached_stress(
    part: AttachedPart, temperature: Quantity, section: WallSection, curves: MaterialCurves,
    base: float,
) -> Array:
    """Tension that an attached part causes in the tube at a temperature, Pa."""
    t = np.asarray(temperature, dtype=float)
    mismatch = part_mismatch(part, t, curves, base)
    modulus, nu = curves.modulus(t), curves.poisson(t)
    if part.kind == "cord":
        return bonded_stress(mismatch, modulus, section.volume, part.modulus, part.area)
    radius: Quantity
    outer: Quantity
    inner: Quantity
    if part.kind == "screw":
        radius, outer, inner = part.diameter / 2, part.edge_distance, 0.0
    else:
        if part.where == "land":
            radius, outer = section.bore / 2, section.diameter / 2
        else:
            radius = section.radius - section.thickness / 2
            outer = radius + section.thickness
        inner = radius - part.thickness if part.kind == "coupler" else 0.0
        inner = np.maximum(inner, 0.0)
    # A gap on the diameter must close first.
    mismatch = mismatch - part.clearance / 2 / radius
    pressure = shrink_pressure(
        mismatch, radius, outer=outer, inner=inner, modulus=modulus, poisson=nu,
        part_modulus=part.modulus, part_poisson=part.poisson,
    )
    return bore_hoop_stress(pressure, radius, outer)


def attached_places(
    temperature: Array, section: WallSection, curves: MaterialCurves, chill: Chill
) -> list[Place]:
    """One place for each attached part, at the mean temperature of the wall that grips it."""
    places = []
    for part in chill.attached:
        where = section.parts.get(part.where, section.parts["skin"])
        t = _mean(temperature, where)
        stress = attached_stress(part, t, section, curves, chill.fitted)
        places.append(_place(part.name, stress[..., None], t[..., None], curves, chill))
    return places


def all_places(
    temperature: Array, section: WallSection, curves: MaterialCurves, chill: Chill
) -> list[Place]:
    """Every place, the wall's own first."""
    return wall_places(temperature, section, curves, chill) + attached_places(
        temperature, section, curves, chill)


def still_ratio(
    temperature: Quantity, section: WallSection, curves: MaterialCurves, chill: Chill
) -> dict[str, Array]:
    """Cracking ratio at an even temperature, chilled ever so slowly: handling, attached parts."""
    t = np.atleast_1d(np.asarray(temperature, dtype=float))
    found = {"handling": _both(*cracking_ratio(
        np.zeros(t.shape), t, curves, chill.limits.cracking_factor, chill.handling_strain))}
    for part in chill.attached:
        stress = attached_stress(part, t, section, curves, chill.fitted)
        found[part.name] = _both(*cracking_ratio(
            stress, t, curves, chill.limits.cracking_factor, chill.handling_strain))
    return found
