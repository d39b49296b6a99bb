"""Everything that `gridshell mold` makes: solids, sheets, drawing, pictures, checks, pour sheet."""

from __future__ import annotations

from collections.abc import Callable, Sequence
from dataclasses import dataclass
from pathlib import Path

from gridshell.define.errors import InputError
from gridshell.define.tables.design import Design
from gridshell.define.tables.mold import mold_of
from gridshell.mold.checks.run import MoldChecks, mold_checks
from gridshell.mold.files.folder import output_folder, refuse_existing
from gridshell.mold.files.solids import SolidCheck, solid_volume
from gridshell.mold.files.unrolled_dxf import write_unrolled
from gridshell.mold.files.write import FORMATS, planned_names, write_pieces
from gridshell.mold.pieces.mold_set import MoldSet, build_molds
from gridshell.mold.relief.ribbing import Ribbing
from gridshell.report.plots.mold import plot_cooling, plot_undercut
from gridshell.report.sheets.drawing import Subject, write_sheets
from gridshell.report.sheets.pour import write_pour_sheet

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
        part_volumes: of one casting of each kind at the part's own size, m3.
    """

    folder: Path
    files: tuple[str, ...]
    molds: MoldSet
    solids: tuple[SolidCheck, ...]
    checks: MoldChecks
    part_volumes: tuple[float, ...]

    @property
    def pour_mass(self) -> float:
        """To melt for the heaviest casting with its gate and spare, kg."""
        return float(self.checks.find("pour for one casting").value or 0.0)


def _sides(molds: MoldSet) -> Sequence[str]:
    """The pieces that get a sheet."""
    roles = {piece.role for piece in molds.pieces}
    return [side for side in ("part", "core", "cavity") if side in roles]


def _papers(
    molds: MoldSet, checks: MoldChecks, plain: Ribbing, folder: Path
) -> list[Callable[[], None]]:
    """Sheets, drawing, pour sheet and pictures of the checks, each a task of its own."""
    design, mold = molds.design, molds.mold

    def sheet(side: str) -> Callable[[], None]:
        subject = Subject(
            design, mold, molds.grid, plain, side, molds.shrinkage, molds.planes
        )
        return lambda: write_sheets(
            [folder / f"sheet-{side}.pdf", folder / f"sheet-{side}.png"], subject
        )

    def pour() -> None:
        write_pour_sheet(checks, folder / "pour-sheet.pdf", folder / "pour-sheet.txt")

    tasks: list[Callable[[], None]] = [sheet(side) for side in _sides(molds)]
    tasks += [
        pour,
        lambda: plot_undercut(checks, folder / "check-undercut.png"),
        lambda: write_unrolled(folder / "unrolled.dxf", design, molds.grid, plain, design.title),
    ]
    if checks.cooling is not None:
        tasks.append(lambda: plot_cooling(checks, folder / "check-cooling.png"))
    return tasks


def make_molds(
    design: Design, folder: str | Path, force: bool = False,
    formats: Sequence[str] = FORMATS, progress: Progress | None = None,
) -> MoldJob:
    """Build, check and write the molds of a design into a folder, all files or none.

    Args:
        design: one design.
        folder: made if it is not there.
        force: replace files of the same names.
        formats: of step, stl, 3mf, png; the papers are always written.
        progress: told each step.

    Raises:
        InputError: the design can't be molded as stated, files are in the way, or a solid came
            out faulty.
    """
    say = progress or (lambda line: None)
    mold = mold_of(design)
    target = Path(folder)
    # Refuse before the work, not after it.
    refuse_existing(target, ["assembly.step", "unrolled.dxf", "pour-sheet.txt"], force)
    say("building solids")
    molds = build_molds(design, mold, say)
    parts = [piece for piece in molds.pieces if piece.role == "part"]
    volumes = tuple(solid_volume(piece.solid) * 1e-9 for piece in parts)
    checks = mold_checks(design, mold, volumes)
    plain = molds.ribs.get("", next(iter(molds.ribs.values())))
    with output_folder(target, force, planned_names(molds, formats)) as scratch:
        solids = write_pieces(
            molds, scratch, formats, say, more=_papers(molds, checks, plain, scratch)
        )
        faults = [f"{check.name}: {fault}" for check in solids for fault in check.faults]
        if faults:
            raise InputError("a solid came out faulty, nothing is written; " + "; ".join(faults))
        names = tuple(sorted(path.name for path in scratch.iterdir()))
    return MoldJob(target, names, molds, tuple(solids), checks, volumes)
