"""Many tubes made to one design: how stiffness, margin and mass scatter, how many fall short."""

from __future__ import annotations

import dataclasses
import os
from collections.abc import Callable, Iterator
from dataclasses import dataclass

import numpy as np

from gridshell.define.errors import InputError
from gridshell.define.possible import possible
from gridshell.define.tables.design import Design
from gridshell.define.types import Array, IntArray
from gridshell.material.properties import Properties
from gridshell.material.resolve import properties as resolve
from gridshell.study.scatter.samples import RandomInput, lot_samples, random_inputs, sampled_designs
from gridshell.study.scatter.tally import BINS, Distribution, Tally, interval, merged
from gridshell.tube.as_built.tolerance import (
    Expected,
    at_tolerance,
    expected,
    is_expected,
    taking,
)
from gridshell.tube.assess import assess_tube
from gridshell.tube.buckling.knockdown import knockdowns
from gridshell.tube.buckling.waves import ready_for_many
from gridshell.tube.result import TubeResult
from gridshell.wall.assess import assess_wall

Progress = Callable[[int, int], None]
MIN_SAMPLES = 100
LOT = 16_384  # draws worked at once
_FIRST_LOT = 2_000  # tubes that give the ends of the histograms
_MANY = 150_000  # draws from which more processes pay
OUTPUTS = ("margin", "mass", "EI")


@dataclass(frozen=True)
class ScatterTask:
    """What one process needs to work lots: everything but the lot's number.

    Attributes:
        design: as stated.
        properties: of its material.
        inputs: what varies.
        seed: of the random numbers.
        samples: tubes drawn in all.
        edges: ends of each output's histogram.
        tolerated: factor over roundness of the stated tube, where the checks take the expected one.
    """

    design: Design
    properties: Properties
    inputs: tuple[RandomInput, ...]
    seed: int
    samples: int
    edges: dict[str, tuple[float, float]]
    tolerated: Expected | None = None

    def at(self, values: Array) -> tuple[Design, Properties]:
        """Designs and properties with drawn values (count, inputs)."""
        design, properties = sampled_designs(self.design, self.properties, self.inputs, values)
        if self.tolerated is not None:
            design = taking(design, at_tolerance(
                self.tolerated, self.design, design.skin.thickness))
        return design, properties


@dataclass(frozen=True)
class ScatterResult:
    """The answer of `scatter_designs`.

    Attributes:
        nominal: the tube as stated.
        inputs: what varied.
        samples: tubes drawn.
        impossible: of these, with fields that contradict each other or that no formula reaches;
            they count as failing.
        distributions: of margin, mass (kg) and EI (N m2).
        failing: tubes below zero margin, impossible ones included.
        share: failing over draws.
        interval: its confidence interval.
        confidence: of that.
        drivers: for each output the share of its variance that each input explains alone.
        governing: how often each check has the lowest margin.
        governing_failing: among the failing.
    """

    nominal: TubeResult
    inputs: tuple[RandomInput, ...]
    samples: int
    impossible: int
    distributions: dict[str, Distribution]
    failing: int
    share: float
    interval: tuple[float, float]
    confidence: float
    drivers: dict[str, dict[str, float]]
    governing: dict[str, int]
    governing_failing: dict[str, int]


def _margins(tube: TubeResult, count: int) -> tuple[Array, list[str]]:
    """Margin of every check of every case (checks, count), and their names."""
    names, margins = [], []
    for case in tube.cases:
        for check in sorted(case.checks, key=lambda check: check.name):
            names.append(f"{case.name}: {check.name}")
            margins.append(np.broadcast_to(check.margin, (count,)))
    if not margins:
        return np.full((1, count), np.inf), ["no load"]
    return np.stack(margins), names


def _assess(job: ScatterTask, values: Array
            ) -> tuple[dict[str, Array], Array, list[str], IntArray]:
    """Tubes at drawn values: outputs, margins of every check (checks, tubes), names of the checks,
    and which of the draws they are (the possible ones).

    Outside of the unit cells that the formula was held to, each margin is the lower of two: by the
    formula, and by the lower bound of the wall's stiffness.
    """
    ready_for_many()
    design, properties = job.at(values)
    good = np.broadcast_to(possible(design), (len(values),))
    if not good.all():
        values = values[good]
        design, properties = job.at(values)
    count = len(values)
    with np.errstate(all="ignore"):  # what no formula reaches is counted by the caller
        tube = assess_tube(design, properties)
        margins, names = _margins(tube, count)
        outside = np.broadcast_to(tube.wall.outside_map, (count,))
        if outside.any():
            design, properties = job.at(values[outside])
            bound, _ = _margins(assess_tube(design, properties, least=True), int(outside.sum()))
            margins[:, outside] = np.minimum(margins[:, outside], bound)  # NaN stays: no pass
    outputs = {
        "margin": margins.min(axis=0), "mass": np.broadcast_to(tube.mass, (count,)),
        "EI": np.broadcast_to(tube.stiffness.EI, (count,)),
    }
    return outputs, margins, names, np.flatnonzero(good)


def run_lot(job: ScatterTask, lot: int) -> Tally:
    """Work one lot. Runs in any process."""
    count = min(LOT, job.samples - lot * LOT)
    values = lot_samples(job.inputs, count, job.seed, lot + 2)
    results, margins, names, good = _assess(job, values)
    # A shape so far out of the formulas' reach that they give no number counts as impossible.
    told = ~np.any([np.isnan(value) for value in results.values()], axis=0)
    worst = np.argmin(margins[:, told], axis=0)
    return Tally.of(
        count, {name: value[told] for name, value in results.items()}, worst=worst, names=names,
        values=values[good][told], inputs=job.inputs, ends=job.edges,
    )


def _edges(results: dict[str, Array]) -> dict[str, tuple[float, float]]:
    """Ends of each histogram: what a first lot spans, widened."""
    found = {}
    for name, values in results.items():
        finite = values[np.isfinite(values)]
        low, high = (finite.min(), finite.max()) if finite.size else (0.0, 1.0)
        room = 0.5 * (high - low) or max(abs(high), 1.0) * 1e-6
        found[name] = (float(low - room), float(high + room))
    return found


def _tallies(job: ScatterTask, lots: int, workers: int | None) -> Iterator[Tally]:
    from gridshell.study.sweep.run import executor

    count = workers if workers is not None else (
        (os.cpu_count() or 1) if job.samples >= _MANY else 1)
    with executor(min(count, lots)) as (pool, ahead):
        waiting = []
        for lot in range(lots):
            waiting.append(pool.submit(run_lot, job, lot))
            if len(waiting) >= 3 * ahead:
                yield waiting.pop(0).result()
        for future in waiting:
            yield future.result()


def scatter_designs(
    design: Design, properties: Properties | None = None, samples: int | None = None,
    workers: int | None = None, progress: Progress | None = None,
) -> ScatterResult:
    """Draw tubes by the design's ``[scatter]`` table and assess each.

    Same file, same answer, whatever the number of workers.

    Args:
        design: one design with a ``[scatter]`` table.
        properties: of the material; None: looked up.
        samples: tubes drawn, instead of the table's ``draws``.
        workers: processes; None: one a core where it pays.
        progress: called with tubes done and tubes in all.

    Raises:
        InputError: no ``[scatter]``, too few draws, or an input reaches impossible values.
    """
    known = resolve(design.material, design.folder) if properties is None else properties
    inputs = random_inputs(design, known)
    assert design.scatter is not None  # `random_inputs` has refused a design without
    table = design.scatter
    count = table.draws if samples is None else samples
    if not isinstance(count, (int, np.integer)) or count < MIN_SAMPLES:
        raise InputError(f"--draws {count}: must be a whole number, at least {MIN_SAMPLES}")
    seed = int(table.seed)

    # The first lot gives the ends of the histograms.
    job = ScatterTask(design, known, inputs, seed, count, {}, _tolerated(design, known))
    first, *_ = _assess(job, lot_samples(inputs, _FIRST_LOT, seed, 0))
    job = dataclasses.replace(job, edges=_edges(first))
    lots = -(-count // LOT)
    total: Tally | None = None
    for tally in _tallies(job, lots, workers):
        total = tally if total is None else merged(total, tally)
        if progress is not None:
            progress(total.samples, count)
    assert total is not None  # at least one lot
    failing = total.failing + total.impossible
    return ScatterResult(
        nominal=assess_tube(design, known), inputs=inputs, samples=count,
        impossible=total.impossible,
        distributions={name: total.distribution(name) for name in OUTPUTS}, failing=failing,
        share=failing / count, interval=interval(failing, count, float(table.confidence)),
        confidence=float(table.confidence),
        drivers={
            name: {
                one.field: share
                for one, share in zip(inputs, total.explained(name), strict=True)
            } for name in OUTPUTS
        },
        governing=_counted(total.names, total.governing),
        governing_failing=_counted(total.names, total.governing_failing),
    )


def _tolerated(design: Design, known: Properties) -> Expected | None:
    """Factor over roundness of the stated tube, if its checks take the expected one."""
    if not is_expected(design):
        return None
    assert design.as_built is not None
    built = assess_wall(design, known)
    return expected(
        built, float(knockdowns(built)["compression"].factor), design.as_built.ends)


def _counted(names: list[str], counts: np.ndarray) -> dict[str, int]:
    """Names with counts above zero, the most frequent first."""
    order = np.argsort(-counts, kind="stable")
    return {names[i]: int(counts[i]) for i in order if counts[i]}


__all__ = ["BINS", "LOT", "OUTPUTS", "ScatterResult", "ScatterTask", "run_lot", "scatter_designs"]
