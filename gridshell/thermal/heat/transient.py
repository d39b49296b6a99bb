"""Temperatures over time in a network: implicit, second order, and the heat is accounted for."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass

import numpy as np

from gridshell.define.types import Array
from gridshell.thermal.heat.network import Network, Property
from gridshell.thermal.heat.surroundings import Surroundings

GAMMA = 1 - 1 / np.sqrt(2.0)  # Alexander's two-stage, L-stable, second order scheme
GRID_STEP = 0.5  # K, spacing at which the property curves are tabulated
CLOSE_ENOUGH = 1e-6  # K, where the iteration of a stage stops
MOST_ITERATIONS = 40
LEAST_STEP = 1e-9  # s; below it the step control has failed


class _Table:
    """A property curve, tabulated, with its integral; straight on beyond its ends."""

    def __init__(self, curve: Property, low: float, high: float) -> None:
        count = int(np.ceil((high - low) / GRID_STEP)) + 2
        self.grid = np.linspace(low, high, count)
        self.width = self.grid[1] - self.grid[0]
        self.value = np.broadcast_to(np.asarray(curve(self.grid), dtype=float), self.grid.shape)
        self.slope = np.diff(self.value) / self.width
        area = (self.value[1:] + self.value[:-1]) / 2 * self.width
        self.sum = np.concatenate([[0.0], np.cumsum(area)])

    def _place(self, t: Array) -> tuple[np.ndarray, Array]:
        cell = np.clip(((t - self.grid[0]) / self.width).astype(int), 0, self.grid.size - 2)
        return cell, t - self.grid[cell]

    def at(self, t: Array) -> Array:
        cell, past = self._place(t)
        return np.asarray(self.value[cell] + self.slope[cell] * past)

    def integral(self, t: Array) -> tuple[Array, Array]:
        """Integral up to t, and the value at t."""
        cell, past = self._place(t)
        here = self.value[cell] + self.slope[cell] * past
        return self.sum[cell] + (self.value[cell] + here) / 2 * past, here


@dataclass(frozen=True)
class Series:
    """Temperatures over time.

    Attributes:
        time: s (steps,), from 0.
        temperature: K (steps, ..., nodes).
        heat_in: heat that came in through the surfaces, J (...).
        heat_stored: heat that the nodes took up, J (...), from the material's own curves.
        exchanged: sum of the sizes of all heat through the surfaces, J (...).
    """

    time: Array
    temperature: Array
    heat_in: Array
    heat_stored: Array
    exchanged: Array

    @property
    def imbalance(self) -> Array:
        """Heat unaccounted for, as a share of the heat exchanged (...)."""
        lost = np.abs(self.heat_in - self.heat_stored)
        return np.asarray(np.divide(
            lost, self.exchanged, out=np.zeros_like(lost), where=self.exchanged > 0))


class _Equations:
    def __init__(
        self, network: Network, sides: Mapping[int, Surroundings | None], low: float, high: float
    ) -> None:
        self.network = network
        tables = [(_Table(s.conductivity, low, high), _Table(s.capacity, low, high))
                  for s in network.solids]
        self.conduct = [pair[0] for pair in tables]
        self.store = [pair[1] for pair in tables]
        self.groups = [np.flatnonzero(network.solid == i) for i in range(len(tables))]
        self.volume = network.node_volume()
        ends = np.concatenate([network.ends, network.contact_ends])
        self.first, self.last = ends[:, 0], ends[:, 1]
        self.incidence = np.zeros((len(ends), network.count))
        self.incidence[np.arange(len(ends)), ends[:, 0]] = 1.0
        self.incidence[np.arange(len(ends)), ends[:, 1]] -= 1.0
        self.sides = []
        for side, around in sides.items():
            which = np.flatnonzero(network.face_side == side)
            if around is None or which.size == 0:
                continue
            scatter = np.zeros((which.size, network.count))
            scatter[np.arange(which.size), network.face_node[which]] = 1.0
            self.sides.append((around, network.face_node[which], network.face_area[..., which],
                               network.face_radiates[which], scatter))

    def stored(self, t: Array) -> tuple[Array, Array]:
        """Heat content and capacity of each node, J and J/K."""
        heat, capacity = np.zeros(t.shape), np.zeros(t.shape)
        for i, table in enumerate(self.store):
            part = table.integral(t)
            heat = heat + self.volume[..., i, :] * part[0]
            capacity = capacity + self.volume[..., i, :] * part[1]
        return heat, capacity

    def flow(self, t: Array, time: float) -> tuple[Array, Array, Array, Array]:
        """Heat into each node W, its matrix W/K, heat through surfaces W, sum of their sizes."""
        net = self.network
        middle = (t[..., net.ends[:, 0]] + t[..., net.ends[:, 1]]) / 2
        links = np.empty((*t.shape[:-1], len(self.incidence)))
        for table, group in zip(self.conduct, self.groups, strict=True):
            links[..., group] = net.shape[..., group] * table.at(middle[..., group])
        links[..., len(net.ends):] = net.contact
        into = -(links * (t[..., self.first] - t[..., self.last])) @ self.incidence
        matrix = np.zeros((*t.shape[:-1], net.count, net.count))
        # A pair of nodes is joined once only (the builder sees to it), so plain assignment does.
        matrix[..., self.first, self.last] = -links
        matrix[..., self.last, self.first] = -links
        diagonal = links @ np.abs(self.incidence)
        crossing = np.zeros(t.shape[:-1])
        size = np.zeros(t.shape[:-1])
        for around, nodes, area, radiates, scatter in self.sides:
            coefficient, temperature, flux = around.heat(t[..., nodes], time, radiates)
            heat = area * (coefficient * (temperature - t[..., nodes]) + flux)
            into = into + heat @ scatter
            diagonal = diagonal + (area * coefficient) @ scatter
            crossing = crossing + heat.sum(-1)
            size = size + np.abs(heat).sum(-1)
        here = np.arange(net.count)
        matrix[..., here, here] = diagonal
        return into, matrix, crossing, size

    def stage(
        self, guess: Array, target: Array, reach: float, time: float
    ) -> tuple[Array, tuple[Array, Array, Array, Array]] | None:
        """Solve stored(T) - reach flow(T) = target for T; None when it does not settle."""
        t = guess
        for _ in range(MOST_ITERATIONS):
            flow = self.flow(t, time)
            heat, capacity = self.stored(t)
            residual = heat - reach * flow[0] - target
            matrix = reach * flow[1] + capacity[..., None] * np.eye(self.network.count)
            change = -np.linalg.solve(matrix, residual[..., None])[..., 0]
            if not np.all(np.isfinite(change)):
                return None
            t = t + change
            if np.max(np.abs(change)) < CLOSE_ENOUGH:
                return t, self.flow(t, time)
        return None


def transient(
    network: Network,
    start: Array,
    sides: Mapping[int, Surroundings | None],
    duration: float,
    *,
    tolerance: float = 0.2,
    step: float | None = None,
    longest: float | None = None,
) -> Series:
    """Temperatures of a network from a start, with each side's surroundings.

    Two-stage singly diagonal implicit Runge-Kutta scheme, L-stable, second order: R. Alexander,
    SIAM J. Numer. Anal. 14 (1977) 1006. The unknown is the heat content, so what crosses the
    surfaces is what is stored, with any heat capacity curve.

    Args:
        start: K, (..., nodes) or anything that broadcasts to it.
        sides: side -> surroundings; None or absent: no heat through it.
        duration: s.
        tolerance: K, largest difference between the step's second and first order solutions
            (several times the error that is made).
        step: a fixed time step instead, s.
        longest: longest step taken, s, so that a curve drawn through the steps is smooth.

    Raises:
        ArithmeticError: the iteration does not settle even with tiny steps.
    """
    batch = np.broadcast_shapes(
        np.shape(start)[:-1], network.shape.shape[:-1], network.face_area.shape[:-1],
        *(np.shape(s.temperature) for s in sides.values() if s is not None),
        *(np.shape(s.ramp) for s in sides.values() if s is not None))
    t = np.array(np.broadcast_to(start, (*batch, network.count)), dtype=float)
    ends = [s.span() for s in sides.values() if s is not None]
    low = min([float(t.min()), *(e[0] for e in ends)])
    high = max([float(t.max()), *(e[1] for e in ends)])
    equations = _Equations(network, sides, max(low - 2.0, 1.0), high + 2.0)
    times, temperatures = [0.0], [t]
    heat_in, exchanged = np.zeros(batch), np.zeros(batch)
    now, pace = 0.0, step if step is not None else duration * 1e-5
    held, _ = equations.stored(t)
    while now < duration * (1 - 1e-12):
        pace = min(pace, duration - now, duration if longest is None else longest)
        if duration - now - pace < 1e-3 * pace:
            pace = duration - now
        if pace < min(LEAST_STEP, 1e-6 * duration):
            raise ArithmeticError("chilling: the time step became too small to go on")
        first = equations.stage(t, held, GAMMA * pace, now + GAMMA * pace)
        if first is None:
            pace /= 4
            continue
        flow_first = first[1]
        target = held + (1 - GAMMA) * pace * flow_first[0]
        guess = t + (first[0] - t) / GAMMA if step is not None else first[0]
        last = equations.stage(guess, target, GAMMA * pace, now + pace)
        if last is None:
            pace /= 4
            continue
        flow_last = last[1]
        new_held, capacity = equations.stored(last[0])
        if step is None:
            # b - b^ = (-gamma, gamma): the first order partner takes the first stage's flow alone.
            error = float(np.max(np.abs(
                GAMMA * pace * (flow_last[0] - flow_first[0]) / capacity)))
            # A node of a thin cell answers at once, so its raw estimate is far too harsh;
            # damp it by the same implicit operator (Hairer and Wanner II, IV.8).
            if error > tolerance:
                damped = np.linalg.solve(
                    GAMMA * pace * flow_last[1] + capacity[..., None] * np.eye(network.count),
                    (GAMMA * pace * (flow_last[0] - flow_first[0]))[..., None])
                error = float(np.max(np.abs(damped)))
            factor = min(3.0, max(0.2, 0.9 * np.sqrt(tolerance / max(error, 1e-12))))
            if error > 2 * tolerance:
                pace *= factor
                continue
        heat_in = heat_in + pace * ((1 - GAMMA) * flow_first[2] + GAMMA * flow_last[2])
        exchanged = exchanged + pace * ((1 - GAMMA) * flow_first[3] + GAMMA * flow_last[3])
        now += pace
        t, held = last[0], new_held
        times.append(now)
        temperatures.append(t)
        pace = pace * factor if step is None else step
    series = np.stack(temperatures)
    return Series(np.array(times), series, heat_in,
                  _heat_between(network, equations.volume, series[0], series[-1]), exchanged)


def _heat_between(network: Network, volume: Array, first: Array, last: Array) -> Array:
    """Heat taken up from one temperature to another, by quadrature of the material's own curves.

    Kept apart from the tables of the solver, so that the balance checks those too. Sixteen
    pieces of three Gauss points: curves of measured points have kinks.
    """
    points, weights = np.polynomial.legendre.leggauss(3)
    total = np.zeros(first.shape[:-1])
    pieces = 16
    for piece in range(pieces):
        for point, weight in zip(points, weights, strict=True):
            share = (piece + (point + 1) / 2) / pieces
            t = first + (last - first) * share
            for i, solid in enumerate(network.solids):
                density = solid.capacity(t) * volume[..., i, :]
                total = total + (density * (last - first)).sum(-1) * weight / 2 / pieces
    return np.asarray(total)


__all__ = ["GAMMA", "Series", "transient"]
