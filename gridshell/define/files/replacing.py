"""Write a file beside its place and rename it there, so that nobody ever sees half of it."""

from __future__ import annotations

import os
import secrets
from collections.abc import Iterator
from contextlib import contextmanager
from pathlib import Path

from gridshell.define.errors import InputError


@contextmanager
def replacing(path: str | Path, force: bool = True) -> Iterator[Path]:
    """A scratch path in the same folder that becomes ``path`` when the block ends well.

    On any error or interrupt the scratch file is removed and an old file at ``path`` stays.

    Args:
        path: where the file is wanted.
        force: False refuses to replace a file that is there.
    Raises:
        InputError: the folder is missing or can't be written, the path is a folder or a device, or
            a file is there and ``force`` is False.
    """
    target = Path(path)
    if target.is_symlink():  # written through, so that the link stays
        try:
            target = target.resolve()
        except (OSError, RuntimeError) as error:
            raise InputError(f"{path}: is a link that leads nowhere ({error})") from None
        if target.is_symlink():  # a ring of links
            raise InputError(f"{path}: is a link that leads to itself")
    if target.is_dir():
        raise InputError(f"{target}: is a directory; give a file name")
    if not target.parent.is_dir():
        raise InputError(f"{target}: folder {target.parent} does not exist; make it first")
    if target.exists() and not target.is_file():
        raise InputError(f"{target}: is not a regular file; give another name")
    if target.exists() and not force:
        raise InputError(f"{target}: is there already; choose another name or add --force")
    if not os.access(target.parent, os.W_OK):
        raise InputError(f"{target}: folder {target.parent} can't be written")
    # The suffix stays, because writers choose the format by it.
    scratch = target.with_name(f".{target.stem}.{secrets.token_hex(4)}{target.suffix}")
    try:
        yield scratch
        os.replace(scratch, target)
    except OSError as error:
        raise InputError(f"{target}: can't be written ({error.strerror or error})") from error
    finally:
        scratch.unlink(missing_ok=True)


def write_text(path: str | Path, content: str, force: bool = True) -> None:
    """Write a text file (UTF-8) whole or not at all; see `replacing`."""
    with replacing(path, force) as scratch:
        scratch.write_text(content, encoding="utf-8")
