"""`new`, `fields` and the JSON Schema all work from the declarations that the reader works from."""

from __future__ import annotations

import contextlib
import dataclasses
import json
import re
import tomllib

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from jsonschema import Draft202012Validator

from gridshell.cli import main
from gridshell.commands.new import starting_text
from gridshell.define.constants import PATTERNS, PROCESSES
from gridshell.define.describe import chosen_tables, fields_text, tables_of
from gridshell.define.errors import InputError
from gridshell.define.files.reading import design_from_table, read_design, read_toml
from gridshell.define.files.writing import definition_text
from gridshell.define.json_schema import json_schema
from gridshell.define.schema import read_value
from gridshell.define.starting import SPARE
from gridshell.material.catalog import material_names
from gridshell.report.verdict import FAILS, NOT_CHECKED, verdict_of

CHECK = Draft202012Validator(json_schema())

choices = st.fixed_dictionaries({
    "pattern": st.sampled_from(PATTERNS), "process": st.sampled_from([None, *PROCESSES]),
    "system": st.sampled_from(["metric", "inch"]), "material": st.none(),
    "tables": st.sets(st.sampled_from(SPARE)).map(tuple),
})


def _errors(content):
    return [f"{list(error.path)}: {error.message}" for error in CHECK.iter_errors(content)]


def _content(**choice):
    return tomllib.loads(starting_text(**choice))


# --- new ----------------------------------------------------------------------------------------


@settings(max_examples=20, deadline=None)
@given(choice=choices)
def test_what_new_writes_is_a_definition(choice):
    """It reads, keeps to the schema, reads back the same when written, and its values are round."""
    content = _content(**choice)
    design = design_from_table(content)
    assert not _errors(content)
    again = definition_text(design)
    assert design_from_table(tomllib.loads(again)) == design
    numbers = re.findall(r'= "?\[?"?(-?[\d.e-]+) [a-zA-Z]', again)
    assert numbers and all(len(number) < 9 for number in numbers), numbers
    assert set(content) & set(SPARE) == set(choice["tables"])


@pytest.mark.parametrize("system", ["metric", "inch"])
@pytest.mark.parametrize("process", PROCESSES)
@pytest.mark.parametrize("pattern", PATTERNS)
def test_what_new_writes_holds(pattern, process, system):
    design = design_from_table(_content(
        pattern=pattern, process=process, system=system, material=None, tables=("case", "mold")))
    verdict = verdict_of(design)
    assert verdict.word not in (FAILS, NOT_CHECKED), verdict.line


@pytest.mark.parametrize("name", material_names())
def test_every_material_has_a_process(name):
    design = design_from_table(_content(
        pattern="isogrid", process=None, system="metric", material=name, tables=SPARE))
    assert design.material.name == name
    cast = design.mold.process == "print"
    with contextlib.nullcontext() if cast else pytest.raises(InputError, match="--process"):
        starting_text("isogrid", name, "mill", SPARE, "metric")


@pytest.mark.parametrize("command, system", [
    ("wall", "metric"), ("tube", "inch"), ("compare", "metric"), ("scatter --draws 200", "inch"),
    ("chill", "inch"), ("loads", "metric"), ("loads", "inch"), ("mesh --out {out}", "metric"),
    ("sweep --vary skin.thickness=1mm:2mm:2 --out {out}.csv", "metric"),
])
def test_every_command_takes_what_new_writes(tmp_path, capsys, command, system):
    """(size, mold, prove, report and explore take the same design, and longer: tried by hand.)"""
    file = tmp_path / "mine.toml"
    assert main(["new", str(file), "--tables", "all", "--units", system]) == 0
    words = command.format(out=tmp_path / "out").split()
    assert main([words[0], str(file), *words[1:]]) == 0, capsys.readouterr().err


def test_every_key_is_in_the_file_and_can_be_switched_on():
    """Each commented key, alone, is one that the reader takes."""
    text = starting_text("families", None, "print", SPARE, "inch")
    text += starting_text("isogrid", None, "print", ("mold",), "inch")
    for table in tables_of():
        for key in table.keys:
            found = re.findall(rf"^#?{key.name} = (.*)$", text, re.M)
            assert found, f"{table.path}.{key.name}"
            for value in found:
                parsed = tomllib.loads(f"a = {value}")["a"]
                with contextlib.suppress(InputError):
                    read_value(parsed, key.rules)
                    break
            else:
                pytest.fail(f"{table.path}.{key.name} takes none of {found}")


def test_new_never_overwrites(tmp_path, capsys):
    file = tmp_path / "mine.toml"
    file.write_text("mine")
    assert main(["new", str(file)]) == 2 and file.read_text() == "mine"
    assert "--force" in capsys.readouterr().err
    assert main(["new", str(file), "--force"]) == 0
    assert read_design(file).title.startswith("Invented")
    assert sorted(tmp_path.iterdir()) == [file]  # no scratch file stays


@pytest.mark.parametrize("arguments, words", [
    (["a.txt"], ".toml"), (["no/a.toml"], "does not exist"),
    (["a.toml", "--tables", "case,molds"], "--tables"),
    (["a.toml", "--material", "aluminum"], "aluminum-2219-t87"),
    (["a.toml", "--material", "steel", "--process", "print"], "never poured"),
])
def test_what_new_refuses(tmp_path, monkeypatch, capsys, arguments, words):
    monkeypatch.chdir(tmp_path)
    assert main(["new", *arguments]) == 2
    error = capsys.readouterr().err
    assert words in error and len(error.splitlines()) == 1
    assert not list(tmp_path.iterdir())


# --- fields -------------------------------------------------------------------------------------


def test_every_declaration_has_a_meaning():
    for table in tables_of():
        for key in table.keys:
            assert len(key.doc) > 3 and not key.doc.endswith("."), f"{table.path}.{key.name}"


def test_fields_of_a_table_and_of_a_key(capsys):
    assert main(["fields", "ribs.height", "--units", "inch"]) == 0
    out = capsys.readouterr().out
    assert "rib height above the skin" in out and "at least 0 in" in out and "width" not in out
    assert main(["fields", "chill"]) == 0
    assert "[[chill.step]]" in capsys.readouterr().out
    assert main(["fields", "mold", "--json"]) == 0
    found = json.loads(capsys.readouterr().out)["tables"]
    assert [one["table"] for one in found] == ["mold", "mold.cutout", "mold.casting"]
    assert main(["fields", "ribz"]) == 2
    assert "'ribs'" in capsys.readouterr().err
    assert fields_text(chosen_tables(None)).count("\n[") > 15


# --- JSON Schema --------------------------------------------------------------------------------


def test_the_schema_is_a_schema_and_takes_every_example(examples, tmp_path, capsys):
    Draft202012Validator.check_schema(json_schema())
    file = tmp_path / "schema.json"
    assert main(["fields", "--schema", str(file)]) == 0
    assert json.loads(file.read_text()) == json_schema()
    assert main(["fields", "--schema", str(file)]) == 2  # never overwrites
    for example in examples:
        assert not _errors(read_toml(example)[0]), example


BAD = [
    ("ribs.heigth", "3 mm"), ("ribs.height", 3), ("ribs.height", "high"), ("ribs.side", "in"),
    ("tube.sections", 0), ("tube.sections", 1.5), ("mold.bed", ["1 mm"]), ("mold.gates", "2"),
    ("skin", {}), ("case", [{"compression": "3 N"}]), ("mold.cutout", [{"shape": "star"}]),
    ("material.poisson", 0.7), ("target.walls", ["isogrid"]), ("tube.length", ""),
]


@pytest.mark.parametrize("path, value", BAD)
def test_the_schema_refuses_what_the_reader_refuses(path, value):
    content = _content(pattern="isogrid", material=None, process="print", tables=SPARE,
                       system="metric")
    assert not _errors(content)
    table, _, key = path.partition(".")
    if key:
        content[table][key] = value
    else:
        content[table] = value
    with pytest.raises(InputError):
        design_from_table(content)
    assert _errors(content)


@settings(max_examples=150, deadline=None)
@given(data=st.data())
def test_the_reader_takes_no_value_that_the_schema_refuses(data):
    """Field by field: an editor must not underline what the reader accepts."""
    table = data.draw(st.sampled_from(tables_of()))
    key = data.draw(st.sampled_from(table.keys))
    value = data.draw(st.one_of(
        st.sampled_from(["3 mm", " 2.5e-3 m", "-1 N", "5 %", ".5", "21 degC", "hoop", "1 kPa"]),
        st.integers(-3, 40), st.floats(-2, 200), st.booleans(),
        st.lists(st.sampled_from(["1 mm", "3 deg"]), max_size=3)))
    try:
        read_value(value, key.rules)
    except InputError:
        return
    schema = json_schema(table.record)["properties"][key.name]
    assert Draft202012Validator(schema).is_valid(value), (table.path, key.name, value)


# --- clean numbers ------------------------------------------------------------------------------


@settings(max_examples=60, deadline=None)
@given(step=st.integers(1, 400), system=st.sampled_from(["metric", "inch"]))
def test_sizes_that_were_rounded_in_the_units_of_the_job_are_written_round(step, system):
    """A whole number of steps, as sizing makes it, shows no noise of its arithmetic."""
    design = design_from_table(_content(
        pattern="isogrid", material=None, process="print", tables=(), system=system))
    unit, size = ("mm", 1e-4) if system == "metric" else ("in", 0.0254 / 64)
    made = dataclasses.replace(design, skin=dataclasses.replace(design.skin, thickness=step * size))
    line = definition_text(made).split("thickness = ")[1].splitlines()[0].strip('"')
    number, written = line.split()
    assert written == unit and len(number) <= 9
    assert float(number) == pytest.approx(step * (0.1 if system == "metric" else 1 / 64), rel=1e-12)


def test_files_that_commands_write_state_no_kelvin_and_no_exponents(tmp_path, capsys):
    """A material from coupons, and load cases in the units of the job."""
    file = tmp_path / "mine.toml"
    assert main(["coupon", "examples/coupon-resin.csv", "--write", str(file), "--name", "m"]) == 0
    written = file.read_text()
    assert not re.search(r'[\d.] K"|e[+-]?\d+ (Pa|kPa|MPa|GPa)|\d{9}', written)
    assert '"-60 degC"' in written and 'GPa"' in written
    capsys.readouterr()
    for units, unit in (("metric", "N m"), ("inch", "lbf in")):
        main(["loads", "examples/tide-mast.toml", "--cases", "--units", units])
        cases = tomllib.loads(capsys.readouterr().out)["case"]
        assert cases[0]["moment"].endswith(f" {unit}") and "e" not in cases[0]["moment"].split()[0]
