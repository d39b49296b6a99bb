"""The built-in library: one file a material in the folder ``library``."""

from __future__ import annotations

import functools
from pathlib import Path

from gridshell.define.errors import InputError
from gridshell.define.schema import nearest, short
from gridshell.material.data import MaterialData, read_material_file

FOLDER = Path(__file__).parent / "library"


def material_names() -> list[str]:
    """Names of the materials in the library, sorted.

    >>> "hot-melt-eva" in material_names()
    True
    """
    return sorted(path.stem for path in FOLDER.glob("*.toml"))


@functools.lru_cache(maxsize=64)
def _read(name: str) -> MaterialData:
    return read_material_file(FOLDER / f"{name}.toml")


@functools.lru_cache(maxsize=1)
def _aliases() -> dict[str, str]:
    return {alias: name for name in material_names() for alias in _read(name).aliases}


def load_material(name: str) -> MaterialData:
    """A material of the library by its name or one of its other names, in any case.

    Raises:
        InputError: no such material; the message names the nearest.

    >>> load_material("6061-T6").name
    'aluminum-6061-t6'
    """
    key = name.strip().lower().replace(" ", "-").replace("_", "-")
    known = material_names()
    if key in known:  # also keeps path separators out of the file name
        return _read(key)
    aliases = _aliases()
    if key in aliases:
        return _read(aliases[key])
    raise InputError(
        f"material.name: {short(name)} is not in the library; "
        f"{nearest(key, [*known, *aliases]) if len(key) < 80 else 'known: ' + ', '.join(known)}"
    )
