"""How much of a deviation counts in buckling, and the waves that were not measured."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from gridshell.define.types import Array
from gridshell.tube.as_built.fit import Shape
from gridshell.tube.as_built.perfect import Perfect

LOWEST = 1.5  # waves above so many times the lowest load count by the curvature they leave
DRAWS = 1000
SPECTRUM = (
    "waves that the scan can't see: amplitude falls as n^-p m^-q, p and q from the measured waves "
    "within 1 to 3 and 0.5 to 2 (2 and 1 where too few are measured; ours, no source), phases and "
    "sizes random (Rayleigh)"
)


def growth(tube: Perfect) -> Array:
    """(m, n + 1) how much each wave of deviation counts: lowest load over the wave's own.

    That is how fast a small deviation begins to grow. Rings (n = 0) are compared with the softest
    rings.
    """
    share = tube.load / tube.loads
    share[:, 0] = tube.ring_load / tube.loads[:, 0]
    return np.minimum(share, 1.0)


@dataclass(frozen=True)
class Law:
    """Amplitude of unmeasured waves: size n^-p m^-q, root mean square.

    Attributes:
        size: m.
        p: power of n.
        q: power of m.
        fitted: whether p and q come from the scan.
    """

    size: float
    p: float
    q: float
    fitted: bool

    def at(self, m: Array, n: Array) -> Array:
        """Root mean square amplitude, m; rings count as two waves round."""
        return np.asarray(self.size * np.maximum(n, 2.0) ** -self.p * np.maximum(m, 1.0) ** -self.q)


def law_of(shape: Shape) -> Law:
    """Spectrum through the measured waves that stand above the noise."""
    amplitude, error = shape.amplitude, shape.error
    n = np.arange(len(amplitude))[:, None] + np.zeros(amplitude.shape)
    m = np.arange(1, amplitude.shape[1] + 1)[None, :] + np.zeros(amplitude.shape)
    seen = (amplitude > 2 * error) & (n >= 2)
    p, q, fitted = 2.0, 1.0, False
    if np.sum(seen) >= 6 and len(np.unique(n[seen])) > 2:
        columns = [np.ones(int(seen.sum())), -np.log(n[seen])]
        if len(np.unique(m[seen])) > 2:
            columns.append(-np.log(m[seen]))
        found = np.linalg.lstsq(np.stack(columns, axis=1), np.log(amplitude[seen]), rcond=None)[0]
        p, fitted = float(np.clip(found[1], 1.0, 3.0)), True
        q = float(np.clip(found[2], 0.5, 2.0)) if len(found) > 2 else 1.0
    # The size so that the law has the measured waves' mean square, noise among them.
    use = n >= 2
    shares = (n[use] ** -p * m[use] ** -q) ** 2
    size = float(np.sqrt(np.sum(amplitude[use] ** 2) / np.sum(shares)))
    return Law(size, p, q, fitted)


@dataclass(frozen=True)
class Amplitudes:
    """What counts of a shape, as samples over what is not known of it.

    Attributes:
        uneven: (draws,) waves round, combined, m.
        rings: (draws,) rings, combined, m.
        flattest: (draws,) least curvature round over 1/R that the long waves leave.
        measured: share of the mean square of `uneven` and `rings` that was measured.
    """

    uneven: Array
    rings: Array
    flattest: Array
    measured: float


def amplitudes_of(shape: Shape, tube: Perfect, law: Law, seed: int = 1, draws: int = DRAWS
                  ) -> Amplitudes:
    """Combined amplitude of all waves, each by its `growth`, drawn many times.

    Half waves along with equal waves round add up, different waves round by the root of the sum of
    squares: on the safe side by 6 to 15 % of the load of tubes solved with 18 random waves at once
    (`tests/tube/test_as_built.py`); squares alone were 2 to 22 % unsafe. Measured waves are drawn
    about their fit with its uncertainty, the others by the law.

    Args:
        shape: fitted.
        tube: perfect.
        law: of the waves not measured.
        seed: of the random numbers.
        draws: how many.
    """
    random = np.random.default_rng(seed)
    weight = growth(tube).T  # (n + 1, m)
    weight[1] = 0
    rows = min(len(weight), shape.most_round + 1)
    across = min(weight.shape[1], shape.most_along)
    seen = np.zeros(weight.shape, bool)
    seen[:rows, :across] = True
    n = np.arange(len(weight))[:, None]
    m = np.arange(1, weight.shape[1] + 1)[None, :]
    rms = np.where(seen, 0.0, law.at(m.astype(float), n.astype(float)))
    part = weight[:rows, :across]
    noise = random.normal(size=(2, draws, rows, across)) * shape.error[:rows, :across]
    cosine, sine = shape.cosine[:rows, :across] + noise[0], shape.sine[:rows, :across] + noise[1]
    sine[:, 0] = 0  # rings have no other phase
    added = (np.hypot(cosine, sine) * part).sum(axis=2) ** 2
    uneven2, rings2 = added[:, 1:].sum(axis=1), added[:, 0].copy()
    known = [float(uneven2.mean()), float(rings2.mean())]
    # Sum of many exponentials: drawn once for the loudest, by mean and variance for the rest.
    power = (rms * weight) ** 2
    uneven2 += _exponentials(power[1:].ravel(), draws, random)
    rings2 += _exponentials(power[0], draws, random)
    total = float(uneven2.mean() + rings2.mean())
    return Amplitudes(
        np.sqrt(uneven2), np.sqrt(rings2), _flattest(shape, tube, draws),
        measured=sum(known) / total if total else 1.0)


def _exponentials(mean: Array, draws: int, random: np.random.Generator) -> Array:
    loud = np.sort(mean)[::-1][:40]
    rest = np.sort(mean)[::-1][40:]
    found = random.exponential(size=(draws, len(loud))) @ loud
    return np.asarray(found + np.maximum(
        rest.sum() + random.normal(size=draws) * np.sqrt(np.sum(rest**2)), 0.0))


def _flattest(shape: Shape, tube: Perfect, draws: int) -> Array:
    """Curvature round is 1/R + (n^2 - 1) w/R^2; only waves far above the lowest count here."""
    ratio = tube.loads.T / tube.load
    rows = min(len(ratio), shape.most_round + 1)
    across = min(ratio.shape[1], shape.most_along)
    n = np.arange(rows)[:, None]
    long = (ratio[:rows, :across] > LOWEST) & (n >= 2)
    radius = tube.wall.radius
    t = np.linspace(0, 2 * np.pi, 181)
    x = np.linspace(0, 1, 61)
    along = np.sin(np.pi * np.outer(x, np.arange(1, across + 1)))
    lift = np.where(long, n**2 - 1, 0) / radius
    field = np.zeros((len(x), len(t)))
    for k in range(2, rows):
        a = along @ (lift[k] * shape.cosine[k, :across])
        b = along @ (lift[k] * shape.sine[k, :across])
        field += np.outer(a, np.cos(k * t)) + np.outer(b, np.sin(k * t))
    return np.full(draws, max(1 + float(field.min()), 0.0))
