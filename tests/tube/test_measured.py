"""The built tube against its prediction: made-up readings whose cause is known."""

import json
from pathlib import Path

import numpy as np
import pytest

from gridshell.define.errors import DefinitionError, InputError
from gridshell.define.files.reading import design_from_table, read_design
from gridshell.define.tables.design import with_values
from gridshell.loads.section_forces import Loads
from gridshell.loads.varying_beam import Beam, deflect
from gridshell.report.text.tube.measured import measured_json, measured_text
from gridshell.tube.bend_test.measured import (
    Predicted,
    measured,
    predict,
    void_factor,
)
from gridshell.tube.bend_test.readings import bend_flexibility, read_bend_test

EXAMPLES = Path(__file__).parents[2] / "examples"

DESIGN = design_from_table({
    "title": "invented", "material": {"name": "stuff", "modulus": "2 GPa", "poisson": 0.35,
                                      "density": "1200 kg/m^3", "strength": "30 MPa"},
    "tube": {"outside_diameter": "100 mm", "length": "1 m", "sections": 2},
    "skin": {"thickness": "3 mm"}, "ribs": {"pattern": "plain"},
    "case": [{"name": "push", "compression": "500 N"}],
})


def stand_in(design):
    """EI by skin, a modulus that falls 1 % a kelvin, one soft joint at mid-length."""
    t, T = float(design.skin.thickness), float(design.material.temperature)
    E = 2e9 * (1 - 0.01 * (T - 294.15))
    return Predicted(E * np.pi * 0.05**3 * t, E * np.pi * 0.05 * t / 2.7, 400.0 * t, E, 2e-5)


def write(tmp_path, load, deflection, *settings, head="load [N], deflection [mm]"):
    lines = [*(f"# {one}" for one in settings), head,
             *(f"{a}, {b}" for a, b in zip(load, deflection, strict=True))]
    path = tmp_path / "bend.csv"
    path.write_text("\n".join(lines), encoding="utf-8")
    return path


@pytest.mark.parametrize("test", ["three-point", "four-point", "cantilever"])
def test_flexibility_agrees_with_the_finite_element_beam(test):
    span, EI, GA, c, load_span = 1.2, 40.0, 900.0, 0.004, 0.4
    beam = Beam.uniform(span, EI, 1.0, GA, elements=12, joints={3: c, 7: c})
    loads = Loads.none(13)
    if test == "cantilever":
        loads.across_at[0] = 1.0
        w = deflect(beam, loads, "cantilever").deflection[0]
        joints = span - beam.stations[[3, 7]]
    else:
        at = [6] if test == "three-point" else [4, 8]
        loads.across_at[at] = 1.0 / len(at)
        w = deflect(beam, loads, "simply-supported").deflection[6]
        joints = beam.stations[[3, 7]]
    found = bend_flexibility(test, span, EI, GA, joints, joint_flexibility=c,
                             load_span=load_span)
    assert sum(found) == pytest.approx(w)


@pytest.mark.parametrize("test", ["three-point", "cantilever"])
def test_known_causes_are_found_again(tmp_path, test):
    thin, warm, voids, rest = 2.8e-3, 299.15, 0.03, 0.93
    changed = stand_in(with_values(DESIGN, {"skin.thickness": thin, "material.temperature": warm}))
    factor = void_factor(voids) * rest
    joint = np.array([0.4]) if test == "three-point" else np.array([0.5])
    slope = sum(bend_flexibility(test, 0.8, changed.EI * factor, changed.GA * factor, joint,
                                 joint_flexibility=changed.joint_flexibility))
    load = np.linspace(0, 200, 6)
    path = write(
        tmp_path, load, load * slope * 1e3, f"test = {test}", "span = 800 mm",
        "temperature = 26 degC", "skin_thickness = 2.8 mm",
        f"mass = {400 * thin * (1 - voids) * 1e3} g", "deflection_error = 0.001 mm",
    )
    found = measured(DESIGN, path, stand_in, lambda design: {"push": 1.0})
    by_name = {cause.name: cause for cause in found.causes}
    assert by_name["wall thickness"].factor == pytest.approx(2.8 / 3.0)
    assert by_name["temperature"].factor == pytest.approx(0.95)
    assert by_name["temperature"].remark.startswith("26.0 degC for 21.0 degC")
    assert by_name["voids"].factor == pytest.approx(0.97**2)
    # The joint stands in series, so what is left is the rest on the bending part only.
    bending = sum(bend_flexibility(test, 0.8, changed.EI * 0.97**2, changed.GA * 0.97**2, joint,
                                   joint_flexibility=changed.joint_flexibility))
    assert by_name["modulus, rib sizes, all else"].factor == pytest.approx(bending / slope)
    assert sum(cause.share for cause in found.causes) == pytest.approx(1.0)
    # Actual EI with joints taken out is exactly what went in.
    assert pytest.approx(changed.EI * factor) == found.EI
    assert found.EI_error / found.EI == pytest.approx(np.divide(*found.effective_modulus[::-1]))
    assert found.corrected_modulus == pytest.approx(2e9 * 2.8 / 3.0 * 0.97**2 * 0.93)


def test_uncertainty_covers_noise(tmp_path):
    rng = np.random.default_rng(1)
    true = sum(bend_flexibility("three-point", 0.8, *(
        (p := stand_in(DESIGN)).EI, p.GA), np.array([0.4]), joint_flexibility=p.joint_flexibility))
    load = np.linspace(0, 300, 8)
    inside = 0
    for _ in range(100):
        noisy = load * true + rng.normal(0, 2e-5, 8)
        path = write(tmp_path, load, noisy * 1e3, "span = 800 mm", "deflection_error = 0.02 mm",
                     "load_error = 0", "span_error = 0 mm")
        found = measured(with_values(DESIGN, {"case": ()}), path, stand_in)
        inside += abs(found.EI - found.EI_predicted) < 2 * found.EI_error
    assert 88 <= inside <= 100
    assert found.margins == {}


def test_no_difference_is_not_explained(tmp_path):
    slope = sum(bend_flexibility("three-point", 0.8, stand_in(DESIGN).EI, stand_in(DESIGN).GA,
                                 np.array([]), joint_flexibility=0.0))
    whole = with_values(DESIGN, {"tube.sections": 1})
    load = np.linspace(0, 200, 5)
    path = write(tmp_path, load, load * slope * 1e3, "span = 800 mm")
    found = measured(whole, path, stand_in, lambda design: {"push": 1.0})
    assert found.ratio == pytest.approx(1.0)
    assert all(cause.share is None for cause in found.causes)
    assert any("nothing to explain" in note for note in found.notes)


def test_heavy_tubes_have_no_voids_and_scatter_is_said(tmp_path):
    load = np.linspace(0, 200, 6)
    wobble = np.array([0, 1, -1, 1, -1, 0]) * 0.2
    path = write(tmp_path, load, load * 0.004 + wobble, "span = 800 mm", "mass = 1300 g")
    found = measured(DESIGN, path, stand_in, lambda design: {})
    assert next(c for c in found.causes if c.name == "voids").factor == 1.0
    assert any("scatter" in note for note in found.notes)


def test_real_prediction_and_margins(tmp_path):
    p = predict(DESIGN)
    slope = sum(bend_flexibility("three-point", 0.8, p.EI * 0.9, p.GA * 0.9, np.array([0.4]),
                                 joint_flexibility=p.joint_flexibility))
    load = np.linspace(0, 200, 5)
    found = measured(DESIGN, write(tmp_path, load, load * slope * 1e3, "span = 800 mm"))
    assert found.corrected_modulus == pytest.approx(1.8e9)
    designed, corrected, low = found.margins["push"]
    # Buckling of a plain tube goes with the modulus.
    assert (1 + corrected) / (1 + designed) == pytest.approx(0.9, rel=1e-3)
    assert low < corrected
    assert "0.900 times as stiff" in measured_text(found)
    json.dumps(measured_json(found), allow_nan=False)


def test_a_test_that_says_nothing_gives_no_margin(tmp_path):
    load = np.linspace(0, 200, 5)
    slope = sum(bend_flexibility("three-point", 0.8, (p := predict(DESIGN)).EI, p.GA,
                                 np.array([0.4]), joint_flexibility=p.joint_flexibility))
    path = write(tmp_path, load, load * slope * 1e3, "span = 800 mm",
                 f"deflection_error = {slope * 200 * 1e3} mm")
    found = measured(DESIGN, path)
    assert found.EI_error > 0.5 * found.EI
    assert np.isnan(found.margins["push"][2])  # not that of a twentieth of the modulus
    assert any("says next to nothing" in note for note in found.notes)
    assert "not known" in measured_text(found)
    json.dumps(measured_json(found), allow_nan=False)


def test_a_short_test_is_compared_with_the_modulus_of_a_short_test(tmp_path):
    lasting = with_values(DESIGN, {
        "material.load_duration": 3.15e7, "material.creep_factor": 0.3})
    assert predict(lasting).EI == pytest.approx(predict(DESIGN).EI)
    # A modulus stated over temperature gives way to the measured one.
    curve = {"temperature": ["0 degC", "40 degC"], "value": ["2.2 GPa", "1.8 GPa"]}
    curved = with_values(lasting, {
        "material.modulus": None, "material.properties": {"modulus": curve}})
    slope = sum(bend_flexibility("three-point", 0.8, (p := predict(curved)).EI, p.GA,
                                 np.array([0.4]), joint_flexibility=p.joint_flexibility))
    load = np.linspace(0, 200, 5)
    found = measured(curved, write(tmp_path, load, load * slope * 1e3, "span = 800 mm"))
    assert found.ratio == pytest.approx(1.0)
    assert found.margins["push"][1] == pytest.approx(found.margins["push"][0])


def test_example_is_read_and_answered():
    design = read_design(EXAMPLES / "sounding-body.toml")
    found = measured(design, EXAMPLES / "sounding-body-bend.csv",
                     margins=lambda design: {})
    assert 0.6 < found.ratio < 1.0
    p = predict(design)
    plain = bend_flexibility("three-point", 0.7, p.EI, p.GA, np.zeros(0),
                             joint_flexibility=0.0)[0]
    assert np.prod([cause.factor for cause in found.causes]) == pytest.approx(
        plain / found.flexibility[0])
    assert found.test.settings["load_error"] == pytest.approx(0.005)


@pytest.mark.parametrize(("settings", "head", "rows", "words"), [
    ((), None, None, "span: missing"),
    (("span = 800",), None, None, "has no unit"),
    (("spann = 800 mm",), None, None, "did you mean 'span'"),
    (("span = 800 mm", "test = five-point"), None, None, "is not one of"),
    (("span = 800 mm", "test = four-point"), None, None, "load_span"),
    (("span = 800 mm", "mass = 0 g"), None, None, "too small"),
    (("span = 800 mm", "mass = 7e-298 g"), None, None, "too small"),
    (("span = 800 mm",), "load, deflection [mm]", None, "load: '0' has no unit"),
    (("span = 800 mm",), "force [N], deflection [mm]", None, "unknown column"),
    (("span = 800 mm",), "deflection [mm], deflection [mm]", None, "needs a column"),
    (("span = 800 mm",), None, ["1, 2", "x, 3"], "load: 'x' is not a plain number"),
    (("span = 800 mm",), None, ["1, 2", "1, 3", "1, 3"], "at least 3 at different"),
    (("span = 800 mm",), None, ["1, 2", "2, nan", "3, 4"], "'nan' is not a plain number"),
])
def test_refused_files(tmp_path, settings, head, rows, words):
    path = tmp_path / "bend.csv"
    lines = [f"# {one}" for one in settings] + [head or "load [N], deflection [mm]"]
    path.write_text("\n".join(lines + (rows or ["0, 0", "1, 1", "2, 2"])), encoding="utf-8")
    with pytest.raises(DefinitionError, match=words):
        read_bend_test(path)


def test_both_spellings_of_a_setting_read_alike(tmp_path):
    text = "# span {} 800 mm\n# test {} four-point\n# load_span {} 200 mm\n"
    rows = "hung_mass [kg]; deflection [mm]\n1; 0.5\n2; 1.0\n3; 1.5\n"
    found = []
    for mark in ":=":
        path = tmp_path / "bend.csv"
        path.write_text(text.format(mark, mark, mark) + rows, encoding="utf-8")
        found.append(read_bend_test(path))
    assert found[0].settings == found[1].settings and found[0].test == "four-point"
    assert found[0].settings["span"] == pytest.approx(0.8)
    assert found[0].load[2] == pytest.approx(3 * 9.80665)  # ISO 80000-3


def test_refused_tests(tmp_path):
    load = np.linspace(0, 200, 5)
    with pytest.raises(InputError, match="does not lie on the tube"):
        measured(DESIGN, write(tmp_path, load, load, "span = 1200 mm"), stand_in)
    with pytest.raises(InputError, match="does not grow"):
        measured(DESIGN, write(tmp_path, load, -load, "span = 800 mm"), stand_in)
    with pytest.raises(InputError, match="joints alone"):
        measured(DESIGN, write(tmp_path, load, load * 1e-4, "span = 800 mm"), stand_in)
    with pytest.raises(DefinitionError, match="can't be read"):
        read_bend_test(tmp_path / "nothing.csv")
    with pytest.raises(DefinitionError, match="not a regular file"):
        read_bend_test(tmp_path)
    (tmp_path / "b.csv").write_bytes(b"\xff\xfe\x00")
    with pytest.raises(DefinitionError, match="UTF-8"):
        read_bend_test(tmp_path / "b.csv")


def test_picture(tmp_path):
    from gridshell.report.plots.tube.measured import plot_measured

    load = np.linspace(0, 200, 5)
    found = measured(DESIGN, write(tmp_path, load, load * 0.004, "span = 800 mm"), stand_in,
                     lambda design: {})
    plot_measured(found, tmp_path / "a.png")
    assert (tmp_path / "a.png").read_bytes().startswith(b"\x89PNG")
    with pytest.raises(InputError, match="is not a picture"):
        plot_measured(found, tmp_path / "a.gif")
