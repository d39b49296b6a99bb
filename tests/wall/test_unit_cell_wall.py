"""A wall that takes its stiffness from a solid cell: what changes with it, and what does not."""

from __future__ import annotations

import numpy as np
import pytest

from gridshell.define.errors import InputError
from gridshell.define.files.unit_cell import write_unit_cell
from gridshell.define.tables.design import Case, with_values
from gridshell.tube.assess import assess_tube
from gridshell.tube.section.stiffness import beam_stiffness
from gridshell.wall.assess import assess_wall

PATTERNS = ("isogrid", "isogrid-axial", "orthogrid", "diagonal")


@pytest.fixture
def pair(tmp_path, make_design, make_properties, make_unit_cell):
    """Function: the wall by formula and with a solid cell of other stiffness."""

    def made(pattern="isogrid", properties=None, **values):
        design = make_design(pattern, folder=tmp_path, **values)
        known = make_properties() if properties is None else properties
        target = tmp_path / "cell.toml"
        write_unit_cell(make_unit_cell(design, make_properties()), target, force=True)
        stated = with_values(design, {"ribs.solid_cell": "cell.toml"})
        return assess_wall(design, known), assess_wall(stated, known)

    return made


@pytest.mark.parametrize("side", ["inside", "outside"])
@pytest.mark.parametrize("pattern", PATTERNS)
def test_stiffness_is_that_of_the_cell(pair, pattern, side):
    plain, solid = pair(pattern, ribs__side=side)
    for name, factor, formula in zip("ABD", (1.02, 1.05, 0.96), solid.formula, strict=True):
        used = getattr(solid, name)
        np.testing.assert_allclose(used, factor * getattr(plain, name), rtol=1e-9, atol=1e-9)
        np.testing.assert_array_equal(formula, getattr(plain, name))  # kept beside it
    assert plain.unit_cell is None and solid.unit_cell is not None
    # The handbook's value, from which stresses are found, and the mass stay.
    for old, new in zip(plain.thin_rib, solid.thin_rib, strict=True):
        np.testing.assert_array_equal(old, new)
    assert solid.areal_mass == plain.areal_mass
    assert "solid cell: it gives A, B, D" in solid.range_notes[0] and len(solid.range_notes) == 1


def test_on_the_radius_it_changes_as_the_formula_does(pair):
    plain, solid = pair()
    for old, new, flat, used in zip(
        plain.curved, solid.curved, plain.formula, (solid.A, solid.B, solid.D), strict=True
    ):
        np.testing.assert_allclose(new - used, old - flat, rtol=1e-6, atol=1e-9 * np.abs(old).max())
        assert np.abs(old - flat).max() > 0
    for old, new in zip(plain.curved, solid.curved_formula, strict=True):
        np.testing.assert_array_equal(old, new)


def test_modulus_scales_it(pair, make_properties):
    _, one = pair()
    _, soft = pair(properties=make_properties(modulus=np.array([2e9, 5e8])))
    assert soft.A.shape == (2, 3, 3)
    np.testing.assert_allclose(soft.D[0], one.D, rtol=1e-12)
    np.testing.assert_allclose(soft.D[1], one.D / 4, rtol=1e-12)


def test_another_poisson_ratio_is_refused(pair, make_properties):
    with pytest.raises(InputError, match=r"Poisson's ratio 0\.35, the design has 0\.4"):
        pair(properties=make_properties(poisson=0.4))


def test_the_whole_tube_uses_it(pair):
    cases = (Case(name="a", compression=1e3, moment=50.0, pressure=1e3, torque=10.0),)
    plain, solid = pair(case=cases)
    old, new = (assess_tube(w.design, w.properties) for w in (plain, solid))
    expected = beam_stiffness(*solid.curved, solid.grid.radius)
    for name in ("EA", "EI", "GJ"):
        assert getattr(new.stiffness, name) == getattr(expected, name)
        assert getattr(new.formula_stiffness, name) == pytest.approx(getattr(old.stiffness, name))
        assert 1.01 < getattr(new.stiffness, name) / getattr(old.stiffness, name) < 1.03
    assert new.buckling.compression.load != old.buckling.compression.load
    by_name = {check.name: check for check in old.cases[0].checks}
    for check in new.cases[0].checks:  # stress and pockets by the formula as before
        if check.name.startswith(("strength", "skin pocket", "rib")):
            # ... but for the growth of the moment, which goes with the tube's own EI.
            assert check.margin == pytest.approx(float(by_name[check.name].margin), rel=1e-3)
        elif check.name == "general instability in compression":
            assert check.margin != pytest.approx(float(by_name[check.name].margin), rel=1e-4)
