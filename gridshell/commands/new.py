"""`gridshell new`: a definition file to start from."""

from __future__ import annotations

import argparse
from pathlib import Path

from gridshell.commands.command import Command
from gridshell.commands.common import check_free
from gridshell.define.constants import DIRECT_PROCESSES, PATTERNS, PROCESSES
from gridshell.define.errors import InputError


def run(options: argparse.Namespace) -> int:
    """Write a commented definition file that every command takes as it is."""
    from gridshell.define.files.replacing import write_text
    from gridshell.define.starting import SPARE, USUAL

    target = Path(options.file)
    if target.suffix.lower() != ".toml":
        raise InputError(f"{target}: a definition file ends in .toml")
    check_free(target, options.force)
    chosen = USUAL
    if options.tables is not None:
        named = [name.strip() for name in options.tables.split(",") if name.strip()]
        chosen = SPARE if named == ["all"] else tuple(named)
        for name in chosen:
            if name not in SPARE:
                raise InputError(
                    f"--tables: {name[:60]!r} is not one of: {', '.join(SPARE)}, all")
    text = starting_text(options.pattern, options.material, options.process, chosen,
                         options.units or "metric")
    write_text(target, text, options.force)
    print(f"wrote {target}; next: change it, then gridshell tube {target}")
    return 0


def starting_text(
    pattern: str, material: str | None, process: str | None, tables: tuple[str, ...], system: str
) -> str:
    """The commented definition file of a choice.

    Args:
        pattern: rib pattern.
        material: library material; None: one that suits the process.
        process: of [mold]; None: one that suits the material.
        tables: names of `gridshell.define.starting.SPARE`.
        system: metric or inch.
    Raises:
        InputError: unknown material, or one that can't be made that way.
    """
    import tomllib

    from gridshell.define.files.commented import commented_text
    from gridshell.define.files.reading import design_from_table
    from gridshell.define.starting import ALWAYS, SPARE, starting_content
    from gridshell.define.tables.mold import Mold
    from gridshell.material.catalog import load_material
    from gridshell.material.resolve import properties
    from gridshell.mold.checks.castable import cast_refusal, is_metal

    if material is None:
        material = {"machine-part": "aluminum-6061-t6", "print-part": "petg"}.get(
            process or "", "epoxy-casting")
    name = load_material(material).name
    design = design_from_table(starting_content("plain", name, "print", (), system))
    part = properties(design.material)
    refusal = cast_refusal(Mold(), part)
    if process is None:
        process = "print" if refusal is None else "machine-part" if is_metal(part) else "print-part"
    elif process not in DIRECT_PROCESSES:
        refusal = cast_refusal(Mold(process=process), part)
        if refusal is not None:
            raise InputError(f"--process: {refusal.partition(': ')[2]}")
    left = [one for one in SPARE if one not in tables]
    comment = (
        "A definition for gridshell, invented: change what differs. Every key is here; one behind\n"
        "a # has the value shown, or none at all if it has no default.")
    if left:
        comment += (f"\nMore tables may follow: {', '.join(f'[{one}]' for one in left)}; "
                    "see 'gridshell fields TABLE'.")
    content = starting_content(pattern, name, process, tables, system)
    text = commented_text(
        content, [*ALWAYS, *(one for one in SPARE if one in tables)], comment, system)
    design_from_table(tomllib.loads(text))
    return text


def _options(parser: argparse.ArgumentParser) -> None:
    parser.add_argument("--pattern", choices=PATTERNS, default="isogrid", help="of the ribs")
    parser.add_argument("--material", metavar="NAME",
                        help="of the library (see 'gridshell materials'); default: one that suits "
                        "the process")
    parser.add_argument("--process", choices=PROCESSES,
                        help="how it is made; default: print a mold where the material is cast, "
                        "else print-part or machine-part")
    parser.add_argument("--tables", metavar="LIST",
                        help="of case,mold,joints,body,chill,target,scatter,as_built, or all; "
                        "default: case,mold")
    parser.add_argument("--units", choices=("metric", "inch"), help="of the file")


COMMAND = Command(
    "new", "a commented definition file to start from", run, _options, ("force",),
    "Writes a definition file with every key, its meaning, unit, default and bounds.",
    "definition file (TOML) to write",
)
