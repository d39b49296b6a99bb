"""A JSON Schema of the definition file, by which editors complete and check it.

It knows which keys there are, how each is written, and the bounds of plain numbers. Bounds of
texts with a unit, and contradictions between keys, only the reader knows.
"""

from __future__ import annotations

import dataclasses
from collections.abc import Mapping
from typing import Any

from gridshell.define.describe import key_words
from gridshell.define.schema import REQUIRED
from gridshell.define.tables.design import Design

DRAFT = "https://json-schema.org/draft/2020-12/schema"
_NUMBER = r"^\s*[-+]?([0-9]+\.?[0-9]*|\.[0-9]+)([eE][-+]?[0-9]+)?"
_BOUNDS = {"above": "exclusiveMinimum", "least": "minimum", "below": "exclusiveMaximum",
           "most": "maximum"}


def json_schema(record: type = Design) -> dict[str, Any]:
    """The schema of a definition file.

    Args:
        record: the dataclass that declares it.
    """
    return {"$schema": DRAFT, "title": "gridshell definition file", **_table(record)}


def _table(record: type) -> dict[str, Any]:
    fields = [field for field in dataclasses.fields(record) if field.metadata]
    found: dict[str, Any] = {
        "type": "object", "additionalProperties": False,
        "properties": {field.name: _field(field) for field in fields},
    }
    needed = [field.name for field in fields
              if field.default is REQUIRED and field.metadata["form"] != "tables"]
    return {**found, "required": needed} if needed else found


def _field(field: Any) -> dict[str, Any]:
    rules = field.metadata
    if rules["form"] == "table":
        return {"description": rules["doc"], **_table(rules["type"])}
    if rules["form"] == "tables":
        return {"description": rules["doc"], "type": "array", "items": _table(rules["type"])}
    words = key_words(field)
    facts = "; ".join(filter(None, (
        words.kind, "needed" if words.default == "needed" else f"default {words.default}",
        words.accepted)))
    return {"description": f"{rules['doc']} ({facts})", **_value(rules)}


def _bounds(rules: Mapping[str, Any]) -> dict[str, Any]:
    return {word: rules[bound] for bound, word in _BOUNDS.items() if rules.get(bound) is not None}


def _quantity(rules: Mapping[str, Any]) -> dict[str, Any]:
    if rules["kind"] != "ratio":
        return {"type": "string", "pattern": _NUMBER + r"\s*\S"}
    return {"anyOf": [{"type": "number", **_bounds(rules)},
                      {"type": "string", "pattern": _NUMBER}]}


def _value(rules: Mapping[str, Any]) -> dict[str, Any]:
    """The schema of one value, by the rules of its field."""
    form = rules["form"]
    if form == "quantity":
        return _quantity(rules)
    if form == "number":
        return {"type": "number", **_bounds(rules)}
    if form == "count":
        return {"type": "integer", **_bounds(rules)}
    if form == "choice":
        return {"enum": list(rules["options"])}
    if form == "text":
        return {"type": "string", "minLength": 1, "maxLength": rules["longest"]}
    if form == "flag":
        return {"type": "boolean"}
    if form == "free":
        return {"type": "object"}
    if form == "names":
        options = rules["options"]
        return {"type": "array",
                "items": {"type": "string"} if options is None else {"enum": list(options)}}
    length = rules["length"]
    return {"type": "array", "items": _quantity(rules),
            **({} if length is None else {"minItems": length, "maxItems": length})}
