"""Every check of a mold in one list: undercut, peel, making, heat, grip, filling, masses."""

from __future__ import annotations

import dataclasses
from collections.abc import Sequence
from dataclasses import dataclass
from typing import Any

import numpy as np

from gridshell.define.constants import ROOM_TEMPERATURE
from gridshell.define.errors import InputError
from gridshell.define.files.unit_cell_match import without_unit_cell
from gridshell.define.tables.design import Design
from gridshell.define.tables.mold import Mold, mold_of
from gridshell.material.properties import Properties
from gridshell.mold.checks.bed import bed_checks
from gridshell.mold.checks.castable import cast_refusal, known_material, refused
from gridshell.mold.checks.direct import machine_checks, print_checks, require_possible
from gridshell.mold.checks.filling.fill import fill_checks
from gridshell.mold.checks.filling.gate import completed, gate_checks, pour_temperature
from gridshell.mold.checks.filling.volume import Batch, mass_checks
from gridshell.mold.checks.heat.cooling import (
    HOT,
    CoolingPlan,
    cooling_checks,
    cooling_plan,
    mold_properties,
)
from gridshell.mold.checks.heat.transfer import Lining
from gridshell.mold.checks.release.ends import end_checks
from gridshell.mold.checks.release.grip import Backing, grip_checks, held_shrinkage
from gridshell.mold.checks.release.peel import peel_checks
from gridshell.mold.checks.release.slides import slide_check
from gridshell.mold.checks.release.undercut import Undercut, undercut, undercut_checks
from gridshell.mold.checks.result import CAUTION, FAILS, OK, MoldCheck, worst
from gridshell.mold.checks.tool import making_checks
from gridshell.mold.pieces.features.cutouts import cast_segments
from gridshell.mold.relief.families import castable_ribs, pocket_kinds
from gridshell.mold.relief.ribbing import Ribbing, ribbing
from gridshell.tube.assess import assess_tube
from gridshell.wall.assess import Wall, assess_wall
from gridshell.wall.geometry.lattice import lattice

BURNS = 323.15  # K; skin burns in less than a minute above about 55 degC (from memory)
RUBBER_NAME = "silicone-mold"  # of the library: what an insert of mold.core = "rubber" is of


@dataclass(frozen=True)
class Poured:
    """What is found of a part that is cast, for pictures and the pour sheet.

    Attributes:
        undercut: of a plain cast segment.
        cooling: None for a resin that cures.
        warm: material of the part at release.
        shell: material of the mold.
        start: temperature when poured, K.
        release: temperature when taken out, K.
        shrinkage: linear, None when not known.
    """

    undercut: Undercut
    cooling: CoolingPlan | None
    warm: Properties
    shell: Properties
    start: float
    release: float
    shrinkage: float | None

    @property
    def hot(self) -> bool:
        """Whether what is poured burns, whatever the mold's temperature and the data known."""
        return self.start > BURNS


@dataclass(frozen=True)
class MoldChecks:
    """All checks of one design's molds, or of the part made without one.

    Attributes:
        design: as stated.
        mold: as stated.
        checks: in the order of the work.
        part: material at room temperature.
        poured: what is found of casting it; None where nothing is poured.
    """

    design: Design
    mold: Mold
    checks: tuple[MoldCheck, ...]
    part: Properties
    poured: Poured | None = None

    @property
    def pouring(self) -> Poured:
        """What is found of casting it.

        Raises:
            InputError: nothing is poured.
        """
        if self.poured is None:
            raise InputError("mold.process: nothing is poured for this design")
        return self.poured

    @property
    def verdict(self) -> str:
        """The worst verdict of all."""
        return worst(self.checks)

    def find(self, name: str) -> MoldCheck:
        """The check of a name.

        Args:
            name: of the check.

        Raises:
            KeyError: there is none.
        """
        for check in self.checks:
            if check.name == name:
                return check
        raise KeyError(name)

    def as_list(self) -> list[dict[str, Any]]:
        """For JSON; see `MoldCheck.as_dict`."""
        return [check.as_dict() for check in self.checks]


def batches_of(design: Design, mold: Mold) -> tuple[Batch, ...]:
    """The castings of the whole tube by what is cut out of them, without solids."""
    design = castable_ribs(design)
    grid = lattice(design)
    return tuple(
        Batch(ribbing(design, grid, group.cutouts), len(group.places))
        for group in cast_segments(design, grid, mold.cutout, pocket_kinds(design, grid)))


def mold_checks(
    design: Design, mold: Mold | None = None, volumes: Sequence[float] | None = None,
    advise: bool = True,
) -> MoldChecks:
    """Check the molds of one design.

    Args:
        design: one design (no arrays).
        mold: default that of the design.
        volumes: of the solid of one casting of each batch, m3, at the part's own size, in the
            order of `batches_of`; None when no solids were built.
        advise: False leaves out advice that takes long to find.

    Raises:
        InputError: an unknown material, or ribs that no mold can be made of.
    """
    design = castable_ribs(design)
    mold = mold_of(design) if mold is None else mold
    part = known_material(design, ROOM_TEMPERATURE)
    refusal = None if mold.direct else cast_refusal(mold, part)
    if refusal is not None:
        return MoldChecks(design, mold, (refused(refusal),), part)
    grid = lattice(design)
    batches = batches_of(design, mold)
    if volumes is not None:
        batches = tuple(Batch(batch.ribs, batch.count, float(volume))
                        for batch, volume in zip(batches, volumes, strict=True))
    if mold.direct:
        return _direct_checks(design, mold, part, batches)
    mold = completed(design, mold)
    casting = mold.casting
    shell = mold_properties(str(casting.mold_material))
    start = pour_temperature(mold, part)
    release = float(_first(casting.peel_temperature, part.peel_temperature, ROOM_TEMPERATURE))
    warm = known_material(design, release)
    smeared = without_unit_cell(design)  # it may be of another Poisson's ratio than when warm
    bent = assess_wall(smeared, warm)
    plain = batches[0].ribs
    found = undercut(design, grid, plain)
    shrinkage = _first(mold.shrinkage, part.shrinkage)
    shrinkage = None if shrinkage is None else float(shrinkage)
    scale = 1 / (1 - (shrinkage or 0.0))
    plan = None
    backing = _backing(design, mold)
    if start > casting.mold_temperature + HOT:
        plan = _plan(mold, bent, warm, shell, start, release, backing)
    held = held_shrinkage(mold, part, release, plan is not None)
    gates = gate_checks(
        design, grid, mold, part=part, shell=shell, start=start, advise=advise)
    checks = (
        *_leaving(design, mold, plain, found, bent, warm, shell, advise),
        *end_checks(design, mold, scale),
        *making_checks(design, grid, mold, plain, found, scale),
        *bed_checks(design, mold, [batch.ribs for batch in batches], scale),
        *cooling_checks(plan, part, shell, start),
        *grip_checks(design, bent, warm, held, casting, backing),
        *fill_checks(design, grid, mold, part=part, shell=shell, start=start,
                     flanks=found.flanks, gates=gates, advise=advise),
        *gates,
        *mass_checks(design, assess_wall(smeared, part), mold, part, batches),
    )
    return MoldChecks(
        design, mold, checks, part,
        Poured(
            found, plan, warm=warm, shell=shell, start=start, release=release, shrinkage=shrinkage,
        ),
    )


def _backing(design: Design, mold: Mold) -> Backing | None:
    """The rubber that the ribs sit in; None where their grooves are rigid."""
    if mold.core != "rubber" or not design.has_ribs:
        return None
    return Backing(
        mold_properties(RUBBER_NAME), mold.rubber_wall(float(np.max(design.ribs.height))))


def _leaving(
    design: Design, mold: Mold, ribs: Ribbing, found: Undercut, bent: Wall, warm: Properties,
    shell: Properties, advise: bool,
) -> tuple[MoldCheck, ...]:
    """Whether the part leaves what forms its ribs: a rigid half, sliding pieces, or rubber."""
    if mold.core == "sliding" and design.has_ribs:
        return (slide_check(design, bent.grid, mold, ribs, found.flanks),)
    carrier = mold_properties(RUBBER_NAME) if mold.core == "rubber" else shell
    peeling = peel_checks(design, found, bent, warm, carrier, mold.casting)
    peels = bool(peeling) and worst(peeling) in (OK, CAUTION)
    return (*undercut_checks(design, bent.grid, found, peels, advise), *peeling)


def measured(found: MoldChecks, volumes: Sequence[float] | None) -> MoldChecks:
    """The checks with masses of the solids that were built; the others do not depend on them.

    Args:
        found: checks without solids.
        volumes: as of `mold_checks`; None: nothing to change.
    """
    if volumes is None or len(found.checks) < 2:
        return found
    design, mold = found.design, found.mold
    batches = tuple(
        Batch(batch.ribs, batch.count, float(volume))
        for batch, volume in zip(batches_of(design, mold), volumes, strict=True))
    masses = {check.name: check for check in mass_checks(
        design, assess_wall(without_unit_cell(design), found.part), mold, found.part, batches)}
    return dataclasses.replace(
        found, checks=tuple(masses.get(check.name, check) for check in found.checks))


def locked_in(found: MoldChecks) -> str | None:
    """Why no part leaves a mold, with the fields that cure it; None where it does.

    Args:
        found: the checks of the mold.
    """
    design, mold = found.design, found.mold
    if mold.direct:
        return None
    failing = next((check for check in found.checks if check.verdict == FAILS and check.name in (
        "undercut of the ribs", "strain of a rubber mold coming off")), None)
    if failing is None:
        return None
    rubber = "" if mold.core == "rubber" else "mold.core = 'rubber' for an insert that peels off, "
    sliding = "'sliding' for a core in pieces that each pull straight, " if (
        mold.core == "rigid" and design.ribs.side == "inside") else ""
    enough = failing.details.get("segments_that_release")
    more = f"tube.segments = {enough}, " if enough else ""
    return (
        f"mold.core: {mold.core!r}: {failing.advice}. State {rubber}{sliding}{more}more ribs.draft "
        "or a lower ribs.height"
    )


def _direct_checks(
    design: Design, mold: Mold, part: Properties, batches: Sequence[Batch]
) -> MoldChecks:
    """Checks of a part that is made without a mold."""
    require_possible(design, mold)
    grid, plain = lattice(design), batches[0].ribs
    masses = mass_checks(
        design, assess_wall(without_unit_cell(design), part), mold, part, batches)
    made = machine_checks(design, grid, mold, plain) if mold.process == "machine-part" else (
        print_checks(design, mold, plain, _strength_margin(design)))
    kept = tuple(check for check in masses if check.name != "pour for one casting")
    return MoldChecks(design, mold, (*made, *kept), part)


def _strength_margin(design: Design) -> float | None:
    """Least margin of the strength checks of all load cases."""
    margins = [
        float(np.min(check.margin)) for case in assess_tube(design).cases
        for check in case.checks if check.name.startswith("strength of")
    ]
    return min(margins, default=None)


def _first(*values: Any) -> Any:
    """The first value that is known."""
    return next((value for value in values if value is not None), None)


def _plan(
    mold: Mold, bent: Wall, warm: Properties, shell: Properties, start: float, release: float,
    backing: Backing | None,
) -> CoolingPlan | None:
    design = bent.design
    if warm.conductivity is None or warm.heat_capacity is None:
        return None
    skin = float(design.skin.thickness)
    places = [("skin", skin)]
    pitch = 5 * skin
    if bent.sections:
        places.append(("rib", float(np.max([s.mean_width for s in bent.sections]))))
        pitch = float(np.min([line.pitch for line in bent.grid.families]))
    if bent.sections and (bent.grid.seam_land > 0 or bent.grid.end_land > 0):
        places.append(("land", float(bent.depth)))
    mean = float(bent.tube_volume) / (
        2 * np.pi * float(bent.grid.radius) * float(design.tube.length))
    # The cavity is a wall, the core solid: area of its half disk over the arc is half its radius.
    core = float(design.tube.outside_diameter) / 2 - float(bent.depth)
    depth = (float(mold.wall) + core / 2) / 2
    lining = None
    if backing is not None:
        # The mold is then the smooth half alone.
        depth = float(mold.wall) if design.ribs.side == "inside" else core / 2
        lining = Lining(backing.properties, backing.thickness,
                        np.array([name == "rib" for name, _ in places]))
    return cooling_plan(
        places, warm, shell, mold.casting, mean_thickness=mean, pitch=pitch, mold_wall=depth,
        start=start, release=release, lining=lining,
    )
