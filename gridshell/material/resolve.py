"""From what the user states to the properties at a temperature."""

from __future__ import annotations

import dataclasses
from collections.abc import Mapping
from pathlib import Path
from typing import Any

import numpy as np

from gridshell.define.errors import DefinitionError, InputError, Problem, Problems
from gridshell.define.schema import nearest, read_table
from gridshell.define.tables.design import Material
from gridshell.define.types import NOT_STATED, Array, Quantity
from gridshell.material.catalog import load_material, material_names
from gridshell.material.creep import NO_DATA, SHORT
from gridshell.material.curve import Curve
from gridshell.material.data import MaterialData, read_curve, read_material_file
from gridshell.material.properties import FIXED, FROM_MEMORY, KINDS, REFUSE, WITHHOLD, Properties
from gridshell.material.rupture import NO_DATA_PER_DECADE, NO_DATA_TEST, rupture_factor

_STATED = ("modulus", "poisson", "density", "strength")  # keys of [material] itself
_NEEDED = ("modulus", "poisson", "density")
TOO_COLD = "below the lowest usual temperature of use"
TOO_HOT = "above the highest usual temperature of use"
SOFTENS = "softens above"


def _celsius(kelvin: float) -> str:
    return f"{round(kelvin - 273.15, 1) + 0.0:g} degC"


def _span(curve: Curve) -> str:
    return f"{_celsius(curve.low)} to {_celsius(curve.high)}"


def _plain(value: Quantity) -> Quantity:
    """A zero-dimensional array as a float, so that one design prints as one number."""
    return float(value) if np.ndim(value) == 0 else value


def material_data(statement: Material, folder: Path) -> MaterialData:
    """The data behind a ``[material]`` table: its file or library entry, with what is stated there.

    Stated values (``properties`` table, then modulus, poisson, density, strength) are not
    included if they are arrays; see `properties`.

    Raises:
        InputError: unknown material or property, or a file that can't be read.
    """
    if statement.file is not None:
        data = read_material_file(folder / statement.file)
    else:
        try:
            data = load_material(statement.name)
        except InputError:
            if any(getattr(statement, key) is None and key not in (statement.properties or {})
                   for key in _NEEDED):
                raise
            data = MaterialData(
                statement.name, "stated in the definition file", family="", aliases=(), cautions=(),
                notes=(), curves={}, creep=None,
            )
    if not statement.properties:
        return data
    problems = Problems()
    curves = dict(data.curves)
    for key, given in statement.properties.items():
        path = f"material.properties.{key}"
        if key in _STATED and getattr(statement, key) is not None:
            problems.add(path, f"is stated twice; also as material.{key}")
        elif key in KINDS:
            curve = read_curve(given, KINDS[key], path, problems)
            if curve is not None:
                curves[key] = dataclasses.replace(
                    curve, source="stated by you" if curve.source == "not stated" else curve.source
                )
        else:
            problems.add(path, f"unknown property; {nearest(str(key), list(KINDS))}")
    if problems:
        raise InputError("\n".join(str(problem) for problem in problems))
    return dataclasses.replace(data, curves=curves)


def material_problems(content: Mapping[str, Any], folder: Path) -> list[Problem]:
    """What is wrong with the material that a definition names, beyond what its table may hold.

    Args:
        content: the parsed definition.
        folder: that ``material.file`` is relative to.
    """
    given = content.get("material")
    if not isinstance(given, Mapping):
        return []
    statement = read_table(Material, dict(given), "material")
    if statement is None:  # its other problems are said by who reads it; the name may be wrong too
        name, curves = given.get("name"), given.get("properties")
        stated = {*given, *(curves if isinstance(curves, Mapping) else ())}
        if not isinstance(name, str) or "file" in given or stated.issuperset(_NEEDED):
            return []
        statement = Material(name)
    try:
        material_data(statement, folder)
    except DefinitionError as error:
        return [Problem("material.file", f"{error.source}: {one}") for one in error.problems]
    except InputError as error:
        return [Problem(*line.split(": ", 1)) for line in str(error).splitlines()]
    return []


def _look_up(
    key: str, curve: Curve, temperature: Array, name: str, notes: list[str]
) -> Quantity:
    """One property at the temperatures, by the rule of `KINDS` where there are no data."""
    rule = KINDS[key].outside
    if rule == FIXED:
        return float(curve.value[0])
    outside = curve.outside(temperature)
    found = curve.at(temperature)
    if not outside.any():
        return _plain(found)
    asked = temperature[outside]
    where = _celsius(float(asked.min()))
    if asked.max() > asked.min():
        where += f" to {_celsius(float(asked.max()))}"
    if rule == REFUSE:
        raise InputError(
            f"material.temperature: {name} has no {key} data at {where}; must be "
            f"{_span(curve)}, or state material.{key}"
        )
    if rule == WITHHOLD:
        notes.append(f"{key}: not known at {where} (data cover {_span(curve)})")
        # An array keeps its shape: what is not known is no pass, in whatever company it stands.
        return NOT_STATED if outside.ndim == 0 else np.where(outside, np.nan, found)
    notes.append(f"{key}: held at the end of its data ({_span(curve)}) for {where}")
    return _plain(found)


def properties(
    statement: Material, folder: Path = Path("."), temperature: Quantity = NOT_STATED
) -> Properties:
    """Properties of the stated material at a temperature.

    Values stated in ``[material]`` replace those of the file or library; they are taken as true
    at every temperature. Where a property has no data at the temperature, the modulus is refused,
    strength and strain at break are withheld (None, NaN in an array), the rest is held at the end
    of its data; the last two with a note.

    ``load_duration`` reduces the modulus by creep and the strength by rupture under load.

    Args:
        statement: the ``[material]`` table; its numbers may be arrays.
        folder: folder that ``material.file`` is relative to.
        temperature: K, any shape; default the stated temperature.
    Raises:
        InputError: unknown material (names the nearest), unknown or bad property, no modulus,
            Poisson's ratio or density, or no modulus data at the temperature.

    >>> cold = properties(Material("hot-melt-eva"), temperature=np.array([255.0, 294.0]))
    >>> bool(cold.modulus[0] > 3 * cold.modulus[1])
    True
    """
    data = material_data(statement, folder)
    kelvin = np.asarray(
        statement.temperature if temperature is None else temperature, dtype=float
    )
    if not np.all(np.isfinite(kelvin)) or not np.all(kelvin > 0):
        raise InputError(f"material.temperature: {kelvin!s} must be finite and above 0 K")
    notes = list(data.notes)
    found: dict[str, Any] = {}
    sources: dict[str, str] = {}
    scatter: dict[str, float] = {}
    for key in KINDS:
        stated = getattr(statement, key) if key in _STATED else None
        if stated is not None:
            found[key], sources[key] = stated, "stated by you"
        elif key in data.curves:
            curve = data.curves[key]
            found[key] = _look_up(key, curve, kelvin, data.name, notes)
            sources[key] = curve.source
            if curve.scatter is not None:
                scatter[key] = curve.scatter
    for key in _NEEDED:
        if found.get(key) is None:
            raise InputError(
                f"material.{key}: {data.name} does not give it; state it in [material]"
            )
    unsure = [key for key, source in sources.items() if FROM_MEMORY in source]
    if unsure:
        notes.append(f"{FROM_MEMORY}: {', '.join(unsure)}")
    _compare_limits(found, kelvin, notes)
    factor: Quantity = 1.0
    lasting: Quantity = 1.0
    if statement.load_duration is not None:
        if statement.creep_factor is not None:
            lasts = np.asarray(statement.load_duration) > SHORT
            factor = _plain(np.where(lasts, statement.creep_factor, 1.0))
            sources["creep"] = "stated by you"
        elif data.creep is None:
            if np.any(np.asarray(statement.load_duration) > SHORT):
                notes.append(NO_DATA)
        else:
            creep, more = data.creep.at(kelvin, statement.load_duration)
            factor, sources["creep"] = _plain(creep), data.creep.source
            notes += more
        if found.get("strength") is not None:
            lasting, sources["rupture"], more = _strength_over_time(statement, data, kelvin)
            notes += more
    strength = found.get("strength")
    if strength is not None:
        found["strength"] = strength * lasting
    return Properties(
        name=data.name,
        temperature=_plain(kelvin),
        short_time_modulus=found["modulus"],
        creep_factor=factor,
        short_time_strength=NOT_STATED if strength is None else strength,
        rupture_factor=lasting,
        title=data.title,
        family=data.family,
        sources=sources,
        scatter=scatter,
        cautions=data.cautions,
        notes=tuple(notes),
        **{**found, "modulus": found["modulus"] * factor},
    )


def _strength_over_time(
    statement: Material, data: MaterialData, kelvin: Array
) -> tuple[Quantity, str, list[str]]:
    """Strength under the stated duration over that of a short test, its source, and notes."""
    duration, stated = statement.load_duration, statement.strength_per_decade
    if stated is not None:
        test = NO_DATA_TEST if data.rupture is None else data.rupture.test_duration
        return _plain(rupture_factor(duration, stated, test)), "stated by you", []
    if data.rupture is not None:
        factor, notes = data.rupture.at(kelvin, duration)
        return _plain(factor), data.rupture.source, notes
    factor = rupture_factor(duration, NO_DATA_PER_DECADE, NO_DATA_TEST)
    return _plain(factor), "assumed", [
        f"strength over time: no data for this material; {1 - NO_DATA_PER_DECADE:.0%} less for "
        "each tenfold of time is assumed (state material.strength_per_decade; 1: none is lost)"
    ]


def _compare_limits(found: dict[str, Any], kelvin: Array, notes: list[str]) -> None:
    """Say which of the material's own limits the temperature passes."""
    below = (("service_low", TOO_COLD), ("brittle_temperature", "brittle below"))
    above = (("service_high", TOO_HOT), ("softening_temperature", SOFTENS))
    for key, words in below:
        limit = found.get(key)
        if limit is not None and np.any(kelvin < limit):
            notes.append(f"{words} {_celsius(limit)}")
    for key, words in above:
        limit = found.get(key)
        if limit is not None and np.any(kelvin > limit):
            notes.append(f"{words} {_celsius(limit)}")


__all__ = ["material_data", "material_names", "material_problems", "properties"]
