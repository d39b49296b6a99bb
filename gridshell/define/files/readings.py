"""A table of readings: CSV with a unit in each heading, settings and remarks in lines above it.

    # span: 800 mm
    load [N], deflection [mm]
    10, 0.52

A line ``# key: value`` (or ``# key = value``) states what holds for all rows. Coupons and bend
tests of finished tubes are both read here; what may be stated is declared by their readers.
"""

from __future__ import annotations

import csv
import difflib
import re
from collections.abc import Mapping, Sequence
from dataclasses import dataclass, field
from pathlib import Path

from gridshell.define.errors import DefinitionError, InputError, Problem, Problems, short
from gridshell.define.files.text_file import read_text_file
from gridshell.define.schema import nearest, read_value

LARGEST_FILE = 4_000_000  # bytes
MOST_ROWS = 20_000
MOST_PROBLEMS = 20  # after that many, the file is of another kind
_NUMBER = re.compile(r"[-+]?(?:\d+\.?\d*|\.\d+)(?:[eE][-+]?\d+)?\Z", re.ASCII)
_SETTING = re.compile(r"([^:=]*)([:=])(.*)\Z", re.S)
_HEADING = re.compile(r"\s*([A-Za-z_ ]+?)\s*(?:\[\s*([^\[\]]*?)\s*\])?\s*\Z", re.ASCII)


@dataclass(frozen=True)
class Column:
    """What a column or a setting holds.

    Attributes:
        kind: a key of `gridshell.define.units.KINDS`, or "text".
        doc: meaning, on one line.
        bounds: above, least, below or most, SI, as `gridshell.define.schema.quantity` takes them.
    """

    kind: str
    doc: str
    bounds: Mapping[str, float] = field(default_factory=dict)

    def read(self, text: str, unit: str | None = None) -> float | str:
        """A cell or setting in SI; ``unit`` is that of the heading, None if the cell has its own.

        Raises:
            InputError: not a number of that kind, or out of bounds.
        """
        if self.kind == "text":
            return text[:80]
        if unit is not None and not _NUMBER.match(text):
            raise InputError(f"{short(text)} is not a plain number (the unit is in the heading)")
        value = text if unit is None else f"{text} {unit}"
        rules = {"form": "quantity", "kind": self.kind, **self.bounds}
        return float(read_value(value, rules))

    def check_unit(self, unit: str | None) -> None:
        """Refuse a unit of another kind.

        Raises:
            InputError: the unit is unknown or of another kind.
        """
        if unit is not None and self.kind != "text":
            read_value(f"1 {unit}", {"form": "quantity", "kind": self.kind})


def column(kind: str, doc: str, **bounds: float) -> Column:
    """A column or setting; bounds are above, least, below and most, SI."""
    return Column(kind, doc, bounds)


@dataclass(frozen=True)
class Sheet:
    """A table of readings as its file states it.

    Attributes:
        source: name of the file.
        settings: what is stated for all rows, SI or text.
        remarks: key -> text of the lines about the piece.
        comments: the other lines that start with ``#``.
        rows: line number and cells of each row, SI or text; empty cells are left out.
        headings: columns that the file has.
        problems: what can't be used; the reader adds its own and calls `refuse`.
    """

    source: str
    settings: dict[str, float | str]
    remarks: dict[str, str]
    comments: tuple[str, ...]
    rows: tuple[tuple[int, dict[str, float | str]], ...]
    headings: frozenset[str]
    problems: Problems

    def refuse(self) -> None:
        """Raise when anything can't be used.

        Raises:
            DefinitionError: with the first problems found.
        """
        if self.problems:
            raise DefinitionError(self.source, self.problems[:MOST_PROBLEMS])


def read_sheet(
    path: str | Path, kind: str, columns: Mapping[str, Column], settings: Mapping[str, Column],
    remarks: Sequence[str] = (),
) -> Sheet:
    """Read a table of readings; the caller checks what its rows must hold.

    Args:
        path: CSV file; commas or semicolons.
        kind: what is expected, for messages, such as "bend test (CSV)".
        columns: name -> what the column holds.
        settings: name -> what may be stated for all rows.
        remarks: names of lines that describe the piece and are kept as text.
    Raises:
        DefinitionError: the file is not text, or has no rows or too many.
    """
    text = read_text_file(path, kind, LARGEST_FILE)
    if "\0" in text:
        raise DefinitionError(str(path), [Problem("", f"is not text; give a {kind}")])
    sheet = _Reader(columns, settings, remarks)
    content: list[tuple[int, str]] = []
    for number, line in enumerate(text.splitlines(), start=1):
        if line.lstrip().startswith("#"):
            sheet.take_comment(number, line.strip())
        elif line.strip(",; \t"):
            content.append((number, line))
    if not content and not sheet.problems:
        sheet.problems.append(Problem("", "has no rows; give a heading and readings"))
    if len(content) > MOST_ROWS:
        sheet.problems.append(Problem("", f"has more than {MOST_ROWS:,} rows"))
    else:
        sheet.take_rows(content)
    return Sheet(
        str(path), sheet.stated, remarks=sheet.described, comments=tuple(sheet.comments),
        rows=tuple(sheet.rows),
        headings=frozenset(name for name, _ in filter(None, sheet.headings)),
        problems=sheet.problems,
    )


@dataclass
class _Reader:
    """What was read so far."""

    columns: Mapping[str, Column]
    settings: Mapping[str, Column]
    remarks: Sequence[str]
    stated: dict[str, float | str] = field(default_factory=dict)
    described: dict[str, str] = field(default_factory=dict)
    comments: list[str] = field(default_factory=list)
    headings: list[tuple[str, str | None] | None] = field(default_factory=list)
    rows: list[tuple[int, dict[str, float | str]]] = field(default_factory=list)
    problems: Problems = field(default_factory=Problems)

    def take_comment(self, number: int, line: str) -> None:
        """A line that starts with ``#``: a setting, a remark, or a comment."""
        content = line.lstrip("#").strip()
        found = _SETTING.match(content)
        key, mark, value = (part.strip() for part in found.groups()) if found else (content, "", "")
        name = key.lower().replace(" ", "_")
        if mark and name in self.remarks:
            self.described[name] = value
        elif mark and name in self.settings:
            try:
                self.stated[name] = self.settings[name].read(value.strip('"'))
            except InputError as error:
                self.problems.append(Problem(f"line {number}", f"{name}: {error}"))
        elif mark and self._is_slip(name, mark):
            known = [*self.settings, *self.remarks]
            self.problems.append(Problem(
                f"line {number}", f"unknown setting {short(key)}; {nearest(name, known)}"))
        else:
            self.comments.append(content)

    def _is_slip(self, name: str, mark: str) -> bool:
        # A sentence may hold a colon; a name that is nearly one we know is a slip.
        known = [*self.settings, *self.remarks]
        return (mark == "=" and name.isidentifier()) or bool(
            difflib.get_close_matches(name, known, n=1, cutoff=0.85))

    def take_rows(self, content: Sequence[tuple[int, str]]) -> None:
        """The heading, then one reading a row."""
        delimiter = ";" if content and ";" in content[0][1] else ","
        for index, (number, line) in enumerate(content):
            if len(self.problems) > MOST_PROBLEMS:
                return
            try:
                cells = next(csv.reader([line], delimiter=delimiter, strict=True))
            except (csv.Error, StopIteration) as error:
                self.problems.append(Problem(f"line {number}", f"is not CSV ({error})"))
                continue
            if index == 0:
                before = len(self.problems)
                self._take_heading(number, cells)
                if len(self.problems) > before:
                    return
            else:
                self._take_row(number, cells)

    def _take_heading(self, number: int, cells: Sequence[str]) -> None:
        seen: set[str] = set()
        for cell in cells:
            found = _HEADING.match(cell)
            name = found[1].strip().lower().replace(" ", "_") if found else cell.strip()
            self.headings.append(None)
            if not found or name not in self.columns:
                self.problems.append(Problem(
                    f"line {number}, heading {short(cell.strip())}",
                    f"unknown column; {nearest(name, list(self.columns))}"))
                continue
            unit = found[2] or None
            if name in seen:
                self.problems.append(Problem(f"line {number}, heading {name}", "appears twice"))
                continue
            seen.add(name)
            try:
                self.columns[name].check_unit(unit)
            except InputError as error:
                self.problems.append(Problem(f"line {number}, heading {name}", str(error)))
                continue
            self.headings[-1] = (name, unit)

    def _take_row(self, number: int, cells: Sequence[str]) -> None:
        where = f"line {number}"
        if any(cell.strip() for cell in cells[len(self.headings):]):
            self.problems.append(Problem(
                where, f"has {len(cells)} cells for {len(self.headings)} headings"))
            return
        row: dict[str, float | str] = {}
        for cell, heading in zip(cells, self.headings, strict=False):
            value = cell.strip()
            if heading is None or not value:
                continue
            name, unit = heading
            try:
                row[name] = self.columns[name].read(value, unit)
            except InputError as error:
                self.problems.append(Problem(where, f"{name}: {error}"))
                return
        self.rows.append((number, row))
