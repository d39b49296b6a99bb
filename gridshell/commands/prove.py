"""`gridshell prove`: how far the formulas are off, by finite elements and published tests."""

from __future__ import annotations

import argparse
from pathlib import Path

from gridshell.commands.command import USUAL, Command
from gridshell.commands.common import (
    check_free,
    check_plot,
    print_json,
    progress,
    read_asked,
    show,
)
from gridshell.define.errors import InputError


def run(options: argparse.Namespace) -> int:
    """How far the formulas are off for this design, by finite elements."""
    from gridshell.report.jobs.prove import (
        ENDS,
        USUAL_LOADS,
        check_save,
        draw,
        prove,
        read_ends,
        read_loads,
        save,
    )
    from gridshell.report.text.proof.prove import prove_json, prove_text

    if options.published or options.map or options.shells:
        return _without_design(options)
    if options.cut_outs:
        return _cut_outs(options)
    if options.file is None:
        raise InputError(
            "FILE: missing; give a definition file, or --published, --map or --shells, which need "
            "none"
        )
    if options.solve:
        raise InputError("--solve: solves the cells of the map; add --map and leave FILE out")
    if options.ends and not options.full:
        raise InputError("--ends: says how the one mesh of --full is held; add --full")
    asked = USUAL_LOADS if options.loads is None else read_loads(options.loads)
    whole = options.whole or (options.loads is not None and not options.full)
    ends = read_ends(options.ends) if options.ends else ENDS
    design = read_asked(options)
    if options.save:
        check_save(design, options.mesh, options.save)
        check_free(options.save, options.force)
    proof = prove(
        design, options.mesh, asked if whole else (), progress,
        asked if options.full else (), ends,
    )
    if options.save:
        save(proof, options.save, options.force)
    pictures = draw(proof, options.plot, progress) if options.plot else []
    progress("")
    if options.json:
        print_json(prove_json(proof, options.save, pictures))
    else:
        print(prove_text(proof, design.units, options.save, pictures))
    return 0


def _without_design(options: argparse.Namespace) -> int:
    """Published tests, maps of the formulas' error: about no design of the user's."""
    asked, work = next((f"--{name}", work) for name, work in (
        ("published", _published), ("map", _map), ("shells", _shells)) if getattr(options, name))
    others = () if options.map else ("solve",)
    for name in ("file", "save", "whole", "loads", "full", "ends", *others):
        if getattr(options, name):
            raise InputError(f"{asked}: takes no {'FILE' if name == 'file' else '--' + name}")
    check_plot(options.plot)
    return work(options)


def _published(options: argparse.Namespace) -> int:
    from gridshell.proof.published.compare import published_comparison
    from gridshell.report.plots.proof.whole_tube import draw_published
    from gridshell.report.text.proof.prove import published_text

    result = published_comparison()
    return show(
        options,
        lambda: result.to_dict(),
        lambda: published_text(result),
        lambda path: draw_published(result, path),
    )


def _shells(options: argparse.Namespace) -> int:
    from gridshell.proof.shells.sample import read
    from gridshell.report.plots.proof.shell_sample import draw_shell_sample
    from gridshell.report.text.proof.shell_sample import shells_json, shells_text

    rows = read()
    return show(
        options, lambda: shells_json(rows), lambda: shells_text(rows),
        lambda path: draw_shell_sample(rows, path),
    )


def _cut_outs(options: argparse.Namespace) -> int:
    from gridshell.proof.shells.openings import solve_openings
    from gridshell.report.text.tube.openings import openings_text

    for name in ("save", "whole", "loads", "full", "ends", "solve", "plot"):
        if getattr(options, name):
            raise InputError(f"--cut-outs: takes no --{name}")
    if options.file is None:
        raise InputError("FILE: missing; give a definition file with [[mold.cutout]]")
    design = read_asked(options)
    progress("the tube as shells, without and with its cut-outs (a minute)")
    result = solve_openings(design)
    progress("")
    if options.json:
        print_json(result.to_dict())
    else:
        print(openings_text(result, design.units))
    return 0


def _map(options: argparse.Namespace) -> int:
    from gridshell.proof.maps.cells import difference, read, solve
    from gridshell.report.text.proof.prove import map_json, map_text

    kept = cells = read()
    again = None
    if options.solve:
        check_free(options.solve, options.force)
        solve(path=Path(options.solve), progress=progress, force=options.force)
        progress("")
        cells = read(Path(options.solve))
        again = difference(cells, kept)

    def draw(path: str) -> None:
        from gridshell.proof.maps.tubes import read as read_tubes
        from gridshell.report.plots.proof.error_map import draw_map
        from gridshell.report.plots.proof.tube_map import draw_tube_map

        draw_map(cells, path)
        target = Path(path)
        draw_tube_map(read_tubes(), target.with_name(f"{target.stem}-tubes{target.suffix}"))
    return show(
        options,
        lambda: map_json(cells, again),
        lambda: map_text(cells, options.solve, again),
        draw,
    )


def _options(parser: argparse.ArgumentParser) -> None:
    parser.add_argument("--mesh", choices=("coarse", "medium", "fine"), default="medium",
                        help="of the solid cell")
    parser.add_argument(
        "--save", metavar="CELL.toml",
        help="write the solid cell's stiffness, for --solid-cell of wall and tube",
    )
    parser.add_argument(
        "--whole", action="store_true",
        help="the whole tube with every rib too, all loads but bending (some minutes); with "
        "--plot FILE.png also FILE-ratios.png and the buckling mode of each load as "
        "FILE-compression.png and so on",
    )
    parser.add_argument(
        "--loads", metavar="LIST",
        help="--whole (or --full) with these loads: of compression,bending,lateral,hydrostatic,"
        "torsion (bending takes longest)",
    )
    parser.add_argument(
        "--full", action="store_true",
        help="the whole tube in one mesh, with real ends, by a second solver (Debian package "
        "calculix-ccx): half an hour and some GB for a hundred cells; with --plot also "
        "FILE-full-compression-round.png and so on",
    )
    parser.add_argument(
        "--cut-outs", action="store_true",
        help="compression of the tube as shells without and with its [[mold.cutout]], beside the "
        "published rule (a minute)",
    )
    parser.add_argument(
        "--ends", metavar="LIST", help="of --full: round (kept round, free to warp), clamped; "
        "default: both",
    )
    alone = parser.add_mutually_exclusive_group()
    alone.add_argument("--published", action="store_true",
                       help="published tests beside the formulas; needs no FILE")
    alone.add_argument(
        "--map", action="store_true",
        help="the formulas' error over rib width, height, fillet, radius and skin, from the solid "
        "cells kept with the code, and over whole tubes (FILE-tubes.png); needs no FILE",
    )
    alone.add_argument(
        "--shells", action="store_true",
        help="50 random tubes solved as shells by an independent solver, beside the formulas; "
        "needs no FILE",
    )
    parser.add_argument(
        "--solve", metavar="CELLS.csv",
        help="with --map: solve all those cells again (about 10 minutes) and write them here",
    )


COMMAND = Command(
    "prove", "how far the formulas are off for this design (solid cells)", run, _options,
    (*USUAL, "force"), needs_file=False,
    uses=(),
)
