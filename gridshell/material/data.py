"""Read a material file: TOML, one table a property, each with its source."""

from __future__ import annotations

import itertools
import math
from collections.abc import Mapping
from dataclasses import dataclass
from pathlib import Path
from typing import Any

import numpy as np

from gridshell.define.errors import DefinitionError, InputError, Problem, Problems, short
from gridshell.define.files.reading import read_toml
from gridshell.define.schema import nearest, read_value
from gridshell.material.creep import Creep
from gridshell.material.curve import Curve
from gridshell.material.properties import FIXED, KINDS, PropertyKind
from gridshell.material.rupture import Rupture

_TEXT = {"form": "text", "longest": 400}
_TEMPERATURE = {"form": "quantity", "kind": "temperature", "above": 0.0, "most": 4000.0}
_CURVE_KEYS = ("value", "temperature", "valid", "scale", "source", "scatter")
_RUPTURE_KEYS = ("per_decade", "test_duration", "longest", "source")
_CREEP_KEYS = ("form", "factor", "amplitude", "exponent", "test_duration", "longest", "source")
_HEAD = ("name", "title", "family", "aliases", "cautions", "notes")


@dataclass(frozen=True)
class MaterialData:
    """A material as its file states it.

    Attributes:
        name: name by which it is called up.
        title: what it is, in words.
        family: kind of material.
        aliases: other names by which it may be called up.
        cautions: hazards of handling it.
        notes: what a user should know of the data.
        curves: property -> curve.
        creep: modulus under load over time, or None.
        rupture: strength under load over time, or None.
    """

    name: str
    title: str
    family: str
    aliases: tuple[str, ...]
    cautions: tuple[str, ...]
    notes: tuple[str, ...]
    curves: Mapping[str, Curve]
    creep: Creep | None
    rupture: Rupture | None = None


def read_curve(given: Any, kind: PropertyKind, path: str, problems: Problems) -> Curve | None:
    """A property from a plain value or from a table of points; problems are collected.

    Args:
        given: "2 GPa", or a table with ``value`` (one or a list), ``temperature`` (a list as
            long), ``valid`` (lowest and highest temperature for one value), ``scale``,
            ``source`` and ``scatter``.
        kind: how the property is written.
        path: key path for messages.
        problems: where problems are added.
    """
    if not isinstance(given, Mapping):
        given = {"value": given}
    before = len(problems)

    def read(key: str, value: Any, rules: Mapping[str, Any]) -> Any:
        try:
            return read_value(value, rules)
        except InputError as error:
            problems.add(f"{path}.{key}", str(error))
            return None

    def read_list(key: str, rules: Mapping[str, Any]) -> list[Any]:
        value = given.get(key)
        entries = value if isinstance(value, list) else [value]
        return [read(key, entry, rules) for entry in entries]

    for key in given:
        if key not in _CURVE_KEYS:
            problems.add(f"{path}.{key}", f"unknown key; {nearest(str(key), _CURVE_KEYS)}")
    if "value" not in given:
        problems.add(f"{path}.value", "missing; one value, or a list over temperature")
        return None
    values = read_list("value", kind.rules)
    temperatures = read_list("temperature", _TEMPERATURE) if "temperature" in given else []
    valid = read_list("valid", _TEMPERATURE) if "valid" in given else []
    scale = given.get("scale", kind.scale)
    if scale not in ("log", "linear"):
        problems.add(f"{path}.scale", f"{short(scale)} is not one of: log, linear")
    source = read("source", given["source"], _TEXT) if "source" in given else "not stated"
    scatter = None
    if "scatter" in given:
        scatter = read(
            "scatter", given["scatter"], {"form": "quantity", "kind": "ratio", "least": 0.0,
                                          "most": 1.0},
        )
    if len(problems) > before:
        return None
    if len(values) == 0:
        problems.add(f"{path}.value", "is an empty list")
    elif kind.outside == FIXED and (len(values) > 1 or temperatures or valid):
        problems.add(path, "is one value; it does not depend on temperature")
    elif len(values) > 1 and len(temperatures) != len(values):
        problems.add(
            f"{path}.temperature",
            f"has {len(temperatures)} entries for {len(values)} values; must be as many")
    elif len(values) == 1 and len(temperatures) > 1:
        problems.add(f"{path}.value", "one value for several temperatures")
    elif any(second <= first for first, second in itertools.pairwise(temperatures)):
        problems.add(f"{path}.temperature", "must rise from one entry to the next")
    if valid and (len(valid) != 2 or valid[0] >= valid[1]):
        problems.add(f"{path}.valid", "must be a lower and a higher temperature")
    if scale == "log" and min(values, default=1.0) <= 0:
        problems.add(f"{path}.scale", "a log scale needs values above 0")
    if len(problems) > before:
        return None
    low, high = -math.inf, math.inf
    if len(values) > 1:
        low, high = temperatures[0], temperatures[-1]
    if valid:  # may narrow a curve, or say how far one value holds
        low, high = max(low, valid[0]), min(high, valid[1])
    return Curve(
        np.array(temperatures if len(values) > 1 else [0.0]), np.array(values, dtype=float),
        scale=str(scale), low=low, high=high, source=source, scatter=scatter,
    )


def _read_creep(given: Any, problems: Problems) -> Creep | None:
    if not isinstance(given, Mapping):
        problems.add("creep", f"{short(given)} is not a table")
        return None
    before = len(problems)
    for key in given:
        if key not in _CREEP_KEYS:
            problems.add(f"creep.{key}", f"unknown key; {nearest(str(key), _CREEP_KEYS)}")
    form = given.get("form")
    wanted = {"factor": ("factor",),
              "findley": ("amplitude", "exponent", "test_duration")}.get(str(form))
    if wanted is None:
        problems.add("creep.form", f"{short(form)} is not one of: factor, findley")
        return None
    for key in wanted:
        if key not in given:
            problems.add(f"creep.{key}", f"missing; the form {form!r} needs it")
    if len(problems) > before:
        return None

    table = _TimeTable("creep", given, problems)
    factor = table.ratio("factor", above=0.0, most=1.0) if form == "factor" else None
    amplitude = table.ratio("amplitude", above=0.0, most=100.0) if form == "findley" else None
    exponent = table.number("exponent", 0.0, kind="ratio", above=0.0, most=1.0)
    test_duration = table.number("test_duration", 1.0, kind="time", above=0.0)
    longest = table.number("longest", math.inf, kind="time", above=0.0)
    if len(problems) > before:
        return None
    return Creep(factor, amplitude, exponent, test_duration, longest, table.source)


def _read_rupture(given: Any, problems: Problems) -> Rupture | None:
    if not isinstance(given, Mapping):
        problems.add("rupture", f"{short(given)} is not a table")
        return None
    before = len(problems)
    for key in given:
        if key not in _RUPTURE_KEYS:
            problems.add(f"rupture.{key}", f"unknown key; {nearest(str(key), _RUPTURE_KEYS)}")
    if "per_decade" not in given:
        problems.add(
            "rupture.per_decade", "missing; share of the strength that "
            "remains for each tenfold of time, such as 0.9")
    if len(problems) > before:
        return None
    table = _TimeTable("rupture", given, problems)
    per_decade = table.ratio("per_decade", above=0.0, most=1.0)
    test_duration = table.number("test_duration", 60.0, kind="time", above=0.0)
    longest = table.number("longest", math.inf, kind="time", above=0.0)
    if per_decade is None or len(problems) > before:
        return None
    return Rupture(per_decade, test_duration, longest, table.source)


class _TimeTable:
    """Reads the entries of ``[creep]`` and ``[rupture]``."""

    def __init__(self, name: str, given: Mapping[str, Any], problems: Problems) -> None:
        self.name, self.given, self.problems = name, given, problems

    @property
    def source(self) -> str:
        """Where the numbers come from."""
        return str(self.given.get("source", "not stated"))

    def number(self, key: str, default: float, **rules: Any) -> float:
        """One value."""
        if key not in self.given:
            return default
        try:
            return float(read_value(self.given[key], {"form": "quantity", **rules}))
        except InputError as error:
            self.problems.append(Problem(f"{self.name}.{key}", str(error)))
            return default

    def ratio(self, key: str, **bounds: float) -> Curve | None:
        """A ratio over temperature."""
        rules = {"form": "quantity", "kind": "ratio", **bounds}
        kind = PropertyKind(rules, "hold", "linear", self.name)
        return read_curve(self.given[key], kind, f"{self.name}.{key}", self.problems)


def data_from_table(content: Mapping[str, Any], source: str) -> MaterialData:
    """A material from the parsed content of its file.

    Raises:
        DefinitionError: with every problem found.
    """
    problems = Problems()
    head: dict[str, Any] = {}
    for key in _HEAD:
        several = key in ("aliases", "cautions", "notes")
        if key not in content:
            if key == "name":
                problems.add(key, "missing; what the material is called")
            head[key] = () if several else ""
            continue
        entries = content[key] if several else [content[key]]
        if not isinstance(entries, list):
            problems.add(key, f"{short(entries)} is not a list")
            continue
        read = []
        for entry in entries:
            try:
                read.append(read_value(entry, _TEXT))
            except InputError as error:
                problems.add(key, str(error))
        head[key] = tuple(read) if several else "".join(read)
    curves: dict[str, Curve] = {}
    creep, rupture = None, None
    for key, given in content.items():
        if key in _HEAD:
            continue
        if key == "creep":
            creep = _read_creep(given, problems)
        elif key == "rupture":
            rupture = _read_rupture(given, problems)
        elif key in KINDS:
            curve = read_curve(given, KINDS[key], key, problems)
            if curve is not None:
                curves[key] = curve
        else:
            known = [*KINDS, *_HEAD, "creep", "rupture"]
            problems.add(str(key)[:60], f"unknown key; {nearest(str(key), known)}")
    if problems:
        raise DefinitionError(source, problems)
    return MaterialData(**head, curves=curves, creep=creep, rupture=rupture)


def read_material_file(path: str | Path) -> MaterialData:
    """Read and check a material file.

    Raises:
        DefinitionError: with every problem found, each on one line with its key path.
    """
    content, _ = read_toml(path)
    return data_from_table(content, str(path))
