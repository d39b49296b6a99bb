"""Write a design back as a definition file that reads as the same design.

Works from the declarations that the reader works from. Each quantity is shown in its declared unit
with as few digits as read back to exactly the stored number, or in SI where no number of digits in
that unit does.
"""

from __future__ import annotations

import dataclasses
import math
import os
import re
from collections.abc import Mapping
from pathlib import Path
from typing import Any

import numpy as np

from gridshell.define.errors import InputError
from gridshell.define.files.replacing import write_text
from gridshell.define.tables.design import Design, with_values
from gridshell.define.units import KINDS, convert, parse_quantity

_BARE_KEY = re.compile(r"[A-Za-z0-9_-]+\Z")
_MOST_DIGITS = 17  # enough for any double


def quantity_text(value: float, kind: str, unit: str | None) -> str:
    """A stored value as a definition file shows it; reads back to exactly the same number.

    Raises:
        InputError: not finite.

    >>> quantity_text(0.0024, "length", "mm"), quantity_text(294.15, "temperature", "degC")
    ('2.4 mm', '21 degC')
    """
    number = float(value)
    if not math.isfinite(number):
        raise InputError(f"{number} can't be written as a quantity")
    if unit:
        shown = convert(number, kind, unit)
        for digits in range(1, _MOST_DIGITS + 1):
            written = f"{shown:.{digits}g}"
            if "e" in written and abs(shown) < 1e9 and digits >= 6:
                written = repr(float(written))  # 123456.7 rather than 1.234567e+05
            elif "e" in written:
                plain = f"{float(written):f}".rstrip("0").rstrip(".")
                written = plain if 1e-4 <= abs(shown) < 1e6 else written
            if parse_quantity(f"{written} {unit}", kind) == number:
                return f"{written} {unit}"
    return f"{number!r} {KINDS[kind][0]}"


def _string(value: str) -> str:
    """A TOML basic string."""
    out = []
    for letter in value:
        if letter in '"\\':
            out.append("\\" + letter)
        elif ord(letter) < 0x20 or ord(letter) == 0x7F:
            out.append(f"\\u{ord(letter):04x}")
        else:
            out.append(letter)
    return '"' + "".join(out) + '"'


def _key(name: str) -> str:
    return name if _BARE_KEY.match(name) else _string(name)


def _float(value: float) -> str:
    if math.isnan(value):
        return "nan"
    if math.isinf(value):
        return "inf" if value > 0 else "-inf"
    return repr(value)


def _any(value: Any) -> str:
    """A value of a free table, as TOML read it."""
    if isinstance(value, bool):
        return "true" if value else "false"
    if isinstance(value, str):
        return _string(value)
    if isinstance(value, int):
        return str(value)
    if isinstance(value, float):
        return _float(value)
    if isinstance(value, Mapping):
        inside = ", ".join(f"{_key(str(k))} = {_any(v)}" for k, v in value.items())
        return "{ " + inside + " }" if inside else "{}"
    if isinstance(value, (list, tuple)):
        return "[" + ", ".join(_any(entry) for entry in value) + "]"
    if hasattr(value, "isoformat"):  # TOML dates
        return str(value.isoformat())
    raise InputError(f"{type(value).__name__} can't be written in a definition file")


def _scalar(value: Any, where: str) -> float:
    if np.ndim(value):
        raise InputError(f"{where}: is an array of designs; write one design at a time")
    return float(value)


def _value(value: Any, rules: Mapping[str, Any], where: str) -> str:
    """One value as TOML, by the rules of its field."""
    form = rules["form"]
    if form == "quantity":
        number = _scalar(value, where)
        if rules["kind"] == "ratio":
            return _float(number)
        return _string(quantity_text(number, rules["kind"], rules.get("unit")))
    if form == "quantities":
        entry = {**rules, "form": "quantity"}
        return "[" + ", ".join(_value(item, entry, where) for item in value) + "]"
    if form == "number":
        return _float(_scalar(value, where))
    if form == "count":
        return str(int(_scalar(value, where)))
    return _any(value)


def _write_table(
    record: Any, path: str, lines: list[str], header: str | None, keep: frozenset[str]
) -> None:
    """A dataclass as lines: its own values first, then the tables within it."""
    if header is not None:
        lines += ["", header]
    below: list[tuple[str, Any, str]] = []
    for field in dataclasses.fields(record):
        rules = field.metadata
        if not rules:
            continue
        value = getattr(record, field.name)
        where = f"{path}.{field.name}" if path else field.name
        form = rules["form"]
        if value is None or (form == "tables" and not value):
            continue
        if form in ("table", "tables") or (form == "free" and isinstance(value, Mapping)):
            below.append((where, value, form))
            continue
        if where not in keep and _same(value, field.default):
            continue
        lines.append(f"{_key(field.name)} = {_value(value, rules, where)}")
    for where, value, form in below:
        if form == "table":
            _write_table(value, where, lines, f"[{where}]", keep)
        elif form == "tables":
            for entry in value:
                _write_table(entry, where, lines, f"[[{where}]]", keep)
        else:
            _write_free(value, where, lines)


def _write_free(value: Mapping[str, Any], where: str, lines: list[str]) -> None:
    """A free table: plain values, then tables within it."""
    lines += ["", f"[{where}]"]
    nested = []
    for name, entry in value.items():
        if isinstance(entry, Mapping):
            nested.append((f"{where}.{_key(str(name))}", entry))
        else:
            lines.append(f"{_key(str(name))} = {_any(entry)}")
    for path, entry in nested:
        _write_free(entry, path, lines)


def _same(value: Any, default: Any) -> bool:
    if default is dataclasses.MISSING or np.ndim(value):
        return value is default
    return type(value) is type(default) and bool(value == default)


def table_text(record: Any, comment: str = "") -> str:
    """Any declared table as a TOML file; values at their defaults are left out.

    Args:
        record: a dataclass whose fields are declared by `gridshell.define.schema`.
        comment: lines to put first, each behind a ``#``.
    Raises:
        InputError: a value that no file can state.
    """
    lines = [f"# {line}".rstrip() for line in comment.splitlines()]
    _write_table(record, "", lines, None, _KEPT)
    return "\n".join(lines) + "\n"


def definition_text(design: Design, comment: str = "", folder: Path | None = None) -> str:
    """The definition file of one design. Values at their defaults are left out.

    Args:
        design: one design.
        comment: lines to put first, each behind a ``#``.
        folder: where the file will stand; material file and solid cell are named relative to it.
            None: where the design was read.
    Raises:
        InputError: an array of designs, or a value that no file can state.
    """
    for field, file in (
        ("material.file", design.material.file), ("ribs.solid_cell", design.ribs.solid_cell),
    ):
        if file is not None and folder is not None:
            moved = os.path.relpath((design.folder / file).resolve(), folder.resolve())
            design = with_values(design, {field: Path(moved).as_posix()})
    return table_text(design, comment)


# Written even at their defaults: what a reader of the file will look for first.
_KEPT = frozenset({
    "ribs.side", "ribs.orientation", "material.temperature", "tube.sections", "tube.segments",
    "case.factor",
})


def write_definition(
    design: Design, path: str | Path, force: bool = False, comment: str = ""
) -> None:
    """Write one design as a definition file, whole or not at all.

    Args:
        design: one design.
        path: of the file; its folder must be there.
        force: replace a file that is there.
        comment: lines to put first.
    Raises:
        InputError: a file is there and ``force`` is False, the place can't be written, or the
            design can't be stated in a file.
    """
    target = Path(path)
    if target.suffix.lower() != ".toml":
        raise InputError(f"{target}: a definition file ends in .toml")
    write_text(target, definition_text(design, comment, target.parent), force)
