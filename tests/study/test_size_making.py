"""Sizing within what the making allows: limits found, and what no size mends said."""

from __future__ import annotations

import pytest

from gridshell.define.errors import InputError
from gridshell.define.tables.target import Target
from gridshell.mold.checks import failures
from gridshell.report.text.study.size import size_json, size_text
from gridshell.study.size import run
from gridshell.study.size.making import MakingLimit, Unmet, mending_limits, tightened
from gridshell.study.size.run import size_tube, sized_comment

from .conftest import make

HIGHEST = 2.5e-3  # m


def too_tall(design, **how):
    """A making that takes ribs up to a height."""
    tall = design.has_ribs and design.ribs.height > HIGHEST + 1e-9
    return [Unmet("pull", "make the ribs lower")] if tall else []


def always(design, **how):
    """A making that no size mends."""
    return [Unmet("heat", "take another mold")]


def small(**keys):
    return make(target=Target(walls=("isogrid-hoop",), **keys))


def test_sized_within_what_the_making_takes():
    free = size_tube(small()).best.rounded
    assert free.design.ribs.height > HIGHEST * 1.2  # else the test shows nothing
    found = size_tube(small(), making=too_tall)
    best = found.best
    assert found.feasible and not best.unmet and too_tall(best.rounded.design) == []
    # Bisection keeps most of the room: within a step or two of the last height that passes.
    assert best.rounded.design.ribs.height >= 0.8 * HIGHEST
    assert float(best.rounded.tube.mass) >= float(free.tube.mass)
    assert [one.key for one in best.making] == ["largest_rib_height"]
    assert "for the mold: target.largest_rib_height" in size_text(found)


class Demand:
    """A demand of the making on arrays of dimensions: ribs up to a height."""

    name, field = "reach", "ribs.height"

    def __init__(self, tube, highest):
        self.margin = highest / tube.design.ribs.height - 1


def test_demands_of_the_making_are_limits_of_the_search():
    seen = []

    def judged(design, **how):
        seen.append(design)
        return too_tall(design)

    found = size_tube(small(), making=judged, margins=lambda tube: [Demand(tube, HIGHEST)])
    best = found.best.rounded.design
    assert found.feasible and best.ribs.height <= HIGHEST + 1e-9
    assert best.ribs.height > 0.9 * HIGHEST
    assert len(seen) == 1 and found.best.making == ()  # right at once, nothing to mend
    assert "mold.reach" in {limit.key for limit in found.best.ideal.active}


def test_demands_that_nothing_meets_leave_a_size_that_says_so():
    found = size_tube(small(), making=always, margins=lambda tube: [Demand(tube, 1e-5)])
    assert not found.feasible and found.best is not None
    assert [one.name for one in found.best.unmet] == ["heat"]


def test_what_no_size_mends_is_said_first():
    found = size_tube(small(), making=always)
    assert not found.feasible and [one.name for one in found.best.unmet] == ["heat"]
    text = size_text(found)
    assert text.splitlines()[2].startswith("MOLD FAILS: heat. take another mold")
    assert size_json(found)["walls"][0]["making_fails"] == [
        {"name": "heat", "advice": "take another mold"}]
    assert "The making FAILS: heat" in sized_comment(found)


def test_a_wall_that_fails_less_stands_first():
    both = make(target=Target(walls=("isogrid-hoop", "plain")))
    lighter = size_tube(both).best.choice.wall
    assert lighter == "isogrid-hoop"
    found = size_tube(both, making=lambda design, **how: always(design) if design.has_ribs else [])
    assert found.best.choice.wall == "plain" and found.feasible


def test_two_walls_looked_at_together_are_those_looked_at_in_turn(monkeypatch):
    """Ribs fail, so the best wall is mended twice and others come first: the same with any number
    of processes."""
    walls = ("isogrid-hoop", "isogrid-axial", "orthogrid", "plain")
    design = make(target=Target(walls=walls))
    found = [size_tube(design, making=too_tall, workers=count) for count in (1, 2)]
    assert size_json(found[0]) == size_json(found[1])
    assert [wall.label for wall in found[0].walls] == [wall.label for wall in found[1].walls]
    assert found[0].best.making  # else the test shows nothing

    # What is wrong with a wall that does not count is not raised.
    best = size_tube(design).best.label
    sound = run._mended

    def broken(task, wall, making, hopeless):
        if wall.label != best:
            raise InputError("target: nothing like that")
        return sound(task, wall, making, hopeless)

    monkeypatch.setattr(run, "_mended", broken)
    for count in (1, 2):
        assert size_tube(design, making=lambda design, **how: [], workers=count).best.label == best
        with pytest.raises(InputError, match="nothing like that"):
            size_tube(design, making=lambda design, **how: always(design) if design.has_ribs
                      else [], workers=count)


def test_bounds_only_get_tighter():
    target = Target(largest_rib_height=2e-3, least_skin=1e-3)
    found = tightened(target, [MakingLimit("largest_rib_height", 3e-3, "a"),
                               MakingLimit("least_skin", 2e-3, "b")])
    assert (found.largest_rib_height, found.least_skin) == (2e-3, 2e-3)


def test_nothing_impossible_mends():
    hopeless = set()
    design = make(cases=())
    limits, unmet = mending_limits(design, always, Target(), hopeless)
    assert limits == () and [one.name for one in unmet] == ["heat"] and hopeless == {"heat"}


def test_failures_of_a_real_mold(examples):
    from gridshell.define.files.reading import read_design

    molded = [design for design in map(read_design, examples) if design.mold is not None]
    assert molded
    for design in molded[:2]:
        names = {one.name for one in failures.mold_failures(design)}
        try:
            checks = failures.mold_checks(design).checks
        except Exception:
            assert names == {"mold"}
        else:
            assert names == {one.name for one in checks if one.verdict == "fails"}


@pytest.mark.parametrize("share", [0.5, 2.0])
def test_bisection_finds_where_a_check_is_met(share):
    from gridshell.study.size.making import _mended_from

    found = _mended_from(lambda s: (s <= 0.6) if share < 1 else (s >= 1.7), (0.8, 0.5) if share < 1
                         else (1.4, 2.0))
    assert (0.53 < found <= 0.6) if share < 1 else (1.7 <= found < 1.85)
