"""Sweeps: what may be varied, three formats alike, stopped and resumed, executors alike."""

from __future__ import annotations

import csv
import dataclasses
import os
import signal
import subprocess
import sys
import time
from pathlib import Path

import numpy as np
import pytest

from gridshell.define.errors import InputError
from gridshell.define.files.reading import read_design
from gridshell.define.possible import possible
from gridshell.define.tables.design import Material, with_values
from gridshell.define.tables.scatter import Scatter, ScatterInput
from gridshell.report.numbers import margin as shown_margin
from gridshell.report.plots.study.sweep import plot_sweep, read_sweep
from gridshell.report.text.study.scatter import scatter_text
from gridshell.study.scatter.run import scatter_designs
from gridshell.study.sweep import chunk
from gridshell.study.sweep.chunk import _lowered, run_chunk
from gridshell.study.sweep.plan import Axis, Plan, make_plan, read_axis
from gridshell.study.sweep.run import executor, sweep_designs
from gridshell.study.sweep.store import Parts
from gridshell.study.sweep.words import Words
from gridshell.tube.assess import assess_tube, least_margin

from .conftest import make

VARY = ["ribs.pattern=isogrid,plain,orthogrid", "ribs.height=2mm:8mm:5",
        "ribs.spacing=15 mm,40 mm,90 mm", "case.push.compression=2kN:20kN:3:log"]


def stated():
    return with_values(make(), {"ribs.hoop_spacing": 40e-3})


def test_rows_equal_single_assessments(tmp_path):
    """Every column of every row is what one design assessed alone gives."""
    sweep_designs(stated(), VARY, tmp_path / "out.npz", workers=1, chunk=40)
    with np.load(tmp_path / "out.npz") as kept:
        columns = {name: kept[name] for name in kept.files}
    assert len(columns["row"]) == 3 * 5 * 3 * 3
    np.testing.assert_array_equal(columns["row"], np.arange(135))
    assert columns["ribs.pattern"][0] == "isogrid" and columns["ribs.pattern"][-1] == "orthogrid"
    for row in (0, 50, 100, 130):
        pattern = str(columns["ribs.pattern"][row])
        spacing = {"ribs.spacing": float(columns["ribs.spacing"][row])}
        ortho = {"hoop_spacing": 40e-3} if pattern == "orthogrid" else {}
        design = make(pattern=pattern, **ortho)
        if pattern != "plain":
            design = with_values(
                design, {**spacing, "ribs.height": float(columns["ribs.height"][row])})
        case = with_values(design, {}).case[0].__class__(
            name="push", compression=float(columns["case.push.compression"][row]), moment=300.0,
            factor=1.4)
        tube = assess_tube(with_values(design, {"case": (case,)}))
        assert columns["mass"][row] == pytest.approx(float(tube.mass), rel=1e-12)
        assert columns["EI"][row] == pytest.approx(float(tube.stiffness.EI), rel=1e-12)
        # The search over many designs may miss the lowest wave by a little.
        assert 1 + columns["margin"][row] == pytest.approx(1 + float(tube.margin), rel=3e-3)
        assert columns["case.push.governing"][row] == tube.cases[0].governing


def test_three_formats_hold_the_same(tmp_path):
    pytest.importorskip("pyarrow")
    names = [tmp_path / f"out.{ending}" for ending in ("csv", "npz", "parquet")]
    for name in names:
        sweep_designs(stated(), VARY, name, workers=1, chunk=50)
    tables = [read_sweep(name) for name in names]
    for columns, units in tables[1:]:
        assert list(columns) == list(tables[0][0])
        assert units["ribs.height"] == tables[0][1]["ribs.height"] == "m"
        for name, values in columns.items():
            np.testing.assert_array_equal(values, tables[0][0][name].astype(values.dtype))
    with names[0].open(newline="") as file:
        assert "mass [kg]" in next(csv.reader(file))


def test_stopped_and_resumed_gives_the_same_bytes(tmp_path):
    """Stopped by an interrupt after two chunks: resumed, it works only what is missing."""
    whole, stopped = tmp_path / "whole.csv", tmp_path / "stopped.csv"
    sweep_designs(stated(), VARY, whole, workers=1, chunk=30)

    def interrupt(done, rows):
        if done >= 60:
            raise KeyboardInterrupt

    with pytest.raises(KeyboardInterrupt):
        sweep_designs(stated(), VARY, stopped, workers=1, chunk=30, progress=interrupt)
    assert not stopped.exists()
    with pytest.raises(InputError, match="--resume"):
        sweep_designs(stated(), VARY, stopped, workers=1, chunk=30)
    with pytest.raises(InputError, match="another sweep"):
        sweep_designs(stated(), VARY[:2], stopped, workers=1, chunk=30, resume=True)
    done = sweep_designs(stated(), VARY, stopped, workers=1, chunk=30, resume=True)
    assert done.fresh == 135 - 60
    assert stopped.read_bytes() == whole.read_bytes()
    assert sorted(p.name for p in tmp_path.iterdir()) == ["stopped.csv", "whole.csv"]


KILLED = """
import sys
sys.path.insert(0, {root!r})
from tests.study.test_sweep import VARY, stated
from gridshell.study.sweep.run import sweep_designs
import time
from pathlib import Path
sweep_designs(stated(), VARY, {path!r}, workers=1, chunk=10, progress=lambda d, n: time.sleep(0.15))
"""


@pytest.mark.skipif(os.name != "posix", reason="kills a process")
def test_killed_and_resumed(tmp_path):
    """A killed process leaves whole parts only, and the sweep goes on from them."""
    path = tmp_path / "killed.npz"
    root = os.getcwd()
    process = subprocess.Popen([sys.executable, "-c", KILLED.format(root=root, path=str(path))])
    parts = tmp_path / "killed.npz.parts"
    try:
        for _ in range(600):
            if len(list(parts.glob("part-*.npz"))) >= 2 or process.poll() is not None:
                break
            time.sleep(0.05)
    finally:
        process.send_signal(signal.SIGKILL)
        process.wait()
    assert not path.exists() and len(list(parts.glob("part-*.npz"))) >= 2
    done = sweep_designs(stated(), VARY, path, workers=1, chunk=10, resume=True)
    assert 0 < done.fresh < 135
    sweep_designs(stated(), VARY, tmp_path / "whole.npz", workers=1, chunk=10)
    assert path.read_bytes() == (tmp_path / "whole.npz").read_bytes()


@pytest.mark.parametrize("spoil", ["flip", "cut", "swap", "empty"])
def test_spoiled_parts_are_worked_again(tmp_path, spoil):
    """A damaged, truncated or swapped part is noticed by its checksum and worked again."""
    plan = make_plan(stated(), VARY, 30)
    parts = Parts(plan, tmp_path / "table.csv")
    parts.open(resume=False)
    for number in range(plan.chunks):
        parts.write(number, run_chunk(plan, number))
    assert parts.missing() == []
    one, two = parts.path(1), parts.path(2)
    content = one.read_bytes()
    if spoil == "flip":
        middle = len(content) // 2
        one.write_bytes(content[:middle] + bytes([content[middle] ^ 1]) + content[middle + 1:])
    elif spoil == "cut":
        one.write_bytes(content[:-100])
    elif spoil == "swap":
        one.write_bytes(two.read_bytes())
        two.write_bytes(content)
    else:
        one.write_bytes(b"")
    assert parts.missing() == ([1, 2] if spoil == "swap" else [1])
    sweep_designs(stated(), VARY, tmp_path / "table.csv", workers=1, chunk=30, resume=True)
    sweep_designs(stated(), VARY, tmp_path / "whole.csv", workers=1, chunk=30)
    assert (tmp_path / "table.csv").read_bytes() == (tmp_path / "whole.csv").read_bytes()


def test_no_resume_with_another_material_file(tmp_path):
    """Rows of two materials never stand in one table."""
    text = (
        'name = "invented resin"\n[modulus]\nvalue = "{} GPa"\n[poisson]\nvalue = 0.35\n'
        '[density]\nvalue = "1100 kg/m^3"\n'
    )
    design = dataclasses.replace(stated(), folder=tmp_path, material=Material("own", "own.toml"))
    (tmp_path / "own.toml").write_text(text.format(2))
    first = make_plan(design, VARY, 30).fingerprint
    assert make_plan(design, VARY, 30).fingerprint == first
    (tmp_path / "own.toml").write_text(text.format(3))
    assert make_plan(design, VARY, 30).fingerprint != first


ORPHANED = """
import sys
sys.path.insert(0, {root!r})
import os, time
from gridshell.study.sweep.run import executor
with executor(2) as (pool, count):
    print(*{{f.result() for f in [pool.submit(os.getpid) for _ in range(20)]}}, flush=True)
    time.sleep(60)
"""


@pytest.mark.skipif(os.name != "posix", reason="kills a process")
def test_workers_end_with_a_killed_parent():
    process = subprocess.Popen(
        [sys.executable, "-c", ORPHANED.format(root=os.getcwd())], stdout=subprocess.PIPE, text=True
    )
    workers = [int(number) for number in process.stdout.readline().split()]
    process.send_signal(signal.SIGKILL)
    process.wait()
    process.stdout.close()
    assert workers

    def alive(number):
        try:
            with open(f"/proc/{number}/stat") as file:
                return file.read().rsplit(")", 1)[1].split()[0] != "Z"
        except OSError:
            return False

    for _ in range(400):
        if not any(alive(number) for number in workers):
            return
        time.sleep(0.05)
    pytest.fail(f"workers {workers} outlive their parent")


def test_no_answer_is_no_pass(monkeypatch):
    """A margin of minus infinity or none is left empty, and its check says that it is no answer."""
    plan = make_plan(stated(), ["ribs.height=3mm:6mm:3"], 30)
    name = f"case.{stated().case[0].name}.margin"
    columns = run_chunk(plan, 0)
    columns[name][:2] = -np.inf, np.nan
    chunk._withhold(columns, np.arange(3))
    assert np.isnan(columns[name][:2]).all() and np.isfinite(columns[name][2])
    governing = columns[name.replace("margin", "governing")]
    assert list(governing[:2]) == ["no answer"] * 2 and governing[2] != "no answer"


def test_words_are_places_among_the_few_that_differ():
    words = Words.full(5, "")
    words.put(np.array([1, 3]), Words(["b", "a"], [1, 0]))
    words.put(np.array([4]), Words.full(1, "b"))
    assert words.tolist() == list(np.asarray(words)) == ["", "a", "", "b", "b"]
    assert words.among == ("", "b", "a") and words[3] == "b" and len(words) == 5
    assert (words[np.array([0, 1])] == ["", "a"]).all()
    assert np.asarray(words).dtype == np.asarray(Words.full(1, "other")).dtype


def test_counts_and_flags_stay_what_they_are(tmp_path):
    """Whole numbers as whole numbers, true and false as one and zero, words as words."""
    case = stated().case[0].name
    vary = ["tube.sections=1,2", f"case.{case}.pressure_on_ends=true,false",
            "ribs.pattern=isogrid,plain"]
    for name in ("out.csv", "out.npz"):
        sweep_designs(stated(), vary, tmp_path / name, workers=1)
    with np.load(tmp_path / "out.npz") as found:
        kinds = [found[text.partition("=")[0]].dtype.kind for text in vary]
        assert kinds == ["i", "b", "U"]
    lines = (tmp_path / "out.csv").read_text(encoding="utf-8").splitlines()
    assert [line.split(",")[1:4] for line in lines[1:4]] == [
        ["1", "1", "isogrid"], ["1", "1", "plain"], ["1", "0", "isogrid"]]


def test_processes_give_the_same_rows(tmp_path):
    sweep_designs(stated(), VARY, tmp_path / "one.csv", workers=1, chunk=50)
    sweep_designs(stated(), VARY, tmp_path / "two.csv", workers=2, chunk=50)
    assert (tmp_path / "one.csv").read_bytes() == (tmp_path / "two.csv").read_bytes()


def test_cluster_gives_the_same_rows(tmp_path):
    """The same call on Dask's own cluster on this machine."""
    pytest.importorskip("distributed")
    sweep_designs(stated(), VARY, tmp_path / "one.csv", workers=1, chunk=50)
    sweep_designs(stated(), VARY, tmp_path / "two.csv", workers=1, cluster="local", chunk=50)
    assert (tmp_path / "one.csv").read_bytes() == (tmp_path / "two.csv").read_bytes()


@pytest.mark.skipif(os.name != "posix", reason="kills a process")
def test_cluster_survives_a_killed_worker(tmp_path):
    """Two workers, one killed on the way: the same table."""
    distributed = pytest.importorskip("distributed")
    sweep_designs(stated(), VARY, tmp_path / "one.csv", workers=1, chunk=20)
    with distributed.LocalCluster(
        n_workers=2, threads_per_worker=1, dashboard_address=None
    ) as cluster, distributed.Client(cluster) as client:
        victims = [next(iter(client.run(os.getpid).values()))]

        def kill(done, total):
            if victims and done < total:
                os.kill(victims.pop(), signal.SIGKILL)

        sweep_designs(stated(), VARY, tmp_path / "two.csv", cluster=cluster.scheduler_address,
                      chunk=20, progress=kill)
        assert not victims
    assert (tmp_path / "one.csv").read_bytes() == (tmp_path / "two.csv").read_bytes()


def test_missing_scheduler_is_one_clear_line():
    pytest.importorskip("distributed")
    from unittest.mock import patch

    def refuse(*args, **keys):
        raise OSError("Timed out trying to connect")

    with patch("distributed.Client", refuse), pytest.raises(InputError, match="no scheduler"), \
            executor(cluster="tcp://127.0.0.1:1"):
        pass


def test_impossible_designs_are_marked_and_empty():
    """Ribs that close the pockets have no results, only the mark."""
    plan = make_plan(make(), ["ribs.width=1mm:40mm:9"])
    columns = run_chunk(plan, 0)
    assert columns["possible"][0] and not columns["possible"][-1]
    bad = ~columns["possible"]
    assert np.isnan(columns["mass"][bad]).all()
    assert (columns["case.push.governing"][bad] == "").all()
    assert np.isfinite(columns["mass"][~bad]).all()


def test_possible_agrees_with_the_checks_of_one_design():
    """Random designs, good and bad: the array check says what the check in words says."""
    from gridshell.define.checks import check_design

    rng = np.random.default_rng(5)
    seen = set()
    for pattern in ("isogrid", "orthogrid", "diagonal", "plain"):
        for _ in range(250):
            values = {"skin.thickness": 10 ** rng.uniform(-3.5, -1.0)}
            if pattern != "plain":
                values |= {
                    "ribs.height": 10 ** rng.uniform(-3.5, -1.0),
                    "ribs.width": 10 ** rng.uniform(-3.5, -1.3),
                    "ribs.spacing": 10 ** rng.uniform(-2.3, 0.0),
                    "ribs.draft": rng.uniform(0.0, 0.3),
                    "ribs.corner_radius": rng.choice([0.0, 10 ** rng.uniform(-4, -2)]),
                    "ribs.root_fillet": rng.choice([0.0, 10 ** rng.uniform(-4, -2)]),
                    "ribs.side": str(rng.choice(["inside", "outside"])),
                }
            if pattern == "orthogrid":
                values["ribs.hoop_spacing"] = 10 ** rng.uniform(-2.3, 0.0)
            values["tube.seam_land"] = rng.choice([0.0, 10 ** rng.uniform(-3, 0.2)])
            values["tube.end_land"] = rng.choice([0.0, 10 ** rng.uniform(-3, 0)])
            design = with_values(make(pattern=pattern), values)
            good = not check_design(design)
            assert bool(possible(design)) is good, (pattern, values, check_design(design))
            seen.add((pattern, good))
    assert len(seen) == 8


@pytest.mark.parametrize(("text", "said"), [
    ("ribs.height", "write field=low:high:count"),
    ("ribs.hight=2mm:8mm:5", "did you mean 'height'"),
    ("rib.height=2mm:8mm:5", "can't be varied"),
    ("ribs.height=2:8:5", "has no unit"),
    ("ribs.height=2mm:8mm", "is not low:high:count"),
    ("ribs.height=8mm:2mm:5", "must be below"),
    ("ribs.height=2mm:8mm:1", "must be 2 to"),
    ("ribs.height=2mm:8mm:x", "is not a whole number"),
    ("ribs.pattern=isogrid:plain:2", "takes words"),
    ("ribs.pattern=isogrd", "not one of"),
    ("ribs.height=2mm,2 mm", "names a value twice"),
    ("case.pull.moment=1N m:2N m:3", "did you mean 'push'"),
    ("tube.sections=1.5:3:2", "is not a whole number"),
    ("target.step=1mm:2mm:2", "can't be varied"),
    ("ribs.family=1:2:3", "can't be varied"),
    ("ribs.draft=0deg:8deg:3:log", "above zero"),
])
def test_bad_axes_are_named(text, said):
    with pytest.raises(InputError, match=said):
        read_axis(make(), text)


@pytest.mark.parametrize(("vary", "said"), [
    ("ribs.pattern=isogrid,orthogrid", r"ribs.hoop_spacing: missing"),
    ("case.push.transverse=1N:2N:3", r"support: missing; a transverse force"),
])
def test_what_a_varied_field_misses_is_named_before_work(tmp_path, vary, said):
    with pytest.raises(InputError, match=said):
        sweep_designs(make(), [vary], tmp_path / "out.csv")
    assert list(tmp_path.iterdir()) == []


@pytest.mark.parametrize(("name", "said"), [
    ("out.xlsx", "ending must be"), ("no/out.csv", "does not exist"), ("old.csv", "there already"),
])
def test_bad_places_are_named(tmp_path, name, said):
    (tmp_path / "old.csv").write_text("kept")
    with pytest.raises(InputError, match=said):
        sweep_designs(make(), ["ribs.height=2mm:4mm:2"], tmp_path / name)
    assert (tmp_path / "old.csv").read_text() == "kept"


def test_foreign_folder_of_parts_is_left_alone(tmp_path):
    folder = tmp_path / "out.csv.parts"
    folder.mkdir()
    (folder / "mine.txt").write_text("mine")
    with pytest.raises(InputError, match="not a sweep's"):
        Parts(make_plan(make(), ["ribs.height=2mm:4mm:2"]), tmp_path / "out.csv").open(True)
    assert (folder / "mine.txt").read_text() == "mine"


def test_pictures_of_a_sweep(tmp_path):
    """A line, maps with panels, and a result that is not there."""
    sweep_designs(stated(), VARY, tmp_path / "maps.csv", workers=1)
    plot_sweep(tmp_path / "maps.csv", tmp_path / "maps.png")
    sweep_designs(make(), ["skin.thickness=1mm:3mm:7"], tmp_path / "line.npz", workers=1)
    plot_sweep(tmp_path / "line.npz", tmp_path / "line.svg", "mass")
    assert (tmp_path / "maps.png").stat().st_size > 5000
    assert b"<svg" in (tmp_path / "line.svg").read_bytes()[:600]
    with pytest.raises(InputError, match="did you mean 'mass'"):
        plot_sweep(tmp_path / "line.npz", tmp_path / "x.png", "mas")


def test_rows_outside_the_map_take_the_lower_of_formula_and_bound():
    # Lower bound: skin and rib layers that slide on each other, `wall/stiffness/finite_width.py`.
    design = read_design(Path(__file__).parents[2] / "examples/lake-probe.toml")
    width = float(design.ribs.width)
    axis = Axis("ribs.width", (width, 4 * width, 5 * width), "m", True)
    rows = run_chunk(Plan(design, (axis,)), 0)
    assert list(rows["outside_map"]) == [0, 1, 1]
    lower = 0
    for number, value in enumerate(axis.values):
        one = with_values(design, {"ribs.width": float(value)})
        tube, bound = assess_tube(one), assess_tube(one, least=True)
        for case, least in zip(tube.cases, bound.cases, strict=True):
            expected = float(case.margin)
            if rows["outside_map"][number]:
                expected = min(expected, float(least.margin))
                lower += float(least.margin) < 0.999 * float(case.margin)
            assert rows[f"case.{case.name}.margin"][number] == pytest.approx(expected, rel=1e-3)
            assert rows[f"case.{case.name}.governing"][number] in (case.governing, least.governing)
        assert rows["margin"][number] == min(
            rows[f"case.{case.name}.margin"][number] for case in tube.cases)
        known = least_margin(tube)
        assert (known is None) == (not rows["outside_map"][number])
        assert known is None or rows["margin"][number] == pytest.approx(float(known), rel=1e-3)
        assert rows["EI"][number] == pytest.approx(float(tube.stiffness.EI))
    assert lower
    # Size and scatter say it beside what they found.
    drawn = dataclasses.replace(one, scatter=Scatter(
        draws=100, input=(ScatterInput("skin.thickness", "1 %"),)))
    said = scatter_text(scatter_designs(drawn, workers=1))
    assert f"at least {shown_margin(known)} by the lower bound" in said


def test_strength_that_is_not_known_never_makes_a_margin(tmp_path):
    # Data of this steel end at 100 degC: no margin beyond, whatever rows stand beside it.
    steel = with_values(read_design(Path(__file__).parents[2] / "examples/lake-probe.toml"),
                        {"material.name": "steel-mild"})
    for temperatures in ((293.0, 383.0), (383.0, 393.0)):
        rows = run_chunk(Plan(steel, (Axis("material.temperature", temperatures, "K", True),)), 0)
        assert np.isnan(rows["margin"]).tolist() == [t > 373.15 for t in temperatures]
    # Not known for the whole sweep: buckling alone, and the table says so.
    hot = with_values(steel, {"material.temperature": 383.0})
    skins = (Axis("skin.thickness", (1.5e-3, 2e-3), "m", True),)
    assert not run_chunk(Plan(hot, skins), 0)["strength_known"].any()
    assert run_chunk(Plan(steel, skins), 0)["strength_known"].all()


def test_what_formula_or_bound_does_not_know_is_no_pass():
    results = {"margin": np.array([np.nan, 1.0, 1.0, 2.0]), "governing": np.array(["a"] * 4)}
    least = {"margin": np.array([0.5, np.nan, 3.0]), "governing": np.array(["b"] * 3)}
    _lowered(results, least, np.array([True, True, False, True]))
    np.testing.assert_array_equal(results["margin"], [np.nan, np.nan, 1.0, 2.0])
    assert list(results["governing"]) == ["a", "b", "a", "a"]
