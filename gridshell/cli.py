"""Entry of the command line: runs one command and turns what can go wrong into one line.

Each command is a module of `gridshell.commands`.
"""

from __future__ import annotations

import contextlib
import os
import sys
from collections.abc import Sequence

from gridshell.commands.table import build_parser
from gridshell.define.errors import InputError


def main(arguments: Sequence[str] | None = None) -> int:
    """Run one command; returns its exit code (2 for input that can't be used)."""
    _any_terminal()
    try:
        options = build_parser().parse_args(arguments)
        if sys.stdout is None:
            return _say("standard output is closed: nothing can be shown; give it a file or pipe")
        code = int(options.run(options))
        sys.stdout.flush()  # a full disk or a closed pipe is found here, not while Python ends
        return code
    except InputError as error:
        return _say(str(error))
    except KeyboardInterrupt:
        return _say("stopped; nothing half-written is left", 130)
    except BrokenPipeError:
        # The reader of our output went away (such as `| head`); that is not an error of ours.
        _drop_output()
        return 0
    except MemoryError:
        return _say("not enough memory; ask for less at once")
    except OSError as error:
        _drop_output()
        where = f"{error.filename}: " if error.filename else "output: "
        return _say(f"{where}can't be read or written ({error.strerror or error})")


def _say(line: str, code: int = 2) -> int:
    """One line on the error stream, if there is one; returns the exit code."""
    with contextlib.suppress(OSError, AttributeError):
        print(f"gridshell: {line}", file=sys.stderr)
    return code


def _any_terminal() -> None:
    """A terminal that lacks a letter of a title shows a mark in its place, not a traceback."""
    for stream in (sys.stdout, sys.stderr):
        with contextlib.suppress(AttributeError, ValueError):
            stream.reconfigure(errors="backslashreplace")  # type: ignore[union-attr]


def _drop_output() -> None:
    """Point standard output nowhere, so that Python does not fail on what is still buffered."""
    with contextlib.suppress(OSError, AttributeError, ValueError):
        os.dup2(os.open(os.devnull, os.O_WRONLY), sys.stdout.fileno())


if __name__ == "__main__":
    sys.exit(main())
