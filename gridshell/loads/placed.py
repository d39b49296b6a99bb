"""The body laid out along its axis: where each part lies, its mass line, its outside."""

from __future__ import annotations

import itertools
from collections.abc import Iterable
from dataclasses import dataclass

import numpy as np

from gridshell.define.errors import InputError
from gridshell.define.tables.body import NOSES, Body, Event, Fins, Part
from gridshell.define.types import Array
from gridshell.loads.normal_force import (
    HIGHEST_MACH,
    fin_center,
    fin_slope,
    shape_radius,
)
from gridshell.loads.section_forces import MassLine

CELLS = 120  # along the body; a peak between stations is missed by less than 1e-4 of it
STIFF_OVER_TUBE = 1000.0


@dataclass(frozen=True)
class PlacedPart:
    """A part with its place; lengths in m from the fore end of the body.

    Attributes:
        name: as stated.
        role: tube, stiff or carried.
        fore: of its fore end from the body's, m.
        aft: of its aft end, m.
        mass: kg.
        shape: of its outside.
        fore_diameter: m.
        aft_diameter: m.
        bending_stiffness: own EI, N m2; None: not stated.
        fins: as stated, or None.
        fins_at: leading edge of the fins' root, m.
    """

    name: str
    role: str
    fore: float
    aft: float
    mass: float
    shape: str
    fore_diameter: float
    aft_diameter: float
    bending_stiffness: float | None
    fins: Fins | None
    fins_at: float

    @property
    def length(self) -> float:
        """Length, m."""
        return self.aft - self.fore


@dataclass(frozen=True)
class PlacedBody:
    """The body on its stations.

    Attributes:
        parts: in the order of the file.
        mass: the mass line, on (n + 1) stations.
        diameter: (n,) mean outside diameter of each cell, m.
        area_growth: (n,) growth of the section's area over each cell, within noses and
            transitions, m2.
        reference_area: area of the largest section, m2.
        tube: the part that is the tube.
        notes: what was assumed.
    """

    parts: tuple[PlacedPart, ...]
    mass: MassLine
    diameter: Array
    area_growth: Array
    reference_area: float
    tube: PlacedPart
    notes: tuple[str, ...]

    @property
    def middles(self) -> Array:
        """(n,) middle of each cell, m."""
        return (self.mass.stations[1:] + self.mass.stations[:-1]) / 2

    def joint_positions(self, joints: int) -> Array:
        """Positions of the joints between equal sections of the tube, m.

        Args:
            joints: how many.
        """
        return np.linspace(self.tube.fore, self.tube.aft, joints + 2)[1:-1]

    @property
    def length(self) -> float:
        """Length of the body, m."""
        return float(self.mass.stations[-1])

    def station(self, position: float) -> int:
        """Index of the station at a position that was asked for when the body was laid out.

        Args:
            position: m.
        """
        return int(np.argmin(np.abs(self.mass.stations - position)))

    def cells(self, fore: float, aft: float) -> slice:
        """The cells between two stations.

        Args:
            fore: position of the first station, m.
            aft: position of the last station, m.
        """
        return slice(self.station(fore), self.station(aft))

    def bending_stiffness(self, tube_stiffness: float) -> Array:
        """(n,) EI of each cell, N m2, given the tube's.

        Args:
            tube_stiffness: EI of the tube, N m2.
        """
        middles = self.middles
        stiffness = np.zeros(len(middles))
        for part in self.parts:
            if part.role == "carried" or part.length == 0:
                continue
            own = tube_stiffness if part.role == "tube" else (
                part.bending_stiffness or STIFF_OVER_TUBE * tube_stiffness
            )
            inside = (middles > part.fore) & (middles < part.aft)
            stiffness[inside] = np.maximum(stiffness[inside], own)
        return stiffness

    def fin_sets(self, mach: float = 0.0) -> list[tuple[PlacedPart, float, float]]:
        """For each set of fins: its part, slope on the reference area, center of pressure, m.

        Args:
            mach: Mach number.
        """
        found = []
        for part in self.parts:
            fins = part.fins
            if fins is None:
                continue
            slope = fin_slope(
                count=fins.count, root_chord=fins.root_chord, tip_chord=fins.tip_chord,
                span=fins.span, sweep=fins.sweep, body_radius=part.aft_diameter / 2,
                reference_area=self.reference_area, mach=min(mach, HIGHEST_MACH),
            )
            center = part.fins_at + fin_center(fins.root_chord, fins.tip_chord, fins.sweep)
            found.append((part, float(slope), float(center)))
        return found

    def normal_force(self, mach: float = 0.0) -> tuple[float, float]:
        """Slope of the body's normal force coefficient (per rad) and its center of pressure, m.

        Args:
            mach: Mach number.
        """
        body = 2 * self.area_growth / self.reference_area
        slope, moment = float(body.sum()), float(body @ self.middles)
        for _, one, center in self.fin_sets(mach):
            slope, moment = slope + one, moment + one * center
        return slope, moment / slope if slope else float("nan")


def _place(body: Body, tube_length: float, tube_diameter: float, tube_mass: float
           ) -> list[PlacedPart]:
    placed, here = [], 0.0
    for index, part in enumerate(body.part, start=1):
        length = part.length if part.length is not None else tube_length
        if part.role == "tube" and abs(length - tube_length) > 1e-6 * tube_length:
            raise InputError(
                f"body.part[{index}].length: {length * 1e3:g} mm is not the tube's own "
                f"{tube_length * 1e3:g} mm; leave it out"
            )
        fore = part.position if part.position is not None else here
        diameter = part.outside_diameter or tube_diameter
        fins = part.fins
        fins_at = fore
        if fins is not None:
            offset = fins.position if fins.position is not None else length - fins.root_chord
            if offset < 0 or offset + fins.root_chord > length * (1 + 1e-9):
                raise InputError(
                    f"body.part[{index}].fins: a root chord of {fins.root_chord * 1e3:g} mm does "
                    f"not fit the part, {length * 1e3:g} mm long"
                )
            fins_at = fore + offset
        placed.append(PlacedPart(
            name=part.name, role=part.role, fore=fore, aft=fore + length,
            mass=part.mass if part.mass is not None else tube_mass, shape=part.shape,
            fore_diameter=_fore_diameter(part, diameter), aft_diameter=diameter,
            bending_stiffness=part.bending_stiffness, fins=fins, fins_at=fins_at,
        ))
        if part.role != "carried":
            here = fore + length
    return placed


def _fore_diameter(part: Part, diameter: float) -> float:
    if part.shape in NOSES:
        return 0.0
    return float(part.fore_diameter) if part.shape == "transition" else diameter


def _events_positions(events: Iterable[Event], length: float) -> list[float]:
    found = []
    for index, event in enumerate(events, start=1):
        for name in ("supports", "position", "thrust_position"):
            value = getattr(event, name)
            for place in value if isinstance(value, tuple) else [] if value is None else [value]:
                if place > length * (1 + 1e-9):
                    raise InputError(
                        f"body.event[{index}].{name}: {place * 1e3:g} mm is beyond the aft end; "
                        f"must be at most {length * 1e3:g} mm"
                    )
                found.append(min(place, length))
    return found


def place_body(
    body: Body, tube_length: float, tube_diameter: float, tube_mass: float, cells: int = CELLS,
    joints: int = 0,
) -> PlacedBody:
    """Lay the parts along the axis and divide the body into cells.

    Args:
        body: as stated.
        tube_length: of the tube in this file, m.
        tube_diameter: of the tube in this file, m.
        tube_mass: used where the tube's part states none, kg.
        cells: about how many cells along the body.
        joints: joints between equal sections of the tube, which get stations of their own.
    Raises:
        InputError: a gap between structural parts, or something outside the body.
    """
    parts = _place(body, tube_length, tube_diameter, tube_mass)
    solid = sorted((part for part in parts if part.role != "carried"), key=lambda part: part.fore)
    reach = 0.0
    for part in solid:
        if part.fore > reach + 1e-9:
            raise InputError(
                f"body.part: nothing joins {reach * 1e3:g} mm to {part.fore * 1e3:g} mm, the fore "
                f"end of {part.name!r}; parts must follow one another"
            )
        reach = max(reach, part.aft)
    length = reach
    for part in parts:
        if part.aft > length * (1 + 1e-9):
            raise InputError(
                f"body.part: {part.name!r} ends at {part.aft * 1e3:g} mm, beyond the body's aft "
                f"end at {length * 1e3:g} mm"
            )
    marks = [0.0, length, *_events_positions(body.event, length)]
    for part in parts:
        marks += [part.fore, min(part.aft, length)]
        if part.role == "tube":
            marks += np.linspace(part.fore, part.aft, joints + 2)[1:-1].tolist()
        if part.fins is not None:
            marks += [part.fins_at, min(part.fins_at + part.fins.root_chord, length)]
    stations = _divide(marks, length, cells)
    return _on_stations(parts, stations)


def _divide(marks: list[float], length: float, cells: int) -> Array:
    rising = np.unique(np.asarray(marks))
    rising = rising[np.concatenate(([True], np.diff(rising) > 1e-9 * length))]
    rising[-1] = length
    pieces = [
        np.linspace(fore, aft, max(1, int(np.ceil((aft - fore) / length * cells))) + 1)[:-1]
        for fore, aft in itertools.pairwise(rising)
    ]
    return np.concatenate([*pieces, [length]])


def _on_stations(parts: list[PlacedPart], stations: Array) -> PlacedBody:
    n = len(stations) - 1
    per_length, lumps = np.zeros(n), np.zeros(n + 1)
    diameter, growth = np.zeros(n), np.zeros(n)
    notes: list[str] = []
    for part in parts:
        first = int(np.argmin(np.abs(stations - part.fore)))
        last = int(np.argmin(np.abs(stations - part.aft)))
        if last == first:
            lumps[first] += part.mass
            continue
        inside = slice(first, last)
        per_length[inside] += part.mass / part.length
        if part.role == "carried":
            continue
        along = np.clip((stations[first:last + 1] - part.fore) / part.length, 0.0, 1.0)
        radius = shape_radius(part.shape, along, part.fore_diameter / 2, part.aft_diameter / 2,
                              part.length)
        diameter[inside] = np.maximum(diameter[inside], radius[1:] + radius[:-1])
        if part.shape != "cylinder":
            growth[inside] += np.pi * np.diff(radius**2)
        if part.shape == "ogive" and part.length < part.aft_diameter / 2:
            notes.append(f"{part.name}: shorter than its radius, no tangent ogive fits it")
    mass = MassLine(stations, per_length, lumps)
    if not mass.total > 0:
        raise InputError("body.part: the body has no mass; give the parts theirs")
    largest = max(part.aft_diameter for part in parts if part.role != "carried")
    largest = max(largest, max(part.fore_diameter for part in parts))
    tube = next(part for part in parts if part.role == "tube")
    return PlacedBody(
        parts=tuple(parts), mass=mass, diameter=diameter, area_growth=growth,
        reference_area=float(np.pi / 4 * largest**2), tube=tube, notes=tuple(notes),
    )
