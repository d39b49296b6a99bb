"""The built-in library: one file a material in the folder ``library``."""

from __future__ import annotations

import difflib
import functools
from collections.abc import Sequence
from pathlib import Path

from gridshell.define.errors import InputError, short
from gridshell.material.data import MaterialData, read_material_file

FOLDER = Path(__file__).parent / "library"


def material_names() -> list[str]:
    """Names of the materials in the library, sorted.

    >>> "hot-melt-eva" in material_names()
    True
    """
    return list(_names())


@functools.cache
def _names() -> tuple[str, ...]:
    return tuple(sorted(path.stem for path in FOLDER.glob("*.toml")))


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
    raise InputError(f"material.name: {short(name)} is not in the library; {_near(key, known)}")


def _near(key: str, known: Sequence[str]) -> str:
    """Which materials a name may have meant; the whole list if none is near."""
    aliases = _aliases()
    meant = [name for name in known if key and (key in name or name in key)]
    meant += [name for alias, name in aliases.items() if key and key in alias]
    if len(key) < 80:
        for match in difflib.get_close_matches(key, [*known, *aliases], n=4, cutoff=0.5):
            found = aliases.get(match, match)
            # "aluminium" means every alloy, not the one that is nearest by its letters.
            kin = found.split("-")[0]
            alike = difflib.SequenceMatcher(None, key, kin).ratio() > 0.8
            meant += [name for name in known if name.split("-")[0] == kin] if alike else [found]
    if not meant:
        return "known: " + ", ".join(known)
    return f"did you mean {' or '.join(sorted(dict.fromkeys(meant)))}?"
