"""One verdict on a design: the worst of everything that is known about it.

Every command, the report and the page show it first, so that a "holds" never stands above something
that fails.
"""

from __future__ import annotations

import math
from collections.abc import Iterable
from dataclasses import dataclass
from typing import TYPE_CHECKING, Any

import numpy as np

from gridshell.define.errors import InputError
from gridshell.material.creep import NO_CURVE, NO_DATA, SHORT, TOO_LONG
from gridshell.material.resolve import SOFTENS, TOO_COLD, TOO_HOT
from gridshell.report.numbers import margin, shown
from gridshell.thermal.result import CRACKING
from gridshell.tube.as_built.own import own_knockdowns
from gridshell.tube.as_built.tolerance import is_expected
from gridshell.tube.buckling.general import BOWS, DEEP, FEW_RIBS, ROUGH, UNBALANCED
from gridshell.tube.buckling.knockdown import knockdowns
from gridshell.tube.result import TubeResult

if TYPE_CHECKING:
    from gridshell.define.tables.design import Design
    from gridshell.loads.run import LoadsResult
    from gridshell.mold.checks.run import MoldChecks
    from gridshell.study.scatter.run import ScatterResult
    from gridshell.study.size.run import SizeResult
    from gridshell.study.temperature import OverTemperature
    from gridshell.thermal.result import ChillResult
    from gridshell.tube.as_built.own import AsBuiltTube
    from gridshell.tube.as_built.tolerance import Expected
    from gridshell.tube.bend_test.measured import MeasuredResult

FAILS, NOT_CHECKED, CAUTION, HOLDS = "fails", "not checked", "caution", "holds"
WORDS = (FAILS, NOT_CHECKED, CAUTION, HOLDS)  # worst first
HEADS = {
    FAILS: "FAILS", NOT_CHECKED: "NOT SHOWN TO HOLD", CAUTION: "holds with cautions",
    HOLDS: "holds",
}
_AXIAL = ("general instability in compression", "general instability in bending",
          "general instability, loads combined")  # checks that the own factor counts in
# Known only once the solids are built, which `gridshell mold` does.
_NEEDS_SOLIDS = "solids against the wall's mass"


@dataclass(frozen=True)
class Finding:
    """What is known about one side of a design.

    Attributes:
        area: structure, joints, range, mold, or what a command adds.
        word: fails, not checked, caution or holds.
        reason: why, and what to do about it.
        margin: the lowest margin of safety that it speaks of; None where it speaks of none.
    """

    area: str
    word: str
    reason: str
    margin: float | None = None


@dataclass(frozen=True)
class Verdict:
    """The findings on one design, the worst first.

    Attributes:
        findings: one an area; among equally bad ones the lowest margin first.
    """

    findings: tuple[Finding, ...]

    @property
    def word(self) -> str:
        """The worst word of all."""
        return self.findings[0].word if self.findings else NOT_CHECKED

    @property
    def lowest(self) -> Finding | None:
        """The finding with the lowest margin of all."""
        return min((f for f in self.findings if f.margin is not None), key=_by_margin, default=None)

    @property
    def line(self) -> str:
        """The verdict in one line: the worst word, each area that does not just hold, and the one
        with the lowest margin of all."""
        shown = [f for f in self.findings if f.word != HOLDS] or list(self.findings[:1])
        if (lowest := self.lowest) is not None and lowest not in shown:
            shown.append(lowest)
        return f"{HEADS[self.word]}: " + "; ".join(
            f"{f.area}: {f.reason}" if f.word in (self.word, HOLDS)
            else f"{f.area} ({f.word}): {f.reason}"
            for f in shown
        )

    def to_dict(self) -> dict[str, Any]:
        """For JSON: the word, the line, and each finding."""
        return {
            "word": self.word, "line": self.line,
            "findings": [dict(vars(finding)) for finding in self.findings],
        }


def judge(findings: Iterable[Finding | None]) -> Verdict:
    """The verdict that follows from findings; None stands for nothing to say."""
    found = [finding for finding in findings if finding is not None]
    return Verdict(tuple(sorted(found, key=lambda f: (WORDS.index(f.word), _by_margin(f)))))


def _by_margin(finding: Finding) -> float:
    return math.inf if finding.margin is None else finding.margin


def verdict_of(
    design: Design, tube: TubeResult | None = None, more: Iterable[Finding | None] = (),
    mold: MoldChecks | None = None, loads: LoadsResult | None = None,
) -> Verdict:
    """The verdict on one design from everything that is known or cheap to find.

    Args:
        design: one design.
        tube: its assessment; None: found here.
        more: what the caller knows beyond it.
        mold: checks of its mold; None: found here if the design states a mold.
        loads: along its body; None: found here if the design states a body.

    Raises:
        InputError: the tube can't be assessed.
    """
    if tube is None:
        from gridshell.tube.assess import assess_tube

        tube = assess_tube(design)
    structure, *others = tube_findings(tube)
    return judge((
        structure, *body_findings(tube, loads), *others,
        mold_finding(design, mold), *left_out_findings(design), *more,
    ))


def tube_findings(tube: TubeResult) -> list[Finding | None]:
    """What the assessment of a tube alone tells, its structure first."""
    return [
        structure_finding(tube), unchecked_finding(tube), range_finding(tube), creep_finding(tube),
        material_finding(tube), promised_finding(tube),
    ]


def structure_finding(tube: TubeResult) -> Finding:
    """Whether the tube carries every load case; a margin that is not a number is no pass."""
    if not tube.cases:
        return Finding("structure", NOT_CHECKED, "no load case is stated; add [[case]] to the file")
    found = [
        (float(check.margin), check.name, case.name) for case in tube.cases for check in case.checks
    ]
    known = [one for one in found if not math.isnan(one[0])]
    lowest, check, case = min(known, default=(math.inf, "", ""))
    where = f"margin {margin(lowest)}, {check}, case {case!r}"
    number = lowest if math.isfinite(lowest) else None
    unknown = next((name for value, name, _ in found if math.isnan(value)), None)
    if lowest < 0:
        return Finding("structure", FAILS, where, number)
    if unknown is not None:
        return Finding("structure", NOT_CHECKED, f"{unknown} is not known; lowest known {where}",
                       number)
    if math.isinf(lowest):
        return Finding("structure", NOT_CHECKED, "no case applies a load")
    return Finding("structure", HOLDS, f"lowest {where}", number)


def unchecked_finding(tube: TubeResult) -> Finding | None:
    """What the assessment itself says that it could not check."""
    if not tube.unchecked:
        return None
    return Finding("strength", NOT_CHECKED, _short("; ".join(tube.unchecked), 240))


def body_findings(tube: TubeResult, loads: LoadsResult | None = None) -> list[Finding | None]:
    """What the body that the tube belongs to asks of it; nothing without [body].

    Args:
        tube: assessed.
        loads: along the body; None: found here if the design states a body.
    """
    if loads is None:
        if tube.design.body is None:
            return []
        from gridshell.loads.run import section_loads

        try:
            loads = section_loads(tube.design)
        except InputError as error:
            return [Finding("joints", NOT_CHECKED, _short(str(error)))]
    return [events_finding(tube, loads), joints_finding(loads)]


def events_finding(tube: TubeResult, loads: LoadsResult) -> Finding | None:
    """Whether the tube carries the events along its body, stated as load cases or not.

    Joints are left to `joints_finding`, which checks each where it sits. The body as a whole may
    buckle as a column long before the tube alone: a heavy head stands on a longer mast.
    """
    from gridshell.loads.run import with_cases
    from gridshell.tube.assess import assess_tube

    found = assess_tube(
        with_cases(tube.design, loads.cases, keep=False), tube.wall.properties).cases
    checks = [(float(check.margin), check.name, case.name)
              for case in found for check in case.checks if check.subject != "joint"]
    checks += [
        (shape.column_factor / float(one.event.factor) - 1, "column buckling of the whole body",
         one.event.name)
        for one, shape in zip(loads.events, loads.flexible.events, strict=True)
    ]
    loaded = any(one[0] != math.inf for one in checks)
    return _lowest("events", checks) if loaded else None


def joints_finding(loads: LoadsResult) -> Finding | None:
    """Joints, seams and cut-outs along the body; those of the load cases count as structure."""
    margins = [(float(one.margin), one.where, one.event) for one in loads.joints]
    margins += [(float(one.result.margin), one.where, one.event) for one in loads.cutouts]
    return _lowest("joints", margins) if margins else None


def _lowest(area: str, margins: list[tuple[float, str, str]]) -> Finding:
    """What the lowest margin says, where and in which event; one that is not known is lowest."""
    lowest, where, event = min(
        margins, key=lambda one: -math.inf if math.isnan(one[0]) else one[0])
    word = NOT_CHECKED if math.isnan(lowest) else HOLDS if lowest >= 0 else FAILS
    lead = "lowest " if word == HOLDS else ""
    return Finding(area, word, f"{lead}margin {margin(lowest)}, {where}, in {event!r}",
                   lowest if math.isfinite(lowest) else None)


def creep_finding(tube: TubeResult) -> Finding | None:
    """Whether a load stays on for longer than a test of a material that creeps by nobody knows how
    much."""
    lasting = [case.name for case in tube.cases if NO_DATA in case.notes]
    if NO_DATA in tube.wall.properties.notes:  # of material.load_duration
        lasting += [case.name for case in tube.design.case
                    if case.duration is None or np.any(np.asarray(case.duration) > SHORT)]
    if not lasting:
        return None
    return Finding(
        "creep", CAUTION, f"case {lasting[0]!r} stays on and the material's loss of stiffness over "
        "time is not known; state material.creep_factor")


def material_finding(tube: TubeResult) -> Finding | None:
    """Whether the material is used beyond its usual temperatures or its data on creep."""
    beyond = (TOO_COLD, TOO_HOT, SOFTENS, NO_CURVE, TOO_LONG)
    notes = [*tube.wall.properties.notes, *(note for case in tube.cases for note in case.notes)]
    found = [note for note in dict.fromkeys(notes) if note.startswith(beyond)]
    return Finding("material", CAUTION, "; ".join(found)) if found else None


# Notes that general instability was found on the unsafe side for such a design, and the margin from
# which on that does not matter: nothing was found half so far off.
_UNSAFE, _AMPLE = (DEEP, BOWS, FEW_RIBS), 1.0


def is_range_note(note: str, stability: float = math.inf) -> bool:
    """Whether a note says that the design lies outside the range of a formula.

    Args:
        note: of the tube or of a check.
        stability: lowest margin in general instability that the note speaks of.
    """
    if note.startswith(_UNSAFE):
        return not stability >= _AMPLE
    return note.startswith((ROUGH, UNBALANCED)) or (
        "outside" in note.split("where")[0] and "ribs outside" not in note)


def range_finding(tube: TubeResult) -> Finding | None:
    """Whether the design lies outside the range of a formula that its numbers come from.

    It is not shown to hold where only that formula says so, and not the bound of the stiffness.
    """
    from gridshell.tube.assess import least_margin

    least = least_margin(tube)
    if least is not None and float(tube.margin) >= 0 and not float(least) >= 0:
        return Finding(
            "range", NOT_CHECKED, "outside of the unit cells that the stiffness was held to; by "
            f"its lower bound the margin is {margin(least)}; 'gridshell tube' solves the unit cell")
    checks = [check for case in tube.cases for check in case.checks]
    stability = min((float(check.margin) for check in checks if "instability" in check.name),
                    default=math.inf)
    outside = [note for note in (*tube.notes, *tube.wall.range_notes)
               if is_range_note(note, stability)]
    outside += [f"{check.name}: {note}" for check in checks for note in check.notes
                if is_range_note(note, float(check.margin))]
    outside = list(dict.fromkeys(outside))
    if not outside:
        return None
    more = "" if len(outside) == 1 else f" (and {len(outside) - 1} more, see the notes)"
    return Finding("range", CAUTION, _short(outside[0]) + more)


def mold_finding(design: Design, checks: MoldChecks | None = None) -> Finding | None:
    """What the checks of the mold say that do not need its solids; None without [mold]."""
    if checks is None:
        if design.mold is None:
            return None
        from gridshell.define.tables.mold import mold_of
        from gridshell.mold.checks.run import mold_checks

        mold = mold_of(design)
        if design.tube.segments < 2 and not mold.direct and mold.core != "sliding":
            return Finding("mold", FAILS, "a tube in one piece has no seam to part a mold at; set "
                           "tube.segments = 2 or more, mold.core = 'sliding', or leave [mold] out")
        try:
            checks = mold_checks(design, advise=False)  # names are all that is told
        except InputError as error:
            return Finding("mold", FAILS, _short(str(error)))
    listed = [c for c in checks.checks if c.name != _NEEDS_SOLIDS or c.value is not None]
    for word, verdicts in ((FAILS, ("fails",)), (CAUTION, ("caution", "not known"))):
        bad = [c.name for c in listed if c.verdict in verdicts]
        if bad:
            return Finding("mold", word, f"{', '.join(bad[:3])}"
                           + (f" and {len(bad) - 3} more" if len(bad) > 3 else ""))
    return Finding("mold", HOLDS, f"all {len(listed)} checks pass")


def left_out_findings(design: Design) -> list[Finding]:
    """Tables that were left out since they can't be used: nothing is known of their side."""
    tables = {problem.path.partition(".")[0] for problem in design.left_out}
    return [Finding(table, NOT_CHECKED, f"[{table}] can't be used, see the warnings")
            for table in ("mold", "body", "joints") if table in tables]


def measured_finding(result: MeasuredResult) -> Finding | None:
    """Whether the tube carries every case with the stiffness that its bend test found."""
    if not result.margins:
        return None
    for word, place, said in (
        (FAILS, 1, "with the measured modulus"),
        (CAUTION, 2, "with the measured modulus less two standard uncertainties"),
    ):
        known = [(values[place], name) for name, values in result.margins.items()
                 if not math.isnan(values[place])]
        if len(known) < len(result.margins):
            return Finding("bend test", NOT_CHECKED, f"the margin {said} is not known; measure the "
                           "deflection better")
        lowest, name = min(known)
        if lowest < 0:
            return Finding("bend test", word, f"margin {margin(lowest)} {said}, case {name!r}",
                           lowest)
    return Finding("bend test", HOLDS, "every case holds with the measured modulus")


def promised_finding(tube: TubeResult) -> Finding | None:
    """Whether the checks count on a roundness that nobody has measured yet."""
    if not is_expected(tube.wall.design):
        return None
    own, published = _factors(tube)
    if not own > published:
        return None
    return Finding(
        "shape", CAUTION, f"the checks take the factor expected at the roundness that is stated, "
        f"{own:.2f}, above the published {published:.2f}: scan the finished tube")


def _factors(tube: TubeResult) -> tuple[float, float]:
    """Factors in compression: that of the checks, and the published one."""
    return (float(own_knockdowns(tube.wall)["compression"].factor),
            float(knockdowns(tube.wall)["compression"].factor))


def as_built_finding(built: AsBuiltTube, tube: TubeResult) -> Finding | None:
    """Whether the tube holds with its own knockdown factor where that is below the one that its
    checks use."""
    stated = built.design.as_built
    if stated is not None and stated.knockdown == "measured":
        return None
    promised = stated is not None and stated.knockdown == "expected"
    return _with_factor(
        built.used,
        _factors(tube)[0] if promised else float(built.published["compression"].factor), tube,
        failing=FAILS, what="the scan's own factor",
        advice="state as_built.knockdown = \"measured\"",
        of="expected" if promised else "published")


def tolerance_finding(found: Expected, tube: TubeResult) -> Finding | None:
    """Whether the tube holds with the factor to be expected at the roundness that is stated."""
    if found.factor is None or is_expected(tube.wall.design):  # the checks use it
        return None
    if math.isnan(found.factor):
        return Finding("roundness", CAUTION, "no factor is known at the roundness that is stated")
    return _with_factor(found.factor, found.published, tube, failing=CAUTION,
                        what="the factor at the roundness that is stated", advice="make it rounder")


def _with_factor(
    own: float, used: float, tube: TubeResult, *, failing: str, what: str, advice: str,
    of: str = "published",
) -> Finding | None:
    """General instability with another factor than the one that its checks use."""
    if own >= used:
        return None
    lowest = min(((1 + float(check.margin)) * own / used - 1 for case in tube.cases
                  for check in case.checks if check.name in _AXIAL), default=math.inf)
    reason = f"{what}, {own:.2f}, is below the {of} {used:.2f} of the checks; {advice}"
    if math.isfinite(lowest):
        reason = f"margin {margin(lowest)} in general instability: {reason}"
    return Finding("shape", failing if lowest < 0 else CAUTION, reason,
                   lowest if math.isfinite(lowest) else None)


def temperature_finding(study: OverTemperature, system: str = "metric") -> Finding | None:
    """Whether some case fails, or is not known to hold, at a temperature at which the material is
    usually used."""
    low, high = study.service
    at = study.temperature
    usual = (at >= (0.0 if low is None else low)) & (at <= (math.inf if high is None else high))
    lowest = np.full(at.shape, np.inf)
    for case in study.tube.cases:
        lowest = np.fmin(lowest, case.margin)
    failing = at[usual & (lowest < 0)]
    if not failing.size:
        unknown = at[usual & np.isnan(study.tube.margin)]
        if not unknown.size:
            return None
        ends = [shown(end, "temperature", system, 3) for end in (unknown.min(), unknown.max())]
        return Finding("temperature", CAUTION, "a margin is not known at some temperatures from "
                       f"{ends[0]} to {ends[1]}; state strength there")
    ends = [shown(end, "temperature", system, 3) for end in (failing.min(), failing.max())]
    return Finding("temperature", CAUTION, f"a case fails at some temperatures from {ends[0]} to "
                   f"{ends[1]}; state the temperatures of use")


def scatter_finding(result: ScatterResult) -> Finding:
    """The share of tubes below zero margin, or whose margin is not known; it fails where that is
    most of them."""
    confidence, most = result.confidence, result.interval[1]
    if not result.failing:
        return Finding(
            "scatter", HOLDS, f"none of {result.samples:,} tubes falls below zero margin (with "
            f"{confidence:.3g} confidence no more than {most:.2g} of all tubes do)")
    beyond = "" if not result.impossible else (
        f", {result.impossible:,} of them since their margin is not known")
    return Finding("scatter", FAILS if result.share > 0.5 else CAUTION,
                   f"{result.failing:,} of {result.samples:,} tubes fall below zero margin{beyond}")


def chill_finding(result: ChillResult) -> Finding:
    """Whether the chilled tube cracks or can be used at all; what is not known is no pass."""
    if result.cracks_at is not None:
        return Finding("chilling", FAILS, "the tube cracks; chill more slowly or less far")
    unknown = bool(np.isnan(result.cracking_ratio).any())
    broken = [name for name in result.without if name != CRACKING or not unknown]
    if result.window is None and broken:
        return Finding("chilling", FAILS, "no usable window: " + ", ".join(broken))
    if unknown:
        return Finding("chilling", NOT_CHECKED, "whether the tube cracks is not known at every "
                       "temperature; state strength or strain at break there")
    return Finding("chilling", HOLDS, "there is a usable window")


def size_verdict(sizing: SizeResult) -> Verdict:
    """The verdict on the best wall that can be made."""
    best = sizing.best
    if best is None or best.rounded is None:
        return judge([Finding(
            "limits", FAILS, "nothing that can be made meets every limit; see which limits conflict"
        )])
    bed = None if sizing.bed is None else Finding(
        "bed", CAUTION, "one cast section does not fit the bed stated in [mold]; see how many "
        "sections or segments do")
    return verdict_of(best.rounded.tube.design, best.rounded.tube, [bed])


def _short(text: str, most: int = 160) -> str:
    """A text cut at a word, so that a verdict stays one line."""
    one = " ".join(text.split())
    return one if len(one) <= most else one[:most].rsplit(" ", 1)[0] + " ..."
