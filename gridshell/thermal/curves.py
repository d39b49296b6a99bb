"""What the chilling needs to know of a material, as functions of temperature."""

from __future__ import annotations

import dataclasses
from collections.abc import Callable, Mapping
from dataclasses import dataclass
from pathlib import Path

import numpy as np

from gridshell.define.constants import ROOM_TEMPERATURE
from gridshell.define.errors import InputError
from gridshell.define.tables.design import Material
from gridshell.define.types import Array, Quantity
from gridshell.material.resolve import material_data, properties
from gridshell.thermal.heat.network import Property, Solid


@dataclass(frozen=True)
class MaterialCurves:
    """A material over temperature; each property takes K (array) and gives SI of the same shape.

    Where nothing is known at a temperature the value is NaN.

    Attributes:
        name: of the material.
        density: kg/m3.
        conductivity: W/(m K).
        heat_capacity: J/(kg K).
        modulus: Young's modulus of a short test, Pa.
        lasting_modulus: under the stated duration of the load.
        poisson: ratio.
        strain: free thermal strain between two temperatures (start, end) -> strain, negative for
            shrinking.
        strength: Pa.
        strain_at_break: ratio; each None when not known at all.
        brittle_temperature: K, or None.
        service_low: K, or None.
        softening_temperature: K, or None.
        demolding_temperature: K, or None.
        notes: what was reached or is missing.
        held: property -> lowest and highest temperature of its data, K, beyond which its value at
            the end is used.
    """

    name: str
    density: Property
    conductivity: Property
    heat_capacity: Property
    modulus: Property
    lasting_modulus: Property
    poisson: Property
    strain: Callable[[Quantity, Quantity], Array]
    strength: Property | None = None
    strain_at_break: Property | None = None
    brittle_temperature: float | None = None
    service_low: float | None = None
    softening_temperature: float | None = None
    demolding_temperature: float | None = None
    notes: tuple[str, ...] = ()
    held: Mapping[str, tuple[float, float]] = dataclasses.field(default_factory=dict)

    @property
    def solid(self) -> Solid:
        """The material as the network takes it."""
        # Density is that at room temperature: the mass of a cell stays when the cell shrinks.
        room = float(np.asarray(self.density(np.asarray(ROOM_TEMPERATURE))))
        return Solid(self.name, self.conductivity, lambda t: room * self.heat_capacity(t))


def constant(value: float) -> Property:
    """The same value at every temperature."""
    return lambda t: np.full(np.shape(t), float(value))


def material_curves(statement: Material, folder: Path = Path(".")) -> MaterialCurves:
    """Curves of the stated material.

    Conductivity, heat capacity, density, Poisson's ratio and expansion are held at the ends of
    their data; modulus, strength and strain at break are NaN outside theirs.

    Raises:
        InputError: no conductivity, heat capacity or expansion, with what to write.

    >>> eva = material_curves(Material("hot-melt-eva"))
    >>> bool(eva.strain(294.15, 194.7) < -0.01)
    True
    """
    data = material_data(statement, folder)
    for key in ("conductivity", "heat_capacity", "expansion"):
        if key not in data.curves:
            raise InputError(
                f"material.properties.{key}: {data.name} does not give it, and chilling needs it; "
                f"state it under [material.properties]")
    span = data.curves.get("modulus") if statement.modulus is None else None

    def known(t: Array) -> Array:
        t = np.asarray(t, dtype=float)
        return np.ones(t.shape, dtype=bool) if span is None else np.logical_not(span.outside(t))

    def mechanical(key: str) -> Property:
        def at(t: Array) -> Array:
            t = np.asarray(t, dtype=float)
            inside = known(t)
            found = np.full(t.shape, np.nan)
            if inside.any():
                value = getattr(properties(statement, folder, t[inside]), key)
                if value is not None:
                    found[inside] = value
            return found

        return at

    def held(key: str) -> Property:
        stated = getattr(statement, key, None)
        if stated is not None:
            return constant(float(stated))
        curve = data.curves.get(key)
        if curve is None:
            raise InputError(f"material.{key}: {data.name} does not give it; state it in "
                             "[material]")
        return lambda t: np.broadcast_to(curve.at(t), np.shape(t))

    def limit(key: str) -> float | None:
        return float(data.curves[key].value[0]) if key in data.curves else None

    expansion = data.curves["expansion"]
    optional = {
        key: mechanical(key) if key in data.curves or getattr(statement, key, None) is not None
        else None for key in ("strength", "strain_at_break")}
    notes = [f"{key}: not known, so cracking is not checked against it"
             for key, value in optional.items() if value is None]
    return MaterialCurves(
        name=data.name,
        density=held("density"),
        conductivity=held("conductivity"),
        heat_capacity=held("heat_capacity"),
        modulus=mechanical("short_time_modulus"),
        lasting_modulus=mechanical("modulus"),
        poisson=held("poisson"),
        strain=lambda start, end: expansion.integral(start, end),
        **optional,
        brittle_temperature=limit("brittle_temperature"),
        service_low=limit("service_low"),
        softening_temperature=limit("softening_temperature"),
        demolding_temperature=limit("peel_temperature"),
        notes=tuple(notes),
        held={key: (data.curves[key].low, data.curves[key].high)
              for key in ("conductivity", "heat_capacity", "expansion")},
    )


def tabulated(curves: MaterialCurves, low: float, high: float) -> MaterialCurves:
    """The same curves, looked up once every half kelvin and interpolated; much faster.

    NaN stays NaN: an interpolated value next to an unknown one is unknown too.
    """
    grid = np.linspace(low, high, int(np.ceil((high - low) / 0.5)) + 2)

    def fast(curve: Property) -> Property:
        value = np.broadcast_to(np.asarray(curve(grid), dtype=float), grid.shape)
        return lambda t: np.interp(t, grid, value)

    strain = np.asarray(curves.strain(low, grid), dtype=float)
    strain = np.broadcast_to(strain, grid.shape)
    changes: dict[str, object] = {
        key: fast(getattr(curves, key))
        for key in ("conductivity", "heat_capacity", "modulus", "lasting_modulus", "poisson",
                    "strength", "strain_at_break")
        if getattr(curves, key) is not None}
    changes["strain"] = lambda a, b: np.interp(b, grid, strain) - np.interp(a, grid, strain)
    return dataclasses.replace(curves, **changes)  # type: ignore[arg-type]
