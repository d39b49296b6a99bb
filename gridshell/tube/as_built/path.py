"""From no load to the first load that an imperfect tube does not carry beyond.

The end is moved, not loaded: the tube stays in equilibrium past its highest load. A state is
stable under a dead load where its tangent with the end held is positive and the load still rises.
"""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass

import numpy as np

from gridshell.define.types import Array
from gridshell.tube.as_built.model import Model, Stress, Tangent

_TOLERANCE = 1e-9  # of the forces over load times 1
_TRIES = 9
_STEEPEST = 0.35  # loss of stiffness in one step above which the step is halved
_STEP = 0.12  # over the shortening at the classical load
_LONGEST = 3.0  # shortening over that at the classical load, where the search ends
_SMALLEST = 1 / 256  # step over the shortening at the classical load


@dataclass(frozen=True)
class Point:
    """One state of equilibrium.

    Attributes:
        shortening: of the tube over its radius.
        load: axial line force over A11.
        slope: of load over shortening.
        state: all unknowns.
        stress: at the points of integration.
    """

    shortening: float
    load: float
    slope: float
    state: Array
    stress: Stress


@dataclass(frozen=True)
class Path:
    """What was found on the way.

    Attributes:
        load: the first highest load, or where the state stops being stable, over A11.
        kind: limit, bifurcation, or none (no limit up to the load looked at).
        points: the stable states passed.
    """

    load: float
    kind: str
    points: tuple[Point, ...]


def equilibrium(model: Model, start: tuple[Array, Array], guess: Array, shortening: float
                ) -> tuple[Point, Tangent, Array] | None:
    """State with the end moved by so much; None where the iteration does not come in.

    Args:
        model: the tube.
        start: of `Model.deviation`.
        guess: all unknowns.
        shortening: over the radius.
    """
    state = guess.copy()
    state[model.held] = model.control[model.held] * shortening
    scale = max(abs(shortening), 1e-6) * model.wall.axial / model.wall.length
    last = np.inf
    for _ in range(_TRIES):
        force, band, stress = model.evaluate(state, start)
        assert band is not None
        tangent = model.tangent(band)
        if not tangent.positive:
            return None
        rest = force * model.free
        error = float(np.abs(rest).max())
        if error < _TOLERANCE * max(scale, 1e-9) + 1e-15:
            push = model.control * (1 - model.free)
            coupled = model.times(band, push)
            slope = float(push @ coupled - coupled * model.free @ tangent.solve(
                coupled * model.free))
            load = float(model.control @ force)
            return Point(shortening, load, slope, state, stress), tangent, coupled
        if error > 1e3 * last:
            return None
        last = min(error, last)
        state = state - tangent.solve(rest) * model.free
    return None


def follow(model: Model, start: tuple[Array, Array], classical: float, most: float = 1.15,
           watch: Callable[[Point], bool] = lambda point: False) -> Path:
    """Move the end until the load stops rising or the state stops being stable.

    Args:
        model: the tube.
        start: of `Model.deviation`.
        classical: a load to measure steps by, over A11.
        most: times it, where the search ends.
        watch: whether a state buckles into waves that the model does not hold; the search ends
            with that state as the last of the points.
    """
    whole = classical / model.wall.axial * model.wall.length
    found = equilibrium(model, start, np.zeros(model.grid.size), 0.0)
    if found is None:
        raise ArithmeticError("the tube without load is not in equilibrium")
    here, tangent, coupled = found
    first = here.slope
    points = [here]
    size = _STEP
    kind = "none"
    while here.load < most * classical and here.shortening < _LONGEST * whole:
        move = size * whole
        guess = here.state - tangent.solve(coupled * model.free) * model.free * move
        found = equilibrium(model, start, guess, here.shortening + move)
        steep = found is not None and (here.slope - found[0].slope) / first > _STEEPEST
        if (found is None or steep) and size > _SMALLEST:
            size /= 2
            continue
        if found is None:
            kind = "bifurcation"
            break
        there = found[0]
        if there.slope <= 0:
            return Path(_highest(here, there), "limit", tuple(points))
        change = (here.slope - there.slope) / first
        here, tangent, coupled = found
        points.append(here)
        if watch(here):
            return Path(here.load, "watched", tuple(points))
        if change < 0.12 and size < 2 * _STEP:
            size *= 1.5
    return Path(here.load, kind, tuple(points))


def _highest(a: Point, b: Point) -> float:
    """Highest load between two states, by the cubic through loads and slopes."""
    h = b.shortening - a.shortening
    s = np.linspace(0, 1, 401)
    load = (a.load * (1 - 3 * s**2 + 2 * s**3) + a.slope * h * (s - 2 * s**2 + s**3)
            + b.load * (3 * s**2 - 2 * s**3) + b.slope * h * (s**3 - s**2))
    return float(load.max())
