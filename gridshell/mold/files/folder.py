"""A folder of files that appears whole or not at all."""

from __future__ import annotations

import os
import shutil
import signal
import tempfile
import threading
from collections.abc import Iterator, Sequence
from contextlib import contextmanager, suppress
from pathlib import Path

from gridshell.define.errors import InputError

UNFINISHED = ".unfinished-"  # what the name of a scratch folder starts with


@contextmanager
def output_folder(folder: Path, force: bool, planned: Sequence[str] = ()) -> Iterator[Path]:
    """Give a scratch folder inside ``folder``; its files move up when all went well.

    An error, Ctrl-C, a request to end (SIGTERM) or a full disk removes the scratch folder and
    leaves old files as they were. The scratch folder lies inside, not beside, so that a folder
    that is a mount point or on another disk serves as well.

    Args:
        folder: where the files belong; made if it is not there.
        force: replace files of the same names.
        planned: names that will be written, to refuse before the work instead of after it.

    Raises:
        InputError: files are there already, or the folder can't be made or written.
    """
    folder = Path(folder)
    if folder.exists() and not folder.is_dir():
        raise InputError(f"{folder}: is a file; give a folder")
    refuse_existing(folder, planned, force)
    made = [path for path in (folder, *folder.parents) if not path.exists()]
    try:
        folder.mkdir(parents=True, exist_ok=True)
        scratch = Path(tempfile.mkdtemp(prefix=UNFINISHED, dir=folder))
    except OSError as error:
        _remove_empty(made)
        raise InputError(f"{folder}: can't be written ({error.strerror or error})") from None
    done = False
    try:
        with _ended_as_interrupted():
            yield scratch
            written = sorted(path.name for path in scratch.iterdir())
            refuse_existing(folder, written, force)
            for name in written:
                os.replace(scratch / name, folder / name)
            done = True
    except OSError as error:
        raise InputError(f"{folder}: can't be written ({error.strerror or error})") from error
    finally:
        shutil.rmtree(scratch, ignore_errors=True)
        if not done:
            _remove_empty(made)


def _remove_empty(folders: Sequence[Path]) -> None:
    """Take away folders that were made for nothing, the innermost first."""
    for path in folders:
        with suppress(OSError):
            path.rmdir()


@contextmanager
def _ended_as_interrupted() -> Iterator[None]:
    """A request to end becomes an interrupt, so that what is half-written is removed."""
    usual = threading.current_thread() is threading.main_thread() and (
        signal.getsignal(signal.SIGTERM) == signal.SIG_DFL)
    if usual:
        signal.signal(signal.SIGTERM, signal.default_int_handler)
    try:
        yield
    finally:
        if usual:
            signal.signal(signal.SIGTERM, signal.SIG_DFL)


def refuse_existing(folder: Path, names: Sequence[str], force: bool) -> None:
    """Refuse a folder that holds files of these names, unless ``force``.

    Args:
        folder: where the files belong.
        names: of the files that will be written.
        force: never refuse.

    Raises:
        InputError: it does, or a folder stands in the place of a file.
    """
    folders = [name for name in names if (folder / name).is_dir()]
    if folders:  # no file can replace it, forced or not
        raise InputError(
            f"{folder}: {folders[0]} is a folder where a file is to be written; give another one")
    there = [name for name in names if os.path.lexists(folder / name)]
    if there and not force:
        shown = ", ".join(there[:3]) + (f" and {len(there) - 3} more" if len(there) > 3 else "")
        raise InputError(
            f"{folder}: has {shown} already; give another folder or add --force"
        )
