"""The pour sheet: what to melt or mix, temperatures, steps and cautions, on one page."""

from __future__ import annotations

import math
import textwrap
from dataclasses import dataclass
from pathlib import Path
from typing import Any

from gridshell.define.files.replacing import replacing, write_text
from gridshell.define.units import convert
from gridshell.mold.checks.heat.cooling import wait
from gridshell.mold.checks.result import FAILS, OK
from gridshell.mold.checks.run import MoldChecks
from gridshell.report.sentences import in_units
from gridshell.report.sheets.parts import (
    CURE_CAUTIONS,
    DEFER,
    MELT_CAUTIONS,
    page,
    rows_block,
    text_block,
)

WIDTH = 92  # characters of the plain text
# Not known here is no news to whoever pours.
_QUIET = ("solids against the wall's mass", "time to the peel temperature")


@dataclass(frozen=True)
class PourSheet:
    """The content of the sheet, for paper and for plain text.

    Attributes:
        title: of the design.
        amounts: rows of name and value.
        temperatures: rows of name and value.
        steps: in order.
        warnings: checks that are not ok.
        cautions: for people.
    """

    title: str
    amounts: tuple[tuple[str, str], ...]
    temperatures: tuple[tuple[str, str], ...]
    steps: tuple[str, ...]
    warnings: tuple[str, ...]
    cautions: tuple[str, ...]


def pour_sheet(checks: MoldChecks) -> PourSheet:
    """The pour sheet of a checked mold."""
    pour = checks.find("pour for one casting")
    tube = checks.find("finished tube")
    casting = checks.mold.casting
    assert pour.value is not None and tube.value is not None
    inch = checks.design.units == "inch"

    def mass(value: float) -> str:
        text = f"{value * 1e3:.0f} g"
        return text + (f" ({convert(value, 'mass', 'lb'):.2f} lb)" if inch else "")

    def volume(value: float) -> str:
        text = f"{value * 1e6:.0f} cm3"
        return text + (f" ({convert(value, 'volume', 'in^3'):.1f} in3)" if inch else "")

    def degrees(kelvin: float) -> str:
        text = f"{kelvin - 273.15:.0f} degC"
        return text + (f" ({convert(kelvin, 'temperature', 'degF'):.0f} degF)" if inch else "")

    details = pour.details
    amounts = [
        ("material", checks.part.name),
        ("for one casting", mass(pour.value)),
        ("its volume, cold", volume(float(details["pour_volume"]))),
        ("of which in the part", mass(float(details["part_mass"]))),
        ("spare for gate and flash", f"{casting.spare:.0%}"),
        ("castings for one tube", str(details["castings"])),
        ("for all of them", mass(float(details["pour_mass_all"]))),
        ("finished tube", mass(tube.value)),
    ]
    poured = checks.pouring
    hot = poured.hot
    temperatures = [("pour at", degrees(poured.start)),
                    ("mold at", degrees(float(casting.mold_temperature)))]
    if hot:
        temperatures.append(("take out at or below", degrees(poured.release)))
        face = checks.find("mold face against softening")
        if face.value is not None:
            temperatures.append(("mold face comes to", degrees(face.value)))
    elif checks.part.peel_temperature is not None:
        temperatures.append(("take out at", degrees(poured.release)))
    if checks.part.softening_temperature is not None:
        temperatures.append(("part softens at",
                             degrees(float(checks.part.softening_temperature))))
    warnings = tuple(
        f"{check.name}: {check.verdict}. {in_units(check.advice, checks.design.units)}"
        for check in checks.checks
        if check.verdict != OK and check.name not in _QUIET)
    general = MELT_CAUTIONS if hot else CURE_CAUTIONS
    cautions = (*general, *checks.part.cautions, DEFER)
    return PourSheet(checks.design.title, tuple(amounts), tuple(temperatures),
                     _steps(checks, mass(pour.value), degrees), warnings,
                     tuple(dict.fromkeys(cautions)))


def _steps(checks: MoldChecks, mass: str, degrees: Any) -> tuple[str, ...]:
    mold, casting = checks.mold, checks.mold.casting
    poured = checks.pouring
    steps = ["Check that grooves, gate and vents are clean and open; wax or spray every face that "
             "the part touches, also the bottom of the grooves."]
    steps.append("Set the core on its dowels, close the halves, tighten the screws crosswise from "
                 "the middle outwards.")
    if casting.filled == "end-up":
        steps.append("Stand the mold on its end, gate up, in a tray that would hold all of the "
                     "pour.")
    else:
        steps.append(f"Lay the mold {casting.filled.replace('-', ' ')}, its gate end raised by "
                     "some 10 deg, in a tray that would hold all of the pour; seal an elbow with a "
                     "funnel to each gate; plug each vent when liquid stands in it.")
    head = casting.pour_head
    if head is not None and head > mold.end_wall:
        steps.append(f"Seal a funnel or a tube on each gate that holds {head * 1e3:.0f} mm of "
                     "liquid above the gate's inner end, and keep it full while pouring.")
    warm = next((c.details["mold_temperature_that_fills"] for c in checks.checks
                 if "mold_temperature_that_fills" in c.details), None)
    if warm is not None and poured.shell.softening_temperature is not None and (
            warm > poured.shell.softening_temperature):
        warm = None
    if poured.hot:
        steps.append("Dry the mold"
                     + (f" and warm it to {degrees(warm)}" if warm is not None else "")
                     + f"; melt {mass} slowly to {degrees(poured.start)} and no hotter.")
        steps.append("Pour in one thin stream without a break until melt stands in every vent; "
                     "tap the mold; top up as the level sinks.")
        cooling = checks.find("time to the peel temperature")
        time = "until it is cold enough" if cooling.value is None else (
            f"about {wait(cooling.value)}")
        steps.append(f"Wait {time}, until the thickest land is below {degrees(poured.release)}; "
                     "do not hurry it with water.")
    else:
        steps.append(f"Weigh and mix {mass} as the supplier says; draw off the air if you can.")
        steps.append("Pour in one thin stream until resin stands in every vent; tap the mold; top "
                     "up while it is liquid.")
        steps.append("Leave it for the supplier's curing time, at the supplier's temperature.")
    steps.append("Take out the screws; part the halves evenly with jack screws in the tapped holes "
                 "of the cavity's flanges, a turn each in turn, or with levers in the "
                 f"{'pry slots' if mold.pry_width else 'parting'}, never against the part.")
    steps.append(_release(checks))
    steps.append("Cut off gate and flash, weigh the casting and write it down: a light one has "
                 "voids.")
    return tuple(steps)


def _release(checks: MoldChecks) -> str:
    for check in checks.checks:
        if check.name == "strain of peeling the piece off" and check.verdict != FAILS:
            low, high = check.details.get("peel_from"), check.details.get("peel_to")
            words = "Peel the shell off, opening it from both edges evenly"
            if low is not None and high is not None and math.isfinite(low):
                words += (f", between {low - 273.15:.0f} and {high - 273.15:.0f} degC; colder it "
                          "tears")
            return words + "."
        if check.name == "strain of a rubber mold coming off":
            return "Peel the rubber mold off the part, not the part off the mold."
        if check.name == "strain of peeling the piece off":
            return ("Do not pour: the ribs lock and the piece will not bend off; state mold.core = "
                    "'sliding' or 'rubber'.")
        if check.name == "undercut of the sliding core":
            return f"Core in {check.advice}."
    return "Lift the part straight off."


def as_text(sheet: PourSheet) -> str:
    """The sheet as plain text."""
    lines = [*textwrap.wrap(sheet.title, WIDTH), "Pour sheet", ""]
    for title, rows in (("Amounts", sheet.amounts), ("Temperatures", sheet.temperatures)):
        lines.append(title)
        lines += [f"  {name:28s} {value}" for name, value in rows]
        lines.append("")
    for title, entries, numbered in (
        ("Steps", sheet.steps, True), ("Look at before pouring", sheet.warnings, False),
        ("Cautions", sheet.cautions, False),
    ):
        if not entries:
            continue
        lines.append(title)
        for number, entry in enumerate(entries, start=1):
            mark = f"  {number}. " if numbered else "  - "
            lines += textwrap.wrap(entry, WIDTH, initial_indent=mark,
                                   subsequent_indent=" " * len(mark))
        lines.append("")
    return "\n".join(lines)


def pour_figure(sheet: PourSheet) -> Any:
    """The sheet as a matplotlib figure, A4 across."""
    figure = page(sheet.title, "Pour sheet")
    y = rows_block(figure, (0.035, 0.875), "Amounts", sheet.amounts, (0.0, 0.28), size=8.0,
                   step=0.0225)
    y = rows_block(figure, (0.035, y - 0.025), "Temperatures", sheet.temperatures, (0.0, 0.28),
                   size=8.0, step=0.0225)
    text_block(figure, (0.035, y - 0.03), "Cautions", sheet.cautions, 54, size=7.5,
               step=0.0195)
    numbered = [f"{number}. {step}" for number, step in enumerate(sheet.steps, start=1)]
    y = text_block(figure, (0.37, 0.875), "Steps", numbered, 118, size=7.5, step=0.0195)
    text_block(figure, (0.37, y - 0.025), "Look at before pouring",
               sheet.warnings or ["nothing that the checks found"], 118, size=7.5, step=0.0195)
    return figure


def write_pour_sheet(
    checks: MoldChecks, pdf: str | Path, text: str | Path, force: bool = True
) -> PourSheet:
    """Write the sheet as a page (.pdf or .png) and as plain text, each whole or not at all.

    Args:
        checks: of the mold.
        pdf: path of the page (.pdf or .png).
        text: path of the plain text.
        force: replace a file that is there.

    Raises:
        InputError: a file can't be written, or is there and ``force`` is False.
    """
    sheet = pour_sheet(checks)
    figure = pour_figure(sheet)
    with replacing(pdf, force) as scratch:
        figure.savefig(scratch)
    write_text(text, as_text(sheet), force)
    return sheet
