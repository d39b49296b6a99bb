"""Read a definition file: TOML, one file a design, every problem reported at once."""

from __future__ import annotations

import dataclasses
import re
import tomllib
from collections.abc import Callable, Collection, Mapping
from pathlib import Path
from typing import Any

from gridshell.define.checks import OWN_CHECKS, check_design
from gridshell.define.errors import DefinitionError, Problem, Problems
from gridshell.define.files.text_file import read_text_file
from gridshell.define.further import further_problems, head
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
    content: dict[str, Any], source: str = "definition", folder: Path = Path("."),
    uses: Collection[str] | None = None,
    also: Callable[[Mapping[str, Any], Path], list[Problem]] | None = None,
) -> Design:
    """A design from the parsed content of a definition file.

    Args:
        content: the parsed file.
        source: named in messages.
        folder: that files it names are relative to.
        uses: tables that may be left out of a file and that the caller works from; another one
            that can't be used is left out (`Design.left_out` says why). None: all of them.
        also: finds more problems in the parsed content and its folder, such as
            `gridshell.material.resolve.material_problems`; they are said together with all others.
    Raises:
        DefinitionError: with every problem found.
    """
    problems = Problems()
    design = read_table(Design, content, "", problems)
    if design is None:
        problems += further_problems(content, problems)
    else:
        design = dataclasses.replace(design, folder=folder)
        problems += check_design(design)
    if also is not None:
        problems += also(content, folder)
    if not problems:
        assert isinstance(design, Design)
        return design
    spare = set(OWN_CHECKS) - set(OWN_CHECKS if uses is None else uses)
    if any(head(problem.path) not in spare for problem in problems):
        raise DefinitionError(source, problems)
    bad = {head(problem.path) for problem in problems}
    kept = {key: value for key, value in content.items() if key not in bad}
    return dataclasses.replace(
        design_from_table(kept, source, folder), left_out=tuple(problems))


def read_design(
    path: str | Path, uses: Collection[str] | None = None,
    also: Callable[[Mapping[str, Any], Path], list[Problem]] | None = None,
) -> Design:
    """Read and check a definition file.

    Args:
        path: of the file.
        uses: see `design_from_table`.
        also: see `design_from_table`.
    Raises:
        DefinitionError: with every problem found, each on one line with its key path.
    """
    content, _ = read_toml(path)
    return design_from_table(content, str(path), Path(path).resolve().parent, uses, also)
