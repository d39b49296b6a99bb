"""What each kind of event does to the body: loads, balanced by inertia or by its supports.

A body in free flight is held by its own inertia (inertia relief). Weight is the same on every
part of it, so it accelerates the body and does not load it; weight counts where ground, rail or
straps hold the body.
"""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass

import numpy as np

from gridshell.define.constants import GRAVITY
from gridshell.define.tables.body import Event
from gridshell.define.types import Array
from gridshell.loads.normal_force import HIGHEST_MACH, SMALL_ANGLE
from gridshell.loads.placed import PlacedBody
from gridshell.loads.section_forces import (
    Forces,
    Loads,
    clamped_balance,
    forces_along,
    free_balance,
    hinged_balance,
    inertia_loads,
    resultants,
    supported_balance,
)

OPENING_FACTOR = 1.8  # flat circular canopy that opens without slowing the body (from memory,
# Knacke, Parachute Recovery Systems Design Manual, 1991)
BLOW_FACTOR = 2.0  # peak over mean force of a linear spring that stops a mass


@dataclass(frozen=True)
class EventForces:
    """One event and the forces it puts into the body.

    Attributes:
        event: as stated.
        loads: balanced, on the body's cells; with the dynamic factor, without the design factor.
        forces: along the body, from those loads.
        facts: what was worked out on the way, name -> (value in SI, unit).
        notes: limits and assumptions.
        imbalance: largest force or moment left at the aft end over the largest in the body.
    """

    event: Event
    loads: Loads
    forces: Forces
    facts: dict[str, tuple[float, str]]
    notes: tuple[str, ...]
    imbalance: float


@dataclass
class _Work:
    """What an event's function fills in."""

    body: PlacedBody
    event: Event
    facts: dict[str, tuple[float, str]]
    notes: list[str]

    @property
    def stations(self) -> Array:
        return self.body.mass.stations

    def empty(self) -> Loads:
        return Loads.none(len(self.stations))


def _drag(work: _Work) -> Loads:
    event, body, loads = work.event, work.body, work.empty()
    drag = event.drag or 0.0
    if event.drag_coefficient is not None:
        drag = 0.5 * event.air_density * event.speed**2 * event.drag_coefficient
        drag *= body.reference_area
    if drag:
        work.facts["drag"] = (drag, "N")
    loads.along_at[0] = drag * event.drag_at_nose
    loads.along[:] = drag * (1 - event.drag_at_nose) / body.length
    return loads


def _push(work: _Work, force: float, sign: float) -> Loads:
    """Thrust at its place, beside and tilted to the axis; ``sign`` is to which side."""
    event, loads = work.event, work.empty()
    at = -1 if event.thrust_position is None else work.body.station(event.thrust_position)
    loads.along_at[at] = -force * np.cos(event.thrust_angle)
    loads.across_at[at] = sign * force * np.sin(event.thrust_angle)
    loads.couple_at[at] = -sign * force * event.thrust_offset
    return loads


def _linear_on(work: _Work, fore: float, aft: float, force: float, center: float) -> Loads:
    """A force spread linearly over a piece of the body so that it acts at ``center``."""
    loads, cells = work.empty(), work.body.cells(fore, aft)
    middle, length = (fore + aft) / 2, aft - fore
    if length < 1e-6:  # m: a point, over which nothing can be spread
        loads.across_at[work.body.station(middle)] = force
        return loads
    x = work.stations
    slope = 12 * (center - middle) / length**2
    at = force / length * (1 + slope * (x - middle))
    loads.across_fore[cells] = at[:-1][cells]
    loads.across_aft[cells] = at[1:][cells]
    return loads


def _wind(work: _Work, ahead_of: float | None = None) -> Loads:
    """Wind across the body and its fins, at rest along the axis."""
    event, body, loads = work.event, work.body, work.empty()
    pressure = 0.5 * event.air_density * event.wind_speed**2 * event.crossflow_coefficient
    line = pressure * body.diameter
    seen = body.middles < (body.length if ahead_of is None else ahead_of)
    loads.across_fore[:] = loads.across_aft[:] = np.where(seen, line, 0.0)
    for part in body.parts:
        if part.fins is not None and (ahead_of is None or part.fins_at < ahead_of):
            fins = part.fins
            area = fins.count / 2 * (fins.root_chord + fins.tip_chord) / 2 * fins.span
            middle = part.fins_at + fins.root_chord / 2
            loads += _linear_on(work, part.fins_at, part.fins_at + fins.root_chord,
                                pressure * area, middle)
    if event.wind_speed:
        work.facts["wind force"] = (float(resultants(work.stations, loads)[1]), "N")
    return loads


def _weight(work: _Work, along: float, across: float) -> Loads:
    """Weight; arguments are the accelerations of gravity along (aftward) and across (upward)."""
    return inertia_loads(work.body.mass, -along, -across, 0.0, 0.0)


def _free(work: _Work, loads: Loads) -> Loads:
    balanced, along, across, turning = free_balance(work.body.mass, loads)
    work.facts["acceleration along"] = (-float(along), "m/s^2")  # forward positive, for reading
    if across or turning:
        work.facts["acceleration across"] = (float(across), "m/s^2")
        work.facts["angular acceleration"] = (float(turning), "rad/s^2")
    return balanced


def _boost(work: _Work, sign: float) -> Loads:
    return _free(work, _drag(work) + _push(work, work.event.thrust, sign))


def _gust(work: _Work, sign: float) -> Loads:
    event, body = work.event, work.body
    angle = event.angle_of_attack
    if angle is None:
        angle = float(np.arctan2(event.gust_speed, event.speed))
    dynamic = 0.5 * event.air_density * event.speed**2
    mach = event.speed / event.sound_speed
    work.facts["angle of attack"] = (angle, "rad")
    work.facts["dynamic pressure"] = (dynamic, "Pa")
    loads = _drag(work) + _push(work, event.thrust or 0.0, sign)
    line = (
        dynamic * angle * 2 * body.area_growth / np.diff(work.stations)
        + dynamic * np.sin(angle) ** 2 * event.crossflow_coefficient * body.diameter
    )
    loads.across_fore[:] += line
    loads.across_aft[:] += line
    slope, center = body.normal_force(mach)
    for part, one, at in body.fin_sets(mach):
        fins = part.fins
        assert fins is not None
        loads += _linear_on(work, part.fins_at, part.fins_at + fins.root_chord,
                            dynamic * body.reference_area * angle * one, at)
    work.facts["normal force slope"] = (slope, "1/rad")
    work.facts["center of pressure"] = (center, "m")
    work.facts["center of gravity"] = (body.mass.center, "m")
    if angle > SMALL_ANGLE:
        work.notes.append(
            f"angle of attack {np.degrees(angle):.1f} deg is beyond the small angles (about 10 "
            "deg) of the normal-force method; fins may stall"
        )
    if mach > HIGHEST_MACH:
        work.notes.append(
            f"Mach {mach:.2f}: fin theory is subsonic; its value at Mach {HIGHEST_MACH} was used"
        )
    if not center > body.mass.center:
        work.notes.append(
            "the center of pressure lies ahead of the center of gravity: statically unstable, "
            "do not fly"
        )
    return _free(work, loads)


def _guided(work: _Work, loads: Loads) -> Loads:
    """Guides hold the body across; along the axis it is free to accelerate."""
    supports = work.event.supports
    assert supports is not None
    one, two = sorted(work.body.station(place) for place in supports)
    loads, first, second = supported_balance(work.stations, loads, one, two)
    along = resultants(work.stations, loads)[0] / work.body.mass.total
    work.facts["acceleration along"] = (-float(along), "m/s^2")
    work.facts["fore support"] = (float(first), "N")
    work.facts["aft support"] = (float(second), "N")
    return loads + inertia_loads(work.body.mass, along, 0.0, 0.0, 0.0)


def _rail(work: _Work, sign: float) -> Loads:
    event = work.event
    loads = _drag(work) + _push(work, event.thrust, sign) + _wind(work).scaled(sign)
    loads += _weight(work, GRAVITY * np.sin(event.elevation), -GRAVITY * np.cos(event.elevation))
    return _guided(work, loads)


def _tube_launch(work: _Work, sign: float) -> Loads:
    event, body = work.event, work.body
    bore = event.bore_diameter
    area = np.pi / 4 * bore**2 if bore is not None else body.reference_area
    loads = work.empty()
    loads.along_at[-1] = -event.pressure * area
    work.facts["push"] = (float(event.pressure * area), "N")
    assert event.supports is not None
    loads += _wind(work, ahead_of=min(event.supports)).scaled(sign)
    loads += _weight(work, GRAVITY * np.sin(event.elevation), -GRAVITY * np.cos(event.elevation))
    work.notes.append("friction and the pressure round the body in the launch tube are left out")
    return _guided(work, loads)


def _pull(work: _Work, force: float, position: float | None, default: float, away: float
          ) -> Loads:
    """A force at a place; ``away`` +1 pulls the struck end away from the middle, -1 pushes it."""
    event, loads, body = work.event, work.empty(), work.body
    place = default if position is None else position
    at = body.station(place)
    ahead = place <= body.mass.center
    loads.along_at[at] = (-away if ahead else away) * force * np.cos(event.pull_angle)
    loads.across_at[at] = force * np.sin(event.pull_angle)
    work.facts["peak force"] = (force, "N")
    return loads


def _parachute(work: _Work, sign: float) -> Loads:
    event, mass = work.event, work.body.mass.total
    if event.force is not None:
        force = event.force
    elif event.line_stiffness is not None:
        force = event.speed * np.sqrt(event.line_stiffness * mass)
        work.notes.append("snatch of a spring line on the whole mass, v sqrt(k m)")
    else:
        force = OPENING_FACTOR * 0.5 * event.air_density * event.speed**2 * event.drag_area
        work.notes.append(
            f"opening without loss of speed, factor {OPENING_FACTOR} (flat circular canopy, from "
            "memory): an upper bound"
        )
    return _free(work, _pull(work, float(force), event.position, 0.0, 1.0))


def _landing(work: _Work, sign: float) -> Loads:
    event, body = work.event, work.body
    mean = 0.5 * body.mass.total * event.speed**2 / event.stopping_distance
    factor = BLOW_FACTOR if event.dynamic_factor is None else event.dynamic_factor
    work.notes.append(f"energy over stopping distance, peak {factor:g} times the mean")
    return _free(work, _pull(work, factor * mean, event.position, body.length, -1.0))


def _tip_over(work: _Work, sign: float) -> Loads:
    event, body = work.event, work.body
    height = body.length - body.mass.center
    mean = body.mass.total * GRAVITY * height / event.stopping_distance
    factor = BLOW_FACTOR if event.dynamic_factor is None else event.dynamic_factor
    loads = _weight(work, 0.0, -GRAVITY)
    at = 0 if event.position is None else body.station(event.position)
    loads.across_at[at] += factor * mean
    work.facts["peak force"] = (factor * mean, "N")
    hinge = len(work.stations) - 1
    if at == hinge:
        work.notes.append("struck at the hinge itself: nothing stops the fall")
    balanced, turning, reaction = hinged_balance(body.mass, loads, hinge)
    work.facts["angular acceleration"] = (float(turning), "rad/s^2")
    work.facts["force at the foot"] = (float(reaction), "N")
    work.notes.append(f"falls about its aft end; energy over stopping distance, peak {factor:g} "
                      "times the mean")
    return balanced


def _handling(work: _Work, sign: float) -> Loads:
    event = work.event
    assert event.supports is not None
    one, two = sorted(work.body.station(place) for place in event.supports)
    loads = _weight(work, 0.0, -GRAVITY * event.load_factor)
    loads, first, second = supported_balance(work.stations, loads, one, two)
    work.facts["fore support"] = (float(first), "N")
    work.facts["aft support"] = (float(second), "N")
    return loads


def _mast(work: _Work, sign: float) -> Loads:
    loads = _weight(work, GRAVITY, 0.0) + _wind(work)
    loads.across_at[0] += work.event.force or 0.0
    loads, _, force, couple = clamped_balance(work.stations, loads, len(work.stations) - 1)
    work.facts["force at the foot"] = (float(force), "N")
    work.facts["moment at the foot"] = (abs(float(couple)), "N m")
    work.notes.append("clamped at its aft end (foot); the lean of the weight itself is left out, "
                      "compare the column load")
    return loads


_KINDS: dict[str, Callable[[_Work, float], Loads]] = {
    "boost": _boost, "gust": _gust, "rail": _rail, "tube-launch": _tube_launch,
    "parachute": _parachute, "landing": _landing, "tip-over": _tip_over, "handling": _handling,
    "mast": _mast,
}


def event_loads(body: PlacedBody, event: Event, sign: float = 1.0
                ) -> tuple[Loads, dict[str, tuple[float, str]], list[str]]:
    """Balanced loads of one event, facts and notes; ``sign`` is the side of a crooked thrust.

    Args:
        body: laid out.
        event: as stated.
        sign: side of a crooked thrust, +1 or -1.
    """
    work = _Work(body, event, {}, [])
    loads = _KINDS[event.kind](work, sign)
    steady = event.kind not in ("landing", "tip-over")
    if steady and event.dynamic_factor is not None:
        loads = loads.scaled(event.dynamic_factor)
        work.notes.append(f"all loads times the dynamic factor {event.dynamic_factor:g}")
    return loads, work.facts, work.notes


def event_forces(body: PlacedBody, event: Event) -> EventForces:
    """Forces along the body in one event; a crooked thrust or wind on the worse side."""
    found = []
    for sign in (1.0, -1.0):
        loads, facts, notes = event_loads(body, event, sign)
        found.append((loads, forces_along(body.mass.stations, loads), facts, notes))
    loads, forces, facts, notes = max(found, key=lambda one: float(np.abs(one[1].moment).max()))
    left = [
        abs(values[-1]) / max(float(np.abs(values).max()), 1e-30)
        for values in (forces.compression, forces.shear, forces.moment)
        if np.abs(values).max() > 1e-9
    ]
    return EventForces(event, loads, forces, facts, tuple(notes), max(left, default=0.0))
