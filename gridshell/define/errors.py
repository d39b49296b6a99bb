"""Errors that a user can mend; the command line turns each into one message and exit code 2."""

from __future__ import annotations

from collections.abc import Sequence
from typing import Any, NamedTuple


class InputError(ValueError):
    """Something the user stated can't be used; the message names the field, value and remedy."""


def short(value: Any) -> str:
    """A value as a message shows it: one line, never long.

    >>> short("x" * 900)[-9:]
    "...(900)'"
    """
    shown = repr(value).replace("\n", " ")
    if len(shown) <= 60:
        return shown
    if isinstance(value, str):
        return repr(f"{value[:44]}...({len(value):,})")
    return f"{shown[:57]}..."


class Problem(NamedTuple):
    """One thing wrong in a definition file.

    Attributes:
        path: where, as a key path such as ``ribs.height`` or ``case[2].moment``.
        message: what is wrong and what would be accepted, on one line.
    """

    path: str
    message: str

    def __str__(self) -> str:
        return f"{self.path}: {self.message}" if self.path else self.message


class Problems(list[Problem]):
    """Problems as they are found."""

    def add(self, path: str, message: str) -> None:
        """One more; see `Problem`."""
        self.append(Problem(path, message))

    def check_use(
        self, stated: Any, path: str, what: str, names: Sequence[str], needed: Sequence[str]
    ) -> None:
        """Add each field that is needed and not stated, or stated and not used.

        Args:
            stated: a table.
            path: where it is stated.
            what: what needs the fields, such as "pattern 'isogrid'".
            names: of fields that only some need.
            needed: those of them that are needed here.
        """
        for name in names:
            given = getattr(stated, name) is not None
            if name in needed and not given:
                self.add(f"{path}.{name}", f"missing; {what} needs it")
            if given and name not in needed:
                self.add(f"{path}.{name}", f"{what} does not use it")


class DefinitionError(InputError):
    """All the problems of one definition file at once.

    Attributes:
        source: the name of the file, for the message.
        problems: each problem found, in the order of the file's tables.
    """

    def __init__(self, source: str, problems: Sequence[Problem]) -> None:
        self.source = source
        self.problems = tuple(problems)
        super().__init__("\n".join(f"{source}: {problem}" for problem in self.problems))

    def __reduce__(self) -> tuple[type, tuple[str, tuple[Problem, ...]]]:
        return type(self), (self.source, self.problems)  # so that it crosses process borders
