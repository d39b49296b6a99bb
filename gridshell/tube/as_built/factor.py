"""The knockdown factor of one tube from its scan, with its range and what costs most."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass

import numpy as np

from gridshell.define.tables.as_built import CAP
from gridshell.define.types import Array
from gridshell.tube.as_built.fit import Shape
from gridshell.tube.as_built.perfect import Perfect, Wave
from gridshell.tube.as_built.shaped import Limit, imposed, ring_waves
from gridshell.tube.as_built.spectrum import Amplitudes, Law, amplitudes_of, law_of

CAP_SOURCE = (
    f"cap {CAP:g} (ours: load introduction, small dents between the readings and residual stress "
    "are in no scan)"
)
_SHRINK = 0.6  # next smaller amplitude where no highest load is found
_FEW = 3  # waves round tried


def candidates(tube: Perfect) -> tuple[Wave, ...]:
    """Waves that deviations are tried in: the lowest, the one most round, and one between."""
    near = sorted(tube.cluster, key=lambda wave: wave.n)
    lowest = tube.waves[0]
    if not near:
        return (lowest,)
    picked = {lowest.n: lowest, near[-1].n: near[-1]}
    between = [wave for wave in near if wave.n not in picked]
    if between and len(picked) < _FEW:
        middle = between[len(between) // 2]
        picked[middle.n] = middle
    return tuple(picked.values())


def ring_half_waves(tube: Perfect) -> tuple[int, ...]:
    """Half waves of rings tried: 1 to 1.2 times as long as the softest."""
    count = tube.wall.length / tube.rings
    return tuple(sorted({max(round(count / stretch), 1) for stretch in (1.0, 1.15)}))


Solve = Callable[[float, float], Limit]  # combined amplitudes of waves round and of rings, m


def lowest_limit(tube: Perfect, uneven: float, rings: float, ends: str) -> tuple[Limit, Solve]:
    """Least factor of a combined amplitude in the worst of the waves tried.

    Where a larger deviation leaves no highest load (the wall goes soft instead), smaller ones are
    tried and the least kept: a later rise is never credited. The worst of the waves is tried with
    rings of both signs too, and its states must be stable in waves outside of its set.

    Args:
        tube: perfect.
        uneven: combined amplitude of waves round, m.
        rings: of rings, m.
        ends: round, clamped or growing.

    Returns:
        the limit, and how to solve the same shape for other amplitudes.
    """
    tried: list[tuple[Limit, Solve]] = [_tried(_rings_alone(tube, m, ends), uneven, rings)
                                        for m in ring_half_waves(tube)]
    alone = [(wave, _tried(_uneven(tube, wave, 0.0, ends, False), uneven, rings))
             for wave in candidates(tube)]
    worst, pair = min(alone, key=lambda one: one[1][0].factor)
    tried.append(pair)
    signs = (1.0, -1.0) if rings > 0.05 * uneven else (0.0,)
    both = [(sign, _tried(_uneven(tube, worst, sign, ends, False), uneven, rings))
            for sign in signs]
    sign, pair = min(both, key=lambda one: one[1][0].factor)
    tried += [pair, _tried(_uneven(tube, worst, sign, ends, True), uneven, rings)]
    return min(tried, key=lambda one: one[0].factor)


def _tried(solve: Solve, uneven: float, rings: float) -> tuple[Limit, Solve]:
    return solve(uneven, rings), solve


def _rings_alone(tube: Perfect, m: int, ends: str) -> Solve:
    def solve(uneven: float, rings: float) -> Limit:
        return _running(lambda a: ring_waves(tube, m, a, ends), _least(tube, rings))

    return solve


def _uneven(tube: Perfect, wave: Wave, sign: float, ends: str, outside: bool) -> Solve:
    ring = ring_half_waves(tube)[0]

    def solve(uneven: float, rings: float) -> Limit:
        whole = _least(tube, uneven)

        def at(amplitude: float) -> Limit:
            shape = {(wave.m, wave.n): amplitude}
            if sign:
                shape[ring, 0] = sign * rings * amplitude / whole
            return imposed(tube, shape, wave.n, ends, outside)

        return _running(at, whole)

    return solve


def _least(tube: Perfect, amplitude: float) -> float:
    return max(amplitude, 1e-3 * tube.skin * tube.wall.radius)


def lowest_ring_limit(tube: Perfect, amplitude: float, ends: str) -> Limit:
    """Least factor with rings alone; see `lowest_limit`."""
    return min((_rings_alone(tube, m, ends)(0.0, amplitude) for m in ring_half_waves(tube)),
               key=lambda one: one.factor)


def _running(solve: Callable[[float], Limit], amplitude: float) -> Limit:
    """Least over smaller amplitudes where there is no highest load at this one."""
    found = solve(amplitude)
    best = found
    for _ in range(6):
        if found.kind != "none":
            break
        amplitude *= _SHRINK
        found = solve(amplitude)
        best = min(best, found, key=lambda one: one.factor)
    return best


@dataclass(frozen=True)
class Factor:
    """The own factor of one tube in axial compression.

    Attributes:
        value: at the middle of what is not known, cap left out.
        low: at its 95th percentile: the one that is used.
        high: at its 5th percentile.
        worst: shape that gives `low`.
        uneven: combined amplitude of waves round at the three, m.
        rings: of rings, m.
        flattest: least curvature over 1/R that the long waves leave.
        thin: share of the load that the measured skin leaves, at most 1.
        measured: share of the mean square that was measured.
        law: of the waves that were not.
        ends: as they were taken.
        costs: what costs most: (half waves along, waves round, amplitude m, gain of the factor
            if that wave is halved).
    """

    value: float
    low: float
    high: float
    worst: Limit
    uneven: tuple[float, float, float]
    rings: tuple[float, float, float]
    flattest: float
    thin: float
    measured: float
    law: Law
    ends: str
    costs: tuple[tuple[int, int, float, float], ...]


def factor_of(tube: Perfect, shape: Shape, ends: str, thin: float = 1.0) -> Factor:
    """Own factor with its range.

    Args:
        tube: perfect.
        shape: fitted from the scan.
        ends: round or clamped.
        thin: share of the load that the skin's thickness leaves.
    """
    law = law_of(shape)
    known = amplitudes_of(shape, tube, law)
    flat = float(known.flattest[0])
    # A reading that no wave explains may be a dent: it counts with its whole depth.
    dent = max((abs(one.off) for one in shape.outliers), default=0.0)
    uneven = _three(np.hypot(known.uneven, dent))
    rings = _three(known.rings)
    # The worst shape of the largest deviation stands for the others too.
    worst, solve = lowest_limit(tube, uneven[2], rings[2], ends)
    limits = [*(solve(a, b) for a, b in zip(uneven[:2], rings[:2], strict=True)), worst]
    # More deviation is never credited, within the resolution of the search.
    low = min(one.factor for one in limits)
    middle = min(limits[0].factor, limits[1].factor)
    scale = flat * thin
    return Factor(
        value=middle * scale, low=low * scale, high=limits[0].factor * scale, worst=limits[2],
        uneven=uneven, rings=rings, flattest=flat, thin=thin, measured=known.measured, law=law,
        ends=ends, costs=_costs(tube, shape, known, limits, scale),
    )


def _three(samples: Array) -> tuple[float, float, float]:
    low, middle, high = np.percentile(samples, (5, 50, 95))
    return float(low), float(middle), float(high)


def _costs(tube: Perfect, shape: Shape, known: Amplitudes, limits: list[Limit], scale: float
           ) -> tuple[tuple[int, int, float, float], ...]:
    """The five measured waves that cost most, by the slope of the factor over the amplitude."""
    from gridshell.tube.as_built.spectrum import growth

    weight = growth(tube).T
    rows, across = min(len(weight), shape.most_round + 1), min(weight.shape[1], shape.most_along)
    counted = shape.amplitude[:rows, :across] * weight[:rows, :across]
    counted[1] = 0
    sums = counted.sum(axis=1)
    total = float(np.median(known.uneven) ** 2 + np.median(known.rings) ** 2)
    spread = _three(np.sqrt(known.uneven**2 + known.rings**2))
    if not total or spread[2] <= spread[0]:
        return ()
    # Factor against the combined amplitude, through no deviation and the three solved.
    slope = (1.0 - limits[1].factor) / np.sqrt(total)
    found = []
    for flat in np.argsort(counted.ravel())[::-1][:5]:
        n, m = divmod(int(flat), across)
        one = counted[n, m]
        if one <= 0:
            break
        left = np.sqrt(max(total - sums[n] ** 2 + (sums[n] - one / 2) ** 2, 0.0))
        found.append((m + 1, n, float(shape.amplitude[n, m]),
                      float(scale * slope * (np.sqrt(total) - left))))
    return tuple(found)


