"""Read a text file that a user names, or say on one line why it can't be."""

from __future__ import annotations

import os
import stat
from pathlib import Path

from gridshell.define.errors import DefinitionError, Problem


def read_text_file(path: str | Path, kind: str, largest: int) -> str:
    """Content of a UTF-8 text file.

    Args:
        path: of the file.
        kind: what is expected, for messages, such as "definition file (TOML)".
        largest: bytes; a larger file is refused before it is read.
    Returns:
        the text, without a byte order mark.
    Raises:
        DefinitionError: not there, not a regular file, too large, or not text.
    """
    def refuse(message: str) -> DefinitionError:
        return DefinitionError(str(path), [Problem("", message)])

    try:
        status = os.stat(path)
        if stat.S_ISDIR(status.st_mode):
            raise refuse(f"is a directory, not a regular file; give a {kind}")
        if not stat.S_ISREG(status.st_mode):
            raise refuse(f"is not a regular file; give a {kind}")
        if status.st_size > largest:
            noun = kind.split(" (")[0]
            raise refuse(f"has {status.st_size:,} bytes; a {noun} has at most {largest:,}")
        data = Path(path).read_bytes()
    except OSError as error:
        raise refuse(f"can't be read ({error.strerror or error})") from None
    except DefinitionError:
        raise
    except ValueError:
        raise refuse("is not a usable file name") from None
    try:
        text = data.decode("utf-8-sig")
    except UnicodeDecodeError as error:
        raise refuse(f"is not UTF-8 text (byte {error.start}); give a {kind}") from None
    return text
