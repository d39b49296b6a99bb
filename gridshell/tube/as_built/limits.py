"""Load that a tube with one shape of deviation carries, over that of the perfect tube."""

from __future__ import annotations

from collections.abc import Sequence

import numpy as np

from gridshell.define.types import Array
from gridshell.tube.as_built.model import Model, Profile, Stress
from gridshell.tube.as_built.path import Path, Point, equilibrium, follow
from gridshell.tube.as_built.shell import Wall6

_CLOSE = 0.002  # of the load, to which a bifurcation is found


def sine(half_waves: int, length: float, height: float) -> Profile:
    """w0 = height sin(m pi x/L), lengths over the radius.

    Args:
        half_waves: m.
        length: of the tube.
        height: amplitude; below zero inward.
    """
    k = half_waves * np.pi / length

    def profile(x: Array) -> tuple[Array, Array]:
        return height * np.sin(k * x), height * k * np.cos(k * x)

    return profile


def mesh(length: float, half_wave: float, edge: float, finest: float = 2.6) -> Array:
    """Nodes along: so many elements in a half wave, and fine ones where the ends bend the wall.

    Args:
        length: of the tube, over the radius.
        half_wave: the shortest that matters.
        edge: half wave of the axisymmetric mode: the reach of the ends.
        finest: elements in a half wave.
    """
    inner = min(half_wave / finest, length / 12)
    outer = min(inner, edge / 2.2)
    reach = min(1.6 * edge, length / 3)
    ends = max(int(np.ceil(reach / outer)), 2)
    middle = max(int(np.ceil((length - 2 * reach) / inner)), 4)
    return np.unique(np.concatenate([
        np.linspace(0, reach, ends + 1), np.linspace(reach, length - reach, middle + 1),
        np.linspace(length - reach, length, ends + 1),
    ]).round(12))


class Rings:
    """A tube whose deviation is the same all round, and every wave that it may buckle into.

    Args:
        wall: the wall.
        nodes: along, over the radius.
        ends: round, clamped or growing.
        waves: round that are looked at.
    """

    def __init__(self, wall: Wall6, nodes: Array, ends: str, waves: Sequence[int]) -> None:
        self.base = Model(wall, nodes, (0,), ends, (2 * np.pi, 1))
        self._models: dict[int, Model] = {}
        self._order = list(waves)
        self._wall, self._nodes, self._ends = wall, nodes, ends

    def _model(self, n: int) -> Model:
        if n not in self._models:
            self._models[n] = Model(
                self._wall, self._nodes, (n,), self._ends, (np.pi / n, 2))
        return self._models[n]

    def buckles_into(self, stress: Stress) -> int | None:
        """First wave found whose tangent is not positive; None where all are."""
        both = Stress(*(np.repeat(part, 2, axis=1) for part in stress))
        for place, n in enumerate(self._order):
            if not self._model(n).under(both).positive:
                # It is the likeliest to be first the next time too.
                self._order.insert(0, self._order.pop(place))
                return n
        return None

    def limit(self, profile: Profile, classical: float) -> tuple[float, str, int]:
        """Load over A11, what ends it, and the wave round.

        Args:
            profile: deviation over the radius.
            classical: load to measure by, over A11.
        """
        start = self.base.deviation({0: profile})
        into: list[int] = []

        def watch(point: Point) -> bool:
            found = self.buckles_into(point.stress)
            into.extend([] if found is None else [found])
            return found is not None

        path = follow(self.base, start, classical, watch=watch)
        if not into:
            return path.load, path.kind, 0
        return self._between(start, path.points[-2], path.points[-1], into[0])

    def _between(self, start: tuple[Array, Array], a: Point, b: Point, n: int
                 ) -> tuple[float, str, int]:
        while b.load - a.load > _CLOSE * b.load:
            share = 0.5
            guess = a.state + share * (b.state - a.state)
            found = equilibrium(
                self.base, start, guess, a.shortening + share * (b.shortening - a.shortening))
            if found is None:
                break
            into = self.buckles_into(found[0].stress)
            if into is None:
                a = found[0]
            else:
                b, n = found[0], into
        return a.load, "bifurcation", n


def uneven(wall: Wall6, nodes: Array, ends: str, n: int, third: bool = False
           ) -> Model:
    """Model of a deviation of n waves round: waves 0, n, 2n and, if asked, 3n.

    Without 2n the answer is two to three times too high; 3n counts above half a skin.
    """
    top = 3 if third else 2
    return Model(wall, nodes, tuple(k * n for k in range(top + 1)), ends,
                 (np.pi / n, 2 * top + 1))


class Outside:
    """Waves that a model with waves 0, n, 2n does not hold, about its states.

    A small motion cos(j t) is coupled by the state with |n - j|, n + j and 2n - j waves round.

    Args:
        model: of `uneven`.
        profiles: of its deviation.
    """

    def __init__(self, model: Model, profiles: dict[int, Profile]) -> None:
        self.n = n = model.waves[1]
        self._nodes, self._wall, self._ends = model.grid.nodes, model.wall, model.ends
        # Enough points for every product of waves of state and motion, half way round by symmetry.
        self._points = (np.pi, 4 * n + n + 3)
        self._state = Model(model.wall, self._nodes, model.waves, model.ends, self._points)
        self._start = self._state.deviation(profiles)

    def unstable(self, state: Array) -> int | None:
        """First j whose group of waves is not stable about a state; None where all are."""
        _, _, stress = self._state.evaluate(state, self._start, tangent=False)
        n = self.n
        for j in range(n // 2, 0, -1):
            # One wave round is the column, which has a check of its own.
            group = tuple(sorted({j, abs(n - j), n + j, abs(2 * n - j)} - {0, 1}))
            for reverse in (False, True) if 2 * j == n else (False,):
                test = Model(self._wall, self._nodes, group, self._ends, self._points, reverse)
                if not test.under(stress).positive:
                    return j
        return None

    def first(self, path: Path) -> tuple[float, int | None]:
        """Load up to which a path is stable in these waves too, and the wave that ends it."""
        points = path.points
        j = self.unstable(points[-1].state)
        if j is None:
            return path.load, None
        low, high = 0, len(points) - 1
        while low + 1 < high:  # the first state is that without load
            middle = (low + high) // 2
            found = self.unstable(points[middle].state)
            low, high = (middle, high) if found is None else (low, middle)
            j = found or j
        # Between two states a straight line is near enough to equilibrium to tell stable from not.
        share, step = 0.0, 0.5
        for _ in range(3):
            state = points[low].state + (share + step) * (points[high].state - points[low].state)
            if self.unstable(state) is None:
                share += step
            step /= 2
        return points[low].load + share * (points[high].load - points[low].load), j
