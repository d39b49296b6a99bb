"""What is left open in a mold is set so that the piece fills it and leaves it, and said."""

import dataclasses

import numpy as np
import pytest
from shapes import small

from gridshell.define.constants import ROOM_TEMPERATURE
from gridshell.define.tables.casting import Casting
from gridshell.define.tables.design import Material
from gridshell.define.tables.mold import Mold
from gridshell.material.resolve import properties
from gridshell.mold.checks.failures import making_of, mold_failures
from gridshell.mold.checks.filling.gate import GATE_CHECK, completed, mold_material
from gridshell.mold.checks.limits import mold_limits
from gridshell.mold.checks.run import mold_checks
from gridshell.mold.checks.settle import settled
from gridshell.wall.assess import assess_wall


def of(material, **mold):
    """The small test shell in another material."""
    return dataclasses.replace(
        small(), material=Material(material, temperature=ROOM_TEMPERATURE), mold=Mold(**mold))


@pytest.mark.parametrize(("name", "taken"), [
    ("epoxy-casting", "petg"),  # poured cold
    ("hot-melt-eva", "polycarbonate"), ("paraffin-microcrystalline", "petg"),
])
def test_a_printed_mold_is_of_what_stands_the_pour(name, taken):
    part = properties(Material(name), temperature=ROOM_TEMPERATURE)
    start = float(part.pour_temperature)
    assert mold_material(Mold(), part, start) == taken
    stated = Mold(casting=Casting(mold_material="pla"))
    assert mold_material(stated, part, start) == "pla"  # what is stated stays, and is checked
    assert mold_material(Mold(process="mill"), part, start) == "aluminum-6061-t6"


def test_a_funnel_is_put_on_a_gate_that_needs_it_and_told():
    design = of("hot-melt-eva")
    made = completed(design, design.mold)
    low = mold_checks(design, Mold(casting=Casting(pour_head=12e-3))).find(GATE_CHECK)
    high = mold_checks(design).find(GATE_CHECK)
    assert made.casting.pour_head > made.end_wall and high.value < low.value
    assert any("a funnel that high" in note for note in high.notes)
    thin = of("epoxy-casting", casting=Casting(viscosity=1e-3))
    assert completed(thin, thin.mold).casting.pour_head is None  # the gate's own depth will do


def test_another_core_where_no_size_leaves_the_rigid_one():
    design = of("epoxy-casting")
    changed, changes = settled(design, False)
    assert [one.field for one in changes] == ["mold.core"] and changed.mold.core != "rigid"
    assert changes[0].why.startswith("with 'rigid': ")
    after = {one.name for one in mold_failures(changed)}
    assert not after & {"undercut of the ribs", "pull to free the shrunken part"}
    assert settled(changed, False) == (changed, ())  # nothing more to change
    # Tools that pull that much, and no lock: the stated core stays.
    strong = Mold(casting=Casting(release_force=1e6, friction=0.0))
    steep = dataclasses.replace(
        design, mold=strong, ribs=dataclasses.replace(design.ribs, draft=np.radians(14.0)),
        tube=dataclasses.replace(design.tube, segments=8))
    assert settled(steep, False) == (steep, ())


@pytest.mark.parametrize("side", ["inside", "outside"])
def test_grip_over_arrays_is_that_of_the_check(side):
    """The margin that the search follows against the check of each design alone."""
    design = of("epoxy-casting")
    design = dataclasses.replace(design, ribs=dataclasses.replace(design.ribs, side=side))
    heights = np.array([3e-3, 5e-3])
    many = dataclasses.replace(design, ribs=dataclasses.replace(design.ribs, height=heights))
    warm = properties(design.material, temperature=ROOM_TEMPERATURE)
    found = {one.name: one.margin
             for one in mold_limits(many, design.mold, assess_wall(many, warm), warm)}
    for index, height in enumerate(heights):
        one = dataclasses.replace(design, ribs=dataclasses.replace(design.ribs, height=height))
        check = mold_checks(one).find("pull to free the shrunken part")
        assert found[check.name][index] == pytest.approx(check.limit / check.value - 1, rel=0.02)


def test_a_demand_that_nothing_meets_is_no_limit_of_the_search():
    """Or the search would drop every other demand with it."""
    from gridshell.tube.assess import assess_tube

    design = of("epoxy-casting", casting=Casting(release_force=1e-3))
    _, margins, _ = making_of(design)
    names = {one.name for one in margins(assess_tube(design))}
    assert "pull to free the shrunken part" not in names and "skin fills" in names
