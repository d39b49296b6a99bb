"""Tubes with an imposed deviation, solved in one mesh by CalculiX, beside the formulas."""

from __future__ import annotations

import pytest

from gridshell.proof.as_built.cases import CASES, expected_load, local_load, predicted, read

SOLVED = read()


@pytest.mark.parametrize("case", [one for one in CASES if one.name in SOLVED],
                         ids=lambda case: case.name)
def test_predicted_over_solved(case):
    """Large displacements, shortened until the load falls; the table holds what came out."""
    assert 0.90 < expected_load(case) / SOLVED[case.name].solved < 1.03


def test_every_solved_tube_is_a_case():
    assert set(SOLVED) <= {case.name for case in CASES} and len(SOLVED) >= 6


def test_parts_that_buckle_first_limit_a_ribbed_tube():
    ribbed = next(case for case in CASES if case.name == "isogrid inside, mode")
    perfect, limit = predicted(ribbed)
    assert local_load(ribbed) < limit.factor * perfect
    assert expected_load(ribbed) == local_load(ribbed)
    assert local_load(CASES[0]) == float("inf")
