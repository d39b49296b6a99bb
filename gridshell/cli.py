"""Commands. Each reads a definition file, prints the governing result first, and draws on request.

Nothing heavy is imported until a command needs it, so help answers at once.
"""

from __future__ import annotations

import argparse
import json
import sys
from collections.abc import Callable, Sequence
from typing import Any

from gridshell import __version__
from gridshell.define.errors import InputError

Command = Callable[[argparse.Namespace], int]


def _print_json(content: Any) -> None:
    json.dump(content, sys.stdout, indent=1, allow_nan=False)
    sys.stdout.write("\n")


def _show(
    options: argparse.Namespace, content: Callable[[], Any], text: Callable[[], str],
    draw: Callable[[str], None],
) -> int:
    """What every command ends with: the picture if one is wanted, then JSON or the table."""
    if options.plot:
        draw(options.plot)
    if options.json:
        _print_json(content())
    else:
        print(text())
    return 0


def _check_plot(options: argparse.Namespace) -> None:
    if options.plot:
        from gridshell.report.plots.style import check_picture_path

        check_picture_path(options.plot)


def _read(options: argparse.Namespace) -> Any:
    """The design of the command line, with the temperature and solid cell it states, if any."""
    from pathlib import Path

    from gridshell.define.files.reading import read_design
    from gridshell.define.tables.design import with_values
    from gridshell.define.units import parse_quantity

    _check_plot(options)
    design = read_design(options.file)
    if options.temperature is not None:
        try:
            kelvin = parse_quantity(options.temperature, "temperature")
        except InputError as error:
            raise InputError(f"--temperature: {error}") from None
        design = with_values(design, {"material.temperature": kelvin})
    if options.units:
        design = with_values(design, {"units": options.units})
    if getattr(options, "solid_cell", None) is not None:
        # On the command line a path is one from here, in the file one from beside the file.
        cell = Path(options.solid_cell).resolve()
        design = with_values(design, {"ribs.solid_cell": str(cell)})
    return design


def run_wall(options: argparse.Namespace) -> int:
    """Smeared stiffness, mass and equivalent plain wall."""
    from gridshell.material.resolve import properties
    from gridshell.report.text.wall import wall_json, wall_text
    from gridshell.wall.assess import wall

    design = _read(options)
    built = wall(design, properties(design.material, design.folder))

    def draw(path: str) -> None:
        from gridshell.report.plots.wall import plot_wall

        plot_wall(built, path, design.units)

    return _show(options, lambda: wall_json(built), lambda: wall_text(built, design.units), draw)


def run_tube(options: argparse.Namespace) -> int:
    """Whole tube: stiffness, mass, frequencies, every check of every load case."""
    from gridshell.report.text.tube import theory_lines, tube_json, tube_text
    from gridshell.tube.assess import assess

    design = _read(options)
    if options.over_temperature:
        return _run_over_temperature(options, design)
    if options.measured is not None:
        return _run_measured(options, design)
    tube = assess(design)

    def draw(path: str) -> None:
        from gridshell.report.plots.tube import plot_tube

        plot_tube(tube, path, design.units)

    return _show(
        options, lambda: tube_json(tube),
        lambda: tube_text(tube, design.units, theory_lines(tube)), draw,
    )


def _run_over_temperature(options: argparse.Namespace, design: Any) -> int:
    from gridshell.report.text.temperature import temperature_json, temperature_text
    from gridshell.study.temperature import over_temperature

    study = over_temperature(design)

    def draw(path: str) -> None:
        from gridshell.report.plots.temperature import plot_over_temperature

        plot_over_temperature(study, path, design.units)

    return _show(
        options, lambda: temperature_json(study),
        lambda: temperature_text(study, design.units), draw,
    )


def _run_measured(options: argparse.Namespace, design: Any) -> int:
    from gridshell.tube.bend_test.measured import as_dict, measured, read_bend_test, text

    result = measured(design, read_bend_test(options.measured))

    def draw(path: str) -> None:
        from gridshell.report.plots.measured import plot_measured

        plot_measured(result, path)

    return _show(options, lambda: as_dict(result), lambda: text(result), draw)


def run_coupon(options: argparse.Namespace) -> int:
    """Bending tests of coupons -> modulus over temperature and a material file."""
    from gridshell.material.coupon.evaluate import run_coupon as evaluate
    from gridshell.report.text.coupon import coupon_text

    _check_plot(options)
    result = evaluate(options.file)
    if options.write:
        from gridshell.material.coupon.material_file import write_material_file

        write_material_file(result, options.write, name=options.name, force=options.force)
    if options.plot:
        from gridshell.report.plots.coupon import coupon_figure
        from gridshell.report.plots.style import save

        save(coupon_figure(result), options.plot)
    if options.json:
        _print_json(result.to_dict())
    else:
        print(coupon_text(result, options.units or "metric"))
    return 0


def run_size(options: argparse.Namespace) -> int:
    """Rib height, width, spacing and skin for the least mass within every limit."""
    from gridshell.report.text.size import size_json, size_text
    from gridshell.study.size.run import size_tube, write_sized

    design = _read(options)
    _check_free(options.write, options.force)
    sizing = size_tube(design, progress=_progress)
    _progress("")

    def draw(path: str) -> None:
        from gridshell.report.plots.size import plot_size

        plot_size(sizing, path, design.units)

    if options.write:
        write_sized(sizing, options.write, options.force)
    return _show(options, lambda: size_json(sizing), lambda: size_text(sizing, design.units), draw)


def run_sweep(options: argparse.Namespace) -> int:
    """Every combination of varied fields, written as one table."""
    from gridshell.study.sweep.run import sweep_designs

    design = _read(options)
    done = sweep_designs(
        design, options.vary, options.out, resume=options.resume, workers=options.workers,
        cluster=options.cluster, force=options.force, progress=_counted,
    )
    _progress("")

    def draw(path: str) -> None:
        from gridshell.report.plots.sweep import plot_sweep

        plot_sweep(options.out, path)

    return _show(
        options, lambda: {"file": str(done.output), "rows": done.rows},
        lambda: f"wrote {done.output}: {done.rows:,} rows", draw,
    )


def run_scatter(options: argparse.Namespace) -> int:
    """Tolerances and material scatter -> distribution of stiffness, margin and mass."""
    from gridshell.report.text.scatter import scatter_json, scatter_text
    from gridshell.study.scatter.run import scatter_designs

    design = _read(options)
    result = scatter_designs(
        design, draws=options.draws, workers=options.workers, progress=_counted
    )
    _progress("")

    def draw(path: str) -> None:
        from gridshell.report.plots.scatter import plot_scatter

        plot_scatter(result, path, design.units)

    return _show(
        options, lambda: scatter_json(result),
        lambda: scatter_text(result, design.units), draw,
    )


def _counted(done: int, whole: int) -> None:
    _progress(f"{done:,} of {whole:,}")


def run_mold(options: argparse.Namespace) -> int:
    """Mold halves, checked, with sheets and pour sheet."""
    from pathlib import Path

    from gridshell.mold.files.write import FORMATS

    chosen = tuple(options.formats.split(",")) if options.formats else FORMATS
    for name in chosen:
        if name not in FORMATS:
            raise InputError(f"--formats: {name!r} is not one of {', '.join(FORMATS)}")
    from gridshell.report.jobs.mold import make_molds
    from gridshell.report.text.mold import mold_json, mold_text

    design = _read(options)
    job = make_molds(
        design, options.out or Path("exports") / Path(options.file).stem, options.force, chosen,
        _progress,
    )
    _progress("")

    def draw(path: str) -> None:
        from gridshell.report.plots.mold import plot_undercut

        plot_undercut(job.checks, path)

    return _show(options, lambda: mold_json(job), lambda: mold_text(job, design.units), draw)


def run_prove(options: argparse.Namespace) -> int:
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
    from gridshell.report.text.prove import prove_json, prove_text

    if options.published or options.map:
        return _run_without_design(options)
    if options.file is None:
        raise InputError(
            "FILE: missing; give a definition file, or --published or --map, which need none"
        )
    if options.solve:
        raise InputError("--solve: solves the cells of the map; add --map and leave FILE out")
    if options.ends and not options.full:
        raise InputError("--ends: says how the one mesh of --full is held; add --full")
    asked = USUAL_LOADS if options.loads is None else read_loads(options.loads)
    whole = options.whole or (options.loads is not None and not options.full)
    ends = read_ends(options.ends) if options.ends else ENDS
    design = _read(options)
    if options.save:
        check_save(design, options.mesh, options.save)
        _check_free(options.save, options.force)
    proof = prove(
        design, options.mesh, asked if whole else (), _progress,
        asked if options.full else (), ends,
    )
    if options.save:
        save(proof, options.save, options.force)
    pictures = draw(proof, options.plot, _progress) if options.plot else []
    _progress("")
    if options.json:
        _print_json(prove_json(proof, options.save, pictures))
    else:
        print(prove_text(proof, design.units, options.save, pictures))
    return 0


def _run_without_design(options: argparse.Namespace) -> int:
    """Published tests, or the map of the formulas' error: about no design of the user's."""
    asked = "--published" if options.published else "--map"
    others = ("solve",) if options.published else ()
    for name in ("file", "save", "whole", "loads", "full", "ends", *others):
        if getattr(options, name):
            raise InputError(f"{asked}: takes no {'FILE' if name == 'file' else '--' + name}")
    _check_plot(options)
    if options.map:
        return _run_map(options)
    from gridshell.proof.published.compare import published_comparison
    from gridshell.report.text.prove import published_text

    result = published_comparison()

    def draw(path: str) -> None:
        from gridshell.report.plots.whole_tube import draw_published

        draw_published(result, path)

    return _show(options, lambda: result.to_dict(), lambda: published_text(result), draw)


def _run_map(options: argparse.Namespace) -> int:
    from pathlib import Path

    from gridshell.proof.maps.cells import difference, read, solve
    from gridshell.report.text.prove import map_json, map_text

    kept = cells = read()
    again = None
    if options.solve:
        _check_free(options.solve, options.force)
        solve(path=Path(options.solve), progress=_progress, force=options.force)
        _progress("")
        cells = read(Path(options.solve))
        again = difference(cells, kept)

    def draw(path: str) -> None:
        from gridshell.proof.maps.tubes import read as read_tubes
        from gridshell.report.plots.error_map import draw_map
        from gridshell.report.plots.tube_map import draw_tube_map

        draw_map(cells, path)
        target = Path(path)
        draw_tube_map(read_tubes(), target.with_name(f"{target.stem}-tubes{target.suffix}"))

    return _show(
        options, lambda: map_json(cells, again), lambda: map_text(cells, options.solve, again),
        draw,
    )


def run_explore(options: argparse.Namespace) -> int:
    """A local page with sliders."""
    from gridshell.explore.serve.run import run_explore as serve

    return serve(options.file, port=options.port, open_browser=not options.no_browser)


def run_chill(options: argparse.Namespace) -> int:
    """Chill the tube as the file says and follow it back: the usable window."""
    from gridshell.define.files.unit_cell_match import without_solid_cell
    from gridshell.report.text.chill import chill_text
    from gridshell.thermal.chill import chill
    from gridshell.thermal.margin import margin_function

    stated = _read(options)
    # Poisson's ratio changes on the way down and up, and a solid cell is of one.
    design = without_solid_cell(stated)
    note = "" if stated.ribs.solid_cell is None else (
        "\nnote: margins by the formula; the solid cell holds for one Poisson's ratio"
    )
    result = chill(design, margin_function(design))

    def draw(path: str) -> None:
        from gridshell.report.plots.chill import save_chill_figure

        save_chill_figure(result, path, design.units)

    return _show(
        options, lambda: result.to_dict(), lambda: chill_text(result, design.units) + note, draw
    )


def run_loads(options: argparse.Namespace) -> int:
    """Loads along the body, and the load cases that follow from them."""
    from gridshell.loads.run import cases_toml, loads
    from gridshell.report.text.loads import as_dict, text

    design = _read(options)
    result = loads(design)
    if options.plot:
        from gridshell.report.plots.loads import loads_plot

        loads_plot(result, options.plot)
    if options.cases:
        print(cases_toml(result.cases))
    elif options.json:
        _print_json(as_dict(result))
    else:
        print(text(result))
    return 0


def run_report(options: argparse.Namespace) -> int:
    """One page with the answer, pictures, checks, mold and the definition file."""
    from pathlib import Path

    from gridshell.define.files.reading import read_toml
    from gridshell.define.files.replacing import write_text
    from gridshell.report.page.page import report_page, write_pdf

    design = _read(options)
    name = Path(options.file).stem
    target = Path(options.out or f"{name}-report.html")
    for path in (target, options.pdf):
        _check_free(path, options.force)
    page = report_page(design, read_toml(options.file)[1], _progress)
    write_text(target, page, options.force)
    written = [str(target)]
    if options.pdf:
        _progress("PDF")
        write_pdf(page, options.pdf, options.force)
        written.append(str(options.pdf))
    _progress("")
    print("wrote " + ", ".join(written))
    return 0


def _check_free(path: Any, force: bool) -> None:
    """Refuse to replace a file before the work instead of after it."""
    from pathlib import Path

    if path and Path(path).exists() and not force:
        raise InputError(f"{path}: is there already; choose another name or add --force")
    if path and not Path(path).parent.is_dir():
        raise InputError(f"{path}: folder {Path(path).parent} does not exist; make it first")


def _progress(step: str) -> None:
    """Say on the error stream what is being worked on, if somebody watches."""
    if sys.stderr.isatty():
        sys.stderr.write(f"\r\x1b[K{step}")
        sys.stderr.flush()


def run_compare(options: argparse.Namespace) -> int:
    """The grid beside plain walls of equal mass, stiffness and buckling load."""
    from gridshell.report.text.compare import compare_json, compare_text
    from gridshell.study.compare import compare_walls

    design = _read(options)
    comparison = compare_walls(design)

    def draw(path: str) -> None:
        from gridshell.report.plots.compare import plot_compare

        plot_compare(comparison, path, design.units)

    return _show(
        options, lambda: compare_json(comparison),
        lambda: compare_text(comparison, design.units), draw,
    )


def build_parser() -> argparse.ArgumentParser:
    """The command line."""
    parser = argparse.ArgumentParser(
        prog="gridshell",
        description="Light tubes with a rib grid: how stiff, how heavy, what buckles them, what "
        "size to build, and the molds to cast them.",
        epilog="Every command takes a definition file (TOML); see examples/ and README.md.",
    )
    parser.add_argument("--version", action="version", version=f"gridshell {__version__}")
    commands = parser.add_subparsers(dest="command", metavar="COMMAND", required=True)

    def add(
        name: str, run: Command, summary: str, file: str = "definition file (TOML)",
        design: bool = True, needs_file: bool = True,
    ) -> argparse.ArgumentParser:
        command = commands.add_parser(name, help=summary, description=summary)
        command.set_defaults(run=run)
        command.add_argument("file", metavar="FILE", help=file, nargs=None if needs_file else "?")
        command.add_argument("--json", action="store_true", help="print JSON (SI units)")
        command.add_argument(
            "--plot", metavar="FILE.png", help="write the picture (png, pdf or svg)"
        )
        if design:
            command.add_argument(
                "--temperature", metavar="T",
                help="temperature of use, such as '-20 degC', instead of the file's",
            )
        command.add_argument(
            "--units", choices=("metric", "inch"), help="units shown, instead of the file's"
        )
        return command

    def add_solid_cell(*to: argparse.ArgumentParser) -> None:
        for command in to:
            command.add_argument(
                "--solid-cell", metavar="CELL.toml",
                help="stiffness of the solid cell that 'prove --save' wrote, instead of the "
                "formula's; the same as ribs.solid_cell in the file",
            )

    smeared = add("wall", run_wall, "smeared stiffness, mass and equivalent plain wall")
    tube = add("tube", run_tube, "whole tube: stiffness, frequencies, buckling, strength, margins")
    other = tube.add_mutually_exclusive_group()
    other.add_argument(
        "--over-temperature", action="store_true",
        help="stiffness, frequency and margins over the whole range of the material's data",
    )
    other.add_argument(
        "--measured", metavar="TEST.csv",
        help="bend test of the finished tube: actual against predicted stiffness",
    )
    compared = add(
        "compare", run_compare, "the grid beside plain walls of equal mass, EI or buckling load"
    )
    size = add("size", run_size, "rib height, width, spacing and skin for the least mass")
    size.add_argument("--write", metavar="DESIGN.toml", help="write the sized design")
    size.add_argument("--force", action="store_true", help="replace a file that is there")
    sweep = add("sweep", run_sweep, "every combination of varied fields, as a table")
    sweep.add_argument(
        "--vary", metavar="FIELD=FROM:TO:COUNT", action="append", required=True,
        help="such as ribs.height=2mm:8mm:25 or ribs.pattern=isogrid,orthogrid; repeat",
    )
    sweep.add_argument("--out", metavar="TABLE.csv", required=True, help=".csv, .parquet or .npz")
    sweep.add_argument("--resume", action="store_true", help="go on with a stopped sweep")
    sweep.add_argument("--workers", type=int, metavar="N", help="processes; default: all cores")
    sweep.add_argument("--cluster", metavar="ADDRESS", help="Dask scheduler, or 'local'")
    sweep.add_argument("--force", action="store_true", help="replace a file that is there")
    scatter = add("scatter", run_scatter, "tolerances -> distribution of stiffness, margin, mass")
    scatter.add_argument("--draws", type=int, metavar="N", help="tubes drawn, if not the file's")
    scatter.add_argument("--workers", type=int, metavar="N", help="processes; default: all cores")
    mold = add("mold", run_mold, "mold halves as STEP and STL, with checks, sheets, pour sheet")
    mold.add_argument("--out", metavar="FOLDER", help="default: exports/ and the name of FILE")
    mold.add_argument("--formats", metavar="LIST", help="of step,stl,3mf,png; default: all")
    mold.add_argument("--force", action="store_true", help="replace files that are there")
    prove = add(
        "prove", run_prove, "how far the formulas are off for this design (solid cells)",
        needs_file=False,
    )
    prove.add_argument("--mesh", choices=("coarse", "medium", "fine"), default="medium",
                       help="of the solid cell")
    prove.add_argument(
        "--save", metavar="CELL.toml",
        help="write the solid cell's stiffness, for --solid-cell of wall and tube",
    )
    prove.add_argument(
        "--whole", action="store_true",
        help="the whole tube with every rib too, all loads but bending (some minutes); with "
        "--plot FILE.png also FILE-ratios.png and the buckling mode of each load as "
        "FILE-compression.png and so on",
    )
    prove.add_argument(
        "--loads", metavar="LIST",
        help="--whole (or --full) with these loads: of compression,bending,lateral,hydrostatic,"
        "torsion (bending takes longest)",
    )
    prove.add_argument(
        "--full", action="store_true",
        help="the whole tube in one mesh, with real ends, by a second solver (Debian package "
        "calculix-ccx): half an hour and some GB for a hundred cells; with --plot also "
        "FILE-full-compression-round.png and so on",
    )
    prove.add_argument(
        "--ends", metavar="LIST", help="of --full: round (kept round, free to warp), clamped; "
        "default: both",
    )
    alone = prove.add_mutually_exclusive_group()
    alone.add_argument("--published", action="store_true",
                       help="published tests beside the formulas; needs no FILE")
    alone.add_argument(
        "--map", action="store_true",
        help="the formulas' error over rib width, height, fillet, radius and skin, from the solid "
        "cells kept with the code, and over whole tubes (FILE-tubes.png); needs no FILE",
    )
    prove.add_argument(
        "--solve", metavar="CELLS.csv",
        help="with --map: solve all those cells again (about 10 minutes) and write them here",
    )
    prove.add_argument("--force", action="store_true", help="replace a file that is there")
    explore = commands.add_parser(
        "explore", help="a local page with sliders, curves and the part in 3-D",
        description="Serves a page on this machine only, until stopped with Ctrl-C.",
    )
    explore.set_defaults(run=run_explore)
    explore.add_argument("file", metavar="FILE", help="definition file (TOML)")
    explore.add_argument("--port", type=int, default=0, metavar="N", help="default: a free one")
    explore.add_argument("--no-browser", action="store_true", help="print the address only")
    add("chill", run_chill, "chill-down, cracking, warm-up: the usable window")
    loads = add("loads", run_loads, "axial force, shear, moment along the body -> load cases")
    loads.add_argument("--cases", action="store_true", help="print the [[case]] tables only")
    report = commands.add_parser(
        "report", help="one page with answer, pictures, checks, mold and definition file",
        description="One self-contained HTML page (and PDF): nothing in it is linked.",
    )
    report.set_defaults(run=run_report, plot=None)
    report.add_argument("file", metavar="FILE", help="definition file (TOML)")
    report.add_argument("--out", metavar="PAGE.html", help="default: name of FILE + -report.html")
    report.add_argument("--pdf", metavar="REPORT.pdf", help="write a PDF for paper too")
    report.add_argument("--temperature", metavar="T", help="temperature of use")
    report.add_argument("--units", choices=("metric", "inch"), help="units shown")
    report.add_argument("--force", action="store_true", help="replace files that are there")
    add_solid_cell(smeared, tube, compared, loads, report)
    coupon = add(
        "coupon", run_coupon, "bending tests of coupons -> modulus over temperature, material file",
        file="table of readings (CSV)", design=False,
    )
    coupon.add_argument("--write", metavar="MATERIAL.toml", help="write a material file")
    coupon.add_argument("--name", help="name of that material")
    coupon.add_argument("--force", action="store_true", help="replace a file that is there")
    return parser


def main(arguments: Sequence[str] | None = None) -> int:
    """Run one command; returns its exit code (2 for input that can't be used)."""
    parser = build_parser()
    options = parser.parse_args(arguments)
    try:
        return int(options.run(options))
    except InputError as error:
        print(f"gridshell: {error}", file=sys.stderr)
        return 2
    except KeyboardInterrupt:
        print("gridshell: stopped; nothing half-written is left", file=sys.stderr)
        return 130
    except BrokenPipeError:
        # The reader of our output went away (such as `| head`); that is not an error of ours.
        sys.stderr.close()
        return 0


if __name__ == "__main__":
    sys.exit(main())
