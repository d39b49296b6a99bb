"""Every table and key of a definition file in words, from the declarations that the reader uses."""

from __future__ import annotations

import dataclasses
from collections.abc import Iterator, Mapping
from dataclasses import dataclass
from typing import Any

from gridshell.define.errors import InputError
from gridshell.define.files.writing import quantity_text
from gridshell.define.schema import REQUIRED, nearest
from gridshell.define.tables.design import Design
from gridshell.define.units import KINDS, convert, unit_in

_ROUND = 6  # letters of a number that reads well
_BOUNDS = (("above", "above"), ("least", "at least"), ("below", "below"), ("most", "at most"))


@dataclass(frozen=True)
class KeyWords:
    """One key of a table.

    Attributes:
        name: as it is written.
        doc: meaning, on one line.
        kind: what is written there: a kind of quantity and its unit, "text", "true or false"...
        default: as it is written; "needed" or "none" (nothing is assumed).
        accepted: bounds or options; empty without any.
        rules: the declaration.
    """

    name: str
    doc: str
    kind: str
    default: str
    accepted: str
    rules: Mapping[str, Any]


@dataclass(frozen=True)
class TableWords:
    """One table.

    Attributes:
        path: such as "body.part"; empty for the keys above the first table.
        repeated: whether it is written with double brackets, any number of times.
        needed: whether a file must have it.
        doc: meaning, on one line.
        keys: in the order of the declaration; not the tables within.
        record: the dataclass that declares it.
    """

    path: str
    repeated: bool
    needed: bool
    doc: str
    keys: tuple[KeyWords, ...]
    record: type

    @property
    def heading(self) -> str:
        """As a file writes it."""
        if not self.path:
            return "before the first table"
        return f"[[{self.path}]]" if self.repeated else f"[{self.path}]"


def shown_bound(value: float, rules: Mapping[str, Any], system: str = "metric") -> str:
    """A bound of a field, in its unit.

    >>> shown_bound(0.7853981634, {"kind": "angle", "unit": "deg"})
    '45 deg'
    """
    if "kind" not in rules or rules["kind"] == "ratio":
        return _short(value)
    kind, unit = rules["kind"], rules.get("unit") or KINDS[rules["kind"]][0]
    other = unit_in(unit, system)
    found = _short(convert(value, kind, other))
    if other != unit and len(found) > _ROUND:  # a metric bound that is not round in inches
        other, found = unit, _short(convert(value, kind, unit))
    return f"{found} {other}"


def _short(value: float) -> str:
    written = f"{value:.6g}".replace("e+", "e").replace("e0", "e").replace("e-0", "e-")
    return "0" if float(written) == 0 else written


def default_text(value: Any, rules: Mapping[str, Any], system: str = "metric") -> str:
    """A default (or any value) as TOML writes it."""
    if rules["form"] in ("quantities", "names"):
        return "[" + ", ".join(default_text(entry, _item(rules), system) for entry in value) + "]"
    if rules["form"] == "quantity" and rules["kind"] != "ratio":
        kind, unit = rules["kind"], rules.get("unit") or KINDS[rules["kind"]][0]
        found = quantity_text(float(value), kind, unit_in(unit, system))
        if len(found.split()[0]) > _ROUND:
            found = quantity_text(float(value), kind, unit)
        return f'"{found}"'
    if isinstance(value, bool):
        return str(value).lower()
    return f'"{value}"' if isinstance(value, str) else f"{value:g}"


def _item(rules: Mapping[str, Any]) -> Mapping[str, Any]:
    return {**rules, "form": "quantity" if rules["form"] == "quantities" else "text"}


def _kind(rules: Mapping[str, Any], system: str) -> str:
    form = rules["form"]
    if form in ("quantity", "quantities"):
        kind = rules["kind"].replace("_", " ")
        unit = unit_in(rules.get("unit") or KINDS[rules["kind"]][0], system)
        word = "ratio or %" if kind == "ratio" else f"{kind}, {unit}"
        return word if form == "quantity" else f"list: {word}"
    return {"count": "whole number", "number": "number", "choice": "one word", "text": "text",
            "flag": "true or false", "names": "list of words", "free": "table"}[str(form)]


def _accepted(rules: Mapping[str, Any], system: str) -> str:
    if rules.get("options"):
        return ", ".join(rules["options"])
    found = [f"{word} {shown_bound(rules[bound], rules, system)}"
             for bound, word in _BOUNDS if rules.get(bound) is not None]
    if rules.get("length") is not None:
        found.insert(0, f"{rules['length']} entries")
    if rules["form"] == "text":
        found.append(f"up to {rules['longest']} characters")
    return ", ".join(found)


def key_words(field: Any, system: str = "metric") -> KeyWords:
    """One declared field in words.

    Args:
        field: of a declared dataclass.
        system: metric or inch.
    """
    rules, default = field.metadata, field.default
    word = "needed" if default is REQUIRED else "none" if default is None else default_text(
        default, rules, system)
    return KeyWords(field.name, rules["doc"], _kind(rules, system), word,
                    _accepted(rules, system), rules)


def _walk(
    record: type, path: str, doc: str, repeated: bool, needed: bool, system: str
) -> Iterator[TableWords]:
    fields = [field for field in dataclasses.fields(record) if field.metadata]
    inside = [f for f in fields if f.metadata["form"] in ("table", "tables")]
    keys = tuple(key_words(field, system) for field in fields if field not in inside)
    if keys:
        yield TableWords(path, repeated, needed, doc, keys, record)
    for field in inside:
        rules = field.metadata
        yield from _walk(
            rules["type"], f"{path}.{field.name}".lstrip("."), rules["doc"],
            rules["form"] == "tables", field.default is REQUIRED, system)


def tables_of(system: str = "metric", record: type = Design) -> tuple[TableWords, ...]:
    """Every table of a definition file, outer ones before those within.

    Args:
        system: metric or inch; units of defaults and bounds.
        record: the dataclass that declares the file.

    >>> [table.heading for table in tables_of()][:5]
    ['before the first table', '[material]', '[tube]', '[skin]', '[ribs]']
    """
    return tuple(_walk(record, "", "the file itself", False, True, system))


def chosen_tables(name: str | None, system: str = "metric") -> tuple[TableWords, ...]:
    """The tables of a name: one and those within it, or one with a single key.

    Args:
        name: such as "ribs", "body.part" or "ribs.height"; None: all.
        system: metric or inch.
    Raises:
        InputError: nothing of that name; names the nearest.
    """
    found = tables_of(system)
    if name is None:
        return found
    path = name.strip("[] ")
    within = tuple(t for t in found if t.path == path or t.path.startswith(f"{path}."))
    if within and path:
        return within
    above, _, last = path.rpartition(".")
    for table in found:
        keys = tuple(key for key in table.keys if key.name == last)
        if table.path == above and keys:
            return (dataclasses.replace(table, keys=keys),)
    known = [t.path for t in found if t.path]
    known += [f"{t.path}.{key.name}".lstrip(".") for t in found for key in t.keys]
    if not path:
        raise InputError("TABLE: is empty; name a table such as ribs")
    hint = nearest(path, known)
    if hint.startswith("known"):
        hint = "known: " + ", ".join(t.path for t in found if t.path)
    raise InputError(f"{name[:60]}: no such table or key; {hint}")


def fields_text(tables: tuple[TableWords, ...]) -> str:
    """The reference as plain text."""
    lines: list[str] = []
    for table in tables:
        state = "needed" if table.needed and table.path else "" if not table.path else (
            "any number" if table.repeated else "may be left out")
        lines += ["", f"{table.heading}  {table.doc}" + (f" ({state})" if state else "")]
        for key in table.keys:
            default = key.default if key.default == "needed" else f"default {key.default}"
            facts = "; ".join(filter(None, (key.kind, default, key.accepted)))
            lines += [f"  {key.name}: {key.doc}", f"      {facts}"]
    return "\n".join(lines[1:])


def fields_markdown(tables: tuple[TableWords, ...]) -> str:
    """The reference as Markdown tables."""
    lines: list[str] = []
    for table in tables:
        lines += ["", f"#### `{table.heading}`" if table.path else "#### Before the first table",
                  "", f"{table.doc[:1].upper()}{table.doc[1:]}.", "",
                  "| key | meaning | written as | default | accepted |", "|---|---|---|---|---|"]
        for key in table.keys:
            cells = (f"`{key.name}`", key.doc, key.kind,
                     key.default if key.default in ("needed", "none") else f"`{key.default}`",
                     key.accepted)
            lines.append("| " + " | ".join(cell.replace("|", "\\|") for cell in cells) + " |")
    return "\n".join(lines[1:]) + "\n"


def fields_json(tables: tuple[TableWords, ...]) -> dict[str, Any]:
    """The reference as plain data."""
    return {"tables": [
        {"table": table.path, "repeated": table.repeated, "needed": table.needed,
         "meaning": table.doc,
         "keys": [{"key": key.name, "meaning": key.doc, "written_as": key.kind,
                   "default": key.default, "accepted": key.accepted} for key in table.keys]}
        for table in tables]}
