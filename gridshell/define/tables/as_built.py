"""``[as_built]``: the measured shape of the finished tube, or how round it will be made."""

from __future__ import annotations

from dataclasses import dataclass, field

from gridshell.define.errors import InputError, Problem, Problems
from gridshell.define.schema import choice, quantity, text
from gridshell.define.types import Quantity

CAP = 0.85


@dataclass(frozen=True)
class AsBuilt:
    """``[as_built]``: what the tube's own knockdown factor is found from.

    Attributes:
        taken: factor that a search takes as the expected one, for one tube or many; not stated.
    """

    shape: str | None = text(
        "scan of the finished tube (CSV, see 'gridshell tube FILE --scan-form'), beside this file",
        default=None,
    )
    knockdown: str = choice(
        ("published", "measured", "expected"), "factor on general instability in compression and "
        "bending: that of the published curves, the tube's own from its scan, or the one expected "
        "of a tube at its tolerances (roundness, thickness)", default="published",
    )
    ends: str = choice(
        ("round", "clamped"), "ends of the tube for its own factor: kept round, or in rigid plates",
        default="round",
    )
    cap: Quantity = quantity(
        "ratio", "no own factor above this one: load introduction, small dents between the "
        "readings and residual stress are in no scan (0.85 is ours, no source)", default=CAP,
        above=0.0, most=CAP,
    )
    roundness: Quantity = quantity(
        "length", "tolerance of shape: greatest distance of the skin from its true place, inward "
        "or outward", default=None, above=0.0, most=1.0
    )
    thickness: Quantity = quantity(
        "length", "tolerance of the skin's thickness, either way", default=None, least=0.0,
        most=1.0
    )
    taken: Quantity | None = field(default=None)


def belongs_to_one(knockdown: str, what: str) -> InputError:
    """What to raise where a factor of one tube is asked for others.

    Args:
        knockdown: measured or expected.
        what: such as "the sliders change it".
    """
    why = "belongs to the one tube that was measured" if knockdown == "measured" else (
        "is worked out for one tube at a time")
    return InputError(
        f"as_built.knockdown: {knockdown!r} {why}, and {what}; take 'published'")


def check_as_built(stated: AsBuilt, radius: float, skin: float, ends: str) -> list[Problem]:
    """Every contradiction within ``[as_built]``, and with the ends of the tube.

    Args:
        stated: the table.
        radius: of the skin, m.
        skin: its thickness, m.
        ends: ``tube.ends``.
    """
    problems = Problems()
    if stated.knockdown != "published" and ends == "clamped":
        problems.add(
            "as_built.knockdown", f"{stated.knockdown!r} is over the load of a tube whose ends "
            "turn freely, which tube.ends 'clamped' is not; leave tube.ends out and state "
            "as_built.ends")
    if stated.knockdown == "measured" and stated.shape is None:
        problems.add("as_built.shape", "missing; knockdown 'measured' needs the scan of the tube")
    if stated.knockdown == "expected" and stated.roundness is None:
        problems.add(
            "as_built.roundness",
            "missing; knockdown 'expected' is that of a tube at its tolerance")
    if stated.roundness is not None and stated.roundness > 0.1 * radius:
        problems.add(
            "as_built.roundness", f"{stated.roundness * 1e3:.4g} mm is too large; must be at most "
            f"a tenth of the radius, {radius * 1e2:.4g} mm")
    if stated.thickness is not None and stated.thickness >= skin:
        problems.add(
            "as_built.thickness", f"{stated.thickness * 1e3:.4g} mm is too large; must be below "
            f"skin.thickness, {skin * 1e3:.4g} mm")
    return problems
