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


def test_materials_and_molds():
    assert "steel-mild" in gridshell.materials()
    assert gridshell.materials("6061-T6").name == "aluminum-6061-t6"
    with pytest.raises(AttributeError):
        gridshell.no_such_thing  # noqa: B018
