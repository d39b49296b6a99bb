"""What a sweep varies: read from the command line, numbered row by row, cut in chunks."""

from __future__ import annotations

import dataclasses
import hashlib
import math
from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from functools import cached_property
from typing import Any

import numpy as np

from gridshell import __version__
from gridshell.define.checks import check_cases
from gridshell.define.errors import InputError
from gridshell.define.files.unit_cell_match import refuse_unit_cell
from gridshell.define.files.writing import definition_text
from gridshell.define.schema import field_rules, nearest, read_value
from gridshell.define.tables.design import Case, Design, with_values
from gridshell.define.types import Array
from gridshell.define.units import KINDS

CHUNK = 16_384  # rows worked at once: some tens of megabytes, and a third of a second of work
MOST_ROWS = 10**9
_NUMBERS = ("quantity", "number")
_WORDS = ("choice", "text", "count", "flag")
_TABLES = ("tube", "skin", "ribs", "material")  # what an assessment depends on
_SHAPE = ("tube", "skin", "ribs")  # tables that change the cell that is built
_LAYOUT = 3  # of the parts; changes when older parts can't be continued


@dataclass(frozen=True)
class Axis:
    """One field that is varied.

    Attributes:
        path: such as ``ribs.height`` or ``case.boost.compression``.
        values: in order; SI numbers, or words.
        unit: SI unit of the numbers, empty for words and ratios.
        numeric: True for numbers, which one call of the mechanics takes as an array.
    """

    path: str
    values: tuple[Any, ...]
    unit: str
    numeric: bool


def _rules(design: Design, path: str) -> Mapping[str, Any]:
    if path.startswith("case."):
        name, _, last = path[5:].rpartition(".")
        names = [case.name for case in design.case]
        if name not in names:
            raise InputError(f"{path}: no load case {name!r}; {nearest(name, names)}")
        return field_rules(Case, last)
    table = path.partition(".")[0]
    if table not in _TABLES:
        raise InputError(
            f"--vary {path}: can't be varied; only fields of {', '.join(_TABLES)} and case.NAME can"
        )
    return field_rules(Design, path)


def _number(text: str, rules: Mapping[str, Any], path: str) -> float:
    """One number of the command line; '2mm' and '2 mm' alike."""
    try:
        if rules["form"] == "quantity":
            return float(read_value(text.strip(), rules))
        return float(read_value(float(text), rules))
    except InputError as error:
        raise InputError(f"--vary {path}: {error}") from None
    except ValueError:
        raise InputError(f"--vary {path}: {text!r} is not a number") from None


def _word(text: str, rules: Mapping[str, Any], path: str) -> Any:
    form = rules["form"]
    try:
        if form == "count":
            return read_value(int(text), rules)
        if form == "flag":
            if text not in ("true", "false"):
                raise InputError(f"{text!r} is not true or false")
            return text == "true"
        return read_value(text, rules)
    except InputError as error:
        raise InputError(f"--vary {path}: {error}") from None
    except ValueError:
        raise InputError(f"--vary {path}: {text!r} is not a whole number") from None


def read_axis(design: Design, text: str) -> Axis:
    """Read ``field=low:high:count``, ``field=low:high:count:log`` or ``field=one,two,three``.

    Raises:
        InputError: not of that form, an unknown field, or values it does not take.
    """
    path, found, written = text.partition("=")
    path, written = path.strip(), written.strip()
    if not found or not path or not written:
        raise InputError(
            f"--vary {text!r}: write field=low:high:count or field=one,two, such as "
            "ribs.height=2mm:8mm:25"
        )
    rules = _rules(design, path)
    form = rules["form"]
    if form not in _NUMBERS + _WORDS:
        raise InputError(f"--vary {path}: this field can't be varied")
    unit = KINDS[rules["kind"]][0] if form == "quantity" else ""
    pieces = written.split(":")
    if len(pieces) == 1:
        parts = [part.strip() for part in written.split(",")]
        if any(not part for part in parts):
            raise InputError(f"--vary {path}: {written!r} has an empty entry")
        if form in _NUMBERS:
            values: tuple[Any, ...] = tuple(_number(part, rules, path) for part in parts)
        else:
            values = tuple(_word(part, rules, path) for part in parts)
        if len(set(values)) < len(values):
            raise InputError(f"--vary {path}: {written!r} names a value twice")
        return Axis(path, values, unit, form in _NUMBERS)
    if form in ("choice", "text", "flag"):
        raise InputError(f"--vary {path}: takes words; write {path}=one,two")
    if len(pieces) not in (3, 4) or (len(pieces) == 4 and pieces[3].strip() != "log"):
        raise InputError(f"--vary {path}: {written!r} is not low:high:count or low:high:count:log")
    try:
        count = int(pieces[2])
    except ValueError:
        raise InputError(f"--vary {path}: count {pieces[2]!r} is not a whole number") from None
    if not 2 <= count <= 10**7:
        raise InputError(f"--vary {path}: count {count} must be 2 to 10,000,000")
    if form == "count":
        low, high = (_word(piece, rules, path) for piece in pieces[:2])
    else:
        low, high = (_number(piece, rules, path) for piece in pieces[:2])
    if not low < high:
        raise InputError(f"--vary {path}: {pieces[0]!r} must be below {pieces[1]!r}")
    if len(pieces) == 4:
        if low <= 0:
            raise InputError(f"--vary {path}: steps of equal ratio need a low above zero")
        numbers: Array = np.geomspace(low, high, count)
    else:
        numbers = np.linspace(low, high, count)
    if form == "count":
        whole = sorted({int(value) for value in np.rint(numbers)})
        return Axis(path, tuple(whole), "", False)
    return Axis(path, tuple(float(value) for value in numbers), unit, True)


@dataclass(frozen=True)
class Plan:
    """A sweep: a design, its axes, and how it is cut.

    Attributes:
        design: as stated.
        axes: the first varies slowest.
        chunk: rows worked at once.
    """

    design: Design
    axes: tuple[Axis, ...]
    chunk: int = CHUNK

    @property
    def rows(self) -> int:
        """Number of designs."""
        return math.prod(len(axis.values) for axis in self.axes)

    @property
    def chunks(self) -> int:
        """Number of chunks."""
        return -(-self.rows // self.chunk)

    @cached_property
    def fingerprint(self) -> str:
        """Tells one sweep from another: same design, files it names, axes, cut and version."""
        content = (
            _LAYOUT, __version__, definition_text(self.design), self.chunk,
            [(axis.path, axis.values) for axis in self.axes], self._files(),
        )
        return hashlib.sha256(repr(content).encode()).hexdigest()

    def _files(self) -> list[tuple[str, str]]:
        """Files that the designs name, and what tells their contents apart."""
        named = {self.design.material.file, self.design.ribs.solid_cell}
        for axis in self.axes:
            if axis.path == "material.file":
                named |= set(axis.values)
        found = []
        for name in sorted(name for name in named if name is not None):
            try:
                content = (self.design.folder / name).read_bytes()
            except OSError:
                content = b""  # reading the design says what is wrong with it
            found.append((name, hashlib.sha256(content).hexdigest()))
        return found

    def places(self, number: int) -> list[np.ndarray]:
        """For each axis, which of its values each row of a chunk takes."""
        first = number * self.chunk
        rows = np.arange(first, min(first + self.chunk, self.rows))
        return list(np.unravel_index(rows, [len(axis.values) for axis in self.axes]))


def make_plan(design: Design, vary: Sequence[str], chunk: int = CHUNK) -> Plan:
    """The plan of ``--vary`` options.

    Raises:
        InputError: none given, one field twice, too many rows, one that can't be read, or one
            that changes what the design's solid cell was solved for.
    """
    if not vary:
        raise InputError("--vary: give at least one, such as ribs.height=2mm:8mm:25")
    axes = tuple(read_axis(design, text) for text in vary)
    paths = [axis.path for axis in axes]
    if len(set(paths)) < len(paths):
        raise InputError("--vary: one field is varied twice")
    for path in paths:
        if path == "ribs.solid_cell":
            raise InputError(f"--vary {path}: can't be varied; it holds for one geometry")
        if path.partition(".")[0] in _SHAPE or path == "material.poisson":
            refuse_unit_cell(design, f"--vary {path} changes it")
    for axis in axes:  # before any file is begun
        if axis.path.startswith("case.") and axis.numeric:
            for problem in check_cases(varied(design, {axis.path: np.array(axis.values)}).case):
                raise InputError(f"--vary {axis.path}: {problem}")
    plan = Plan(design, axes, chunk)
    if plan.rows > MOST_ROWS:
        raise InputError(f"--vary: {plan.rows:,} designs; must be at most {MOST_ROWS:,}")
    return plan


def varied(design: Design, values: Mapping[str, Any]) -> Design:
    """The design with other values, by path; ``case.NAME.field`` reaches into a load case."""
    plain = {path: value for path, value in values.items() if not path.startswith("case.")}
    changes: dict[str, dict[str, Any]] = {}
    for path, value in values.items():
        if path.startswith("case."):
            name, _, last = path[5:].rpartition(".")
            changes.setdefault(name, {})[last] = value
    cases = tuple(
        dataclasses.replace(case, **changes.get(case.name, {})) for case in design.case
    )
    return dataclasses.replace(with_values(design, plain), case=cases)
