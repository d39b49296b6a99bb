"""A definition file with every key in it: those stated as values, the others as comments."""

from __future__ import annotations

import dataclasses
from collections.abc import Mapping, Sequence
from typing import Any

from gridshell.define.describe import default_text, key_words
from gridshell.define.files.toml import toml_value
from gridshell.define.schema import REQUIRED
from gridshell.define.tables.design import Design

# What a commented key without a default shows, metric and inch; by unit where the kind leaves room.
_EXAMPLES: Mapping[str, tuple[str, str]] = {
    "length": ("10 mm", "0.4 in"), "area": ("20 mm^2", "0.03 in^2"), "angle": ("5 deg", "5 deg"),
    "temperature": ("20 degC", "68 degF"), "mass": ("200 g", "0.5 lb"),
    "density": ("1100 kg/m^3", "0.04 lb/in^3"), "force": ("50 N", "10 lbf"),
    "line_force": ("500 N/m", "3 lbf/in"), "moment": ("9 N m", "80 lbf in"),
    "stiffness": ("200 N m^2", "70000 lbf in^2"), "speed": ("10 m/s", "30 ft/s"),
    "time": ("1 h", "1 h"), "frequency": ("40 Hz", "40 Hz"), "viscosity": ("1 Pa s", "1 Pa s"),
    "expansion": ("1.2e-5 1/K", "6.7e-6 1/delta_degF"),
    "GPa": ("3 GPa", "0.4 Mpsi"), "MPa": ("30 MPa", "4 ksi"), "kPa": ("20 kPa", "3 psi"),
}
_BY_NAME: Mapping[str, Any] = {
    "material.file": "mine.toml", "ribs.solid_cell": "cell.toml", "mold.shrinkage": "0.5 %",
    "mold.casting.mold_material": "petg", "chill.step.name": "cold room", "material.poisson": 0.35,
    "mold.insert_shrinkage": "0.3 %",
    "material.strength_per_decade": 0.95, "target.sides": ["inside", "outside"],
    "mold.bed": (["250 mm", "210 mm", "220 mm"], ["10 in", "8 in", "8.5 in"]),
    "target.largest_cells_round": 40, "target.largest_cells_along": 40, "title": "my tube",
    "body.event.drag_coefficient": 0.5, "as_built.shape": "scan.csv",
    "as_built.thickness": ("0.1 mm", "0.004 in"),
    "body.event.dynamic_factor": 2.0, "material.properties": {"strain_at_break": "3 %"},
}


def _example(field: Any, path: str, system: str) -> str:
    """What a key that is not stated shows: its default, else something that could stand there."""
    rules = field.metadata
    if field.default is not REQUIRED and field.default is not None:
        return default_text(field.default, rules, system)
    at = 0 if system == "metric" else 1
    found: Any = _BY_NAME.get(path)
    if isinstance(found, tuple):
        found = found[at]
    if found is None and rules["form"] in ("quantity", "quantities"):
        example = _EXAMPLES.get(rules.get("unit") or "", _EXAMPLES.get(rules["kind"], ("0.3",) * 2))
        found = float(example[at]) if rules["kind"] == "ratio" else example[at]
        if rules["form"] == "quantities":
            found = [found] * (rules["length"] or 1)
    if found is None:
        found = {"choice": (rules.get("options") or ("",))[0], "text": "a name", "flag": True,
                 "count": max(rules.get("least") or 0, 1), "number": 1.0, "names": [],
                 "free": {}}[rules["form"]]
    return toml_value(found)


def commented_text(
    content: Mapping[str, Any], tables: Sequence[str], comment: str = "", system: str = "metric"
) -> str:
    """A definition file with every key of its tables, each with what it means.

    Args:
        content: the parsed file; its keys are written as they stand.
        tables: tables of the file to write (`Design`); those within them are written too.
        comment: lines to put first.
        system: metric or inch, of the keys that are not stated.
    """
    lines = [f"# {line}".rstrip() for line in comment.splitlines()]
    fields = {field.name: field for field in dataclasses.fields(Design) if field.metadata}
    _keys(Design, content, "", True, system, lines)
    for name in tables:
        _table(fields[name], content.get(name), name, True, system, lines)
    return "\n".join(lines) + "\n"


def _table(
    field: Any, given: Any, path: str, live: bool, system: str, lines: list[str]
) -> None:
    """One table (each of a repeated one), or all of it as a comment where it is not stated."""
    rules = field.metadata
    double = rules["form"] == "tables"
    entries = given if double and given else [given]
    for index, entry in enumerate(entries):
        stated = live and entry is not None
        heading = f"[[{path}]]" if double else f"[{path}]"
        keys = [f for f in dataclasses.fields(rules["type"]) if f.metadata]
        if stated or any(f.metadata["form"] not in ("table", "tables") for f in keys):
            lines += ["", f"{'' if stated else '#'}{heading}"]
            if index == 0:
                lines[-1] += f"  # {rules['doc']}"
        _keys(rules["type"], entry or {}, path, stated, system, lines, brief=index > 0)
        for inner in keys:
            if inner.metadata["form"] in ("table", "tables") and (
                    index == 0 or inner.name in (entry or {})):
                _table(inner, (entry or {}).get(inner.name), f"{path}.{inner.name}", stated,
                       system, lines)


def _keys(
    record: type, given: Mapping[str, Any], path: str, live: bool, system: str, lines: list[str],
    brief: bool = False,
) -> None:
    """The keys of one table; in a second table of the same kind (``brief``) those stated only."""
    for field in dataclasses.fields(record):
        rules, name = field.metadata, field.name
        if not rules or rules["form"] in ("table", "tables"):
            continue
        stated = live and name in given
        if brief and not stated:
            continue
        if not brief:
            words = key_words(field, system)
            default = words.default if words.default == "needed" else (
                "" if words.default == "none" else f"default {words.default}")
            facts = "; ".join(filter(None, (words.kind, default, words.accepted)))
            lines.append(f"# {rules['doc']} ({facts})")
        value = toml_value(given[name]) if stated else _example(
            field, f"{path}.{name}".lstrip("."), system)
        lines.append(f"{'' if stated else '#'}{name} = {value}")
