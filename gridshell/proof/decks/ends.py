"""Ends, supports and loads of a tube in a larger program: the same for every format.

Numbers of an end as a whole: 1 to 6 motion and turn of the node at its center, 7 even growth, 8
growth with the cosine from the top (+z). Bending is about y, so that a moment stretches the top.

- *free*: nothing tied or held; a mesh for a larger model, no steps.
- *round*: the end stays a circle in its plane and may warp; it is held across, and round the axis
  at the left. Its growth is that of mid-length under the load. Axial force and moment act as the
  stress that mid-length has.
- *clamped*: rigid plates. The left one is held; the right one moves along and turns about the axis;
  under a moment both tilt.
- *spider*: rigid, tied to the center; the left one is held, all loads act at the right one.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np

from gridshell.define.errors import InputError
from gridshell.define.tables.design import Case
from gridshell.proof.decks.model import Model, Rim
from gridshell.tube.section.stiffness import beam_stiffness
from gridshell.wall.assess import Wall

ENDS = ("spider", "clamped", "round", "free")
GROWTH, SHIFT = 7, 8
# One load each: what the tip of a cantilever does under them tells EA, EI and GJ.
UNIT_CASES = (
    Case("unit compression", compression=1.0), Case("unit moment", moment=1.0),
    Case("unit torque", torque=1.0),
)
Term = tuple["Unknown", float]


@dataclass(frozen=True)
class Unknown:
    """One unknown of a model.

    Attributes:
        node: number from 0; None: the end as a whole.
        way: 1 to 6; of an end also `GROWTH` and `SHIFT`.
        right: which end, where node is None.
    """

    node: int | None
    way: int
    right: bool = False


@dataclass(frozen=True)
class Step:
    """What is held and what acts.

    Attributes:
        name: of the load case.
        held: unknowns with given values, m or rad.
        forces: on unknowns, N or N m.
        pressure: on the wall from outside, Pa.
        notes: what of the case is not in it.
        acceleration: of all mass toward -z, m/s2.
    """

    name: str
    held: tuple[tuple[Unknown, float], ...]
    forces: tuple[tuple[Unknown, float], ...] = ()
    pressure: float = 0.0
    notes: tuple[str, ...] = ()
    acceleration: float = 0.0

    @property
    def acts(self) -> bool:
        """Whether anything does: programs refuse a load case without a load."""
        return bool(self.forces or self.pressure or self.acceleration)


def equations(model: Model, ends: str) -> list[list[Term]]:
    """What ties the nodes of both ends: sum of coefficient times unknown is zero.

    Args:
        model: the tube.
        ends: of `ENDS`. Rigid ends of shells are rigid elements instead (they turn, too).
    """
    found: list[list[Term]] = []
    for right, rim in enumerate(model.rims):
        def whole(way: int, right: bool = bool(right)) -> Unknown:
            return Unknown(None, way, right)

        for node in rim.nodes:
            node = int(node)
            _, y, z = model.points[node]
            rows = {1: [(5, z), (6, -y)], 2: [(4, -z)], 3: [(4, y)]}
            if ends == "round":
                radius = float(np.hypot(y, z))
                for way, share in ((2, y / radius), (3, z / radius)):
                    rows[way] += [(GROWTH, share), (SHIFT, share * z / radius)]
                del rows[1]
            for way, terms in rows.items():
                found.append([(Unknown(node, way), 1.0), (whole(way), -1.0), *(
                    (whole(other), -float(value)) for other, value in terms
                    if abs(value) > 1e-12)])
    return found


def modes_step(model: Model, ends: str) -> Step:
    """Supports for modes of vibration."""
    return Step("modes", _held(model, ends, False, (0.0, 0.0)))


def _held(
    model: Model, ends: str, bent: bool, growth: tuple[float, float]
) -> tuple[tuple[Unknown, float], ...]:
    left: Sequence[int] = range(1, 7)
    right: Sequence[int] = ()
    if ends == "clamped":
        left = [way for way in left if not (bent and way == 5)]
        right = [2, 3, 6] if bent else [2, 3, 5, 6]
    found = [(Unknown(None, way), 0.0) for way in left]
    if ends == "round":
        right = [1, 2, 3, 5, 6]
        found += [(Unknown(None, way, side), value) for side in (False, True)
                  for way, value in ((GROWTH, growth[0]), (SHIFT, growth[1]))]
        # Nothing but one node keeps the tube from sliding; it carries no force.
        found.append((Unknown(int(model.rims[0].nodes[0]), 1), 0.0))
    found += [(Unknown(None, way, True), 0.0) for way in right]
    return tuple(found)


def case_step(model: Model, ends: str, case: Case, wall: Wall) -> Step:
    """A load case, unfactored.

    Args:
        model: the tube.
        ends: of `ENDS`, not free.
        case: of the design.
        wall: of the design, for the growth of round ends.

    Raises:
        InputError: the ends can take no load.
    """
    if ends not in ENDS or ends == "free":
        raise InputError(f"--ends {ends}: takes no loads; known: {', '.join(ENDS[:-1])}")
    pressure, moment = float(case.pressure), float(case.moment)
    push = float(case.compression)
    if case.pressure_on_ends:
        push += pressure * np.pi * model.radius**2
    shear, torque = float(case.shear), float(case.torque)
    notes: list[str] = []
    if shear and ends != "spider":
        notes.append(f"case {case.name!r}: shear left out, both ends are held across")
    *growth, lever = _in_mid_length(wall, push, pressure, moment)
    end = [Unknown(None, way, True) for way in range(1, 7)]
    forces: list[tuple[Unknown, float]] = [(end[3], torque)]
    if ends == "spider":
        # The moment at the worst section, the held end, is that of the case.
        tip = moment - shear * model.length
        if abs(tip) > moment and shear:
            notes.append(f"case {case.name!r}: its shear makes a moment of {abs(tip):.4g} N m at "
                         "the right end, more than it states")
        forces += [(end[0], -push), (end[2], -shear), (end[4], tip)]
    elif ends == "clamped":
        forces += [(end[0], -push), (end[4], moment), (Unknown(None, 5), -moment)]
    else:
        for sign, rim in zip((-1.0, 1.0), model.rims, strict=True):
            forces += _stress(model, rim, -push * sign, moment * sign, lever)
    force, acceleration = across(case, ends)
    if (case.transverse or case.acceleration) and not (force or acceleration):
        fitting = [word for word, supports in _SUPPORTS.items() if case.support in supports]
        notes.append(
            f"case {case.name!r}: transverse and acceleration left out: they belong to its support "
            f"{case.support!r}" + (f", which --ends {fitting[0]} has" if fitting else ""))
    if force:
        forces += [(end[2], -force)] if ends == "spider" else _in_the_middle(model, force)
    return Step(
        case.name, _held(model, ends, bool(moment), (growth[0], growth[1])),
        tuple((unknown, value) for unknown, value in forces if value),
        # The force is that on the skin's middle surface.
        pressure * model.radius / (model.radius + model.height), tuple(notes), acceleration)


# Ends that hold the tube as the support of a case does.
_SUPPORTS = {"spider": ("cantilever",), "round": ("simply-supported", "none")}


def across(case: Case, ends: str) -> tuple[float, float]:
    """Force across (N) and acceleration (m/s2) of a case that act in a deck with such ends.

    Args:
        case: of the design.
        ends: of `ENDS`.
    """
    if case.support not in _SUPPORTS.get(ends, ()):
        return 0.0, 0.0
    return float(case.transverse), float(case.acceleration)


def _in_the_middle(model: Model, force: float) -> list[tuple[Unknown, float]]:
    """A force toward -z at mid-length, along the skin as a beam's shear flow: the sine round it."""
    x = model.points[:model.centers[0], 0]
    places, at, count = np.unique(
        np.rint(x / (1e-5 * model.radius)), return_inverse=True, return_counts=True)
    away = np.abs(places * 1e-5 * model.radius - model.length / 2)
    # The nearest ring of nodes: where elements end, not between.
    ring = np.flatnonzero(at == np.argmin(
        np.where(count > 0.15 * len(model.rims[0].nodes), away, np.inf)))
    _, y, z = model.points[ring].T / np.hypot(*model.points[ring, 1:].T)
    scale = force / float(y @ y)
    return [(Unknown(int(node), way), float(value))
            for way, values in ((2, scale * y * z), (3, -scale * y * y))
            for node, value in zip(ring, values, strict=True)]


def _stress(
    model: Model, rim: Rim, push: float, moment: float, lever: float
) -> list[tuple[Unknown, float]]:
    """Nodal forces of the stress that force and moment make in mid-length.

    Even over the section, and varying across its depth so that the force acts where it acts in
    mid-length; shells that have no depth take moments instead.
    """
    whole = float(rim.area.sum())
    mean = float(rim.lift.sum()) / whole
    out = np.hypot(*model.points[rim.nodes, 1:].T) - model.radius
    spread = float(rim.lift @ out) / whole - mean**2
    flat = spread < 1e-9 * model.radius**2
    slope = 0.0 if flat else (lever - mean) / spread
    area = rim.area + slope * (rim.lift - mean * rim.area)
    first = rim.moment + slope * (rim.lift_moment - mean * rim.moment)
    over = lever - mean  # of the force above the ring of nodes
    arm = float(first @ model.points[rim.nodes, 2])
    if flat:
        arm *= 1 + over / (model.radius + mean)
    value = push * area / area.sum() + moment * first / arm
    found = [(Unknown(int(node), 1), float(one))
             for node, one in zip(rim.nodes, value, strict=True)]
    if flat:
        for node, force in zip(rim.nodes, value, strict=True):
            _, y, z = model.points[node] / (model.radius + mean)
            # Outward times axial, as vectors.
            found += [(Unknown(int(node), 5), float(force * over * z)),
                      (Unknown(int(node), 6), float(-force * over * y))]
    return found


def _in_mid_length(
    wall: Wall, push: float, pressure: float, moment: float
) -> tuple[float, float, float]:
    """Even growth, growth with the cosine, and height above the skin's middle surface at which an
    axial force acts, of the middle of the tube, m.

    Uniform stretch and bending as in `gridshell.tube.section.stiffness.beam_stiffness`.
    """
    A, B, D = (np.asarray(part, float) for part in wall.curved)
    r = float(wall.grid.radius)
    mixed = A[0, 1] - B[0, 1] / r
    stiffness = np.array([
        [A[0, 0], mixed], [mixed, A[1, 1] - 2 * B[1, 1] / r + D[1, 1] / r**2]])
    strain = np.linalg.solve(stiffness, [-push / (2 * np.pi * r), -pressure * r])
    curvature = moment / float(beam_stiffness(A, B, D, r).EI)
    along, round_ = np.linalg.solve(stiffness, [1.0, 0.0])
    lever = B[0, 0] * along + (B[0, 1] - D[0, 1] / r) * round_
    return (float(strain[1]) * r, -float((A[0, 1] * r + B[0, 1]) / A[1, 1]) * curvature * r,
            float(lever))


def alike(steps: Sequence[Step]) -> list[tuple[Step, ...]]:
    """Steps in groups that are held alike: some programs take one set of supports a run."""
    groups: dict[tuple[tuple[Unknown, float], ...], list[Step]] = {}
    for step in steps:
        groups.setdefault(step.held, []).append(step)
    return [tuple(group) for group in groups.values()]
