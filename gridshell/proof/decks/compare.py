"""A solver's results beside the formulas: rows and modes as `prove --full` has them."""

from __future__ import annotations

from dataclasses import replace
from pathlib import Path

import numpy as np

from gridshell.define.errors import InputError
from gridshell.define.tables.design import Case, Design
from gridshell.define.types import Array
from gridshell.material.properties import Properties
from gridshell.proof.cell.compare import cell_of
from gridshell.proof.decks.buckled import buckling_row
from gridshell.proof.decks.ends import UNIT_CASES, across
from gridshell.proof.decks.record import Job, find_job, node_places, single_load
from gridshell.proof.decks.results import Answer, Shape, check_suffix, read_result
from gridshell.proof.mesh.mesh import fitted
from gridshell.proof.mesh.modes import FullMode
from gridshell.proof.mesh.run import FullModelResult, FullRow
from gridshell.proof.waves.run import seamless
from gridshell.tube.assess import assess_tube
from gridshell.tube.joints.of_tube import tube_joints
from gridshell.tube.result import TubeResult
from gridshell.tube.section.beam_column import AcrossLoads, beam_column
from gridshell.tube.section.column import Member

_SUPPORTS = {"spider": "cantilever", "clamped": "fixed-fixed", "round": "simply-supported"}
_SECTIONS = 24  # along the tube, to tell bending from other modes


def compare_result(design: Design, properties: Properties, path: str | Path) -> FullModelResult:
    """The solver's stiffness, frequency or buckling load beside the formula's.

    Args:
        design: that the decks were written from.
        properties: of its material.
        path: of the result.

    Raises:
        InputError: not such a file, the run failed, or the decks are those of another design.
    """
    check_suffix(Path(path))
    job, answer = find_job(path), read_result(path)
    whole = assess_tube(design, properties)
    tube = as_meshed(design, properties, whole, job.kind)
    notes: list[str] = []
    if tube is not whole and tube.design.tube == design.tube:
        if design.joints is not None:
            notes.append("formulas with joints as whole, as they are meshed")
    elif tube is not whole:
        cells = [float(n) * each for n, each in (
            (whole.wall.grid.cells_round, design.tube.segments),
            (whole.wall.grid.cells_along, design.tube.sections))]
        notes.append(
            f"formulas of the tube as it is meshed: {tube.wall.grid.cells_round:.4g} cells round, "
            f"{tube.wall.grid.cells_along:.4g} along and no lands; it is built with {cells[0]:.4g} "
            f"and {cells[1]:.4g} and its lands, EA, EI, GJ " + ", ".join(
                f"{float(getattr(whole.stiffness, name)):.4g}" for name in ("EA", "EI", "GJ")))
    radius, length = float(tube.wall.grid.radius), float(design.tube.length)
    for name, value in (("radius", radius), ("length", length)):
        if abs(job.record[name] - value) > 1e-6 * value:
            raise InputError(
                f"--read {path}: its decks were written for a {name} of "
                f"{job.record[name] * 1e3:.6g} mm, the definition file has {value * 1e3:.6g} mm; "
                "write them anew")
    cases = {case.name: case for case in (*UNIT_CASES, *design.case)}
    missing = [name for name in job.cases if name not in cases]
    if missing:
        raise InputError(f"--read {path}: the definition file has no case {missing[0]!r} any more")
    ends = job.ends
    notes.append(
        f"solver: {answer.program}, {job.deck} deck, mesh of {job.kind}; its mass "
        f"{float(job.record['mass']):.4g} kg, that of the tube {float(whole.mass):.4g} kg")
    modes: dict[tuple[str, str], tuple[FullMode, ...]] = {}
    if job.deck in ("static", "stiffness"):
        rows = _static(tube, job, [cases[name] for name in job.cases], answer)
        if not rows:
            notes.append("none of these cases has one load alone on ends whose motion tells a "
                         "stiffness (--ends spider)")
    elif job.deck == "modes":
        rows = [_frequency(tube, job, answer)]
    else:
        case = cases[job.cases[0]]
        row, found = buckling_row(tube, case, job, answer)
        rows = [row]
        modes[row.name, ends] = found
        if case.shear:
            notes.append("the shear of the case is not in the formula beside it")
    return FullModelResult(tuple(rows), 0, 0.0, tuple(notes), modes, length, radius)


def as_meshed(
    design: Design, properties: Properties, whole: TubeResult, kind: str
) -> TubeResult:
    """The tube that the mesh stands for: joints are whole, wall and ribs have no lands.

    Args:
        design: one design.
        properties: of its material.
        whole: of the design.
        kind: of the mesh: wall, ribs, solid or beam.
    """
    tube, grid = design.tube, whole.wall.grid
    whole_joints = replace(design, joints=None)  # the mesh takes them as whole
    landed = bool(tube.end_land > 0 or tube.seam_land > 0)
    if kind == "beam":
        return whole
    if kind == "solid" or (kind == "wall" and not landed):
        return whole if design.joints is None else assess_tube(whole_joints, properties)
    bare = seamless(whole_joints)
    if not design.has_ribs or design.ribs.pattern == "families":
        return assess_tube(bare, properties)
    round_, along = (2 * np.pi * float(grid.radius) / float(grid.cell_width),
                     float(tube.length) / float(grid.cell_height))
    if kind == "ribs":  # stretched a little, so that whole cells fit
        cell = cell_of(design, grid)
        found, *_ = fitted(cell, float(tube.length))
        round_ *= cell.round_hoop / found.round_hoop
        along *= cell.along_axis / found.along_axis
    return assess_tube(bare, properties, cells_round=round_, cells_along=along)


def _motion(shape: Shape, node: int) -> Array:
    return np.asarray(shape.motion[np.flatnonzero(shape.nodes == node)[0]])


def _static(tube: TubeResult, job: Job, cases: list[Case], answer: Answer) -> list[FullRow]:
    """EA, EI, GJ of the cases that have one load alone."""
    rows: list[FullRow] = []
    ends, length = job.ends, float(job.record["length"])
    right = job.record["beam_tip"] if job.beam else job.record["centers"][1]
    for case, moved in zip(cases, answer.shapes, strict=False):
        if ends != "spider" or right not in moved.nodes:
            continue
        load = single_load(case, ends)
        if load is None:
            if case.shear or any(across(case, ends)):
                rows.append(FullRow("deflection", "m", _deflection(tube, job, case),
                                    -float(_motion(moved, right)[2]), (f"case {case.name!r}",),
                                    ends))
            continue
        # Nastran's center turns itself; CalculiX has a node of its own for that.
        turning = right + 2 if answer.program == "CalculiX" else right
        turned = _motion(moved, turning)[-3:]
        name, size, motion = {
            "compression": ("EA", case.compression, -_motion(moved, right)[0]),
            "bending": ("EI", case.moment, turned[1]), "torsion": ("GJ", case.torque, turned[0]),
        }.get(load, ("", 0.0, 1.0))
        if name:
            formula = float(getattr(tube.stiffness, name))
            if job.beam and name == "EI":  # its joints turn, too
                springs = tube_joints(tube.wall, tube.stiffness).springs
                turn = springs.count * float(np.asarray(springs.flexibility))
                formula = length / (length / formula + turn)
            rows.append(FullRow(
                name, "N" if name == "EA" else "N m2", formula,
                float(size) * length / float(motion), (f"case {case.name!r}",), ends))
    return rows


def _deflection(tube: TubeResult, job: Job, case: Case) -> float:
    """Of the tip of a cantilever, m."""
    length, beam = float(job.record["length"]), tube.stiffness
    force, acceleration = across(case, job.ends)
    return float(beam_column(Member("cantilever", length, beam.EI, beam.GA), AcrossLoads(
        force=force + case.shear, load=float(job.record["mass"]) * acceleration / length,
        moment=case.moment - case.shear * length)).deflection)


def _frequency(tube: TubeResult, job: Job, answer: Answer) -> FullRow:
    """The first mode that bends the tube as a beam; ovaling and torsion may come before it."""
    ends = job.ends
    support = _SUPPORTS[ends]
    order = np.argsort(answer.frequencies, kind="stable")
    order = order[answer.frequencies[order] > 0]
    if not len(order):
        raise InputError("--read: holds no frequencies")
    points = node_places(job, answer)
    chosen: list[int] = [int(k) for k in order]
    if points is not None and not job.beam and len(answer.shapes) == len(answer.frequencies):
        chosen = [k for k in chosen if _bends(points, answer.shapes[k], job)]
    first = float(answer.frequencies[order[0]])
    notes = ["modes at " + ", ".join(f"{answer.frequencies[k]:.5g}" for k in order[:6]) + " Hz"]
    if not chosen:
        notes.append("none of them bends the tube as a beam")
        return FullRow("first frequency", "Hz", float("nan"), first, tuple(notes), ends)
    # Of the mass and the modulus that are in the deck.
    known = tube.wall.properties
    quick = known.short_time_modulus or known.modulus
    formula = float(tube.frequencies.get(support, float("nan"))) * float(np.sqrt(
        float(tube.mass) / float(job.record["mass"]) * float(known.modulus) / float(quick)))
    notes.append(f"formula: {support} beam" if support in tube.frequencies else
                 f"no formula for a {support} beam")
    if quick != known.modulus:
        notes.append("both with the modulus of the lasting load; vibration is "
                     f"{float(np.sqrt(quick / known.modulus)):.3f} times as fast")
    if chosen[0] != order[0]:
        notes.append("modes before it do not bend the tube as a beam")
    return FullRow("first frequency", "Hz", formula,
                   float(answer.frequencies[chosen[0]]), tuple(notes), ends)


def _bends(points: Array, moved: Shape, job: Job) -> bool:
    """Whether most of the motion is that of whole sections, across."""
    known = moved.nodes < job.record["centers"][0]  # the nodes that ends turn about come last
    motion, x = moved.motion[known, :3], points[moved.nodes[known], 0]
    place = np.searchsorted(np.linspace(x.min(), x.max(), _SECTIONS), x)
    count = np.maximum(np.bincount(place, minlength=_SECTIONS), 1)
    whole = sum(
        np.sum(np.bincount(place, motion[:, way], _SECTIONS) ** 2 / count) for way in (1, 2))
    return bool(whole > 0.5 * np.sum(motion**2))
