"""A solver's buckling load and mode beside the formula's."""

from __future__ import annotations

import numpy as np

from gridshell.define.errors import InputError
from gridshell.define.tables.design import Case
from gridshell.define.types import Array
from gridshell.proof.decks.ends import across
from gridshell.proof.decks.record import Job, node_places, single_load
from gridshell.proof.decks.results import Answer, Shape
from gridshell.proof.mesh.modes import FullMode, shape
from gridshell.proof.mesh.run import FullRow
from gridshell.tube.buckling.general import buckling_loads, resultant
from gridshell.tube.result import TubeResult
from gridshell.tube.section.beam_column import AcrossLoads, beam_column
from gridshell.tube.section.column import Member

_UNITS = {"compression": "N", "bending": "N m", "torsion": "N m", "lateral": "Pa",
          "hydrostatic": "Pa"}


def buckling_row(
    tube: TubeResult, case: Case, job: Job, answer: Answer
) -> tuple[FullRow, tuple[FullMode, ...]]:
    """Row and modes of a buckling deck.

    Args:
        tube: as it is meshed.
        case: of the deck.
        job: that the result belongs to.
        answer: the result.

    Raises:
        InputError: no positive factor.
    """
    ends = job.ends
    load = single_load(case, ends)
    either = load in ("bending", "torsion")
    factors = np.abs(answer.factors) if either else answer.factors
    order = [k for k in np.argsort(factors, kind="stable") if factors[k] > 0]
    if not order:
        raise InputError("--read: holds no positive buckling factor")
    formula, notes = _critical(tube, case, job)
    unit, scale = "x case", 1.0
    if load is not None:
        unit = _UNITS[load]
        scale = float({"compression": case.compression, "bending": case.moment,
                       "torsion": case.torque}.get(load, case.pressure))
    points = node_places(job, answer)
    found: list[FullMode] = []
    if points is not None and len(answer.shapes) == len(answer.factors):
        grid = tube.wall.grid
        rows = ((np.inf, np.inf) if not tube.design.has_ribs else (
            float(grid.cells_along) * grid.sections, float(grid.cells_round) * grid.segments))
        found = [_mode(points, answer.shapes[k], float(factors[k]) * scale, job, rows)
                 for k in order]
    if found:
        notes = (*notes, f"solver {found[0].words}")
        if case.pressure > 0 and load is not None and found[0].around > 1:
            live = 1 - 1 / found[0].around**2
            notes = (*notes, "the solver's pressure keeps its direction; one that stays normal to "
                     f"the wall buckles it at about {live:.3g} of this (a ring: (n^2 - 1)/n^2)")
    if len(order) > 1:
        notes = (*notes, "next " + ", ".join(
            f"{factors[k] / factors[order[0]]:.3f}" for k in order[1:4]) + " of it")
    row = FullRow(load or case.name, unit, formula * scale, float(factors[order[0]]) * scale,
                  (f"case {case.name!r}", *notes), ends)
    return row, tuple(found)


def _critical(tube: TubeResult, case: Case, job: Job) -> tuple[float, tuple[str, ...]]:
    """Factor on a case at which the perfect tube buckles: load ratios sum to one (NASA SP-8007,
    Eq. 41-47); bending counts by its most compressed fiber, at its largest moment."""
    ends = job.ends
    wall, r = tube.wall, float(tube.wall.grid.radius)
    length = float(tube.design.tube.length)
    found = buckling_loads(wall, ("compression", "lateral", "hydrostatic", "torsion"))

    def total(name: str) -> float:
        return float(getattr(found, name).load) * float(resultant(name, r))

    beam = tube.stiffness
    support = {"spider": "cantilever", "clamped": "fixed-fixed"}.get(ends, "simply-supported")
    general = total("compression")
    column = float(Member(support, length, beam.EI, beam.GA).column_load)
    pressure = "hydrostatic" if case.pressure_on_ends else "lateral"
    ratios = {
        "compression": max(float(case.compression), 0.0) / min(general, column),
        "bending": (float(case.moment) + _moment(case, job)) / (general * r / 2),
        "torsion": float(case.torque) / total("torsion"),
        pressure: max(float(case.pressure), 0.0) / total(pressure),
    }
    acting = {name: ratio for name, ratio in ratios.items() if ratio > 0}
    if not acting:
        return float("nan"), ("formula: nothing in this case buckles the tube",)
    waves = [getattr(found, "compression" if name == "bending" else name) for name in acting]
    notes = [f"formula for round ends: {wave.description}" for wave in waves]
    if "compression" in acting and column < general:
        notes[0] = f"formula: column, {support}"
    if len(acting) > 1:
        notes.append("formula: sum of load ratios")
    return 1 / sum(acting.values()), tuple(notes)


def _moment(case: Case, job: Job) -> float:
    """Largest bending moment of the loads across, N m."""
    force, acceleration = across(case, job.ends)
    member = Member(case.support, float(job.record["length"]), 1.0, 1.0)
    load = acceleration * float(job.record["mass"]) / float(job.record["length"])
    return float(beam_column(member, AcrossLoads(force=force, load=load)).moment)


def _mode(
    points: Array, moved: Shape, load: float, job: Job, rows: tuple[float, float]
) -> FullMode:
    radius, length = float(job.record["radius"]), float(job.record["length"])
    known = moved.nodes < len(points)
    nodes, motion = moved.nodes[known], moved.motion[known, :3]
    place = points[nodes]
    away = np.abs(np.hypot(place[:, 1], place[:, 2]) - radius)
    # Nodes of the skin: those nearest to its middle surface.
    skin = away < 1.001 * away.min() + 1e-6 * radius
    # The angle counts from the top, where a moment stretches; compression is opposite.
    turn = [0, 2, 1]
    sign = np.array([1.0, 1.0, -1.0])
    return shape(load, place[skin][:, turn] * sign, motion[skin][:, turn] * sign,
                 (length, radius), True, rows)
