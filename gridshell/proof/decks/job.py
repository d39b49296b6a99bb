"""The files of `gridshell mesh`: decks, meshes and the tube as a beam."""

from __future__ import annotations

import json
import re
import shutil
from collections.abc import Callable
from dataclasses import dataclass
from pathlib import Path
from typing import Any

import numpy as np

from gridshell.define.errors import InputError
from gridshell.define.files.replacing import replacing, write_text
from gridshell.define.tables.design import Design
from gridshell.material.properties import Properties
from gridshell.proof.cell.homogenize import MissingPackage
from gridshell.proof.decks import inp, nastran
from gridshell.proof.decks.beam import beam_cards, beam_table
from gridshell.proof.decks.ends import ENDS, Step, alike, case_step, modes_step
from gridshell.proof.decks.model import Model
from gridshell.proof.decks.ribs import PER_POCKET as PER_RIB
from gridshell.proof.decks.ribs import rib_mesh
from gridshell.proof.decks.shells import PER_POCKET, shell_mesh
from gridshell.proof.decks.solid import solid_mesh
from gridshell.proof.shells.tube import ShellWall
from gridshell.tube.buckling.general import buckling_loads
from gridshell.wall.assess import Wall, assess_wall

FORMATS = ("bdf", "inp", "vtu", "msh")
KINDS = ("wall", "ribs", "solid")
MODES = 6
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
    make = rib_mesh if kind == "ribs" else solid_mesh
    return make(design, wall, PER_RIB if per_pocket is None else per_pocket)


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
        _meshio()
    base = Path(name)
    if not base.parent.is_dir():
        raise InputError(f"{base}: folder {base.parent} does not exist; make it first")
    built = assess_wall(design, properties)
    progress("mesh")
    model = make_model(design, built, kind, per_pocket, per_wave)
    steps = [] if ends == "free" else [
        case_step(model, ends, case, built) for case in design.case]
    jobs = _jobs(design, built, model, ends, formats, steps)
    paths = [base.with_name(base.name + tail) for tail in jobs]
    for path in paths:
        if path.exists() and not force:
            raise InputError(f"{path}: is there already; choose another --out or add --force")
    _check_room(base, model, list(jobs))
    for path, make in zip(paths, jobs.values(), strict=True):
        progress(path.name)
        content = make()
        if isinstance(content, str):
            write_text(path, content, force)
        else:
            with replacing(path) as scratch:
                content.write(scratch, file_format={".vtu": "vtu", ".msh": "gmsh22"}[path.suffix])
    return MeshResult(model, tuple(paths), _notes(design, model, ends, formats, steps))


def _jobs(
    design: Design, built: Wall, model: Model, ends: str, formats: tuple[str, ...],
    steps: list[Step],
) -> dict[str, Callable[[], Any]]:
    """What to write, by the tail of its name."""
    title = _title(design, model, ends)
    jobs: dict[str, Callable[[], Any]] = {
        "-beam.csv": lambda: beam_table(design, built),
        ".json": lambda: json.dumps(_record(design, model, ends, steps), indent=1) + "\n",
    }
    if "bdf" in formats:
        jobs["-beam.bdf"] = lambda: beam_cards(design, built, [
            *title[:1], "the tube as beams; units N, m, kg, s, Pa"])
    for suffix, writer in (("bdf", nastran), ("inp", inp)):
        if suffix not in formats:
            continue
        kept: list[str] = []

        def body(writer: Any = writer, kept: list[str] = kept) -> str:
            if not kept:
                kept.append(writer.body(model, ends))
            return kept[0]

        def deck(
            solution: str, chosen: tuple[Step, ...], writer: Any = writer,
            body: Callable[[], str] = body,
        ) -> str:
            return str(writer.deck(model, ends, title, solution, chosen, modes=MODES, text=body()))

        if ends == "free":
            jobs[f".{suffix}"] = lambda deck=deck: deck("mesh", ())
            continue
        jobs[f"-modes.{suffix}"] = lambda deck=deck: deck("modes", (modes_step(model, ends),))
        groups = alike(steps)
        for group in groups:
            tail = "" if len(groups) == 1 else f"-{slug(group[0].name)}"
            jobs[f"-static{tail}.{suffix}"] = lambda deck=deck, group=group: deck("static", group)
        for step in steps:
            jobs[f"-buckling-{slug(step.name)}.{suffix}"] = (
                lambda deck=deck, step=step: deck("buckling", (step,)))
    for suffix in ("vtu", "msh"):
        if suffix in formats:
            jobs[f".{suffix}"] = lambda: _mesh_of(model)
    return jobs


def slug(name: str) -> str:
    """A case's name as part of a file's name."""
    return re.sub(r"[^a-z0-9]+", "-", name.lower()).strip("-") or "case"


def _record(design: Design, model: Model, ends: str, steps: list[Step]) -> dict[str, Any]:
    """What `--read` needs to know of a job."""
    groups = alike(steps)
    decks = {"-modes": []} | {f"-buckling-{slug(step.name)}": [step.name] for step in steps} | {
        "-static" + ("" if len(groups) == 1 else f"-{slug(group[0].name)}"):
        [step.name for step in group] for group in groups}
    return {
        "title": design.title, "as": model.kind, "ends": ends, "radius": model.radius,
        "length": model.length, "mass": model.mass, "side": model.side,
        "centers": list(model.centers),
        "decks": decks,
    }


def _check_room(base: Path, model: Model, tails: list[str]) -> None:
    """Refuse to fill the disk, before any file is written."""
    need = sum(len(model.points) * _PER_NODE.get(tail.rsplit(".", 1)[-1], 0) for tail in tails)
    free = shutil.disk_usage(base.parent).free
    if need > free:
        raise InputError(f"{base}: needs about {need / 1e6:,.0f} MB, {free / 1e6:,.0f} MB are free")


def _title(design: Design, model: Model, ends: str) -> list[str]:
    left, right = model.centers
    lines = [
        *design.title.splitlines(),
        f"{len(model.points)} nodes, {model.elements} elements, mass {model.mass:.6g} kg; units N, "
        "m, kg, s, Pa",
        "x along the axis from the left end; element x along axis or rib, z outward",
        f"nodes {left + 1} and {right + 1}: centers of the left and the right end; ends: {ends}",
        "load cases as stated, without factor; a moment stretches the top (+z)",
        *(f"part {part.name}: {len(part.cells)} elements" for part in model.parts),
    ]
    return [line.encode("ascii", "replace").decode() for line in lines]


def _notes(
    design: Design, model: Model, ends: str, formats: tuple[str, ...], steps: list[Step]
) -> tuple[str, ...]:
    notes = [{
        "wall": "middle surface of the skin with A, B, D of the wall; lands, seams and cut-outs "
        "are not in it",
        "ribs": "skin and ribs as shells, the grid from end to end: lands, seams and cut-outs are "
        "not in it; nodes of ribs count twice in stiffness, not in mass",
        "solid": "20-node solids with lands and cut-outs (stepped edges); seams and joints are "
        "taken as whole; the first seam lies on top (+z)",
    }[model.kind]]
    notes.append({
        "free": "ends free: the mesh alone, supports and loads are yours",
        "round": "ends round: circles that warp freely, grown as mid-length is",
        "clamped": "ends clamped: rigid plates, the right one moves along and turns about the "
        "axis; under a moment both tilt",
        "spider": "ends rigid, each tied to a node at its center; the left one is held, loads act "
        "at the right one",
    }[ends] + ("" if ends == "free" else "; loads are unfactored"))
    if model.kind == "wall" and "bdf" in formats:
        notes.append("section: three plies (PCOMP, MAT8) that reproduce A, B, D of the wall; their "
                     "stresses mean nothing by themselves; MYSTRAN refuses to buckle them (they "
                     "couple membrane and bending), --as ribs it buckles")
    if not design.case:
        notes.append("no load case in the file: no static and no buckling deck")
    for step in steps:
        notes += step.notes
    return tuple(notes)


def _meshio() -> Any:
    try:
        import meshio
    except ImportError:
        raise MissingPackage(
            "vtu and msh files need the optional package meshio; install it with pip install "
            "'gridshell[proof]', or write --formats bdf"
        ) from None
    return meshio


def _mesh_of(model: Model) -> Any:
    """The mesh with its parts and ends as numbered sets, for viewers and mesh tools."""
    kept = len(model.points) - 2  # the centers of the ends belong to no element
    end = np.zeros(kept, dtype=int)
    end[model.rims[0].nodes], end[model.rims[1].nodes] = 1, 2
    kind = "hexahedron20" if model.is_solid else "quad"
    numbers = [np.full(len(part.cells), k) for k, part in enumerate(model.parts, 1)]
    return _meshio().Mesh(
        model.points[:kept], [(kind, part.cells) for part in model.parts],
        point_data={"end": end},
        cell_data={"gmsh:physical": numbers, "gmsh:geometrical": numbers},
        field_data={part.name: np.array([k, 3 if model.is_solid else 2])
                    for k, part in enumerate(model.parts, 1)},
    )
