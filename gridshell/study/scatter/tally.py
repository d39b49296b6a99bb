"""Running sums of a scatter study: bounded memory however many tubes are drawn."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from gridshell.define.types import Array
from gridshell.study.scatter.samples import RandomInput

BINS = 4096  # of a histogram
GROUPS = 40  # equal shares of each input, for what it explains
QUANTILES = (0.001, 0.01, 0.05, 0.5, 0.95, 0.99, 0.999)


@dataclass(frozen=True)
class Distribution:
    """How one output scatters.

    Attributes:
        mean: SI.
        deviation: SI.
        least: of all draws.
        most: of all draws.
        quantiles: value below which a share of the tubes lies, by share.
        edges: (bins + 1,) of the histogram.
        counts: (bins,).
    """

    mean: float
    deviation: float
    least: float
    most: float
    quantiles: dict[float, float]
    edges: Array
    counts: np.ndarray


@dataclass(frozen=True)
class Tally:
    """Sums over some samples; two of them merge into one.

    Attributes:
        samples: tubes drawn.
        impossible: of these, with fields that contradict each other.
        failing: of these, below zero margin.
        names: of the checks.
        governing: how often each check has the lowest margin.
        governing_failing: likewise among the failing.
        sums: for each output: count, sum, sum of squares, least, most.
        histograms: for each output (BINS + 2,), the ends open.
        ends: of the histograms' inner bins.
        groups: for each output (inputs, GROUPS, 3): count, sum, sum of squares.
        origins: of the sums, so that they keep their digits.
    """

    samples: int
    impossible: int
    failing: int
    names: list[str]
    governing: np.ndarray
    governing_failing: np.ndarray
    sums: dict[str, Array]
    histograms: dict[str, np.ndarray]
    ends: dict[str, tuple[float, float]]
    groups: dict[str, Array]
    origins: dict[str, float]

    @classmethod
    def of(
        cls, draws: int, results: dict[str, Array], worst: np.ndarray, names: list[str],
        values: Array, inputs: tuple[RandomInput, ...], ends: dict[str, tuple[float, float]],
    ) -> Tally:
        """Sums over one lot.

        Args:
            draws: tubes drawn, impossible ones included.
            results: outputs of the possible ones, (count,) each.
            worst: (count,) which check governs.
            names: of the checks.
            values: (count, inputs) drawn.
            inputs: what varies.
            ends: of each histogram.
        """
        failing = results["margin"] < 0
        member = [
            np.searchsorted(one.bins(GROUPS), values[:, k]) for k, one in enumerate(inputs)
        ]
        sums, histograms, groups, origins = {}, {}, {}, {}
        for name, found in results.items():
            low, high = ends[name]
            origins[name] = (low + high) / 2
            finite = np.isfinite(found)
            moved = np.where(finite, found, origins[name]) - origins[name]
            sums[name] = np.array([
                finite.sum(), moved.sum(), (moved**2).sum(),
                found.min(initial=np.inf), found.max(initial=-np.inf),
            ])
            place = np.floor((np.clip(found, low - 1, high + 1) - low) / (high - low) * BINS)
            histograms[name] = np.bincount(
                np.clip(place, -1, BINS).astype(int) + 1, minlength=BINS + 2
            )
            groups[name] = np.stack([
                np.stack([
                    np.bincount(which, minlength=GROUPS).astype(float),
                    np.bincount(which, moved, minlength=GROUPS),
                    np.bincount(which, moved**2, minlength=GROUPS),
                ], axis=-1) for which in member
            ]) if member else np.zeros((0, GROUPS, 3))
        return cls(
            draws, draws - len(worst), failing=int(failing.sum()), names=names,
            governing=np.bincount(worst, minlength=len(names)),
            governing_failing=np.bincount(worst[failing], minlength=len(names)), sums=sums,
            histograms=histograms, ends=ends, groups=groups, origins=origins,
        )

    def distribution(self, name: str) -> Distribution:
        """How an output scatters."""
        count, total, squares, least, most = self.sums[name]
        low, high = self.ends[name]
        counts = self.histograms[name]
        edges = np.linspace(low, high, BINS + 1)
        if not count:
            nan = float("nan")
            return Distribution(
                nan, nan, least=nan, most=nan, quantiles=dict.fromkeys(QUANTILES, nan), edges=edges,
                counts=counts[1:-1],
            )
        mean = total / count
        variance = max(squares / count - mean**2, 0.0)
        running = np.concatenate([[0], np.cumsum(counts[:-1])]) / counts.sum()
        borders = np.concatenate([[min(least, low)], edges])
        return Distribution(
            float(mean + self.origins[name]), float(np.sqrt(variance)), least=float(least),
            most=float(most),
            quantiles={share: float(np.clip(np.interp(share, running, borders), least, most))
             for share in QUANTILES},
            edges=edges, counts=counts[1:-1],
        )

    def explained(self, name: str) -> list[float]:
        """For each input, the share of an output's variance that it explains alone.

        First-order index Var(E[y|x])/Var(y) from the means of equal groups of the input (Saltelli
        et al., Global Sensitivity Analysis: The Primer, 2008, section 1.2.6; from memory), less
        what the same number of random groups would show.
        """
        count, total, squares, *_ = self.sums[name]
        if not count:
            return [0.0] * len(self.groups[name])
        mean = total / count
        variance = squares / count - mean**2
        if variance <= 1e-24 * max(mean**2, 1e-300):
            return [0.0] * len(self.groups[name])
        shares = []
        for group in self.groups[name]:
            size = np.maximum(group[:, 0], 1)
            means = group[:, 1] / size
            between = np.sum(group[:, 0] * (means - mean) ** 2) / count
            within = np.sum(group[:, 2] - group[:, 1] ** 2 / size) / count
            chance = (GROUPS - 1) * within / max(count - GROUPS, 1)
            shares.append(float(np.clip((between - chance) / variance, 0.0, 1.0)))
        return shares


def merged(one: Tally, other: Tally) -> Tally:
    """Sums over both."""
    names = list(one.names)
    for name in other.names:
        if name not in names:
            names.append(name)

    def counts(field: str) -> np.ndarray:
        total = np.zeros(len(names), int)
        for tally in (one, other):
            for name, number in zip(tally.names, getattr(tally, field), strict=True):
                total[names.index(name)] += number
        return total

    sums = {
        name: np.array([
            *(one.sums[name][:3] + other.sums[name][:3]),
            min(one.sums[name][3], other.sums[name][3]),
            max(one.sums[name][4], other.sums[name][4]),
        ]) for name in one.sums
    }
    return Tally(
        one.samples + other.samples, one.impossible + other.impossible,
        failing=one.failing + other.failing, names=names, governing=counts("governing"),
        governing_failing=counts("governing_failing"), sums=sums,
        histograms={name: one.histograms[name] + other.histograms[name] for name in one.histograms},
        ends=one.ends, groups={name: one.groups[name] + other.groups[name] for name in one.groups},
        origins=one.origins,
    )


def interval(failing: int, draws: int, confidence: float) -> tuple[float, float]:
    """Exact confidence interval of a share (Clopper and Pearson, Biometrika 26, 1934).

    >>> low, high = interval(0, 100, 0.95)  # upper end 1 - 0.025^(1/100)
    >>> low, round(high, 5)
    (0.0, 0.03622)
    """
    from scipy.special import betaincinv

    tail = (1 - confidence) / 2
    low = 0.0 if failing == 0 else float(betaincinv(failing, draws - failing + 1, tail))
    high = 1.0 if failing == draws else float(
        betaincinv(failing + 1, draws - failing, 1 - tail))
    return low, high
