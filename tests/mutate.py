"""Break the code a little, at random, and see whether the folder's own tests notice.

    python tests/mutate.py wall tube buckling loads material [--count 60] [--seed 1]
    python tests/mutate.py wall --only wall/assess.py:77:35

Each mutant changes one place of one module in a copy of the checkout: an operator swapped, a sign
turned, a constant off by 7 %, a comparison flipped, a smaller taken for a larger. Then the folder's
tests and doctests run until the first fails: those that call the changed function first, the quick
ones before the slow. What no test notices is printed with its line. Places are drawn without order,
the same for the same seed, so a larger count continues a smaller one.

Why not mutmut or cosmic-ray: both start a new interpreter (two seconds of imports) and the whole
folder for each mutant; here a process that has its libraries forks, and a table of which test calls
which function orders the tests, so that most mutants are found in about a second.
"""

from __future__ import annotations

import argparse
import ast
import io
import json
import os
import random
import resource
import shutil
import signal
import sys
import tempfile
import time
import tokenize
from dataclasses import dataclass
from pathlib import Path

ROOT = Path(__file__).parent.parent
# Name: modules, modules left to another name, tests.
FOLDERS = {
    "wall": ("wall", "", "wall"),
    "tube": ("tube", "tube/buckling", "tube"),
    "buckling": ("tube/buckling", "", "tube"),
    "loads": ("loads", "", "loads"),
    "material": ("material", "", "material"),
}
SWAPS = {
    ast.Add: ("+", "-"), ast.Sub: ("-", "+"), ast.Mult: ("*", "/"), ast.Div: ("/", "*"),
    ast.FloorDiv: ("//", "*"), ast.Pow: ("**", "*"), ast.BitAnd: ("&", "|"), ast.BitOr: ("|", "&"),
    ast.Lt: ("<", ">"), ast.Gt: (">", "<"), ast.LtE: ("<=", ">="), ast.GtE: (">=", "<="),
    ast.Eq: ("==", "!="), ast.NotEq: ("!=", "=="), ast.And: ("and", "or"), ast.Or: ("or", "and"),
}
NAMES = {"minimum": "maximum", "maximum": "minimum", "min": "max", "max": "min", "sin": "cos",
         "cos": "sin"}
SECONDS = 240  # of processor time, after which a mutant counts as noticed: it runs for ever


@dataclass(frozen=True)
class Place:
    """One change: at this line, from this column on, ``old`` becomes ``new``."""

    file: str
    line: int
    column: int
    old: str
    new: str
    function: tuple[int, int] | None  # lines of the function around it; None: of the module

    def __str__(self) -> str:
        return f"{self.file}:{self.line}:{self.column}: {self.old} -> {self.new}"


def places(file: Path, name: str) -> list[Place]:
    """Every change of one module. Text, annotations and indices are left alone."""
    text = file.read_text(encoding="utf-8")
    lines = text.splitlines()
    tokens = list(tokenize.generate_tokens(io.StringIO(text).readline))
    found: list[Place] = []

    def characters(line: int, offset: int) -> int:
        return len(lines[line - 1].encode()[:offset].decode())

    def add(line: int, column: int, old: str, new: str, around: tuple[int, int] | None) -> None:
        assert lines[line - 1][column:].startswith(old), (name, line, column, old)
        found.append(Place(name, line, column, old, new, around))

    def between(
        left: ast.expr, right: ast.expr, kind: type, around: tuple[int, int] | None
    ) -> None:
        if kind not in SWAPS:
            return
        start = (left.end_lineno or 0, characters(left.end_lineno or 1, left.end_col_offset or 0))
        end = (right.lineno, characters(right.lineno, right.col_offset))
        old, new = SWAPS[kind]
        for token in tokens:
            if start <= token.start and token.end <= end and token.string == old:
                add(*token.start, old, new, around)
                return

    def visit(node: ast.AST, around: tuple[int, int] | None) -> None:
        if isinstance(node, (ast.JoinedStr, ast.Raise, ast.Import, ast.ImportFrom)):
            return
        if isinstance(node, (ast.FunctionDef, ast.Lambda)):
            first = min([node.lineno, *(one.lineno for one in getattr(node, "decorator_list", []))])
            around = (first, node.end_lineno or first)
            for default in [*node.args.defaults, *node.args.kw_defaults]:
                if default is not None:
                    visit(default, None)
            for child in node.body if isinstance(node, ast.FunctionDef) else [node.body]:
                visit(child, around)
            return
        if isinstance(node, ast.AnnAssign):
            if node.value is not None:
                visit(node.value, around)
            return
        if isinstance(node, ast.BinOp):
            between(node.left, node.right, type(node.op), around)
        elif isinstance(node, ast.BoolOp):
            between(node.values[0], node.values[1], type(node.op), around)
        elif isinstance(node, ast.Compare):
            between(node.left, node.comparators[0], type(node.ops[0]), around)
        elif isinstance(node, ast.UnaryOp) and isinstance(node.op, ast.USub):
            add(node.lineno, characters(node.lineno, node.col_offset), "-", " ", around)
        elif isinstance(node, ast.Constant) and type(node.value) in (int, float):
            if node.value != 0 and abs(node.value) < 1e300:
                old = ast.get_source_segment(text, node) or ""
                new = repr(node.value * 1.07)
                add(node.lineno, characters(node.lineno, node.col_offset), old, new, around)
        elif isinstance(node, ast.Attribute) and node.attr in NAMES and isinstance(
            node.value, ast.Name
        ) and node.value.id in ("np", "math"):
            column = characters(node.end_lineno or 1, node.end_col_offset or 0) - len(node.attr)
            add(node.end_lineno or 1, column, node.attr, NAMES[node.attr], around)
        elif isinstance(node, ast.Call) and isinstance(node.func, ast.Name) and (
            node.func.id in NAMES
        ):
            add(node.lineno, characters(node.lineno, node.func.col_offset), node.func.id,
                NAMES[node.func.id], around)
        for field, value in ast.iter_fields(node):
            if field == "slice" or (field == "arg" and value == "axis"):
                continue
            for child in value if isinstance(value, list) else [value]:
                if isinstance(child, ast.keyword) and child.arg in ("axis", "ndmin", "indexing"):
                    continue
                if isinstance(child, ast.AST):
                    visit(child, around)

    visit(ast.parse(text), None)
    return found


class Recorder:
    """Which functions of the package each test calls, and how long it takes."""

    def __init__(self, root: Path, tests: dict) -> None:
        self.root, self.tests = str(root / "gridshell") + os.sep, tests

    def pytest_runtest_protocol(self, item, nextitem):
        """Called by pytest around each test."""
        from _pytest.runner import runtestprotocol

        seen = set()
        start = time.process_time()
        sys.setprofile(lambda frame, event, _: seen.add(frame.f_code) if event == "call" else None)
        try:
            runtestprotocol(item, nextitem=nextitem)
        finally:
            sys.setprofile(None)
        self.tests[item.nodeid] = {
            "seconds": time.process_time() - start,
            "calls": sorted({(code.co_filename[len(self.root):], code.co_firstlineno)
                             for code in seen if code.co_filename.startswith(self.root)}),
        }
        return True


class Ranked:
    """Order of the tests for one mutant; tests that never enter its module are left out."""

    def __init__(self, place: Place, tests: dict) -> None:
        self.place, self.tests = place, tests

    def rank(self, item) -> tuple[int, float]:
        known = self.tests.get(item.nodeid, {"seconds": 0.0, "calls": []})
        mine = [line for file, line in known["calls"] if file == self.place.file]
        around = self.place.function
        if around is not None and any(around[0] <= line <= around[1] for line in mine):
            return 0, known["seconds"]
        return 1 if mine else 2, known["seconds"]

    def pytest_collection_modifyitems(self, items) -> None:
        """Called by pytest once it has found the tests."""
        items.sort(key=self.rank)
        # What numba compiles is never called where the table of calls was made.
        if self.place.function is not None and not self.place.file.endswith("compiled.py"):
            items[:] = [item for item in items if self.rank(item)[0] < 2]


def forked(root: Path, work, log: Path) -> int:
    """Exit code of ``work()`` in a process of its own, 124 if it does not end."""
    child = os.fork()
    if child == 0:
        os.setsid()
        resource.setrlimit(resource.RLIMIT_CPU, (SECONDS, SECONDS))
        target = os.open(log, os.O_WRONLY | os.O_CREAT | os.O_TRUNC)
        os.dup2(target, 1)
        os.dup2(target, 2)
        os.chdir(root)
        os.environ["PYTHONPATH"] = str(root)
        sys.path.insert(0, str(root))
        code = 3
        try:
            code = int(work())
        finally:
            os._exit(code)
    _, status = os.waitpid(child, 0)
    try:
        os.killpg(child, signal.SIGKILL)  # what it started
    except ProcessLookupError:
        pass
    return os.waitstatus_to_exitcode(status) if os.WIFEXITED(status) else 124


def run_tests(folder: str, plugin, extra: list[str]) -> int:
    """Run the folder's tests and doctests in this process."""
    import pytest

    modules, _, tests = FOLDERS[folder]
    return pytest.main([f"tests/{tests}", f"gridshell/{modules}", "-q", "-p", "no:cacheprovider",
                        "-p", "no:xdist", "--tb=line", *extra], plugins=[plugin])


def warm() -> None:
    """Load what every run needs, once; never the package itself."""
    os.environ.setdefault("OPENBLAS_NUM_THREADS", "1")
    import hypothesis  # noqa: F401
    import numba  # noqa: F401
    import numpy  # noqa: F401
    import pytest  # noqa: F401
    import scipy.integrate
    import scipy.linalg
    import scipy.optimize
    import scipy.sparse.linalg
    import scipy.stats  # noqa: F401


def assess(
    folder: str, root: Path, count: int, seed: int, only: tuple[str, ...] = ()
) -> list[Place]:
    """Survivors among ``count`` mutants of one folder, or among those of some places."""
    modules, but, _ = FOLDERS[folder]
    package = root / "gridshell"
    drawn: list[Place] = []
    for file in sorted((package / modules).rglob("*.py")):
        name = str(file.relative_to(package))
        if not (but and name.startswith(but + "/")):
            drawn += places(file, name)
    random.Random(seed).shuffle(drawn)
    if only:
        drawn = [one for one in drawn if str(one).startswith(only)]
    table = root / f"calls-{folder}.json"

    def record() -> int:
        tests: dict = {}
        code = run_tests(folder, Recorder(root, tests), [])
        table.write_text(json.dumps(tests), encoding="utf-8")
        return code

    code = forked(root, record, root / f"{folder}.log")
    if code:
        print((root / f"{folder}.log").read_text(encoding="utf-8")[-2000:])
        raise SystemExit(f"{folder}: its tests fail before anything is broken")
    tests = json.loads(table.read_text(encoding="utf-8"))
    print(f"{folder}: {len(drawn)} places, {len(tests)} tests", flush=True)
    survivors = []
    for number, place in enumerate(drawn[:count]):
        file = package / place.file
        original, stamp = file.read_text(encoding="utf-8"), file.stat()
        lines = original.splitlines(keepends=True)
        line = lines[place.line - 1]
        lines[place.line - 1] = (
            line[:place.column] + place.new + line[place.column + len(place.old):])
        for cached in (file.parent / "__pycache__").glob(f"{file.stem}.*.pyc"):
            cached.unlink()

        def broken(place: Place = place) -> int:
            sys.dont_write_bytecode = True
            return run_tests(folder, Ranked(place, tests), ["-x"])

        start = time.monotonic()
        try:
            file.write_text("".join(lines), encoding="utf-8")
            code = forked(root, broken, root / "mutant.log")
        finally:
            file.write_text(original, encoding="utf-8")
            os.utime(file, ns=(stamp.st_atime_ns, stamp.st_mtime_ns))
        if code in (0, 5):
            survivors.append(place)
            print(f"{folder} survives {place}\n    {line.strip()}", flush=True)
        else:
            said = [text for text in (root / "mutant.log").read_text(
                encoding="utf-8", errors="replace").splitlines() if text.startswith("FAILED")]
            print(f"{number} {place} noticed in {time.monotonic() - start:.0f} s "
                  f"{code} {''.join(said)[:90]}", file=sys.stderr, flush=True)
    print(f"{folder}: {len(survivors)} of {min(count, len(drawn))} survive", flush=True)
    return survivors


def main() -> None:
    """Read the command line and run."""
    parser = argparse.ArgumentParser(description=__doc__.split("\n")[0])
    parser.add_argument("folders", nargs="+", choices=sorted(FOLDERS))
    parser.add_argument("--count", type=int, default=60, help="mutants of each folder")
    parser.add_argument("--seed", type=int, default=1)
    parser.add_argument("--only", action="append", default=[], metavar="FILE:LINE:COLUMN",
                        help="this place, as a survivor is printed; may be given again")
    chosen = parser.parse_args()
    with tempfile.TemporaryDirectory(prefix="gridshell-mutants-") as folder:
        root = Path(folder).resolve()
        for part in ("gridshell", "tests", "examples"):
            shutil.copytree(ROOT / part, root / part,
                            ignore=shutil.ignore_patterns("__pycache__", "*.machine"))
        for part in ("pyproject.toml", "README.md", "DEVELOPERS.md"):
            shutil.copy(ROOT / part, root / part)
        warm()
        for name in chosen.folders:
            assess(name, root, chosen.count, chosen.seed, tuple(chosen.only))


if __name__ == "__main__":
    main()
