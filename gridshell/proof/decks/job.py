"""The files of `gridshell mesh`: decks, meshes and the tube as a beam."""

from __future__ import annotations

import csv
import io
from collections.abc import Callable
from dataclasses import dataclass
from pathlib import Path
from typing import Any

import numpy as np

from gridshell.define.errors import InputError
from gridshell.define.files.replacing import replacing, write_text
from gridshell.define.tables.design import Case, Design
from gridshell.material.properties import Properties
from gridshell.proof.cell.homogenize import MissingPackage
from gridshell.proof.decks import nastran
from gridshell.proof.decks.shells import ShellMesh, shell_mesh
from gridshell.proof.shells.sample import shell_wall
from gridshell.proof.shells.tube import ShellWall
from gridshell.tube.section.stiffness import beam_stiffness
from gridshell.wall.assess import Wall, assess_wall

FORMATS = ("bdf", "vtu", "msh")


@dataclass(frozen=True)
class MeshResult:
    """What was written.

    Attributes:
        mesh: of the tube.
        wall: of its shells.
        files: in the order of writing.
        notes: what to keep in mind.
    """

    mesh: ShellMesh
    wall: ShellWall
    files: tuple[Path, ...]
    notes: tuple[str, ...]

    def to_dict(self) -> dict[str, Any]:
        """Plain numbers and words, for JSON; SI."""
        A, B, D = self.wall.stiffness
        return {
            "files": [str(path) for path in self.files], "nodes": len(self.mesh.points),
            "elements": len(self.mesh.quads), "areal_mass": self.wall.areal_mass,
            "A": A.tolist(), "B": B.tolist(), "D": D.tolist(), "notes": list(self.notes),
        }


def read_formats(text: str) -> tuple[str, ...]:
    """The formats of ``--formats``.

    Args:
        text: names with commas between.

    Raises:
        InputError: an unknown one.
    """
    found = tuple(dict.fromkeys(part.strip() for part in text.split(",")))
    for name in found:
        if name not in FORMATS:
            raise InputError(f"--formats: {name!r} is not known; known: {', '.join(FORMATS)}")
    return found


def mesh_job(
    design: Design, properties: Properties, name: str | Path,
    formats: tuple[str, ...] = FORMATS, per_pocket: float = 1.0, force: bool = False,
    progress: Callable[[str], None] = lambda _: None,
) -> MeshResult:
    """Write the tube as a mesh of shells with the A, B, D of its wall, and as a beam.

    Args:
        design: one design.
        properties: of its material at the temperature of use.
        name: of the files, without a suffix.
        formats: of `FORMATS`.
        per_pocket: elements in one cell of the grid each way.
        force: replace files that are there.
        progress: told what is being written.

    Raises:
        InputError: a file is there, the mesh would be too large or too coarse, or the wall has no
            equivalent plies.
        MissingPackage: meshio is not installed and a format needs it.
    """
    if {"vtu", "msh"} & set(formats):
        _meshio()
    built = assess_wall(design, properties)
    mesh, wall = shell_mesh(design, built, per_pocket), shell_wall(built)
    base = Path(name)
    title = _title(design, mesh)
    texts: dict[Path, Callable[[], str]] = {
        base.with_name(base.name + "-beam.csv"): lambda: beam_table(design, built)}
    if "bdf" in formats:
        cases = [(case.name, _loads(number, case, mesh))
                 for number, case in enumerate(design.case, 1)]
        if cases:
            texts[base.with_name(base.name + "-static.bdf")] = lambda: nastran.deck(
                mesh, wall, title, 101, cases)
        texts[base.with_name(base.name + "-modes.bdf")] = lambda: nastran.deck(
            mesh, wall, title, 103)
    meshes = [base.with_name(f"{base.name}.{kind}") for kind in ("vtu", "msh") if kind in formats]
    for path in (*texts, *meshes):
        if path.exists() and not force:
            raise InputError(f"{path}: is there already; choose another --out or add --force")
    for path, make in texts.items():
        progress(path.name)
        write_text(path, make(), force)
    for path in meshes:
        progress(path.name)
        _write_mesh(mesh, path)
    notes = [
        "middle surface of the skin; lands, seams and cut-outs are not in it",
        "ends: rigid, each tied to a node at its center; the left one is held, loads act at the "
        "right one; loads are unfactored",
    ]
    if "bdf" in formats:
        notes.append("section: three plies (PCOMP, MAT8) that reproduce A, B, D of the wall; their "
                     "stresses mean nothing by themselves")
        if not design.case:
            notes.append("no load case in the file: no static deck")
        if any(case.acceleration or case.transverse for case in design.case):
            notes.append("transverse and acceleration of a case are left to you: they belong to "
                         "its support, which the larger model replaces")
    return MeshResult(mesh, wall, (*texts, *meshes), tuple(notes))


def _title(design: Design, mesh: ShellMesh) -> list[str]:
    return [
        *(f"{line}" for line in design.title.splitlines()),
        f"{len(mesh.points)} nodes, {len(mesh.quads)} shells; units N, m, kg, s, Pa",
        "x along the axis from the left end, element x axial, element y hoop, element z outward",
        f"node {mesh.centers[0] + 1}: center of the left end, held; node {mesh.centers[1] + 1}: "
        "center of the right end, loaded",
    ]


def _loads(number: int, case: Case, mesh: ShellMesh) -> list[str]:
    """Cards of a case: forces and moments at the right end, pressure on the wall."""
    push = float(case.compression)
    pressure = float(case.pressure)
    if case.pressure_on_ends:
        push += pressure * np.pi * mesh.radius**2
    return [
        *nastran.end_loads(
            number, mesh.centers[1], np.array([-push, 0.0, float(case.shear)]),
            np.array([float(case.torque), float(case.moment), 0.0])),
        *nastran.pressure(number, mesh, -pressure),
    ]


def beam_table(design: Design, wall: Wall) -> str:
    """The tube as a beam, as CSV: name, value, unit.

    Args:
        design: one design.
        wall: of the design.
    """
    found = beam_stiffness(*wall.curved, wall.grid.radius)
    length = float(design.tube.length)
    mass = float(wall.tube_mass) / length
    radius = float(wall.grid.radius)
    rows = [
        ("EA", float(found.EA), "N"), ("EI", float(found.EI), "N m2"),
        ("GJ", float(found.GJ), "N m2"), ("GA", float(found.GA), "N"),
        ("mass per length", mass, "kg/m"),
        ("rotary inertia per length", mass * radius**2 / 2, "kg m"),
        ("polar inertia per length", mass * radius**2, "kg m"),
        ("length", length, "m"), ("radius of the skin's middle surface", radius, "m"),
    ]
    text = io.StringIO()
    writer = csv.writer(text, lineterminator="\n")
    writer.writerow(["name", "value", "unit"])
    writer.writerows([name, f"{value:.9g}", unit] for name, value, unit in rows)
    return text.getvalue()


def _meshio() -> Any:
    try:
        import meshio
    except ImportError:
        raise MissingPackage(
            "vtu and msh files need the optional package meshio; install it with pip install "
            "'gridshell[proof]', or write --formats bdf"
        ) from None
    return meshio


def _write_mesh(mesh: ShellMesh, path: Path) -> None:
    meshio = _meshio()
    rim = np.zeros(len(mesh.points), dtype=int)
    rim[mesh.left], rim[mesh.right] = 1, 2
    kept = len(mesh.points) - 2  # the centers of the ends belong to no element
    content = meshio.Mesh(
        mesh.points[:kept], [("quad", mesh.quads)], point_data={"end": rim[:kept]})
    with replacing(path) as scratch:
        content.write(scratch, file_format={".vtu": "vtu", ".msh": "gmsh"}[path.suffix])
