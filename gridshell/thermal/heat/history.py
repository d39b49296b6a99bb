"""The tube's temperatures through every step of chilling and back out in the open."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from gridshell.define.tables.chill import Chill, ChillStep
from gridshell.define.types import Array
from gridshell.thermal.heat.network import INSIDE, OUTSIDE
from gridshell.thermal.heat.section import WallSection
from gridshell.thermal.heat.surroundings import (
    Surroundings,
    exposure_surroundings,
    step_surroundings,
)
from gridshell.thermal.heat.transient import transient

UNCOVERED = "uncovered"
POINTS = 80  # least number of time steps in a phase, so that its curve is smooth


@dataclass(frozen=True)
class Phase:
    """One step of the history.

    Attributes:
        name: as stated, or ``uncovered``.
        start: s from the beginning.
        end: s from the beginning.
        surroundings: K.
        imbalance: heat unaccounted for, as a share of the heat that crossed the surfaces.
        heat: heat that came in, J per meter of tube (negative: taken out).
        through: s from the beginning when all of the tube was within 1 K of the surroundings, None
            if never.
    """

    name: str
    start: float
    end: float
    surroundings: float
    imbalance: float
    heat: float
    through: float | None


@dataclass(frozen=True)
class History:
    """Temperatures of the tube's nodes over time.

    Attributes:
        time: s (times,).
        temperature: K (times, nodes).
        phases: in order, the uncovered one last (unless left out).
    """

    time: Array
    temperature: Array
    phases: tuple[Phase, ...]


def history(
    section: WallSection, chill: Chill, *, steps: tuple[ChillStep, ...] | None = None,
    back: bool = True, points: int = POINTS,
) -> History:
    """Follow one tube through the steps, then uncovered.

    Args:
        section: of the wall.
        chill: the ``[chill]`` table.
        steps: instead of those of ``chill``.
        back: whether the uncovered phase follows.
        points: least number of time steps in a phase.
    """
    tube = section.tube_nodes
    state = np.full(section.covered.count, float(chill.start))
    around, clock = float(chill.start), 0.0
    times, temperatures, phases = [], [], []
    wanted: list[ChillStep | None] = [*(chill.steps if steps is None else steps)]
    if back:
        wanted.append(None)
    for step in wanted:
        stated = chill.uncovered if step is None else step
        on = stated.sleeve and bool(chill.sleeve)
        network = section.covered if on else section.bare
        diameter = section.covered_diameter if on else section.diameter
        outside: Surroundings
        if step is None:
            outside, inside = exposure_surroundings(
                chill.uncovered, diameter, section.bore, chill.emissivity)
        else:
            outside, inside = step_surroundings(
                step, diameter, section.bore, chill.emissivity, around)
        if not on:
            # A sleeve that is off waits in the open at the start temperature.
            state[tube:] = chill.start
        found = transient(
            network, state[: network.count], {OUTSIDE: outside, INSIDE: inside},
            float(stated.duration), tolerance=chill.tolerance,
            longest=float(stated.duration) / points)
        around = float(outside.temperature)
        nodes = found.temperature[:, :tube]
        close = np.all(np.abs(nodes - around) < 1.0, axis=1)
        # Only a stay counts: passing through on the way elsewhere is not being chilled through.
        away = np.flatnonzero(~close)
        first = 0 if away.size == 0 else int(away[-1]) + 1
        through = float(clock + found.time[first]) if first < len(close) else None
        end = clock + float(stated.duration)
        phases.append(Phase(
            UNCOVERED if step is None else step.label, clock, end=end, surroundings=around,
            imbalance=float(found.imbalance), heat=float(found.heat_in), through=through,
        ))
        times.append(clock + found.time)
        temperatures.append(nodes)
        state[: network.count] = found.temperature[-1]
        clock = end
    return History(np.concatenate(times), np.concatenate(temperatures), tuple(phases))
