"""The goal of the page is the search of `gridshell size`, and its answer puts the page on it."""

from __future__ import annotations

import dataclasses

import pytest

from gridshell.define.files.reading import read_design
from gridshell.define.tables.target import Target
from gridshell.explore.controls import controls_of, stated
from gridshell.explore.goal import as_target, find
from gridshell.study.size.run import size_tube
from gridshell.tube.assess import assess_tube


@pytest.fixture(scope="module")
def mast(examples):
    base = read_design(next(path for path in examples if path.stem == "tide-mast"))
    return dataclasses.replace(
        base, target=Target(margin=0.5, walls=("isogrid-hoop", "plain", "orthogrid")))


def test_the_wall_on_show_comes_first_and_a_plain_one_is_always_looked_at(mast):
    assert as_target(mast, False).target.walls == ("orthogrid", "plain")
    assert as_target(mast, True).target.walls == ("orthogrid", "plain", "isogrid-hoop")


def test_the_answer_is_that_of_size_and_meets_the_goal(mast):
    controls, told = controls_of(mast), []
    found = find(mast, controls, with_mold=False, every_wall=False, progress=lambda line: None,
                 so_far=lambda rows: told.append(len(rows["walls"])))
    assert told == [1, 2]
    sizing = size_tube(as_target(mast, False))
    assert [wall["mass"] for wall in found["walls"]] == [
        float(wall.rounded.tube.mass) for wall in sizing.walls]
    for wall in found["walls"]:
        there = assess_tube(stated(mast, controls, wall["values"]))
        assert float(there.mass) == pytest.approx(wall["mass"], rel=1e-9)
        assert float(there.margin) == pytest.approx(wall["margin"], rel=1e-6)
        assert float(there.margin) >= 0.5 - 1e-9
    plain = next(wall for wall in found["walls"] if wall["label"] == "plain wall")
    grid = next(wall for wall in found["walls"] if wall is not plain)
    assert ("A plain wall does better" in found["said"]) == (plain["mass"] < grid["mass"])


def test_what_cant_be_met_says_which_limits_conflict(mast):
    wanted = dataclasses.replace(mast, target=Target(margin=0.5, largest_mass=0.1))
    found = find(wanted, controls_of(wanted), with_mold=False, every_wall=False,
                 progress=lambda line: None, so_far=lambda rows: None)
    assert not found["feasible"] and "no design" in found["said"] and "mass" in found["said"]
    assert all(wall["values"] is None for wall in found["walls"])
