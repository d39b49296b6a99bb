"""The files of `gridshell mesh`: decks, meshes and the tube as a beam."""

from __future__ import annotations

import shutil
from collections.abc import Callable
from contextlib import ExitStack
from dataclasses import dataclass
from pathlib import Path
from typing import Any

import numpy as np

from gridshell.define.errors import InputError
from gridshell.define.files.replacing import replacing
from gridshell.define.tables.design import Design
from gridshell.material.properties import Properties
from gridshell.proof.decks.contents import contents, meshio, notes_of
from gridshell.proof.decks.ends import ENDS, case_step
from gridshell.proof.decks.model import Model
from gridshell.proof.decks.ribs import rib_mesh
from gridshell.proof.decks.shells import PER_POCKET, shell_mesh
from gridshell.proof.decks.solid import PER_POCKET as PER_SOLID
from gridshell.proof.decks.solid import solid_mesh
from gridshell.proof.shells.tube import ShellWall
from gridshell.tube.buckling.general import buckling_loads
from gridshell.wall.assess import Wall, assess_wall

FORMATS = ("bdf", "inp", "vtu", "msh")
KINDS = ("wall", "ribs", "solid")
_PER_NODE = {"bdf": 400, "inp": 250, "vtu": 120, "msh": 120}  # bytes of a file, roughly
PER_WAVE = 10.0


@dataclass(frozen=True)
class MeshResult:
    """What was written.

    Attributes:
        model: of the tube.
        files: in the order of writing.
        notes: what to keep in mind.
    """

    model: Model
    files: tuple[Path, ...]
    notes: tuple[str, ...]

    def to_dict(self) -> dict[str, Any]:
        """Plain numbers and words, for JSON; SI."""
        found: dict[str, Any] = {
            "files": [str(path) for path in self.files], "as": self.model.kind,
            "nodes": len(self.model.points), "elements": self.model.elements,
            "mass": self.model.mass, "notes": list(self.notes),
            "parts": {part.name: len(part.cells) for part in self.model.parts},
        }
        section = self.model.parts[0].section
        if isinstance(section, ShellWall):
            found |= {"areal_mass": section.areal_mass, **{
                name: part.tolist() for name, part in zip("ABD", section.stiffness, strict=True)}}
        return found


def read_formats(text: str | None, kind: str) -> tuple[str, ...]:
    """The formats of ``--formats``.

    Args:
        text: names with commas between; None: all that the kind of mesh has.
        kind: of `KINDS`.

    Raises:
        InputError: an unknown one, or CalculiX input of shells.
    """
    if text is None:
        return FORMATS if kind == "solid" else tuple(f for f in FORMATS if f != "inp")
    found = tuple(dict.fromkeys(part.strip() for part in text.split(",")))
    for name in found:
        if name not in FORMATS:
            raise InputError(f"--formats: {name!r} is not known; known: {', '.join(FORMATS)}")
    if "inp" in found and kind != "solid":
        raise InputError(
            f"--formats inp with --as {kind}: CalculiX turns shells into solids whose plies do not "
            "stay plane (EA and GJ 3 to 5 % low in a trial); take --as solid, or --formats bdf")
    return found


def make_model(
    design: Design, wall: Wall, kind: str, per_pocket: float | None, per_wave: float | None = None
) -> Model:
    """The mesh of a design.

    Args:
        design: one design.
        wall: of the design.
        kind: of `KINDS`.
        per_pocket: elements in one cell of the grid (ribs, solid: along one rib); None: usual.
        per_wave: wall only: elements in one half wave of the general mode instead.

    Raises:
        InputError: an unknown kind, or a mesh that is too large or too coarse.
    """
    if kind not in KINDS:
        raise InputError(f"--as {kind!r}: is not known; known: {', '.join(KINDS)}")
    if per_wave is not None:
        if kind != "wall" or per_pocket is not None:
            raise InputError("--per-wave: for --as wall and without --per-pocket")
        if not per_wave >= 4:
            raise InputError(f"--per-wave {per_wave:g}: must be at least 4")
        found = buckling_loads(wall, ("compression", "lateral"))
        waves = [wave for wave in (found.compression, found.lateral) if wave is not None]
        m, n = (max(float(getattr(wave, name)) for wave in waves) for name in "mn")
        size = (float(design.tube.length) / m / per_wave,
                np.pi * float(wall.grid.radius) / max(n, 1.0) / per_wave)
        return shell_mesh(design, wall, 1.0, size)
    if kind == "wall":
        return shell_mesh(design, wall, PER_POCKET if per_pocket is None else per_pocket)
    if kind == "ribs":
        return rib_mesh(design, wall, per_pocket)
    return solid_mesh(design, wall, PER_SOLID if per_pocket is None else per_pocket)


def mesh_job(
    design: Design, properties: Properties, name: str | Path, kind: str = "wall",
    formats: tuple[str, ...] | None = None, per_pocket: float | None = None,
    per_wave: float | None = None, ends: str = "spider", force: bool = False,
    progress: Callable[[str], None] = lambda _: None,
) -> MeshResult:
    """Write the tube as a mesh with its loads, and as a beam.

    Args:
        design: one design.
        properties: of its material at the temperature of use.
        name: of the files, without a suffix.
        kind: of `KINDS`.
        formats: of `FORMATS`; None: all that the kind has.
        per_pocket: elements in one cell of the grid; None: usual.
        per_wave: elements in one half wave instead (wall only).
        ends: of `gridshell.proof.decks.ends.ENDS`.
        force: replace files that are there.
        progress: told what is being written.

    Raises:
        InputError: a file is there, no room for the files, the mesh would be too large or too
            coarse, the pattern has no outline, or the wall has no equivalent plies.
        MissingPackage: meshio is not installed and a format needs it.
    """
    if ends not in ENDS:
        raise InputError(f"--ends {ends!r}: is not known; known: {', '.join(ENDS)}")
    formats = read_formats(None if formats is None else ",".join(formats), kind)
    if {"vtu", "msh"} & set(formats):
        meshio()
    base = Path(name)
    if not base.parent.is_dir():
        raise InputError(f"{base}: folder {base.parent} does not exist; make it first")
    built = assess_wall(design, properties)
    progress("mesh")
    model = make_model(design, built, kind, per_pocket, per_wave)
    steps = [] if ends == "free" else [
        case_step(model, ends, case, built) for case in design.case]
    jobs = contents(design, built, model, ends, formats, steps)
    paths = [base.with_name(base.name + tail) for tail in jobs]
    for path in paths:
        if path.exists() and not force:
            raise InputError(f"{path}: is there already; choose another --out or add --force")
    _check_room(base, model, list(jobs))
    with ExitStack() as stack:  # all files or, on an error or Ctrl-C, none
        for path, make in zip(paths, jobs.values(), strict=True):
            progress(path.name)
            scratch = stack.enter_context(replacing(path, force))
            content = make()
            if isinstance(content, str):
                scratch.write_text(content, encoding="utf-8")
            else:
                content.write(scratch, file_format={".vtu": "vtu", ".msh": "gmsh22"}[path.suffix])
    return MeshResult(model, tuple(paths), notes_of(design, model, ends, formats, steps))


def _check_room(base: Path, model: Model, tails: list[str]) -> None:
    """Refuse to fill the disk, before any file is written."""
    need = sum(len(model.points) * _PER_NODE.get(tail.rsplit(".", 1)[-1], 0) for tail in tails)
    free = shutil.disk_usage(base.parent).free
    if need > free:
        raise InputError(f"{base}: needs about {need / 1e6:,.0f} MB, {free / 1e6:,.0f} MB are free")
