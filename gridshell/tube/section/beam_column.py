"""The tube under loads across it and along it at once: exact moment, shear force and deflection.

Axial compression P grows what the loads across do. With k^2 = P'/EI, P' = P/(1 - P/GA) and
u = k L/2 (pinned ends) or u = k L (clamped foot), so that u = pi/2 at the support's column load:

| load | first order | times |
|---|---|---|
| pinned, force F at mid-length | F L/4 | s tan(u)/u |
| pinned, even load q | q L^2/8 | s 2 (sec u - 1)/u^2 |
| cantilever, force F at the tip | F L | s tan(u)/u |
| cantilever, even load q | q L^2/2 | s 2 (1 - sec u + u tan u)/u^2 |
| either, the same moment everywhere | M | sec u |
| bow of a half (cantilever: quarter) sine e | P e | 1/(1 - P/Pcr) |

Timoshenko and Gere, Theory of Elastic Stability, chapter 1; s = 1/(1 - P/GA) is what shear adds
(Engesser's shear force, square to the bent axis; derived: M'' + k^2 M = s M0''). A free-free body
is one between pinned ends under a force that an even load balances. A moment stated without its
course along the tube is taken as the same everywhere, which no other course with that largest value
exceeds. Soft joints enter u through the column load.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from gridshell.define.types import Array, Quantity
from gridshell.tube.section.column import Member

# Share of the column load at which the factors stop growing: their values there (1e9) fail every
# check, and stay finite.
NEAREST = 1 - 1e-9
_SMALL = 0.3  # below this the difference of nearly equal numbers is taken from its series


@dataclass(frozen=True)
class AcrossLoads:
    """Loads that bend the tube.

    Attributes:
        force: at the tip of a cantilever, else at mid-length, N.
        load: along the whole length, N/m; free-free: its sum is taken as a force at mid-length that
            accelerates the tube.
        moment: the same everywhere, N m.
        shear: shear force besides that of the loads here, N.
        bow: of the axis over the length before any load, m.
    """

    force: Quantity = 0.0
    load: Quantity = 0.0
    moment: Quantity = 0.0
    shear: Quantity = 0.0
    bow: Quantity = 0.0


@dataclass(frozen=True)
class BeamAnswer:
    """Worst moment and shear force of a support, and the deflection.

    Attributes:
        moment: largest, N m.
        shear: largest, N.
        deflection: at the tip of a cantilever, else of mid-length against the ends, m.
        shear_share: part of the deflection that comes from shear without axial load, 0 to 1.
        growth: moment over that of the same loads without axial load; 1 where there is none.
    """

    moment: Quantity
    shear: Quantity
    deflection: Quantity
    shear_share: Quantity
    growth: Quantity


def _either(u: Array, series: Array, closed: Array) -> Array:
    return np.where(u < _SMALL, series, closed)


def tangent_factor(u: Quantity) -> Array:
    """tan(u)/u.

    Args:
        u: half of k L, or k L of a cantilever; 0 to pi/2.

    >>> round(float(tangent_factor(np.pi / 2 * 0.695**0.5)), 2)  # at 0.695 of the column load
    2.86
    """
    x = np.asarray(u, dtype=float)
    answer: Array = np.sinc(x / np.pi) / np.cos(x)
    return answer


def spread_factor(u: Quantity) -> Array:
    """2 (sec u - 1)/u^2.

    Args:
        u: as in `tangent_factor`.
    """
    x = np.asarray(u, dtype=float)
    answer: Array = np.sinc(x / 2 / np.pi) ** 2 / np.cos(x)
    return answer


def foot_factor(u: Quantity) -> Array:
    """2 (1 - sec u + u tan u)/u^2.

    Args:
        u: as in `tangent_factor`.
    """
    x = np.asarray(u, dtype=float)
    # 2 tan(u)/u less the factor of a load spread between pinned ends.
    return 2 * tangent_factor(x) - spread_factor(x)


def _growth(u: Array, factor: Array, series: tuple[float, ...], first: float) -> Array:
    """(factor - 1)/(first u^2), 1 at u = 0; ``series`` are the further terms in u^2."""
    with np.errstate(divide="ignore", invalid="ignore"):
        closed = (factor - 1) / (first * u**2)
    square, small = u * u, np.zeros_like(u)
    for term in reversed(series):
        small = (small + term) * square
    return _either(u, 1 + small, closed)


# Deflection over that without axial load, from the factors of the moments: w = (M - M0)/P.
# Terms of u^2: tan(u)/u, 2 (sec u - 1)/u^2 and 2 (1 - sec u + u tan u)/u^2 in powers of u.
_TANGENT = (2 / 5, 17 / 105, 62 / 945, 1382 / 51975)
_SPREAD = (61 / 150, 277 / 1680, 50521 / 756000, 540553 / 19958400)
_FOOT = (7 / 18, 113 / 720, 9613 / 151200, 140249 / 5443200)


def beam_column(member: Member, loads: AcrossLoads, compression: Quantity = 0.0) -> BeamAnswer:
    """Moment, shear force and deflection under loads across and axial compression at once.

    At the column load and above it the answer is that just below it, about 1e9 times the first
    order. Tension is not credited.

    Args:
        member: the tube between its supports.
        loads: across it.
        compression: axial, N.

    >>> plain = beam_column(Member("cantilever", 2.0, 10.0, 1e12), AcrossLoads(force=3.0))
    >>> float(plain.moment), round(float(plain.deflection), 6)  # F L, F L^3/(3 E I)
    (6.0, 0.8)
    """
    squeezed = np.maximum(np.asarray(compression, dtype=float), 0.0)
    critical = member.column_load
    force = np.minimum(squeezed, NEAREST * critical)
    shape = np.shape(force + member.length + member.EI)
    force = np.broadcast_to(force, shape)
    s = 1 / (1 - force / member.GA)
    u = np.pi / 2 * np.sqrt(force * s / member.bending_load)
    bowed = 1 / (1 - force / critical)
    parts = _clamped if member.support == "cantilever" else _pinned
    moment, shear, deflection = parts(member, loads, force, (s, u, bowed))
    none = np.zeros(())
    first, _, at_rest = parts(member, loads, none, (none + 1, none, none + 1))
    without = Member(
        member.support, member.length, member.EI, np.asarray(np.inf), member.joints)
    stiff = parts(without, loads, none, (none + 1, none, none + 1))[2]
    with np.errstate(divide="ignore", invalid="ignore"):
        # What a bow makes of an axial force has no first order; it counts from P e.
        growth = np.where(first + squeezed * loads.bow > 0,
                          moment / (first + force * bow_arm(member) * loads.bow), 1.0)
        share = np.where(at_rest > 0, 1 - stiff / at_rest, 0.0)
    return BeamAnswer(
        moment[()], (shear + loads.shear)[()], deflection[()], share[()], growth[()])


def bow_arm(member: Member) -> float:
    """Arm of the axial force on the bowed axis, over the bow.

    A cantilever that leaves its foot in line and bows by e over its length leans by 4 e at its tip:
    the arc of that bow.

    Args:
        member: the tube between its supports.
    """
    return 4.0 if member.support == "cantilever" else 1.0


def _pinned(
    member: Member, loads: AcrossLoads, axial: Array, factors: tuple[Array, Array, Array]
) -> tuple[Array, Array, Array]:
    """Moment, shear force and deflection with both ends pinned, or free."""
    s, u, bowed = factors
    L, EI, GA = member.length, member.EI, member.GA
    force, load = np.asarray(loads.force, float), np.asarray(loads.load, float)
    tangent, spread, secant = tangent_factor(u), spread_factor(u), 1 / np.cos(u)
    if member.support == "free-free":
        force, load = force + load * L, -(force / L + load)
    own = s * (force * L / 4 * tangent + load * L**2 / 8 * spread)
    moment = own + loads.moment * secant + axial * loads.bow * bowed
    sheared = s * (force / 2 * secant + load * L / 2 * tangent)  # at the ends
    if member.support == "free-free":
        # Half of the force at mid-length, or a crest between: M'^2 + k^2 (M - m)^2 is constant,
        # m = s F/(L k^2).
        away = np.maximum(u, 1e-9)  # hardly any axial load: the crest lies far beyond the ends
        crest = own > s * force * L / (4 * away**2)
        sheared = np.where(
            crest, np.hypot(sheared, s * force / (2 * away)), s * force / 2)
    shear = sheared + (
        loads.moment * 2 * u / L * np.tan(u) + axial * loads.bow * np.pi / L * bowed)
    grown = _growth(u, tangent, _TANGENT, 1 / 3)
    grown_spread = _growth(u, spread, _SPREAD, 5 / 12)
    x = member.joints.places
    one = np.minimum(x, 1 - x) / 2  # moment of a unit force at mid-length, over L
    opened = member.joints.flexibility * L**2 * bowed * (
        force * float(np.sum(one * one))
        + load * L * float(np.sum(x * (1 - x) / 2 * one))
        + loads.moment / L * float(np.sum(one))
    )
    deflection = (
        s * (force * L / 4 + load * L**2 / 8) / GA
        + s**2 * (force * L**3 / 48 * grown + 5 * load * L**4 / 384 * grown_spread) / EI
        + s * loads.moment * L**2 / (8 * EI) * spread
        + opened + loads.bow * (bowed - 1)
    )
    return moment, shear, deflection


def _clamped(
    member: Member, loads: AcrossLoads, axial: Array, factors: tuple[Array, Array, Array]
) -> tuple[Array, Array, Array]:
    """Moment, shear force and deflection with a clamped foot and a free tip."""
    s, u, bowed = factors
    L, EI, GA = member.length, member.EI, member.GA
    force, load = np.asarray(loads.force, float), np.asarray(loads.load, float)
    tangent, foot, secant = tangent_factor(u), foot_factor(u), 1 / np.cos(u)
    lean = bow_arm(member) * loads.bow
    moment = (
        s * (force * L * tangent + load * L**2 / 2 * foot) + loads.moment * secant
        + axial * lean * bowed
    )
    # Shear of an even load: s q L at the foot, more between if M' has its crest inside.
    rise = (1 - np.sinc(u / np.pi)) * secant
    crest = np.arctan2(1.0, np.maximum(u * rise, 1e-300)) < u
    with np.errstate(divide="ignore"):
        inside = np.where(crest, np.hypot(1 / np.where(u > 0, u, np.inf), rise), 1.0)
    shear = (
        s * (force * secant + load * L * np.maximum(inside, 1.0))
        + loads.moment * u / L * np.tan(u) + axial * lean * np.pi / (2 * L) * bowed
    )
    arm = 1 - member.joints.places
    opened = member.joints.flexibility * L**2 * bowed * (
        force * float(np.sum(arm**2)) + load * L * float(np.sum(arm**3)) / 2
        + loads.moment / L * float(np.sum(arm))
    )
    deflection = (
        s * (force * L + load * L**2 / 2) / GA
        + s**2 * (force * L**3 / 3 * _growth(u, tangent, _TANGENT, 1 / 3)
                  + load * L**4 / 8 * _growth(u, foot, _FOOT, 1 / 4)) / EI
        + s * loads.moment * L**2 / (2 * EI) * spread_factor(u)
        + opened + lean * (bowed - 1)
    )
    return moment, shear, deflection
