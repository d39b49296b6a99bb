"""What the molds of a design fail, for the search of a size."""

from __future__ import annotations

from gridshell.define.errors import InputError
from gridshell.define.tables.design import Design
from gridshell.mold.checks.result import FAILS
from gridshell.mold.checks.run import mold_checks
from gridshell.study.size.making import Unmet


def mold_failures(design: Design) -> tuple[Unmet, ...]:
    """Checks of the molds that fail; one that says why where there can be no mold at all.

    Args:
        design: one design with a ``[mold]`` table.
    """
    try:
        found = mold_checks(design)
    except InputError as error:
        return (Unmet("mold", str(error).replace("\n", "; ")),)
    return tuple(
        Unmet(check.name, check.advice) for check in found.checks if check.verdict == FAILS
    )
