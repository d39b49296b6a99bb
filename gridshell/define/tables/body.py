"""``[body]``: the body that the tube belongs to, and the events it must live through.

Positions are measured along the axis from the fore end (the nose tip, or the top of a mast).
"""

from __future__ import annotations

import math
from collections.abc import Mapping
from dataclasses import dataclass
from typing import Any

from gridshell.define.errors import DefinitionError, Problem, Problems
from gridshell.define.schema import (
    choice,
    count,
    quantities,
    quantity,
    read_checked,
    table,
    tables,
    text,
)

ROLES = ("tube", "stiff", "carried")
SHAPES = ("cylinder", "cone", "ogive", "parabola", "transition")
NOSES = ("cone", "ogive", "parabola")
KINDS_OF_EVENT = (
    "boost", "gust", "rail", "tube-launch", "parachute", "landing", "tip-over", "handling", "mast",
)


@dataclass(frozen=True, kw_only=True)
class Fins:
    """``[body.part.fins]``: one set of equal fins on a part."""

    count: int = count("number of fins", default=3, least=3, most=6)
    root_chord: float = quantity("length", "chord at the body", above=0.0)
    tip_chord: float = quantity("length", "chord at the tip", default=0.0, least=0.0)
    span: float = quantity("length", "body surface to fin tip", above=0.0)
    sweep: float = quantity(
        "length", "how far the tip's leading edge lies aft of the root's", default=0.0
    )
    position: float = quantity(
        "length", "root leading edge from the part's fore end; if left out, the root ends flush "
        "with the part", default=None, least=0.0
    )


@dataclass(frozen=True, kw_only=True)
class Part:
    """``[[body.part]]``: one piece of the body, in order from the fore end."""

    name: str = text("name of the part", longest=40)
    role: str = choice(
        ROLES, "tube: the tube of this file (once); stiff: a structure much stiffer than the tube; "
        "carried: rides inside and adds mass only", default="stiff",
    )
    length: float = quantity(
        "length", "length; 0 is a lump. The tube's own length if left out for it", default=None,
        least=0.0, most=1000.0
    )
    mass: float = quantity(
        "mass", "mass, spread evenly over the length. The tube's own if left out for it",
        default=None, least=0.0
    )
    position: float = quantity(
        "length", "fore end of the part; if left out it follows the structural part before it (a "
        "carried part must state it)", default=None, least=0.0
    )
    shape: str = choice(SHAPES, "outside shape", default="cylinder")
    outside_diameter: float = quantity(
        "length", "diameter (aft end for a nose or transition); the tube's if left out",
        default=None, above=0.0, most=100.0
    )
    fore_diameter: float = quantity(
        "length", "transition only: diameter at its fore end", default=None, above=0.0
    )
    bending_stiffness: float = quantity(
        "stiffness", "bending stiffness EI of a stiff part; 1000 times the tube's if left out",
        default=None, above=0.0
    )
    fins: Fins | None = table(Fins, "fins on this part", default=None)


@dataclass(frozen=True, kw_only=True)
class Event:
    """``[[body.event]]``: one moment in the body's life that loads it."""

    name: str = text("name of the event", longest=40)
    kind: str = choice(KINDS_OF_EVENT, "what happens")
    thrust: float = quantity("force", "thrust", default=None, least=0.0)
    thrust_position: float = quantity(
        "length", "where the thrust enters the structure; the aft end if left out", default=None,
        least=0.0
    )
    thrust_offset: float = quantity("length", "thrust line beside the axis", default=0.0, least=0.0)
    thrust_angle: float = quantity(
        "angle", "thrust line tilted to the axis", default=0.0, least=0.0, most=0.5
    )
    drag: float = quantity("force", "drag along the axis", default=None, least=0.0)
    drag_coefficient: float = quantity(
        "ratio", "drag coefficient on the largest section, used with speed instead of drag",
        default=None, least=0.0, most=10.0,
    )
    drag_at_nose: float = quantity(
        "ratio", "share of the drag on the fore end (the rest is spread along the body); 1 puts "
        "the whole tube under it", default=1.0, least=0.0, most=1.0,
    )
    speed: float = quantity(
        "speed", "flight speed; at a parachute snatch or landing, the speed to be stopped",
        default=None, above=0.0, most=1e4
    )
    air_density: float = quantity("density", "air density", default=1.225, above=0.0, most=100.0)
    sound_speed: float = quantity(
        "speed", "speed of sound, for the Mach number", default=340.3, above=0.0
    )
    angle_of_attack: float = quantity("angle", "angle of attack", default=None, least=0.0, most=0.8)
    gust_speed: float = quantity(
        "speed", "gust across the flight path, instead of an angle of attack", default=None,
        least=0.0
    )
    crossflow_coefficient: float = quantity(
        "ratio", "drag coefficient of the body in cross flow", default=1.2, least=0.0, most=3.0
    )
    wind_speed: float = quantity(
        "speed", "wind across the body", default=0.0, least=0.0, most=200.0
    )
    elevation: float = quantity(
        "angle", "axis above the horizontal, fore end up", default=1.5707963267948966, least=0.0,
        most=1.5707963267948966
    )
    supports: tuple[float, ...] | None = quantities(
        "length", "the two places where the body is held: rail guides, muzzle and breech, straps",
        default=None, length=2, least=0.0
    )
    pressure: float = quantity(
        "pressure", "tube launch: gas pressure on the aft end", default=None, above=0.0, unit="kPa"
    )
    bore_diameter: float = quantity(
        "length", "tube launch: bore the pressure acts on; the body's largest diameter if left out",
        default=None, above=0.0
    )
    position: float = quantity(
        "length", "where the pull or blow acts; if left out the fore end for a parachute and a "
        "tip-over, the aft end for a landing", default=None, least=0.0
    )
    force: float = quantity(
        "force", "parachute: peak pull; mast: pull across its top", default=None, least=0.0
    )
    pull_angle: float = quantity(
        "angle", "between the pull or blow and the axis; 90 deg is straight across", default=0.0,
        least=0.0, most=1.5707963267948966
    )
    line_stiffness: float = quantity(
        "line_force", "parachute: force per stretch of the line, used with speed", default=None,
        above=0.0
    )
    drag_area: float = quantity(
        "area", "parachute: drag coefficient times area of the canopy, used with speed",
        default=None, above=0.0, unit="m^2",
    )
    stopping_distance: float = quantity(
        "length", "landing, tip-over: how far the ground and the struck end give", default=None,
        above=0.0
    )
    load_factor: float = quantity(
        "ratio", "handling: weights the body is handled with (2 is common practice, no source)",
        default=2.0, above=0.0, most=100.0,
    )
    dynamic_factor: float = quantity(
        "ratio", "peak over steady load; if left out 2 for landing and tip-over (a blow on a "
        "spring), else 1", default=None, least=1.0, most=10.0,
    )
    torque: float = quantity("moment", "torque in the tube", default=0.0, least=0.0)
    factor: float = quantity(
        "ratio", "design factor of the case made from this event", default=1.4, least=0.01,
        most=100.0,
    )


@dataclass(frozen=True, kw_only=True)
class Body:
    """``[body]``: parts in order from the fore end, and events."""

    part: tuple[Part, ...] = tables(Part, "the parts, from the fore end")
    event: tuple[Event, ...] = tables(Event, "what the body lives through")


_PUSH = ("thrust_position", "thrust_offset", "thrust_angle")
_DRAG = ("drag", "drag_coefficient", "drag_at_nose", "speed", "air_density")
_ALWAYS = ("name", "kind", "torque", "factor", "dynamic_factor")

# kind -> (needed, may be given)
USES: Mapping[str, tuple[tuple[str, ...], tuple[str, ...]]] = {
    "boost": (("thrust",), (*_PUSH, *_DRAG)),
    "gust": (("speed",), (
        "thrust", *_PUSH, *_DRAG, "angle_of_attack", "gust_speed", "sound_speed",
        "crossflow_coefficient",
    )),
    "rail": (("thrust", "supports"), (
        *_PUSH, *_DRAG, "elevation", "wind_speed", "crossflow_coefficient",
    )),
    "tube-launch": (("pressure", "supports"), (
        "bore_diameter", "elevation", "wind_speed", "crossflow_coefficient", "air_density",
    )),
    "parachute": ((), (
        "force", "speed", "line_stiffness", "drag_area", "air_density", "position", "pull_angle",
    )),
    "landing": (("speed", "stopping_distance"), ("position", "pull_angle")),
    "tip-over": (("stopping_distance",), ("position",)),
    "handling": (("supports",), ("load_factor",)),
    "mast": ((), ("wind_speed", "air_density", "crossflow_coefficient", "force")),
}


def check_part(part: Part, path: str) -> list[Problem]:
    """Contradictions within one part.

    Args:
        part: the part.
        path: where it is stated.
    """
    problems = Problems()
    if part.role != "tube":
        for name in ("length", "mass"):
            if getattr(part, name) is None:
                problems.add(f"{path}.{name}", "missing; only the tube's is known")
    if part.role == "carried" and part.position is None:
        problems.add(f"{path}.position", "missing; say where the carried mass sits")
    if part.shape == "transition" and part.fore_diameter is None:
        problems.add(f"{path}.fore_diameter", "missing; a transition has two diameters")
    if part.shape != "transition" and part.fore_diameter is not None:
        problems.add(f"{path}.fore_diameter", "used by shape 'transition' only")
    if part.role == "tube" and part.shape != "cylinder":
        problems.add(f"{path}.shape", "the tube itself is a cylinder")
    if part.role != "stiff" and part.bending_stiffness is not None:
        problems.add(f"{path}.bending_stiffness", "used by role 'stiff' only")
    if part.role == "carried" and (part.fins is not None or part.shape != "cylinder"):
        problems.add(f"{path}.role", "a carried part is inside: no shape, no fins")
    if part.length == 0 and (part.fins is not None or part.shape != "cylinder"):
        problems.add(f"{path}.length", "a lump has no shape or fins; give a length")
    return problems


def check_event(event: Event, path: str) -> list[Problem]:
    """Contradictions within one event.

    Args:
        event: the event.
        path: where it is stated.
    """
    needed, allowed = USES[event.kind]
    problems = Problems()
    for name in needed:
        if getattr(event, name) is None:
            problems.add(f"{path}.{name}", f"missing; kind {event.kind!r} needs it")
    default = Event(name="", kind=event.kind)
    for name in vars(event):
        if name in needed or name in allowed or name in _ALWAYS:
            continue
        if getattr(event, name) != getattr(default, name):
            problems.add(f"{path}.{name}", f"kind {event.kind!r} does not use it")
    if event.drag_coefficient is not None:
        if event.drag is not None:
            problems.add(f"{path}.drag", "give drag or drag_coefficient, not both")
        if event.speed is None:
            problems.add(f"{path}.speed", "missing; drag_coefficient needs it")
    if event.kind == "gust" and (event.angle_of_attack is None) == (event.gust_speed is None):
        problems.add(f"{path}.angle_of_attack", "give angle_of_attack or gust_speed")
    if event.kind == "parachute":
        ways = [event.force is not None, event.line_stiffness is not None,
                event.drag_area is not None]
        if sum(ways) != 1:
            problems.add(
                f"{path}.force", "give one of force, line_stiffness (with speed), drag_area "
                "(with speed)")
        elif not ways[0] and event.speed is None:
            problems.add(f"{path}.speed", "missing; the pull is worked out from it")
    if event.supports is not None and math.isclose(*event.supports, abs_tol=1e-9):
        problems.add(f"{path}.supports", "the two places must differ")
    return problems


def check_body(body: Body) -> list[Problem]:
    """Every contradiction between the fields of ``[body]``."""
    problems = Problems()
    tubes = [part for part in body.part if part.role == "tube"]
    if len(tubes) != 1:
        problems.add("body.part", f"{len(tubes)} parts have role 'tube'; exactly one must")
    listing: tuple[tuple[str, tuple[Part | Event, ...]], ...] = (
        ("part", body.part), ("event", body.event),
    )
    for what, listed in listing:
        seen: set[str] = set()
        for index, entry in enumerate(listed, start=1):
            path = f"body.{what}[{index}]"
            if entry.name in seen:
                problems.add(f"{path}.name", f"{entry.name!r} is used twice; names must differ")
            seen.add(entry.name)
            problems += (check_part(entry, path) if isinstance(entry, Part)
                         else check_event(entry, path))
    return problems


def read_body(stated: Mapping[str, Any] | Body | None) -> Body:
    """``[body]`` from the parsed table of a definition file.

    Raises:
        DefinitionError: with every problem found, or when there is no such table.
    """
    if stated is None:
        raise DefinitionError("definition", [Problem(
            "body", "missing; 'loads' needs a [body] with [[body.part]] and [[body.event]]")])
    return read_checked(Body, stated, "body", check_body)
