"""The making sheet of a part that is printed or milled itself: how it stands, checks, cautions."""

from __future__ import annotations

import textwrap
from pathlib import Path

from gridshell.define.files.replacing import write_text
from gridshell.mold.checks.castable import is_metal
from gridshell.mold.checks.result import OK
from gridshell.mold.checks.run import MoldChecks
from gridshell.report.sentences import in_units
from gridshell.report.sheets.parts import DEFER, MACHINE_CAUTIONS, METAL_CAUTIONS

WIDTH = 92  # characters of the plain text


def making_text(checks: MoldChecks) -> str:
    """The sheet as plain text."""
    design, mold = checks.design, checks.mold
    printed = mold.process == "print-part"
    how = (
        "Printed standing on its end, the tube's axis upright: the files stand so, z = 0 on the "
        "bed." if printed else
        "Milled lying along x, ribs up; in the files z = 0 is the lowest point of the part and "
        "x = y = 0 its middle. Take the zero at the axis of the blank and its faced end."
    )
    made = [f"{check.name}: {check.verdict}. {in_units(check.advice, design.units)}"
            for check in checks.checks]
    worries = [line for line, check in zip(made, checks.checks, strict=True)
               if check.verdict != OK]
    cautions = [MACHINE_CAUTIONS[1] if printed else MACHINE_CAUTIONS[0], *(
        METAL_CAUTIONS if is_metal(checks.part) else ()), *checks.part.cautions,
        "Not proven by this sheet: test pieces before people or property depend on it.", DEFER]
    lines = [*textwrap.wrap(design.title, WIDTH), "Making sheet", ""]
    for title, entries in (
        ("How it is made", [f"{checks.part.name}, {mold.process}, at its finished size", how]),
        ("Look at first", worries or ["nothing that the checks found"]),
        ("All checks", made), ("Cautions", cautions),
    ):
        lines.append(title)
        for entry in entries:
            lines += textwrap.wrap(entry, WIDTH, initial_indent="  - ", subsequent_indent="    ")
        lines.append("")
    return "\n".join(lines)


def write_making_sheet(checks: MoldChecks, path: str | Path) -> None:
    """Write the sheet, whole or not at all.

    Args:
        checks: of a part that is made directly.
        path: of the text file.

    Raises:
        InputError: the file can't be written.
    """
    write_text(path, making_text(checks), force=True)
