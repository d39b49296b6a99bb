"""Does every piece fit the printer's bed, or the stock, in the orientation to make it?"""

from __future__ import annotations

from collections.abc import Sequence

from gridshell.define.errors import InputError
from gridshell.define.tables.design import Design
from gridshell.define.tables.mold import Mold
from gridshell.mold.checks.result import CAUTION, FAILS, OK, MoldCheck
from gridshell.mold.pieces.bed import WAYS, misfits, split_planes
from gridshell.mold.pieces.layout import mold_layout
from gridshell.mold.relief.ribbing import Ribbing

NAME = "pieces on the bed"
CURE = {"mandrel": "no cut helps a piece this wide: a larger mold.bed, or turn it from stock",
        "end-ring": "a larger mold.bed, or turn it from stock"}


def bed_checks(
    design: Design, mold: Mold, ribs: Sequence[Ribbing], scale: float
) -> tuple[MoldCheck, ...]:
    """Every piece against `mold.bed`; nothing where no bed is stated.

    Args:
        design: one design (no arrays).
        mold: the `[mold]` table.
        ribs: pockets of each kind of cast segment.
        scale: size of the mold over that of the part (shrinkage).
    """
    if mold.bed is None:
        return ()
    plan = mold_layout(design, mold, scale * 1e3)
    source = "sizes of the pieces against mold.bed, its third side upright"
    try:
        seamless = design.tube.segments == 1
        planes = () if seamless else split_planes(plan, mold, ribs, scale * 1e3)[0]
    except InputError as error:
        return (MoldCheck(NAME, None, limit=None, kind="length", verdict=FAILS, advice=str(error),
                          source=source),)
    printed = mold.process == "print"
    lines, verdict = [], OK
    for name, ((long, wide, high), turned) in misfits(plan, design, mold, planes).items():
        size = f"{name}: {long:.0f} x {wide:.0f} x {high:.0f} mm does not fit mold.bed "
        if turned:
            verdict = CAUTION if verdict == OK else verdict
            lines.append(f"{size}{WAYS[name]}, as it prints best; turn it")
        else:
            verdict = FAILS
            lines.append(f"{size}any way up; " + CURE.get(name, "a larger mold.bed"))
    fits = "core and cavity, mandrel and end ring fit mold.bed" + (
        ", each as it prints best" if printed else "")
    cut = f"; halves in {len(planes) + 1} pieces" if planes else ""
    return (MoldCheck(
        NAME, float(len(lines)), limit=0.0, kind="ratio", verdict=verdict,
        advice="; ".join(lines) if lines else fits + cut, source=source,
        notes=tuple(f"{name} {way}" for name, way in WAYS.items()) if printed else (),
    ),)
