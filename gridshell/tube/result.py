"""What an assessment returns: an allowable never travels without its mode, knockdown and notes."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Any

import numpy as np

from gridshell.define.tables.design import Design
from gridshell.define.types import Quantity
from gridshell.tube.section.beam_column import BeamAnswer
from gridshell.tube.section.lands import tube_stiffness
from gridshell.tube.section.stiffness import BeamStiffness
from gridshell.tube.section.vibration import VibratingTube
from gridshell.wall.assess import Wall


@dataclass(frozen=True)
class Check:
    """One check of one load case; numbers broadcast over designs.

    Attributes:
        name: what fails.
        kind: of quantity (a key of `gridshell.define.units.KINDS`).
        allowable: load or stress at which it fails, knockdown included.
        applied: the unfactored load or stress.
        knockdown: factor in the allowable.
        source: of the knockdown, or of the formula.
        margin: allowable/(applied x factor) - 1; infinite where nothing is applied.
        notes: limits of the formula that this design is outside of, and the mode.
        subject: stability, strength, joint, or unknown: what no formula here covers.
    """

    name: str
    kind: str
    allowable: Quantity
    applied: Quantity
    knockdown: Quantity
    source: str
    margin: Quantity
    notes: tuple[str, ...] = ()
    subject: str = "stability"


NO_LOAD = "no load"  # stands for a check where nothing is loaded


@dataclass(frozen=True)
class CaseResult:
    """All checks of one load case.

    Attributes:
        name: of the case.
        checks: for one design the governing check first; for arrays in fixed order.
        compression: axial force stated, N.
        moment: bending moment used, with that of the transverse loads and its growth under the
            axial load, N m.
        shear: shear force used, likewise, N.
        beam: deflection, or None without a support.
        support: how the tube is held; none is taken as pinned at both ends.
        growth: bending moment over that without axial load, at the loads times the factor.
        notes: on the case as a whole.
    """

    name: str
    checks: tuple[Check, ...]
    compression: Quantity
    moment: Quantity
    shear: Quantity
    beam: BeamAnswer | None
    support: str = "none"
    growth: Quantity = 1.0
    notes: tuple[str, ...] = ()

    @property
    def margin(self) -> Quantity:
        """Lowest margin; NaN, which is no pass, where any check is not known."""
        lowest: Quantity = np.inf
        for check in self.checks:
            lowest = np.minimum(lowest, check.margin)
        return lowest

    @property
    def governing(self) -> Any:
        """Name of the check with the lowest margin (an array of names for arrays).

        A check that is not known comes before all others; "no load" is a case without any load.
        """
        names, places = self.governing_places
        found = np.array(names)[places]
        return str(found) if found.ndim == 0 else found

    @property
    def governing_places(self) -> tuple[tuple[str, ...], Any]:
        """Names that `governing` may be, and the place of each design's among them."""
        names = (*(check.name for check in self.checks), NO_LOAD)
        if not self.checks:
            return names, np.asarray(0)
        margins = np.stack(np.broadcast_arrays(*(check.margin for check in self.checks)))
        margins = np.where(np.isnan(margins), -np.inf, margins)
        none = np.isposinf(np.min(margins, axis=0))
        return names, np.where(none, len(self.checks), np.argmin(margins, axis=0))


@dataclass(frozen=True)
class BucklingLoads:
    """Loads of perfect theory for general instability; None where no case needs them.

    Attributes:
        compression: per length of circumference, N/m.
        lateral: pressure on the wall alone, Pa.
        hydrostatic: pressure on wall and ends, Pa.
        torsion: shear flow, N/m.
    """

    compression: Any = None
    lateral: Any = None
    hydrostatic: Any = None
    torsion: Any = None


@dataclass(frozen=True)
class TubeResult:
    """The whole tube, one design or many.

    Attributes:
        design: what was assessed.
        wall: its smeared wall.
        mass: with lands, kg.
        stiffness: as a beam.
        vibrating: what its bending frequencies follow from.
        buckling: loads of perfect theory.
        cases: each load case.
        notes: limits that concern the whole design.
        unchecked: what could not be checked, and what to state so that it can.
    """

    design: Design
    wall: Wall
    mass: Quantity
    stiffness: BeamStiffness
    vibrating: VibratingTube
    buckling: BucklingLoads
    cases: tuple[CaseResult, ...]
    notes: tuple[str, ...]
    unchecked: tuple[str, ...] = ()

    @property
    def frequencies(self) -> dict[str, Quantity]:
        """First bending frequency by support, Hz."""
        return self.vibrating.frequencies

    @property
    def line_mass(self) -> Quantity:
        """Mass per length, kg/m."""
        return self.mass / self.design.tube.length

    @property
    def formula_stiffness(self) -> BeamStiffness:
        """Stiffness by the formula alone: the same unless a solid cell gives the wall's."""
        return tube_stiffness(self.wall, formula=True)

    @property
    def margin(self) -> Quantity:
        """Lowest margin of all cases; NaN, which is no pass, where any is not known."""
        lowest: Quantity = np.inf
        for case in self.cases:
            lowest = np.minimum(lowest, case.margin)
        return lowest


_LARGEST = 1e300  # of a margin: less would overflow, more is no number any more


def margin_of(allowable: Quantity, applied: Quantity, factor: Quantity) -> Quantity:
    """allowable/(applied x factor) - 1; infinite where nothing is applied.

    Args:
        allowable: with knockdown.
        applied: unfactored, in the same unit.
        factor: design factor.
    """
    demand = np.asarray(applied * factor, float)
    with np.errstate(divide="ignore", invalid="ignore", over="ignore"):
        # However little is applied, it is a load: its margin is a number.
        ratio = np.where(np.isposinf(allowable), np.inf, np.minimum(allowable / demand, _LARGEST))
        return np.where(demand <= 0, np.inf, ratio - 1)


def notes_where(*pairs: tuple[Any, str]) -> tuple[str, ...]:
    """The texts whose condition holds; for arrays, holds for any of the designs.

    A design among many is looked at again alone before anything is made of it, so arrays say
    only that some are outside.

    Args:
        pairs: condition, text.
    """
    found = []
    for condition, text in pairs:
        holds = np.asarray(condition)
        if holds.ndim == 0 and bool(holds):
            found.append(text)
        elif holds.ndim and bool(np.any(holds)):
            found.append(f"some designs: {text}")
    return tuple(found)
