"""Write a changed design into the text of its definition file, so that the comments stay."""

from __future__ import annotations

import tomllib
from collections.abc import Mapping
from pathlib import Path
from typing import Any

from gridshell.define.files.toml import is_table
from gridshell.define.files.writing import definition_text, moved_to, stated_values
from gridshell.define.tables.design import Design


def kept_text(written: str, before: Design, after: Design, folder: Path) -> str | None:
    """The text of a definition file with the changed values in place; None if that can't be done.

    Only values that differ between the two designs are touched: order, comments and the way other
    values are written stay. What comes out is read back and compared before it is trusted.

    Args:
        written: text of the file that ``before`` was read from.
        before: that design.
        after: what the text shall state.
        folder: where the new file will stand.
    """
    import tomlkit
    from tomlkit.exceptions import TOMLKitError

    after = moved_to(after, folder)
    old, new = stated_values(before), stated_values(after)
    try:
        document = tomlkit.parse(written)
        _change(document, old, new)
        text = tomlkit.dumps(document)
        content = tomllib.loads(text)
    except (TOMLKitError, tomllib.TOMLDecodeError, KeyError, IndexError, TypeError, ValueError):
        return None
    return text if _states(content, after, folder) else None


def _states(content: dict[str, Any], design: Design, folder: Path) -> bool:
    """Whether a parsed file states just what the file of this design would."""
    from gridshell.define.errors import DefinitionError
    from gridshell.define.files.reading import design_from_table

    try:
        read = design_from_table(content, folder=folder)
        wanted = design_from_table(tomllib.loads(definition_text(design)), folder=folder)
    except DefinitionError:
        return False
    return definition_text(read) == definition_text(wanted)


def _change(place: Any, old: Mapping[str, Any], new: Mapping[str, Any]) -> None:
    """Put what differs into a table of the document.

    A value at its default may stand in the file though ``old`` leaves it out; it goes when the new
    value is the default, and is replaced otherwise.
    """
    import tomlkit

    for key in [key for key in old if key not in new]:
        if key in place:
            del place[key]
    for key, value in new.items():
        if key in old and old[key] == value:
            continue
        was = old.get(key)
        if isinstance(value, Mapping) and isinstance(place.get(key), Mapping):
            _change(place[key], was if isinstance(was, Mapping) else {}, value)
        elif is_table(value) and not isinstance(value, Mapping) and key in place:
            _change_each(place[key], was or [], value)
        elif key in place and not is_table(value):
            item = tomlkit.item(value)
            item.trivia.comment_ws = place[key].trivia.comment_ws
            item.trivia.comment = place[key].trivia.comment
            place[key] = item
        else:
            place[key] = value


def _change_each(place: Any, old: list[Any], new: list[Any]) -> None:
    """The entries of a repeated table, matched by name where they have one."""
    import tomlkit

    names = [entry.get("name") for entry in new]
    for index in reversed(range(len(old))):
        if old[index].get("name") not in names and len(new) < len(old):
            del place[index]
            old = [*old[:index], *old[index + 1:]]
    for index, entry in enumerate(new):
        if index < len(old):
            _change(place[index], old[index], entry)
            continue
        added = tomlkit.table()
        added.update(entry)
        place.append(added)
