"""`gridshell mesh`: the tube for general finite-element programs, and their results back."""

from __future__ import annotations

import argparse
from pathlib import Path

from gridshell.commands.command import Command
from gridshell.commands.common import print_json, progress, read_asked
from gridshell.define.errors import InputError


def run(options: argparse.Namespace) -> int:
    """The tube as a mesh with its loads, and as a beam; or a result beside the formulas."""
    from gridshell.material.resolve import properties
    from gridshell.proof.decks.job import mesh_job, read_formats
    from gridshell.report.plots.proof.deck import plot_mesh

    if options.read is not None:
        return _read(options)
    if options.out is None:
        raise InputError("--out: missing; give a name for the files, or --read RESULT")
    formats = read_formats(options.formats, options.kind)
    design = read_asked(options)
    result = mesh_job(
        design, properties(design.material, design.folder), name=options.out, kind=options.kind,
        formats=formats, per_pocket=options.per_pocket, per_wave=options.per_wave,
        ends=options.ends, force=options.force, progress=progress,
    )
    progress("")
    if options.plot:
        plot_mesh(result.model, design.title, options.plot, design.units)
    if options.json:
        print_json(result.to_dict())
        return 0
    print(f"{len(result.model.points):,} nodes, {result.model.elements:,} elements, "
          f"{result.model.mass:.4g} kg")
    for path in [*result.files, *([options.plot] if options.plot else [])]:
        print(f"wrote {path}")
    for note in result.notes:
        print(f"note: {note}")
    return 0


def _read(options: argparse.Namespace) -> int:
    from gridshell.material.resolve import properties
    from gridshell.proof.decks.compare import compare_result
    from gridshell.report.plots.proof.full_model import draw_full_mode
    from gridshell.report.text.proof.prove import one_mesh_text

    if options.out is not None:
        raise InputError("--read: takes no --out")
    design = read_asked(options)
    result = compare_result(design, properties(design.material, design.folder), options.read)
    if options.plot:
        found = next(((key, modes) for key, modes in result.modes.items() if modes), None)
        if found is None:
            raise InputError("--plot: this result holds no buckling mode to draw (a .dat needs its "
                             ".frd, a .f06 or .op2 its deck beside it)")
        (load, ends), _ = found
        draw_full_mode(result, load, ends, Path(options.plot))
    if options.json:
        print_json(result.to_dict())
        return 0
    print(one_mesh_text(design.title, result))
    if options.plot:
        print(f"wrote {options.plot}")
    return 0


def _options(parser: argparse.ArgumentParser) -> None:
    parser.add_argument("--out", metavar="NAME", help="name of the files, without a suffix")
    parser.add_argument(
        "--as", dest="kind", choices=("wall", "ribs", "solid"), default="wall",
        help="wall: shells with the wall's A, B, D; ribs: skin and ribs as shells; solid: 20-node "
        "solids with lands and cut-outs (default wall)",
    )
    parser.add_argument(
        "--formats", metavar="LIST",
        help="of bdf (Nastran bulk data), inp (CalculiX, Abaqus; solid only), vtu, msh; default "
        "all that the mesh has; bdf and inp are ready to run: statics, modes, buckling",
    )
    parser.add_argument(
        "--ends", choices=("spider", "clamped", "round", "free"), default="spider",
        help="spider: rigid, tied to a node at the center, left one held (default); clamped: rigid "
        "plates; round: circles that warp; free: the mesh alone",
    )
    parser.add_argument(
        "--per-pocket", type=float, metavar="N",
        help="wall: elements in one cell of the grid each way (default 1); ribs, solid: along one "
        "rib (default 4)",
    )
    parser.add_argument("--per-wave", type=float, metavar="N",
                        help="wall: elements in one half wave of general buckling instead")
    parser.add_argument(
        "--read", metavar="RESULT",
        help="a solver's .dat or .frd (CalculiX), .f06 or .op2 (Nastran) of such a deck, beside "
        "the formulas; with --plot its buckling mode instead of the mesh",
    )


COMMAND = Command(
    "mesh", "the tube for general finite-element programs, ready to run; their results beside the "
    "formulas", run, _options, ("json", "plot", "temperature", "units", "solid-cell", "force"),
    uses=("mold", "joints"),
)
