"""What several commands do: read the design, show the result, guard files, say what goes on."""

from __future__ import annotations

import argparse
import json
import sys
from collections.abc import Callable
from pathlib import Path
from typing import TYPE_CHECKING, Any

from gridshell.define.errors import InputError

if TYPE_CHECKING:
    from gridshell.api import Answer
    from gridshell.define.tables.design import Design
    from gridshell.report.verdict import Verdict


def read_asked(options: argparse.Namespace) -> Design:
    """The design of the command line, with the temperature and solid cell it states, if any."""
    from gridshell.define.files.reading import read_design
    from gridshell.define.machine_code import tell_of_compiling
    from gridshell.define.schema import field_rules, read_value
    from gridshell.define.tables.design import Design, with_values
    from gridshell.material.resolve import material_problems

    tell_of_compiling(progress)
    check_plot(getattr(options, "plot", None))
    # A file that is written again keeps all of its tables.
    written = getattr(options, "write", None)
    design = read_design(options.file, None if written else options.uses, material_problems)
    for problem in design.left_out:
        print(f"gridshell: warning: {options.file}: {problem} ({options.command} does not use it)",
              file=sys.stderr)
    if options.temperature is not None:
        try:
            kelvin = read_value(options.temperature, field_rules(Design, "material.temperature"))
        except InputError as error:
            raise InputError(f"--temperature: {error}") from None
        design = with_values(design, {"material.temperature": kelvin})
    if options.units:
        design = with_values(design, {"units": options.units})
    if getattr(options, "solid_cell", None) is not None:
        # On the command line a path is one from here, in the file one from beside the file.
        cell = Path(options.solid_cell).resolve()
        design = with_values(design, {"ribs.solid_cell": str(cell)})
    return with_own_cell(options, design)


def with_own_cell(options: argparse.Namespace, design: Design) -> Design:
    """The design with its own unit cell solved, where the formula lies outside its map.

    Only for commands that have ``--no-cell``, and not where Poisson's ratio or dimensions change on
    the way (``--over-temperature``, ``--measured``), since a unit cell holds for one of each.
    """
    if getattr(options, "no_cell", True) or design.ribs.solid_cell is not None or any(
        getattr(options, name, None) for name in ("over_temperature", "measured")
    ) or design.ribs.formula != "fat":
        return design
    from gridshell.material.resolve import properties
    from gridshell.wall.assess import assess_wall

    known = properties(design.material, design.folder)
    if not assess_wall(design, known).unverified:
        return design
    from gridshell.proof.cell.homogenize import MissingPackage
    from gridshell.proof.cell.solved import unsolvable, with_solved_cell

    def tell(line: str) -> None:
        print(f"gridshell: {line}", file=sys.stderr, flush=True)

    if unsolvable(design) is not None:
        return design
    try:
        return with_solved_cell(design, known, tell)
    except MissingPackage as error:
        tell(f"outside the range of the formula, and {error}")
        return design


def check_plot(path: str | None) -> None:
    """Refuse a picture that can't be written before the work instead of after it."""
    if path:
        from gridshell.report.plots.style import check_picture_path

        check_picture_path(path)


def check_free(path: str | Path | None, force: bool) -> None:
    """Refuse to replace a file before the work instead of after it."""
    if path and Path(path).exists() and not force:
        raise InputError(f"{path}: is there already; choose another name or add --force")
    if path and not Path(path).parent.is_dir():
        raise InputError(f"{path}: folder {Path(path).parent} does not exist; make it first")


def show(
    options: argparse.Namespace, content: Callable[[], dict[str, Any]], text: Callable[[], str],
    draw: Callable[[str], object],
) -> int:
    """What commands without a verdict end with: the picture if one is wanted, then JSON or text.

    Args:
        options: of the command line.
        content: makes the JSON.
        text: makes the table.
        draw: makes the picture, given its path.
    """
    if options.plot:
        draw(options.plot)
    if options.json:
        print_json(content())
    else:
        print(text())
    return 0


def show_answer(options: argparse.Namespace, answer: Answer) -> int:
    """`show` for an answer with a verdict on the design, its first line; gives `exit_code`."""
    verdict = answer.verdict
    show(options, answer.to_dict, answer.text, answer.plot)
    return exit_code(options, verdict)


def exit_code(options: argparse.Namespace, verdict: Verdict) -> int:
    """1 with ``--strict`` if the verdict is anything but "holds", else 0."""
    return int(options.strict and verdict.word != "holds")


def print_json(content: Any) -> None:
    """Print JSON that any reader takes: no NaN, no infinity."""
    json.dump(content, sys.stdout, indent=1, allow_nan=False)
    sys.stdout.write("\n")


def progress(step: str) -> None:
    """Say on the error stream what is being worked on, if somebody watches; "" wipes the line."""
    if sys.stderr.isatty():
        sys.stderr.write(f"\r\x1b[K{step}")
        sys.stderr.flush()


def counted(done: int, whole: int) -> None:
    """Progress of work that is counted."""
    progress(f"{done:,} of {whole:,}")
