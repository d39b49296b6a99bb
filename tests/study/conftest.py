"""Designs that the tests of this folder share; all invented."""

from __future__ import annotations

import pytest

from gridshell.define.tables.design import Case, Design, Material, Ribs, Skin, Tube
from gridshell.define.tables.target import Target


def make(
    *, pattern: str = "isogrid", target: Target | None = None,
    cases: tuple[Case, ...] | None = None,
    diameter: float = 0.4, length: float = 0.6, **changes: object,
) -> Design:
    """An invented tube of a made-up plastic."""
    ribs: dict[str, object] = {
        "pattern": pattern, "height": 4e-3, "width": 1.5e-3, "spacing": 30e-3,
        "draft": 0.03, "corner_radius": 1e-3, "root_fillet": 0.5e-3,
    }
    if pattern == "orthogrid":
        ribs["hoop_spacing"] = 30e-3
    if pattern == "diagonal":
        ribs["angle"] = 0.6
    ribs.update(changes)
    if cases is None:
        cases = (Case(name="push", compression=12e3, moment=300.0, factor=1.4),)
    return Design(
        title="Invented tube for tests",
        material=Material(
            name="made-up plastic", modulus=3e9, poisson=0.35, density=1200.0, strength=45e6
        ),
        tube=Tube(outside_diameter=diameter, length=length),
        skin=Skin(thickness=2e-3),
        ribs=Ribs(**ribs) if pattern != "plain" else Ribs(pattern="plain"),  # type: ignore[arg-type]
        case=cases,
        target=target,
    )


@pytest.fixture(scope="session")
def sized():
    """The invented tube, sized over every wall; shared, because it takes seconds."""
    from gridshell.study.size.run import size_tube

    return size_tube(make())
