"""One tube over temperature: the same numbers as one temperature at a time."""

from __future__ import annotations

from pathlib import Path

import numpy as np
import pytest

from gridshell.define.errors import InputError
from gridshell.define.files.reading import read_design
from gridshell.define.tables.design import with_values
from gridshell.study.temperature import over_temperature
from gridshell.tube.assess import assess_tube

PROBE = Path(__file__).parents[2] / "examples" / "lake-probe.toml"


def test_each_temperature_equals_an_assessment_of_its_own() -> None:
    design = read_design(PROBE)
    study = over_temperature(design, points=7)
    for i in (0, 3, 6):
        alone = assess_tube(with_values(
            design, {"material.temperature": float(study.temperature[i])}))
        assert study.tube.stiffness.EI[i] == pytest.approx(float(alone.stiffness.EI), rel=1e-12)
        for many, one in zip(study.tube.cases, alone.cases, strict=True):
            # Arrays search a net of waves, one design every wave; see tests/tube.
            assert np.broadcast_to(many.margin, 7)[i] == pytest.approx(float(one.margin), rel=0.02)


def test_cold_is_stiffer_and_stronger() -> None:
    # Common practice, no source: soft castable polymers gain stiffness in the cold.
    study = over_temperature(read_design(PROBE), points=21)
    assert np.all(np.diff(study.stiffness_ratio) < 0)
    assert np.interp(study.reference.wall.properties.temperature, study.temperature,
                     study.stiffness_ratio) == pytest.approx(1.0, abs=0.05)


def test_one_stated_modulus_has_nothing_to_draw() -> None:
    design = with_values(read_design(PROBE), {"material.modulus": 50e6})
    with pytest.raises(InputError, match=r"material\.modulus"):
        over_temperature(design)
