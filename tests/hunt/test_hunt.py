"""Short hunt: 2,000 random designs over everything that is accepted, held to every law.

The long one: ``python -m tests.hunt.run --designs 100000 --lot 200``; what ran so far stands in
gridshell/proof/README.md.
"""

from __future__ import annotations

import dataclasses

import numpy as np
import pytest

from gridshell.define.tables.target import Target

from .agree import disagreements, shown_in_report, written_by_size
from .draw import draw, single
from .laws import Lot, is_bounded, is_definite, loads_only_hurt
from .run import hunt


@pytest.fixture(scope="module")
def found():
    return hunt(2000, seed=1, size=100)


def test_every_law_was_tried(found):
    assert all(tally.designs >= 30 for law, tally in found.items() if "built in" not in law)
    assert len(found) >= 25


def test_laws_hold(found):
    broken = [
        f"{law}: {tally.broken} of {tally.designs}, largest {tally.worst:.3g} {tally.found[0][1]}"
        f"\n{tally.found[0][2]}"
        for law, tally in found.items()
        if tally.broken
    ]
    assert not broken, "\n".join(broken)


@pytest.mark.parametrize("number", range(8))
def test_every_command_says_the_same(number):
    generator = np.random.default_rng((3, number))
    design = single(draw(generator, 1, middle=True), 0)
    assert disagreements(design, scatter=number < 2) == []
    if number in (1, 6):  # a plain wall, an orthogrid
        assert shown_in_report(design) == []


def test_what_size_writes_is_what_it_found():
    design = single(draw(np.random.default_rng((3, 3)), 1, middle=True), 0)
    sized = dataclasses.replace(design, target=Target(walls=("plain",)))
    assert written_by_size(sized) == []


def test_the_hunt_sees_what_is_wrong():
    """Break an answer and see it noticed."""
    lot = Lot(draw(np.random.default_rng(1), 20, ("isogrid", "hoop", "inside"), True),
              np.random.default_rng(2))
    wall = lot.tube.wall
    turned = np.array(wall.D)
    turned[..., 2, 2] *= -1

    def with_wall(**changes):
        broken = Lot(lot.design, np.random.default_rng(2))
        tube = dataclasses.replace(lot.tube, wall=dataclasses.replace(wall, **changes))
        broken.__dict__["tube"] = tube
        return broken

    assert all(outcome.value.max() > 0 for outcome in is_definite(with_wall(D=turned)))
    bounds = {outcome.law: outcome.value - outcome.limit
              for outcome in is_bounded(with_wall(A=wall.A * 1.5))}
    assert bounds["A, B, D at most by uniform strain (Voigt)"].max() > 0
    weaker = Lot(lot.design, np.random.default_rng(2))
    case = lot.tube.cases[0]
    relieved = dataclasses.replace(case, checks=tuple(
        dataclasses.replace(check, margin=np.asarray(check.margin) - 0.2) for check in case.checks
    ))
    weaker.__dict__["tube"] = dataclasses.replace(lot.tube, cases=(relieved, lot.tube.cases[1]))
    assert max(outcome.value.max() for outcome in loads_only_hurt(weaker)) > 0
