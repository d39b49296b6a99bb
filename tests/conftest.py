"""Designs and materials that several tests start from; all of them invented."""

from __future__ import annotations

import os
import tempfile

# Many small matrices: threads of the linear algebra library only get in each other's way.
os.environ.setdefault("OPENBLAS_NUM_THREADS", "1")
# Unit cells that commands solve by themselves are kept for one run, not in the user's cache.
os.environ["XDG_CACHE_HOME"] = tempfile.mkdtemp(prefix="gridshell-tests-")

from pathlib import Path

import numpy as np
import pytest

from gridshell.define.files.reading import design_from_table
from gridshell.define.tables.design import with_values
from gridshell.material.properties import Properties

EXAMPLES = Path(__file__).parent.parent / "examples"

_RIBS = {
    "isogrid": {"pattern": "isogrid", "spacing": "26 mm"},
    "isogrid-axial": {"pattern": "isogrid", "orientation": "axial", "spacing": "26 mm"},
    "orthogrid": {"pattern": "orthogrid", "spacing": "24 mm", "hoop_spacing": "30 mm"},
    "diagonal": {"pattern": "diagonal", "spacing": "22 mm", "angle": "40 deg"},
    "families": {"pattern": "families", "family": [
        {"angle": "0 deg", "spacing": "30 mm"}, {"angle": "60 deg", "spacing": "30 mm"},
        {"angle": "-60 deg", "spacing": "30 mm"},
    ]},
}


def _make_design(wall="isogrid", **values):
    """A checked design of one pattern, then changed (unchecked) by keys like ribs__height."""
    content = {
        "title": "Invented scenario: tube for the tests",
        "material": {"name": "test", "modulus": "2 GPa", "poisson": 0.35,
                     "density": "1000 kg/m^3", "strength": "30 MPa"},
        "tube": {"outside_diameter": "200 mm", "length": "600 mm"},
        "skin": {"thickness": "1.5 mm"},
        "ribs": {"pattern": "plain"},
    }
    if wall != "plain":
        content["ribs"] = {"height": "5 mm", "width": "2 mm", **_RIBS[wall]}
    design = design_from_table(content)
    return with_values(design, {key.replace("__", "."): value for key, value in values.items()})


def _make_properties(modulus=2e9, poisson=0.35, density=1000.0, strength=30e6):
    return Properties("test", 294.15, modulus, poisson, density, strength)


@pytest.fixture(scope="session")
def make_design():
    """Function: a design of a pattern with changed values."""
    return _make_design


@pytest.fixture(scope="session")
def make_properties():
    """Function: an isotropic material."""
    return _make_properties


@pytest.fixture(scope="session")
def make_unit_cell():
    """Function: a solid cell of a design without finite elements: the formula's A, B, D times given
    factors, as if that had been solved."""
    from gridshell.define.files.unit_cell import CellGeometry, UnitCell
    from gridshell.wall.assess import assess_wall

    def made(design, properties, stretch=1.02, couple=1.05, bend=0.96):
        built, ribs = assess_wall(design, properties), design.ribs
        factors = {"A": stretch, "B": couple, "D": bend}
        return UnitCell(
            "Invented scenario", float(properties.poisson), "medium", 12000, 0.003,
            CellGeometry(
                ribs.pattern, ribs.orientation, ribs.side, design.skin.thickness, ribs.height,
                ribs.width, ribs.draft, ribs.corner_radius, ribs.root_fillet,
                float(built.grid.cell_height), float(built.grid.cell_width),
            ),
            {name: (factors[name] * matrix / properties.modulus).tolist()
             for name, matrix in zip("ABD", (built.A, built.B, built.D), strict=True)},
            {"A11": 1 / stretch - 1, "EA": 0.01},
        )

    return made


@pytest.fixture(scope="session")
def patterns():
    """Names of the walls that `make_design` knows."""
    return (*_RIBS, "plain")


@pytest.fixture(scope="session")
def examples():
    """The example files whose first tables are those of a tube."""
    return sorted(EXAMPLES.glob("*.toml"))


def make_random_walls(count, seed=0):
    """A, B, D of random but possible stiffened walls (designs, 3, 3), and radii."""
    from gridshell.wall.stiffness.smeared import family_stiffness, skin_stiffness

    random = np.random.default_rng(seed)
    modulus, poisson = 1.0e9, random.uniform(0.0, 0.45, count)
    skin = 10 ** random.uniform(-3.3, -2.5, count)
    A, D = skin_stiffness(modulus, poisson, skin)
    B = np.zeros_like(A)
    side = random.choice([-1.0, 1.0], count)
    for angles in ((0.0,), (np.pi / 2,), (np.pi / 3, -np.pi / 3)):  # balanced
        height = skin * random.uniform(1.0, 6.0, count)
        width = skin * random.uniform(0.5, 2.0, count)
        pitch = skin * random.uniform(8.0, 40.0, count)
        for angle in angles:
            added = family_stiffness(
                np.cos(angle), np.sin(angle), pitch, modulus * width * height,
                side * (skin + height) / 2, modulus * width * height**3 / 12,
                modulus / (2 * (1 + poisson)) * height * width**3 / 3,
            )
            A, B, D = A + added[0], B + added[1], D + added[2]
    return A, B, D, skin * 10 ** random.uniform(1.5, 2.6, count)


@pytest.fixture(scope="session")
def random_walls():
    """Function: `make_random_walls`."""
    return make_random_walls
