"""`gridshell mesh`: the tube for general finite-element programs."""

from __future__ import annotations

import argparse

from gridshell.commands.command import Command
from gridshell.commands.common import print_json, progress, read_asked


def run(options: argparse.Namespace) -> int:
    """The tube as a mesh of shells with the wall's A, B, D, and as a beam."""
    from gridshell.material.resolve import properties
    from gridshell.proof.decks.job import mesh_job, read_formats

    formats = read_formats(options.formats)
    design = read_asked(options)
    result = mesh_job(
        design, properties(design.material, design.folder), name=options.out, formats=formats,
        per_pocket=options.per_pocket, force=options.force, progress=progress,
    )
    progress("")
    if options.json:
        print_json(result.to_dict())
        return 0
    print(f"{len(result.mesh.points):,} nodes, {len(result.mesh.quads):,} shells")
    for path in result.files:
        print(f"wrote {path}")
    for note in result.notes:
        print(f"note: {note}")
    return 0


def _options(parser: argparse.ArgumentParser) -> None:
    parser.add_argument("--out", metavar="NAME", required=True,
                        help="name of the files, without a suffix")
    parser.add_argument(
        "--formats", default="bdf,vtu,msh", metavar="LIST",
        help="of bdf (Nastran bulk data, statics and modes, ready to run), vtu, msh; default all",
    )
    parser.add_argument("--per-pocket", type=float, default=1.0, metavar="N",
                        help="elements in one cell of the grid each way (default 1)")


COMMAND = Command(
    "mesh", "the tube for general finite-element programs: shells with A, B, D, and a beam", run,
    _options, ("json", "temperature", "units", "solid-cell", "force"),
    uses=(),
)
