"""An invented design and an invented brittle material that the chilling tests share."""

import dataclasses

import numpy as np
import pytest

from gridshell.define.tables.chill import Chill, ChillStep
from gridshell.define.tables.design import Case, Design, Material, Ribs, Skin, Tube
from gridshell.thermal.curves import MaterialCurves, constant


@pytest.fixture
def body():
    """A tube of invented size in the library's softest material, ribs inside, lands at edges."""
    return Design(
        "invented tube", Material("hot-melt-eva"),
        Tube(0.102, 0.85, sections=3, segments=2, seam_land=8e-3, end_land=10e-3), Skin(1.6e-3),
        Ribs(pattern="isogrid", height=5e-3, width=2.4e-3, draft=0.05, spacing=26e-3,
             corner_radius=2e-3),
        case=(Case("lifted", compression=220.0, moment=9.0),),
    )


@pytest.fixture
def brittle():
    """A material of constant properties that breaks at 2 % when warm and 0.5 % at 200 K."""
    expansion = 1e-4

    def strain_at_break(t):
        return np.interp(t, [200.0, 300.0], [0.005, 0.02])

    return MaterialCurves(
        "invented brittle", constant(1000.0), constant(0.25), constant(1500.0), constant(2e9),
        constant(2e9), constant(0.35),
        lambda a, b: expansion * (np.asarray(b, float) - a),
        strength=lambda t: 2e9 * strain_at_break(np.asarray(t, float)),
        strain_at_break=lambda t: strain_at_break(np.asarray(t, float)),
    )


@pytest.fixture
def dry_ice():
    """An hour in loose dry ice, which this body stands."""
    return Chill(step=(ChillStep(kind="dry-ice", duration=3600.0, conductance=40.0),))


@pytest.fixture
def change():
    """`dataclasses.replace`, by a shorter name."""
    return dataclasses.replace
