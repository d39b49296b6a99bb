"""Rules that are kept with a table are those of this very table."""

from __future__ import annotations

import gc

import numpy as np

from gridshell.define import possible
from gridshell.define.checks import check_stated
from gridshell.define.tables.design import Skin, with_values


def test_rules_are_found_once_for_a_table_and_never_for_another(make_design):
    design = make_design()
    assert not check_stated(design)
    assert possible.declared(design.tube, "tube") is possible.declared(design.tube, "tube")
    assert possible.declared(design.tube, "a")[0].path.startswith("a.")
    bad = with_values(design, {"tube.outside_diameter": -1.0})
    assert [problem.path for problem in check_stated(bad)] == ["tube.outside_diameter"]
    assert not check_stated(design)


def test_a_table_that_is_gone_leaves_no_rules_to_one_in_its_place():
    gc.collect()
    before = len(possible._DECLARED)
    for value in (1e-3, -1e-3) * 50:
        rules = possible.declared(Skin(thickness=value), "skin")
        assert all(rule.kept for rule in rules) == (value > 0)
    assert len(possible._DECLARED) <= before + 1


def test_rules_of_arrays_are_not_kept():
    skin = Skin(thickness=np.array([1e-3, -1e-3]))
    for _ in range(2):
        kept = [rule.kept for rule in possible.declared(skin, "skin")]
        assert any(np.array_equal(one, [True, False]) for one in kept)
    assert id(skin) not in possible._DECLARED
