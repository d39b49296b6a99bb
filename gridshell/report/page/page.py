"""The report page: one file with answer, pictures, checks, sources, mold, definition file."""

from __future__ import annotations

import dataclasses
from collections.abc import Callable
from html import escape
from pathlib import Path
from typing import Any

from gridshell import __version__
from gridshell.define.errors import InputError
from gridshell.define.files.unit_cell_match import without_unit_cell
from gridshell.define.tables.design import Design
from gridshell.report.numbers import margin, shown
from gridshell.report.page.parts import (
    document,
    facts,
    listing,
    paragraphs,
    picture,
    section,
    table,
)
from gridshell.report.sentences import in_units
from gridshell.report.text.tube.result import CAUTION, tube_label
from gridshell.report.text.wall import rounding_lines
from gridshell.report.verdict import (
    FAILS,
    HEADS,
    HOLDS,
    Finding,
    Verdict,
    chill_finding,
    temperature_finding,
    verdict_of,
)
from gridshell.tube.assess import assess_tube
from gridshell.tube.result import CaseResult, TubeResult

Progress = Callable[[str], None]


def _silent(_: str) -> None:
    return None


def _verdict(verdict: Verdict) -> str:
    """The worst of everything known first, then each area with its reason."""
    kind = {HOLDS: "holds", FAILS: "fails"}.get(verdict.word, "open")
    lines = "".join(
        f"<li><b>{escape(one.area)}</b> {escape(one.word)}: {escape(one.reason)}</li>"
        for one in verdict.findings
    )
    return (f'<div class="verdict"><p class="{kind}">{escape(HEADS[verdict.word])}</p>'
            f"<ul>{lines}</ul></div>")


def _answer(tube: TubeResult, verdict: str, system: str) -> str:
    lines = []
    for case in tube.cases:
        holds = float(case.margin) >= 0
        word = '<span class="holds">holds</span>' if holds else '<span class="fails">FAILS</span>'
        lines.append(
            f"<li>case <b>{escape(case.name)}</b> {word}: {escape(case.governing)} governs, margin "
            f"{margin(case.margin)}</li>"
        )
    stiffness = tube.stiffness
    return (
        f'<div class="answer"><ul>{"".join(lines)}</ul><p>{escape(verdict)}</p></div>'
        + facts([
            ("mass", shown(tube.mass, "mass", system)),
            ("bending stiffness EI", shown(stiffness.EI, "stiffness", system)),
            ("torsional stiffness GJ", shown(stiffness.GJ, "stiffness", system)),
            ("axial stiffness EA", shown(stiffness.EA, "force", system)),
            ("first bending, free-free",
             shown(tube.frequencies["free-free"], "frequency", system)),
            ("equivalent plain wall",
             f"{shown(tube.wall.equivalent.thickness, 'length', system)} of "
             f"{shown(tube.wall.equivalent.modulus, 'pressure', system)}"),
        ])
        + (paragraphs([tube_label(tube)], "soft") if tube.wall.unit_cell is not None else "")
    )


def _inputs(tube: TubeResult, system: str) -> str:
    """What was put in, in the units of the report."""
    design, known = tube.design, tube.wall.properties
    rows: list[list[str]] = []

    def add(name: str, value: Any, doc: str) -> None:
        rows.append([name, str(value), doc])

    for name, part in (("tube", design.tube), ("skin", design.skin), ("ribs", design.ribs)):
        for field in dataclasses.fields(part):
            rules, value = field.metadata, getattr(part, field.name)
            if value is None or value == () or rules["form"] in ("tables", "table", "free"):
                continue
            if name == "ribs" and not design.has_ribs and field.name != "pattern":
                continue
            text = shown(value, rules["kind"], system) if rules["form"] == "quantity" else value
            add(f"{name}.{field.name}", text, rules["doc"])
    add("material", known.title or known.name,
        f"at {shown(known.temperature, 'temperature', system, 3)}: modulus "
        f"{shown(known.modulus, 'pressure', system)}, Poisson's ratio {float(known.poisson):.3g}, "
        f"density {shown(known.density, 'density', system)}")
    return table(rows, ["stated", "value", "meaning"])


def _case_checks(case: CaseResult, design: Design, system: str) -> str:
    factor = next(c.factor for c in design.case if c.name == case.name)
    words = [
        f"compression {shown(case.compression, 'force', system)}",
        f"moment {shown(case.moment, 'moment', system)}",
        f"shear {shown(case.shear, 'force', system)}",
        f"design factor {float(factor):g}",
    ]
    if case.beam is not None:
        words.append(f"deflection {shown(case.beam.deflection, 'length', system)}")
    rows = [
        [check.name, margin(check.margin), shown(check.allowable, check.kind, system),
         shown(check.applied, check.kind, system), f"{float(check.knockdown):.3g}",
         check.source, in_units("; ".join(check.notes), system)]
        for check in case.checks
    ]
    head = ["check", "margin", "allowable", "applied", "knockdown", "source", "mode, range"]
    return (
        f"<h3>{escape(case.name)}</h3>" + paragraphs([", ".join(words)], "soft")
        + table(rows, head, numbers=(1, 2, 3, 4))
    )


def _by_formula(design: Design) -> str:
    """Poisson's ratio changes with temperature, and a solid cell is of one."""
    return "" if design.ribs.solid_cell is None else "; by the formula, without the solid cell"


def _temperature(design: Design, system: str) -> tuple[str, Finding | None]:
    from gridshell.report.plots.tube.temperature import plot_over_temperature
    from gridshell.study.temperature import over_temperature

    try:
        study = over_temperature(without_unit_cell(design))
    except InputError:
        return "", None  # one stated modulus: nothing to draw over temperature
    return picture(
        lambda path: plot_over_temperature(study, path, system),
        "Stiffness, frequency and lowest margins over the temperature of the whole tube"
        + _by_formula(design),
    ), temperature_finding(study, system)


def _chilling(stated: Design) -> tuple[str, Finding | None]:
    if stated.chill is None:
        return "", None
    from gridshell.report.plots.chill import save_chill_figure
    from gridshell.report.text.chill import chill_text
    from gridshell.thermal.chill import chill
    from gridshell.thermal.margin import margin_function

    design = without_unit_cell(stated)
    result = chill(design, margin_function(design))
    return picture(
        lambda path: save_chill_figure(result, path, design.units),
        "Chilling and warming up: temperature, stiffness, margin, cracking; usable window shaded"
        + _by_formula(stated),
    ) + f"<pre>{escape(chill_text(result, design.units))}</pre>", chill_finding(result)


def _loads(design: Design) -> str:
    if design.body is None:
        return ""
    from gridshell.loads.run import section_loads
    from gridshell.report.plots.loads import plot_loads
    from gridshell.report.text.loads import loads_text

    result = section_loads(design)
    return picture(
        lambda path: plot_loads(result, path, design.units),
        "Loads along the body, worst section marked",
    ) + f"<pre>{escape(loads_text(result, design.units))}</pre>"


def _mold(design: Design) -> str:
    if design.mold is None:
        return ""
    from gridshell.mold.checks.run import mold_checks
    from gridshell.report.plots.mold import plot_cooling, plot_undercut
    from gridshell.report.sheets.pour import as_text, pour_sheet

    found = mold_checks(design)
    rows = [
        [c.name, c.verdict, in_units(c.advice, design.units), c.source] for c in found.checks
    ]
    parts = [table(rows, ["check", "verdict", "reason, advice", "source"])]
    if found.poured is None:
        return "".join(parts)
    parts.append(picture(
        lambda path: plot_undercut(found, path),
        "Undercut of the rib flanks against the straight pull, round the tube",
    ))
    if found.poured.cooling is not None:
        parts.append(picture(
            lambda path: plot_cooling(found, path), "Cooling to the peel temperature"
        ))
    parts.append(f"<h3>Pour sheet</h3><pre>{escape(as_text(pour_sheet(found)))}</pre>")
    return "".join(parts)


def report_page(
    design: Design, definition: str, progress: Progress = _silent
) -> tuple[str, Verdict]:
    """The report of one design as one HTML page without links to anything outside it.

    The verdict on the design comes first on the page, and beside it.

    Args:
        design: one design.
        definition: the text of its definition file, to repeat the result.
        progress: told each part before it is worked on.

    Raises:
        InputError: something the design asks for can't be worked out.
    """
    from gridshell.report.plots.study.compare import plot_compare
    from gridshell.report.plots.tube.result import plot_tube
    from gridshell.report.plots.wall import plot_wall
    from gridshell.study.compare import compare_walls

    system = design.units
    progress("tube")
    tube = assess_tube(design)
    progress("comparison")
    comparison = compare_walls(design)
    progress("pictures")
    pictures = [
        picture(lambda path: plot_wall(tube.wall, path, system),
                "Rib pattern of one panel unrolled, and the section of the wall"),
        picture(lambda path: plot_tube(tube, path, system),
                "Share of each strength that every load case uses"),
        picture(lambda path: plot_compare(comparison, path, system),
                "The grid beside plain walls"),
    ]
    progress("temperature")
    over, beyond = _temperature(design, system)
    progress("chilling")
    chilled, cracks = _chilling(design)
    verdict = verdict_of(design, tube, [beyond, cracks])
    progress("loads")
    loaded = _loads(design)
    progress("mold")
    molded = _mold(design)
    known = tube.wall.properties
    content = [
        _verdict(verdict),
        f"<h1>{escape(design.title)}</h1>",
        paragraphs([f"gridshell {__version__}: strength and stiffness of a ribbed tube"], "soft"),
        section("Answer", _answer(tube, comparison.verdict, system)),
        section("Pictures", *pictures),
        section("Checks", *(_case_checks(case, design, system) for case in tube.cases)),
        section("Notes on range", listing([*tube.notes, *known.notes])),
        section("Over temperature", over),
        section("Chilling", chilled),
        section("Loads along the body", loaded),
        section("Mold", molded),
        section("What was put in", _inputs(tube, system),
                listing(rounding_lines(tube.wall, system))),
        section(
            "Cautions", f'<div class="caution">{paragraphs([CAUTION, *known.cautions])}</div>'
        ),
        section("Definition file", paragraphs([
            "This text, saved as a file, repeats the whole report with "
            f"'gridshell report{_cell_option(design, definition)}'."
        ], "soft"), f"<pre>{escape(definition)}</pre>"),
    ]
    return document(design.title, "".join(content)), verdict


def _cell_option(design: Design, definition: str) -> str:
    """The option that names a solid cell which the definition itself does not name."""
    cell = design.ribs.solid_cell
    return "" if cell is None or "solid_cell" in definition else f" --solid-cell {Path(cell).name}"


def write_pdf(page: str, path: str | Path, force: bool = True) -> None:
    """The page as a PDF for paper.

    Raises:
        InputError: the optional library is not installed, or the file can't be written.
    """
    from gridshell.define.files.replacing import replacing

    try:
        from weasyprint import HTML
        from weasyprint.urls import URLFetcher
    except (ImportError, OSError) as error:
        raise InputError(
            "--pdf: needs the WeasyPrint library; install gridshell with its 'report' extra and "
            f"the Debian package libpangoft2-1.0-0 ({error})"
        ) from None

    with replacing(path, force) as scratch:
        HTML(string=page, url_fetcher=URLFetcher(allowed_protocols=["data"])).write_pdf(scratch)
