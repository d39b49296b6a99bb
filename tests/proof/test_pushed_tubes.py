"""Tubes with an imposed deviation, solved in one mesh by CalculiX, beside the formulas."""

from __future__ import annotations

import pytest

from gridshell.define.tables.design import Case as Load
from gridshell.define.tables.design import with_values
from gridshell.proof.as_built.cases import CASES, built_of, expected_load, predicted, read
from gridshell.tube.as_built.parts import parts_load, with_parts
from gridshell.tube.assess import assess_tube

SOLVED = read()


@pytest.mark.parametrize("case", [one for one in CASES if one.name in SOLVED],
                         ids=lambda case: case.name)
def test_predicted_over_solved(case):
    """Large displacements, shortened until the load falls; the table holds what came out.

    The parts of one orthogrid with ribs outside are 15 % low by themselves, and so is its answer.
    """
    low = 0.78 if case.name == "orthogrid outside, mode" else 0.90
    assert low < expected_load(case) / SOLVED[case.name].solved < 1.03


@pytest.mark.parametrize("name", [one.name for one in CASES if one.ribs["pattern"] != "plain"
                                  and one.name in SOLVED])
def test_the_wall_alone_is_too_high_where_parts_are_near(name):
    case = next(one for one in CASES if one.name == name)
    perfect, limit = predicted(case)
    assert limit.factor * perfect > SOLVED[name].solved


def test_every_solved_tube_is_a_case():
    assert set(SOLVED) <= {case.name for case in CASES} and len(SOLVED) == len(CASES)


def test_the_load_of_the_parts_is_that_of_the_checks():
    ribbed = next(case for case in CASES if case.name == "isogrid inside, mode")
    design = with_values(ribbed.design, {
        "tube.straightness": 0.0, "case": (Load(name="push", compression=1.0, factor=1.0),)})
    checks = assess_tube(design).cases[0].checks
    assert parts_load(built_of(design)) == pytest.approx(min(
        float(check.allowable) / float(check.applied) for check in checks
        if check.name in ("skin pocket buckling", "rib crippling")))
    assert parts_load(built_of(CASES[0].design)) == float("inf")


def test_parts_that_buckle_near_the_wall_take_from_it():
    ribbed = next(case for case in CASES if case.name == "isogrid inside, mode")
    perfect, limit = predicted(ribbed)
    built = built_of(ribbed.design)
    assert expected_load(ribbed) < min(limit.factor * perfect, parts_load(built))
    # Far below its parts a wall keeps what it has; the parts bound what a perfect one has.
    assert with_parts(built, 0.1) == pytest.approx(0.1, rel=1e-3)
    assert with_parts(built, 1e3) * perfect == pytest.approx(parts_load(built), rel=1e-3)
    plain = built_of(CASES[0].design)
    assert with_parts(plain, 0.5) == 0.5
