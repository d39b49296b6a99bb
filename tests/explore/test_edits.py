"""Every field of the file on the page: read by the reader's rules, written with comments."""

from __future__ import annotations

import dataclasses
import tomllib

import pytest

from gridshell.define.errors import DefinitionError, InputError
from gridshell.define.files.keeping import kept_text
from gridshell.define.files.reading import read_design, read_toml
from gridshell.define.files.writing import definition_text, stated_values
from gridshell.define.tables.design import Case, with_values
from gridshell.explore.controls import controls_of
from gridshell.explore.edits import edited, fields_of, split


@pytest.fixture(scope="module")
def files(examples):
    return {path.stem: path for path in examples}


@pytest.fixture(scope="module")
def probe(files):
    return read_design(files["lake-probe"])


def test_every_field_states_what_the_file_does(files):
    """Editing each field to the text that it shows changes nothing, in every example."""
    for name in ("lake-probe", "tide-mast", "gauge-housing-inch"):
        base = read_design(files[name])
        paths = {control.path for control in controls_of(base).each}
        fields = fields_of(base, paths)
        assert not paths & {field["path"] for field in fields}
        same = edited(base, {field["path"]: field["text"] for field in fields})
        assert definition_text(same) == definition_text(base), name
        # ... and to its default, where it states nothing, neither.
        told = {field["path"]: field["default"] for field in fields
                if not field["text"] and field["default"] and "[" not in field["path"]
                and field["path"].split(".")[0] in ("tube", "ribs", "material")}
        assert definition_text(edited(base, told)) == definition_text(base), name


def test_loads_supports_and_mold_are_edited(probe):
    after = edited(probe, {
        "tube.sections": "4", "case[1].pressure": "90 kPa", "case[2].support": "simply-supported",
        "case[3].name": "pulled up", "case[3].compression": "-40 N", "mold.gates": "3",
        "mold.bed": "300 mm, 310 mm, 320 mm", "target.margin": "0.25", "case[1].factor": "1.75",
        "case[1].pressure_on_ends": "false",
    })
    assert after.tube.sections == 4
    assert float(after.case[0].pressure) == 90e3 and float(after.case[0].factor) == 1.75
    assert not after.case[0].pressure_on_ends
    assert after.case[1].support == "simply-supported"
    assert after.case[2].name == "pulled up" and float(after.case[2].compression) == -40
    assert stated_values(after)["mold"]["bed"] == ["300 mm", "310 mm", "320 mm"]
    assert float(after.target.margin) == 0.25
    gone = edited(probe, {"case[1].name": ""})
    assert [case.name for case in gone.case] == ["hoisted by one end"]


@pytest.mark.parametrize(("edits", "path"), [
    ({"tube.sections": "4.5"}, "tube.sections"),
    ({"tube.sections": "many"}, "tube.sections"),
    ({"case[1].pressure": "3 m"}, "case[1].pressure"),
    ({"case[1].pressure_on_ends": "perhaps"}, "case[1].pressure_on_ends"),
    ({"case[2].support": "none"}, "case[2].support"),
    ({"case[99].name": "far"}, "case[99].name"),
    ({"case[1].pressures": "3 kPa"}, "case[1].pressures"),
    ({"tube.lengths": "1 m"}, "tube.lengths"),
    ({"mold.gates": "-1"}, "mold.gates"),
    ({"material.name": "cheese"}, None),
    ({"title": "x" * 201}, "title"),
    ({"body.part": "x"}, "body.part"),
])
def test_what_cant_be_is_refused_with_its_path(probe, edits, path):
    before = definition_text(probe)
    with pytest.raises(InputError) as refused:
        controls_of(edited(probe, edits))
    assert definition_text(probe) == before  # a refusal leaves no trace
    assert next(iter(edits.values()))[:20] in str(refused.value) or path in str(refused.value)
    if path is not None:
        assert isinstance(refused.value, DefinitionError)
        assert [problem.path for problem in refused.value.problems] == [path]


def test_values_of_controls_and_edits_are_told_apart():
    assert split({"ribs.height"}, {"ribs.height": "1 mm", "title": "x"}) == (
        {"ribs.height": "1 mm"}, {"title": "x"})


@pytest.mark.parametrize("name", ["lake-probe", "tide-mast", "gauge-housing-inch"])
def test_comments_stay_where_values_change(files, name, tmp_path):
    base, (_, text) = read_design(files[name]), read_toml(files[name])
    folder = files[name].parent
    assert kept_text(text, base, base, folder) == text
    changed = with_values(base, {
        "ribs.height": 0.0041, "skin.thickness": 0.00123, "tube.length": 0.7, "title": "Other"})
    changed = dataclasses.replace(
        changed, case=(*changed.case[:1], Case(name="one more", compression=10.0)))
    kept = kept_text(text, base, changed, folder)
    read = read_design_text(kept, folder)
    wanted = read_design_text(definition_text(changed), folder)  # a file rounds the last bits
    assert definition_text(read) == definition_text(wanted)
    comments = [line.split("#")[1] for line in text.splitlines() if "#" in line]
    gone = [c for c in comments if c not in kept]
    assert comments and len(gone) <= 1, gone  # that of a load case that is left out may go


def read_design_text(text, folder):
    from gridshell.define.files.reading import design_from_table

    return design_from_table(tomllib.loads(text), folder=folder)


def test_a_file_that_has_changed_meanwhile_is_not_trusted(files, probe):
    text = read_toml(files["lake-probe"])[1].replace('height = "7 mm"', 'height = "9 mm"')
    assert kept_text(text, probe, with_values(probe, {"skin.thickness": 0.0015}),
                     files["lake-probe"].parent) is None
