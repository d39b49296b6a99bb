"""Lots of random designs over the whole accepted range: arrays of numbers, one set of words."""

from __future__ import annotations

import dataclasses
from collections.abc import Callable
from typing import Any

import numpy as np

from gridshell.define.checks import check_design
from gridshell.define.constants import PATTERNS, SIDES, SUPPORTS
from gridshell.define.possible import possible
from gridshell.define.schema import field_rules
from gridshell.define.tables.design import (
    Case,
    Design,
    Material,
    RibFamily,
    Ribs,
    Skin,
    Tube,
)
from gridshell.define.types import Array

WALLS = tuple(
    (pattern, orientation, side)
    for pattern in PATTERNS for orientation in (("hoop", "axial") if pattern == "isogrid" else
                                                ("hoop",))
    for side in (SIDES if pattern != "plain" else SIDES[:1])
)
RIB_FIELDS = ("height", "width", "draft", "spacing", "hoop_spacing", "angle", "corner_radius",
              "root_fillet")


def mapped(value: Any, change: Callable[[Array], Any]) -> Any:
    """The same tables with each array in them changed."""
    if isinstance(value, np.ndarray) and value.ndim:
        return change(value)
    if isinstance(value, tuple):
        return tuple(mapped(entry, change) for entry in value)
    if dataclasses.is_dataclass(value) and not isinstance(value, type):
        return dataclasses.replace(value, **{
            field.name: mapped(getattr(value, field.name), change)
            for field in dataclasses.fields(value)
        })
    return value


def single(design: Design, number: int) -> Design:
    """One design of a lot, in plain numbers."""
    return mapped(design, lambda values: float(values[number]))


def some(design: Design, which: Array) -> Design:
    """Some designs of a lot."""
    return mapped(design, lambda values: values[which])


def bounds(path: str) -> tuple[float, float]:
    """What the definition file accepts for one field; infinite where it sets no bound."""
    rules = field_rules(Design, path)
    low = rules.get("least") if rules.get("least") is not None else rules.get("above")
    high = rules.get("most") if rules.get("most") is not None else rules.get("below")
    return -np.inf if low is None else low, np.inf if high is None else high


class Drawing:
    """Draws one lot.

    Args:
        generator: of random numbers.
        count: designs drawn (more than are kept: some contradict themselves).
        middle: True: sizes that a maker would choose; False: anything that is accepted.
    """

    def __init__(self, generator: np.random.Generator, count: int, middle: bool) -> None:
        self.generator, self.count, self.middle = generator, count, middle

    def log(self, low: Any, high: Any, usual: tuple[float, float] | None = None) -> Array:
        """Evenly spread in the logarithm; ``usual`` takes the place of the ends in the middle."""
        if self.middle and usual is not None:
            low, high = np.maximum(low, usual[0]), np.minimum(high, usual[1])
        low, high = np.log(low), np.log(np.maximum(high, low))
        return np.exp(low + (high - low) * self.generator.random(self.count))

    def maybe(self, high: Any) -> Array:
        """Zero in one of two lots, else evenly spread up to a bound."""
        share = self.generator.random(self.count) * self.generator.integers(0, 2)
        return np.maximum(share * high, 0.0)

    def word(self, *words: Any) -> Any:
        """One of several."""
        return words[self.generator.integers(len(words))]

    def tube(self) -> Tube:
        """Diameters from a straw to a tower, lengths from a ring to a mast."""
        outside = self.log(*bounds("tube.outside_diameter"), (0.02, 1.0))
        length = np.clip(self.log(0.05 * outside, 1e3 * outside), *bounds("tube.length"))
        if self.middle:
            length = self.log(0.5, 20.0) * outside
        sections, segments = self.word(1, 1, 2, 5), self.word(1, 1, 2, 3, 7)
        return Tube(
            outside, length, sections, segments,
            self.maybe(0.2 * np.pi * outside / segments), self.maybe(0.2 * length / sections),
        )

    def family(self, skin: Array, ribs: Ribs, around: Array) -> RibFamily:
        """One family of its own."""
        own = self.word(True, False)
        width = self.log(0.02, 50.0, (0.3, 1.5)) * ribs.height if own else None
        root = (ribs.width if width is None else width) + 2 * ribs.height * np.tan(ribs.draft)
        angle = np.pi * (self.generator.random(self.count) - 0.5)
        if self.word(True, False):
            angle = np.full(self.count, self.word(0.0, np.pi / 2, np.pi / 6, -np.pi / 3))
        return RibFamily(angle, np.minimum(root * self.log(1.01, 100.0, (3.0, 30.0)), around / 3),
                         None, width)

    def ribs(self, wall: tuple[str, str, str], tube: Tube, skin: Array) -> Ribs:
        """Ribs from a scratch to half the radius, from blades to slabs, of any draft."""
        pattern, orientation, side = wall
        if pattern == "plain":
            return Ribs(pattern="plain")
        radius = tube.outside_diameter / 2
        around = 2 * np.pi * radius
        room = np.maximum(radius / 2 - skin, 1e-6)
        height = np.clip(skin * self.log(0.01, 100.0, (0.5, 6.0)), 1e-6, room)
        width = np.maximum(height * self.log(0.02, 50.0, (0.2, 1.2)), 1e-6)
        steep = bounds("ribs.draft")[1] if not self.middle else np.radians(4.0)
        draft = self.maybe(0.999 * steep)
        root = width + 2 * height * np.tan(draft)

        def spacing(limit: Array, factor: float = 1.0) -> Array:
            return np.minimum(root * factor * self.log(1.01, 100.0, (3.0, 30.0)), limit)

        values: dict[str, Any] = {}
        inside = np.full(self.count, np.inf)
        if pattern == "families":
            ribs = Ribs(pattern=pattern, side=side, height=height, width=width, draft=draft)
            values["family"] = tuple(
                self.family(skin, ribs, around) for _ in range(int(self.word(1, 2, 3, 4)))
            )
        else:
            values["spacing"] = spacing(around / 3, 1.74 if pattern == "isogrid" else 1.0)
            inside = values["spacing"] / (np.sqrt(3) if pattern == "isogrid" else 1.0)
        if pattern == "orthogrid":
            values["hoop_spacing"] = spacing(tube.length / tube.sections)
            inside = np.minimum(inside, values["hoop_spacing"])
        if pattern == "diagonal":
            angle = self.generator.random(self.count) * (np.pi / 2 - 0.02) + 0.01
            values["angle"] = angle if not self.middle else np.clip(angle, 0.4, 1.2)
        if pattern == "families":
            for family in values["family"]:
                wide = width if family.width is None else family.width
                inside = np.minimum(inside, family.spacing - wide + root - root)
            inside = np.minimum(inside, np.min([f.spacing for f in values["family"]], axis=0))
        gap = np.maximum((inside - root) / 2, 0.0)
        return Ribs(
            pattern=pattern, orientation=orientation, side=side, height=height, width=width,
            draft=draft, corner_radius=self.maybe(gap),
            root_fillet=self.maybe(np.minimum(gap, height)), **values,
        )

    def case(self, name: str, tube: Tube, skin: Array, modulus: Array) -> Case:
        """Some loads at once, about as large as would bring the tube near its limits, or far."""
        radius = tube.outside_diameter / 2
        scale = modulus * skin * radius

        def load(unit: Any, likely: float = 0.5) -> Any:
            if self.generator.random() > likely:
                return 0.0
            return np.minimum(unit * self.log(1e-7, 1e-2), 1e12)

        support = self.word("none", *SUPPORTS)
        held = support != "none"
        return Case(
            name=name, compression=load(scale) * self.word(1, 1, 1, -1),
            moment=load(scale * radius), shear=load(scale, 0.3), torque=load(scale * radius, 0.4),
            pressure=load(scale / radius**2) * self.word(1, 1, -1),
            pressure_on_ends=self.word(True, False), support=support,
            transverse=load(scale, 0.5) if held else 0.0,
            acceleration=self.log(0.1, 100.0) if held and self.word(True, False) else 0.0,
            factor=self.log(1.0, 3.0),
        )


def draw(generator: np.random.Generator, count: int, wall: tuple[str, str, str] | None = None,
         middle: bool | None = None) -> Design:
    """A lot of designs that the definition file accepts.

    Args:
        generator: of random numbers.
        count: designs wanted.
        wall: pattern, orientation and side; None: any.
        middle: see `Drawing`; None: one lot in three.

    Returns:
        a design whose fields are arrays (count,).
    """
    if wall is None:
        wall = WALLS[generator.integers(len(WALLS))]
    if middle is None:
        middle = bool(generator.random() < 1 / 3)
    most = 2 * count
    while True:
        drawing = Drawing(generator, most, middle)
        tube = drawing.tube()
        radius = tube.outside_diameter / 2
        skin = np.clip(radius / drawing.log(2.2, 2e4, (8.0, 300.0)), *bounds("skin.thickness"))
        modulus = drawing.log(1e5, 5e11, (5e8, 2e11))
        share = generator.random(most)
        material = Material(
            "invented", modulus=modulus, density=drawing.log(1.0, 2e4, (900.0, 8e3)),
            strength=modulus * drawing.log(1e-4, 0.1),
            poisson=0.45 * share if middle else -0.98 + 1.475 * share,
        )
        cases = tuple(drawing.case(name, tube, skin, modulus) for name in ("one", "two"))
        design = Design("Invented: one of many random tubes", material, tube, Skin(skin),
                        drawing.ribs(wall, tube, skin), case=cases)
        good = np.flatnonzero(np.broadcast_to(possible(design), (most,)))[:count]
        if len(good) == count:
            lot = some(design, good)
            # Rules that only a single design knows hold for all words alike: one stands for all.
            if not check_design(single(lot, 0)):
                return lot
        most = min(2 * most, 64 * count)  # a corner that accepts few; the words are drawn again
