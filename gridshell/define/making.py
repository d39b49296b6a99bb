"""A design from Python: the tables of a definition file as a dict, fields as arrays if wanted."""

from __future__ import annotations

import dataclasses
from collections.abc import Callable, Mapping
from pathlib import Path
from typing import Any

import numpy as np

from gridshell.define.checks import check_design
from gridshell.define.errors import DefinitionError, InputError, Problem, Problems, short
from gridshell.define.files.reading import design_from_table
from gridshell.define.possible import possible
from gridshell.define.schema import field_rules, read_value
from gridshell.define.tables.design import Case, Design, RibFamily
from gridshell.define.types import Array
from gridshell.define.units import KINDS

_Path = tuple[str | int, ...]


def make_design(
    definition: Mapping[str, Any] | None = None, *, folder: str | Path = ".",
    also: Callable[[Mapping[str, Any], Path], list[Problem]] | None = None, **tables: Any
) -> Design:
    """A design from the tables of a definition file, with the same checks.

    Args:
        definition: table -> its fields, as a definition file holds them; quantities are texts with
            a unit. Where a file takes one quantity, a list of texts or an array (SI) makes many
            designs.
        folder: that ``material.file`` and ``ribs.solid_cell`` are relative to.
        also: see `gridshell.define.files.reading.design_from_table`.
        tables: the same, as keywords; they replace those of ``definition``.
    Raises:
        DefinitionError: with every problem found.

    >>> design = make_design(
    ...     title="a tube", material={"name": "pla"}, skin={"thickness": ["1 mm", "2 mm"]},
    ...     tube={"outside_diameter": "80 mm", "length": "0.5 m"}, ribs={"pattern": "plain"})
    >>> design.skin.thickness.tolist()
    [0.001, 0.002]
    """
    if definition is not None and not isinstance(definition, Mapping):
        raise DefinitionError("make_design", [Problem("", (
            f"{short(definition)} is not a dict of tables; read_design reads a file"))])
    given = {**(definition or {}), **tables}
    arrays: dict[_Path, Array] = {}
    plain = _first(given, (), arrays)
    design = design_from_table(plain, "make_design", Path(folder), also=also)
    if not arrays:
        return design
    try:
        np.broadcast_shapes(*(values.shape for values in arrays.values()))
    except ValueError:
        shapes = ", ".join(f"{_shown(path)} {values.shape}" for path, values in arrays.items())
        raise DefinitionError("make_design", [
            Problem("", f"arrays of designs must be of one shape: {shapes}")]) from None
    for path, values in arrays.items():
        design = _put(design, path, values)
    _refuse_impossible(design, arrays)
    return design


def _shown(path: _Path) -> str:
    return "".join(
        f"[{part + 1}]" if isinstance(part, int) else f".{part}" for part in path).lstrip(".")


def _rules(path: _Path) -> Mapping[str, Any]:
    """Rules of the field at a path."""
    inside: dict[tuple[str | int, ...], type] = {("case",): Case, ("ribs", "family"): RibFamily}
    names = [part for part in path if isinstance(part, str)]
    record: type = Design
    for above, kind in inside.items():
        if path[: len(above)] == above and len(path) > len(above):
            record, names = kind, names[len(above):]
    return field_rules(record, ".".join(names))


def _first(given: Any, path: _Path, arrays: dict[_Path, Array]) -> Any:
    """The same tables with the first design's values; ``arrays`` takes the values of all."""
    if isinstance(given, Mapping):
        return {key: _first(value, (*path, key), arrays) for key, value in given.items()}
    if isinstance(given, np.ndarray):
        return _first_of_array(given, path, arrays)
    if isinstance(given, (list, tuple)):
        if any(isinstance(entry, Mapping) for entry in given):
            return [_first(entry, (*path, index), arrays) for index, entry in enumerate(given)]
        try:
            rules = _rules(path)
        except InputError:
            return list(given)
        if rules["form"] == "quantity" and given:
            try:
                values = np.array([float(read_value(entry, rules)) for entry in given])
            except InputError as error:
                raise DefinitionError("make_design", [Problem(_shown(path), str(error))]) from None
            arrays[path] = values
            return given[0]
        return list(given)
    if isinstance(given, np.generic):
        return given.item()
    return given


def _first_of_array(given: Array, path: _Path, arrays: dict[_Path, Array]) -> Any:
    try:
        rules = _rules(path)
    except InputError as error:
        raise DefinitionError("make_design", [Problem("", str(error))]) from None
    if rules["form"] != "quantity" or not given.size or given.dtype.kind not in "iuf":
        raise DefinitionError("make_design", [
            Problem(_shown(path), "takes no array; an array of numbers stands for a quantity")])
    arrays[path] = np.asarray(given, dtype=float)
    value = float(arrays[path].flat[0])
    unit = KINDS[rules["kind"]][0]
    return f"{value!r} {unit}" if unit else value


def _put(record: Any, path: _Path, value: Any) -> Any:
    """A frozen record with another value at a path."""
    if not path:
        return value
    head, rest = path[0], path[1:]
    if isinstance(head, int):
        return tuple(_put(entry, rest, value) if index == head else entry
                     for index, entry in enumerate(record))
    return dataclasses.replace(record, **{head: _put(getattr(record, head), rest, value)})


def _refuse_impossible(design: Design, arrays: Mapping[_Path, Array]) -> None:
    """Refuse arrays that hold a design that a file could not state; names the first of them."""
    shape = np.broadcast_shapes(*(values.shape for values in arrays.values()))
    good = np.broadcast_to(possible(design), shape).copy()
    for path, values in arrays.items():
        rules = _rules(path)
        fits = [_fits(float(value), rules) for value in values.flat]
        good &= np.broadcast_to(np.reshape(fits, values.shape), shape)
    if good.all():
        return
    at = np.unravel_index(int(np.argmin(good)), shape)
    one = design
    for path, values in arrays.items():
        one = _put(one, path, float(np.broadcast_to(values, shape)[at]))
    where = "design " + ", ".join(str(int(index)) for index in at)
    problems = Problems(Problem(f"{where}: {p.path}", p.message) for p in check_design(one))
    for path in arrays:
        value = float(np.broadcast_to(arrays[path], shape)[at])
        if not _fits(value, _rules(path)):
            problems.add(f"{where}: {_shown(path)}", f"{value:g} (SI) is out of bounds")
    raise DefinitionError("make_design", problems)


def _fits(value: float, rules: Mapping[str, Any]) -> bool:
    unit = KINDS[rules["kind"]][0]
    try:
        read_value(f"{value!r} {unit}" if unit else value, rules)
    except InputError:
        return False
    return True
