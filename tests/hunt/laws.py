"""Laws that every accepted design has to keep, for lots of designs at once.

Each law gives one number a design: how far it is off, NaN where the law says nothing, infinite
where there is no answer. None of them knows a formula of the package; what bounds an answer here is
elementary statics, the bounds of Voigt (uniform strain) and of the skin alone, and comparison of
one answer with another.
"""

from __future__ import annotations

import dataclasses
import itertools
from collections.abc import Callable
from dataclasses import dataclass
from functools import cached_property
from typing import Any
from unittest import mock

import numpy as np

from gridshell.define.possible import possible
from gridshell.define.tables.design import Case, Design, RibFamily, Ribs, with_values
from gridshell.define.types import Array
from gridshell.tube.assess import assess_tube
from gridshell.tube.result import TubeResult
from gridshell.wall.assess import Wall, assess_wall
from gridshell.wall.stiffness import finite_width

from .draw import single, some

LOADS = ("compression", "moment", "shear", "torque", "pressure", "transverse", "acceleration",
         "factor")
STEP = 0.01  # of a field, for continuity
TURN = np.radians(0.25)  # the most that an angle moves


@dataclass(frozen=True)
class Outcome:
    """One law over a lot.

    Attributes:
        law: in words.
        value: (count,) how far off; NaN where it says nothing.
        limit: above it the law is broken.
        note: what was changed, one for each design; empty where nothing was.
    """

    law: str
    value: Array
    limit: Array | float
    note: Any = ""


@dataclass(frozen=True)
class Lot:
    """Designs of one lot with their assessment.

    Attributes:
        design: arrays (count,).
        generator: of random numbers.
    """

    design: Design
    generator: np.random.Generator

    @property
    def count(self) -> int:
        """Designs."""
        return len(np.asarray(self.design.skin.thickness))

    @cached_property
    def tube(self) -> TubeResult:
        """As stated."""
        return self.assess(self.design)

    @property
    def wall(self) -> Wall:
        """As stated."""
        return self.tube.wall

    @property
    def depth_ratio(self) -> Array:
        """Depth of skin and ribs over radius: by so much the ring's own curvature counts."""
        return np.asarray(self.wall.depth / self.wall.grid.radius)

    def assess(self, design: Design, **given: Any) -> TubeResult:
        """Of a changed lot; cells as in the lot where asked for."""
        with np.errstate(all="ignore"):
            return assess_tube(design, **given)

    @property
    def cells(self) -> dict[str, Any]:
        """Whole cells of the lot, to hold while a field moves."""
        if self.design.ribs.pattern in ("plain", "families"):
            return {}
        grid = self.wall.grid
        return {"cells_round": grid.cells_round, "cells_along": grid.cells_along}

    def every(self, value: Any) -> Array:
        """A number for each design."""
        return np.broadcast_to(np.asarray(value, float), (self.count,))


def use(tube: TubeResult, count: int) -> dict[tuple[str, str], Array]:
    """Share of each allowable that is used, factor included: 1/(1 + margin)."""
    found = {}
    with np.errstate(all="ignore"):
        for case in tube.cases:
            for check in case.checks:
                margin = np.broadcast_to(np.asarray(check.margin, float), (count,))
                found[case.name, check.name] = 1 / (1 + margin)
    return found


def stiffness(wall: Wall, count: int) -> Array:
    """The 6x6 stiffness (count, 6, 6) about the skin's middle surface."""
    A, B, D = (np.broadcast_to(part, (count, 3, 3)) for part in (wall.A, wall.B, wall.D))
    return np.concatenate([np.concatenate([A, B], -1), np.concatenate([B, D], -1)], -2)


def relative(values: Array, measure: Array) -> tuple[Array, Array]:
    """Least and largest eigenvalue of symmetric matrices against a positive definite measure."""
    scale = 1 / np.sqrt(np.diagonal(measure, axis1=-2, axis2=-1))
    measure = measure * scale[..., :, None] * scale[..., None, :]
    values = values * scale[..., :, None] * scale[..., None, :]
    known = np.isfinite(values).all((-2, -1))
    values = np.where(known[..., None, None], values, 0.0)
    root = np.linalg.inv(np.linalg.cholesky(measure))
    ends = np.linalg.eigvalsh(root @ values @ np.swapaxes(root, -1, -2))
    low, high = ends[..., 0], ends[..., -1]
    return np.where(known, low, -np.inf), np.where(known, high, np.inf)


def wall_is_fine(lot: Lot) -> Array:
    """Whether the wall of each design is definite and bounded: what breaks else is no sequel."""
    fine = np.ones(lot.count, bool)
    for outcome in (*is_definite(lot), *is_bounded(lot)):
        fine &= ~(outcome.value > outcome.limit)
    return fine


def is_finite(lot: Lot) -> list[Outcome]:
    """Every number is a number; a margin is infinite only where nothing loads the tube."""
    tube, bad = lot.tube, np.zeros(lot.count)
    for value in (tube.mass, tube.stiffness.EA, tube.stiffness.EI, tube.stiffness.GJ,
                  tube.stiffness.GA, *tube.frequencies.values(), lot.wall.equivalent.thickness,
                  lot.wall.equivalent.modulus):
        number = lot.every(np.nan if value is None else value)
        bad = np.where(np.isfinite(number) & (number > 0), bad, np.inf)
    outcomes = [Outcome("stiffness, mass and frequencies are numbers above zero", bad, 0.0)]
    worst = np.zeros(lot.count)
    for stated, found in zip(lot.design.case, tube.cases, strict=True):
        loaded = np.zeros(lot.count, bool)
        for name in LOADS[:-1]:
            loaded = loaded | (np.asarray(getattr(stated, name)) != 0)
        margins = [lot.every(check.margin) for check in found.checks]
        margin = lot.every(found.margin)
        fine = np.where(loaded, np.isfinite(margin), margin == np.inf) & (margin >= -1)
        for one in margins:
            fine = fine & ~np.isnan(one) & (one >= -1)
        worst = np.where(fine, worst, np.inf)
    outcomes.append(Outcome("a loaded tube has a margin, from -1 up", worst, 0.0))
    return outcomes


def is_definite(lot: Lot) -> list[Outcome]:
    """A, B, D of the wall are positive definite: no deformation is free."""
    matrix = stiffness(lot.wall, lot.count)
    diagonal = np.diagonal(matrix, axis1=-2, axis2=-1)
    with np.errstate(all="ignore"):
        scale = 1 / np.sqrt(diagonal)
        scaled = matrix * scale[..., :, None] * scale[..., None, :]
    known = np.isfinite(scaled).all((-2, -1))
    least = np.linalg.eigvalsh(np.where(known[..., None, None], scaled, -np.eye(6)))[..., 0]
    return [Outcome("A, B, D positive definite", np.where(known, -least, np.inf), -1e-9)]


def plane_stress(lot: Lot) -> Array:
    """Plane-stress stiffness of the material (count, 3, 3), Pa."""
    known = lot.wall.properties
    modulus, poisson = lot.every(known.modulus), lot.every(known.poisson)
    zero, one = np.zeros(lot.count), np.ones(lot.count)
    rows = [[one, poisson, zero], [poisson, one, zero], [zero, zero, (1 - poisson) / 2]]
    return np.moveaxis(np.array(rows), -1, 0) * (modulus / (1 - poisson**2))[:, None, None]


def coverage(lot: Lot, above: Array) -> Array:
    """Share of the wall covered with ribs at heights (points, count) above the skin, or more."""
    ribs, grid = lot.design.ribs, lot.wall.grid
    total = np.zeros_like(above)
    left = np.ones_like(above)
    for line in grid.families:
        height = ribs.height if line.height is None else line.height
        width = ribs.width if line.width is None else line.width
        wide = width + 2 * np.maximum(height - above, 0.0) * np.tan(ribs.draft)
        wide = wide + 2 * np.maximum(ribs.root_fillet - above, 0.0)
        wide = np.where(above <= height, wide, 0.0)
        total = total + wide / line.pitch
        left = left * np.maximum(1 - wide / line.pitch, 0.0)
    # A drafted pocket's corners open upwards, a fillet goes round them: more is on the safe side.
    corner = np.where(np.asarray(ribs.corner_radius) > 0,
                      ribs.corner_radius + ribs.root_fillet + above * np.tan(ribs.draft), 0.0)
    if grid.pattern == "orthogrid":
        return 1 - left + 4 * _corner(corner, np.pi / 2) / (
            grid.cell_width * grid.cell_height)
    if grid.pattern == "diagonal":
        angle = np.arctan2(grid.cell_width, grid.cell_height)
        corners = _corner(corner, 2 * angle) + _corner(corner, np.pi - 2 * angle)
        # Two pockets to a cell; the rhombus has two corners of each kind.
        return 1 - left + 4 * corners / (grid.cell_width * grid.cell_height)
    if grid.pattern == "isogrid":
        half = np.hypot(grid.cell_width / 2, grid.cell_height)
        base, tall = grid.cell_width, grid.cell_height
        if grid.orientation == "axial":
            half, base, tall = np.hypot(grid.cell_height / 2, grid.cell_width), tall, base
        inscribed = base * tall / (base + 2 * half)
        point = 2 * np.arctan(base / 2 / tall)
        corners = _corner(corner, point) + 2 * _corner(corner, (np.pi - point) / 2)
        return 1 - np.maximum(1 - wide / 2 / inscribed, 0.0) ** 2 + corners / (base * tall / 2)
    return np.minimum(total, 1.0)


def _corner(radius: Any, angle: Any) -> Any:
    """Area that a radius fills in a corner of an angle."""
    return np.asarray(radius) ** 2 * (1 / np.tan(angle / 2) - (np.pi - angle) / 2)


def is_bounded(lot: Lot) -> list[Outcome]:
    """Between the skin alone and uniform strain (Voigt) of all the material; tube below E V/L.

    Both by the theorem of minimum potential energy: taking material away never stiffens, and a
    uniform strain is one of the states that the true one undercuts.
    """
    design, wall = lot.design, lot.wall
    Q, skin = plane_stress(lot), lot.every(design.skin.thickness)
    side = 1.0 if design.ribs.side == "outside" else -1.0
    moments = np.zeros((3, lot.count))
    if design.has_ribs:
        points, weights = np.polynomial.legendre.leggauss(24)
        tall = lot.every(design.rib_height)
        above = tall * (points[:, None] + 1) / 2
        share = coverage(lot, above) * weights[:, None] * tall / 2
        z = side * (skin / 2 + above)
        moments = np.array([(share * z**k).sum(0) for k in range(3)])
    plain = np.array([skin, 0 * skin, skin**3 / 12])

    def blocks(through: Array) -> Array:
        A, B, D = (Q * part[:, None, None] for part in through)
        return np.concatenate([np.concatenate([A, B], -1), np.concatenate([B, D], -1)], -2)

    voigt, alone, found = blocks(plain + moments), blocks(plain), stiffness(wall, lot.count)
    room = 0.01 + 2 * lot.depth_ratio
    low, _ = relative(found - alone, voigt)
    _, high = relative(found, voigt)
    outcomes = [Outcome("A, B, D at most by uniform strain (Voigt)", high - 1, room),
                Outcome("A, B, D at least those of the skin alone", -low, room)]
    known, tube = wall.properties, lot.tube
    section = lot.every(known.modulus * tube.mass / known.density / design.tube.length)
    outer = lot.every(design.tube.outside_diameter) / 2
    for name, value, bound in (
        ("EA", tube.stiffness.EA, section), ("EI", tube.stiffness.EI, section * outer**2 / 2),
        ("GJ", tube.stiffness.GJ, section * outer**2 / 2 / (1 + known.poisson)),
    ):
        # Smeared walls forget terms of the square of depth over radius.
        outcomes.append(Outcome(f"{name} at most that of all its material", value / bound - 1,
                                0.005 + 2.5 * lot.depth_ratio**2))
    return outcomes


def allowables_are_bounded(lot: Lot) -> list[Outcome]:
    """Perfect compression load at most that of the ring-shaped waves; column at most Euler's.

    Of the wall on its radius: ribs all but round the tube, inside, lie at another angle than on the
    skin, which multiplies what they do along the tube (a quarter at 8 % of the radius).
    """
    tube, wall = lot.tube, lot.wall
    radius, length = lot.every(wall.grid.radius), lot.every(lot.design.tube.length)
    outcomes = []
    if tube.buckling.compression is not None:
        A, B, D = (np.broadcast_to(part, (lot.count, 3, 3)) for part in wall.curved)
        # u = U cos(kx), w = W sin(kx): strains -kU, W/R, curvature k^2 W, all times sin(kx).
        with np.errstate(all="ignore"):
            best = ((A[:, 1, 1] - A[:, 0, 1] ** 2 / A[:, 0, 0]) / radius**2 / D[:, 0, 0]) ** 0.25
        bound = np.full(lot.count, np.inf)
        for near in (-2, -1, 0, 1, 2):
            k = np.pi / length * np.maximum(np.rint(best * length / np.pi) + near, 1)
            own = A[:, 1, 1] / radius**2 + 2 * B[:, 0, 1] * k**2 / radius + D[:, 0, 0] * k**4
            mixed = A[:, 0, 1] / radius + B[:, 0, 0] * k**2
            bound = np.fmin(bound, (own - mixed**2 / A[:, 0, 0]) / k**2)
        load = lot.every(tube.buckling.compression.load)
        outcomes.append(Outcome("compression load at most that of ring-shaped waves",
                                np.where(bound > 0, load / np.maximum(bound, 1e-300) - 1, np.nan),
                                0.01 + 2 * lot.depth_ratio))
    ends = {"cantilever": 0.25}
    for case in tube.cases:
        stated = next(one for one in lot.design.case if one.name == case.name)
        for check in case.checks:
            if check.name == "column buckling":
                euler = ends.get(stated.support, 1.0) * np.pi**2 * tube.stiffness.EI / length**2
                outcomes.append(Outcome("column load at most Euler's",
                                        lot.every(check.allowable) / euler - 1, 1e-6))
    return outcomes


def number_fields(design: Design) -> list[tuple[str, Array]]:
    """Dotted path and values of every array of a lot."""
    found = []
    for table in ("tube", "skin", "ribs", "material"):
        owner = getattr(design, table)
        for field in dataclasses.fields(owner):
            value = getattr(owner, field.name)
            if isinstance(value, np.ndarray):
                found.append((f"{table}.{field.name}", value))
    for table, owners in (("family", design.ribs.family), ("case", design.case)):
        for number, owner in enumerate(owners):
            for field in dataclasses.fields(owner):
                value = getattr(owner, field.name)
                if isinstance(value, np.ndarray):
                    found.append((f"{table}.{number}.{field.name}", value))
    return found


def moved(design: Design, factors: dict[str, Array]) -> Design:
    """The lot with fields multiplied."""
    family, case = list(design.ribs.family), list(design.case)
    values = {}
    for path, value in number_fields(design):
        if path not in factors:
            continue
        table, _, rest = path.partition(".")
        if table in ("family", "case"):
            owners = family if table == "family" else case
            number, name = rest.split(".")
            owners[int(number)] = dataclasses.replace(
                owners[int(number)], **{name: value * factors[path]}
            )
        else:
            values[path] = value * factors[path]
    changed = with_values(design, values)
    return dataclasses.replace(
        changed, ribs=dataclasses.replace(changed.ribs, family=tuple(family)), case=tuple(case)
    )


def _cancels(case: Case) -> Array:
    """Whether loads of a case work against each other, so that a little of one is a lot of both."""
    compression, pressure = np.asarray(case.compression), np.asarray(case.pressure)
    return (compression * pressure < 0) | ((pressure < 0) & (np.asarray(case.moment) > 0))


def rib_counts(lot: Lot, wall: Wall) -> Array:
    """Whole ribs of each family of the user's own (families, count); negative where rings."""
    grid = wall.grid
    if grid.pattern != "families":
        return np.zeros((1, lot.count))
    counts = []
    for line in grid.families:
        starts = 2 * np.pi * grid.radius * line.cosine / line.pitch
        counts.append(np.where(line.cosine == 0, -grid.panel_height / line.pitch, starts))
    return np.array([np.rint(lot.every(count)) for count in counts])


def is_continuous(lot: Lot) -> list[Outcome]:
    """One field of each design, picked at random, moves by 1 %; cell counts are held.

    Families of the user's own round to whole ribs each for itself, and no count can be given to
    hold: where one goes from 5 ribs to 4 the spacing jumps, `wall` reports it, and the law says
    nothing.
    Poisson's ratio moves by 1 % of itself or of its distance from -1, whichever is less: a solid's
    shear modulus E/(2 (1 + v)) has no end there, so that 1 % of the ratio itself is 20 % of the
    modulus at -0.955. An angle moves by a quarter degree at most, and by no more than moves its
    cosine, with which the spacing of whole ribs goes, by 1 %. A margin of -0.99 has no more to
    tell, nor has one above 200, where stress may turn its sign. The moment that flattens a tube
    under external pressure is left out: it falls with the root of what the ring still carries, so
    without end as the pressure nears its own.
    """
    fields = number_fields(lot.design)
    cells = lot.cells
    names = [path for path, _ in fields] + list(cells)
    pick = lot.generator.integers(0, len(names), lot.count)
    step = np.where(lot.generator.random(lot.count) < 0.5, 1 - STEP, 1 + STEP)
    factors = {path: np.where(pick == k, step, 1.0) for k, (path, _) in enumerate(fields)}
    poisson = lot.every(lot.design.material.poisson)
    least = np.minimum(1.0, (1 + poisson) / np.maximum(np.abs(poisson), 1e-9))
    factors["material.poisson"] = 1 + (factors["material.poisson"] - 1) * least
    for path, value in fields:
        if path.endswith("angle"):
            most = np.minimum(TURN, STEP / np.maximum(np.abs(np.tan(value)), 1e-12))
            least = np.minimum(1.0, most / np.maximum(STEP * np.abs(value), 1e-12))
            factors[path] = 1 + (factors[path] - 1) * least
    for k, name in enumerate(cells, start=len(fields)):
        cells[name] = cells[name] * np.where(pick == k, step, 1.0)
    after = moved(lot.design, factors)
    allowed = np.broadcast_to(possible(after), (lot.count,))
    moved_tube = lot.assess(after, **cells)
    allowed = allowed & (rib_counts(lot, lot.wall) == rib_counts(lot, moved_tube.wall)).all(0)
    before, now = use(lot.tube, lot.count), use(moved_tube, lot.count)
    note = np.array(names)[pick]
    worst = np.zeros(lot.count)
    for stated in lot.design.case:
        flattened = np.any(np.asarray(stated.pressure) > 0)
        known, later = ([values[key] for key in values if key[0] == stated.name
                         and not (flattened and "ovalization" in key[1])]
                        for values in (before, now))
        if not known or not later:
            continue
        with np.errstate(all="ignore"):
            one = np.clip(np.max(known, axis=0), 0.005, 100.0)
            # A check that comes and goes is a jump of the case's margin, or does not matter.
            two = np.clip(np.max(later, axis=0), 0.005, 100.0)
            jump = np.abs(np.log(two / one)) / STEP
        grown = np.maximum(*(
            lot.every(next(case.growth for case in tube.cases if case.name == stated.name))
            for tube in (lot.tube, moved_tube)))
        jump = np.where(_cancels(stated) | (grown > 4), np.nan, jump)
        worst = np.fmax(worst, jump)
    return [Outcome("1 % in a field moves the lowest margin by at most 15 %",
                    np.where(allowed, worst, np.nan), 15.0, note)]


def loads_only_hurt(lot: Lot) -> list[Outcome]:
    """All loads 5 % up: no margin rises. One load up: no margin against buckling rises."""
    before = use(lot.tube, lot.count)

    def scaled(factor: dict[str, Any], relieving: bool) -> Design:
        cases = []
        for case in lot.design.case:
            change = {name: getattr(case, name) * part for name, part in factor.items()}
            for name in ("compression", "pressure"):
                # Tension and internal pressure relieve: alone, more of them may help.
                if not relieving:
                    value = np.asarray(getattr(case, name))
                    change[name] = np.where(value > 0, change[name], value)
            cases.append(dataclasses.replace(case, **change))
        return dataclasses.replace(lot.design, case=tuple(cases))

    def rise(design: Design, kinds: tuple[str, ...] | None) -> Array:
        now = use(lot.assess(design), lot.count)
        worst = np.zeros(lot.count)
        for key, value in before.items():
            if kinds is not None and not any(kind in key[1] for kind in kinds):
                continue
            with np.errstate(all="ignore"):
                fall = 1 - now[key] / value if key in now else np.ones(lot.count)
            worst = np.fmax(worst, np.where(value > 1e-9, fall, 0.0))
        return worst

    every = scaled(dict.fromkeys(LOADS[:-1], 1.05), True)
    pick = lot.generator.integers(0, len(LOADS), lot.count)
    one = scaled({name: np.where(pick == k, 1.05, 1.0) for k, name in enumerate(LOADS)}, False)
    return [
        Outcome("all loads up: no margin rises", rise(every, None), 1e-6),
        Outcome("one load up: no margin against buckling rises",
                rise(one, ("instability", "column", "ovalization")), 1e-6, np.array(LOADS)[pick]),
    ]


def nothing_is_no_load(lot: Lot) -> list[Outcome]:
    """A load that was not stated, of next to nothing: no case's lowest margin changes.

    Ten designs of each lot. What checks come with a load of nothing were missing before; where
    loads cancel or the axial load makes much more of the moment, see `is_continuous`.
    """
    few = dataclasses.replace(lot, design=some(lot.design, np.arange(lot.count) < 10))
    force = 1e-14 * few.every(few.design.material.modulus) * few.design.skin.thickness
    force = force * few.every(few.design.skin_radius)
    arm = few.every(few.design.skin_radius)
    units = {"compression": force, "moment": force * arm, "shear": force, "torque": force * arm,
             "pressure": force / arm**2}
    cases = []
    for case in few.design.case:
        added = units if case.support == "none" else {**units, "transverse": force}
        cases.append(dataclasses.replace(case, **{
            name: np.where(np.asarray(getattr(case, name)) == 0, unit, getattr(case, name))
            for name, unit in added.items()}))
    now = few.assess(dataclasses.replace(few.design, case=tuple(cases)))
    worst = np.zeros(lot.count)
    worst[few.count:] = np.nan
    for case, before, after in zip(few.design.case, few.tube.cases, now.cases, strict=True):
        with np.errstate(all="ignore"):
            # Past the pressure that flattens a tube by itself, 1/0.75 of its allowable, no moment
            # is carried at all: a case that fails by so much has no more to tell.
            one, two = (np.minimum(1 / (1 + few.every(found.margin)), 1.3)
                        for found in (before, after))
            # To a thin skin without any load next to nothing may be some millionths of what it has.
            rise = np.abs(two - one) / np.maximum(one, 1e-2)
        quiet = _cancels(case) | (few.every(before.growth) > 4)
        worst[:few.count] = np.fmax(worst[:few.count], np.where(quiet, 0.0, rise))
    return [Outcome("a load of next to nothing: the same lowest margin", worst, 1e-3)]


def material_only_stiffens(lot: Lot) -> list[Outcome]:
    """Wider, taller ribs or thicker skin where there was none: A, B, D grow (Loewner's order).

    Walls that are cut back at the bound of uniform strain stand apart, see `cut_back`: they are no
    softer than skin and rib layers of the thinner wall alone.
    """
    design = lot.design
    radius, skin = lot.every(design.skin_radius), lot.every(design.skin.thickness)
    names = ["skin"] + (["height", "width"] if design.has_ribs else [])
    pick = lot.generator.integers(0, len(names), lot.count)
    more = 1 + 0.2 * lot.generator.random(lot.count)
    factors = {name: np.where(pick == k, more, 1.0) for k, name in enumerate(names)}
    thick = skin * factors["skin"]
    ribs = design.ribs
    if design.has_ribs:
        ribs = dataclasses.replace(ribs, height=ribs.height * factors["height"],
                                   width=ribs.width * factors["width"])
        if ribs.pattern == "families":
            ribs = dataclasses.replace(ribs, family=tuple(
                dataclasses.replace(one, width=None if one.width is None else
                                    one.width * factors["width"]) for one in ribs.family))
    # The face that the ribs stand on stays where it is.
    side = 1.0 if ribs.side == "outside" else -1.0
    shift = -side * (thick - skin) / 2
    changed = dataclasses.replace(design, ribs=ribs,
                                  skin=dataclasses.replace(design.skin, thickness=thick))
    outside = 2 * (radius + shift + thick / 2 + (changed.rib_height if side > 0 else 0.0))
    changed = with_values(changed, {"tube.outside_diameter": lot.every(outside)})
    allowed = np.broadcast_to(possible(changed), (lot.count,)) & (lot.depth_ratio < 0.02)
    with np.errstate(all="ignore"):
        after = stiffness(assess_wall(changed, lot.wall.properties, **lot.cells), lot.count)
    A, B, D = after[:, :3, :3], after[:, :3, 3:], after[:, 3:, 3:]
    z = shift[:, None, None]
    after = np.concatenate([np.concatenate([A, B + z * A], -1),
                            np.concatenate([B + z * A, D + 2 * z * B + z**2 * A], -1)], -2)
    before = stiffness(lot.wall, lot.count)
    fine = -is_definite(lot)[0].value > 1e-9
    before = np.where(fine[:, None, None], before, np.eye(6))
    low, _ = relative(after, before)
    with np.errstate(all="ignore"):
        least = stiffness(assess_wall(lot.design, lot.wall.properties, least=True,
                                      **lot.cells), lot.count)
    kept, _ = relative(after - least, before)
    cut = cut_back(lot, design, before) | cut_back(lot, changed, stiffness(
        assess_wall(changed, lot.wall.properties, **lot.cells), lot.count))
    room, note = 0.005 + 2 * lot.depth_ratio, np.array(names)[pick]
    return [
        Outcome("more material never softens A, B, D",
                np.where(allowed & fine & ~cut, 1 - low, np.nan), room, note),
        Outcome("more material where A, B, D are cut back: above the lower bound before",
                np.where(allowed & fine & cut, -kept, np.nan), room, note),
    ]


def cut_back(lot: Lot, design: Design, found: Array) -> Array:
    """Whether rib layers and strips together would pass uniform strain, and are cut back for that.

    Wide ribs that all but close their pockets: nearest to the bound in one direction, strips give
    way in all. Such a wall may lose in one direction what others gain; it never passes the bound.
    """
    with mock.patch.object(finite_width, "capped", lambda part, bound, share: part):
        whole = stiffness(assess_wall(design, lot.wall.properties, **lot.cells), lot.count)
    size = np.sqrt(np.abs(np.diagonal(found, axis1=-2, axis2=-1)))
    gap = np.abs(whole - found) / (size[..., :, None] * size[..., None, :])
    return gap.max((-2, -1)) > 1e-3


def bound_is_lower(lot: Lot) -> list[Outcome]:
    """The bound that sweeps take outside of the map: definite, and no stiffer than A, B, D."""
    if not lot.design.has_ribs:
        return []
    with np.errstate(all="ignore"):
        least = stiffness(
            assess_wall(lot.design, lot.wall.properties, least=True), lot.count)
    low, high = relative(least, stiffness(lot.wall, lot.count))
    return [Outcome("lower bound of A, B, D: no stiffer", high - 1, 1e-9),
            Outcome("lower bound of A, B, D: positive definite", -low, -1e-12)]


def longer_is_weaker(lot: Lot) -> list[Outcome]:
    """Twice as many sections: every buckling wave of one tube fits the other twice.

    Rings shorter than twice the depth of their wall are left out for buckling: two half waves along
    are looked at there, though shorter than the wall is deep, and those of the longer one are not.
    Helices of torsion that cancel at the ends do not fit twice (they would have a kink): short
    tubes come within 5 % only, those shorter than their radius within 10 %.
    """
    design = lot.design
    longer = with_values(design, {"tube.length": 2 * design.tube.length,
                                  "tube.sections": 2 * design.tube.sections})
    tube, other = lot.tube, lot.assess(longer)
    short = np.where(design.tube.length < lot.wall.grid.radius, 0.10, 0.05)
    outcomes = []
    for kind in ("compression", "lateral", "hydrostatic", "torsion"):
        before, after = getattr(tube.buckling, kind), getattr(other.buckling, kind)
        if before is not None and after is not None:
            with np.errstate(invalid="ignore"):
                rise = lot.every(after.load / before.load - 1)
            rise = np.where(lot.every(design.tube.length) < 2 * lot.wall.depth, np.nan, rise)
            outcomes.append(
                Outcome(f"a longer tube buckles at no higher load: {kind}", rise,
                        short if kind == "torsion" else 1e-3))
    for support, value in tube.frequencies.items():
        outcomes.append(Outcome(f"a longer tube swings no faster: {support}",
                                lot.every(other.frequencies[support] / value - 1), 1e-6))
    return outcomes


def scratches_are_nothing(lot: Lot) -> list[Outcome]:
    """Ribs of a micrometer: the plain wall, with the plain wall's factors.

    Without lands, which plain walls do not have and which count as a thick tube; without the moment
    that flattens a tube under external pressure, where the axial load makes the bending moment more
    than four times as large, and where loads work against each other, see `is_continuous`.
    """
    design = with_values(lot.design, {
        "tube.seam_land": lot.every(0.0), "tube.end_land": lot.every(0.0)})
    if not design.has_ribs:
        return []
    family = tuple(dataclasses.replace(one, height=None) for one in design.ribs.family)
    small = with_values(design, {"ribs": dataclasses.replace(
        design.ribs, height=lot.every(1e-6), draft=0.0, corner_radius=0.0, root_fillet=0.0,
        family=family)})
    plain = with_values(design, {"ribs": Ribs(pattern="plain")})
    thick = lot.every(design.skin.thickness) > 2e-4
    allowed = np.broadcast_to(possible(small), (lot.count,)) & thick
    ribbed, bare = lot.assess(small), lot.assess(plain)
    worst = np.zeros(lot.count)
    for name in ("EA", "EI", "GJ"):
        worst = np.fmax(worst, np.abs(
            lot.every(getattr(ribbed.stiffness, name) / getattr(bare.stiffness, name)) - 1))
    outcomes = [Outcome("ribs to nothing: stiffness of the plain wall",
                        np.where(allowed, worst, np.nan), 0.02)]
    one, two = use(ribbed, lot.count), use(bare, lot.count)
    worst = np.zeros(lot.count)
    with np.errstate(all="ignore"):
        for key in one.keys() & two.keys():
            if any(kind in key[1] for kind in ("instability", "column", "ovalization", "skin")):
                if "ovalization" in key[1] and np.any(np.asarray(next(
                        case.pressure for case in design.case if case.name == key[0])) > 0):
                    continue
                grown = lot.every(next(
                    case.growth for case in bare.cases if case.name == key[0])) > 4
                gap = np.abs(np.log(one[key] / two[key]))
                idle = grown | (np.maximum(one[key], two[key]) < 1e-9) | _cancels(next(
                    case for case in design.case if case.name == key[0]))
                worst = np.fmax(worst, np.where((one[key] == two[key]) | idle, 0.0, gap))
    outcomes.append(Outcome("ribs to nothing: margins of the plain wall",
                            np.where(allowed, worst, np.nan), 0.03))
    return outcomes


def arrays_agree(lot: Lot) -> list[Outcome]:
    """One design in fifty, assessed alone: the margins of the lot."""
    value = np.full(lot.count, np.nan)
    together = use(lot.tube, lot.count)
    for number in range(0, lot.count, 50):
        alone = use(lot.assess(single(lot.design, number)), 1)
        with np.errstate(all="ignore"):
            gaps = [np.log(alone[key][0] / together[key][number]) for key in alone
                    if alone[key][0] != together[key][number]]
        # Only what is unsafe: more use alone than in the lot.
        value[number] = np.max(np.nan_to_num(gaps, nan=np.inf), initial=0.0)
    return [Outcome("arrays as the exhaustive search of one design", value, 1e-3)]


def patterns_agree(lot: Lot) -> list[Outcome]:
    """The ribs of a pattern stated one by one, as families: the same A, B, D.

    Whole cells fit a panel, families of the user's own the whole circumference: with lands along
    seams they are rounded to other pitches, so both are built without lands here.
    """
    design = lot.design
    # Families don't say where they cross: what the nodes of an isogrid, three ribs through one
    # point, do to the skin can't be known from them (0.02 off without radii, up to 0.9 with deep,
    # wide ribs and radii).
    if design.ribs.pattern not in ("orthogrid", "diagonal"):
        return []
    design = with_values(design, {"tube.segments": 1, "tube.seam_land": 0.0 * lot.every(1.0)})
    built = assess_wall(design, lot.wall.properties)
    family = tuple(
        RibFamily(lot.every(line.angle), lot.every(line.pitch), None, None)
        for line in built.grid.families
    )
    own = dataclasses.replace(design.ribs, pattern="families", orientation="hoop", spacing=None,
                              hoop_spacing=None, angle=None, family=family)
    other = assess_wall(with_values(design, {"ribs": own}), lot.wall.properties)
    before, after = stiffness(built, lot.count), stiffness(other, lot.count)
    size = np.sqrt(np.abs(np.diagonal(before, axis1=-2, axis2=-1)))
    gap = np.abs(after - before) / (size[..., :, None] * size[..., None, :])
    # What a cut-back wall keeps as room, 1e-5, goes to its families in other shares.
    limit = np.where(cut_back(lot, design, before), 5e-3, 1e-5)
    return [Outcome("families instead of a pattern: the same A, B, D", gap.max((-2, -1)), limit)]


LAWS: tuple[Callable[[Lot], list[Outcome]], ...] = (
    is_finite, is_definite, is_bounded, allowables_are_bounded, is_continuous, loads_only_hurt,
    nothing_is_no_load, material_only_stiffens, bound_is_lower, longer_is_weaker,
    scratches_are_nothing, patterns_agree, arrays_agree,
)


def all_outcomes(lot: Lot) -> list[Outcome]:
    """Every law on one lot."""
    return list(itertools.chain.from_iterable(law(lot) for law in LAWS))
