"""Declare what a table of the definition file holds, and read it with every problem at once.

A table is a frozen dataclass; each field says by `quantity`, `number`, `choice`... what may be
written there, its bounds and its meaning. The reader, the writer and the help text all work from
that one declaration.
"""

from __future__ import annotations

import dataclasses
import difflib
import math
import operator
import typing
from collections.abc import Callable, Mapping, Sequence
from typing import Any

from gridshell.define.errors import DefinitionError, InputError, Problem, Problems, short
from gridshell.define.units import KINDS, USUAL_UNITS, parse_quantity

REQUIRED = dataclasses.MISSING
Record = typing.TypeVar("Record")


def _declare(form: str, default: Any, doc: str, **rules: Any) -> Any:
    metadata = {"form": form, "doc": doc, **rules}
    if default is REQUIRED:
        return dataclasses.field(metadata=metadata)
    return dataclasses.field(default=default, metadata=metadata)


def quantity(
    kind: str, doc: str, *, default: Any = REQUIRED, above: float | None = None,
    least: float | None = None, below: float | None = None, most: float | None = None,
    unit: str | None = None,
) -> Any:
    """A number with a unit; bounds are in SI. ``unit`` is the one shown when written back, if it
    is not the usual one of the kind."""
    return _declare(
        "quantity", default, doc, kind=kind, above=above, least=least, below=below, most=most,
        unit=unit or USUAL_UNITS.get(kind),
    )


def count(doc: str, *, default: Any = REQUIRED, least: int = 0, most: int = 10**6) -> Any:
    """A whole number."""
    return _declare("count", default, doc, least=least, most=most)


def number(
    doc: str, *, default: Any = REQUIRED, above: float | None = None, least: float | None = None,
    below: float | None = None, most: float | None = None,
) -> Any:
    """A plain number without a unit."""
    return _declare(
        "number", default, doc, above=above, least=least, below=below, most=most
    )


def choice(options: Sequence[str], doc: str, *, default: Any = REQUIRED) -> Any:
    """One of a few words."""
    return _declare("choice", default, doc, options=tuple(options))


def text(doc: str, *, default: Any = REQUIRED, longest: int = 200) -> Any:
    """A line of text."""
    return _declare("text", default, doc, longest=longest)


def flag(doc: str, *, default: Any = REQUIRED) -> Any:
    """true or false."""
    return _declare("flag", default, doc)


def quantities(
    kind: str, doc: str, *, default: Any = REQUIRED, length: int | None = None,
    above: float | None = None, least: float | None = None, below: float | None = None,
) -> Any:
    """A list of numbers with units, read as a tuple."""
    return _declare(
        "quantities", default, doc, kind=kind, length=length, above=above, least=least,
        below=below, unit=USUAL_UNITS.get(kind),
    )


def names(doc: str, *, default: Any = REQUIRED, options: Sequence[str] | None = None) -> Any:
    """A list of words, read as a tuple."""
    return _declare("names", default, doc, options=None if options is None else tuple(options))


def table(kind: type, doc: str, *, default: Any = REQUIRED) -> Any:
    """A table within the table."""
    return _declare("table", default, doc, type=kind)


def tables(kind: type, doc: str) -> Any:
    """A repeated table (``[[...]]``), read as a tuple; none is an empty tuple."""
    return _declare("tables", (), doc, type=kind)


def free(doc: str, *, default: Any = None) -> Any:
    """A table whose keys are not fixed; its owner checks it."""
    return _declare("free", default, doc)


def nearest(word: str, known: Sequence[str]) -> str:
    """A hint naming the nearest known word, or the known words when none is near."""
    match = difflib.get_close_matches(word, known, n=1, cutoff=0.5)
    return f"did you mean {match[0]!r}?" if match else "known: " + ", ".join(sorted(known))


# bound -> (how it compares, what is wrong beyond it)
BOUNDS: Mapping[str, tuple[Callable[[Any, Any], Any], str]] = {
    "above": (operator.gt, "is too small; must be above"),
    "least": (operator.ge, "is too small; must be at least"),
    "below": (operator.lt, "is too large; must be below"),
    "most": (operator.le, "is too large; must be at most"),
}


def bound_message(shown: str, bound: str, rules: Mapping[str, Any]) -> str:
    """What is wrong with a value beyond one of its `BOUNDS`."""
    unit = KINDS[rules["kind"]][0] if "kind" in rules else ""
    return f"{shown} {BOUNDS[bound][1]} {rules[bound]:g} {unit}".strip()


def choice_message(value: Any, rules: Mapping[str, Any]) -> str:
    """What is wrong with a word that is none of the options."""
    return f"{short(value)} is not one of: {', '.join(rules['options'])}"


def _check_bounds(value: float, rules: Mapping[str, Any], shown: str) -> float:
    if not math.isfinite(value):
        raise InputError(f"{shown} is not finite")
    for bound, (holds, _) in BOUNDS.items():
        if rules.get(bound) is not None and not holds(value, rules[bound]):
            raise InputError(bound_message(shown, bound, rules))
    return value


def _is_number(value: Any) -> bool:
    return isinstance(value, (int, float)) and not isinstance(value, bool)


def _read_quantity(value: Any, rules: Mapping[str, Any]) -> float:
    kind = rules["kind"]
    if _is_number(value):
        if kind != "ratio":
            raise InputError(f"{short(value)} has no unit; write {KINDS[kind][1]}, in quotes")
        return _check_bounds(float(value), rules, short(value))
    if not isinstance(value, str):
        raise InputError(f"{short(value)} is not a quantity; write {KINDS[kind][1]}, in quotes")
    return _check_bounds(parse_quantity(value, kind), rules, short(value))


def read_value(value: Any, rules: Mapping[str, Any]) -> Any:
    """Read one value by the rules of its field; tables are read by `read_table`.

    Raises:
        InputError: the value does not fit; the message says what would.
    """
    form = rules["form"]
    if form == "quantity":
        return _read_quantity(value, rules)
    if form == "number":
        if not _is_number(value):
            raise InputError(f"{short(value)} is not a plain number")
        return _check_bounds(float(value), rules, short(value))
    if form == "count":
        if not isinstance(value, int) or isinstance(value, bool):
            raise InputError(f"{short(value)} is not a whole number")
        if not rules["least"] <= value <= rules["most"]:
            raise InputError(
                f"{short(value)} is out of range; must be {rules['least']} to {rules['most']}"
            )
        return value
    if form == "choice":
        if value not in rules["options"]:
            raise InputError(choice_message(value, rules))
        return value
    if form == "text":
        if not isinstance(value, str) or not value.strip():
            raise InputError(f"{short(value)} is not a line of text")
        if len(value) > rules["longest"] or not value.isprintable():
            raise InputError(
                f"{short(value)} is not one printable line of up to {rules['longest']} characters"
            )
        return value
    if form == "flag":
        if not isinstance(value, bool):
            raise InputError(f"{short(value)} is not true or false")
        return value
    if form in ("quantities", "names"):
        if not isinstance(value, list):
            raise InputError(f"{short(value)} is not a list")
        if form == "names":
            item = {"form": "text", "longest": 80} if rules["options"] is None else {
                "form": "choice", "options": rules["options"]}
            return tuple(read_value(entry, item) for entry in value)
        if rules["length"] is not None and len(value) != rules["length"]:
            raise InputError(f"{short(value)} must have {rules['length']} entries")
        return tuple(_read_quantity(entry, rules) for entry in value)
    if form == "free":
        if not isinstance(value, dict):
            raise InputError(f"{short(value)} is not a table")
        return value
    raise AssertionError(f"unknown form {form}")  # a slip in our own declarations


def read_table(kind: type, value: Any, path: str, problems: Problems | None = None) -> Any:
    """Read a TOML table as the dataclass ``kind``, adding every problem found to ``problems``.

    Returns the dataclass, or None when something in it could not be read.
    """
    problems = Problems() if problems is None else problems
    if not isinstance(value, dict):
        problems.add(path, f"{short(value)} is not a table")
        return None
    before = len(problems)
    fields = {field.name: field for field in dataclasses.fields(kind) if field.metadata}
    for key in value:
        if key not in fields:
            problems.add(_join(path, key), f"unknown key; {nearest(str(key), list(fields))}")
    read: dict[str, Any] = {}
    for name, field in fields.items():
        where, rules = _join(path, name), field.metadata
        if name not in value:
            if field.default is REQUIRED and rules["form"] != "tables":
                problems.add(where, f"missing; {rules['doc']}{_example(rules)}")
            continue
        given = value[name]
        if rules["form"] == "table":
            read[name] = read_table(rules["type"], given, where, problems)
        elif rules["form"] == "tables":
            if not isinstance(given, list):
                problems.add(where, f"must be written as [[{where}]]")
                continue
            read[name] = tuple(
                read_table(rules["type"], entry, f"{where}[{index}]", problems)
                for index, entry in enumerate(given, start=1)
            )
        else:
            try:
                read[name] = read_value(given, rules)
            except InputError as error:
                problems.add(where, str(error))
    if len(problems) > before:
        return None
    return kind(**read)


def read_checked(
    kind: type[Record], stated: Any, path: str, check: Callable[[Record], Sequence[Problem]]
) -> Record:
    """A table that is read already, or as a file or a Python caller states it, checked in itself.

    Args:
        kind: its dataclass.
        stated: that dataclass, a dict, or None for all defaults.
        path: of the table.
        check: gives its contradictions.

    Raises:
        DefinitionError: with every problem found.
    """
    problems = Problems()
    found: Record | None = stated if isinstance(stated, kind) else read_table(
        kind, dict(stated or {}), path, problems)
    if found is not None:
        problems += check(found)
    if found is None or problems:
        raise DefinitionError("definition", problems)
    return found


def _join(path: str, key: Any) -> str:
    shown = str(key) if str(key).isprintable() and len(str(key)) <= 60 else short(key)
    return f"{path}.{shown}" if path else shown


def _example(rules: Mapping[str, Any]) -> str:
    if rules["form"] in ("quantity", "quantities"):
        return f" ({KINDS[rules['kind']][1]})"
    if rules["form"] == "choice":
        return f" (one of {', '.join(rules['options'])})"
    return ""


def field_rules(kind: type, path: str) -> Mapping[str, Any]:
    """The rules of the field at a dotted path below the dataclass ``kind``.

    Raises:
        InputError: no such field; the message names the nearest.
    """
    *tables_above, last = path.split(".")
    here: type = kind
    for name in tables_above:
        fields = {f.name: f for f in dataclasses.fields(here) if f.metadata}
        if name not in fields or fields[name].metadata["form"] != "table":
            raise InputError(f"{path}: unknown table {name!r}; {nearest(name, list(fields))}")
        here = fields[name].metadata["type"]
    fields = {f.name: f for f in dataclasses.fields(here) if f.metadata}
    if last not in fields:
        raise InputError(f"{path}: unknown field {last!r}; {nearest(last, list(fields))}")
    return typing.cast(Mapping[str, Any], fields[last].metadata)
