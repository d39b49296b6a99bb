"""One tube over the temperatures its material has data for: stiffness, frequency, margins."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from gridshell.define.errors import InputError
from gridshell.define.tables.design import Design, with_values
from gridshell.define.types import Array
from gridshell.material.resolve import material_data, properties
from gridshell.tube.as_built.own import own_knockdowns
from gridshell.tube.as_built.tolerance import is_expected, taking
from gridshell.tube.assess import assess_tube
from gridshell.tube.result import TubeResult


@dataclass(frozen=True)
class OverTemperature:
    """One design at many temperatures.

    Attributes:
        temperature: K, (n,).
        tube: the assessment with arrays over temperature.
        reference: the same at the temperature the file states.
        service: lowest and highest usual temperature of use, K, None where not known.
        brittle: temperature below which the material breaks without yielding, K, or None.
    """

    temperature: Array
    tube: TubeResult
    reference: TubeResult
    service: tuple[float | None, float | None]
    brittle: float | None

    @property
    def stiffness_ratio(self) -> Array:
        """EI against that at the stated temperature."""
        return np.asarray(self.tube.stiffness.EI / self.reference.stiffness.EI)


def over_temperature(design: Design, points: int = 61) -> OverTemperature:
    """Assess a design over the whole range of its material's modulus data.

    Raises:
        InputError: the material's modulus is one stated number, so there is nothing to draw.
    """
    data = material_data(design.material, design.folder)
    curve = data.curves.get("modulus")
    if design.material.modulus is not None or curve is None or not curve.low < curve.high:
        raise InputError(
            "material.modulus: is one number without a curve over temperature; give a library "
            "material or a material file with a curve"
        )
    temperature = np.linspace(curve.low, curve.high, points)
    # The state at each temperature needs the shape of the temperatures on the design as well.
    many = with_values(design, {"material.temperature": temperature})
    reference = assess_tube(design)
    if is_expected(design):  # a modulus that changes everywhere alike leaves the factor as it is
        many = taking(many, own_knockdowns(reference.wall)["compression"].factor)
    tube = assess_tube(many, properties(design.material, design.folder, temperature))
    known = reference.wall.properties

    def plain(value: object) -> float | None:
        return None if value is None else float(value)

    return OverTemperature(
        temperature, tube, reference, (plain(known.service_low), plain(known.service_high)),
        plain(known.brittle_temperature),
    )
