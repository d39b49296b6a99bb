"""Chunks give what one piece gives, in bounded memory."""

from __future__ import annotations

import dataclasses
import tracemalloc

import numpy as np
import pytest

from gridshell.define.errors import InputError
from gridshell.define.tables.design import Case, with_values
from gridshell.study.batch import design_count, evaluate
from gridshell.tube.assess import assess_tube
from gridshell.wall.assess import assess_wall


@pytest.fixture
def walls(make_properties):
    def function(design):
        built = assess_wall(design, make_properties())
        return {"D": built.D, "mass": built.areal_mass}

    return function


def many(make_design, count):
    random = np.random.default_rng(0)
    return with_values(make_design("isogrid"), {
        "ribs.height": random.uniform(2e-3, 9e-3, count),
        "skin.thickness": random.uniform(1e-3, 3e-3, count),
        "case": (Case(name="a", compression=random.uniform(10, 1000, count)),),
    })


@pytest.mark.parametrize("chunk", [1, 7, 50, 1000])
def test_chunks_equal_the_whole(make_design, walls, chunk):
    design = many(make_design, 50)
    whole, seen = walls(design), []
    found = evaluate(design, walls, chunk, lambda done, of: seen.append((done, of)))
    for name, value in whole.items():
        np.testing.assert_allclose(found[name], value, rtol=1e-13)
    assert seen[-1] == (50, 50) and len(seen) == -(-50 // chunk)


def test_arrays_in_cases_are_cut_too(make_design, make_properties):
    design = many(make_design, 30)
    margins = evaluate(design, lambda d: {"margin": assess_tube(d, make_properties()).margin}, 11)
    whole = assess_tube(design, make_properties()).margin
    np.testing.assert_allclose(margins["margin"], whole, rtol=1e-9)


def test_one_design(make_design, walls):
    design = make_design("isogrid")
    assert design_count(design) == 1
    found = evaluate(design, walls)
    np.testing.assert_allclose(found["D"][0], walls(design)["D"], rtol=1e-13)
    assert found["mass"].shape == (1,)


def test_unequal_arrays_are_refused(make_design, walls):
    design = many(make_design, 5)
    uneven = dataclasses.replace(design, tube=dataclasses.replace(design.tube, length=np.ones(4)))
    with pytest.raises(InputError, match="one length"):
        evaluate(uneven, walls)
    square = with_values(design, {"ribs.height": np.ones((5, 2)), "skin.thickness": 1e-3,
                                  "case": ()})
    with pytest.raises(InputError, match="one length"):
        design_count(square)
    with pytest.raises(InputError, match="chunk"):
        evaluate(design, walls, 0)


def test_memory_does_not_grow_with_the_number(make_design, make_properties):
    def peak(count):
        design = many(make_design, count)
        tracemalloc.start()
        evaluate(design, lambda d: {"mass": assess_wall(d, make_properties()).areal_mass}, 500)
        top = tracemalloc.get_traced_memory()[1]
        tracemalloc.stop()
        return top

    # Beyond the results themselves (8 bytes a design) next to nothing is kept.
    assert peak(20_000) - peak(2_000) < 2.5 * 18_000 * 8
