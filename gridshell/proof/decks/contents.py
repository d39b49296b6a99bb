"""What the files of `gridshell mesh` hold: decks of each solution, the mesh alone, the record."""

from __future__ import annotations

import json
import re
from collections.abc import Callable
from functools import cache, partial
from typing import Any

import numpy as np

from gridshell.define.tables.design import Design
from gridshell.proof.cell.homogenize import MissingPackage
from gridshell.proof.decks import inp, nastran
from gridshell.proof.decks.beam import beam_cards, beam_nodes, beam_table
from gridshell.proof.decks.ends import UNIT_CASES, Step, alike, case_step, modes_step
from gridshell.proof.decks.model import Model, face_nodes
from gridshell.wall.assess import Wall

MODES = 6


def contents(
    design: Design, built: Wall, model: Model, ends: str, formats: tuple[str, ...],
    steps: list[Step],
) -> dict[str, Callable[[], Any]]:
    """What to write, by the tail of its name.

    Args:
        design: one design.
        built: its wall.
        model: its mesh.
        ends: of `gridshell.proof.decks.ends.ENDS`.
        formats: of `gridshell.proof.decks.job.FORMATS`.
        steps: one for each load case; none if the ends are free.
    """
    title = _title(design, model, ends)
    found: dict[str, Callable[[], Any]] = {
        "-beam.csv": partial(beam_table, design, built),
        ".json": partial(_record, design, model, ends, steps),
    }
    if "bdf" in formats:
        about = [title[0], "the tube as beams, lands included; units N, m, kg, s, Pa"]
        for tail in ("", "stiffness", "modes"):
            found["-".join(["-beam", *[tail] * bool(tail)]) + ".bdf"] = partial(
                beam_cards, design, built, about, tail)
    for suffix, writer in (("bdf", nastran), ("inp", inp)):
        if suffix not in formats:
            continue
        body = cache(partial(writer.body, model, ends))  # the same in all decks

        def deck(
            solution: str, chosen: tuple[Step, ...], writer: Any = writer,
            body: Callable[[], str] = body,
        ) -> str:
            return str(writer.deck(model, ends, title, solution, chosen, modes=MODES, text=body()))

        if ends == "free":
            found[f".{suffix}"] = partial(deck, "mesh", ())
            continue
        if ends == "spider":
            found[f"-stiffness.{suffix}"] = partial(deck, "static", tuple(
                case_step(model, ends, case, built) for case in UNIT_CASES))
        found[f"-modes.{suffix}"] = partial(deck, "modes", (modes_step(model, ends),))
        for tail, (solution, chosen) in _decks(steps).items():
            found[f"{tail}.{suffix}"] = partial(deck, solution, chosen)
    for suffix in ("vtu", "msh"):
        if suffix in formats:
            found[f".{suffix}"] = partial(_mesh_of, model)
    return found


def _decks(steps: list[Step]) -> dict[str, tuple[str, tuple[Step, ...]]]:
    """Solution and steps of the decks of load cases, by the tail of the name.

    Cases whose names differ only in what a file's name can't hold are told apart by their number.
    A case of which nothing acts has no deck.
    """
    steps = [step for step in steps if step.acts]
    names = [_slug(step.name) for step in steps]
    for k, name in enumerate(names):
        if names.count(name) > 1 or name == "case":
            names[k] = f"{name}-{k + 1}"
    known = dict(zip((step.name for step in steps), names, strict=True))
    groups = alike(steps)
    found: dict[str, tuple[str, tuple[Step, ...]]] = {}
    for group in groups:
        tail = "" if len(groups) == 1 else f"-{known[group[0].name]}"
        found[f"-static{tail}"] = ("static", group)
    for step in steps:
        found[f"-buckling-{known[step.name]}"] = ("buckling", (step,))
    return found


def _slug(name: str) -> str:
    """A case's name as part of a file's name."""
    return re.sub(r"[^a-z0-9]+", "-", name.lower()).strip("-") or "case"


def _record(design: Design, model: Model, ends: str, steps: list[Step]) -> str:
    """What `--read` needs to know of a job."""
    return json.dumps({
        "title": design.title, "as": model.kind, "ends": ends, "radius": model.radius,
        "length": model.length, "mass": model.mass, "side": model.side,
        "height": model.height, "centers": list(model.centers),
        "beam_tip": beam_nodes(design) - 1,
        "decks": {"-modes": [], "-stiffness": [case.name for case in UNIT_CASES], **{
            tail: [step.name for step in chosen]
            for tail, (_, chosen) in _decks(steps).items()}},
    }, indent=1) + "\n"


def _title(design: Design, model: Model, ends: str) -> list[str]:
    left, right = model.centers
    lines = [
        *design.title.splitlines(),
        f"{len(model.points)} nodes, {model.elements} elements, mass {model.mass:.6g} kg; units N, "
        "m, kg, s, Pa",
        "x along the axis from the left end; element x along axis or rib, z outward",
        f"nodes {left + 1} and {right + 1}: centers of the left and the right end; ends: {ends}",
        "load cases as stated, without factor; a moment stretches the top (+z)",
        *([] if not model.height else [
            f"shells lie {model.height:.6g} m above the skin's middle surface (radius "
            f"{model.radius:.6g} m); the section is that about this surface"]),
        *(f"part {part.name}: {len(part.cells)} elements" for part in model.parts),
    ]
    return [line.encode("ascii", "replace").decode() for line in lines]


def notes_of(
    design: Design, model: Model, ends: str, formats: tuple[str, ...], steps: list[Step]
) -> tuple[str, ...]:
    """What to keep in mind.

    Args:
        design: one design.
        model: its mesh.
        ends: of `gridshell.proof.decks.ends.ENDS`.
        formats: of `gridshell.proof.decks.job.FORMATS`.
        steps: one for each load case.
    """
    notes = [{
        "wall": "one surface with A, B, D of the wall; lands, seams and cut-outs "
        "are not in its stiffness, lands are in its mass",
        "ribs": "skin and ribs as shells, the grid from end to end: lands, seams and cut-outs are "
        "not in its stiffness, lands are in its mass; under the foot of a rib the skin is stiffer "
        "across it (element set FOOT)",
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
        if model.height:
            notes.append(
                f"nodes lie {abs(model.height) * 1e3:.3g} mm {'out' if model.height > 0 else 'in'}"
                "side of the skin's middle surface, where shear and twist of the wall do not "
                "couple: programs without normals at nodes would let go of the twisting moment")
    if not design.case:
        notes.append("no load case in the file: no static and no buckling deck")
    for step in steps:
        notes += step.notes
        if not step.acts:
            notes.append(f"case {step.name!r}: nothing of it acts on such ends, so it has no deck")
    return (*notes, *model.notes)


def meshio() -> Any:
    """The package, or a word on how to get it."""
    try:
        import meshio as found
    except ImportError:
        raise MissingPackage(
            "vtu and msh files need the optional package meshio; install it with pip install "
            "'gridshell[proof]', or write --formats bdf"
        ) from None
    return found


def _mesh_of(model: Model) -> Any:
    """The mesh with its parts and ends as numbered sets, for viewers and mesh tools.

    Nodes of the ends are numbered in ``end``; LEFT and RIGHT hold the edges (solids: faces) there,
    SMOOTH the faces of solids that pressure acts on.
    """
    kept = len(model.points) - 2  # the centers of the ends belong to no element
    end = np.zeros(kept, dtype=int)
    end[model.rims[0].nodes], end[model.rims[1].nodes] = 1, 2
    whole, side, depth = ("hexahedron20", "quad8", 3) if model.is_solid else ("quad", "line", 2)
    sets = [(part.name, whole, part.cells, depth) for part in model.parts]
    sets += [(name, side, rim.sides, depth - 1)
             for name, rim in zip(("LEFT", "RIGHT"), model.rims, strict=True)]
    if model.is_solid:
        sets.append(("SMOOTH", side, face_nodes(model.parts[0].cells, model.faces), depth - 1))
    numbers = [np.full(len(cells), k) for k, (_, _, cells, _) in enumerate(sets, 1)]
    return meshio().Mesh(
        model.points[:kept], [(kind, cells) for _, kind, cells, _ in sets],
        point_data={"end": end},
        cell_data={"gmsh:physical": numbers, "gmsh:geometrical": numbers},
        field_data={name: np.array([k, across]) for k, (name, *_, across) in enumerate(sets, 1)},
    )
