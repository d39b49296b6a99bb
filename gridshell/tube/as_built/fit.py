"""Fourier amplitudes of a scanned shape by a robust fit, with their uncertainty."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from gridshell.define.types import Array
from gridshell.tube.as_built.scan import Scan

_OUTLIER = 5.0  # standard deviations (bisquare's usual cut is 4.7)
_ROUNDS = 30
HIGHEST = 40  # waves round that are looked for at most
_DENSE = 400


@dataclass(frozen=True)
class Outlier:
    """A reading that the waves of its station do not explain.

    Attributes:
        line: of the file.
        station: m.
        angle: rad.
        off: reading less fit, m.
    """

    line: int
    station: float
    angle: float
    off: float


@dataclass(frozen=True)
class Shape:
    """Deviation of shape as sum of (A cos n t + B sin n t) sin(m pi x/L), without n = 1.

    Attributes:
        length: of the tube, m.
        cosine: (n + 1, m) A, m; the first row is n = 0, the first column m = 1.
        sine: (n + 1, m) B, m.
        error: (n + 1, m) standard uncertainty of each A and B, m.
        stations: (s,) m.
        around: (s, n + 1) complex A - i B of each station, m.
        even: mean radius less the design's, m.
        bow: of the axis, m; 0 where it can't be known.
        noise: standard deviation of one reading, m.
        outliers: readings left out of the fit.
    """

    length: float
    cosine: Array
    sine: Array
    error: Array
    stations: Array
    around: Array
    even: float
    bow: float
    noise: float
    outliers: tuple[Outlier, ...]

    @property
    def amplitude(self) -> Array:
        """(n + 1, m) of each wave, m."""
        return np.hypot(self.cosine, self.sine)

    @property
    def most_round(self) -> int:
        """Waves round that the angles tell apart."""
        return len(self.cosine) - 1

    @property
    def most_along(self) -> int:
        """Half waves along that the stations tell apart."""
        return int(self.cosine.shape[1])

    def at(self, x: Array, t: Array) -> Array:
        """Deviation at places, the even part and the bow left out, m.

        Args:
            x: along, m.
            t: round, rad.
        """
        m = np.arange(1, self.most_along + 1)
        along = np.sin(np.pi * m * np.asarray(x)[..., None] / self.length)
        found = np.zeros(np.broadcast_shapes(np.shape(x), np.shape(t)))
        for n in range(self.most_round + 1):
            found = found + (along @ self.cosine[n]) * np.cos(n * t) + (
                along @ self.sine[n]) * np.sin(n * t)
        return found


def _columns(angle: Array, top: int) -> Array:
    n = np.arange(1, top + 1)
    return np.concatenate([
        np.ones((len(angle), 1)), np.cos(np.outer(angle, n)), np.sin(np.outer(angle, n))], axis=1)


def _top(angle: Array) -> int:
    """Waves round that the readings of a station tell apart and an outlier can be told from."""
    around = np.sort(angle)
    gap = float(np.diff(np.append(around, around[0] + 2 * np.pi)).max())
    highest = min((len(angle) - 3) // 2, len(angle) // 3, HIGHEST)
    while highest > 2 and highest * gap > np.pi * (1 + 1e-9):
        highest -= 1
    return max(highest, 2)


def _robust(columns: Array, value: Array, floor: float) -> tuple[Array, float]:
    """Coefficients and standard deviation by Tukey's bisquare."""
    weight = np.ones(len(value))
    # Start from least absolute values, so that one bad reading does not pull the first fit.
    for _ in range(_ROUNDS):
        found = np.linalg.lstsq(columns * weight[:, None] ** 0.5, value * weight**0.5,
                                rcond=None)[0]
        rest = np.abs(value - columns @ found)
        weight = 1 / np.maximum(rest, max(floor / 10, 1e-12))
        weight /= weight.max()
    free = max(len(value) - columns.shape[1], 1)
    share = len(value) / free
    for _ in range(_ROUNDS):
        rest = value - columns @ found
        spread = max(1.4826 * float(np.median(np.abs(rest))) * share**0.5, floor)
        u = rest / (_OUTLIER * spread)
        weight = np.where(np.abs(u) < 1, (1 - u * u) ** 2, 0.0)
        if np.count_nonzero(weight) <= columns.shape[1]:
            break
        found = np.linalg.lstsq(columns * weight[:, None] ** 0.5, value * weight**0.5,
                                rcond=None)[0]
    return np.asarray(found, float), float(spread)


def fit_shape(scan: Scan, length: float) -> Shape:
    """Waves of a scan: round at each station, then along through the stations.

    The profile along is a constant, a slope and sines as far as the stations tell them apart; what
    constant and slope are worth in each sine is added to it, since ends held round take them out.

    Args:
        scan: readings.
        length: of the tube, m.
    """
    stations = scan.stations
    groups = [np.flatnonzero(scan.station == place) for place in stations]
    top = min(_top(scan.angle[here]) for here in groups)
    around = np.zeros((len(stations), top + 1), complex)
    outliers: list[Outlier] = []
    rests, free = 0.0, 0
    gains = np.zeros((len(stations), top + 1))
    for k, here in enumerate(groups):
        columns = _columns(scan.angle[here], top)
        found, spread = _robust(columns, scan.deviation[here], scan.error)
        rest = scan.deviation[here] - columns @ found
        bad = np.abs(rest) > _OUTLIER * spread
        outliers += [
            Outlier(int(scan.line[i]), float(stations[k]), float(scan.angle[i]), float(off))
            for i, off in zip(here[bad], rest[bad], strict=True)
        ]
        kept = columns[~bad]
        covariance = np.linalg.pinv(kept.T @ kept)
        around[k, 0] = found[0]
        around[k, 1:] = found[1:top + 1] - 1j * found[top + 1:]
        spread_of = np.sqrt(np.diag(covariance))
        gains[k, 0] = spread_of[0]
        gains[k, 1:] = np.maximum(spread_of[1:top + 1], spread_of[top + 1:])
        rests += float(np.sum(rest[~bad] ** 2))
        free += len(kept) - columns.shape[1]
    noise = max((rests / free) ** 0.5 if free > 5 else scan.error, scan.error)
    even = float(np.mean(around[:, 0].real))
    waves = around.copy()
    waves[:, 0] -= even
    bow = scan.bow if scan.bow is not None else _bow(stations, waves[:, 1], length)
    waves[:, 1] = 0
    along = _along(stations, length)
    value = along @ waves  # (m, n + 1)
    error = noise * np.sqrt((along**2) @ gains**2)
    return Shape(
        length, value.real.T, -value.imag.T, error=error.T, stations=stations, around=around,
        even=even, bow=bow, noise=noise, outliers=tuple(outliers),
    )


def _bow(stations: Array, eccentric: Array, length: float) -> float:
    """Bow of the axis over the whole length by a parabola through the centers; 0 below 3."""
    if len(stations) < 3:
        return 0.0
    x = stations / length
    parts = [np.polyfit(x, part, 2)[0] for part in (eccentric.real, eccentric.imag)]
    return float(np.hypot(*parts)) / 4


def _along(stations: Array, length: float) -> Array:
    """(m, stations): half-wave amplitudes of a profile from its values at the stations."""
    x = stations / length
    count = len(x)
    dense = (np.arange(_DENSE) + 0.5) / _DENSE

    def basis(at: Array, sines: int) -> Array:
        straight = [np.ones(len(at)), at - 0.5][:min(count, 2)]
        return np.stack([*straight, *(np.sin(np.pi * m * at) for m in range(1, sines + 1))], axis=1)

    sines = max(count - 3, 0)
    while sines and np.linalg.cond(basis(x, sines)) > 30:
        sines -= 1
    solve = np.linalg.pinv(basis(x, sines))
    top = max(sines, count - 1, 1)
    m = np.arange(1, top + 1)
    project = 2 / _DENSE * np.sin(np.pi * np.outer(m, dense)) @ basis(dense, sines)
    return np.asarray(project @ solve)
