"""Entry of the command line: runs one command and turns what can go wrong into one line.

Each command is a module of `gridshell.commands`.
"""

from __future__ import annotations

import sys
from collections.abc import Sequence

from gridshell.commands.table import build_parser
from gridshell.define.errors import InputError


def main(arguments: Sequence[str] | None = None) -> int:
    """Run one command; returns its exit code (2 for input that can't be used)."""
    parser = build_parser()
    options = parser.parse_args(arguments)
    try:
        return int(options.run(options))
    except InputError as error:
        print(f"gridshell: {error}", file=sys.stderr)
        return 2
    except KeyboardInterrupt:
        print("gridshell: stopped; nothing half-written is left", file=sys.stderr)
        return 130
    except BrokenPipeError:
        # The reader of our output went away (such as `| head`); that is not an error of ours.
        sys.stderr.close()
        return 0


if __name__ == "__main__":
    sys.exit(main())
