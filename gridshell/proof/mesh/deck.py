"""One run of the finite-element program CalculiX, and the numbers of its answer.

Its input is written by `gridshell.proof.decks.inp`. Each run has a scratch folder of its own that
goes with it, and the child process is ended when we are interrupted.
"""

from __future__ import annotations

import os
import re
import shutil
import signal
import subprocess
import tempfile
import threading
from collections.abc import Iterator
from contextlib import contextmanager
from dataclasses import dataclass
from pathlib import Path

import numpy as np

from gridshell.define.types import Array
from gridshell.proof.cell.homogenize import MissingPackage

PROGRAM, PACKAGE = "ccx", "calculix-ccx"
_NAME = "tube"


class SolverFailed(RuntimeError):
    """The program ended without an answer; the message holds its own last words."""


def solver() -> str:
    """Path of the program.

    Raises:
        MissingPackage: it is not installed; the message names the Debian package.
    """
    found = shutil.which(PROGRAM)
    if found is None:
        raise MissingPackage(
            f"the second solver needs the program {PROGRAM} (CalculiX); install it with "
            f"apt-get install {PACKAGE}, or put {PROGRAM} on the PATH"
        )
    return found


# -- running ---------------------------------------------------------------------------------


@dataclass(frozen=True)
class Output:
    """What the program printed into its table file.

    Attributes:
        text: the whole of it.
    """

    text: str

    def tables(self, head: str) -> list[tuple[Array, Array]]:
        """Every nodal table whose heading holds ``head``: node numbers from 0, (nodes, 3)."""
        found = []
        for block in re.split(r"\n(?= [a-z][^\n]*\n\s*\n)", self.text):
            title, _, body = block.lstrip("\n").partition("\n")
            if head in title:
                values = np.array([line.split() for line in body.splitlines() if line.strip()
                                   and re.match(r"\s*\d+\s+[-+.\dEe]+\s", line)], dtype=float)
                if values.size:
                    found.append((values[:, 0].astype(int) - 1, values[:, 1:4]))
        return found

    def factors(self) -> Array:
        """Buckling factors in the order of the table."""
        part = self.text.split("B U C K L I N G   F A C T O R")[-1]
        return np.array([float(row.group(2)) for row in re.finditer(
            r"^\s*(\d+)\s+([-+]?\d\.\d+E[-+]\d+)\s*$", part, re.MULTILINE)])


@contextmanager
def _ended_as_interrupt() -> Iterator[None]:
    """A polite end (SIGTERM) counts as Ctrl-C, so that `finally` blocks clear up."""
    if threading.current_thread() is not threading.main_thread():
        yield  # only the main thread is told of signals
        return
    before = signal.signal(signal.SIGTERM, signal.default_int_handler)
    try:
        yield
    finally:
        signal.signal(signal.SIGTERM, before)


def run(deck: str, threads: int = 1, partial: bool = False) -> Output:
    """Solve one deck in a scratch folder, which is gone afterwards whatever happens.

    Args:
        deck: the input.
        threads: of the linear solver.
        partial: states printed before the program gave up count as its answer.

    Raises:
        MissingPackage: the program is not installed.
        SolverFailed: it ended without an answer.
    """
    program = solver()
    # The program's threads divide the work, so that more of them can change the last digits.
    environment = {**os.environ, "OMP_NUM_THREADS": str(threads),
                   "CCX_NPROC_EQUATION_SOLVER": str(threads)}
    with _ended_as_interrupt(), tempfile.TemporaryDirectory(prefix="gridshell-") as folder:
        path = Path(folder)
        (path / f"{_NAME}.inp").write_text(deck, encoding="ascii")
        with open(path / "log", "wb") as log:
            child = subprocess.Popen([program, "-i", _NAME], cwd=folder, stdout=log,
                                     stderr=subprocess.STDOUT, stdin=subprocess.DEVNULL,
                                     env=environment)
            try:
                child.wait()
            finally:
                if child.poll() is None:
                    child.kill()
                    child.wait()
        said = (path / "log").read_text(encoding="utf-8", errors="replace")
        answer = path / f"{_NAME}.dat"
        failed = child.returncode or "*ERROR" in said
        usable = answer.is_file() and (not failed or (partial and answer.stat().st_size > 0))
        if not usable:
            raise SolverFailed(_last_words(said, child.returncode))
        return Output(answer.read_text(encoding="utf-8", errors="replace"))


def _last_words(said: str, code: int) -> str:
    lines = [line.strip() for line in said.splitlines() if line.strip()]
    wrong = [line for line in lines if "ERROR" in line]
    if code < 0:
        wrong.append(f"ended by signal {-code}; short of memory?")
    return f"{PROGRAM} gave no answer: " + "; ".join((wrong or lines)[-3:])
