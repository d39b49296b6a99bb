"""The command line: keys of the JSON, pictures, exit codes, and what help does not import."""

from __future__ import annotations

import json
import subprocess
import sys

import numpy as np
import pytest

from gridshell import __version__
from gridshell.cli import build_parser, main
from gridshell.define.files.reading import read_design
from gridshell.material.resolve import properties
from gridshell.report.verdict import verdict_of
from gridshell.tube.assess import assess_tube
from gridshell.wall.assess import assess_wall

NAMES = ("gauge-housing-inch", "tide-mast", "lake-probe")


@pytest.fixture(params=NAMES)
def example(request, examples):
    return next(path for path in examples if path.stem == request.param)


def run(capsys, *arguments):
    code = main([str(argument) for argument in arguments])
    captured = capsys.readouterr()
    assert code == 0, captured.err
    return captured.out


def test_wall_json(capsys, example):
    found = json.loads(run(capsys, "wall", example, "--json"))
    design = read_design(example)
    built = assess_wall(design, properties(design.material, design.folder))
    for name in ("A", "B", "D"):
        np.testing.assert_allclose(found[name], getattr(built, name), rtol=1e-12)
        assert np.shape(found[name]) == (3, 3)
    assert found["areal_mass"] == pytest.approx(float(built.areal_mass))
    assert found["equivalent"]["thickness"] == pytest.approx(float(built.equivalent.thickness))
    assert found["equivalent"]["modulus"] == pytest.approx(float(built.equivalent.modulus))
    assert {"title", "material", "radius", "families", "rounding", "notes"} <= set(found)
    assert found["title"] == design.title
    for rounded in found["rounding"]:
        assert set(rounded) == {"what", "stated", "used"}


def test_tube_json(capsys, example):
    found = json.loads(run(capsys, "tube", example, "--json"))
    tube = assess_tube(read_design(example))
    assert found["mass"] == pytest.approx(float(tube.mass))
    for name in ("EA", "EI", "GJ"):
        assert found[name] == pytest.approx(float(getattr(tube.stiffness, name)))
    assert len(found["cases"]) == len(tube.cases) > 0
    for case, result in zip(found["cases"], tube.cases, strict=True):
        assert {"name", "margin", "governing", "checks"} <= set(case)
        assert case["margin"] == pytest.approx(float(result.margin))
        assert case["governing"] == case["checks"][0]["name"] == result.governing
        for check in case["checks"]:
            assert {"name", "allowable", "applied", "knockdown", "margin", "notes",
                    "source"} <= set(check)
            assert isinstance(check["notes"], list)
        margins = [check["margin"] for check in case["checks"] if check["margin"] is not None]
        assert margins == sorted(margins)


def test_compare_json(capsys, example):
    found = json.loads(run(capsys, "compare", example, "--json"))
    assert len(found["walls"]) + len(found["missing"]) == 4
    assert {"title", "verdict", "walls", "missing"} <= set(found)
    by_name = {entry["name"]: entry for entry in found["walls"]}
    assert by_name["plain wall, equal mass"]["mass"] == pytest.approx(
        by_name["grid"]["mass"], rel=1e-6)


@pytest.mark.parametrize("command", ["wall", "tube", "compare"])
def test_pictures_are_written(capsys, tmp_path, example, command):
    from PIL import Image

    target = tmp_path / "picture.png"
    run(capsys, command, example, "--plot", target)
    assert list(tmp_path.iterdir()) == [target]
    with Image.open(target) as picture:
        assert picture.format == "PNG"
        assert min(picture.size) > 300
        picture.load()
        grey = np.asarray(picture.convert("L"))
    assert 0.02 < np.mean(grey < 250) < 0.9  # neither blank nor a block of ink


def test_other_picture_formats(capsys, tmp_path, examples):
    example = next(path for path in examples if path.stem == "lake-probe")
    for name, start in (("a.pdf", b"%PDF"), ("a.svg", b"<?xml")):
        run(capsys, "wall", example, "--plot", tmp_path / name)
        assert (tmp_path / name).read_bytes().startswith(start)


def test_a_picture_replaces_an_old_one_whole(capsys, tmp_path, examples):
    example = next(path for path in examples if path.stem == "lake-probe")
    target = tmp_path / "picture.png"
    target.write_text("old")
    run(capsys, "wall", example, "--plot", target)
    assert target.read_bytes().startswith(b"\x89PNG")


def test_tables_put_the_governing_result_first(capsys, example):
    out = run(capsys, "tube", example)
    tube = assess_tube(read_design(example))
    lines = out.splitlines()
    assert lines[0] == verdict_of(read_design(example), tube).line
    assert lines[2] == read_design(example).title
    for case, line in zip(tube.cases, lines[4:], strict=False):
        assert case.name in line and case.governing in line
        assert ("holds" if float(case.margin) >= 0 else "FAILS") in line
    assert "licensed practice" in out  # the caution
    assert max(len(line) for line in lines[1:]) < 250


def test_rounding_is_reported_never_silent(capsys, example):
    out = run(capsys, "wall", example)
    assert "whole cells" in out and "requested" in out and " used (" in out


def test_other_units(capsys, examples):
    example = next(path for path in examples if path.stem == "lake-probe")
    metric, inch = (run(capsys, "tube", example, "--units", u) for u in ("metric", "inch"))
    assert " lbf in^2" in inch and " lbf in^2" not in metric and " N m^2" in metric
    same = (run(capsys, "tube", example, "--json", "--units", u) for u in ("metric", "inch"))
    assert len(set(same)) == 1  # JSON is SI whatever is shown


def test_temperature_option(capsys, examples):
    example = next(path for path in examples if path.stem == "wax-pattern")  # stated at 2 degC
    cold = json.loads(run(capsys, "tube", example, "--json"))
    warm = json.loads(run(capsys, "tube", example, "--json", "--temperature=21 degC"))
    assert cold["EI"] > 2.0 * warm["EI"]  # the wax stiffens in the cold
    assert cold["mass"] == pytest.approx(warm["mass"], rel=0.02)


def test_version_and_help(capsys):
    for arguments, words in ((["--version"], __version__), (["--help"], "definition file")):
        with pytest.raises(SystemExit) as stop:
            main(arguments)
        assert stop.value.code == 0
        assert words in capsys.readouterr().out


@pytest.mark.parametrize("arguments", [[], ["wall"], ["nonsense", "x"], ["wall", "x", "--nonsense"],
                                       ["wall", "x", "--units", "furlong"]])
def test_wrong_usage_is_exit_code_2(capsys, arguments):
    with pytest.raises(SystemExit) as stop:
        main(arguments)
    assert stop.value.code == 2
    assert "usage:" in capsys.readouterr().err


def test_every_command_has_help():
    parser = build_parser()
    commands = next(a for a in parser._actions if a.dest == "command").choices
    assert {"wall", "tube", "compare"} <= set(commands)
    for name, command in commands.items():
        assert command.description, name
        for action in command._actions:
            assert action.help, (name, action.dest)


def test_interrupt_says_so(capsys, monkeypatch, examples):
    def stop(*_):
        raise KeyboardInterrupt

    monkeypatch.setattr("gridshell.define.files.reading.read_design", stop)
    assert main(["wall", str(examples[0])]) == 130
    assert "stopped" in capsys.readouterr().err


HEAVY = ("cadquery", "OCP", "matplotlib", "pint", "scipy", "numpy", "vtk", "gmsh", "skfem")


def _loaded(code):
    script = f"{code}\nimport sys\nprint(sorted({{n.split('.')[0] for n in sys.modules}}))"
    done = subprocess.run([sys.executable, "-c", script], capture_output=True, text=True,
                          check=True)
    return done.stdout.splitlines()[-1]


def test_help_imports_nothing_heavy():
    loaded = _loaded("from gridshell.cli import main\n"
                     "try: main(['--help'])\nexcept SystemExit: pass")
    assert "'gridshell'" in loaded
    for name in HEAVY:
        assert f"'{name}'" not in loaded


def test_tables_need_no_drawing_and_no_solids(examples):
    example = next(path for path in examples if path.stem == "lake-probe")
    loaded = _loaded(f"from gridshell.cli import main\nmain(['tube', {str(example)!r}])")
    for name in ("cadquery", "OCP", "matplotlib", "vtk", "gmsh", "skfem"):
        assert f"'{name}'" not in loaded


def test_output_into_a_closed_pipe():
    # `gridshell tube ... | head -1` ends quietly.
    code = ("import sys, os\nfrom gridshell.cli import main\n"
            "r, w = os.pipe(); os.close(r); os.dup2(w, 1)\n"
            "sys.exit(main(['wall', sys.argv[1]]))")
    from pathlib import Path

    example = Path(__file__).parent.parent / "examples" / "lake-probe.toml"
    done = subprocess.run([sys.executable, "-c", code, str(example)], capture_output=True,
                          text=True)
    assert "Traceback" not in done.stderr


def _in_shell(line, **environment):
    """Standard error and exit code of a command line, run by a shell."""
    import os
    from pathlib import Path

    example = Path(__file__).parent.parent / "examples" / "tide-mast.toml"
    done = subprocess.run(
        ["sh", "-c", line.format(run=f"{sys.executable} -m gridshell", file=example)],
        capture_output=True, text=True, env={**os.environ, **environment},
    )
    assert "Traceback" not in done.stderr and "Exception ignored" not in done.stderr
    return done


def test_output_that_cant_be_written_is_one_line_and_exit_code_2():
    full = _in_shell("{run} wall {file} > /dev/full")
    assert full.returncode == 2 and full.stderr.count("\n") == 1
    assert "No space left" in full.stderr
    closed = _in_shell("{run} wall {file} >&-")
    assert closed.returncode == 2 and "closed" in closed.stderr


def test_a_terminal_that_lacks_the_letters_of_a_title(tmp_path, examples):
    path = next(path for path in examples if path.stem == "tide-mast")
    text = path.read_text(encoding="utf-8")
    odd = tmp_path / "odd.toml"
    start = text.index('title = "') + 9
    odd.write_text(text[:start] + "\u6e56\u6cbc " + text[start:], encoding="utf-8")
    done = _in_shell(f"{{run}} wall {odd}", PYTHONIOENCODING="ascii")
    assert done.returncode == 0 and "u6e56" in done.stdout
