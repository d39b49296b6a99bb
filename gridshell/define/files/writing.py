"""Write a design back as a definition file that reads as the same design.

Works from the declarations that the reader works from. Each quantity is shown in its declared unit
(or the one beside it where the design is in inches), with as few digits as read back to the stored
number, but for its last bits.
"""

from __future__ import annotations

import dataclasses
import math
import os
from collections.abc import Mapping
from pathlib import Path
from typing import Any

import numpy as np

from gridshell.define.errors import InputError
from gridshell.define.files.replacing import write_text
from gridshell.define.files.toml import toml_text
from gridshell.define.tables.design import Design, with_values
from gridshell.define.units import KINDS, convert, parse_quantity, unit_in

_MOST_DIGITS = 17  # enough for any double
_NOISE = 2e-15  # relative; what a few conversions of units leave


def quantity_text(value: float, kind: str, unit: str | None) -> str:
    """A stored value as a definition file shows it, in the unit of the trade.

    As few digits as read back to the same number, but for the last bits: those of a size like
    3.7000000000000015 mm come from converting units, not from the user.

    Raises:
        InputError: not finite.

    >>> quantity_text(0.0024, "length", "mm"), quantity_text(294.15, "temperature", "degC")
    ('2.4 mm', '21 degC')
    >>> quantity_text(0.0037000000000000015, "length", "mm")
    '3.7 mm'
    """
    number = float(value)
    if not math.isfinite(number):
        raise InputError(f"{number} can't be written as a quantity")
    unit = unit or KINDS[kind][0]
    shown = convert(number, kind, unit)
    for digits in range(1, _MOST_DIGITS + 1):
        written = f"{shown:.{digits}g}"
        if "e" in written and 1e-9 <= abs(shown) < 1e12:
            written = np.format_float_positional(float(written), trim="-")
        read = parse_quantity(f"{written} {unit}", kind)
        if abs(read - number) <= (_NOISE * abs(number) if digits < _MOST_DIGITS - 3 else 0.0):
            break
    return f"{written} {unit}".strip()


def _scalar(value: Any, where: str) -> float:
    if np.ndim(value):
        raise InputError(f"{where}: is an array of designs; write one design at a time")
    return float(value)


def _value(value: Any, rules: Mapping[str, Any], where: str, system: str) -> Any:
    """One value as a file states it, by the rules of its field."""
    form = rules["form"]
    if form == "quantity":
        number = _scalar(value, where)
        if rules["kind"] == "ratio":
            return number
        unit = rules.get("unit") or KINDS[rules["kind"]][0]
        return quantity_text(number, rules["kind"], unit_in(unit, system))
    if form == "quantities":
        return [_value(item, {**rules, "form": "quantity"}, where, system) for item in value]
    if form == "number":
        return _scalar(value, where)
    if form == "count":
        return int(_scalar(value, where))
    if form == "table":
        return _stated(value, where, system)
    if form == "tables":
        return [_stated(entry, where, system) for entry in value]
    return list(value) if isinstance(value, tuple) else value


def _stated(record: Any, path: str, system: str) -> dict[str, Any]:
    """What a declared table states beyond its defaults."""
    found: dict[str, Any] = {}
    for field in dataclasses.fields(record):
        value, rules = getattr(record, field.name), field.metadata
        where = f"{path}.{field.name}" if path else field.name
        if not rules or value is None or (rules["form"] == "tables" and not value):
            continue
        within = rules["form"] in ("table", "tables", "free")
        if within or where in _KEPT or not _same(value, field.default):
            found[field.name] = _value(value, rules, where, system)
            if found[field.name] == {} and field.default is not None:
                del found[field.name]  # a table that is all defaults, and is there if left out
    return found


def _same(value: Any, default: Any) -> bool:
    if default is dataclasses.MISSING or np.ndim(value):
        return value is default
    return type(value) is type(default) and bool(value == default)


def stated_values(record: Any) -> dict[str, Any]:
    """What a declared table states beyond its defaults, as a file holds it.

    Args:
        record: a dataclass whose fields are declared by `gridshell.define.schema`.
    """
    return _stated(record, "", getattr(record, "units", "metric"))


def table_text(record: Any, comment: str = "") -> str:
    """Any declared table as a TOML file; values at their defaults are left out.

    Args:
        record: a dataclass whose fields are declared by `gridshell.define.schema`.
        comment: lines to put first, each behind a ``#``.
    Raises:
        InputError: a value that no file can state.
    """
    return toml_text(stated_values(record), comment)


def moved_to(design: Design, folder: Path) -> Design:
    """The design with the files that it names, named relative to another folder.

    Args:
        design: one design.
        folder: where its definition file will stand.
    """
    for field, file in (
        ("material.file", design.material.file), ("ribs.solid_cell", design.ribs.solid_cell),
        ("as_built.shape", None if design.as_built is None else design.as_built.shape),
    ):
        if file is not None:
            moved = os.path.relpath((design.folder / file).resolve(), folder.resolve())
            design = with_values(design, {field: Path(moved).as_posix()})
    return design


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
    if folder is not None:
        design = moved_to(design, folder)
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
