"""Nested tables as a TOML file: plain values first, then the tables within."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from typing import Any

from gridshell.define.errors import InputError

Key = str | tuple[str, ...]
"""A key, or the parts of a dotted key."""


def long_list(entries: Sequence[str]) -> Any:
    """A list of texts that is written with one entry a line."""
    import tomlkit

    found = tomlkit.array()
    found.extend(entries)
    return found.multiline(True)


def _key(name: Key) -> str:
    import tomlkit

    parts = (name,) if isinstance(name, str) else name
    return ".".join(str(tomlkit.key(part).as_string()) for part in parts)


def toml_value(value: Any) -> str:
    """A value as TOML writes it.

    Args:
        value: number, text, list or mapping.
    Raises:
        InputError: TOML can't hold it.
    """
    import tomlkit

    if isinstance(value, Mapping):
        inside = tomlkit.inline_table()
        inside.update(value)
        return str(inside.as_string())
    try:
        return str(tomlkit.item(value).as_string())
    except (TypeError, ValueError):
        raise InputError(f"{type(value).__name__} can't be written in a TOML file") from None


def is_table(value: Any) -> bool:
    """Whether a value is written as a table or a repeated table of its own."""
    return isinstance(value, Mapping) or (
        isinstance(value, (list, tuple)) and bool(value)
        and all(isinstance(entry, Mapping) for entry in value))


def _add(content: Mapping[Any, Any], path: tuple[str, ...], lines: list[str]) -> None:
    for name, value in content.items():
        if not is_table(value):
            lines.append(f"{_key(name)} = {toml_value(value)}")
    for name, value in content.items():
        if not is_table(value):
            continue
        below = (*path, str(name))
        if isinstance(value, Mapping):
            lines += ["", f"[{_key(below)}]"]
            _add(value, below, lines)
        else:
            for entry in value:
                lines += ["", f"[[{_key(below)}]]"]
                _add(entry, below, lines)


def toml_text(content: Mapping[Any, Any], comment: str = "") -> str:
    """A TOML file.

    Args:
        content: key (see `Key`) -> value; a mapping is a table, a list of mappings a repeated one.
        comment: lines to put first, each behind a ``#``.
    Raises:
        InputError: a value that TOML can't hold.

    >>> print(toml_text({"skin": {"thickness": "2 mm"}, "title": "a tube"}, "invented"), end="")
    # invented
    title = "a tube"
    <BLANKLINE>
    [skin]
    thickness = "2 mm"
    """
    lines = [f"# {line}".rstrip() for line in comment.splitlines()]
    _add(content, (), lines)
    return "\n".join(lines) + "\n"
