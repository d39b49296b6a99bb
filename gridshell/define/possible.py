"""Which designs can exist: the rules between fields, said once for one design and for arrays.

Each value alone may be fine and the design still impossible. The checks of one design show the
message of each broken rule; a sweep over a million needs only yes or no.
"""

from __future__ import annotations

import dataclasses
import math
import weakref
from collections.abc import Callable, Iterator, Mapping, Sequence
from dataclasses import dataclass
from functools import partial
from typing import Any

import numpy as np

from gridshell.define.schema import BOUNDS, bound_message, choice_message
from gridshell.define.tables.design import Design, RibFamily
from gridshell.define.types import BoolArray, Quantity

THINNEST_MEAN_RADIUS_RATIO = 2.0  # radius over wall depth below which this is not a shell at all
THINNEST_SKIN = 2e4  # radius over skin thickness: foil thinner than that does not stand
LONGEST_TUBE = 2000.0  # length over radius
LEAST_RIB = 1e-6  # m
MOST_CELLS = 500_000  # of a whole tube; more is a slip in the spacing
MOST_OF_A_CELL = 1.5  # cell over panel; up to there, rounding to one cell is reported


@dataclass(frozen=True)
class Rule:
    """One rule between fields.

    Attributes:
        path: key path of the field to change.
        kept: True where designs keep it.
        message: what is wrong with one design, and what would be accepted.
    """

    path: str
    kept: BoolArray
    message: Callable[[], str]


def millimeters(value: Quantity) -> str:
    """A length of one design for a message."""
    return f"{float(value) * 1e3:g} mm"


def possible(design: Design) -> BoolArray:
    """True where the fields of a design (arrays or not) do not contradict each other.

    Args:
        design: one design or many of one pattern.
    """
    good = np.asarray(True)
    with np.errstate(all="ignore"):
        for stage in stages(design):
            for rule in stage:
                good = good & rule.kept
    return good


def stages(design: Design) -> Iterator[list[Rule]]:
    """The rules of geometry in stages; a stage makes sense where the stages before are kept."""
    yield stated(design)
    yield _shell(design)
    if design.has_ribs:
        yield list(declared(design.ribs, "ribs")) + [
            rule for index, family in enumerate(design.ribs.family, start=1)
            for rule in declared(family, f"ribs.family[{index}]")
        ]
        yield _rib_sizes(design)
        yield _spacings(design) + [_open(*room) for room in _rooms(design)]
        yield [rule for room in _rooms(design) for rule in _rounded(design, *room)]
    yield [_depth(design)]
    yield _lands(design)
    if design.has_ribs:
        yield list(_cells(design))


def _rule(path: str, kept: bool | BoolArray, message: Callable[[], str]) -> Rule:
    return Rule(path, np.asarray(kept), message)


def stated(design: Design) -> list[Rule]:
    """What each field of tube, skin, material, joints, shape and load cases may hold alone."""
    found = [*declared(design.tube, "tube"), *declared(design.skin, "skin"),
             *declared(design.material, "material"), *declared(design.joints, "joints"),
             *declared(design.as_built, "as_built")]
    for index, case in enumerate(design.case, start=1):
        found += declared(case, f"case[{index}]")
    return found


# Rules of tables that hold numbers only, by the table's identity, as long as it lives: a search
# assesses thousands of designs that share all tables but one or two.
_DECLARED: dict[int, tuple[weakref.ref[Any], dict[str, tuple[Rule, ...]]]] = {}


def declared(record: Any, path: str) -> Sequence[Rule]:
    """The bounds and words that a table, and the tables in it, declare for each field alone.

    Args:
        record: a table as a dataclass; anything else declares nothing.
        path: of the table.
    """
    if not dataclasses.is_dataclass(record) or isinstance(record, type):
        return ()
    key = id(record)
    known = _DECLARED.get(key)
    if known is not None and known[0]() is record and path in known[1]:
        return known[1][path]
    rules = tuple(_declared(record, path))
    if all(rule.kept.ndim == 0 for rule in rules):
        if known is None or known[0]() is not record:
            forget = partial(_forgotten, key)
            known = _DECLARED[key] = weakref.ref(record, forget), {}
        known[1][path] = rules
    return rules


def _forgotten(key: int, gone: object) -> None:
    _DECLARED.pop(key, None)


def _declared(record: Any, path: str) -> Iterator[Rule]:
    for field in dataclasses.fields(record):
        rules, value = field.metadata, getattr(record, field.name)
        if rules.get("form") == "table":
            yield from declared(value, f"{path}.{field.name}")
        if rules.get("form") == "choice":
            yield _rule(f"{path}.{field.name}", value in rules["options"],
                        partial(choice_message, value, rules))
        if value is None or rules.get("form") not in ("quantity", "number", "count"):
            continue
        values = np.asarray(value, dtype=float)
        yield _rule(f"{path}.{field.name}", np.isfinite(values), lambda: "is not finite")
        for name, (holds, _) in BOUNDS.items():
            bound = rules.get(name)
            if bound is not None:
                yield _rule(f"{path}.{field.name}", holds(values, bound),
                            partial(_beyond, values, name, rules))


def _beyond(value: Quantity, bound: str, rules: Mapping[str, Any]) -> str:
    return bound_message(f"{float(value):g}", bound, rules)


def _shell(design: Design) -> list[Rule]:
    tube, thickness = design.tube, design.skin.thickness
    outside = tube.outside_diameter / 2
    return [
        _rule("skin.thickness", thickness < outside, lambda: (
            f"{millimeters(thickness)} leaves no bore; must be below the outside radius "
            f"{millimeters(outside)}")),
        _rule("skin.thickness", outside <= THINNEST_SKIN * thickness, lambda: (
            f"{millimeters(thickness)} on a radius of {millimeters(outside)} is too thin; must be "
            f"at least {millimeters(outside / THINNEST_SKIN)}")),
        _rule("tube.length", tube.length <= LONGEST_TUBE * outside, lambda: (
            f"{millimeters(tube.length)} is too long for an outside diameter of "
            f"{millimeters(tube.outside_diameter)}; must be at most "
            f"{millimeters(LONGEST_TUBE * outside)}")),
    ]


def _rib_sizes(design: Design) -> list[Rule]:
    ribs, height, outside = design.ribs, design.rib_height, design.tube.outside_diameter / 2

    def size(name: str, value: Quantity) -> Rule:
        return _rule(f"ribs.{name}", value >= LEAST_RIB, lambda: (
            f"{millimeters(value)} is too small; must be at least {millimeters(LEAST_RIB)}"))

    sizes = [] if ribs.pattern == "families" else [
        size("height", ribs.height), size("width", ribs.width)]
    return [*sizes, _rule("ribs.height", height + design.skin.thickness < outside, lambda: (
        f"{millimeters(height)} with the skin fills the outside radius {millimeters(outside)}"))]


def _spacings(design: Design) -> list[Rule]:
    ribs = design.ribs
    third = 2 * np.pi * design.skin_radius / 3

    def fits(path: str, spacing: Quantity, limit: Quantity, what: str) -> Rule:
        return _rule(path, spacing <= limit, lambda: (
            f"{millimeters(spacing)} is too wide; must be at most {what}, {millimeters(limit)}"))

    found = []
    if ribs.spacing is not None:
        found.append(fits("ribs.spacing", ribs.spacing, third, "a third of the circumference"))
    if ribs.hoop_spacing is not None:
        found.append(fits("ribs.hoop_spacing", ribs.hoop_spacing, design.section_length,
                          "the section length"))
    return found + [
        fits(f"ribs.family[{index}].spacing", family.spacing, third,
             "a third of the circumference")
        for index, family in enumerate(ribs.family, start=1)
    ]


def _own_size(design: Design, family: RibFamily) -> tuple[Quantity, Quantity]:
    ribs = design.ribs
    return (ribs.height if family.height is None else family.height,
            ribs.width if family.width is None else family.width)


_Room = tuple[str, Quantity, Quantity, Quantity]


def _rooms(design: Design) -> list[_Room]:
    """Where ribs must leave a pocket: path, width at the root, height, room between rib lines."""
    ribs = design.ribs
    widened = 2 * np.tan(ribs.draft)  # the draft widens a rib on both flanks
    if ribs.pattern == "families":
        sizes = [(*_own_size(design, family), family.spacing) for family in ribs.family]
        return [(f"ribs.family[{index}].width", width + height * widened, height, room)
                for index, (height, width, room) in enumerate(sizes, start=1)]
    room = ribs.spacing
    if ribs.pattern == "isogrid":
        # The pocket triangle's inscribed circle has radius a*sqrt(3)/6; half a rib eats into it.
        room = ribs.spacing / math.sqrt(3)
    elif ribs.pattern == "orthogrid":
        room = np.minimum(ribs.spacing, ribs.hoop_spacing)
    return [("ribs.width", ribs.width + ribs.height * widened, ribs.height, room)]


def _open(path: str, root: Quantity, height: Quantity, room: Quantity) -> Rule:
    return _rule(path, root < room, lambda: (
        f"ribs {millimeters(root)} wide at the root (width plus draft) close the pockets; the root "
        f"must be below {millimeters(room)}"))


def _rounded(
    design: Design, path: str, root: Quantity, height: Quantity, room: Quantity
) -> Iterator[Rule]:
    """Corner radii and fillets that leave a pocket."""
    largest = (room - root) / 2

    def fits(name: str, radius: Quantity) -> Rule:
        return _rule(f"ribs.{name}", radius <= largest, lambda: (
            f"{millimeters(radius)} does not fit the pocket; must be at most "
            f"{millimeters(largest)}"))

    yield fits("corner_radius", design.ribs.corner_radius)
    yield fits("root_fillet", design.ribs.root_fillet)
    fillet = design.ribs.root_fillet
    flat = np.asarray(height) <= 0
    yield _rule("ribs.root_fillet", flat | (fillet <= height), lambda: (
        f"{millimeters(fillet)} is taller than the rib; must be at most {millimeters(height)}"))


def _depth(design: Design) -> Rule:
    outside, depth = design.tube.outside_diameter / 2, design.skin.thickness + design.rib_height
    path = "ribs.height" if design.has_ribs else "skin.thickness"
    return _rule(path, outside >= THINNEST_MEAN_RADIUS_RATIO * depth, lambda: (
        f"wall {millimeters(depth)} deep on a radius of {millimeters(outside)} is not a shell; "
        f"skin and ribs together must be below "
        f"{millimeters(outside / THINNEST_MEAN_RADIUS_RATIO)}"))


def _lands(design: Design) -> list[Rule]:
    tube, section = design.tube, design.section_length
    around = 2 * np.pi * design.skin_radius
    return [
        _rule("tube.seam_land", tube.segments * tube.seam_land < around / 2, lambda: (
            f"{tube.segments} lands of {millimeters(tube.seam_land)} cover half of the "
            f"circumference {millimeters(around)}; must be below "
            f"{millimeters(around / 2 / tube.segments)}")),
        _rule("tube.end_land", 2 * tube.end_land < section, lambda: (
            f"two lands of {millimeters(tube.end_land)} leave nothing of a section "
            f"{millimeters(section)} long")),
    ]


def _cells(design: Design) -> Iterator[Rule]:
    """Whether a whole cell fits between the lands, and the number of cells is not absurd."""
    ribs, tube = design.ribs, design.tube
    around = 2 * np.pi * design.skin_radius
    width: Quantity
    height: Quantity
    if ribs.pattern == "families":
        width = height = np.min([np.asarray(f.spacing) for f in ribs.family], axis=0)
        path = "ribs.family"
    else:
        path, along = "ribs.spacing", "ribs.spacing"
        if ribs.pattern == "isogrid":
            row = math.sqrt(3) / 2
            size = (1.0, row) if ribs.orientation == "hoop" else (row, 1.0)
            width, height = ribs.spacing * size[0], ribs.spacing * size[1]
        elif ribs.pattern == "orthogrid":
            width, height, along = ribs.spacing, ribs.hoop_spacing, "ribs.hoop_spacing"
        else:
            width, height = ribs.spacing / np.cos(ribs.angle), ribs.spacing / np.sin(ribs.angle)
        yield _whole_cell(path, "round", width, around / tube.segments - tube.seam_land)
        yield _whole_cell(along, "along", height, design.section_length - 2 * tube.end_land)
    cells = around / width * tube.length / height
    yield _rule(path, cells <= MOST_CELLS, lambda: (
        f"makes {float(cells):.3g} cells; a tube has at most {MOST_CELLS:,}"))


def _whole_cell(path: str, way: str, cell: Quantity, panel: Quantity) -> Rule:
    return _rule(path, cell <= MOST_OF_A_CELL * panel, lambda: (
        f"a cell is {millimeters(cell)} {way} the tube, but a panel between lands only "
        f"{millimeters(panel)}; make the spacing smaller"))
