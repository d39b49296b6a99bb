"""General instability of the whole wall under each load, with knockdowns and range notes."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import replace

import numpy as np

from gridshell.define.types import Quantity
from gridshell.tube.buckling.clamped import clamped_waves
from gridshell.tube.buckling.local import ovalization_moment
from gridshell.tube.buckling.wave_laws import condensed, pressure_load, skin_bowing
from gridshell.tube.buckling.wave_stiffness import (
    LINE_ELEMENT,
    Bowing,
    Theory,
    WaveStiffness,
    wave_stiffness,
)
from gridshell.tube.buckling.waves import (
    LOADS,
    LowestWave,
    lowest_two_helices,
    lowest_waves,
)
from gridshell.tube.result import BucklingLoads, notes_where
from gridshell.wall.assess import Wall, found_once

# Where the loads were held to whole tubes of solid cells (proof/maps/solid_tubes.csv), and the
# largest difference there: one of 36 tubes with ribs inside or outside, perfect theory.
SOLID_PERCENT = 5.1
DEEPEST = 0.16  # depth of the wall over radius
MOST_GIVE = 0.45  # share of the skin's hoop stiffness lost to bowing between the ribs
DEEP_PERCENT = 21  # found in deeper walls, among them shells of proof/shells
BOWED_PERCENT = 10  # found in tubes that bow more
THICKEST = 0.2  # depth of the equivalent wall over radius above which thin-shell theory misleads
DEEP = f"the wall is deeper than {DEEPEST:g} of the radius"
BOWS = "wide thin pockets on a small radius"
ROUGH = "the equivalent wall is over a fifth of the radius"
UNBALANCED = "rib families are not balanced"
FEW_RIBS = "a half wave spans less than two ribs"
CELLS_PER_WAVE = 2.0  # fewer rib spacings than this in a half wave and smearing misleads


def wave_law(wall: Wall, theory: Theory = LINE_ELEMENT) -> WaveStiffness:
    """Wave matrix of a wall: ribs at their own radius, their transverse shear, bowing skin.

    All of that, and the work of loads in their layers, is left out with the published theories
    and with the formula "thin".

    Args:
        wall: one or many.
        theory: which curvature terms to keep.
    """
    return _wave_law(wall, theory)


@found_once
def _wave_law(wall: Wall, theory: Theory) -> WaveStiffness:
    if wall.sections and wall.design.ribs.formula != "fat":
        theory = replace(theory, depth=0.0)
    if theory is not LINE_ELEMENT:
        return wave_stiffness(*wall.curved, wall.grid.radius, theory)
    known = wall.properties
    membrane = known.modulus * wall.design.skin.thickness / (1 - known.poisson**2)
    return wave_stiffness(
        *wall.curved, wall.grid.radius, theory, wall.transverse_shear,
        Bowing(wall.bowing.hoop_loss, membrane, known.poisson, wall.grid.node_area),
    )


def resultant(load: str, radius: Quantity) -> Quantity:
    """Force, moment or torque of the whole tube per line force of its wall; 1 for pressures.

    Compression, N per N/m; bending, N m for that force at the most compressed fiber; torsion, N m
    per shear flow.

    Args:
        load: compression, bending, torsion or a pressure.
        radius: of the middle surface of the skin, m.
    """
    if load == "compression":
        return 2 * np.pi * radius
    if load == "bending":
        return np.pi * radius**2
    return 2 * np.pi * radius**2 if load == "torsion" else 1.0


def buckling_loads(
    wall: Wall, needed: tuple[str, ...] = LOADS, theory: Theory = LINE_ELEMENT
) -> BucklingLoads:
    """Lowest loads of perfect theory over all waves.

    The whole tube is taken from end to end as one length: rings, bulkheads and joints that hold
    it round would only raise the loads. Ends are free to move along and to turn unless
    ``tube.ends`` says that they are clamped.

    Args:
        wall: one or many.
        needed: which of `LOADS`.
        theory: which curvature terms to keep.
    """
    law, length = wave_law(wall, theory), wall.design.tube.length
    found = lowest_waves([load for load in LOADS if load in needed], law, length)
    if wall.design.tube.ends == "clamped":
        found = {load: clamped_waves(load, law, length, free) for load, free in found.items()}
    return BucklingLoads(**found)


def two_helices(wall: Wall) -> LowestWave:
    """Torsion by two helices that cancel at the ends, which a tube of solid cells can take too.

    3 to 11 % above the series that `buckling_loads` goes on to."""
    return lowest_two_helices(wave_law(wall), float(wall.design.tube.length))


def ribs_per_half_wave(wall: Wall, wave: LowestWave) -> Quantity:
    """Rib spacings in a half wave, along or round, whichever is fewer; infinite without ribs.

    Smearing the ribs over the skin needs about two (`CELLS_PER_WAVE`). Of an isogrid's three
    families the closest one counts, since every rib line is a line of nodes; of the user's own,
    which need not share nodes, the widest.
    """
    along = wall.design.tube.length / np.maximum(wave.m, 1e-9)
    around = np.pi * wall.grid.radius / np.maximum(wave.n, 0.5)
    axial_pitch = _met(wall, [line.sine for line in wall.grid.families])
    hoop_pitch = _met(wall, [line.cosine for line in wall.grid.families])
    with np.errstate(divide="ignore", invalid="ignore"):
        return np.minimum(
            np.where(axial_pitch > 0, along / axial_pitch, np.inf),
            np.where(hoop_pitch > 0, around / hoop_pitch, np.inf),
        )


def _met(wall: Wall, turns: Sequence[Quantity]) -> Quantity:
    """How far apart ribs are met in a direction that they cross at these sines; 0 for none."""
    found: Quantity = 0.0
    for line, turn in zip(wall.grid.families, turns, strict=True):
        met = line.pitch / np.maximum(np.abs(turn), 1e-12)
        crosses = met < 1e3
        if wall.grid.pattern == "isogrid":
            found = np.where(crosses & ((found == 0) | (met < found)), met, found)
        else:
            found = np.maximum(found, np.where(crosses, met, 0.0))
    return found


def wave_notes(wall: Wall, wave: LowestWave) -> tuple[str, ...]:
    """The mode, and whether smearing the ribs holds for it."""
    found: list[str] = []
    if np.ndim(wave.load) == 0 and np.isfinite(wave.load):
        found.append(wave.description)
    return (*found, *notes_where(
        (wave.on_edge, "the ribs shear so easily that ever shorter waves buckle first: the load is "
         "that of shear across the wall alone"),
        (ribs_per_half_wave(wall, wave) < CELLS_PER_WAVE,
         f"{FEW_RIBS}: smeared ribs overestimate; see local checks"),
    ))


def range_notes(wall: Wall) -> tuple[str, ...]:
    """Limits that concern the whole wall."""
    deep = wall.equivalent.thickness / wall.grid.radius
    skew = np.abs(wall.A[..., 0, 2]) + np.abs(wall.A[..., 1, 2])
    return solid_notes(wall) + notes_where(
        (deep > THICKEST, f"{ROUGH}: thin-shell theory is a rough guide"),
        (skew > 1e-6 * wall.A[..., 0, 0],
         f"{UNBALANCED}: coupling of stretching with twist is left out"),
    )


def solid_notes(wall: Wall) -> tuple[str, ...]:
    """How far the general loads were found off whole tubes of solid cells."""
    if not wall.sections:
        return ()
    if wall.design.ribs.formula != "fat":
        return ("general instability by the handbook: 22 % low to 27 % high against solid tubes",)
    if wall.grid.pattern == "families":
        return ("general instability of own rib families was not held to solid tubes",)
    depth, lost = wall.depth / wall.grid.radius, wall.bowing.hoop_loss
    outside = notes_where(
        (depth > DEEPEST,
         f"{DEEP}: general instability up to "
         f"{DEEP_PERCENT} % high and GJ up to 16 % high against solid tubes and shells; solve the "
         "whole tube ('gridshell prove FILE --whole')"),
        (lost > MOST_GIVE,
         f"{BOWS}: the skin between ribs bows; general instability "
         f"up to {BOWED_PERCENT} % high against solid tubes; solve the whole tube ('gridshell "
         "prove FILE --whole')"),
    )
    return outside or (
        f"general instability within {SOLID_PERCENT} % of solid tubes with every rib in place, "
        "before the knockdown, unless its check says otherwise",
    )


@found_once
def ring_stiffness(wall: Wall) -> Quantity:
    """Bending stiffness of a ring of the wall in its oval mode, per length of tube, N m.

    Twice the energy of w = cos 2t, constant along, is (2^2 - 1)^2 D/R^4: ribs at their own radius,
    their shear and the bowing of the skin are in it.
    """
    w = wave_law(wall)
    y = 4 / (w.radius * w.radius)
    x = 0.0 * y
    k22, k23, k33, bent = condensed(w, x, y)
    energy = (k33 - y * k23 * k23 / k22) * skin_bowing(
        w, x, y=y, k22=k22, k23=k23, k33=k33, bent=bent, share=0.0,
    )
    answer: Quantity = energy * (w.radius**2) ** 2 / 9
    return answer


def ovalization(wall: Wall, pressure: Quantity = 0.0) -> Quantity:
    """Moment at which a long tube flattens and collapses, N m; see `ovalization_moment`.

    External pressure flattens too: it takes its share p/p_oval of what the ring resists with,
    p_oval the pressure that buckles this tube into two waves round and one half wave along, 3 D/R^3
    in a long one (Timoshenko and Gere, Theory of Elastic Stability, 7.5). Ends that stay round make
    the tube stiffer against the moment too, which is not credited, nor is internal pressure.

    Args:
        wall: one or many.
        pressure: external pressure with its factor, Pa; below zero inside.
    """
    A = wall.curved[0]
    axial = A[..., 0, 0] - A[..., 0, 1] ** 2 / A[..., 1, 1]
    ring, radius = ring_stiffness(wall), wall.grid.radius
    left: Quantity = 1.0
    if np.any(np.asarray(pressure) > 0):
        x = (np.pi / wall.design.tube.length) ** 2
        oval = pressure_load(wave_law(wall), x, 4 / radius**2, 1.0)
        share = np.maximum(pressure, 0.0) / np.maximum(oval, 1e-300)
        left = np.maximum(1 - share, 0.0)
    return ovalization_moment(axial, ring * left, radius)
