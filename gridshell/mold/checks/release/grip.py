"""Grip: how hard a shrinking part holds on to its mold, and the pull that takes it off."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from gridshell.define.constants import ROOM_TEMPERATURE
from gridshell.define.tables.casting import Casting
from gridshell.define.tables.design import Design
from gridshell.define.tables.mold import Mold
from gridshell.define.types import Quantity
from gridshell.material.properties import Properties
from gridshell.mold.checks.result import CAUTION, COMMON, FAILS, UNKNOWN, MoldCheck, most
from gridshell.wall.assess import Wall

STRESS_SHARE = 0.5  # of the strength that pulling may use
GRIP, GRIP_STRESS = "pull to free the shrunken part", "stress of that pull in the skin"


def shrink_before_release(
    shrinkage: Quantity, sets_at: Quantity, release: Quantity, room: Quantity = ROOM_TEMPERATURE
) -> Quantity:
    """Share of the linear mold shrinkage that has come when the part is taken out.

    It shrinks evenly from where it sets to room temperature; a part that sets no warmer than it
    is released (a resin that cured) has it all. Our estimate.

    Args:
        shrinkage: linear.
        sets_at: temperature at which it sets, K.
        release: temperature when taken out, K.
        room: room temperature, K.

    >>> round(float(shrink_before_release(0.012, 353.15, 313.15, 293.15)), 4)
    0.008
    """
    sets_at, release = np.asarray(sets_at, float), np.asarray(release, float)
    with np.errstate(divide="ignore", invalid="ignore"):
        share = np.where(
            (sets_at > release) & (sets_at > room),
            (sets_at - release) / (sets_at - np.minimum(room, release)), 1.0)
    return shrinkage * np.clip(share, 0.0, 1.0)


def held_shrinkage(
    mold: Mold, part: Properties, release: float, cools: bool
) -> float | None:
    """Share of shrinkage that a rigid mold holds back until the part is taken out; None: not known.

    Args:
        mold: the `[mold]` table.
        part: material of the part.
        release: temperature when taken out, K.
        cools: whether it sets by cooling; what cures has shrunk by then.
    """
    known = part.shrinkage if mold.shrinkage is None else mold.shrinkage
    if known is None:
        return None
    if not cools:
        return float(known)
    sets_at = release if part.softening_temperature is None else part.softening_temperature
    return float(shrink_before_release(known, sets_at, release))


@dataclass(frozen=True)
class Grip:
    """A part held from shrinking by its core.

    Attributes:
        strain: shrinkage held back.
        hoop: tension in the wall round the tube, N/m.
        axial: tension along it, N/m.
        pressure: on the core, Pa.
        force: to pull it off, N.
        stress: in the skin where it is pulled, Pa.
    """

    strain: Quantity
    hoop: Quantity
    axial: Quantity
    pressure: Quantity
    force: Quantity
    stress: Quantity


def held_share(
    stiffness: Quantity, foundation: Quantity, half_length: Quantity
) -> Quantity:
    """Share of the tension of a fully held sheet that ribs in grooves hold at its middle.

    A sheet of membrane stiffness A that would shrink by e, on ribs that give way by shear, has
    A u'' = k u with free ends: the tension A e (1 - cosh(b x)/cosh(b l)), b = sqrt(k/A), the
    shear-lag solution of lap joints (Volkersen 1938; from memory). A short arc holds less than a
    long one.

    Args:
        stiffness: A, membrane stiffness, N/m.
        foundation: k, force per area and displacement of the ribs, N/m3.
        half_length: l, from the middle to a free end, m.

    >>> [round(float(held_share(1.0, 1.0, l)), 4) for l in (0.0, 1.0, 10.0)]
    [0.0, 0.3519, 0.9999]
    """
    return 1 - 1 / np.cosh(np.minimum(np.sqrt(foundation / stiffness) * half_length, 700.0))


@dataclass(frozen=True)
class Backing:
    """Rubber that the ribs sit in, in place of rigid grooves.

    Attributes:
        properties: of the rubber.
        thickness: under the ribs, to what holds it, m.
    """

    properties: Properties
    thickness: float


def rib_foundation(bent: Wall, backing: Backing | None = None) -> tuple[Quantity, Quantity]:
    """How stiffly ribs in their grooves hold the skin along and round the tube, N/m3.

    Each rib is a block of its mean width sheared over its height, G w/h for a meter of it; across
    its line it holds, along its line it slides. In rubber the blocks between the grooves are
    sheared over the same height and the rubber under them over its thickness, all in series.
    Derived here.

    Args:
        bent: the smeared wall.
        backing: rubber that has the grooves; None: they are rigid.
    """
    shear = _shear_modulus(bent.properties)
    along: Quantity = 0.0
    around: Quantity = 0.0
    for line, section in zip(bent.grid.families, bent.sections, strict=True):
        stiff = shear * section.mean_width / section.height / line.pitch
        if backing is not None:
            block = np.maximum(line.pitch - section.mean_width, 0.0) / section.height / line.pitch
            stiff = _in_series(stiff, _shear_modulus(backing.properties) * block)
        along = along + stiff * line.sine**2
        around = around + stiff * line.cosine**2
    if backing is None:
        return along, around
    under = _shear_modulus(backing.properties) / backing.thickness
    return _in_series(along, under), _in_series(around, under)


def _shear_modulus(material: Properties) -> Quantity:
    return material.modulus / (2 * (1 + material.poisson))


def _in_series(first: Quantity, second: Quantity) -> Quantity:
    """Stiffness of two springs one behind the other."""
    with np.errstate(divide="ignore", invalid="ignore"):
        return np.where(np.asarray(first) * second > 0, first * second / (first + second), 0.0)


def grip(
    bent: Wall, strain: Quantity, friction: Quantity, in_core: bool,
    backing: Backing | None = None,
) -> Grip:
    """Tension, pressure and pulling force of one piece that the core keeps from shrinking.

    The mold is rigid, so both strains are held: N = (A11 + A12) e along, (A12 + A22) e round, and
    p = N/R on the core. A whole sleeve is drawn along the axis against friction x p x 2 pi R L,
    the release force of a sleeve on a core (Menges, Michaeli and Mohren, How to Make Injection
    Molds; from memory). The edges of a half shell are free, so only ribs in grooves can hold its
    tension: flanks next to the edges are pressed by N L at both seams and by N W at both ends.
    Drawn out of a groove of draft d such a flank takes N (f cos d - sin d), nothing where the
    draft beats friction. How much tension the ribs hold grows with the arc and the length, see
    `held_share`. With the grooves in the core the skin slides on it besides: lifting a
    shell of angle 2a takes the integral of f p |sin phi|, 2 f N L (1 - cos a). Derived here.

    Args:
        bent: the wall at the temperature of release; its grid gives the piece.
        strain: shrinkage held back.
        friction: part on mold.
        in_core: True when the ribs sit in the core, False when in the cavity.
        backing: rubber that has the grooves; None: they are rigid.
    """
    grid, design = bent.grid, bent.design
    radius, length = grid.radius, design.section_length
    axial = (bent.A[..., 0, 0] + bent.A[..., 0, 1]) * strain
    hoop = (bent.A[..., 0, 1] + bent.A[..., 1, 1]) * strain
    pressure = hoop / radius
    arc = 2 * np.pi * radius / grid.segments
    if grid.segments == 1:
        force = friction * pressure * 2 * np.pi * radius * length
        pulled = 2 * np.pi * radius
    else:
        half = np.pi / grid.segments
        along, around = rib_foundation(bent, backing)
        hoop = hoop * held_share(bent.A[..., 1, 1], around, radius * half)
        axial = axial * held_share(bent.A[..., 0, 0], along, length / 2)
        pressure = hoop / radius
        draft = design.ribs.draft
        flank = np.maximum(friction * np.cos(draft) - np.sin(draft), 0.0)
        force = 2 * flank * (hoop * length + axial * arc)
        if in_core:
            force = force + 2 * friction * hoop * length * (1 - np.cos(half))
        if not design.has_ribs:
            hoop, axial, pressure, force = (0.0 * v for v in (hoop, axial, pressure, force))
        pulled = 2 * length
    return Grip(strain, hoop, axial, pressure, force, force / (pulled * design.skin.thickness))


def grip_checks(
    design: Design, bent: Wall, warm: Properties, strain: float | None, casting: Casting,
    backing: Backing | None = None,
) -> tuple[MoldCheck, ...]:
    """Pull against what hands give, and stress in the skin against its strength.

    Args:
        design: one design (no arrays).
        bent: its wall at the temperature of release.
        warm: its material there.
        strain: shrinkage held back; None when the material's shrinkage is not known.
        casting: the `[mold.casting]` table.
        backing: rubber that has the grooves; None: they are rigid.
    """
    name, source = GRIP, (
        "hoop tension of the shrinkage held back, p = N/R, friction; derived here, after the "
        "release force of a sleeve (Menges, Michaeli and Mohren; from memory)")
    if strain is None:
        return (MoldCheck(
            name, None, limit=None, kind="force", verdict=UNKNOWN,
            advice=f"shrinkage of {warm.name} is not known; state mold.shrinkage", source=source,
        ),)
    found = grip(bent, strain, casting.friction, design.ribs.side == "inside", backing)
    force, limit = float(found.force), float(casting.release_force)
    celsius = float(warm.temperature) - 273.15
    sticks = casting.friction > np.tan(design.ribs.draft) or not design.has_ribs
    advice = (f"shrinking by {strain:.2%} in the mold at {celsius:.0f} degC it holds with "
              f"{float(found.pressure) / 1e3:.2g} kPa; {force:.0f} N pulls it off")
    verdict = most(force, limit)
    cures = warm.family == "casting resin"
    if verdict == FAILS and backing is not None:
        verdict = CAUTION
        advice += (" at once; take piece and insert off the rigid half together, then peel the "
                   "rubber back from one end")
    elif verdict == FAILS:
        advice += ("; mold.core = 'rubber' for an insert that peels off, more ribs.draft, less "
                   "mold.casting.friction with a release agent, or tools that pull this much "
                   "(mold.casting.release_force)")
        advice += (", or take it out as early as its supplier allows: it shrinks on while it cures"
                   if cures else ", or open it warmer and earlier")
    eases = "" if cures else "; the part relaxes with time, so waiting warm eases it"
    held_by = "the mold is taken as rigid" if backing is None else (
        f"the ribs sit in {backing.properties.name}, which shears with them")
    notes = ["limit: what two hands or light tools give, stated or " + COMMON, held_by + eases]
    if cures:
        notes.append("a resin shrinks in part while it is still liquid, which holds nothing: this "
                     "is the most")
    if sticks:
        notes.append(f"friction {casting.friction:g} beats the draft: wedges do not free "
                     "themselves, use release agent")
    details = {"strain": strain, "hoop_tension": float(found.hoop),
               "axial_tension": float(found.axial), "pressure": float(found.pressure)}
    first = MoldCheck(
        name, force, limit=limit, kind="force", verdict=verdict, advice=advice, source=source,
        notes=tuple(notes), details=details,
    )
    return first, _stress(found, warm, celsius, source, backing is not None)


def _stress(
    found: Grip, warm: Properties, celsius: float, source: str, peels: bool
) -> MoldCheck:
    name, stress = GRIP_STRESS, float(found.stress)
    if warm.strength is None or not np.isfinite(warm.strength):
        return MoldCheck(
            name, stress, limit=None, kind="pressure", verdict=UNKNOWN,
            advice=f"strength of {warm.name} at {celsius:.0f} degC is not known", source=source,
        )
    limit = float(warm.strength) * STRESS_SHARE
    verdict = most(stress, limit)
    advice = ("the skin takes it" if verdict != FAILS
              else "the skin tears before it lets go: pull along the whole edge, and less friction")
    if verdict == FAILS and peels:
        verdict = CAUTION
        advice = "pulled at once the skin tears: peel the rubber back from one end"
    return MoldCheck(
        name, stress, limit=limit, kind="pressure", verdict=verdict, advice=advice, source=source,
        notes=(f"limit: {STRESS_SHARE:.0%} of the strength at release ({COMMON})",
         "pulled along both edges of the piece at once"),
        details={"strength": float(warm.strength)},
    )
