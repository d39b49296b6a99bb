"""Size a tube: the best wall of each kind under the stated limits, ideal and as it can be made."""

from __future__ import annotations

import dataclasses
import functools
from collections.abc import Callable
from dataclasses import dataclass
from pathlib import Path

import numpy as np

from gridshell.define.errors import InputError
from gridshell.define.files.writing import write_definition
from gridshell.define.tables.design import Design
from gridshell.define.types import Array
from gridshell.define.workers import run_all
from gridshell.material.properties import Properties
from gridshell.study.size.candidates import WallChoice, placed, wall_choice
from gridshell.study.size.conflict import BedProblem, Conflict, bed_problem, conflict_of
from gridshell.study.size.limits import SizeLimit, Task, make_task
from gridshell.study.size.making import (
    Making,
    MakingChange,
    MakingLimit,
    MakingMargins,
    Remaking,
    Unmet,
    mending_limits,
    tightened,
)
from gridshell.study.size.optimality import ACTIVE, OptimalityCheck, check_optimality
from gridshell.study.size.rounding import Rounded, round_search
from gridshell.study.size.search import WallSearch, cells_of, search_wall
from gridshell.tube.as_built.tolerance import expected, is_expected, taking
from gridshell.tube.assess import assess_tube
from gridshell.tube.buckling.knockdown import knockdowns
from gridshell.tube.buckling.waves import ready_for_many
from gridshell.tube.result import TubeResult
from gridshell.wall.assess import assess_wall

_MENDED = 2  # times a wall is sized again for its making
_JUDGED = 6  # walls put to the checks of the making, which take longer than those of the tube
_EXPLAINED = 2  # walls whose conflict is worked out
_FACTORS = 8  # expected knockdown factors that are tried for a wall
_SETTLED = 1.01  # one that is so near to the wall's own is as good

Progress = Callable[[str], None]


@dataclass(frozen=True)
class Ideal:
    """The best wall before rounding its lengths; cells are whole.

    Attributes:
        lengths: height, width, skin (those the wall has), m.
        cells_round: of one segment, of one section; 0 for a plain wall.
        cells_along: of one segment, of one section; 0 for a plain wall.
        tube: its full assessment.
        active: limits it rests on, the tightest first.
    """

    lengths: dict[str, float]
    cells_round: float
    cells_along: float
    tube: TubeResult
    active: tuple[SizeLimit, ...]


@dataclass(frozen=True)
class SizedWall:
    """What sizing found for one wall.

    Attributes:
        choice: the wall.
        search: how it was found.
        ideal: None where the limits conflict.
        rounded: the makeable design; None where there is none near the ideal.
        conflict: why not, where no wall at all has an ideal: for the walls that come nearest and
            the plain wall.
        unmet: checks of the making that the makeable design fails, and no size mends.
        making: bounds that the search was given so that the making holds.
    """

    choice: WallChoice
    search: WallSearch
    ideal: Ideal | None
    rounded: Rounded | None
    conflict: Conflict | None
    unmet: tuple[Unmet, ...] = ()
    making: tuple[MakingLimit, ...] = ()

    @property
    def label(self) -> str:
        """What people call the wall."""
        return self.choice.label


@dataclass(frozen=True)
class SizeResult:
    """The answer of `size_tube`.

    Attributes:
        task: what was asked.
        walls: each wall tried, the best first.
        optimality: check of the best wall; None where nothing was found.
        bed: the piece that does not fit the printer's bed, if so.
        evaluations: designs assessed.
        changes: fields of the making that were set anew, so that it holds.
    """

    task: Task
    walls: tuple[SizedWall, ...]
    optimality: OptimalityCheck | None
    bed: BedProblem | None
    evaluations: int
    changes: tuple[MakingChange, ...] = ()

    @property
    def best(self) -> SizedWall | None:
        """The best makeable wall."""
        return self.walls[0] if self.walls[0].rounded is not None else None

    @property
    def feasible(self) -> bool:
        """Whether every limit can be met, those of the bed and of the making included."""
        return self.best is not None and self.bed is None and not self.best.unmet


def _ideal(found: WallSearch) -> Ideal:
    searcher = found.searcher
    point: Array = found.ends.points[found.best]
    design, around, along = placed(searcher.choice, point, whole=True)
    tube = assess_tube(design, searcher.task.properties, cells_round=around, cells_along=along)
    slack = searcher.slack(tube, None)
    names = searcher.choice.dimensions
    lengths = {
        name: float(np.exp(value)) for name, value in zip(names, point, strict=True)
        if not name.startswith("cells")
    }
    plain = searcher.choice.pattern == "plain"
    cells = (0.0, 0.0) if plain else cells_of(searcher, point)
    active = tuple(
        searcher.limits[i] for i in np.argsort(slack, kind="stable") if slack[i] < ACTIVE
    )
    return Ideal(lengths, *cells, tube, active)


def _merit(wall: SizedWall) -> tuple[float, float]:
    """Order of walls: makeable first by objective, then feasible, then by shortfall."""
    if wall.rounded is not None:
        tube = wall.rounded.tube
        stiffness = wall.search.searcher.task.target.aim == "stiffness"
        # Checks of the making that fail come before mass: fewer are better.
        failing = 1 - 1 / (1 + len(wall.unmet))
        return failing, -float(tube.stiffness.EI) if stiffness else float(tube.mass)
    b = wall.search.best
    if wall.ideal is not None:
        return 1, float(wall.search.ends.objective[b])
    return 2, float(wall.search.ends.shortfall[b])


def choices(task: Task) -> list[WallChoice]:
    """The walls that the target names, on each side that it names."""
    design, target = task.design, task.target
    sides = target.sides or (design.ribs.side,)
    listed = []
    for wall in target.walls:
        if wall == "plain":
            listed.append(wall_choice(design, wall, None))
        else:
            listed += [wall_choice(design, wall, side) for side in sides]
    return listed


def size_wall(task: Task, choice: WallChoice) -> SizedWall:
    """The best of one wall, with the knockdown factor that this very wall may count on.

    A factor expected at a roundness belongs to one wall and takes seconds to find, so the search
    takes a number for it, from the highest that is allowed on, until the wall that it finds has no
    less.

    Raises:
        InputError: no number was found with which that is so.
    """
    if not is_expected(task.design):
        return _sized(task, choice)
    assert task.design.as_built is not None
    cap = taken = float(task.design.as_built.cap)
    held: SizedWall | None = None
    held_with = 0.0
    for turn in range(_FACTORS):
        found = dataclasses.replace(_sized(
            dataclasses.replace(task, design=taking(task.design, taken)),
            dataclasses.replace(choice, template=taking(choice.template, taken))), choice=choice)
        if found.rounded is None:
            return found if held is None else held
        own, known = _own_factor(found.rounded, task.properties)
        if known and own >= taken * (1 - 1e-9):
            if held is None or _merit(found) < _merit(held):
                held, held_with = _with_own_factor(found, task.properties), taken
            if taken >= cap or own < taken * _SETTLED:
                break
        elif held is not None and own < held_with * _SETTLED:
            break
        # Walls that never come to have what was taken are met with less than they have.
        taken = min(own * (1.0 if turn < _FACTORS // 2 or held is not None else 0.9), cap)
    if held is None:
        raise InputError(
            f"as_built.knockdown: 'expected' does not settle for {choice.label}; take 'published', "
            "or state a smaller as_built.roundness")
    return held


def _own_factor(rounded: Rounded, properties: Properties) -> tuple[float, bool]:
    """Factor expected of one makeable wall, and whether its roundness is within what is known."""
    built = assess_wall(taking(rounded.design, None), properties)
    stated = built.design.as_built
    assert stated is not None
    found = expected(built, float(knockdowns(built)["compression"].factor), stated.ends)
    known = found.factor is not None and bool(np.isfinite(found.factor))
    factor = found.factor if known and found.factor is not None else (
        float(found.curve.factor[-1]) * found.thin)
    return min(factor, float(stated.cap)), known


def _with_own_factor(wall: SizedWall, properties: Properties) -> SizedWall:
    """A wall whose makeable design is assessed as its file states it."""
    assert wall.rounded is not None
    design = taking(wall.rounded.design, None)
    tube = assess_tube(design, properties)
    slack = wall.search.searcher.slack(tube, None)
    return dataclasses.replace(
        wall, rounded=dataclasses.replace(wall.rounded, design=design, tube=tube, slack=slack))


def _sized(task: Task, choice: WallChoice) -> SizedWall:
    """The best of one wall; where the making's demands can't be met, the best without them."""
    found = search_wall(task, choice)
    if not found.feasible and task.margins is not None:
        # What the making fails is then told for the design that is found.
        found = search_wall(dataclasses.replace(task, margins=None), choice)
    if not found.feasible:
        return SizedWall(choice, found, None, None, None)
    return SizedWall(choice, found, _ideal(found), round_search(found), None)


def _made(
    task: Task, walls: list[SizedWall], making: Making, progress: Progress | None,
    workers: int | None,
) -> list[SizedWall]:
    """Walls in order once the best of them has been put to the checks of its making."""
    judged: set[str] = set()
    hopeless: set[str] = set()
    walls = sorted(walls, key=_merit)

    def settled() -> bool:
        best = walls[0]
        return best.rounded is None or best.label in judged or len(judged) >= _JUDGED

    def judge(answer: _Looked) -> None:
        if answer.error is not None:
            raise answer.error
        wall = answer.wall
        hopeless.update(answer.hopeless)
        judged.add(wall.label)
        place = next(k for k, one in enumerate(walls) if one.label == wall.label)
        walls[place] = wall
        walls.sort(key=_merit)

    def told(answer: _Looked) -> None:
        if answer.number == 0:
            judge(answer)
            if settled():
                raise _Settled

    while not settled():
        # The next one beside it, in a process of its own: it is the best if this one has to get
        # heavier. Each starts from what is known before both, so that processes change no answer.
        two = [wall for wall in walls if wall.label not in judged and wall.rounded is not None][:2]
        if progress is not None:
            progress(f"making of {' and of '.join(wall.label for wall in two)}")
        try:
            looked: list[_Looked] = run_all([
                functools.partial(_looked_at, number, task, wall, making, set(hopeless))
                for number, wall in enumerate(two)
            ], [1.0] * len(two), lambda done: None, workers, each=told)
        except _Settled:
            break
        for answer in looked[1:]:
            judge(answer)
    if walls[0].rounded is not None and walls[0].label not in judged:
        walls.sort(key=lambda wall: wall.label not in judged)  # looked at first, then in order
    return walls


class _Settled(Exception):
    """The best wall can be made as well as any: the one beside it need not be looked at."""


@dataclass(frozen=True)
class _Looked:
    """What `_mended` made of a wall.

    Attributes:
        number: 0 for the best, 1 for the one beside it.
        wall: mended, or as it was.
        hopeless: names of checks that no dimension mends.
        error: what is raised if this wall counts.
    """

    number: int
    wall: SizedWall
    hopeless: set[str]
    error: InputError | None = None


def _looked_at(
    number: int, task: Task, wall: SizedWall, making: Making, hopeless: set[str]
) -> _Looked:
    """`_mended` of one of two walls."""
    try:
        return _Looked(number, _mended(task, wall, making, hopeless), hopeless)
    except InputError as error:
        return _Looked(number, wall, hopeless, error)


def _mended(task: Task, wall: SizedWall, making: Making, hopeless: set[str]) -> SizedWall:
    """One wall, sized again within bounds that its making asks for, or with what it fails."""
    found, target = wall, task.target
    limits: tuple[MakingLimit, ...] = ()
    for _ in range(_MENDED):
        if found.rounded is None:
            break
        more, unmet = mending_limits(found.rounded.design, making, target, hopeless)
        if not more:
            return dataclasses.replace(found, unmet=unmet, making=limits)
        limits += more
        target = tightened(target, more)
        found = size_wall(
            dataclasses.replace(task, target=target, min_width=max(
                task.min_width, float(target.least_rib_width))), wall.choice)
    # Within those bounds nothing meets every limit.
    assert wall.rounded is not None
    return dataclasses.replace(wall, unmet=tuple(making(wall.rounded.design)))


def size_tube(
    design: Design, properties: Properties | None = None, progress: Progress | None = None,
    making: Making | None = None, found: Callable[[SizedWall], None] | None = None,
    margins: MakingMargins | None = None, remaking: Remaking | None = None,
    workers: int | None = None,
) -> SizeResult:
    """Find the lightest tube (or the stiffest at a mass) that meets every limit.

    The target is the design's ``[target]`` table, or its defaults. Diameter, length, sections,
    segments, lands, draft and radii stay as stated. Same input, same output.

    Args:
        design: one design.
        properties: of the material; None: looked up.
        progress: called with a line of text at the start and as each wall is sized.
        making: from a design to what its making fails, such as
            `gridshell.mold.checks.failures.mold_failures`; None: not looked at.
        found: called with each wall as soon as it is sized, before its making is looked at.
        margins: what the making asks of arrays of dimensions, limits of the search, such as
            `gridshell.mold.checks.failures.mold_margins` gives; None: none.
        remaking: sets fields of the making anew where no likely size can be made as stated, such as
            `gridshell.mold.checks.settle.settled`; None: all stay as stated.
        workers: processes that walls are sized in; None: as many as cores.

    Raises:
        InputError: nothing to size for, or the material can't be resolved.
    """
    if np.ndim(design.skin.thickness) or np.ndim(design.ribs.height):
        raise InputError("size: takes one design, not an array of designs")
    changes: tuple[MakingChange, ...] = ()
    stated = design
    if remaking is not None:
        design, changes = remaking(design, False)
    task = make_task(design, properties, margins)
    listed = choices(task)
    say: Progress = progress if progress is not None else lambda line: None

    def sized(wall: SizedWall) -> None:
        say(f"{wall.label}: sized")
        if found is not None:
            found(wall)

    say(f"sizing {len(listed)} kind{'s' if len(listed) > 1 else ''} of wall")
    # Before processes part: each should get the same digits, and none should load alone.
    ready_for_many()
    walls: list[SizedWall] = run_all(
        [functools.partial(size_wall, task, choice) for choice in listed],
        [len(choice.dimensions) for choice in listed], lambda done: None, workers, each=sized)
    walls.sort(key=_merit)
    if making is not None:
        walls = _made(task, walls, making, progress, workers)
        if walls[0].unmet and remaking is not None:
            walls[0], more = _remade(walls[0], making, remaking)
            changes += more
        if changes and walls[0].choice.pattern == "plain":
            walls[0], changes = _as_stated(walls[0], stated), ()
    best = walls[0]
    if best.ideal is None:
        # In full for the few that are nearest: each takes as long as sizing a wall.
        walls = [
            dataclasses.replace(wall, conflict=conflict_of(wall.search))
            if rank < _EXPLAINED or wall.choice.wall == "plain" else wall
            for rank, wall in enumerate(walls)
        ]
    shown = check_optimality(best.search, best.rounded) if best.ideal is not None else None
    return SizeResult(
        task, tuple(walls), shown, bed_problem(task),
        sum(wall.search.searcher.evaluations for wall in walls), changes,
    )


def _as_stated(wall: SizedWall, stated: Design) -> SizedWall:
    """A plain wall, whose making needed no change, with the making as stated."""
    if wall.rounded is None:
        return wall
    design = dataclasses.replace(wall.rounded.design, mold=stated.mold)
    return dataclasses.replace(wall, rounded=dataclasses.replace(wall.rounded, design=design))


def _remade(
    wall: SizedWall, making: Making, remaking: Remaking
) -> tuple[SizedWall, tuple[MakingChange, ...]]:
    """A sized wall made in another way, if that mends what its making fails."""
    assert wall.rounded is not None
    design, changes = remaking(wall.rounded.design, True)
    if not changes:
        return wall, ()
    rounded = dataclasses.replace(wall.rounded, design=design)
    return dataclasses.replace(wall, rounded=rounded, unmet=tuple(making(design))), changes


def sized_comment(sizing: SizeResult) -> str:
    """What stands at the top of a sized design's file.

    Raises:
        InputError: nothing was found that could be written.
    """
    if sizing.best is None:
        raise InputError("--write: nothing that can be made meets every limit; nothing written")
    fails = "".join(
        f"The making FAILS: {one.name}. {one.advice}\n" for one in sizing.best.unmet
    )
    fails += "".join(
        f"Set for the mold: {one.field} = {one.value} ({one.why})\n" for one in sizing.changes)
    return fails + (
        f"Sized: {sizing.best.label}. Spacing is stated so that the cells found go round whole.\n"
        "Where a failure could hurt someone, have a licensed engineer check it and follow local "
        "codes."
    )


def write_sized(sizing: SizeResult, path: str | Path, force: bool = False) -> None:
    """Write the best makeable design as a definition file.

    Raises:
        InputError: nothing was found, or the file can't be written; see
            `gridshell.define.files.writing.write_definition`.
    """
    comment = sized_comment(sizing)
    best = sizing.best
    assert best is not None and best.rounded is not None  # `sized_comment` has refused it
    write_definition(best.rounded.design, path, force, comment)
