"""The [chill] table: defaults, what is refused, and the examples."""

from pathlib import Path

import pytest

from gridshell.define.errors import DefinitionError
from gridshell.define.files.reading import design_from_table, read_design
from gridshell.define.tables.chill import Chill

EXAMPLES = Path(__file__).resolve().parents[2] / "examples"


def content(chill):
    return {
        "title": "invented", "material": {"name": "hot-melt-eva"},
        "tube": {"outside_diameter": "98 mm", "length": "900 mm"},
        "skin": {"thickness": "2 mm"}, "ribs": {"pattern": "plain"}, "chill": chill,
    }


def problems(chill):
    with pytest.raises(DefinitionError) as caught:
        design_from_table(content(chill))
    return [str(problem) for problem in caught.value.problems]


def test_empty_table_is_the_documented_default():
    found = design_from_table(content({})).chill
    assert found == Chill()
    assert found.steps[0].kind == "freezer" and found.steps[0].duration == 14400
    assert found.steps[0].surroundings == 255.15
    assert found.fitted == found.start == 294.15


def test_no_table_is_none():
    table = content({})
    del table["chill"]
    assert design_from_table(table).chill is None


def test_every_key_is_read():
    found = design_from_table(content({
        "start": "20 degC", "stress_free": "40 degC", "concentration": 2,
        "step": [{"kind": "wind", "wind": "5 m/s", "temperature": "-5 degC",
                  "duration": "10 min", "ramp": "5 min", "sleeve": False}],
        "sleeve": [{"thickness": "10 mm"}],
        "uncovered": {"wind": "2 m/s", "sun": "500 W/m^2"},
        "attached": [{"name": "cord", "kind": "cord", "modulus": "70 GPa",
                      "expansion": "-2e-6 1/K", "area": "3 mm^2", "where": "skin"}],
        "limits": {"stiffness_ratio": 3, "coldest": "-40 degC", "cracking_factor": 2},
    })).chill
    assert found.step[0].wind == 5 and found.step[0].ramp == 300
    assert found.fitted == pytest.approx(313.15)
    assert found.attached[0].area == pytest.approx(3e-6)
    assert found.limits.coldest == pytest.approx(233.15)


@pytest.mark.parametrize(("chill", "expected"), [
    ({"step": [{"kind": "wind", "duration": "1 min", "temperature": "0 degC"}]},
     "chill.step[1].wind: missing"),
    ({"step": [{"kind": "freezer", "duration": "1 min", "wind": "3 m/s"}]},
     "chill.step[1].wind: used by kind 'wind' only"),
    ({"step": [{"kind": "contact", "duration": "1 min"}]},
     "chill.step[1].temperature: missing"),
    ({"step": [{"kind": "freezer", "duration": "1 min", "ramp": "2 min"}]},
     "chill.step[1].ramp: 120 s is longer"),
    ({"step": [{"kind": "snow", "duration": "1 min"}]}, "chill.step[1].kind: 'snow'"),
    ({"step": [{"kind": "freezer", "duration": 60}]}, "chill.step[1].duration: 60 has no unit"),
    ({"stepp": []}, "chill.stepp: unknown key; did you mean 'step'?"),
    ({"attached": [{"name": "a", "kind": "coupler", "modulus": "1 GPa", "expansion": "0 1/K"}]},
     "chill.attached[1].thickness: missing; a coupler needs it"),
    ({"attached": [{"name": "a", "kind": "bulkhead", "modulus": "1 GPa", "expansion": "0 1/K",
                    "area": "1 mm^2"}]}, "chill.attached[1].area: a bulkhead does not use it"),
    ({"attached": [{"name": "a", "kind": "screw", "modulus": "1 GPa", "expansion": "0 1/K",
                    "diameter": "4 mm", "edge_distance": "2 mm"}]},
     "chill.attached[1].edge_distance: 2 mm is inside the screw"),
])
def test_what_is_refused(chill, expected):
    assert any(problem.startswith(expected) for problem in problems(chill)), problems(chill)


@pytest.mark.parametrize("name", ["pipe-liner.toml", "wax-pattern.toml"])
def test_examples_read_and_say_they_are_invented(name):
    design = read_design(EXAMPLES / name)
    assert "nvented" in design.title
    assert design.chill is not None and design.chill.attached
