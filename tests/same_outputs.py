"""Run every command on every example with two checkouts, and show where their outputs differ.

    python tests/same_outputs.py OLD NEW [--only tube] [--workers 2] [--show 20]

OLD and NEW are folders of two checkouts, OLD with the commands as they were. Printed text, JSON
and every written file are compared byte for byte, but for the time stamp in a STEP header. Use it
when code is moved or renamed and nothing that a user sees may change. Exit code 1 if any differs.
"""

from __future__ import annotations

import argparse
import concurrent.futures
import difflib
import os
import re
import subprocess
import sys
import tempfile
from pathlib import Path

RUN = "import sys; from gridshell.cli import main; sys.exit(main(sys.argv[1:]))"
STAMP = re.compile(rb"\d{4}-\d\d-\d\dT\d\d:\d\d:\d\d")


def commands(examples: Path) -> dict[str, list[str]]:
    """Every command line by a name of its own; paths are those of the examples."""
    found: dict[str, list[str]] = {}

    def add(command: str, file: Path | None, *options: str) -> None:
        parts = [command] + ([] if file is None else [str(file)]) + list(options)
        found[" ".join(Path(part).name for part in parts)] = parts

    for file in sorted(examples.glob("*.toml")):
        text = file.read_text(encoding="utf-8")
        for command in ("wall", "tube", "compare"):
            add(command, file, "--plot", "picture.png")
            add(command, file, "--json")
            add(command, file, "--units", "inch")
        add("tube", file, "--temperature", "0 degC")
        add("tube", file, "--over-temperature", "--json")
        for table, command in (("target", "size"), ("chill", "chill"), ("body", "loads")):
            if f"[{table}" in text:
                add(command, file, "--plot", "picture.png")
                add(command, file, "--json")
                add(command, file, "--units", "inch")
        if "[body" in text:
            add("loads", file, "--cases")
        if "[scatter" in text:
            add("scatter", file, "--draws", "20000", "--workers", "1", "--plot", "picture.png")
            add("scatter", file, "--draws", "20000", "--workers", "1", "--json")
    plain = [file for file in sorted(examples.glob("*.toml")) if "-" not in file.stem
             or "[mold]" in file.read_text(encoding="utf-8")]
    for file in plain[:3]:
        add("report", file, "--out", "page.html")
        add("sweep", file, "--vary", "ribs.height=2mm:6mm:5", "--vary", "skin.thickness=1mm:2mm:3",
            "--out", "table.csv", "--workers", "1", "--plot", "picture.png")
    for file in plain[:4]:
        add("mold", file, "--out", "molds")
    add("prove", plain[0], "--mesh", "coarse", "--plot", "picture.png", "--save", "cell.toml")
    add("prove", None, "--published", "--plot", "picture.png")
    add("prove", None, "--map", "--plot", "picture.png")
    for file in sorted(examples.glob("coupon-*.csv")):
        add("coupon", file, "--plot", "picture.png", "--write", "material.toml")
        add("coupon", file, "--json")
    for command in ("fields", "materials"):
        add(command, None)
        add(command, None, "--json")
        add(command, None, "--units", "inch")
    add("fields", None, "--markdown")
    add("fields", None, "--schema", "schema.json")
    for units in ("metric", "inch"):
        add("new", Path("design.toml"), "--units", units)
        add("new", Path("design.toml"), "--units", units, "--tables",
            "mold,chill,body,joints,target")
    add("materials", None, "sheet-wax", "--plot", "picture.png")
    for file in sorted(examples.glob("*deflection.csv")):
        for design in plain:
            add("tube", design, "--measured", str(file), "--plot", "picture.png")
    return found


def outputs(checkout: Path, command: list[str]) -> dict[str, bytes]:
    """What one command printed and wrote, by name."""
    with tempfile.TemporaryDirectory() as folder:
        done = subprocess.run(
            [sys.executable, "-c", RUN, *command], cwd=folder, capture_output=True,
            env={**os.environ, "PYTHONPATH": str(checkout), "OPENBLAS_NUM_THREADS": "1"},
        )
        found = {"exit code": str(done.returncode).encode(), "stdout": done.stdout,
                 "stderr": done.stderr}
        for path in sorted(Path(folder).rglob("*")):
            if path.is_file():
                name = path.relative_to(folder).as_posix()
                found[name] = STAMP.sub(b"TIME", path.read_bytes())
        return found


def main() -> int:
    """Compare two checkouts; see the module's head."""
    parser = argparse.ArgumentParser(description=__doc__.splitlines()[0])
    parser.add_argument("old", type=Path)
    parser.add_argument("new", type=Path)
    parser.add_argument("--only", help="commands whose name holds this")
    parser.add_argument("--workers", type=int, default=2)
    parser.add_argument("--show", type=int, default=12, help="lines shown of each difference")
    options = parser.parse_args()
    old, new = options.old.resolve(), options.new.resolve()
    work = {name: line for name, line in commands(old / "examples").items()
            if not options.only or options.only in name}
    differ = 0
    with concurrent.futures.ThreadPoolExecutor(options.workers) as pool:
        pairs = pool.map(lambda line: (outputs(old, line), outputs(new, line)), work.values())
        for name, (before, after) in zip(work, pairs, strict=True):
            wrong = [key for key in sorted({*before, *after}) if before.get(key) != after.get(key)]
            print(f"{'DIFFERS' if wrong else 'same':8}{name}", flush=True)
            differ += bool(wrong)
            for key in wrong:
                print(f"    {key}")
                if key in ("stdout", "stderr") or key.endswith((".toml", ".csv", ".txt")):
                    lines = difflib.unified_diff(
                        before.get(key, b"").decode().splitlines(),
                        after.get(key, b"").decode().splitlines(), "old", "new", "", "", 0, "")
                    for line in list(lines)[2: 2 + options.show]:
                        print(f"      {line[:160]}")
    print(f"{len(work)} command lines, {differ} differ")
    return int(differ > 0)


if __name__ == "__main__":
    sys.exit(main())
