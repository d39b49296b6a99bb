"""A folder of files that appears whole or not at all."""

from __future__ import annotations

import os
import shutil
import tempfile
from collections.abc import Iterator, Sequence
from contextlib import contextmanager
from pathlib import Path

from gridshell.define.errors import InputError


@contextmanager
def output_folder(folder: Path, force: bool, planned: Sequence[str] = ()) -> Iterator[Path]:
    """Give a scratch folder beside ``folder``; its files move into place when all went well.

    An error, Ctrl-C or a full disk removes the scratch folder and leaves old files as they were.

    Args:
        folder: where the files belong; made if it is not there.
        force: replace files of the same names.
        planned: names that will be written, to refuse before the work instead of after it.

    Raises:
        InputError: files are there already, or the folder can't be made.
    """
    folder = Path(folder)
    if folder.exists() and not folder.is_dir():
        raise InputError(f"{folder}: is a file; give a folder")
    refuse_existing(folder, planned, force)
    try:
        folder.parent.mkdir(parents=True, exist_ok=True)
        scratch = Path(tempfile.mkdtemp(prefix=f".{folder.name}-", dir=folder.parent))
    except OSError as error:
        raise InputError(f"{folder}: can't be written ({error.strerror or error})") from None
    try:
        yield scratch
        written = sorted(path.name for path in scratch.iterdir())
        refuse_existing(folder, written, force)
        folder.mkdir(exist_ok=True)
        for name in written:
            os.replace(scratch / name, folder / name)
    finally:
        shutil.rmtree(scratch, ignore_errors=True)


def refuse_existing(folder: Path, names: Sequence[str], force: bool) -> None:
    """Refuse a folder that holds files of these names, unless ``force``.

    Args:
        folder: where the files belong.
        names: of the files that will be written.
        force: never refuse.

    Raises:
        InputError: it does.
    """
    there = [name for name in names if (folder / name).exists()]
    if there and not force:
        shown = ", ".join(there[:3]) + (f" and {len(there) - 3} more" if len(there) > 3 else "")
        raise InputError(f"{folder}: has {shown} already; give another folder or force it")
