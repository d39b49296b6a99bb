"""Everything that `gridshell mold` makes: solids, sheets, drawing, pictures, checks, pour sheet."""

from __future__ import annotations

from collections.abc import Callable, Mapping, Sequence
from dataclasses import dataclass, field
from functools import partial
from pathlib import Path
from typing import Any

from gridshell.define.errors import InputError
from gridshell.define.files.replacing import write_text
from gridshell.define.tables.design import Design
from gridshell.define.tables.mold import Mold, mold_of
from gridshell.define.workers import beside
from gridshell.mold.checks.run import MoldChecks, locked_in, measured, mold_checks
from gridshell.mold.files.folder import output_folder
from gridshell.mold.files.solids import SolidCheck
from gridshell.mold.files.unrolled_dxf import write_unrolled
from gridshell.mold.files.write import FORMATS, planned_names, write_pieces
from gridshell.mold.pieces.build import build_molds, piece_names, plan_molds
from gridshell.mold.pieces.features.hole_table import as_csv, hole_table
from gridshell.mold.pieces.mold_set import MoldSet
from gridshell.mold.pieces.solids.booleans import walk
from gridshell.mold.pieces.solids.joining import cylinder_radius
from gridshell.report.plots.mold import plot_cooling, plot_undercut
from gridshell.report.sheets.carriers import (
    carrier_views,
    missing_faces,
    write_carrier_sheet,
)
from gridshell.report.sheets.drawing import write_sheets
from gridshell.report.sheets.holes import write_hole_sheet
from gridshell.report.sheets.joining import write_joining_sheet
from gridshell.report.sheets.making import write_making_sheet
from gridshell.report.sheets.pour import write_pour_sheet
from gridshell.report.sheets.setup import setup_text
from gridshell.report.sheets.subject import Subject, missing_radii

REMEDY = ("state another ribs.spacing or ribs.corner_radius, move mold.cutout, or leave out "
          "mold.bed and mold.engraving, and run again")
CARRIERS = "sheet-carriers"  # of what carries the ribs in place of a rigid half
SHEETS = ("pdf", "png")  # the drawing sheets are written as both
Progress = Callable[[str], None]


@dataclass(frozen=True)
class MoldJob:
    """What was made.

    Attributes:
        folder: where. files: names in it, sorted.
        files: their names in it, sorted.
        molds: the pieces. solids: what each turned out to be. checks: of the work with them.
        solids: what each piece turned out to be.
        checks: of the work with them.
        faulty: pieces and sheets that came out faulty and are not written, with the reason.
        part_volumes: of one casting of each kind at the part's own size, m3.
    """

    folder: Path
    files: tuple[str, ...]
    molds: MoldSet
    solids: tuple[SolidCheck, ...]
    checks: MoldChecks
    part_volumes: tuple[float, ...]
    faulty: Mapping[str, str] = field(default_factory=dict)

    @property
    def pour_mass(self) -> float:
        """To melt for the heaviest casting with its gate and spare, kg."""
        if self.checks.poured is None:
            return 0.0
        return float(self.checks.find("pour for one casting").value or 0.0)


def _subjects(molds: MoldSet) -> dict[str, Subject]:
    """What each drawing sheet shows, by the name of its file."""
    kinds = [kind.name for kind in molds.cast_segments]
    return {
        _sheet_name(side, kind): Subject(
            molds.design, molds.mold, grid=molds.grid, ribs=molds.ribs[kind], side=side,
            shrinkage=molds.shrinkage, planes=molds.planes, name=kind)
        for side, kind in _sheets(molds.design, molds.mold, kinds)}


def _against_the_solids(molds: MoldSet, subjects: Mapping[str, Subject]) -> dict[str, str]:
    """Sheets with a radius that their solid lacks: made so, a part would be spoiled."""
    wrong = {}
    for name, subject in subjects.items():
        pieces = [piece for piece in molds.pieces if piece.role == subject.side and (
            piece.casting == subject.name or not subject.ribbed)]
        built = {radius for piece in pieces for radius in _radii(piece.solid)}
        missing = missing_radii(subject, sorted(built)) if pieces and not molds.mold.direct else []
        if missing:
            wrong[name] = f"the solid has no face of {', '.join(missing)}"
    if not molds.mold.direct:
        missing = [words for view in carrier_views(molds) for words in missing_faces(view, [
            radius for piece in molds.pieces if piece.role == view.role
            for radius in _radii(piece.solid)] or [face.radius for face in view.faces])]
        if missing:
            wrong[CARRIERS] = f"no face of {', '.join(missing)}"
    return wrong


def _radii(solid: Any) -> set[float]:
    """Of the faces of a solid about the tube's axis, mm."""
    return {radius for face in walk(solid, "face")
            if (radius := cylinder_radius(face)) is not None}


def _papers(
    molds: MoldSet, checks: MoldChecks, folder: Path, subjects: Mapping[str, Subject]
) -> list[Callable[[], None]]:
    """Sheets, drawing and pictures of the checks, which need no solid: a task for each."""
    design, mold = molds.design, molds.mold

    def sheet(stem: str, subject: Subject) -> Callable[[], None]:
        return partial(write_sheets, [folder / f"{stem}.{end}" for end in SHEETS], subject)

    def unrolled(kind: str, scale: float) -> Callable[[], None]:
        path = folder / _drawing_name(kind, scale != 1.0)
        return lambda: write_unrolled(
            path, design, molds.grid, molds.ribs[kind], design.title, scale=scale)

    kinds = [kind.name for kind in molds.cast_segments]
    tasks = [sheet(stem, subject) for stem, subject in subjects.items()]
    tasks += [unrolled(kind, scale) for kind in kinds for scale in {1.0, molds.factor}]
    if not mold.direct:
        rows = hole_table(molds)
        tasks.append(lambda: write_text(folder / "holes.csv", as_csv(rows, design.units)))
        tasks += [partial(write_hole_sheet, [folder / f"holes-{name}.pdf"], molds, name)
                  for name in sorted({row.piece for row in rows})]
        tasks.append(partial(write_joining_sheet, [folder / "sheet-joining.pdf"], design, mold))
        if carrier_views(molds):
            tasks.append(partial(write_carrier_sheet, [
                folder / f"{CARRIERS}.{end}" for end in SHEETS], molds))
        if mold.process == "mill":
            tasks.append(lambda: write_text(folder / "setup-sheet.txt", setup_text(molds)))
    if checks.poured is not None:
        tasks.append(lambda: plot_undercut(checks, folder / "check-undercut.png"))
        if checks.poured.cooling is not None:
            tasks.append(lambda: plot_cooling(checks, folder / "check-cooling.png"))
    return tasks


def _weighed_sheet(checks: MoldChecks, folder: Path) -> None:
    """The pour sheet or the making sheet, which need the volume of the solids."""
    if checks.poured is None:
        write_making_sheet(checks, folder / "making-sheet.txt")
    else:
        write_pour_sheet(checks, folder / "pour-sheet.pdf", folder / "pour-sheet.txt")


def _sheet_name(side: str, kind: str) -> str:
    return f"sheet-{side}" + (f"-{kind}" if kind else "")


def _drawing_name(kind: str, of_mold: bool) -> str:
    return "unrolled" + (f"-{kind}" if kind else "") + ("-mold" if of_mold else "") + ".dxf"


def _sheets(design: Design, mold: Mold, kinds: Sequence[str]) -> list[tuple[str, str]]:
    """Side and kind of cast segment of each sheet; the smooth half has one for all kinds."""
    sides: tuple[str, ...] = ("part",) if mold.direct else ("part", "core", "cavity")
    smooth = "cavity" if design.ribs.side == "inside" else "core"
    if design.tube.segments == 1 and not mold.direct:
        sides = ("part", "cavity")  # both halves are cavities, mirror images
    # A half with a recess for what carries the ribs is the same for all kinds too.
    shared = ("core", "cavity") if mold.core != "rigid" else (smooth,)
    return [(side, kind) for side in sides
            for kind in (kinds[:1] if side in shared else kinds)]


def planned_files(design: Design, mold: Mold, formats: Sequence[str]) -> list[str]:
    """Every file that `make_molds` may write, known before any work.

    Args:
        design: one design (no arrays).
        mold: the `[mold]` table.
        formats: of step, stl, 3mf, png.

    Raises:
        InputError: the design can't be made as stated.
    """
    names = piece_names(design, mold)
    kinds = [name.removeprefix("part").removeprefix("-") for name in names
             if name.startswith("part")]
    papers = [f"{_sheet_name(side, kind)}.{ending}"
              for side, kind in _sheets(design, mold, kinds) for ending in SHEETS]
    papers += [_drawing_name(kind, of_mold) for kind in kinds for of_mold in (False, True)]
    papers += ["making-sheet.txt"] if mold.direct else [
        "pour-sheet.pdf", "pour-sheet.txt", "check-undercut.png", "check-cooling.png", "holes.csv",
        "setup-sheet.txt"]
    if not mold.direct:
        halves = {_without_kind(name, kinds) for name in names
                  if name.startswith(("core", "cavity", "insert-"))}
        papers += [f"{CARRIERS}.{ending}" for ending in SHEETS] if (
            design.has_ribs and mold.core != "rigid") else []
        papers += ["sheet-joining.pdf", *(f"holes-{name}.pdf" for name in sorted(halves))]
    return [*planned_names(names, formats), *papers]


def _without_kind(name: str, kinds: Sequence[str]) -> str:
    """The name of a half without that of the cast segment: holes are the same for all."""
    for kind in filter(None, kinds):
        name = name.replace(f"-{kind}", "", 1)
    return name


def make_molds(
    design: Design, folder: str | Path, force: bool = False,
    formats: Sequence[str] = FORMATS, progress: Progress | None = None,
) -> MoldJob:
    """Build, check and write the molds of a design into a folder, all files or none.

    A piece that comes out faulty is not written and named in the result; the good ones are.

    Args:
        design: one design.
        folder: made if it is not there.
        force: replace files of the same names.
        formats: of step, stl, 3mf, png; the papers are always written.
        progress: told each step.

    Raises:
        InputError: the design can't be made as stated, files are in the way, the folder can't be
            written, or no piece came out good.
    """
    say = progress or (lambda line: None)
    mold = mold_of(design)
    found = mold_checks(design, mold)
    refusal = locked_in(found)
    if refusal is not None:
        raise InputError(refusal)
    with output_folder(Path(folder), force, planned_files(design, mold, formats)) as scratch:
        plan = plan_molds(design, mold)
        subjects = _subjects(plan)
        # What needs no solid is drawn while the solids are built and written.
        with beside(_papers(plan, found, scratch, subjects)) as add:
            say("building solids")
            molds = build_molds(design, mold, say)

            def weigh(solids: Sequence[SolidCheck]) -> None:
                """The sheet that needs volumes, as soon as they are known."""
                add(partial(_weighed_sheet, measured(found, _volumes(molds, solids)), scratch))

            solids = write_pieces(molds, scratch, formats, say, measured=weigh)
        volumes = _volumes(molds, solids)
        wrong = _against_the_solids(molds, subjects)
        for name in wrong:
            for ending in SHEETS:
                (scratch / f"{name}.{ending}").unlink()
        faulty = {name: f"the kernel can't make it ({why})" for name, why in molds.failed.items()}
        faulty |= {check.name: "; ".join(check.faults) for check in solids if check.faults}
        if len(faulty) >= len(solids) + len(molds.failed):
            raise InputError(
                "no piece came out good, nothing is written: "
                + "; ".join(f"{name}: {why}" for name, why in faulty.items()) + f"; {REMEDY}"
            )
        faulty |= wrong
        names = tuple(sorted(path.name for path in scratch.iterdir()))
    good = tuple(check for check in solids if not check.faults)
    return MoldJob(
        Path(folder), names, molds=molds, solids=good,
        checks=measured(found, volumes), part_volumes=volumes or (),
        faulty=faulty,
    )


def _volumes(molds: MoldSet, solids: Sequence[SolidCheck]) -> tuple[float, ...] | None:
    """Of the solid of each kind of cast segment, m3; None if one could not be made."""
    parts = {piece.name for piece in molds.pieces if piece.role == "part"}
    if len(parts) < len(molds.cast_segments):
        return None
    return tuple(check.volume for check in solids if check.name in parts)
