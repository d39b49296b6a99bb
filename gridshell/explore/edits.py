"""Everything of the definition file that is no slider: fields from its declaration, and edits.

An edit is a path and a text, such as ``case[1].moment`` and "9 N m"; an empty text leaves the field
to its default. A load case whose name is emptied goes; one past the last is added. What comes out
is read like a file, so every rule and message is that of the reader.
"""

from __future__ import annotations

import copy
import dataclasses
import functools
import re
from collections.abc import Iterator, Mapping
from typing import Any

from gridshell.define.errors import DefinitionError, InputError, Problems
from gridshell.define.files.reading import design_from_table
from gridshell.define.files.writing import stated_values
from gridshell.define.schema import nearest
from gridshell.define.tables.design import Case, Design
from gridshell.define.tables.mold import Mold
from gridshell.define.units import KINDS
from gridshell.explore.controls import LONGEST_VALUE

MOST_CASES = 20
_LONGEST_TEXT = 200
CASE = re.compile(r"case\[([1-9]\d?)\]")
# Not shown on the page: results of other commands, what sliders hold, what would not be read here.
_LEFT_OUT = ("units", "scatter", "chill", "body", "ribs.solid_cell", "ribs.pattern",
             "ribs.orientation", "ribs.side")


@functools.cache
def declared(kind: type) -> tuple[tuple[str, Mapping[str, Any], Any], ...]:
    """Path, rules and default of every single value below a table, in order.

    Args:
        kind: the dataclass of the table.
    """
    return tuple(_declared(kind, ""))


def _declared(kind: type, path: str) -> Iterator[tuple[str, Mapping[str, Any], Any]]:
    for field in dataclasses.fields(kind):
        rules = field.metadata
        where = f"{path}.{field.name}" if path else field.name
        if not rules or where in _LEFT_OUT or rules["form"] == "tables":
            continue
        if where == "mold":
            yield from _declared(Mold, where)
        elif rules["form"] == "table":
            yield from _declared(rules["type"], where)
        elif rules["form"] != "free":
            yield where, rules, field.default


def _shown(value: Any) -> str:
    """A value of a file as the text of one box."""
    if value is None or value is dataclasses.MISSING:
        return ""
    if isinstance(value, bool):
        return str(value).lower()
    if isinstance(value, (list, tuple)):
        return ", ".join(_shown(entry) for entry in value)
    return str(value)


def _default(rules: Mapping[str, Any], default: Any) -> str:
    """The default of a field in the words of a file."""
    from gridshell.define.files.writing import quantity_text

    if default is None or default is dataclasses.MISSING:
        return ""
    if rules["form"] in ("quantity", "quantities") and rules["kind"] != "ratio":
        each = default if isinstance(default, tuple) else (default,)
        return ", ".join(quantity_text(v, rules["kind"], rules.get("unit")) for v in each)
    return _shown(default)


def _at(content: Any, path: str) -> Any:
    for name in path.split("."):
        content = content.get(name) if isinstance(content, Mapping) else None
    return content


def fields_of(design: Design, sliders: set[str]) -> list[dict[str, Any]]:
    """Every field that can be edited: path, form, options, text as stated, default, meaning.

    Args:
        design: as the definition file states it.
        sliders: paths that are moved otherwise.
    """
    content = stated_values(design)
    found = [
        _described(path, rules, default, _shown(_at(content, path)))
        for path, rules, default in declared(Design) if path not in sliders
    ]
    for index, case in enumerate(content.get("case", []), start=1):
        found += [
            _described(f"case[{index}].{path}", rules, default, _shown(case.get(path)))
            for path, rules, default in declared(Case)
        ]
    return found


def case_fields() -> list[dict[str, Any]]:
    """The fields of a load case that is yet to be added; their paths are within the case."""
    return [_described(path, rules, default, "") for path, rules, default in declared(Case)]


def _described(path: str, rules: Mapping[str, Any], default: Any, text: str) -> dict[str, Any]:
    example = KINDS[rules["kind"]][1] if "kind" in rules else ""
    return {
        "path": path, "form": rules["form"], "options": list(rules.get("options") or ()),
        "text": text, "default": _default(rules, default), "example": example,
        "help": rules["doc"],
    }


def _read(text: str, rules: Mapping[str, Any]) -> Any:
    """A text of a box as a file would hold it; what can't be read is left for the reader."""
    form = rules["form"]
    if form == "flag":
        return {"true": True, "false": False}.get(text, text)
    if form in ("quantities", "names"):
        return [entry.strip() for entry in text.split(",") if entry.strip()]
    if form in ("count", "number") or rules.get("kind") == "ratio":
        for kind in (int, float) if form == "count" else (float,):
            try:
                return kind(text)
            except ValueError:
                continue
    return text


def edited(base: Design, edits: Mapping[str, str]) -> Design:
    """The design of the file with other values in it.

    Raises:
        DefinitionError: paths that can't be edited, values that can't be read, contradictions.
    """
    if not edits:
        return base
    content = copy.deepcopy(stated_values(base))  # the base stays as it is
    known = {path: rules for path, rules, _ in declared(Design)}
    in_case = {path: rules for path, rules, _ in declared(Case)}
    cases = [dict(case) for case in content.pop("case", [])]
    problems = Problems()
    for path, text in edits.items():
        name = str(path)[:LONGEST_VALUE]
        if not isinstance(text, str) or len(text) > _LONGEST_TEXT:
            problems.add(name, f"must be a text of up to {_LONGEST_TEXT} characters")
            continue
        head, _, field = path.partition(".")
        case = CASE.fullmatch(head)
        if case and field in in_case and int(case[1]) <= MOST_CASES:
            while len(cases) < int(case[1]):
                cases.append({})
            _put(cases[int(case[1]) - 1], field, text, in_case[field])
        elif path in known:
            *above, last = path.split(".")
            place = content
            for table in above:  # an empty text makes no table
                place = place.setdefault(table, {}) if text.strip() else place.get(table, {})
            _put(place, last, text, known[path])
        else:
            problems.add(name, f"unknown value; {nearest(name, sorted(known))}")
    if problems:
        raise DefinitionError("page", problems)
    kept = [case for case in cases if case.get("name")]
    if kept:
        content["case"] = kept
    return design_from_table(content, "page", base.folder)


def _put(place: dict[str, Any], name: str, text: str, rules: Mapping[str, Any]) -> None:
    if text.strip():
        place[name] = _read(text.strip(), rules)
    else:
        place.pop(name, None)


def split(controls: set[str], values: Any) -> tuple[dict[str, str], dict[str, str]]:
    """What the page states, apart: values of controls, and edits of other fields.

    Raises:
        InputError: not a table.
    """
    if not isinstance(values, Mapping):
        raise InputError("values: must be a table of paths and texts")
    moved = {path: text for path, text in values.items() if path in controls}
    return moved, {path: text for path, text in values.items() if path not in controls}
