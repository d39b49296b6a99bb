"""The body as a flexible beam: shape in each event, frequencies, column load, and what bending
costs in angle at the nose."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass

import numpy as np

from gridshell.define.types import Array
from gridshell.loads.cases import support_of
from gridshell.loads.events import EventForces
from gridshell.loads.placed import STIFF_OVER_TUBE, PlacedBody
from gridshell.loads.varying_beam import Beam, Shape, column_load, deflect, frequencies

LARGE_DEFLECTION = 0.1  # of the length; beyond it the beam's small-deflection theory gives out
LARGE_ANGLE = 0.2  # rad


def body_beam(
    body: PlacedBody, EI: float, GA: float, joint_flexibility: float = 0.0, joints: int = 0,
    tube_EI: Array | None = None,
) -> Beam:
    """The body as a beam.

    Args:
        body: laid out.
        EI: of the tube, N m2. Stiff parts are `STIFF_OVER_TUBE` times as stiff unless they state
            their own.
        GA: shear stiffness of the tube, N.
        joint_flexibility: rotation per moment of one joint between sections, rad/(N m).
        joints: how many there are.
        tube_EI: (n,) EI of each cell where it varies (cut-outs), used inside the tube, N m2.
    """
    bending = body.bending_stiffness(EI)
    soft = bending <= EI
    if tube_EI is not None:
        bending = np.where(soft, tube_EI, bending)
    shear = np.where(soft, GA, STIFF_OVER_TUBE * GA)
    springs: dict[int, float] = {}
    if joint_flexibility > 0:
        springs = {body.station(place): joint_flexibility for place in body.joint_positions(joints)}
    return Beam(body.mass.stations, bending, shear, body.mass.per_length, body.mass.lumps, springs)


@dataclass(frozen=True)
class EventShape:
    """How the body bends in one event.

    Attributes:
        name: of the event.
        stations: (n + 1,), m.
        deflection: (n + 1,), m; from the supports, or in free flight from the axis about which the
            mass neither shifts nor turns.
        nose_angle: of the fore end against the aft end, rad.
        deflection_most: largest, m.
        joint_angle: part of the nose angle that opens in the joints, rad.
        column_factor: times this event's compression at which the body buckles as a column with
            pinned ends (a mast: clamped foot); infinite without compression.
        notes: where small-deflection theory or the event's own assumptions give out.
    """

    name: str
    stations: Array
    deflection: Array
    nose_angle: float
    deflection_most: float
    joint_angle: float
    column_factor: float
    notes: tuple[str, ...]


def _from_supports(shape: Shape, held: tuple[int, int] | None, clamped: bool) -> Array:
    """The deflection seen from two supports, or from a clamp at the aft end."""
    x, w = shape.stations, shape.deflection
    if clamped:
        return w - w[-1] - shape.turn_ahead[-1] * (x - x[-1])
    if held is None:
        return w
    one, two = held
    slope = (w[two] - w[one]) / (x[two] - x[one])
    return w - w[one] - slope * (x - x[one])


def event_shape(body: PlacedBody, beam: Beam, found: EventForces) -> EventShape:
    """Shape of the body under the balanced loads of one event, and its column factor."""
    event = found.event
    shape = deflect(beam, found.loads)
    held = None
    if event.supports is not None:
        one, two = (body.station(place) for place in event.supports)
        held = (one, two)
    deflection = _from_supports(shape, held, event.kind == "mast")
    opening = shape.turn_aft - shape.turn_ahead
    forces = found.forces.compression
    compression = (forces[1:-1:2] + forces[2::2]) / 2
    factor = float("inf")
    if np.any(compression > 1e-9 * np.abs(forces).max()):
        # A body in flight is no softer as a column than one with pinned ends.
        held_by = support_of(event.kind)
        factor = column_load(
            beam, "simply-supported" if held_by == "free-free" else held_by, compression)
    most, nose = float(np.abs(deflection).max()), float(shape.turn_ahead[0] - shape.turn_aft[-1])
    notes = []
    if most > LARGE_DEFLECTION * body.length or abs(nose) > LARGE_ANGLE:
        notes.append(
            f"bends by {most / body.length:.0%} of its length and {np.degrees(abs(nose)):.0f} deg: "
            "beyond small-deflection theory"
        )
        if event.stopping_distance is not None:
            notes.append("the body itself gives way and softens the blow; count that give in "
                         "stopping_distance, or test it")
    if factor < event.factor:
        notes.append(f"buckles as a column at {factor:.2f} times this event's compression")
    return EventShape(
        name=event.name, stations=beam.stations, deflection=deflection, nose_angle=nose,
        deflection_most=most, joint_angle=float(-opening.sum()), column_factor=factor,
        notes=tuple(notes),
    )


@dataclass(frozen=True)
class BendingInFlight:
    """What bending does to the normal force at a steady angle of attack.

    Attributes:
        force_ratio: normal force over that of the rigid body.
        center: center of pressure of the bent body, m.
        rigid_center: center of pressure of the rigid body, m.
        nose_angle: added to the angle of attack at the fore end, rad.
        divergence: dynamic pressure at which the body would bend without limit, Pa; infinite if
            there is none.
    """

    force_ratio: float
    center: float
    rigid_center: float
    nose_angle: float
    divergence: float


def bending_in_flight(
    body: PlacedBody, beam: Beam, dynamic_pressure: float, angle: float, mach: float = 0.0
) -> BendingInFlight:
    """Normal force and bending that fit each other at a steady angle of attack.

    Each piece of nose, transition and fin carries its slope times its own angle, which is the
    body's less the slope of the bent axis there; the body's inertia balances it. Static: no
    damping, no gust shape in time. Derived from the slopes of `normal_force`.

    Args:
        body: laid out.
        beam: the body as a beam.
        dynamic_pressure: Pa.
        angle: of attack, rad.
        mach: Mach number.
    """
    where = np.flatnonzero(body.area_growth)
    positions = list(body.middles[where])
    slopes = list(2 * body.area_growth[where])
    for _, slope, center in body.fin_sets(mach):
        positions.append(min(center, body.length * (1 - 1e-9)))
        slopes.append(slope * body.reference_area)
    places, gain = np.asarray(positions), np.asarray(slopes)
    stations = beam.stations
    cell = np.clip(np.searchsorted(stations, places, side="right") - 1, 0, len(stations) - 2)
    motion = beam.modes("free-free")
    # A force inside a cell goes to its ends by the lever rule; turns are those of the chord.
    share = (places - stations[cell]) / np.diff(stations)[cell]
    lift = motion[beam.across]
    moved = lift[cell] * (1 - share)[:, None] + lift[cell + 1] * share[:, None]
    turned = (lift[cell + 1] - lift[cell]) / np.diff(stations)[cell][:, None]
    compliance = turned @ moved.T
    matrix = gain[:, None] * compliance
    rigid = dynamic_pressure * gain * angle
    bent = np.linalg.solve(np.eye(len(gain)) + dynamic_pressure * matrix, rigid)
    roots = np.linalg.eigvals(-matrix)
    real = roots.real[(np.abs(roots.imag) <= 1e-9 * np.abs(roots).max()) & (roots.real > 0)]
    shape = motion @ (moved.T @ bent)
    return BendingInFlight(
        float(bent.sum() / rigid.sum()) if rigid.sum() else float("nan"),
        float(bent @ places / bent.sum()) if bent.sum() else float("nan"),
        float(rigid @ places / rigid.sum()) if rigid.sum() else float("nan"),
        float(-shape[beam.turns[0][0]]),
        float(1 / real.max()) if len(real) else float("inf"),
    )


@dataclass(frozen=True)
class FlexibleResult:
    """The body as a flexible beam.

    Attributes:
        frequencies: (3,) lowest free-free bending frequencies, Hz.
        shapes: (3, n + 1) of them, largest value 1.
        stations: (n + 1,), m.
        rigid_joint_frequency: the lowest, with joints as stiff as the tube, Hz.
        events: shape in each event.
        in_flight: for each gust event by name.
        joint_flexibility: of one joint, rad/(N m).
        play: angle of one joint's free play, rad.
        joints: how many.
    """

    frequencies: Array
    shapes: Array
    stations: Array
    rigid_joint_frequency: float
    events: tuple[EventShape, ...]
    in_flight: Mapping[str, BendingInFlight]
    joint_flexibility: float
    play: float
    joints: int


def flexible_body(
    body: PlacedBody, events: tuple[EventForces, ...], EI: float, GA: float, *,
    joint_flexibility: float = 0.0, play: float = 0.0, joints: int = 0,
    tube_EI: Array | None = None,
) -> FlexibleResult:
    """Frequencies, and the shape in every event, on the stations of ``body``.

    Args:
        body: laid out.
        events: forces of each.
        EI: of the tube, N m2.
        GA: shear stiffness of the tube, N.
        joint_flexibility: rotation per moment of one joint, rad/(N m).
        play: angle of one joint's free play, rad.
        joints: how many.
        tube_EI: (n,) EI of each cell where it varies, N m2.
    """
    beam = body_beam(body, EI, GA, joint_flexibility, joints, tube_EI)
    lowest, shapes = frequencies(beam)
    plain = body_beam(body, EI, GA, 0.0, joints, tube_EI)
    shown, in_flight = [], {}
    for found in events:
        shown.append(event_shape(body, beam, found))
        if found.event.kind == "gust":
            angle, pressure = (found.facts[key][0] for key in
                               ("angle of attack", "dynamic pressure"))
            in_flight[found.event.name] = bending_in_flight(
                body, beam, pressure, angle, found.event.speed / found.event.sound_speed
            )
    return FlexibleResult(
        frequencies=lowest, shapes=shapes, stations=beam.stations,
        rigid_joint_frequency=float(frequencies(plain, 1)[0][0]), events=tuple(shown),
        in_flight=in_flight, joint_flexibility=joint_flexibility, play=play, joints=joints,
    )
