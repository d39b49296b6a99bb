"""The worst section of the tube in each event, and load cases from it."""

from __future__ import annotations

import dataclasses
from collections.abc import Mapping
from dataclasses import dataclass

import numpy as np

from gridshell.define.tables.design import Case, Design
from gridshell.define.units import convert, unit_in
from gridshell.loads.events import EventForces
from gridshell.loads.placed import PlacedBody
from gridshell.tube.section.column import Member

SQUEEZED = " (squeezed)"  # ends the name of an event's second case


@dataclass(frozen=True)
class WorstSection:
    """The section of the tube with the largest line force, N/m, in one event.

    Attributes:
        position: from the body's fore end, m.
        compression: axial force there, N; tension negative.
        moment: bending moment there, N m.
        shear: largest shear force anywhere in the tube, N.
        edge_compression: largest compression per length round that section, N/m.
        edge_tension: largest tension per length round that section, N/m.
    """

    position: float
    compression: float
    moment: float
    shear: float
    edge_compression: float
    edge_tension: float


def in_tube(body: PlacedBody) -> slice:
    """The doubled stations of the tube: aft side of its fore end to fore side of its aft end."""
    first = 2 * body.station(body.tube.fore) + 1
    return slice(first, 2 * body.station(body.tube.aft) + 1)


def worst_section(body: PlacedBody, found: EventForces, radius: float, compressed: bool = False
                  ) -> WorstSection:
    """The section of the tube with the largest tension or compression per length round it.

    ``compressed`` looks at the compressed side only. Line force P/(2 pi r) +- M/(pi r^2).

    Args:
        body: laid out.
        found: forces of one event.
        radius: of the tube's skin, m.
        compressed: whether to look at the compressed side only.
    """
    inside, forces = in_tube(body), found.forces
    mean = forces.compression[inside] / (2 * np.pi * radius)
    bending = np.abs(forces.moment[inside]) / (np.pi * radius**2)
    squeeze, pull = bending + mean, bending - mean
    at = int(np.argmax(squeeze if compressed else np.maximum(squeeze, pull)))
    return WorstSection(
        float(forces.position[inside][at]), float(forces.compression[inside][at]),
        float(abs(forces.moment[inside][at])), float(np.abs(forces.shear[inside]).max()),
        max(float(squeeze[at]), 0.0), max(float(pull[at]), 0.0),
    )


def event_cases(body: PlacedBody, events: tuple[EventForces, ...], radius: float
                ) -> tuple[Case, ...]:
    """Load cases of the tube from the events: axial force and moment at the worst section, the
    largest shear force anywhere in the tube.

    An event whose worst section is in tension gets a second case where the tube is squeezed most,
    because tension at one place does not spare another from buckling.

    Args:
        body: laid out.
        events: forces of each.
        radius: of the tube's skin, m.
    """
    cases = []
    for found in events:
        worst = worst_section(body, found, radius)
        cases.append(_case(found, worst, found.event.name))
        squeezed = worst_section(body, found, radius, compressed=True)
        if squeezed.edge_compression > worst.edge_compression * (1 + 1e-6):
            cases.append(_case(found, squeezed, found.event.name + SQUEEZED))
    return tuple(cases)


def grown_with_body(
    cases: tuple[Case, ...], column_factors: Mapping[str, float], length: float, EI: float,
    GA: float,
) -> tuple[Case, ...]:
    """The cases with moment and shear force grown by what the whole body grows more than the tube.

    The tube's own growth under axial load is that of its length; a head on top of it, or a bay
    behind it, makes a longer column. Bending grows by 1/(1 - P/Pcr) (Timoshenko and Gere, Theory of
    Elastic Stability, chapter 1), so by that ratio the more.

    Args:
        cases: of `event_cases`.
        column_factors: of each event by name: its compression times this buckles the body.
        length: of the tube, m.
        EI: of the tube, N m2.
        GA: shear stiffness of the tube, N.
    """
    found = []
    for case in cases:
        factor, push = float(case.factor), float(case.compression)
        body = column_factors[case.name.removesuffix(SQUEEZED)]
        if push > 0 and np.isfinite(body):
            tube = float(Member(case.support, length, EI, GA).column_load) / push
            left = max(1 - factor / body, 1e-6)  # at the column load and above all checks fail
            more = max((1 - min(factor / tube, 1.0)) / left, 1.0)
            case = dataclasses.replace(case, moment=case.moment * more, shear=case.shear * more)
        found.append(case)
    return tuple(found)


# How each kind of event holds the body: a mast stands on its clamped foot, guides and straps hold
# it at two places, and in flight nothing does.
SUPPORT = {"mast": "cantilever", "rail": "simply-supported", "tube-launch": "simply-supported",
           "handling": "simply-supported"}


def support_of(kind: str) -> str:
    """How an event of a kind holds the tube, as a load case states it.

    Args:
        kind: of event.
    """
    return SUPPORT.get(kind, "free-free")


def _case(found: EventForces, at: WorstSection, name: str) -> Case:
    event = found.event
    return Case(
        name=name, compression=at.compression, moment=at.moment, shear=at.shear,
        torque=float(event.torque), factor=float(event.factor), support=support_of(event.kind),
    )


def cases_toml(cases: tuple[Case, ...], digits: int = 4, system: str = "metric") -> str:
    """The cases as text to paste into a definition file.

    >>> print(cases_toml((Case(name="boost", compression=12.0, moment=0.3, factor=1.5),)))
    [[case]]
    name = "boost"
    compression = "12 N"
    moment = "0.3 N m"
    factor = 1.5
    <BLANKLINE>
    >>> held = cases_toml((Case(name="wind", support="cantilever"),))
    >>> print(held.splitlines()[2])
    support = "cantilever"

    Args:
        cases: to write.
        digits: of each number.
        system: metric or inch.
    """
    lines = []
    for case in cases:
        name = case.name.replace("\\", "\\\\").replace('"', '\\"')
        lines += ["[[case]]", f'name = "{name}"']
        for key, kind, metric in (
            ("compression", "force", "N"), ("moment", "moment", "N m"), ("shear", "force", "N"),
            ("torque", "moment", "N m"),
        ):
            value = float(getattr(case, key))
            if value:
                unit = unit_in(metric, system)
                shown = float(f"{convert(value, kind, unit):.{digits}g}")
                lines.append(f'{key} = "{np.format_float_positional(shown, trim="-")} {unit}"')
        if case.support != "none":
            lines.append(f'support = "{case.support}"')
        lines += [f"factor = {float(case.factor):g}", ""]
    return "\n".join(lines)


def with_cases(design: Design, cases: tuple[Case, ...], keep: bool = True) -> Design:
    """The design with the cases of its events added to its own (or instead of them).

    An event's case replaces one of the same name.

    Args:
        design: as stated.
        cases: of its events.
        keep: whether its own cases stay.
    """
    names = {case.name for case in cases}
    kept = tuple(case for case in design.case if case.name not in names) if keep else ()
    return dataclasses.replace(design, case=kept + cases)
