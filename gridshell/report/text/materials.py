"""The library of materials as tables: one line a material, or everything known of one."""

from __future__ import annotations

import math
import textwrap
from collections.abc import Mapping, Sequence
from typing import Any

import numpy as np

from gridshell.define.constants import ROOM_TEMPERATURE
from gridshell.define.types import finite
from gridshell.define.units import convert, unit_in
from gridshell.material.creep import Creep
from gridshell.material.curve import Curve
from gridshell.material.data import MaterialData
from gridshell.material.properties import FROM_MEMORY, KINDS
from gridshell.material.rupture import Rupture
from gridshell.report.numbers import digits, shown, table
from gridshell.report.sentences import in_units

_SUMMARY = ("modulus", "strength", "density")
# kind of property -> units beside those of `gridshell.report.numbers`, metric and inch.
_UNITS = {
    "expansion": ("1/K", "1/delta_degF"), "conductivity": ("W/(m K)", "BTU/(hour ft delta_degF)"),
    "heat_capacity": ("J/(kg K)", "BTU/(lb delta_degF)"),
}
_DAY = 86400.0


def _value(value: float, key: str, system: str) -> str:
    """A value of a property as people read it."""
    kind = str(KINDS[key].rules["kind"])
    if kind in _UNITS:
        unit = _UNITS[kind][0 if system == "metric" else 1]
        found = convert(value, kind, unit)
        number = f"{digits(found * 1e6)}e-6" if kind == "expansion" else digits(found)
        return f"{number} {unit.replace('delta_', '').replace('hour', 'h')}"
    if key in ("shrinkage", "strain_at_break"):
        return f"{digits(value * 100, 3)} %"
    return shown(value, kind, system)


def _temperature(kelvin: float, system: str) -> str:
    unit = unit_in("degC", system)
    return f"{round(convert(kelvin, 'temperature', unit), 1) + 0.0:g} {unit}"


def _range(curve: Curve, system: str) -> str:
    if not math.isfinite(curve.low) or not math.isfinite(curve.high):
        return "any temperature"
    return f"{_temperature(curve.low, system)} to {_temperature(curve.high, system)}"


def library_text(library: Sequence[MaterialData], system: str = "metric") -> str:
    """The library, one line a material.

    Args:
        library: the materials.
        system: metric or inch.
    """
    rows = []
    for data in library:
        known = [data.curves.get(key) for key in _SUMMARY]
        rows.append([data.name, *(
            "" if curve is None or curve.outside(ROOM_TEMPERATURE)
            else _value(float(curve.at(ROOM_TEMPERATURE)), key, system)
            for key, curve in zip(_SUMMARY, known, strict=True)), data.family])
    at = _temperature(ROOM_TEMPERATURE, system)
    return (f"at {at}, in a short test; 'gridshell materials NAME' shows all with sources\n\n"
            + table(rows, ["material", *_SUMMARY, "family"]))


def material_text(data: MaterialData, system: str = "metric") -> str:
    """Everything known of one material, with the source of each number."""
    lines = [f"{data.name}: {data.title}"]
    if data.aliases:
        lines.append(f"also called {', '.join(data.aliases)}")
    if data.family:
        lines.append(f"family: {data.family}")
    lines += [f"caution: {in_units(caution, system)}" for caution in data.cautions]
    lines += [f"note: {in_units(note, system)}" for note in data.notes]
    for key, curve in data.curves.items():
        lines += ["", f"{key.replace('_', ' ')}: {KINDS[key].doc}"]
        if curve.value.size == 1:
            where = "" if KINDS[key].rules["kind"] in ("temperature", "time") else (
                f", {_range(curve, system)}")
            lines.append(f"  {_value(float(curve.value[0]), key, system)}{where}")
        else:
            rows = [[_temperature(float(kelvin), system), _value(float(value), key, system)]
                    for kelvin, value in zip(curve.temperature, curve.value, strict=True)]
            lines += ["  " + line for line in table(rows).splitlines()]
        lines += _source(curve.source, curve.scatter)
    lines += _under_load("creep: modulus", data.creep, system)
    lines += _under_load("strength over time:", data.rupture, system)
    unsure = [key for key, curve in data.curves.items() if FROM_MEMORY in curve.source]
    if unsure:
        lines += ["", *textwrap.wrap(
            f"{FROM_MEMORY}: {', '.join(key.replace('_', ' ') for key in unsure)}; cast a coupon, "
            "then 'gridshell coupon' makes a material file of your own", 100)]
    return "\n".join(lines)


_TIMES = (("1 min", 60.0), ("1 h", 3600.0), ("1 day", _DAY), ("30 days", 30 * _DAY))


def _under_load(title: str, data: Creep | Rupture | None, system: str) -> list[str]:
    """What is left under a load that stays on, as a table; nothing where it is not known."""
    if data is None:
        return []
    rows = [[name, f"{float(data.at(ROOM_TEMPERATURE, time)[0]):.2f}"] for name, time in _TIMES]
    return [
        "", f"{title} under a load that stays on, over that of a short test, at "
        f"{_temperature(ROOM_TEMPERATURE, system)}",
        *("  " + line for line in table(rows).splitlines()), *_source(data.source, None),
    ]


def _source(source: str, scatter: float | None) -> list[str]:
    spread = "" if scatter is None else f"; scatter {scatter * 100:g} % (standard deviation)"
    return textwrap.wrap(f"source: {source}{spread}", 100, initial_indent="  ",
                         subsequent_indent="    ")


def library_json(library: Sequence[MaterialData]) -> dict[str, Any]:
    """The library as plain data, SI."""
    return {"materials": [material_json(data) for data in library]}


def material_json(data: MaterialData) -> dict[str, Any]:
    """One material as plain data, SI; null where a range has no end."""
    def points(curve: Curve) -> dict[str, Any]:
        return {
            "temperature": None if curve.value.size == 1 else curve.temperature.tolist(),
            "value": curve.value.tolist() if curve.value.size > 1 else float(curve.value[0]),
            "low": finite(curve.low), "high": finite(curve.high), "scale": curve.scale,
            "source": curve.source, "scatter": curve.scatter,
        }

    found: dict[str, Any] = {
        "name": data.name, "title": data.title, "family": data.family,
        "aliases": list(data.aliases), "cautions": list(data.cautions), "notes": list(data.notes),
        "properties": {key: points(curve) for key, curve in data.curves.items()},
        "creep": None, "rupture": None,
    }
    if data.creep is not None:
        found["creep"] = _over_time(data.creep.at, data.creep.source)
    if data.rupture is not None:
        found["rupture"] = _over_time(data.rupture.at, data.rupture.source)
    return found


def _over_time(at: Any, source: str) -> Mapping[str, Any]:
    times = [time for _, time in _TIMES]
    factors = [float(np.asarray(at(ROOM_TEMPERATURE, time)[0])) for time in times]
    return {"temperature": ROOM_TEMPERATURE, "duration": times,
            "factor": [finite(factor) for factor in factors], "source": source}
