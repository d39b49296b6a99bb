"""What `gridshell chill` shows: the table, in metric or inch units."""

from __future__ import annotations

import numpy as np

from gridshell.report.numbers import degrees, margin, shown, table
from gridshell.report.sentences import in_units
from gridshell.thermal.answers import UNKNOWN, Answer
from gridshell.thermal.heat.history import UNCOVERED
from gridshell.thermal.result import ChillResult
from gridshell.thermal.window import FOLLOWED, OPENED, ServiceLimit, usable_window


def duration(seconds: float) -> str:
    """A time as people say it.

    >>> duration(90.0), duration(5400.0), duration(12.34)
    ('1.5 min', '1 h 30 min', '12 s')
    """
    if seconds < 59.5:
        return f"{seconds:.0f} s"
    if seconds < 3570:
        return f"{seconds / 60:.1f} min"
    minutes = round(seconds / 60)
    return f"{minutes // 60} h {minutes % 60} min"


def temperature(kelvin: float, system: str = "metric") -> str:
    """A temperature to a tenth of a degree.

    >>> temperature(255.15), temperature(255.15, "inch")
    ('-18.0 degC', '-0.4 degF')
    """
    unit = "degF" if system == "inch" else "degC"
    return f"{round(float(degrees(kelvin, system)), 1) + 0.0:.1f} {unit}"


def limit_value(limit: ServiceLimit, system: str = "metric") -> str:
    """The number of a limit."""
    if limit.unit == "K":
        return temperature(limit.value, system)
    return margin(limit.value) if limit.name == "lowest margin" else f"{limit.value:g}"


def _answer_value(answer: Answer, system: str) -> str:
    if answer.value is None:
        return {"none": "any", UNKNOWN: "not known"}.get(answer.limit, "none")
    if answer.unit == "K":
        return temperature(answer.value, system)
    per_minute = answer.value * 60 * (1.8 if system == "inch" else 1.0)
    return f"{per_minute:.3g} {'degF' if system == 'inch' else 'K'}/min"


def _since(result: ChillResult, when: float) -> str:
    if when >= result.exposed_at:
        return f"{duration(when - result.exposed_at)} after uncovering"
    return f"{duration(when)} after the start"


def _limit_row(result: ChillResult, limit: ServiceLimit, system: str) -> list[str]:
    sense = "at least" if limit.least else "at most"
    label = f"  {limit.name} {sense} {limit_value(limit, system)}"
    alone, _ = usable_window(result.time, (limit,), result.exposed_at)
    if alone is None:
        return [label, "never", ""]
    since = "" if alone.opened_by == OPENED else f"from {duration(alone.start - result.exposed_at)}"
    until = "" if alone.ended_by == FOLLOWED else f"until {duration(alone.end - result.exposed_at)}"
    return [label, "kept", " ".join(filter(None, (since, until))) or "throughout"]


def _window_rows(result: ChillResult, system: str) -> list[list[str]]:
    window = result.window
    if window is None:
        first = ["usable window", "none", "kept out by: " + ", ".join(result.without)]
    else:
        first = [
            "usable window", duration(window.length),
            f"{duration(window.start - result.exposed_at)} ({window.opened_by}) to "
            f"{duration(window.end - result.exposed_at)} ({window.ended_by}) after uncovering"]
    return [first, *(_limit_row(result, limit, system) for limit in result.limits)]


def _cracking_rows(result: ChillResult, system: str) -> list[list[str]]:
    known = [crack for crack in result.cracks if np.isfinite(crack.peak)]
    if not known:
        return [["cracking ratio", "not known", "the material's limits are not known"]]
    cracked = result.cracks_at
    rows = []
    for i, crack in enumerate(known):
        note = f"{_since(result, crack.time)}, {shown(crack.stress, 'pressure', system, 3)}"
        if i == 0:
            note += f", by {crack.by}"
            note += "" if cracked is None else f"; CRACKS {_since(result, cracked)}"
        head = "cracking ratio, " if i == 0 else "  "
        rows.append([f"{head}{crack.place}", f"{crack.peak:.2f}", note])
    return rows


def chill_rows(result: ChillResult, system: str = "metric") -> list[list[str]]:
    """Rows of the table: what, value, note; the usable window first."""
    rows = _window_rows(result, system) + _cracking_rows(result, system)
    at = int(np.searchsorted(result.time, result.exposed_at - 1e-9))
    ratio = result.stiffness_ratio[at]
    rows.append(["stiffness ratio when uncovered",
                 f"{ratio:.2f}" if np.isfinite(ratio) else "not known",
                 f"against {temperature(result.reference, system)}"])
    if result.margin is not None:
        lowest = result.margin[at]
        rows.append(["lowest margin when uncovered",
                     "not known" if np.isnan(lowest) else margin(lowest), ""])
    for part, kelvin in result.chilled_at.items():
        rows.append([f"{part} when uncovered", temperature(kelvin, system), ""])
    for phase in result.phases:
        if phase.name != UNCOVERED:
            value = "no" if phase.through is None else duration(phase.through - phase.start)
            rows.append([f"chilled through in {phase.name}", value,
                         f"within 1 K of {temperature(phase.surroundings, system)}"])
    for answer in result.answers:
        by = f"{answer.limit}: " if answer.limit not in ("", "none", UNKNOWN) else ""
        rows.append([answer.name, _answer_value(answer, system), by + answer.note])
    rows.append(["heat unaccounted for", f"{result.imbalance:.2%}", "worst step"])
    return rows


def chill_text(result: ChillResult, system: str = "metric") -> str:
    """The printed answer: window first, then cracking, answers, notes, cautions."""
    lines = [result.title, "", table(chill_rows(result, system)), ""]
    lines += [f"note: {in_units(note, system)}" for note in result.notes]
    lines += [f"caution: {in_units(caution, system)}" for caution in result.cautions]
    return "\n".join(lines)
