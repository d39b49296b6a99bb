"""Formulas compiled for many designs: the same numbers, wherever machine code may be kept."""

from __future__ import annotations

import os
import shutil
import subprocess
import sys
from pathlib import Path

import numpy as np
import pytest

import gridshell
from gridshell.define.compiling import for_many, formula, where
from gridshell.tube.buckling import compiled, wave_laws
from gridshell.tube.buckling.local import held_rib_stress
from gridshell.tube.section.vibration import cantilever_root, free_root
from gridshell.wall.stiffness.smeared import solved_3

PACKAGE = Path(gridshell.__file__).parent
# Solves 300 systems compiled, and says whether machine code came from a file and can go to one.
SOLVE = (
    "import sys, numpy as np\n"
    "from gridshell.define import compiling\n"
    "compiling._MANY = 100\n"
    "from gridshell.wall.stiffness import smeared\n"
    "x = np.linspace(1.0, 2.0, 300)\n"
    "found = smeared.solved_3(2 + x, 0.5, 0.1, 3.0, 0.2, 4.0, x, 1.0, 2.0)\n"
    "loop = compiling._loop(smeared.solved_3.__wrapped__, 9, 3, ())\n"
    "print(repr(float(found[0].sum())), loop.kept, 'numba' in sys.modules)\n"
)


@formula
def _square(x):
    return x * x


@for_many(2)
def _both(a, b, c=1.0):
    return where(a > b, _square(a), c * b), np.maximum(a, b)


def test_few_and_many_give_the_same_numbers():
    compiled.load()
    random = np.random.default_rng(1)
    a = random.uniform(-1, 1, 30_000)
    first, second = _both(a, b=0.25)
    assert np.array_equal(first, np.where(a > 0.25, a * a, 0.25))
    assert np.array_equal(second, np.maximum(a, 0.25))
    assert _both(0.5, 0.25) == (0.25, 0.5)
    assert _both(a.reshape(300, 100), np.full(100, 0.25))[0].shape == (300, 100)


@pytest.mark.parametrize("function, low, high", [
    (held_rib_stress, (1e9, 0.0, 1e-3, 2e-3, 0.02, 5e-4, 0.01),
     (3e9, 0.45, 4e-3, 1e-2, 0.06, 3e-3, 0.05)),
    (cantilever_root, (0.0, 0.0), (0.5, 0.5)), (free_root, (0.0, 0.0), (0.5, 0.5)),
])
def test_formulas_one_by_one_are_the_compiled_ones(function, low, high):
    compiled.load()
    random = np.random.default_rng(2)
    values = random.uniform(np.array(low)[:, None], np.array(high)[:, None], (len(low), 400))
    together = function(*values)
    alone = [float(function(*(float(v) for v in column))) for column in values.T]
    np.testing.assert_allclose(together, alone, rtol=1e-12)


def _solve(site, cache):
    done = subprocess.run(
        [sys.executable, "-B", "-c", SOLVE], cwd=site, check=True,
        capture_output=True, text=True,
        env={**os.environ, "PYTHONPATH": str(site), "XDG_CACHE_HOME": str(cache),
             "HOME": str(cache)})
    total, kept, compiler = done.stdout.split()
    return float(total), kept != "None", compiler == "True"


@pytest.fixture
def site(tmp_path):
    """A copy of the package."""
    shutil.copytree(PACKAGE, tmp_path / "site" / "gridshell",
                    ignore=shutil.ignore_patterns("__pycache__", "mold", "explore", "proof"))
    return tmp_path / "site"


def _expected():
    x = np.linspace(1.0, 2.0, 300)
    return sum(solved_3(2 + one, 0.5, 0.1, 3.0, 0.2, 4.0, one, 1.0, 2.0)[0] for one in x)


def test_works_where_nothing_can_be_written(site, tmp_path):
    # A read-only install and no cache folder. Files stand where folders would be made, which stops
    # an administrator too.
    (tmp_path / "no-cache").write_text("")
    (site / "gridshell" / "define" / "__pycache__").write_text("")
    total, kept, compiler = _solve(site, tmp_path / "no-cache" / "none")
    assert not kept and compiler
    assert total == pytest.approx(_expected(), rel=1e-12)


def test_machine_code_is_kept_and_never_that_of_another_text(site, tmp_path):
    first = _solve(site, tmp_path / "cache")
    assert first[1:] == (False, True)
    assert _solve(site, tmp_path / "cache") == (first[0], True, False)  # no compiler is loaded
    files = list((site / "gridshell").rglob("*.machine"))
    assert len(files) == 1
    for file in files:  # cut short: compiled again, not run
        file.write_bytes(file.read_bytes()[:-100])
    assert _solve(site, tmp_path / "cache") == (first[0], False, True)
    text = site / "gridshell" / "wall" / "stiffness" / "smeared.py"
    changed = text.read_text().replace("(aa * x + ", "(2 * aa * x + ")
    assert changed != text.read_text()
    text.write_text(changed)
    after = _solve(site, tmp_path / "cache")
    assert after[1:] == (False, True) and after[0] > 1.2 * first[0]
    assert len(list((site / "gridshell").rglob("*.machine"))) == 2
    assert not list((site / "gridshell").rglob("..*"))


def test_machine_code_calls_nothing_but_the_mathematics_library():
    # What else it called might be missing in a process that loads no compiler.
    compiled.load()
    held_rib_stress(*(np.full(100, value) for value in (2e9, 0.3, 2e-3, 5e-3, 0.04, 1e-3, 0.02)))
    for code in (compiled._LOWEST, compiled._TORSION):
        found = code._read()
        assert found is not None and set(found.outside) <= {"exp", "log", "pow", "sqrt"}


def test_arrays_of_another_kind_are_refused():
    found = np.empty((3, 1))
    table = np.ones((1, compiled._FIELDS))
    with pytest.raises(TypeError, match="float64 in C order"):
        compiled.lowest_of_many(
            table.astype(np.float32), 0, np.ones(1), found, wave_laws.scratch_of_loads())
