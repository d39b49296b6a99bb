"""Checks between fields: each value alone may be fine and the design still impossible."""

from __future__ import annotations

from collections.abc import Callable, Mapping, Sequence
from typing import Any

import numpy as np

from gridshell.define.constants import CELL_PATTERNS, SUPPORTS
from gridshell.define.errors import DefinitionError, Problem, Problems
from gridshell.define.possible import Rule, stages, stated
from gridshell.define.schema import read_checked
from gridshell.define.tables.as_built import check_as_built
from gridshell.define.tables.body import check_body
from gridshell.define.tables.chill import check_chill
from gridshell.define.tables.cutouts import check_cutouts
from gridshell.define.tables.design import Case, Design
from gridshell.define.tables.joints import check_joints
from gridshell.define.tables.mold import check_mold, mold_of
from gridshell.define.tables.scatter import check_scatter
from gridshell.define.tables.target import check_target


def unit_cell_misplaced(design: Design) -> str | None:
    """Why a design can't take the stiffness of a solid cell at all; None if it can."""
    ribs = design.ribs
    if ribs.pattern not in CELL_PATTERNS:
        return (f"pattern {ribs.pattern!r} has no solid cell; take it out, or use one of "
                f"{', '.join(CELL_PATTERNS)}")
    if ribs.formula != "fat":
        return (f"stands beside ribs.formula {ribs.formula!r}; take one of the two out, since a "
                "solid cell replaces the formula")
    return None


# table that a file may leave out -> its contradictions within itself
OWN_CHECKS: Mapping[str, Callable[[Any], list[Problem]]] = {
    "mold": check_mold, "target": check_target, "scatter": check_scatter, "chill": check_chill,
    "body": check_body, "joints": check_joints,
}


def check_design(design: Design) -> list[Problem]:
    """Every contradiction between the fields of one (scalar) design."""
    problems = _check_geometry(design)
    problems += check_cases(design.case)
    for key, check in OWN_CHECKS.items():
        stated = getattr(design, key)
        if isinstance(stated, Mapping):  # as a Python caller may state it
            try:
                read_checked(Design.__dataclass_fields__[key].metadata["type"], stated, key, check)
            except DefinitionError as error:
                problems += error.problems
        elif stated is not None:
            problems += check(stated)
    if design.as_built is not None and not problems:
        problems += check_as_built(
            design.as_built, float(design.skin_radius), float(design.skin.thickness),
            design.tube.ends)
    if design.mold is not None and not problems:
        problems += check_cutouts(design, mold_of(design))
    return problems


def check_stated(design: Design) -> list[Problem]:
    """Fields of the tube, its material and its load cases that hold, for all designs alike, what no
    file may state.

    Args:
        design: one or many.
    """
    return _broken(stated(design))


def _broken(rules: Sequence[Rule]) -> list[Problem]:
    """Rules that are broken, but for those of arrays, whose designs get no margin."""
    return [Problem(rule.path, rule.message()) for rule in rules
            if rule.kept.ndim == 0 and not rule.kept]


def _check_geometry(design: Design) -> list[Problem]:
    """What is missing or out of place, then the rules of geometry up to the first that break."""
    problems = _check_pattern(design)
    if problems:
        return problems
    for stage in stages(design):
        problems = _broken(stage)
        if problems:
            return problems
    return problems


def check_cases(cases: tuple[Case, ...]) -> list[Problem]:
    """Contradictions within and between load cases.

    Args:
        cases: as the file states them.
    """
    problems = Problems()
    seen: set[str] = set()
    for index, case in enumerate(cases, start=1):
        if case.support == "none" and (np.any(case.transverse) or np.any(case.acceleration)):
            problems.add(
                f"case[{index}].support",
                f"missing; a transverse force or acceleration needs one of {', '.join(SUPPORTS)}")
        if case.name in seen:
            problems.add(f"case[{index}].name", f"{case.name!r} is used twice; names must differ")
        seen.add(case.name)
    return problems


def _check_pattern(design: Design) -> list[Problem]:
    """Fields that a pattern needs, and fields that it does not use."""
    ribs = design.ribs
    problems = Problems()
    if ribs.solid_cell is not None:
        why = unit_cell_misplaced(design)
        if why is not None:
            problems.add("ribs.solid_cell", why)
    if ribs.pattern == "plain":
        if ribs.family:
            problems.add("ribs.family", "a plain wall has none; set another pattern")
        return problems
    for name in ("height", "width"):
        if not getattr(ribs, name) > 0 and ribs.pattern != "families":
            problems.add(f"ribs.{name}", "missing or zero; must be above 0 m")
    needed = {
        "isogrid": ("spacing",), "orthogrid": ("spacing", "hoop_spacing"),
        "diagonal": ("spacing", "angle"), "families": (),
    }[ribs.pattern]
    problems.check_use(ribs, "ribs", f"pattern {ribs.pattern!r}",
                       ("spacing", "hoop_spacing", "angle"), needed)
    if ribs.pattern == "families":
        if not ribs.family:
            problems.add("ribs.family", "missing; write each as [[ribs.family]]")
        for index, family in enumerate(ribs.family, start=1):
            for name in ("height", "width"):
                if not (getattr(family, name) or getattr(ribs, name)):
                    problems.add(
                        f"ribs.family[{index}].{name}",
                        f"missing; give it here or as ribs.{name}")
    elif ribs.family:
        problems.add("ribs.family", "used by pattern 'families' only")
    if ribs.pattern != "isogrid" and ribs.orientation != "hoop":
        problems.add("ribs.orientation", "used by pattern 'isogrid' only")
    return problems
