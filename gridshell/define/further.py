"""What else is wrong with a file that can't be read whole, so that all of it is said at once.

The checks between fields need tables that could be read. Here they are run on those that could,
and on those that only lack a name.
"""

from __future__ import annotations

import dataclasses
from collections.abc import Mapping
from typing import Any

from gridshell.define.checks import OWN_CHECKS, check_cases, check_design
from gridshell.define.errors import Problem, Problems
from gridshell.define.schema import REQUIRED, read_table
from gridshell.define.tables.body import Event, Part, check_event, check_part
from gridshell.define.tables.design import Design

_WALL = ("material", "tube", "skin", "ribs")
_ENTRIES: tuple[tuple[str, type, Any], ...] = (
    ("part", Part, check_part), ("event", Event, check_event))


def head(path: str) -> str:
    """The table of a key path.

    >>> head("body.part[2].mass"), head("case[1]")
    ('body', 'case')
    """
    return path.partition(".")[0].partition("[")[0]


def named(kind: type, given: Any, path: str = "") -> Any:
    """A parsed table without unknown keys, and with a name wherever a needed text is missing.

    Args:
        kind: the dataclass that declares the table.
        given: the parsed table; anything else is given back.
        path: of the table; makes names that differ.
    """
    if not isinstance(given, Mapping):
        return given
    known = {field.name for field in dataclasses.fields(kind) if field.metadata}
    found = {key: value for key, value in given.items() if key in known}
    for field in dataclasses.fields(kind):
        rules, name = field.metadata, field.name
        if not rules:
            continue
        where = f"{path}.{name}".lstrip(".")
        if name not in found:
            if rules["form"] == "text" and field.default is REQUIRED:
                found[name] = f"?{where}"[-min(40, rules["longest"]):]
        elif rules["form"] == "table":
            found[name] = named(rules["type"], found[name], where)
        elif rules["form"] == "tables" and isinstance(found[name], list):
            found[name] = [named(rules["type"], entry, f"{where}[{index}]")
                           for index, entry in enumerate(found[name], start=1)]
    return found


def further_problems(content: Mapping[str, Any], problems: Problems) -> list[Problem]:
    """Contradictions within what could be read of a definition.

    Args:
        content: the parsed definition.
        problems: found while reading it.
    Returns:
        those not among ``problems`` yet.
    """
    whole = named(Design, content)
    slips = Problems()
    read_table(Design, whole, "", slips)
    bad = {head(problem.path) for problem in slips}
    good = {key: value for key, value in whole.items() if key not in bad}
    found: list[Problem] = []
    if all(table in good for table in _WALL):
        design = read_table(Design, {"title": "?", **good}, "")
        found += check_design(design)
    else:
        rest = {"title": "?", **{key: {} for key in _WALL}, **good}
        fields = {f.name: f.metadata for f in dataclasses.fields(Design)}
        for key, check in OWN_CHECKS.items():
            if key in good:
                record = read_table(fields[key]["type"], rest[key], key)
                found += [] if record is None else check(record)
        if isinstance(good.get("case"), list):
            cases = [read_table(fields["case"]["type"], entry, "case")
                     for entry in good["case"]]
            found += [] if None in cases else check_cases(tuple(cases))
    if "body" in bad and isinstance(whole.get("body"), Mapping):
        found += _entries(whole["body"])
    known = {str(problem) for problem in problems}
    return [problem for problem in dict.fromkeys(found) if str(problem) not in known]


def _entries(body: Mapping[str, Any]) -> list[Problem]:
    """Contradictions within single parts and events of a ``[body]`` that can't be read whole."""
    found: list[Problem] = []
    for key, kind, check in _ENTRIES:
        entries = body.get(key)
        for index, entry in enumerate(entries if isinstance(entries, list) else (), start=1):
            path = f"body.{key}[{index}]"
            record = read_table(kind, entry, path)
            found += [] if record is None else check(record, path)
    return found
