"""Scatter studies against closed forms and general statistics libraries."""

from __future__ import annotations

import dataclasses
import json

import numpy as np
import pytest
from scipy import stats

from gridshell.define.errors import DefinitionError, InputError
from gridshell.define.files.reading import design_from_table, read_design
from gridshell.define.tables.design import Case, with_values
from gridshell.define.tables.scatter import Scatter, ScatterInput
from gridshell.report.plots.study.scatter import plot_scatter
from gridshell.report.text.study.scatter import scatter_json, scatter_text
from gridshell.study.scatter.run import scatter_designs
from gridshell.study.scatter.tally import interval
from gridshell.tube.assess import assess_tube, least_margin

from .conftest import make


def scattered(*inputs, draws=40_000, pattern="isogrid", **keys):
    return dataclasses.replace(
        make(pattern=pattern, **keys),
        scatter=Scatter(draws=draws, input=tuple(ScatterInput(*one) for one in inputs)),
    )


def test_failing_share_of_a_closed_form():
    """Buckling loads grow with the modulus, so the share is the bell curve's at 1/(1 + margin).

    In bending alone: under axial load the moment itself grows as the modulus falls.
    """
    bent = Case(name="bent", moment=300.0, factor=1.4)
    design = dataclasses.replace(scattered(("material.modulus", "10 %")), case=(bent,))
    margin = float(assess_tube(design).margin)
    heavier = (dataclasses.replace(bent, factor=1.4 * (1 + margin) / 1.15),)
    design = dataclasses.replace(design, case=heavier)
    assert float(assess_tube(design).margin) == pytest.approx(0.15, abs=1e-6)
    found = scatter_designs(design, samples=60_000, workers=1)
    expected = stats.norm.cdf((1 / 1.15 - 1) / 0.1)
    assert abs(found.share - expected) < 4 * np.sqrt(expected * (1 - expected) / 60_000)
    assert found.interval[0] < found.share < found.interval[1]
    # Groups of equal size leave a little of the bell curve's tails unexplained.
    assert found.drivers["margin"] == pytest.approx({"material.modulus": 1.0}, abs=0.01)


def test_outside_of_the_map_tubes_count_by_the_lower_bound():
    """A load between what the formula and what the lower bound of the stiffness carry."""
    case = Case(name="deep", pressure=1e3, pressure_on_ends=False, factor=1.0)
    design = dataclasses.replace(
        scattered(("material.modulus", "0.1 %"), height=5e-3, width=9e-3), case=(case,))
    tube = assess_tube(design)
    formula, bound = float(tube.margin), float(least_margin(tube))
    assert 0 < bound < 0.9 * formula
    between = dataclasses.replace(case, pressure=case.pressure * (1 + (formula + bound) / 2))
    design = dataclasses.replace(design, case=(between,))
    found = scatter_designs(design, samples=2_000, workers=1)
    assert found.nominal.margin > 0 and found.share == 1.0
    assert found.distributions["margin"].mean == pytest.approx(
        float(least_margin(found.nominal)), abs=1e-3)
    assert "Drawn tubes count by the lower of the two" in scatter_text(found)


def test_mean_and_deviation_of_a_plain_wall():
    """m = 2 pi rho L (R_out - t/2) t with t normal: moments in closed form."""
    design = scattered(("skin.thickness", "0.1 mm"), pattern="plain")
    found = scatter_designs(design, workers=1).distributions["mass"]
    t, s, outside = 2e-3, 1e-4, 0.2
    scale = 2 * np.pi * 1200.0 * 0.6
    mean = scale * (outside * t - (t**2 + s**2) / 2)
    deviation = scale * np.sqrt((outside - t) ** 2 * s**2 + s**4 / 2)
    assert found.mean == pytest.approx(mean, rel=2e-3)
    assert found.deviation == pytest.approx(deviation, rel=0.02)
    for share in (0.01, 0.5, 0.99):
        value = stats.norm.ppf(share)
        expected = scale * (outside * (t + s * value) - (t + s * value) ** 2 / 2)
        assert found.quantiles[share] == pytest.approx(expected, rel=4e-3)


def test_drivers_of_a_sum_of_two():
    """EI = E times a law of t, nearly linear: shares go with the squares of the spreads."""
    design = scattered(
        ("material.modulus", "3 %"), ("skin.thickness", "0.08 mm", "bounds"),
        ("material.density", "2 %"), pattern="plain", draws=80_000,
    )
    found = scatter_designs(design, workers=1).drivers["EI"]
    of_modulus, of_skin = 0.03**2, (0.08 / 2.0) ** 2 / 3  # variance of a flat law: half range^2/3
    assert found["material.modulus"] == pytest.approx(of_modulus / (of_modulus + of_skin), abs=0.02)
    assert found["skin.thickness"] == pytest.approx(of_skin / (of_modulus + of_skin), abs=0.02)
    assert found["material.density"] < 2e-3


def test_interval_against_a_statistics_library():
    """Clopper and Pearson's exact interval, as scipy.stats gives it."""
    for failing, draws in ((0, 50), (3, 50), (50, 50), (120, 10_000)):
        known = stats.binomtest(failing, draws).proportion_ci(0.9, method="exact")
        assert interval(failing, draws, 0.9) == pytest.approx((known.low, known.high), abs=1e-12)


def test_single_tubes_lie_within_the_spread():
    """Independent draws, one tube at a time: every margin within the study's."""
    design = scattered(("skin.thickness", "0.1 mm"), ("ribs.height", "0.2 mm"), draws=2000)
    found = scatter_designs(design, workers=1)
    rng = np.random.default_rng(11)
    lowest = []
    for t in 2e-3 + 1e-4 * np.clip(rng.standard_normal(40), -4, 4):
        lowest.append(float(assess_tube(dataclasses.replace(
            design, skin=dataclasses.replace(design.skin, thickness=t))).margin))
    spread = found.distributions["margin"]
    assert spread.least - 0.02 < min(lowest) and max(lowest) < spread.most + 0.02


def test_same_seed_same_answer_whatever_the_workers():
    design = scattered(("skin.thickness", "0.1 mm"), ("material.modulus", "5 %"))
    one = scatter_designs(design, workers=1)
    two = scatter_designs(design, workers=2)
    assert json.dumps(scatter_json(one)) == json.dumps(scatter_json(two))
    other = dataclasses.replace(design, scatter=dataclasses.replace(design.scatter, seed=2))
    again = scatter_designs(other, workers=1)
    assert again.distributions["EI"].mean != one.distributions["EI"].mean


def test_temperature_and_modulus_scatter_together():
    # Hot melt, which softens by some per cent a kelvin; the cold resin of the example hardly does.
    design = with_values(read_design("examples/size-lake-probe.toml"), {
        "material.name": "hot-melt-eva", "material.temperature": 294.15})
    inputs = (ScatterInput("material.temperature", "2 K", "bounds"),
              ScatterInput("material.modulus", "5 %"))
    design = dataclasses.replace(design, scatter=Scatter(draws=4000, input=inputs))
    found = scatter_designs(design, workers=1)
    assert 0.02 < found.drivers["EI"]["material.modulus"] < 0.98
    assert found.distributions["EI"].mean == pytest.approx(
        float(found.nominal.stiffness.EI), rel=0.05)


def test_impossible_tubes_count_as_failing():
    """Ribs that may be wider than their pockets are tall orders."""
    design = scattered(("ribs.width", "15 mm", "bounds"), width=15.5e-3, draws=3000,
                       corner_radius=0.0, root_fillet=0.0, spacing=50e-3)
    found = scatter_designs(design, workers=1)
    assert 0 < found.impossible <= found.failing
    assert "could not exist" in scatter_text(found)


def test_report_and_picture(tmp_path):
    found = scatter_designs(scattered(("skin.thickness", "0.15 mm"), ("ribs.width", "0.1 mm"),
                              draws=5000), workers=1)
    text = scatter_text(found)
    assert "of tubes fall below zero margin" in text.splitlines()[2]
    json.dumps(scatter_json(found), allow_nan=False)
    plot_scatter(found, tmp_path / "scatter.png")
    assert (tmp_path / "scatter.png").stat().st_size > 10_000


@pytest.mark.parametrize(("inputs", "said"), [
    ([("skin.thickness", "0.6 mm")], "reaches from"),
    ([("ribs.draft", "3 deg")], "reaches from"),
])
def test_spreads_that_reach_too_far_are_refused(inputs, said):
    with pytest.raises(InputError, match=said):
        scatter_designs(scattered(*inputs), workers=1)


def test_too_few_draws_are_refused():
    with pytest.raises(InputError, match="at least 100"):
        scatter_designs(scattered(("skin.thickness", "0.1 mm")), samples=5)


def test_no_scatter_table_is_refused():
    with pytest.raises(InputError, match=r"scatter.input: missing"):
        scatter_designs(make())


@pytest.mark.parametrize(("table", "said"), [
    ({}, "scatter.input: missing"),
    ({"input": [{"field": "skin.thicknes", "spread": "1 %"}]}, "not one of"),
    ({"input": [{"field": "skin.thickness", "spread": "0.1"}]}, "has no unit"),
    ({"input": [{"field": "skin.thickness", "spread": "0.1 N"}]}, "wrong kind"),
    ({"input": [{"field": "skin.thickness", "spread": "-1 %"}]}, "above zero"),
    ({"input": [{"field": "skin.thickness", "spread": "60 %"}]}, "below 50 %"),
    ({"input": [{"field": "material.temperature", "spread": "5 %"}]}, "means nothing"),
    ({"input": [{"field": "skin.thickness", "spread": "1 %"}] * 2}, "given twice"),
    ({"draws": 1, "input": [{"field": "skin.thickness", "spread": "1 %"}]}, "out of range"),
])
def test_bad_scatter_tables_are_named(table, said):
    content = {
        "title": "Invented", "material": {"name": "pla"},
        "tube": {"outside_diameter": "98 mm", "length": "300 mm"},
        "skin": {"thickness": "1.2 mm"}, "ribs": {"pattern": "plain"}, "scatter": table,
    }
    with pytest.raises(DefinitionError, match=said):
        design_from_table(content)
