"""Results of Nastran programs in their binary file (.op2): displacements and modes.

The package pyyeti knows the records of such a file: their length, byte order and word size. What
stands in the ones of displacements is the OUG table of the open description of the results
(Nastran programmer's manual, data blocks): a record of 146 words that says what follows, then eight
words for each node: ten times its number, its type, three motions and three turns.
"""

from __future__ import annotations

from collections.abc import Iterator
from pathlib import Path
from typing import Any

import numpy as np

from gridshell.define.errors import InputError
from gridshell.define.types import Array, IntArray
from gridshell.proof.cell.homogenize import MissingPackage

_TABLES = ("OUGV1", "OUG1", "OUGV1PAT", "BOUGV1")  # names of the table, first found first taken
_STATIC, _MODES, _BUCKLING = 1, 2, (7, 8)  # approach: the first word over ten
_DISPLACEMENTS, _EIGENVECTORS = 1, 7  # content: the second word
_WORDS = 8  # of a node


def read_op2(path: Path) -> tuple[Array, Array, list[tuple[IntArray, Array]]]:
    """Buckling factors, frequencies and shapes.

    Args:
        path: of the .op2.

    Returns:
        Factors (lowest first; empty if none), frequencies in Hz (empty if none), and for each load
        case or mode the numbers of its nodes from 0 and their motion (nodes, 6).

    Raises:
        MissingPackage: pyyeti is not installed.
        InputError: not such a file, or one with no real motion of nodes.
    """
    try:
        with np.printoptions():  # loading it changes how numpy prints, everywhere
            from pyyeti.nastran.op2 import OP2
    except ImportError:
        raise MissingPackage(
            "an .op2 needs the optional package pyyeti; install it with pip install "
            "'gridshell[proof]', or give the .f06 beside it") from None
    try:
        with OP2(str(path)) as file:
            records = list(_records(file))
    except Exception as error:  # the package knows no error of its own for a file that is not one
        raise InputError(f"--read {path}: is no .op2 that can be read ({error})") from None
    values: dict[bool, list[float]] = {True: [], False: []}
    shapes: list[tuple[IntArray, Array]] = []
    states: list[tuple[IntArray, Array]] = []
    for head, shape in records:
        approach, content = int(head[0]) // 10, int(head[1])
        if content == _DISPLACEMENTS and approach == _STATIC:
            states.append(shape)
        elif content == _EIGENVECTORS and approach in (_MODES, *_BUCKLING):
            values[approach in _BUCKLING].append(float(head.view(_float(head))[5]))
            shapes.append(shape)
    if values[True] and values[False]:
        raise InputError(f"--read {path}: holds modes of vibration and of buckling; give one")
    if not (shapes or states):
        raise InputError(
            f"--read {path}: holds no displacements, frequencies or buckling factors; ask for "
            "DISPLACEMENT(SORT1,REAL,PLOT) = ALL and PARAM,POST,-1")
    frequencies = np.sqrt(np.maximum(np.array(values[False]), 0.0)) / (2 * np.pi)
    return np.array(values[True]), frequencies, shapes or states


def _float(head: IntArray) -> str:
    """Type of the numbers in a file whose whole numbers are those of ``head``."""
    return str(head.dtype.str.replace("i", "f"))


def _records(file: Any) -> Iterator[tuple[IntArray, tuple[IntArray, Array]]]:
    """Head and (numbers of nodes, motion) of every table of real displacements by load or mode."""
    name = next((name for name in _TABLES if name in file.dbdct), None)
    for block in file.dbdct[name] if name else ():
        file.set_position(block.start)
        file.rdop2nt()
        while (head := file.rdop2record("int")) is not None:
            data = file.rdop2record("bytes")
            if int(head[1]) >= 1000 or int(head[8]) != 1 or int(head[9]) != _WORDS:
                continue  # complex motions, or those sorted by node
            rows = np.frombuffer(data, dtype=head.dtype).reshape(-1, _WORDS)
            grids = rows[:, 1] == 1  # others are single numbers
            yield head, (np.asarray(rows[grids, 0] // 10 - 1, dtype=int),
                         np.asarray(rows.view(_float(head))[grids, 2:], dtype=float))
