"""Entry of the command line: runs one command and turns what can go wrong into one line.

Each command is a module of `gridshell.commands`.
"""

from __future__ import annotations

import contextlib
import os
import re
import signal
import sys
from collections.abc import Sequence

from gridshell.commands.table import build_parser
from gridshell.define.errors import InputError

_NEGATIVE = re.compile(r"-\.?\d")
_LONG_OPTION = re.compile(r"--[a-z-]+\Z")


def main(arguments: Sequence[str] | None = None) -> int:
    """Run one command; returns its exit code (2 for input that can't be used)."""
    _any_terminal()
    if arguments is None:
        # A polite end counts as Ctrl-C, so that `finally` blocks remove what is half-written.
        with contextlib.suppress(ValueError):  # not the main thread
            signal.signal(signal.SIGTERM, signal.default_int_handler)
    try:
        given = sys.argv[1:] if arguments is None else arguments
        options = build_parser().parse_args(_with_negatives(given))
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


def _with_negatives(arguments: Sequence[str]) -> list[str]:
    """The arguments with a value such as "-20degC" joined to its option.

    The parser takes a word that starts with a dash for an option unless it is a plain number.

    >>> _with_negatives(["tube", "a.toml", "--temperature", "-20degC"])
    ['tube', 'a.toml', '--temperature=-20degC']
    """
    found: list[str] = []
    for word in arguments:
        if _NEGATIVE.match(word) and found and _LONG_OPTION.match(found[-1]):
            found[-1] += f"={word}"
        else:
            found.append(word)
    return found


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
