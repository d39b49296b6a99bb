"""What can be moved on the page, how far, and how what the page sends becomes a checked design.

The page states values just as the definition file does ("5.2 mm", "axial"), so one reader serves
both and a link is readable.
"""

from __future__ import annotations

import dataclasses
import math
from collections.abc import Mapping
from dataclasses import dataclass
from typing import Any

import numpy as np

from gridshell.define.checks import check_design
from gridshell.define.constants import CELL_PATTERNS, SIDES
from gridshell.define.errors import DefinitionError, InputError, Problems
from gridshell.define.files.unit_cell_match import refuse_unit_cell
from gridshell.define.files.writing import quantity_text
from gridshell.define.schema import field_rules, nearest, read_value
from gridshell.define.tables.as_built import belongs_to_one
from gridshell.define.tables.design import Design, Ribs, with_values
from gridshell.define.types import Array
from gridshell.define.units import convert, parse_quantity
from gridshell.material.resolve import material_data

LONGEST_VALUE = 60  # characters
_STEPS = 160  # a slider has about this many steps, of a round size


@dataclass(frozen=True)
class Reach:
    """A number of the definition and how far it may go.

    Attributes:
        path: in the definition, such as ``ribs.height`` or ``case[1].moment``.
        label: what people call it.
        unit: shown; empty for ratios and plain numbers.
        low: least value, in that unit.
        high: greatest value, in that unit.
        step: of one arrow key, in that unit.
        patterns: rib patterns that use it.
        group: where it stands on the page.
        kind: of quantity; ratio for plain numbers.
    """

    path: str
    label: str
    unit: str
    low: float
    high: float
    step: float
    patterns: tuple[str, ...]
    group: str
    kind: str

    def places(self, count: int) -> tuple[Array, Array]:
        """So many places from end to end: in its unit, and in SI.

        Args:
            count: places.
        """
        first, last = (parse_quantity(f"{end!r} {self.unit}".strip(), self.kind)
                       for end in (self.low, self.high))
        return np.linspace(self.low, self.high, count), np.linspace(first, last, count)


@dataclass(frozen=True)
class Slider(Reach):
    """A number that can be moved.

    Attributes:
        start: as the definition file states it.
        help: its meaning, from the declaration of the field.
    """

    start: str
    help: str


@dataclass(frozen=True)
class Choice:
    """A word that can be chosen.

    Attributes:
        path: in the definition, such as ``ribs.side``.
        label: what people call it.
        options: the words.
        start: as the definition file states it.
        patterns: rib patterns that use it.
        help: its meaning, from the declaration of the field.
    """

    path: str
    label: str
    options: tuple[str, ...]
    start: str
    patterns: tuple[str, ...]
    help: str


@dataclass(frozen=True)
class Controls:
    """Everything that can be moved for one definition.

    Attributes:
        sliders: the numbers.
        choices: the words.
    """

    sliders: tuple[Slider, ...]
    choices: tuple[Choice, ...]

    @property
    def each(self) -> tuple[Slider | Choice, ...]:
        """Choices, then sliders."""
        return (*self.choices, *self.sliders)

    @property
    def start(self) -> dict[str, str]:
        """The values of the definition file."""
        return {control.path: control.start for control in self.each}


def _round_step(span: float) -> float:
    """A round number (1, 2 or 5 times a power of ten) near a share of the span."""
    size = 10.0 ** math.floor(math.log10(span / _STEPS))
    return next(size * m for m in (1, 2, 5, 10) if size * m >= span / _STEPS * 0.999)


def round_ends(low: float, high: float, inside: bool = True) -> tuple[float, float, float]:
    """Round ends and the step of a range: low, high, step.

    Args:
        low: least value, in the unit shown.
        high: greatest value, in that unit.
        inside: whether the low end may not go below ``low``; a number above 0 stays above 0.
    """
    step = _round_step(high - low)
    first = (math.ceil(low / step - 1e-6) if inside else math.floor(low / step + 1e-6)) * step
    if low > 0:
        first = max(first, step)
    last = first + math.floor((high - first) / step + 1e-6) * step
    places = 9 - min(0, math.floor(math.log10(step)))  # so that 0.1 + 0.2 is 0.3 at any size
    return round(first, places), round(last, places), step


def _temperature_range(design: Design) -> tuple[float, float]:
    """Where the material has a modulus; a usual range where it is the same at every one, K."""
    stated = float(design.material.temperature)
    low, high = -math.inf, math.inf
    if design.material.modulus is None:
        curve = material_data(design.material, design.folder).curves.get("modulus")
        if curve is not None:
            low, high = float(curve.low), float(curve.high)
    if not math.isfinite(low):
        low = min(stated, 213.15)
    if not math.isfinite(high):
        high = max(stated, 353.15)
    return low, high


def controls_of(design: Design) -> Controls:
    """The controls for a definition, with ranges about what it states.

    Raises:
        InputError: the material can't be found, or the design states a solid cell or the factor
            of a tube that was measured.
    """
    refuse_unit_cell(design, "the sliders change it")
    if design.as_built is not None and design.as_built.knockdown != "published":
        raise belongs_to_one(design.as_built.knockdown, "the sliders change it")
    ribs, skin = design.ribs, float(design.skin.thickness)
    inch = design.units == "inch"
    length = "in" if inch else "mm"
    height = float(ribs.height) or 3 * skin
    width = float(ribs.width) or 1.5 * skin
    circumference = 2 * math.pi * float(design.skin_radius)
    spacing = float(ribs.spacing or ribs.hoop_spacing or circumference / 12)
    hoop = float(ribs.hoop_spacing or spacing)
    radius = max(float(ribs.corner_radius), spacing / 8)
    fillet = max(float(ribs.root_fillet), height / 4)
    with_families = (*CELL_PATTERNS, "families")
    sliders: list[Slider] = []

    def slider(
        path: str, label: str, value: float, low: float, high: float, unit: str,
        patterns: tuple[str, ...], group: str = "main",
    ) -> None:
        rules = field_rules(Design, path)
        ends = [convert(v, rules["kind"], unit) for v in (low, high)]
        # A temperature never lies outside the material's data.
        shown_low, shown_high, step = round_ends(
            ends[0], ends[1], inside=path == "material.temperature")
        sliders.append(Slider(
            path, label, unit=unit, low=shown_low, high=shown_high, step=step,
            patterns=patterns, group=group, kind=rules["kind"],
            start=quantity_text(value, rules["kind"], unit), help=rules["doc"],
        ))

    def about(path: str, label: str, value: float, patterns: tuple[str, ...], least: float = 0.3,
              most: float = 2.5) -> None:
        slider(
            path, label, value=value, low=least * value, high=most * value, unit=length,
            patterns=patterns,
        )

    about("ribs.height", "rib height", height, with_families)
    about("ribs.width", "rib width at the tip", width, with_families)
    about("ribs.spacing", "rib spacing", spacing, CELL_PATTERNS, 0.4, 2.2)
    about("ribs.hoop_spacing", "hoop rib spacing", hoop, ("orthogrid",), 0.4, 2.2)
    slider(
        "ribs.angle", "rib angle from the axis", value=float(ribs.angle or math.radians(45)),
        low=math.radians(15), high=math.radians(75), unit="deg", patterns=("diagonal",),
    )
    about("skin.thickness", "skin thickness", skin, (*with_families, "plain"))
    slider("material.temperature", "temperature of use", float(design.material.temperature),
           *_temperature_range(design), "degF" if inch else "degC", (*with_families, "plain"))
    slider(
        "ribs.draft", "draft of the flanks", value=float(ribs.draft), low=0.0,
        high=max(math.radians(12), float(ribs.draft)), unit="deg", patterns=CELL_PATTERNS,
        group="finer",
    )
    slider(
        "ribs.corner_radius", "pocket corner radius", value=float(ribs.corner_radius), low=0.0,
        high=radius, unit=length, patterns=CELL_PATTERNS, group="finer",
    )
    slider(
        "ribs.root_fillet", "root fillet", value=float(ribs.root_fillet), low=0.0, high=fillet,
        unit=length, patterns=CELL_PATTERNS, group="finer",
    )
    everywhere = (*with_families, "plain")
    for path, label, value, least, most in (
        ("tube.outside_diameter", "outside diameter", design.tube.outside_diameter, 0.6, 1.6),
        ("tube.length", "tube length", design.tube.length, 0.4, 2.0),
    ):
        slider(path, label, value=float(value), low=least * float(value),
               high=most * float(value), unit=length, patterns=everywhere, group="tube")
    patterns = tuple(
        name for name in field_rules(Design, "ribs.pattern")["options"]
        if name != "families" or ribs.family
    )

    def choice(
        path: str, label: str, options: tuple[str, ...], used: tuple[str, ...]
    ) -> Choice:
        rules = field_rules(Design, path)
        head, _, name = path.partition(".")
        return Choice(path, label, options, str(getattr(getattr(design, head), name)), used,
                      rules["doc"])

    return Controls(tuple(sliders), (
        choice("ribs.pattern", "rib pattern", patterns, (*with_families, "plain")),
        choice("ribs.orientation", "one rib family runs", ("hoop", "axial"), ("isogrid",)),
        choice("ribs.side", "ribs are", SIDES, with_families),
    ))


def positions(controls: Controls, design: Design) -> dict[str, float]:
    """What each slider stands at, in its unit; those that the pattern does not use stay out."""
    found = {}
    for slider in controls.sliders:
        table, _, name = slider.path.partition(".")
        value = getattr(getattr(design, table), name)
        if value is not None and design.ribs.pattern in slider.patterns:
            found[slider.path] = convert(float(value), slider.kind, slider.unit)
    return found


def stated(base: Design, controls: Controls, values: Any) -> Design:
    """The design that the page states; only the values that its pattern uses are taken.

    Args:
        base: the design of the definition file, for everything that can't be moved.
        controls: of that design.
        values: path -> text, as the page sent it. Paths left out stay as in the file.

    Raises:
        DefinitionError: every value that can't be read, or that contradicts another.
    """
    if not isinstance(values, Mapping):
        raise InputError("values: must be a table of paths and texts")
    problems = Problems()
    known = {control.path for control in controls.each}
    read: dict[str, Any] = {}
    for path, written in {**controls.start, **values}.items():
        if path not in known:
            name = str(path)[:LONGEST_VALUE]
            problems.add(name, f"unknown value; {nearest(name, sorted(known))}")
        elif not isinstance(written, str) or len(written) > LONGEST_VALUE:
            problems.add(path, f"must be a text of up to {LONGEST_VALUE} characters")
        else:
            try:
                read[path] = read_value(written, field_rules(Design, path))
            except InputError as error:
                problems.add(path, str(error))
    if not problems and read["ribs.pattern"] not in _of(controls, "ribs.pattern").options:
        problems.add("ribs.pattern", "the definition file has no [[ribs.family]]")
    if problems:
        raise DefinitionError("page", problems)
    design = _with(base, controls, read)
    problems += check_design(design)
    if problems:
        raise DefinitionError("page", problems)
    return design


def _of(controls: Controls, path: str) -> Choice:
    return next(choice for choice in controls.choices if choice.path == path)


def _with(base: Design, controls: Controls, read: Mapping[str, Any]) -> Design:
    pattern = read["ribs.pattern"]
    used = {
        control.path: read[control.path] for control in controls.each
        if pattern in control.patterns
    }
    blank = Ribs(pattern="plain")
    if pattern == "plain":
        ribs = blank
    else:
        ribs = dataclasses.replace(
            base.ribs, spacing=blank.spacing, hoop_spacing=blank.hoop_spacing, angle=blank.angle,
            orientation=blank.orientation,
            family=base.ribs.family if pattern == "families" else (),
        )
    return with_values(dataclasses.replace(base, ribs=ribs), used)
