"""Mutate files of every kind and run the commands on them.

`python -m tests.fuzz.run --count 10000` is the long run; with FUZZ_KEEP=FOLDER in the environment
the files of each fault are kept there.

A command may refuse a file or take it; it never ends in a traceback, warns through numpy, prints
NaN or infinity as JSON, or leaves a file behind that nobody asked for.
"""

from __future__ import annotations

import argparse
import contextlib
import functools
import io
import json
import os
import random
import re
import shutil
import sys
import tempfile
import time
import traceback
import warnings
from collections import Counter
from collections.abc import Callable
from dataclasses import dataclass
from pathlib import Path

from gridshell.cli import main

from .mutate import mutated

EXAMPLES = Path(__file__).parents[2] / "examples"


@dataclass(frozen=True)
class Kind:
    """A kind of file that the commands read.

    Attributes:
        name: shown in the count.
        weight: how often it is drawn.
        prepare: writes the files of one draw into a folder; gives back the arguments.
    """

    name: str
    weight: int
    prepare: Callable[[Path, random.Random], list[str]]


# Commands that read a definition, and how often each is drawn: the slow ones seldom.
COMMANDS = {"wall": 10, "tube": 30, "loads": 10, "compare": 6, "chill": 6, "scatter": 4, "size": 1,
            "mold": 1}


def _definition(folder: Path, chance: random.Random) -> list[str]:
    source = chance.choice(sorted(EXAMPLES.glob("*.toml")))
    (folder / "a.toml").write_bytes(mutated(source.read_bytes(), chance))
    command = chance.choices(tuple(COMMANDS), list(COMMANDS.values()))[0]
    options = {"loads": [], "chill": [], "scatter": ["--draws", "300", "--workers", "1"],
               "size": [], "mold": ["--out", "molds"]}
    return [command, "a.toml", *options.get(command, ["--no-cell"])]


def _coupon(folder: Path, chance: random.Random) -> list[str]:
    source = chance.choice(("coupon-resin.csv", "coupon-tube.csv"))
    (folder / "a.csv").write_bytes(mutated((EXAMPLES / source).read_bytes(), chance))
    return ["coupon", "a.csv"]


def _bend_test(folder: Path, chance: random.Random) -> list[str]:
    source = EXAMPLES / "sounding-body-bend.csv"
    (folder / "a.csv").write_bytes(mutated(source.read_bytes(), chance))
    return ["tube", str(EXAMPLES / "sounding-body.toml"), "--measured", "a.csv"]


def _scan(folder: Path, chance: random.Random) -> list[str]:
    from gridshell.define.files.reading import read_design
    from gridshell.tube.as_built.scan import scan_form

    path = EXAMPLES / "collar.toml"
    readings = random.Random(1)
    filled = [
        line.replace(", , ", f", {readings.gauss(0, 0.05):.3f}, 2.0")
        for line in scan_form(read_design(path), 5, 12).splitlines()]
    (folder / "a.csv").write_bytes(mutated("\n".join(filled).encode(), chance))
    return ["tube", str(path), "--shape", "a.csv"]


def _material(folder: Path, chance: random.Random) -> list[str]:
    from gridshell.material.catalog import FOLDER

    source = chance.choice(sorted(FOLDER.glob("*.toml")))
    (folder / "m.toml").write_bytes(mutated(source.read_bytes(), chance))
    if chance.random() < 0.5:
        return ["materials", "m.toml"]
    text = (EXAMPLES / "collar.toml").read_text()
    (folder / "a.toml").write_text(text.replace(
        'name = "polyurethane-casting"', 'name = "mine"\nfile = "m.toml"'))
    return ["tube", "a.toml", "--no-cell"]


def _solid_cell(folder: Path, chance: random.Random) -> list[str]:
    (folder / "cell.toml").write_bytes(mutated(CELL, chance))
    return [chance.choice(("wall", "tube")), str(EXAMPLES / "gauge-housing-inch.toml"),
            "--solid-cell", "cell.toml"]


def _make_cell() -> bytes:
    """The file of a solid cell: the formula's stiffness, as if it had been solved."""
    from gridshell.define.files.reading import read_design
    from gridshell.define.files.unit_cell import CellGeometry, UnitCell, write_unit_cell
    from gridshell.material.resolve import properties
    from gridshell.wall.assess import assess_wall

    design = read_design(EXAMPLES / "gauge-housing-inch.toml")
    known = properties(design.material)
    built, ribs = assess_wall(design, known), design.ribs
    cell = UnitCell(
        "Invented scenario", float(known.poisson), "medium", 12000, 0.003,
        CellGeometry(
            ribs.pattern, ribs.orientation, ribs.side, float(design.skin.thickness),
            float(ribs.height), float(ribs.width), float(ribs.draft), float(ribs.corner_radius),
            float(ribs.root_fillet), float(built.grid.cell_height), float(built.grid.cell_width)),
        {name: (matrix / known.modulus).tolist()
         for name, matrix in zip("ABD", (built.A, built.B, built.D), strict=True)},
        {"A11": 0.01, "EA": 0.01},
    )
    with tempfile.TemporaryDirectory() as place:
        write_unit_cell(cell, Path(place) / "cell.toml")
        return (Path(place) / "cell.toml").read_bytes()


CELL = _make_cell()
_SWEEP = ["sweep", str(EXAMPLES / "collar.toml"), "--vary", "skin.thickness=1mm:2mm:3",
          "--out", "t.csv", "--workers", "1"]


@functools.cache
def _make_sweep() -> dict[str, bytes]:
    """The files of a sweep that was stopped before its parts were joined."""
    from gridshell.study.sweep import store

    kept = store.Parts.join
    with tempfile.TemporaryDirectory() as place:
        here = Path.cwd()
        os.chdir(place)
        store.Parts.join = lambda self: (_ for _ in ()).throw(KeyboardInterrupt)  # type: ignore
        try:
            with contextlib.redirect_stderr(io.StringIO()):
                main(_SWEEP)
        finally:
            store.Parts.join = kept  # type: ignore[method-assign]
            os.chdir(here)
        return {path.relative_to(place).as_posix(): path.read_bytes()
                for path in Path(place).rglob("*") if path.is_file()}


def _sweep(folder: Path, chance: random.Random) -> list[str]:
    files = _make_sweep()
    hurt = chance.choice(sorted(files))
    for name, content in files.items():
        target = folder / name
        target.parent.mkdir(parents=True, exist_ok=True)
        target.write_bytes(mutated(content, chance) if name == hurt else content)
    return [*_SWEEP, "--resume"]


KINDS = (
    Kind("definition", 10, _definition), Kind("coupon", 4, _coupon),
    Kind("bend test", 3, _bend_test), Kind("scan", 1, _scan),
    Kind("material", 4, _material),
    Kind("solid cell", 3, _solid_cell), Kind("sweep folder", 1, _sweep),
)


def one(kind: Kind, seed: str) -> tuple[int, str]:
    """Run one draw.

    Args:
        kind: of file.
        seed: of the draw.
    Returns:
        exit code, and what is wrong (empty if nothing).
    """
    chance = random.Random(seed)
    here = Path.cwd()
    with tempfile.TemporaryDirectory(prefix="gridshell-fuzz-") as place:
        folder = Path(place)
        arguments = kind.prepare(folder, chance)
        as_json = chance.random() < 0.5
        if as_json:
            arguments.append("--json")
        before = {path.name for path in folder.iterdir()}
        out, error = io.StringIO(), io.StringIO()
        os.chdir(folder)
        wrong, code = "", -1
        try:
            with (contextlib.redirect_stdout(out), contextlib.redirect_stderr(error),
                  warnings.catch_warnings(record=True) as warned):
                warnings.simplefilter("always")
                code = main(arguments)
        except BaseException:  # whatever it is, it is the finding
            if sys.exc_info()[0] is KeyboardInterrupt:
                raise
            wrong = traceback.format_exc()
        finally:
            os.chdir(here)
        left = {path.name for path in folder.iterdir()} - before
        wrong = wrong or _judge(kind, code, as_json, out.getvalue(), error.getvalue())
        if warned and not wrong:
            wrong = f"warning: {warned[0].message} ({warned[0].filename}:{warned[0].lineno})"
        if left - ({"t.csv", "molds"} if code in (0, 1) else set()) and not wrong:
            wrong = f"left {sorted(left)}"
        if wrong and os.environ.get("FUZZ_KEEP"):
            shutil.copytree(folder, Path(os.environ["FUZZ_KEEP"]) / seed.replace(" ", "-"),
                            dirs_exist_ok=True)
    return code, wrong


def _judge(kind: Kind, code: int, as_json: bool, out: str, error: str) -> str:
    """What is wrong with the answer of a command that ended."""
    if code not in (0, 1, 2):
        return f"exit code {code}"
    if "Traceback" in error:
        return f"traceback on the error stream: {error[-500:]}"
    if code == 2:
        return "" if error.startswith("gridshell: ") and not out else f"refusal: {error[:200]!r}"
    if not out:
        return "no answer"
    if as_json:
        def refuse(word: str) -> None:
            raise ValueError(word)
        try:
            json.loads(out, parse_constant=refuse)
        except ValueError as found:
            return f"JSON: {found}"
    elif re.search(r"\bnan\b", out):
        return "nan in the text"
    return ""


def fuzz(count: int, seed: int, seconds: float = float("inf")) -> tuple[Counter[str], list[str]]:
    """Run many draws.

    Args:
        count: draws.
        seed: first of them.
        seconds: stop after so long.
    Returns:
        how many of each kind and exit code, and what was found.
    """
    tally: Counter[str] = Counter()
    found: list[str] = []
    end = time.monotonic() + seconds
    for index in range(seed, seed + count):
        if time.monotonic() > end:
            break
        kind = random.Random(f"kind {index}").choices(KINDS, [k.weight for k in KINDS])[0]
        code, wrong = one(kind, f"{kind.name} {index}")
        tally[f"{kind.name}: exit {code}"] += 1
        if wrong:
            found.append(f"{kind.name} {index}: {wrong}")
    return tally, found


def _command() -> int:
    parser = argparse.ArgumentParser(description=__doc__)
    parser.add_argument("--count", type=int, default=10_000)
    parser.add_argument("--seed", type=int, default=0)
    options = parser.parse_args()
    tally, found = fuzz(options.count, options.seed)
    for name, count in sorted(tally.items()):
        print(f"{name}: {count}")
    print("\n\n".join(found))
    print(f"{sum(tally.values())} files, {len(found)} faults")
    return int(bool(found))


if __name__ == "__main__":
    sys.exit(_command())
