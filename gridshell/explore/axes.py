"""What a map may run over: the sliders, and every other number that the definition holds.

The ends of an axis come from the definition file, so that the map stays where it is while the
design moves on it; they reach further where the design has left them.
"""

from __future__ import annotations

import dataclasses
import math
from collections.abc import Callable, Iterator, Mapping
from dataclasses import dataclass
from typing import Any

import numpy as np

from gridshell.define.constants import CELL_PATTERNS, SUPPORTS
from gridshell.define.errors import InputError
from gridshell.define.schema import nearest
from gridshell.define.tables.design import Case, Design, with_values
from gridshell.define.tables.mold import Mold, mold_of
from gridshell.define.types import Array
from gridshell.define.units import KINDS, convert, unit_in
from gridshell.explore.controls import Controls, Reach, round_ends
from gridshell.explore.edits import CASE, declared
from gridshell.material.properties import Properties
from gridshell.material.resolve import properties

_NUMBERS = ("quantity", "number", "count")
_FREE = 40.0  # K about a temperature, on either side
# Limits of a search, and tables of a tube that was measured: they move nothing on a map.
_LEFT_OUT = ("target", "as_built")
_MATERIAL = ("modulus", "poisson", "density", "strength")  # known from the library if not stated
# What arrays go through one after the other: whole numbers, and what some formula branches on.
_SINGLY = ("tube.sections", "tube.segments", "joints.")
_MOST_SINGLY = 11
WHOLE = frozenset(path for path, rules, _ in declared(Design) if rules["form"] == "count")
_GROUPS = {"material": "material", "tube": "tube", "ribs": "ribs", "mold": "mold",
           "mold.casting": "filling and opening the mold", "joints.bond": "bond",
           "joints.seam": "seams", "joints.end": "end joints"}


@dataclass(frozen=True)
class Axis(Reach):
    """A number that a map may run over.

    Attributes:
        whole: whether only whole numbers are possible.
    """

    whole: bool = False

    def places(self, count: int) -> tuple[Array, Array]:
        """At most so many places from end to end: in its unit, and in SI.

        Args:
            count: places; fewer of whole numbers and of what is assessed one after the other.
        """
        if self.singly:
            count = min(count, _MOST_SINGLY)
        if self.whole:
            some = np.unique(np.rint(np.linspace(self.low, self.high, count)))
            return some, some
        return super().places(count)

    @property
    def singly(self) -> bool:
        """Whether its values are assessed one after the other."""
        return self.whole or self.path.startswith(_SINGLY)

    @property
    def of_mold(self) -> bool:
        """Whether only the mold depends on it."""
        return self.path.startswith("mold.")


def axes_of(file: Design, design: Design, controls: Controls, only: str = "") -> list[Axis]:
    """Every axis that a map of a design may have, sliders first.

    Args:
        file: as the definition file states it.
        design: with other fields edited.
        controls: of the page.
        only: path of the one that is asked for.
    """
    sliders = {slider.path: slider for slider in controls.sliders}
    found = [
        Axis(**{field.name: getattr(slider, field.name) for field in dataclasses.fields(Reach)}
             | {"group": "sliders"})
        for slider in controls.sliders if only in ("", slider.path)
    ]
    for path, rules in _fields(design):
        if path not in sliders and only in ("", path) and (
                axis := _axis(file, design, path, rules)) is not None:
            found.append(axis)
    return found


def axis_of(file: Design, design: Design, controls: Controls, path: str) -> Axis:
    """One axis.

    Args:
        file: as the definition file states it.
        design: one design.
        controls: of the page.
        path: of the axis.

    Raises:
        InputError: no such axis for this design.
    """
    for axis in axes_of(file, design, controls, path):
        if design.ribs.pattern in axis.patterns:
            return axis
    known = [axis.path for axis in axes_of(file, design, controls)
             if design.ribs.pattern in axis.patterns]
    raise InputError(f"axis: {path[:60]!r} can't be mapped; {nearest(path[:60], known)}")


def value_at(design: Design, path: str) -> float | None:
    """The number at a path of one design, SI; None where there is none.

    Args:
        design: one design.
        path: such as ``case[1].moment``.
    """
    head, _, rest = path.partition(".")
    case = CASE.fullmatch(head)
    here: Any = design
    if case:
        if int(case[1]) > len(design.case):
            return None
        here = getattr(design.case[int(case[1]) - 1], rest)
    elif head == "mold":
        here = _mold(design)
        for name in rest.split("."):
            here = getattr(here, name, None)
    else:
        for name in path.split("."):
            here = getattr(here, name, None)
    if here is None and path.startswith("material.") and rest in _MATERIAL:
        try:
            here = getattr(_known(design), rest)
        except InputError:
            return None
    return None if here is None else float(here)


def shown_at(design: Design, axis: Axis) -> float | None:
    """Where one design stands on an axis, in its unit.

    Args:
        design: one design.
        axis: of its map.
    """
    value = value_at(design, axis.path)
    return None if value is None else value if axis.whole else convert(
        value, axis.kind, axis.unit or KINDS[axis.kind][0])


def placed(design: Design, values: Mapping[str, Any]) -> Design:
    """The same design with other numbers, by path of an axis; nothing is checked here.

    Args:
        design: one design.
        values: path -> SI numbers or arrays.
    """
    plain: dict[str, Any] = {}
    for path, value in values.items():
        head, _, rest = path.partition(".")
        case = CASE.fullmatch(head)
        if case:
            cases = list(design.case)
            at = int(case[1]) - 1
            cases[at] = dataclasses.replace(cases[at], **{rest: value})
            design = dataclasses.replace(design, case=tuple(cases))
        elif head == "mold":
            design = dataclasses.replace(design, mold=_put(mold_of(design), rest, value))
        elif "." in rest:
            design = dataclasses.replace(design, **{head: _put(getattr(design, head), rest, value)})
        else:
            plain[path] = value
    return with_values(design, plain)


def _put(record: Any, path: str, value: Any) -> Any:
    name, _, rest = path.partition(".")
    return dataclasses.replace(
        record, **{name: _put(getattr(record, name), rest, value) if rest else value})


def _fields(design: Design) -> Iterator[tuple[str, Mapping[str, Any]]]:
    """Path and rules of every number of the definition, load cases first."""
    for index, case in enumerate(design.case, start=1):
        for path, rules, _ in declared(Case):
            if path in ("transverse", "acceleration") and case.support not in SUPPORTS:
                continue  # refused without a support
            if rules["form"] in _NUMBERS:
                yield f"case[{index}].{path}", rules
    for path, rules, _ in declared(Design):
        if rules["form"] in _NUMBERS and not path.startswith(_LEFT_OUT):
            yield path, rules


def _axis(file: Design, design: Design, path: str, rules: Mapping[str, Any]) -> Axis | None:
    """An axis about what the file states; None where there is no number to go about."""
    now = value_at(design, path)
    stated = value_at(file, path)
    about = now if stated is None else stated
    if about is None or now is None:
        return None
    whole = rules["form"] == "count"
    kind = rules.get("kind", "ratio")
    unit = "" if kind == "ratio" else unit_in(rules.get("unit") or KINDS[kind][0], design.units)
    name = path.rpartition(".")[2]
    ends = _ends(about, now, rules, 1.0 if about else _scale(file, name, kind))
    if whole:
        low, high = float(round(ends[0])), float(round(ends[1]))
        step = 1.0
    else:
        low, high = (end if kind == "ratio" else convert(end, kind, unit) for end in ends)
        low, high, step = round_ends(low, high)
    if not low < high:
        return None
    table = path.rpartition(".")[0]
    case = CASE.fullmatch(table)
    group = f"load case: {design.case[int(case[1]) - 1].name}" if case else _GROUPS.get(
        table, table)
    label = {"poisson": "Poisson's ratio"}.get(name, name.replace("_", " "))
    of = {"tube": "", "ribs": "", "mold.casting": "mold"}.get(
        table, group.removeprefix("load case: "))
    return Axis(
        path, f"{label}, {of}" if of else label, unit=unit, low=low, high=high, step=step,
        group=group, kind=kind, whole=whole,
        patterns=CELL_PATTERNS if path == "ribs.smallest_pocket" else (
            *CELL_PATTERNS, "families", "plain"))


def _ends(
    about: float, now: float, rules: Mapping[str, Any], scale: float
) -> tuple[float, float]:
    """From well below to well above what is stated, within the bounds of the field, SI."""
    if rules.get("kind") == "temperature":
        low, high = about - _FREE, about + _FREE
        low, high = min(low, now - _FREE / 4), max(high, now + _FREE / 4)
    else:
        low, high = sorted((0.4 * about, 2.0 * about)) if about else (0.0, scale)
        if rules["form"] == "count":
            low, high = min(1.0, about), about + max(4.0, about)
        while now > high > 0:
            high *= 2
        while 0 < now < low:
            low /= 2
        if now < 0:
            low, high = min(low, 2 * now), max(high, 0.0)
    room = 1e-3 * (high - low)
    for bound, edge in (("least", 0.0), ("above", room)):
        if rules.get(bound) is not None:
            low = max(low, rules[bound] + edge)
    for bound, edge in (("most", 0.0), ("below", -room)):
        if rules.get(bound) is not None:
            high = min(high, rules[bound] + edge)
    return low, high


_KEPT: dict[str, tuple[Any, Any]] = {}  # what was made last, and of what


def _last(name: str, of: Any, make: Callable[[], Any]) -> Any:
    """Made anew only where it is of something else than the last time."""
    kept = _KEPT.get(name)
    if kept is None or kept[0] is not of:
        kept = _KEPT[name] = of, make()
    return kept[1]


def _mold(design: Design) -> Mold | None:
    return None if design.mold is None else _last("mold", design.mold, lambda: mold_of(design))


def _known(design: Design) -> Properties:
    found: Properties = _last(
        "material", design.material, lambda: properties(design.material, design.folder))
    return found


def _scale(file: Design, name: str, kind: str) -> float:
    """How far an axis reaches whose number is zero in the file, SI.

    Loads: some way past what buckles a wall of this skin and radius, by the classical stress
    0.3 E t/R of a thin cylinder (knockdown included; common practice, no source).
    """
    known = _known(file)
    radius, skin = float(file.skin_radius), float(file.skin.thickness)
    length = float(file.tube.length)
    force = 2 * math.pi * 0.3 * float(np.max(known.modulus)) * skin**2 * 2
    if kind in ("force", "moment"):
        arm = radius / 2 if kind == "moment" else 1.0
        return force * arm * (radius / length if name == "transverse" else 1.0)
    if kind == "pressure":
        return force / (math.pi * radius**2) / 4
    return {"acceleration": 200.0, "temperature_difference": 40.0, "length": 4 * skin,
            "area": (10 * skin) ** 2, "ratio": 0.1, "time": 3600.0}.get(kind, 1.0)
