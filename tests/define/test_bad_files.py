"""Files that are no definition, and random damage: one clear message, never a traceback."""

from __future__ import annotations

import os
import random
import re
from pathlib import Path

import pytest

from gridshell.cli import main
from gridshell.define.errors import DefinitionError, InputError
from gridshell.define.files.reading import LARGEST_FILE, read_design
from gridshell.define.files.replacing import replacing, write_text

_ROOT = str(Path(__file__).parents[2])
COMMANDS = ("wall", "tube", "compare")


def _write(path, content):
    path.write_bytes(content if isinstance(content, bytes) else content.encode())
    return path


def _sparse(path):
    with open(path, "wb") as file:
        file.truncate(100_000_000)  # takes no room on disk
    return path


def _fifo(path):
    os.mkfifo(path)
    return path


BAD = {
    "not there": (lambda path: path, "can't be read"),
    "directory": (lambda path: path.mkdir() or path, "is a directory"),
    "100 MB": (_sparse, "100,000,000 bytes"),
    "pipe": (_fifo, "not a regular file"),
    "binary": (lambda path: _write(path, bytes(range(256)) * 20), "not UTF-8"),
    "zeros": (lambda path: _write(path, bytes(2000)), "not valid TOML"),
    "broken": (lambda path: _write(path, "[tube\nlength = "), "not valid TOML"),
    "doubled key": (lambda path: _write(path, 'title = "a"\ntitle = "b"\n'), "not valid TOML"),
    "deep lists": (lambda path: _write(path, "a = " + "[" * 50_000), "not valid TOML"),
    "deep tables": (lambda path: _write(path, "a = " + "{a=" * 50_000), "not valid TOML"),
    "deep keys": (lambda path: _write(path, ".".join("a" * 30_000) + " = 1"), "20 parts"),
    "deep quoted keys": (lambda path: _write(path, "[" + ".".join(['"a b"'] * 9_000) + "]"),
                         "20 parts"),
    "huge integer": (lambda path: _write(path, "a = " + "9" * 20_000), "not valid TOML"),
    "empty": (lambda path: _write(path, ""), "missing"),
    "other TOML": (lambda path: _write(path, '[project]\nname = "x"\n'), "unknown key"),
    "long line": (lambda path: _write(path, "title = '" + "x" * 900_000 + "'"), "title"),
    "too long": (lambda path: _write(path, "#" * (LARGEST_FILE + 1)), "bytes"),
    "windows text": (lambda path: _write(path, 'title = "x"\n'.encode("utf-16")), "not UTF-8"),
}


@pytest.mark.parametrize("command", COMMANDS)
@pytest.mark.parametrize("kind", BAD)
def test_bad_files(tmp_path, capsys, kind, command):
    make, words = BAD[kind]
    target = make(tmp_path / "design.toml")
    picture = tmp_path / "out.png"
    before = sorted(tmp_path.iterdir())
    assert main([command, str(target), "--plot", str(picture)]) == 2
    out, error = capsys.readouterr()
    assert out == ""
    assert words in error and str(target) in error
    assert all(len(line) < 400 for line in error.splitlines())
    assert sorted(tmp_path.iterdir()) == before  # nothing written


def test_unreadable_file(tmp_path, capsys):
    target = _write(tmp_path / "design.toml", "title = 1")
    target.chmod(0)
    if os.access(target, os.R_OK):
        pytest.skip("this user may read everything")
    assert main(["wall", str(target)]) == 2
    assert "can't be read" in capsys.readouterr().err


@pytest.mark.parametrize("name", ["a\0b.toml", "x" * 5000])
def test_impossible_names(name, capsys):
    assert main(["wall", name]) == 2
    assert capsys.readouterr().err.startswith("gridshell: ")


def test_problems_name_the_file(tmp_path):
    target = _write(tmp_path / "design.toml", "[tube\n")
    with pytest.raises(DefinitionError) as error:
        read_design(target)
    assert error.value.source == str(target)


@pytest.mark.parametrize("plot", ["picture.bmp", "picture", "a.toml", "none/picture.png", "."])
@pytest.mark.parametrize("command", COMMANDS)
def test_picture_that_cannot_be_written(tmp_path, monkeypatch, capsys, examples, command, plot):
    monkeypatch.chdir(tmp_path)
    example = next(path for path in examples if path.stem == "lake-probe")
    assert main([command, str(example), "--plot", plot]) == 2
    error = capsys.readouterr().err
    assert error.startswith("gridshell: ") and len(error.splitlines()) == 1
    assert list(tmp_path.iterdir()) == []


@pytest.mark.parametrize("temperature", ["cold", "20", "20 m", "-300 degC", "nan degC"])
def test_bad_temperature(examples, capsys, temperature):
    example = next(path for path in examples if path.stem == "lake-probe")
    code = main(["tube", str(example), f"--temperature={temperature}"])
    assert code == 2
    error = capsys.readouterr().err
    assert "temperature" in error and len(error.splitlines()) == 1


def test_unknown_material_and_missing_material_file(tmp_path, examples, capsys):
    example = next(path for path in examples if path.stem == "lake-probe").read_text()
    target = _write(tmp_path / "a.toml", example.replace("epoxy-casting", "epoxy-castin"))
    assert main(["wall", str(target)]) == 2
    assert "epoxy-casting" in capsys.readouterr().err
    target = _write(tmp_path / "b.toml", example.replace(
        'name = "epoxy-casting"', 'name = "x"\nfile = "none.toml"'))
    assert main(["wall", str(target)]) == 2
    assert "none.toml" in capsys.readouterr().err


# --- all at once --------------------------------------------------------------------------------

SLIPS = """
title = "Invented scenario: many slips"
[material]
name = "pla"
[tube]
outside_diameter = "60 mm"
length = "1.2 m"
[skin]
thickness = "1.2 mm"
[ribs]
pattern = "isogrid"
height = "3 mm"
width = "1.6 mm"
spacing = "25 mm"
[mold]
proces = "print"
wall = "1 mm"
[chill]
step = [{kind = "wind", duration = "1 h", temperature = "0 degC"}]
[[body.part]]
role = "stiff"
[[body.part]]
role = "tube"
shape = "cone"
"""
IN_SPARE_TABLES = (
    "mold.proces", "mold.wall", "chill.step[1].wind", "body.part[1].name",
    "body.part[2].name", "body.part[1].length", "body.part[1].mass", "body.part[2].shape")


def test_every_slip_is_said_at_once(tmp_path):
    """Those that bar the reading of a table, and those that only the checks within it find."""
    text = SLIPS.replace('"60 mm"', '"60"').replace('"25 mm"', '"25 mm"\nhoop_spacing = "1 kg"')
    with pytest.raises(DefinitionError) as error:
        read_design(_write(tmp_path / "a.toml", text))
    paths = [problem.path for problem in error.value.problems]
    assert set(paths) == {"tube.outside_diameter", "ribs.hoop_spacing", *IN_SPARE_TABLES}
    assert len(paths) == len(set(paths))


def test_contradictions_of_the_wall_are_said_beside_slips_in_other_tables(tmp_path):
    text = SLIPS.replace('"1.2 mm"', '"40 mm"')
    with pytest.raises(DefinitionError) as error:
        read_design(_write(tmp_path / "a.toml", text))
    assert {"skin.thickness", *IN_SPARE_TABLES} == {p.path for p in error.value.problems}


def test_tables_that_a_command_does_not_use_warn_instead_of_stopping_it(tmp_path, capsys):
    target = _write(tmp_path / "a.toml", SLIPS)
    assert main(["wall", str(target)]) == 0
    out, error = capsys.readouterr()
    lines = error.splitlines()
    assert len(lines) == len(IN_SPARE_TABLES)
    assert all(line.startswith("gridshell: warning: ") for line in lines)
    # What can't be read can't be shown to hold.
    assert out.startswith("NOT SHOWN TO HOLD") and "[mold] can't be used" in out
    assert main(["tube", str(target)]) == 2  # margins take the cut-outs of [mold]
    assert "mold.proces" in capsys.readouterr().err
    clean = SLIPS.replace("proces =", "process =").replace("wall = ", "# w = ")
    assert main(["tube", str(_write(target, clean))]) == 0
    assert main(["loads", str(target)]) == 2
    # A file that is written again would lose what was left out.
    assert main(["size", str(target), "--write", str(tmp_path / "b.toml")]) == 2
    assert not (tmp_path / "b.toml").exists()


@pytest.mark.parametrize("name, near", [
    ("aluminum", ["aluminum-2219-t87", "aluminum-6061-t6", "aluminum-7075-t6"]),
    ("aluminium", ["aluminum-2219-t87", "aluminum-6061-t6", "aluminum-7075-t6"]),
    ("epoxy-castin", ["epoxy-casting"]), ("hot melt", ["hot-melt-eva", "hot-melt-polyamide"]),
    ("nylon", ["known: abs", "steel-mild"]), ("x" * 190, ["(190)", "known: abs"]),
])
def test_unknown_material_gives_the_near_names(tmp_path, capsys, name, near):
    title = SLIPS[:SLIPS.index("[mold]")]
    assert main(["wall", str(_write(tmp_path / "a.toml", title.replace("pla", name)))]) == 2
    error = capsys.readouterr().err
    assert all(word in error for word in near) and len(error) < 600


@pytest.mark.parametrize("field", ['length = "1.2 m"', 'pattern = "isogrid"', 'name = "pla"'])
@pytest.mark.parametrize("value", ['"' + "9" * 400 + ' parsecs"', "[" + "1," * 400 + "]", "x"])
def test_long_values_are_cut(tmp_path, capsys, field, value):
    written = field.split("=")[0] + "= " + (value if value != "x" else '"' + "x" * 5000 + '"')
    text = SLIPS[:SLIPS.index("[mold]")].replace(field, written)
    assert main(["wall", str(_write(tmp_path / "a.toml", text))]) == 2
    assert all(len(line) < 620 for line in capsys.readouterr().err.splitlines())


# --- random damage ------------------------------------------------------------------------------

NUMBER = re.compile(r'(?<![\w.])(\d+\.?\d*(?:e-?\d+)?)(?= ?[a-zA-Z%"])')
VALUES = ['"0 mm"', '"-3 mm"', '"nan mm"', "nan", "inf", "-inf", "0", "-1", "1e400", '"3 kg"',
          "true", "[]", "{}", '""', '"x"', "2.5", '"99 km"', "24", "1000", '"90 %"', "9" * 30]
SCALES = [0.1, 0.2, 0.5, 0.7, 1.3, 2, 3, 10, 1e-3, 1e3, 1e-6, 1e6, 1e-12, 1e12, 1e-300, 1e100]


def _stated(lines):
    return [i for i, line in enumerate(lines)
            if "=" in line and not line.startswith(("#", "title"))]


def damage(text, chance):
    """One random change of a definition, as bytes."""
    kind = chance.randrange(7)
    lines = text.split("\n")
    if kind == 0:
        data = bytearray(text.encode())
        for _ in range(chance.randrange(1, 4)):
            data[chance.randrange(len(data))] ^= 1 << chance.randrange(8)
        return bytes(data)
    if kind == 1:
        del lines[chance.randrange(len(lines))]
    elif kind == 2:
        lines.insert(chance.randrange(len(lines)), chance.choice(lines))
    elif kind == 3:  # swap two values
        one, other = chance.sample(_stated(lines), 2)
        (key_1, value_1), (key_2, value_2) = (
            lines[one].split("=", 1), lines[other].split("=", 1))
        lines[one], lines[other] = f"{key_1}={value_2}", f"{key_2}={value_1}"
    elif kind == 4:
        at = chance.choice(_stated(lines))
        lines[at] = f"{lines[at].split('=', 1)[0]}= {chance.choice(VALUES)}"
    else:  # scale a number, sometimes beyond all reason
        at = chance.choice([i for i in _stated(lines) if NUMBER.search(lines[i].split("=", 1)[1])])
        key, value = lines[at].split("=", 1)
        factor = chance.choice(SCALES)
        lines[at] = key + "=" + NUMBER.sub(lambda m: repr(float(m[1]) * factor), value, count=1)
    return "\n".join(lines).encode()


@pytest.mark.filterwarnings("ignore::RuntimeWarning")
@pytest.mark.parametrize("command, count", [("wall", 80), ("tube", 80), ("compare", 8)])
def test_random_damage_never_ends_in_a_traceback(tmp_path, capsys, examples, command, count):
    chance = random.Random(f"{command} 1")
    target = tmp_path / "design.toml"
    codes = {0: 0, 2: 0}
    for index in range(count):
        data = damage(chance.choice(examples).read_text(), chance)
        if chance.random() < 0.3:
            try:
                data = damage(data.decode(), chance)
            except (UnicodeDecodeError, ValueError, IndexError):
                pass  # the first change left no text to change again
        target.write_bytes(data)
        options = ["--no-cell", *(["--json"] if index % 2 else [])]
        code = main([command, str(target), *options])
        out, error = capsys.readouterr()
        assert code in codes, data
        codes[code] += 1
        if code == 2:
            assert error.startswith("gridshell: ") and out == "", data
        else:
            warned = error.replace("gridshell: warning: ", "").count(str(target))
            assert out and warned == len(error.splitlines()), data
    assert min(codes.values()) >= 1 and list(tmp_path.iterdir()) == [target]


# --- writing ------------------------------------------------------------------------------------


def test_a_file_is_written_whole_or_not_at_all(tmp_path):
    target = tmp_path / "a.txt"
    write_text(target, "old")
    with pytest.raises(KeyboardInterrupt), replacing(target) as scratch:
        scratch.write_text("half")
        raise KeyboardInterrupt
    assert target.read_text() == "old" and list(tmp_path.iterdir()) == [target]
    with replacing(target) as scratch:
        scratch.write_text("new")
        assert target.read_text() == "old" and scratch.suffix == ".txt"
    assert target.read_text() == "new" and list(tmp_path.iterdir()) == [target]


def test_refusals_of_writing(tmp_path):
    (tmp_path / "there").write_text("x")
    for path, words in ((tmp_path, "directory"), (tmp_path / "no" / "a", "does not exist"),
                        (tmp_path / "there", "--force")):
        with pytest.raises(InputError, match=words):
            write_text(path, "y", force=False)
    assert (tmp_path / "there").read_text() == "x"


def test_a_link_is_written_through(tmp_path):
    real = tmp_path / "store" / "real.txt"
    real.parent.mkdir()
    real.write_text("old")
    link = tmp_path / "link.txt"
    link.symlink_to(real)
    write_text(link, "new")
    assert link.is_symlink() and real.read_text() == "new"
    assert sorted(real.parent.iterdir()) == [real]
    with pytest.raises(InputError, match="--force"):
        write_text(link, "newer", force=False)
    dangling = tmp_path / "to-be.txt"
    dangling.symlink_to(real.parent / "not-yet.txt")
    write_text(dangling, "first", force=False)
    assert dangling.is_symlink() and dangling.read_text() == "first"
    ring = tmp_path / "ring.txt"
    ring.symlink_to(ring)
    with pytest.raises(InputError, match="link"):
        write_text(ring, "x")


def test_a_pipe_or_device_is_never_replaced(tmp_path):
    target = tmp_path / "pipe"
    os.mkfifo(target)
    with pytest.raises(InputError, match="regular file"):
        write_text(target, "x")
    with pytest.raises(InputError, match="regular file"):
        write_text("/dev/null", "x")
    assert os.path.exists("/dev/null") and list(tmp_path.iterdir()) == [target]


def test_nothing_is_lost_where_a_folder_cant_be_written(tmp_path, monkeypatch, capsys, examples):
    """Root may write everywhere, so the system's answer is stood in for."""
    monkeypatch.setattr(os, "access", lambda path, mode: False)
    example = next(path for path in examples if path.stem == "lake-probe")
    target = tmp_path / "new.toml"
    assert main(["new", str(target)]) == 2
    assert main(["tube", str(example), "--plot", str(tmp_path / "a.png")]) == 2
    assert all("can't be written" in line for line in capsys.readouterr().err.splitlines())
    assert not list(tmp_path.iterdir())


def test_a_polite_end_leaves_nothing(tmp_path):
    """SIGTERM while a picture is drawn: no scratch file, no traceback."""
    import signal
    import subprocess
    import sys
    import textwrap

    program = textwrap.dedent("""
        import os, signal, sys
        from gridshell.define.files import replacing
        from gridshell import cli
        from gridshell.commands import new
        def stop(path, content, force=True):
            with replacing.replacing(path, force) as scratch:
                scratch.write_text("half")
                os.kill(os.getpid(), signal.SIGTERM)
        replacing.write_text = stop
        sys.argv = ["gridshell", "new", "a.toml"]
        sys.exit(cli.main())
    """)
    done = subprocess.run([sys.executable, "-c", program], cwd=tmp_path, capture_output=True,
                          text=True, check=False, env={**os.environ, "PYTHONPATH": _ROOT})
    assert done.returncode == 130 and "Traceback" not in done.stderr, done.stderr
    assert "stopped" in done.stderr and not list(tmp_path.iterdir())
    assert signal.getsignal(signal.SIGTERM) is signal.SIG_DFL  # not changed in this process
