"""The factor expected of a tube at its tolerances, through every command that may take it."""

from __future__ import annotations

import dataclasses

import numpy as np
import pytest

from gridshell.define.errors import DefinitionError, InputError
from gridshell.define.files.reading import read_design
from gridshell.define.making import make_design
from gridshell.define.tables.design import with_values
from gridshell.explore.controls import controls_of
from gridshell.material.resolve import properties
from gridshell.report.verdict import CAUTION, promised_finding, tolerance_finding
from gridshell.study.scatter.run import scatter_designs
from gridshell.study.size.run import size_tube, write_sized
from gridshell.study.temperature import over_temperature
from gridshell.tube.as_built import tolerance
from gridshell.tube.as_built.own import own_knockdowns
from gridshell.tube.as_built.tolerance import Curve, at_tolerance, expected, taking
from gridshell.tube.assess import assess_tube
from gridshell.tube.buckling.knockdown import knockdowns

CAST = {"name": "x", "modulus": "3 GPa", "poisson": 0.35, "density": "1200 kg/m^3",
        "strength": "40 MPa", "creep_factor": 1.0}


def made(roundness="0.1 mm", **more):
    tables = {
        "title": "Invented: at its tolerance", "material": CAST,
        "tube": {"outside_diameter": "100 mm", "length": "120 mm"},
        "skin": {"thickness": "1.5 mm"}, "ribs": {"pattern": "plain"},
        "case": [{"name": "push", "compression": "2500 N"}],
        "as_built": {"knockdown": "expected", "roundness": roundness, "thickness": "0.05 mm"},
    }
    for name, value in more.items():
        tables[name] = {k: v for k, v in {**tables.get(name, {}), **value}.items()
                        if v is not None} if isinstance(value, dict) else value
    return make_design(**tables)


@pytest.fixture(autouse=True)
def few_amplitudes(monkeypatch):
    monkeypatch.setattr(tolerance, "AMPLITUDES", (0.05, 0.2, 0.7))  # three do, and are quicker


def known(design):
    return properties(design.material, design.folder)


def test_the_checks_take_what_the_tolerance_says():
    design = made()
    tube = assess_tube(design)
    published = knockdowns(tube.wall)
    found = expected(tube.wall, float(published["compression"].factor), "round")
    taken = own_knockdowns(tube.wall)
    assert taken["compression"].factor == pytest.approx(min(found.factor, 0.85))
    assert taken["torsion"] == published["torsion"] and taken["pressure"] == published["pressure"]
    check = next(c for c in tube.cases[0].checks if c.name == "general instability in compression")
    assert check.knockdown == pytest.approx(taken["compression"].factor)
    assert "EXPECTED" in check.source and tolerance_finding(found, tube) is None
    # A promise is never worth more than the cap, and less roundness never more.
    assert own_knockdowns(assess_tube(made(as_built={"cap": 0.3})).wall)[
        "bending"].factor == 0.3
    assert own_knockdowns(assess_tube(made("0.3 mm")).wall)["compression"].factor < float(
        taken["compression"].factor)


def test_a_promise_above_the_published_factor_is_a_caution(monkeypatch):
    tube = assess_tube(made())
    for factor, word in ((0.84, CAUTION), (0.01, None)):
        finding = promised_finding(dataclasses.replace(tube, wall=dataclasses.replace(
            tube.wall, design=taking(tube.design, factor))))
        assert (None if finding is None else finding.word) == word


@pytest.mark.parametrize(("change", "words"), [
    ({"as_built": {"roundness": None}}, "as_built.roundness: missing"),
    ({"tube": {"ends": "clamped"}}, "as_built.knockdown"),
])
def test_contradictions_are_refused(change, words):
    tables = {key: {k: v for k, v in {**base, **change.get(key, {})}.items() if v is not None}
              for key, base in (
                  ("as_built", {"knockdown": "expected", "roundness": "0.1 mm"}),
                  ("tube", {"outside_diameter": "100 mm", "length": "120 mm"}))}
    with pytest.raises(DefinitionError, match=words):
        make_design(title="Invented", material=CAST, skin={"thickness": "1.5 mm"},
                    ribs={"pattern": "plain"}, **tables)


def test_beyond_what_is_known_there_is_no_answer():
    with pytest.raises(InputError, match=r"as_built\.roundness.*beyond"):
        assess_tube(made("2 mm"))


@pytest.mark.parametrize("change", [
    {"cap": 3.0}, {"roundness": None}, {"roundness": 0.0}, {"thickness": -1e-4}, {"ends": "rond"}])
def test_what_no_file_may_state_is_refused_from_python(change):
    design = made()
    wrong = dataclasses.replace(design, as_built=dataclasses.replace(design.as_built, **change))
    with pytest.raises(InputError, match=rf"as_built\.{next(iter(change))}"):
        assess_tube(wrong)


def test_no_factor_that_is_taken_is_above_the_cap():
    tube = assess_tube(taking(made(), 5.0))
    assert own_knockdowns(tube.wall)["compression"].factor == 0.85


def test_many_designs_are_refused():
    design = made()
    many = with_values(design, {"skin.thickness": np.array([1.4e-3, 1.5e-3])})
    with pytest.raises(InputError, match="one tube at a time"):
        assess_tube(many)
    with pytest.raises(InputError, match="one tube at a time"):
        controls_of(design)


def quick_curve(tube, ends):
    """A factor that falls with the deviation over the skin, in place of seconds of solving."""
    height = np.array([0.02, 0.1, 0.4, 1.6]) * tube.skin * tube.wall.radius
    return Curve(height, 1 / (1 + 3 * height / (tube.skin * tube.wall.radius)), ends)


def test_a_sized_wall_has_the_factor_that_it_counts_on(tmp_path, monkeypatch):
    monkeypatch.setattr(tolerance, "curve_of", quick_curve)
    tolerance._curve.cache_clear()
    masses = []
    for roundness in ("0.05 mm", "0.4 mm"):
        design = made(roundness, target={"walls": ["plain"]},
                      case=[{"name": "push", "compression": "9 kN"}])
        sized = size_tube(design)
        assert sized.best is not None and sized.best.rounded is not None
        write_sized(sized, tmp_path / "sized.toml", force=True)
        written = assess_tube(read_design(tmp_path / "sized.toml"))
        assert float(written.margin) == pytest.approx(float(sized.best.rounded.tube.margin))
        assert float(written.margin) >= -1e-6
        assert "taken" not in (tmp_path / "sized.toml").read_text()
        # No step thinner holds with the factor of that thinner wall.
        thinner = with_values(written.design, {
            "skin.thickness": written.design.skin.thickness - 1.01 * design.target.step})
        assert float(assess_tube(thinner).margin) < 0
        masses.append(float(written.mass))
    assert masses[0] < masses[1]
    tolerance._curve.cache_clear()


def test_the_factor_is_the_same_at_every_temperature(monkeypatch):
    monkeypatch.setattr(tolerance, "curve_of", quick_curve)
    tolerance._curve.cache_clear()
    study = over_temperature(made(material={
        "name": "epoxy-casting", "modulus": None, "poisson": None, "density": None,
        "strength": None, "creep_factor": None}), points=5)
    checks = [next(c for c in case.checks if c.name == "general instability in compression")
              for case in (*study.tube.cases, *study.reference.cases)]
    assert np.all(checks[0].knockdown == checks[1].knockdown)
    tolerance._curve.cache_clear()


def test_scatter_counts_a_deviation_by_the_skin_it_is_in():
    design = made("0.2 mm")
    built = assess_tube(design).wall
    found = expected(built, 0.6, "round")
    skins = np.array([1.2e-3, 1.5e-3, 1.8e-3])
    factors = at_tolerance(found, design, skins)
    assert factors[0] < factors[1] == factors[2]
    assert factors[1] == pytest.approx(min(found.factor, 0.85))
    assert np.isnan(at_tolerance(found, design, np.array([1e-4]))[0])

    def lowest(knockdown):
        varied = made("0.2 mm", scatter={"input": [
            {"field": "skin.thickness", "spread": "0.05 mm"}]}, as_built={"knockdown": knockdown})
        return scatter_designs(varied, known(varied), samples=200)

    ours, theirs = lowest("expected"), lowest("published")
    assert float(ours.nominal.margin) != pytest.approx(float(theirs.nominal.margin))
    assert ours.distributions["margin"].mean == pytest.approx(float(ours.nominal.margin), abs=0.1)
