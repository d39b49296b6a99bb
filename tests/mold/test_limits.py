"""Limits over arrays of dimensions agree with the checks of single molds."""

from __future__ import annotations

from typing import Any

import numpy as np
import pytest
from shapes import small

from gridshell.define.tables.casting import Casting
from gridshell.define.tables.design import Design, with_values
from gridshell.define.tables.mold import Mold
from gridshell.mold.checks.castable import known_material
from gridshell.mold.checks.limits import mold_limits, release_temperature
from gridshell.mold.checks.run import mold_checks
from gridshell.wall.assess import assess_wall

SAME = {"skin fills", "narrow grooves fill", "printed groove", "thin blocks in print",
        "tool in the grooves", "tool reach", "strain of peeling the piece off",
        "smallest inside radius", "tool in the pockets"}


def limits_of(design: Design, mold: Mold) -> dict[str, Any]:
    warm = known_material(design, release_temperature(design, mold))
    bent = assess_wall(design, warm)
    return {limit.name: limit.margin for limit in mold_limits(design, mold, bent, warm)}


@pytest.mark.parametrize("process", ["print", "mill", "machine-part"])
@pytest.mark.parametrize("pattern", ["isogrid", "orthogrid", "diagonal"])
def test_arrays_are_the_single_designs(pattern: str, process: str) -> None:
    mold = Mold(process=process)
    height = np.array([2e-3, 3e-3, 5e-3])
    width = np.array([0.8e-3, 1.6e-3, 3.5e-3])
    many = limits_of(with_values(
        small(pattern), {"ribs.height": height, "ribs.width": width}), mold)
    for index in range(3):
        one = limits_of(with_values(small(pattern), {
            "ribs.height": float(height[index]), "ribs.width": float(width[index])}), mold)
        for name, margin in many.items():
            assert np.broadcast_to(margin, 3)[index] == pytest.approx(float(one[name])), name


@pytest.mark.parametrize("process", ["print", "mill", "machine-part"])
@pytest.mark.parametrize("changes", [
    {}, {"width": 0.7e-3}, {"width": 3.2e-3}, {"height": 7e-3}, {"spacing": 8e-3},
])
def test_what_the_limits_accept_passes_its_check(process: str, changes: dict[str, float]) -> None:
    """Never easier than the check of the built mold; shrinkage counts in the check's favor."""
    # So thin that the pour is in before it sets, which the gates decide, not the dimensions.
    thin = Casting(viscosity=0.02, pour_pressure=2e3)
    design, mold = small("orthogrid", **changes), Mold(process=process, casting=thin)
    limits = limits_of(design, mold)
    for check in mold_checks(design, mold).checks:
        if check.name in SAME & set(limits):
            margin = float(limits[check.name])
            if margin >= 0.02:
                assert check.verdict != "fails", (check.name, margin)
            if margin < -0.02:
                assert check.verdict != "ok", (check.name, margin)


def test_corner_and_fillet_limits_are_what_the_mold_would_reduce() -> None:
    from gridshell.mold.relief.ribbing import ribbing
    from gridshell.wall.geometry.lattice import lattice

    for radius, fillet in ((1e-3, 0.5e-3), (1e-3, 2e-3), (6e-3, 0.5e-3)):
        design = small("orthogrid", corner_radius=radius, root_fillet=fillet)
        group = ribbing(design, lattice(design)).pockets[0]
        limits = limits_of(design, Mold())
        assert (group.corner_radius < radius) == (limits["corner radius fits"] < 0)
        if radius < 6e-3:
            assert (group.fillet < fillet) == (limits["root fillet fits"] < 0)
