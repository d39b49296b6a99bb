"""Write what the coupons gave as a material file, ready for ``[material] file =``."""

from __future__ import annotations

from pathlib import Path
from typing import Any

import numpy as np

from gridshell.define.errors import InputError, short
from gridshell.define.files.replacing import write_text
from gridshell.define.files.toml import Key, long_list, toml_text
from gridshell.material.catalog import load_material
from gridshell.material.coupon.evaluate import CouponResult, curve_temperatures
from gridshell.material.creep import Creep
from gridshell.material.curve import Curve
from gridshell.material.data import MaterialData, data_from_table
from gridshell.material.properties import FIXED, KINDS
from gridshell.material.rupture import Rupture

_UNITS = {  # kind of quantity -> unit written
    "pressure": "Pa", "density": "kg/m^3", "expansion": "1/K", "conductivity": "W/(m K)",
    "heat_capacity": "J/(kg K)", "ratio": "", "time": "s",
}
_PRESSURES = ((1e9, "GPa"), (1e6, "MPa"), (1e3, "kPa"), (1.0, "Pa"))
ONE_TEMPERATURE_REACH = 3.0  # K; how far coupons at one temperature only are used


def _rounded(value: float) -> float:
    number = float(f"{value:.6g}")
    return int(number) if number.is_integer() else number


def _quantity(value: float, kind: str) -> str | float:
    if kind == "temperature":
        return _degrees(value)[0]
    unit = _UNITS[kind]
    if kind == "pressure":
        size, unit = next(((s, u) for s, u in _PRESSURES if abs(value) >= s), _PRESSURES[-1])
        value /= size
    return f"{value:.6g} {unit}" if unit else _rounded(value)


def _degrees(*values: float) -> list[str]:
    return [f"{round(value - 273.15, 3) + 0.0:g} degC" for value in values]


def _points(curve: Curve, kind: str, ranged: bool = True) -> dict[str, Any]:
    """Values over temperature, or one value and the range in which it holds."""
    values = [_quantity(float(v), kind) for v in curve.value]
    if len(values) > 1:
        return {"temperature": _degrees(*curve.temperature), "value": values}
    if ranged and np.isfinite([curve.low, curve.high]).all():
        return {"value": values[0], "valid": _degrees(curve.low, curve.high)}
    return {"value": values[0]}


def _table(key: str, curve: Curve, source: str) -> dict[str, Any]:
    ranged = KINDS[key].outside != FIXED
    found = _points(curve, str(KINDS[key].rules["kind"]), ranged)
    if ranged:
        found["scale"] = curve.scale
    found["source"] = source[:390]
    if curve.scatter is not None:
        found["scatter"] = float(f"{curve.scatter:.3g}")
    return found


def _measured(result: CouponResult) -> tuple[Curve, str]:
    fit = result.fit
    grid = curve_temperatures(fit)
    single = fit.relative_error(grid, single=True)
    used = sum(not c.outlier for c in result.coupons)
    source = f"measured: bending of {used} coupons, {Path(result.source).name}"
    left_out = len(result.coupons) - used
    if left_out:
        source += f" ({left_out} left out)"
    scatter = min(float(np.max(single)), 1.0)
    low, high = fit.low, fit.high
    if len(grid) == 1:
        low, high = low - ONE_TEMPERATURE_REACH, high + ONE_TEMPERATURE_REACH
    return Curve(
        grid, fit.modulus(grid), scale="log", low=low, high=high, source=source, scatter=scatter,
    ), source


def material_file(result: CouponResult, name: str | None = None) -> str:
    """Text of a material file: the measured modulus, and the base material's other properties.

    Args:
        result: of `gridshell.material.coupon.evaluate.run_coupon`.
        name: name of the material instead of that in the coupon file.
    Raises:
        InputError: the name can't be used.
    """
    called = result.name if name is None else name
    if not called.strip() or not called.isprintable() or len(called) > 80:
        raise InputError(f"--name: {short(called)} is not one line of up to 80 characters")
    base: MaterialData | None = load_material(result.based_on) if result.based_on else None
    curve, source = _measured(result)
    notes = [c[:390] for c in result.comments if c.isprintable() and c.strip()]
    content: dict[str, Any] = {
        "name": called, "title": result.title, "family": base.family if base else "measured",
    }
    if base and base.cautions:
        content["cautions"] = long_list(base.cautions)
    if notes:
        content["notes"] = long_list(notes)
    content["modulus"] = _table("modulus", curve, source)
    stated = {}
    if result.poisson_stated:
        stated["poisson"] = result.poisson
    if result.density is not None:
        stated["density"] = result.density
    for key in KINDS:
        if key == "modulus":
            continue
        if key in stated:
            constant = Curve(np.array([0.0]), np.array([stated[key]]))
            content[key] = _table(key, constant, f"stated in {Path(result.source).name}")
        elif base and key in base.curves:
            taken = base.curves[key]
            content[key] = _table(key, taken, f"{taken.source} (taken from {base.name})")
    if base and base.creep:
        content["creep"] = _creep(base.creep, base.name)
    if base and base.rupture:
        content["rupture"] = _rupture(base.rupture, base.name)
    return toml_text(content)


def _creep(creep: Creep, name: str) -> dict[Key, Any]:
    """The creep data of the library material ``name``."""
    key, curve = ("factor", creep.factor)
    if curve is None:
        key, curve = ("amplitude", creep.amplitude)
    assert curve is not None
    found: dict[Key, Any] = {"form": "factor" if key == "factor" else "findley"}
    found |= {(key, part): value for part, value in _points(curve, "ratio").items()}
    if key == "amplitude":
        found["exponent"] = _rounded(creep.exponent)
    return found | _times(creep, name)


def _rupture(rupture: Rupture, name: str) -> dict[Key, Any]:
    """The loss of strength over time of the library material ``name``."""
    points = _points(rupture.per_decade, "ratio")
    return {("per_decade", part): value for part, value in points.items()} | _times(rupture, name)


def _times(data: Creep | Rupture, name: str) -> dict[Key, Any]:
    found: dict[Key, Any] = {}
    if not isinstance(data, Creep) or data.factor is None:
        found["test_duration"] = f"{data.test_duration:.6g} s"
    if np.isfinite(data.longest):
        found["longest"] = f"{data.longest:.6g} s"
    found["source"] = f"{data.source} (taken from {name})"[:390]
    return found


def write_material_file(
    result: CouponResult, path: str | Path, *, name: str | None = None, force: bool = False
) -> MaterialData:
    """Write a material file and read it back.

    The file is written beside its place and moved there whole, so none is ever half-written.

    Args:
        result: of `gridshell.material.coupon.evaluate.run_coupon`.
        path: file to write, ending in .toml.
        name: name of the material instead of that in the coupon file.
        force: replace a file that is there.
    Returns:
        the material as read back.
    Raises:
        InputError: the file is there already, or can't be written.
    """
    target = Path(path)
    if target.suffix.lower() != ".toml":
        raise InputError(f"--write: {short(str(path))} must end in .toml")
    if target.is_dir() or (target.exists() and not force):
        raise InputError(f"--write: {target} exists already; give --force to replace it")
    import tomllib

    text = material_file(result, name)
    data = data_from_table(tomllib.loads(text), str(target))
    try:
        write_text(target, text, force)
    except InputError as error:
        raise InputError(f"--write: can't be written: {error}") from None
    return data
