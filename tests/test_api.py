"""The Python interface: answers and checks of the commands, arrays, quick import."""

from __future__ import annotations

import json
import subprocess
import sys
from pathlib import Path

import numpy as np
import pytest

import gridshell
from gridshell.cli import main
from gridshell.define.errors import DefinitionError, InputError

EXAMPLE = Path("examples/tide-mast.toml")
TUBE = {
    "title": "invented tube", "material": {"name": "aluminum-6061-t6"},
    "tube": {"outside_diameter": "98 mm", "length": "900 mm"}, "skin": {"thickness": "1.6 mm"},
    "ribs": {"pattern": "isogrid", "height": "5 mm", "width": "2.4 mm", "spacing": "26 mm"},
    "case": [{"name": "push", "compression": "2 kN"}, {"name": "bend", "moment": "90 N m"}],
}


def test_import_loads_nothing():
    code = ("import sys, gridshell; assert 'numpy' not in sys.modules; "
            "gridshell.read_design; assert 'matplotlib' not in sys.modules; print(dir(gridshell))")
    found = subprocess.run([sys.executable, "-c", code], capture_output=True, text=True, check=True)
    assert all(name in found.stdout for name in gridshell.__all__)


@pytest.mark.parametrize("command", ["wall", "tube", "compare"])
def test_answers_equal_the_command(command, capsys):
    assess = {"wall": gridshell.assess_wall, "tube": gridshell.assess_tube,
              "compare": gridshell.compare_walls}[command]
    main([command, str(EXAMPLE), "--json"])
    printed = json.loads(capsys.readouterr().out)
    found = assess(gridshell.read_design(EXAMPLE)).to_dict()
    assert json.loads(json.dumps(found)) == printed


def test_chill_loads_and_scatter_equal_the_command(capsys):
    runs = [("chill", "pipe-liner", [], gridshell.chill),
            ("loads", "tide-mast", [], gridshell.section_loads),
            ("scatter", "size-lake-probe", ["--draws", "300"],
             lambda design: gridshell.scatter_designs(design, samples=300))]
    for command, name, more, run in runs:
        file = f"examples/{name}.toml"
        assert main([command, file, "--json", *more]) == 0
        printed = json.loads(capsys.readouterr().out)
        answer = run(gridshell.read_design(file))
        assert json.loads(json.dumps(answer.to_dict())) == printed, command
        shown(answer)


def shown(answer):
    """Every way in which an answer shows itself."""
    assert len(repr(answer)) < 400 and "\n" not in repr(answer)
    assert answer._repr_html_().startswith("<table>")
    assert answer.text() and answer.plot()._repr_png_().startswith(b"\x89PNG")


def test_size_finds_the_lightest(tmp_path):
    design = gridshell.make_design(TUBE, target={
        "walls": ["isogrid-hoop"], "least_skin": "0.8 mm", "margin": 0.1, "step": "0.1 mm"})
    answer = gridshell.size_tube(design)
    assert answer.feasible and answer.best.rounded.tube.mass < gridshell.assess_tube(design).mass
    assert min(case.margin for case in answer.best.rounded.tube.cases) >= 0.1 - 1e-9
    found = answer.to_dict()
    assert json.loads(json.dumps(found)) == found and found["verdict"]["word"] != "fails"
    shown(answer)


def test_sweep_writes_its_table(tmp_path):
    out = tmp_path / "t.csv"
    answer = gridshell.sweep_designs(
        gridshell.make_design(TUBE), ["ribs.height=3mm:5mm:3"], out, workers=1)
    assert answer.to_dict() == {"file": str(out), "rows": 3} and answer.rows == 3
    assert len(out.read_text().splitlines()) > 3
    shown(answer)


def test_molds_as_solids_and_as_files(tmp_path):
    design = gridshell.make_design(
        title="Invented scenario: a sleeve", material={"name": "polyurethane-casting"},
        tube={"outside_diameter": "60 mm", "length": "40 mm", "segments": 2},
        skin={"thickness": "2 mm"}, ribs={"pattern": "plain"},
        mold={"engraving": "0 mm", "mesh_tolerance": "0.3 mm"})
    answer = gridshell.build_molds(design, tmp_path / "m", formats=["step"])
    found = answer.to_dict()
    assert found["files"] and all((tmp_path / "m" / Path(f).name).exists() for f in found["files"])
    assert found["part_volume"] > 0 and answer.text() and len(repr(answer)) < 300


def test_attributes_of_a_tube():
    answer = gridshell.assess_tube(gridshell.make_design(TUBE))
    told = answer.to_dict()
    assert (answer.EA, answer.EI, answer.GJ, answer.mass) == pytest.approx(
        (told["EA"], told["EI"], told["GJ"], told["mass"]))
    lowest = min(told["cases"], key=lambda case: case["margin"])
    assert answer.margin == pytest.approx(lowest["margin"])
    assert answer.governing == f"{lowest['name']}: {lowest['governing']}"
    assert answer.line_mass == pytest.approx(answer.mass / 0.9)  # of the record it holds
    assert len(repr(answer)) < 300 and "margin" in repr(answer)
    assert "<table>" in answer._repr_html_() and "invented tube" in answer._repr_html_()
    assert answer.plot()._repr_png_().startswith(b"\x89PNG")


def test_arrays_give_what_single_designs_give():
    heights = [3e-3, 4e-3, 5e-3]
    ribs = {**TUBE["ribs"], "height": np.array(heights)}
    texts = {**TUBE["ribs"], "height": ["3 mm", "4 mm", "5 mm"]}
    loads = [{"name": "push", "compression": np.array([1e3, 2e3, 3e3])}, TUBE["case"][1]]
    many = gridshell.assess_tube(gridshell.make_design(TUBE, ribs=ribs, case=loads))
    assert gridshell.make_design(TUBE, ribs=texts).ribs.height == pytest.approx(heights)
    for index, height in enumerate(heights):
        one = gridshell.assess_tube(gridshell.make_design(
            TUBE, ribs={**TUBE["ribs"], "height": f"{height} m"},
            case=[{"name": "push", "compression": f"{index + 1} kN"}, TUBE["case"][1]]))
        assert many.EI[index] == pytest.approx(one.EI)
        assert many.margin[index] == pytest.approx(one.margin, rel=1e-6)
        assert many.governing[index] == one.governing
    assert "3 values" in repr(many) and "<table>" in many._repr_html_()
    with pytest.raises(InputError, match="holds many"):
        many.to_dict()


@pytest.mark.parametrize(("change", "words"), [
    ({"skin": {"thickness": 2.0}}, "has no unit"),
    ({"skin": {"thicknes": "2 mm"}}, "did you mean 'thickness'"),
    ({"skin": {"thickness": np.array([1e-3, 60e-3])}}, "design 1: skin.thickness"),
    ({"skin": {"thickness": np.array([1e-3, np.nan])}}, "design 1: skin.thickness"),
    ({"skin": {"thickness": np.array([1e-3, -1e-3])}}, "design 1: skin.thickness"),
    ({"skin": {"thickness": ["1 mm", "2 kg"]}}, "skin.thickness: '2 kg' is the wrong kind"),
    ({"skin": {"thickness": ["1 mm", "2 mm"]},
      "tube": {"outside_diameter": np.ones(3), "length": "2 m"}}, "of one shape"),
    ({"case": [{"name": "a", "factor": np.array([1.4, 0.0])}]}, "case\\[1\\].factor"),
    ({"ribs": {**TUBE["ribs"], "height": "49 mm"}}, "ribs.height"),
])
def test_bad_designs_are_refused_as_in_a_file(change, words):
    with pytest.raises(DefinitionError, match=words):
        gridshell.make_design(TUBE, **change)


@pytest.mark.parametrize("values", [["1 mm", "2 mm"], ["1 mm"], np.array([1e-3])])
def test_what_takes_one_design_says_so(values, tmp_path):
    many = gridshell.make_design(TUBE, skin={"thickness": values})
    tube = gridshell.assess_tube(many)
    assert np.shape(tube.margin) == (len(values),)
    assert repr(tube) and tube._repr_html_()
    with pytest.raises(InputError, match="use its attributes"):
        tube.to_dict()
    for run in (gridshell.compare_walls, gridshell.size_tube, gridshell.scatter_designs,
                gridshell.chill, gridshell.section_loads, gridshell.build_molds,
                lambda design: gridshell.sweep_designs(design, ["skin.thickness=1mm,2mm"],
                                                       tmp_path / "a.csv")):
        with pytest.raises(InputError, match="takes one design"):
            run(many)


@pytest.mark.parametrize(("asked", "says"), [
    ("2000 degC", "must be at most 2000 K"), ("-300 degC", "must be above 0 K"), ("20", "no unit")])
def test_a_temperature_on_the_command_line_keeps_to_the_bounds_of_the_file(asked, says, capsys):
    assert main(["wall", str(EXAMPLE), f"--temperature={asked}"]) == 2
    assert says in capsys.readouterr().err


@pytest.mark.parametrize("given", [[1], "a.toml", 3.0])
def test_what_is_no_dict_is_no_definition(given):
    with pytest.raises(DefinitionError, match="is not a dict of tables; read_design"):
        gridshell.make_design(given)


def test_whole_samples_and_one_text_to_vary(tmp_path):
    design = gridshell.make_design(TUBE, scatter={"draws": 100, "input": [
        {"field": "skin.thickness", "spread": "1 %"}]})
    for samples in (100.5, "many"):
        with pytest.raises(InputError, match="whole number, at least 100"):
            gridshell.scatter_designs(design, samples=samples)
    assert gridshell.sweep_designs(design, "skin.thickness=1mm,2mm", tmp_path / "a.csv").rows == 2


def test_margins_none_of_which_is_known_are_said(recwarn):
    from gridshell.api import _shown

    assert _shown(np.array([np.nan, np.nan]), "N") == "2 values, none known"
    assert not recwarn.list


def test_an_unknown_material_is_said_with_the_other_problems(tmp_path, capsys):
    text = EXAMPLE.read_text().replace('length = "', 'lenght = "', 1)
    text = text.replace(f'name = "{gridshell.read_design(EXAMPLE).material.name}"',
                        'name = "no-such-stuff"', 1)
    path = tmp_path / "bad.toml"
    path.write_text(text)
    with pytest.raises(DefinitionError) as found:
        gridshell.read_design(path)
    assert {"material.name", "tube.lenght"} <= {one.path for one in found.value.problems}
    assert main(["tube", str(path)]) == 2
    said = capsys.readouterr().err
    assert "no-such-stuff" in said and "lenght" in said
    with pytest.raises(DefinitionError, match=r"material.name: 'plaa'.*did you mean"):
        gridshell.make_design({**TUBE, "material": {"name": "plaa"}})
    with pytest.raises(DefinitionError, match=r"(?s)'plaa'.*has no unit|has no unit.*'plaa'"):
        gridshell.make_design({**TUBE, "material": {"name": "plaa", "temperature": 20}})


def test_a_material_of_ones_own_may_state_its_modulus_over_temperature():
    own = {"name": "own", "poisson": 0.3, "density": "1200 kg/m^3", "properties": {"modulus": {
        "temperature": ["0 degC", "40 degC"], "value": ["2 GPa", "1 GPa"]}}}
    assert gridshell.assess_tube(gridshell.make_design({**TUBE, "material": own})).EI > 0


def test_materials_and_molds():
    assert "steel-mild" in gridshell.materials()
    with pytest.raises(InputError, match=r"units: .meter. is not one of: metric, inch"):
        gridshell.materials("PLA", units="meter")
    pla = gridshell.materials("PLA")
    assert pla.name == "pla" and pla.curves["modulus"].low < 273.15
    assert pla.to_dict()["properties"]["modulus"]["source"]
    shown(pla)
    with pytest.raises(AttributeError):
        pla.verdict  # noqa: B018
    with pytest.raises(AttributeError):
        gridshell.no_such_thing  # noqa: B018


def test_the_lines_of_python_in_the_readme_run(tmp_path, monkeypatch):
    """Every block of Python of README.md, in one after the other."""
    import re

    root = Path(gridshell.__file__).parents[1]
    blocks = re.findall(r"```python\n(.*?)```", (root / "README.md").read_text(), re.S)
    assert blocks and sum(len(block.split("\n")) for block in blocks) < 20
    (tmp_path / "examples").symlink_to(root / "examples")
    monkeypatch.chdir(tmp_path)
    names: dict = {}
    for block in blocks:
        exec(block, names)
    assert (tmp_path / "tube.png").stat().st_size > 10_000 and names["tube"].EI > 0


def test_the_notebook_runs(tmp_path, monkeypatch):
    """Each cell of the notebook in examples, and that no answer was kept in the file."""
    root = Path(gridshell.__file__).parents[1]
    notebook = json.loads((root / "examples" / "lake-probe.ipynb").read_text())
    assert notebook["nbformat"] == 4
    (tmp_path / "examples").symlink_to(root / "examples")
    monkeypatch.chdir(tmp_path / "examples")
    names: dict = {}
    cells = [cell for cell in notebook["cells"] if cell["cell_type"] == "code"]
    assert len(cells) >= 4 and not any(cell["outputs"] for cell in cells)
    for cell in cells:
        exec("".join(cell["source"]), names)
    assert names["lightest"] > 0
