"""Axial force, shear and moment along a body from the loads on it, with inertia relief.

A body is a row of cells between stations. Loads are line loads that vary linearly over a cell,
forces and couples at stations. All integrals are exact for such loads, so a balance closes to
rounding. Loads of many events may be stacked in leading dimensions.

Signs: x runs aft from the fore end; a force across is positive upward; a force along is positive
aftward. Compression(x) is the sum of the forces along, ahead of x, so it is positive in
compression. Shear(x) is the sum of the forces across, ahead of x, and moment(x) its integral.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from gridshell.define.types import Array, Quantity


@dataclass(frozen=True)
class MassLine:
    """The mass of a body along its axis.

    Attributes:
        stations: (n + 1,) positions, m, rising.
        per_length: (n,) mass per length of each cell, kg/m.
        lumps: (n + 1,) mass at each station, kg.
    """

    stations: Array
    per_length: Array
    lumps: Array

    @property
    def lengths(self) -> Array:
        """(n,) length of each cell, m."""
        return np.diff(self.stations)

    @property
    def total(self) -> float:
        """Mass, kg."""
        return float(self.per_length @ self.lengths + self.lumps.sum())

    @property
    def center(self) -> float:
        """Center of gravity from the fore end, m."""
        middles = (self.stations[1:] + self.stations[:-1]) / 2
        moment = (self.per_length * self.lengths) @ middles + self.lumps @ self.stations
        return float(moment / self.total)

    def inertia_about(self, position: float) -> float:
        """Moment of inertia of the line of mass about a transverse axis at ``position``, kg m2.

        Args:
            position: m.
        """
        fore, aft = self.stations[:-1] - position, self.stations[1:] - position
        return float(
            self.per_length @ ((aft**3 - fore**3) / 3)
            + self.lumps @ (self.stations - position) ** 2
        )


@dataclass(frozen=True)
class Loads:
    """Loads on the cells and stations of a body; leading dimensions are events.

    Attributes:
        along: (..., n) force along the axis per length, constant over a cell, N/m.
        along_at: (..., n + 1) force along the axis at stations, N.
        across_fore: (..., n) force across per length at the fore end of a cell, N/m.
        across_aft: (..., n) force across per length at the aft end of a cell, N/m.
        across_at: (..., n + 1) force across at stations, N.
        couple_at: (..., n + 1) couple at stations (a step in the moment), N m.
    """

    along: Array
    along_at: Array
    across_fore: Array
    across_aft: Array
    across_at: Array
    couple_at: Array

    @classmethod
    def none(cls, stations: int, events: tuple[int, ...] = ()) -> Loads:
        """No loads, on a body of so many stations.

        Args:
            stations: how many.
            events: leading dimensions.
        """
        cell, at = (*events, stations - 1), (*events, stations)
        return cls(np.zeros(cell), np.zeros(at), np.zeros(cell), np.zeros(cell), np.zeros(at),
                   np.zeros(at))

    def __add__(self, other: Loads) -> Loads:
        return Loads(*(mine + theirs for mine, theirs in
                       zip(vars(self).values(), vars(other).values(), strict=True)))

    def scaled(self, factor: Quantity) -> Loads:
        """Every load times a factor, one for each event.

        Args:
            factor: one for each event.
        """
        by = np.asarray(factor, dtype=float)[..., None]
        return Loads(*(value * by for value in vars(self).values()))


@dataclass(frozen=True)
class Forces:
    """Forces in the body on both sides of each station.

    Attributes:
        position: (2 n + 2,) stations, each twice: just ahead and just aft of it, m.
        compression: (..., 2 n + 2), N.
        shear: (..., 2 n + 2), N.
        moment: (..., 2 n + 2), N m.
    """

    position: Array
    compression: Array
    shear: Array
    moment: Array


def resultants(stations: Array, loads: Loads) -> tuple[Array, Array, Array]:
    """Sum of forces along and across, and moment of all loads about x = 0 (force times x).

    A couple counts with the sign of the moment step, which is minus that of force times x.

    Args:
        stations: (n + 1,), m.
        loads: on them.
    """
    lengths = np.diff(stations)
    along = (loads.along * lengths).sum(-1) + loads.along_at.sum(-1)
    mean = (loads.across_fore + loads.across_aft) / 2
    across = (mean * lengths).sum(-1) + loads.across_at.sum(-1)
    fore, aft = stations[:-1], stations[1:]
    first = lengths / 6 * (loads.across_fore * (2 * fore + aft) + loads.across_aft
                           * (fore + 2 * aft))
    moment = first.sum(-1) + (loads.across_at * stations).sum(-1) - loads.couple_at.sum(-1)
    return along, across, moment


def inertia_loads(
    mass: MassLine, along: Quantity, across: Quantity, turning: Quantity, about: float
) -> Loads:
    """Loads of the body's own inertia: minus mass times acceleration.

    Args:
        mass: of the body.
        along: acceleration along the axis, aftward positive, m/s2.
        across: acceleration across at the position ``about``, m/s2.
        turning: angular acceleration, d(acceleration across)/dx, rad/s2.
        about: position, m.
    """
    ax, az, turn = (np.asarray(value, dtype=float)[..., None] for value in (along, across, turning))
    at = az + turn * (mass.stations - about)
    return Loads(
        along=-mass.per_length * ax,
        along_at=-mass.lumps * ax,
        across_fore=-mass.per_length * at[..., :-1],
        across_aft=-mass.per_length * at[..., 1:],
        across_at=-mass.lumps * at,
        couple_at=np.zeros_like(at),
    )


def free_balance(mass: MassLine, loads: Loads) -> tuple[Loads, Array, Array, Array]:
    """Add the inertia of a body free in space, so that loads and inertia balance.

    Inertia relief: the body accelerates as a rigid one under the loads, and its own inertia
    is what holds it (D'Alembert). Returns the balanced loads and the acceleration along, across
    at the center of gravity, and angular."""
    force_along, force_across, moment = resultants(mass.stations, loads)
    center = mass.center
    along = force_along / mass.total
    across = force_across / mass.total
    turning = (moment - center * force_across) / mass.inertia_about(center)
    return loads + inertia_loads(mass, along, across, turning, center), along, across, turning


def hinged_balance(mass: MassLine, loads: Loads, hinge: int) -> tuple[Loads, Array, Array]:
    """Add inertia and reaction of a body turning about the station ``hinge``.

    Along the axis the hinge holds the body still. Returns the balanced loads, the angular
    acceleration and the reaction across.

    Args:
        mass: of the body.
        loads: on it.
        hinge: index of its station.
    """
    position = float(mass.stations[hinge])
    along, force, moment = resultants(mass.stations, loads)
    turning = (moment - position * force) / mass.inertia_about(position)
    moving = loads + inertia_loads(mass, 0 * turning, 0 * turning, turning, position)
    reaction = -resultants(mass.stations, moving)[1]
    held = Loads.none(len(mass.stations), np.shape(reaction))
    held.across_at[..., hinge] = reaction
    held.along_at[..., hinge] = -along
    return moving + held, turning, reaction


def supported_balance(
    stations: Array, loads: Loads, first: int, second: int
) -> tuple[Loads, Array, Array]:
    """Add the reactions across at two supports; returns the loads and both reactions.

    Args:
        stations: (n + 1,), m.
        loads: on them.
        first: index of one support's station.
        second: index of the other support's station.
    """
    _, force, moment = resultants(stations, loads)
    one, two = float(stations[first]), float(stations[second])
    at_second = -(moment - one * force) / (two - one)
    at_first = -force - at_second
    held = Loads.none(len(stations), np.shape(force))
    held.across_at[..., first] += at_first
    held.across_at[..., second] += at_second
    return loads + held, at_first, at_second


def clamped_balance(stations: Array, loads: Loads, clamp: int) -> tuple[Loads, Array, Array, Array]:
    """Add the reaction of a clamp; returns the loads and its force along, across and couple.

    Args:
        stations: (n + 1,), m.
        loads: on them.
        clamp: index of its station.
    """
    along, force, moment = resultants(stations, loads)
    couple = moment - float(stations[clamp]) * force  # a step in M of minus this closes it
    held = Loads.none(len(stations), np.shape(force))
    held.along_at[..., clamp] = -along
    held.across_at[..., clamp] = -force
    held.couple_at[..., clamp] = couple
    return loads + held, -along, -force, couple


def forces_along(stations: Array, loads: Loads) -> Forces:
    """Compression, shear and moment on both sides of every station, by exact summing.

    >>> x = np.linspace(0, 2, 3)
    >>> load = Loads.none(3); load.across_at[0] = 5.0; load.across_at[-1] = -5.0
    >>> forces_along(x, load).moment.tolist()
    [0.0, 0.0, 5.0, 5.0, 10.0, 10.0]

    Args:
        stations: (n + 1,), m.
        loads: on them, balanced.
    """
    lengths = np.diff(stations)
    shape = loads.across_at.shape[:-1]

    def both_sides(in_cells: Array, at: Array) -> Array:
        steps = np.zeros((*shape, 2 * len(stations)))
        steps[..., 1::2] = at  # crossing a station
        steps[..., 2::2] = in_cells  # crossing a cell
        return np.cumsum(steps, axis=-1)

    compression = both_sides(loads.along * lengths, loads.along_at)
    fore, aft = loads.across_fore, loads.across_aft
    shear = both_sides((fore + aft) / 2 * lengths, loads.across_at)
    rise = shear[..., 1:-1:2] * lengths + (2 * fore + aft) / 6 * lengths**2
    moment = both_sides(rise, loads.couple_at)
    return Forces(np.repeat(stations, 2), compression, shear, moment)
