"""Draw tubes about the stated one: dimensions and material properties that vary independently."""

from __future__ import annotations

import dataclasses
from dataclasses import dataclass
from typing import Any

import numpy as np

from gridshell.define.errors import InputError
from gridshell.define.files.unit_cell_match import refuse_unit_cell
from gridshell.define.schema import field_rules
from gridshell.define.tables.design import Design, with_values
from gridshell.define.tables.scatter import FIELDS, ScatterInput, read_spread
from gridshell.define.types import Array
from gridshell.material.properties import Properties
from gridshell.material.resolve import properties as resolve

CUT = 4.0  # deviations at which the bell curve is cut off
_OF_MATERIAL = ("modulus", "poisson", "density", "strength")


@dataclass(frozen=True)
class RandomInput:
    """One input as it is drawn.

    Attributes:
        field: such as ``skin.thickness``.
        distribution: normal or bounds.
        center: stated value, SI.
        scale: standard deviation (normal) or half range (bounds), SI.
    """

    field: str
    distribution: str
    center: float
    scale: float

    @property
    def reach(self) -> float:
        """Largest distance from the center."""
        return self.scale * (CUT if self.distribution == "normal" else 1.0)

    def draw(self, generator: np.random.Generator, count: int) -> Array:
        """Values, in SI."""
        if self.distribution == "normal":
            unit = np.clip(generator.standard_normal(count), -CUT, CUT)
        else:
            unit = generator.uniform(-1.0, 1.0, count)
        return self.center + self.scale * unit

    def bins(self, count: int) -> Array:
        """Inner edges (count - 1) that share the draws out evenly."""
        share = np.arange(1, count) / count
        if self.distribution == "normal":
            from scipy.special import ndtri

            answer: Array = self.center + self.scale * ndtri(share)
            return answer
        return self.center + self.scale * (2 * share - 1)


def _center(design: Design, known: Properties, field: str) -> float:
    table, name = field.split(".")
    if table == "material" and name in _OF_MATERIAL:
        value = getattr(known, name)
        if value is None:
            raise InputError(f"scatter.input: {field} is not known for this material; state it")
        return float(value)
    return float(getattr(getattr(design, table), name))


def random_inputs(design: Design, known: Properties) -> tuple[RandomInput, ...]:
    """The inputs of ``[scatter]`` with their stated values.

    Raises:
        InputError: nothing varies, an input has no stated value, reaches an impossible one, or
            changes what the design's solid cell was solved for.
    """
    entries: tuple[ScatterInput, ...] = design.scatter.input if design.scatter else ()
    if not entries:
        raise InputError("scatter.input: missing; write each quantity that varies as "
                         "[[scatter.input]]")
    found = []
    for index, entry in enumerate(entries, start=1):
        where = f"scatter.input[{index}]"
        if not entry.field.startswith("material.") or entry.field == "material.poisson":
            refuse_unit_cell(design, f"{where} varies {entry.field}")
        if entry.field.startswith("ribs.") and not design.has_ribs:
            raise InputError(f"{where}.field: {entry.field} means nothing for a plain wall")
        center = _center(design, known, entry.field)
        value, shared = read_spread(entry)
        spread = value * abs(center) if shared else value
        one = RandomInput(entry.field, entry.law, center, spread)
        if not spread > 0:
            raise InputError(f"{where}.spread: {entry.spread!r} of {center:g} is no spread")
        rules = field_rules(Design, entry.field)
        ends = one.center - one.reach, one.center + one.reach
        low = rules.get("above") if rules.get("above") is not None else rules.get("least")
        high = rules.get("below") if rules.get("below") is not None else rules.get("most")
        low = 0.0 if low is None and FIELDS[entry.field] != "ratio" else low
        if (low is not None and ends[0] < low) or (high is not None and ends[1] > high):
            raise InputError(
                f"{where}.spread: {entry.spread!r} reaches from {ends[0]:g} to {ends[1]:g} (SI; "
                f"the bell curve is cut at {CUT:g} deviations), past what {entry.field} may be"
            )
        found.append(one)
    return tuple(found)


def sampled_designs(
    design: Design, known: Properties, inputs: tuple[RandomInput, ...], values: Array
) -> tuple[Design, Properties]:
    """Designs and properties with drawn values (count, inputs)."""
    by_field = {one.field: values[:, k] for k, one in enumerate(inputs)}
    material: dict[str, Any] = {
        field.split(".")[1]: value for field, value in by_field.items()
        if field.startswith("material.") and field != "material.temperature"
    }
    plain = {field: value for field, value in by_field.items()
             if not field.startswith("material.")}
    moved = with_values(design, plain)
    properties = known
    if "material.temperature" in by_field:
        statement = dataclasses.replace(
            design.material, temperature=by_field["material.temperature"]
        )
        properties = resolve(statement, design.folder)
        # What varies beside the temperature does so by the same share at every temperature.
        centers = {one.field.split(".")[1]: one.center for one in inputs}
        material = {
            name: getattr(properties, name) * (value / centers[name])
            for name, value in material.items()
        }
    if material:
        if "modulus" in material and properties.short_time_modulus is not None:
            material["short_time_modulus"] = properties.short_time_modulus * (
                material["modulus"] / properties.modulus)
        properties = dataclasses.replace(properties, **material)
    return moved, properties


def lot_samples(inputs: tuple[RandomInput, ...], count: int, seed: int, lot: int) -> Array:
    """Draws of one lot (count, inputs). Same seed and lot, same draws, in whatever order."""
    generator = np.random.Generator(np.random.PCG64(np.random.SeedSequence((seed, lot))))
    return np.stack([one.draw(generator, count) for one in inputs], axis=-1)
