"""What `gridshell tube` shows: table and JSON."""

from __future__ import annotations

from collections.abc import Sequence
from typing import Any

from gridshell.define.types import finite
from gridshell.report.numbers import MARGIN_NOTE, margin, shown, table
from gridshell.report.sentences import in_units
from gridshell.report.text.wall import CAUTION, rounding_lines, solid_label, titled
from gridshell.tube.buckling.theories import TheoryDifference
from gridshell.tube.result import CaseResult, Check, TubeResult

_HELD = {
    "none": "pinned at both ends", "simply-supported": "simply supported at both ends",
    "cantilever": "cantilever", "free-free": "free in space (as a column: pinned at both ends)",
}


def check_json(check: Check) -> dict[str, Any]:
    """JSON of one check, SI; a margin of null means that nothing is applied."""
    return {
        "name": check.name,
        "kind": check.kind,
        "allowable": finite(check.allowable),
        "applied": finite(check.applied),
        "knockdown": finite(check.knockdown),
        "source": check.source,
        "margin": finite(check.margin),
        "notes": list(check.notes),
    }


def case_json(case: CaseResult) -> dict[str, Any]:
    """JSON of one load case, SI."""
    found: dict[str, Any] = {
        "name": case.name,
        "margin": finite(case.margin),
        "governing": case.governing,
        "compression": finite(case.compression),
        "moment": finite(case.moment),
        "shear": finite(case.shear),
        "deflection": None if case.beam is None else finite(case.beam.deflection),
        "support": case.support,
        "moment_growth": finite(case.growth),
        "notes": list(case.notes),
        "checks": [check_json(check) for check in case.checks],
    }
    return found


def tube_json(tube: TubeResult) -> dict[str, Any]:
    """JSON of a tube, SI.

    Keys: mass (kg), line_mass (kg/m), EA (N), EI (N m2), GJ (N m2), GA (N), solid_cell (null, or
    the file they come from and EA, EI, GJ, GA of the formula alone), frequencies by
    support (Hz), perfect_buckling (theory's loads without knockdown: compression and torsion
    N/m, lateral and hydrostatic Pa, with their waves), cases, notes. In a case: margin,
    governing check, section forces (N, N m; moment and shear with their growth under the axial
    load times the factor), deflection (m or null), support, moment_growth, notes, checks, the
    governing one first; allowable and applied are in the SI unit of their kind. A margin of null
    is no load, or, with a governing check, not known. unchecked: what could not be checked.
    """
    stiffness = tube.stiffness
    perfect = {}
    for name in ("compression", "lateral", "hydrostatic", "torsion"):
        wave = getattr(tube.buckling, name)
        if wave is not None:
            perfect[name] = {
                "load": finite(wave.load), "m": float(wave.m), "n": float(wave.n),
                "on_edge": bool(wave.on_edge),
            }
    return {
        "title": tube.design.title,
        "mass": float(tube.mass),
        "line_mass": float(tube.line_mass),
        "EA": float(stiffness.EA),
        "EI": float(stiffness.EI),
        "EI_most": float(stiffness.EI_max),
        "GJ": float(stiffness.GJ),
        "GA": float(stiffness.GA),
        "solid_cell": None if tube.wall.unit_cell is None else {
            "file": tube.design.ribs.solid_cell,
            "formula": {
                name: float(getattr(tube.formula_stiffness, name))
                for name in ("EA", "EI", "GJ", "GA")
            },
        },
        "frequencies": {name: float(f) for name, f in tube.frequencies.items()},
        "perfect_buckling": perfect,
        "margin": finite(tube.margin),
        "cases": [case_json(case) for case in tube.cases],
        "unchecked": list(tube.unchecked),
        "notes": [*tube.notes, *tube.wall.properties.notes],
    }


def tube_label(tube: TubeResult) -> str:
    """What stands beside the stiffness of a tube whose wall is a solid cell's; else empty."""
    alone = tube.formula_stiffness
    return solid_label(tube.wall, {
        name: float(getattr(alone, name) / getattr(tube.stiffness, name))
        for name in ("EA", "EI", "GJ")
    })


def tube_title(tube: TubeResult) -> str:
    """Title of a tube's picture."""
    return titled(tube.design.title, tube_label(tube))


def _check_rows(case: CaseResult, system: str) -> list[list[str]]:
    rows = []
    for check in case.checks:
        rows.append([
            check.name, margin(float(check.margin)), shown(check.allowable, check.kind, system),
            shown(check.applied, check.kind, system), f"{float(check.knockdown):.3g}",
        ])
    return rows


def tube_text(
    tube: TubeResult, system: str = "metric", differences: Sequence[TheoryDifference] = ()
) -> str:
    """The table of a tube: the governing result first.

    Args:
        tube: one design.
        system: metric or inch.
        differences: how other theories differ, as the caller found them.
    """
    parts = [tube.design.title, ""]
    for case in tube.cases:
        least = float(case.margin)
        verdict = "holds" if least >= 0 else "FAILS" if least < 0 else "IS NOT KNOWN TO HOLD"
        parts.append(
            f"case {case.name!r} {verdict}: {case.governing} governs, margin "
            f"{margin(float(case.margin))}"
        )
    if not tube.cases:
        parts.append("no load case in the file: add [[case]] to get margins")
    else:
        parts += [f"NOT CHECKED: {line}" for line in tube.unchecked]
    stiffness = tube.stiffness
    rows = [
        ["mass", shown(tube.mass, "mass", system), "with its lands"],
        ["bending stiffness EI", shown(stiffness.EI, "stiffness", system),
         "" if stiffness.EI_max <= 1.005 * stiffness.EI else
         f"across the seams' plane; in it {shown(stiffness.EI_max, 'stiffness', system)}"],
        ["axial stiffness EA", shown(stiffness.EA, "force", system), ""],
        ["torsional stiffness GJ", shown(stiffness.GJ, "stiffness", system), ""],
        ["shear stiffness GA", shown(stiffness.GA, "force", system), ""],
    ]
    rows += [
        [f"first bending, {support}", shown(frequency, "frequency", system), ""]
        for support, frequency in tube.frequencies.items()
    ]
    parts += ["", table(rows)]
    if tube.wall.unit_cell is not None:
        parts.append(tube_label(tube))
    for case in tube.cases:
        factor = next(c.factor for c in tube.design.case if c.name == case.name)
        head = f"case {case.name!r}, factor {float(factor):g} on loads, {_HELD[case.support]}"
        if case.beam is not None:
            head += (
                f"; deflection {shown(case.beam.deflection, 'length', system)}"
                f" ({float(case.beam.shear_share):.0%} from shear)"
            )
        parts += ["", head, table(
            _check_rows(case, system), ["check", "margin", "allowable", "applied", "knockdown"]
        )]
        parts += [f"  {in_units(note, system)}" for note in case.notes]
        parts += [
            f"  {check.name}: {in_units('; '.join(check.notes), system)} [{check.source}]"
            for check in case.checks if check.notes
        ]
    if tube.cases:
        parts += ["", MARGIN_NOTE]
    lines = rounding_lines(tube.wall, system)
    if lines:
        parts += ["", *lines]
    if differences:
        parts += ["", *theory_lines(differences)]
    notes = [*tube.notes, *tube.wall.properties.notes]
    parts += ["", *(f"note: {in_units(note, system)}" for note in notes), CAUTION]
    return "\n".join(parts)


def theory_lines(differences: Sequence[TheoryDifference]) -> list[str]:
    """How the buckling loads of other shell theories differ from the ones used."""
    if not differences:
        return []
    rows = [
        [one.load, f"{one.waves:.0f}", *(f"{share:+.1%}" for share in one.off.values())]
        for one in differences
    ]
    return [
        "buckling load before the knockdown by other shell theories, against the one used "
        "(line-element strains)",
        table(rows, ["load", "waves around", *differences[0].off]),
        "Donnell-type equations (NASA/SP-8007-2020/REV 2, Eq. 52-66) are too high below 4 waves",
    ]
