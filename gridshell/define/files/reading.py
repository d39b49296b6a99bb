"""Read a definition file: TOML, one file a design, every problem reported at once."""

from __future__ import annotations

import dataclasses
import re
import tomllib
from pathlib import Path
from typing import Any

from gridshell.define.checks import check_design
from gridshell.define.errors import DefinitionError, Problem
from gridshell.define.files.text_file import read_text_file
from gridshell.define.schema import read_table
from gridshell.define.tables.design import Design

# A key with many dots makes the TOML parser take minutes; ours have three parts at most.
_LONG_KEY = re.compile(r"(?<![\w-])(?:[\w-]++[ \t]*\.[ \t]*){20}")
_QUOTED = re.compile(r""""[^"\n]*"|'[^'\n]*'""")
LARGEST_FILE = 1_000_000  # bytes; a definition is a page or two, anything larger is a mistake


def read_toml(path: str | Path) -> tuple[dict[str, Any], str]:
    """Parse a TOML file after checking that it is one; returns the table and its text.

    Raises:
        DefinitionError: not there, not a file, too large, not text, or not TOML.
    """
    written = read_text_file(path, "definition file (TOML)", LARGEST_FILE)

    def refuse(message: str) -> DefinitionError:
        return DefinitionError(str(path), [Problem("", message)])

    if _LONG_KEY.search(_QUOTED.sub("q", written)):
        raise refuse("has a key of more than 20 parts; give a definition file (TOML)")
    try:
        return tomllib.loads(written), written
    except tomllib.TOMLDecodeError as error:
        raise refuse(f"is not valid TOML: {' '.join(str(error).split())}") from None
    except RecursionError:
        raise refuse("is not valid TOML: nested too deeply") from None
    except ValueError as error:  # e.g. an integer with more digits than Python will convert
        raise refuse(f"is not valid TOML: {' '.join(str(error).split())[:120]}") from None


def design_from_table(
    content: dict[str, Any], source: str = "definition", folder: Path = Path(".")
) -> Design:
    """A design from the parsed content of a definition file.

    Raises:
        DefinitionError: with every problem found.
    """
    problems: list[Problem] = []
    design = read_table(Design, content, "", problems)
    if design is not None:
        design = dataclasses.replace(design, folder=folder)
        problems += check_design(design)
    if problems:
        raise DefinitionError(source, problems)
    assert isinstance(design, Design)
    return design


def read_design(path: str | Path) -> Design:
    """Read and check a definition file.

    Raises:
        DefinitionError: with every problem found, each on one line with its key path.
    """
    content, _ = read_toml(path)
    return design_from_table(content, str(path), Path(path).resolve().parent)
