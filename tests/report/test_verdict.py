"""One verdict: nothing that fails, is unknown or was not looked at may stand under "holds"."""

from __future__ import annotations

import dataclasses
import json
from types import SimpleNamespace

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from gridshell.cli import main
from gridshell.define.files.reading import read_design
from gridshell.define.tables.design import Case, with_values
from gridshell.report.verdict import (
    CAUTION,
    FAILS,
    HOLDS,
    NOT_CHECKED,
    WORDS,
    Finding,
    as_built_finding,
    body_findings,
    creep_finding,
    is_range_note,
    judge,
    material_finding,
    measured_finding,
    range_finding,
    scatter_finding,
    structure_finding,
    tolerance_finding,
    tube_findings,
    verdict_of,
)
from gridshell.tube.assess import assess_tube, least_margin

finding = st.builds(Finding, st.sampled_from(["structure", "joints", "range", "mold"]),
                    st.sampled_from(WORDS), st.just("because"),
                    st.none() | st.floats(-1, 5, allow_nan=False))


@given(st.lists(finding, min_size=1, max_size=6))
def test_the_verdict_is_the_worst_finding_and_its_line_says_every_fault(findings):
    verdict = judge(findings)
    assert verdict.word == min((f.word for f in findings), key=WORDS.index)
    assert verdict.line.startswith("holds:") == (verdict.word == HOLDS)
    for one in findings:
        if one.word != HOLDS:
            assert one.area in verdict.line
    lowest = min((f.margin for f in findings if f.margin is not None), default=None)
    assert lowest == (None if verdict.lowest is None else verdict.lowest.margin)
    if verdict.lowest is not None:  # it is never left out, whatever holds beside it
        assert verdict.lowest.area in verdict.line
    margins = [f.margin for f in verdict.findings if f.word == HOLDS and f.margin is not None]
    assert margins == sorted(margins)
    assert "\n" not in verdict.line


def test_the_lowest_margin_leads_also_where_it_is_a_joint_of_the_body(examples):
    """The mast's load cases leave more than the joints along its body in a gale."""
    verdict = verdict_of(read_design(
        next(path for path in examples if path.stem == "tide-mast")))
    margins = {one.area: one.margin for one in verdict.findings if one.margin is not None}
    assert margins["joints"] < margins["events"] < margins["structure"]
    assert verdict.lowest.area == "joints" and "joints: lowest margin +0.18" in verdict.line
    assert "+1.97" not in verdict.line


def with_margin(tube, value):
    """The tube with one check of its first case at another margin."""
    case = tube.cases[0]
    check = dataclasses.replace(case.checks[0], margin=value)
    return dataclasses.replace(tube, cases=(
        dataclasses.replace(case, checks=(check, *case.checks[1:])), *tube.cases[1:]))


@pytest.fixture(scope="module")
def tube(make_design, make_properties):
    design = with_values(make_design("isogrid"), {"case": (Case("push", compression=100.0),)})
    return assess_tube(design, make_properties())


def test_structure_is_judged_by_its_lowest_margin(tube, make_design, make_properties):
    assert structure_finding(tube).word == HOLDS
    assert structure_finding(with_margin(tube, np.float64(-1e-9))).word == FAILS
    assert structure_finding(with_margin(tube, np.float64(np.nan))).word == NOT_CHECKED
    # A margin that is not known hides none that is below zero.
    case = tube.cases[0]
    margins = (np.float64(np.nan), np.float64(-0.2))
    both = dataclasses.replace(tube, cases=(dataclasses.replace(case, checks=tuple(
        dataclasses.replace(check, margin=value)
        for check, value in zip(case.checks, margins, strict=False))),))
    assert structure_finding(both).word == FAILS
    none = assess_tube(make_design("isogrid"), make_properties())
    assert structure_finding(none).word == NOT_CHECKED
    idle = assess_tube(with_values(make_design("isogrid"), {"case": (Case("rest"),)}),
                       make_properties())
    assert structure_finding(idle).word == NOT_CHECKED  # "no load" is no proof of anything


def test_outside_a_range_is_a_caution(tube):
    assert is_range_note("rib height / rib width 5.56 is outside 0.5 to 4, where the formula ...")
    assert not is_range_note("A within 1 %, B within 3 %, D within 1.5 % of solid cells")
    far = dataclasses.replace(tube, notes=("r/t above 1500: outside the knockdown's data",))
    assert range_finding(far).word == CAUTION
    assert "1500" in range_finding(far).reason


def test_creep_that_nobody_knows_is_a_caution(make_design):
    def word(duration, **material):
        design = with_values(make_design("isogrid"), {
            "case": (Case("push", compression=100.0, duration=duration),),
            **{f"material.{key}": value for key, value in material.items()}})
        found = creep_finding(assess_tube(design))
        return None if found is None else found.word

    assert word(None) is None and word(60.0) is None
    assert word(3600.0) == CAUTION and word(None, load_duration=3600.0) == CAUTION
    assert word(10.0, load_duration=3600.0) is None
    assert word(7200.0, load_duration=3600.0) == CAUTION
    assert word(3600.0, creep_factor=0.7) is None


def test_a_mold_that_fails_fails_the_design(examples, monkeypatch):
    from gridshell.mold.checks import run
    from gridshell.report.verdict import mold_finding

    design = read_design(next(path for path in examples if path.stem == "lake-probe"))
    checks = run.mold_checks(design)
    bad = dataclasses.replace(checks, checks=(
        dataclasses.replace(checks.checks[0], verdict="fails"), *checks.checks[1:]))
    assert mold_finding(design, bad).word == FAILS
    assert checks.checks[0].name in mold_finding(design, bad).reason
    monkeypatch.setattr(run, "mold_checks", lambda design, **how: bad)
    verdict = verdict_of(design)
    assert verdict.word == FAILS and verdict.line.startswith("FAILS: mold")
    assert "structure" in verdict.line  # the structure holds all the same, and that is said
    assert verdict_of(with_values(design, {"mold": None})).word != FAILS
    # [mold] is stated, and a tube in one piece has no seam to part one at.
    in_one = with_values(design, {"tube.segments": 1, "tube.seam_land": 0.0})
    assert mold_finding(in_one).word == FAILS


@pytest.mark.parametrize("command", ["wall", "tube", "compare"])
def test_the_first_line_is_the_verdict_and_strict_goes_by_it(capsys, examples, command):
    path = next(path for path in examples if path.stem == "tide-mast")
    verdict = verdict_of(read_design(path))
    assert main([command, str(path)]) == 0
    assert capsys.readouterr().out.splitlines()[0] == verdict.line
    assert main([command, str(path), "--strict", "--json"]) == int(verdict.word != HOLDS)
    found = json.loads(capsys.readouterr().out)
    told = found["design_verdict" if command == "compare" else "verdict"]
    assert told == verdict.to_dict()


def test_a_bend_test_that_sinks_a_case_is_in_the_verdict():
    def word(*values):
        found = measured_finding(SimpleNamespace(margins={"push": values, "pull": (3.0, 2.0, 1.0)}))
        return found.word

    assert measured_finding(SimpleNamespace(margins={})) is None
    assert word(0.5, 0.2, 0.1) == HOLDS
    assert word(0.5, -0.1, -0.3) == FAILS
    assert word(0.5, 0.1, -0.1) == CAUTION
    assert word(0.5, 0.1, np.nan) == NOT_CHECKED
    assert word(0.5, np.inf, np.inf) == HOLDS


def test_a_shape_worse_than_the_published_factor_is_in_the_verdict(tube):
    def found(used, knockdown="published"):
        return as_built_finding(SimpleNamespace(
            design=SimpleNamespace(as_built=SimpleNamespace(knockdown=knockdown)), used=used,
            published={"compression": SimpleNamespace(factor=0.65)}), tube)

    assert found(0.7) is None and found(0.3, "measured") is None
    assert found(0.6).word == CAUTION and "0.60" in found(0.6).reason
    assert found(1e-6).word == FAILS

    def expected(factor):
        return tolerance_finding(SimpleNamespace(factor=factor, published=0.65), tube)

    assert expected(None) is None and expected(0.7) is None
    assert expected(np.nan).word == CAUTION and expected(1e-6).word == CAUTION


def test_a_margin_nobody_knows_over_temperature_is_no_pass(make_design):
    from gridshell.report.verdict import temperature_finding
    from gridshell.study.temperature import over_temperature

    study = over_temperature(with_values(make_design("isogrid"), {
        "material.name": "pla", "material.modulus": None,
        "case": (Case("push", compression=1.0),)}), points=3)
    assert temperature_finding(study) is None
    assert temperature_finding(dataclasses.replace(
        study, tube=with_margin(study.tube, np.array([1.0, np.nan, 1.0])))).word == CAUTION


def test_events_of_the_body_count_stated_as_cases_or_not(examples):
    design = read_design(next(path for path in examples if path.stem == "tide-mast"))
    tube = assess_tube(design)
    words = {one.area: one.word for one in body_findings(tube)}
    assert words["events"] == words["joints"] == HOLDS
    gale = dataclasses.replace(design.body.event[0], factor=40.0)
    worse = with_values(design, {"body.event": (gale, *design.body.event[1:])})
    words = {one.area: one.word for one in body_findings(dataclasses.replace(tube, design=worse))}
    assert words["events"] == FAILS
    assert body_findings(dataclasses.replace(
        tube, design=with_values(design, {"body": None}))) == []


@pytest.mark.parametrize(("material", "degrees", "says"), [
    ("pla", 20.0, None), ("pla", 50.0, "above the highest usual"),
    ("paraffin-microcrystalline", -30.0, "below the lowest usual"),
])
def test_a_material_beyond_its_usual_temperatures_is_a_caution(
        make_design, material, degrees, says):
    found = material_finding(assess_tube(with_values(make_design("isogrid"), {
        "material.name": material, "material.temperature": degrees + 273.15})))
    assert (found is None) if says is None else found.word == CAUTION and says in found.reason


def test_creep_beyond_its_data_is_a_caution(make_design):
    design = with_values(make_design("isogrid"), {
        "material.name": "pla", "case": (Case("push", compression=1.0, duration=9e9),)})
    assert "extrapolated" in material_finding(assess_tube(design)).reason


def test_most_tubes_below_zero_is_a_failure():
    def word(failing, impossible=0):
        return scatter_finding(SimpleNamespace(
            failing=failing, impossible=impossible, samples=1000, share=failing / 1000,
            interval=(0.0, 0.004), confidence=0.95)).word

    assert word(0) == HOLDS and word(1) == CAUTION and word(501) == FAILS


def test_a_cast_section_too_long_for_the_bed_is_in_the_verdict(tube):
    from gridshell.report.verdict import size_verdict

    best = SimpleNamespace(rounded=SimpleNamespace(tube=tube))
    fits = size_verdict(SimpleNamespace(best=best, bed=None))
    bed = size_verdict(SimpleNamespace(best=best, bed="too long"))
    assert all(one.area != "bed" for one in fits.findings)
    assert any(one.area == "bed" and one.word == CAUTION for one in bed.findings)
    assert size_verdict(SimpleNamespace(best=None, bed=None)).word == FAILS


def test_a_margin_by_the_formula_alone_is_not_shown_to_hold(make_design, make_properties):
    """Outside of the map the verdict of every command, and the page's, goes by the lower bound."""
    case = Case(name="deep", pressure=1e3, pressure_on_ends=False, factor=1.0)
    stated = make_design("isogrid", ribs__height=5e-3, ribs__width=9e-3, case=(case,))
    tube = assess_tube(stated, make_properties())
    assert tube.wall.outside_map
    formula, bound = float(tube.margin), float(least_margin(tube))
    assert 0 < bound < formula
    between = case.pressure * (1 + (formula + bound) / 2)
    tube = assess_tube(with_values(stated, {
        "case": (dataclasses.replace(case, pressure=between),)}), make_properties())
    assert least_margin(tube) < 0 < tube.margin
    found = range_finding(tube)
    assert found.word == "not checked" and "lower bound" in found.reason
    assert judge(tube_findings(tube)).word == "not checked"
