"""The loads as a table to read and as a dictionary for other programs."""

from __future__ import annotations

from typing import Any

import numpy as np

from gridshell.define.types import Array, finite
from gridshell.define.units import convert
from gridshell.loads.run import CAUTIONS, LoadsResult, cases_toml
from gridshell.report.numbers import MARGIN_NOTE, digits, margin, shown, table
from gridshell.report.sentences import in_units

Table = tuple[str, tuple[str, ...], list[list[str]]]
"""Title, column heads, rows."""


def _factor(value: float) -> str:
    if not np.isfinite(value):
        return "-"
    return f"{value:.3g}" if value < 1e3 else "over 1000"


def _degrees(angle: float) -> str:
    return f"{digits(float(np.degrees(abs(angle))), 3)} deg"


def _flexibility(value: float, system: str) -> str:
    """Rotation of a joint by a unit moment."""
    if system == "metric":
        return f"{digits(value, 3)} rad/(N m)"
    return f"{digits(value / convert(1.0, 'moment', 'lbf in'), 3)} rad/(lbf in)"


def tables(result: LoadsResult, system: str = "metric") -> list[Table]:
    """Tables in the order of their weight: the worst section of each event first."""
    def show(value: float, kind: str, count: int = 4) -> str:
        return shown(value, kind, system, count)

    order = sorted(range(len(result.events)), key=lambda i: -max(
        result.worst[i].edge_compression, result.worst[i].edge_tension))
    flexible = result.flexible
    found: list[Table] = [(
        "Worst section of the tube in each event (worst event first; without the design factor)",
        ("event", "at", "compression", "moment", "shear", "line force at the edge"),
        [[
            result.events[i].event.name, show(result.worst[i].position, "length", 3),
            show(result.worst[i].compression, "force"), show(result.worst[i].moment, "moment"),
            show(result.worst[i].shear, "force"),
            show(max(result.worst[i].edge_compression, result.worst[i].edge_tension),
                 "line_force", 3),
        ] for i in order],
    ), (
        "Bending of the body in each event (column factor: growth of the deflection by the axial "
        "load)",
        ("event", "deflection", "nose to tail", "of it in joints", "column factor"),
        [[
            one.name, show(one.deflection_most, "length", 3), _degrees(one.nose_angle),
            _degrees(one.joint_angle), _factor(one.column_factor),
        ] for one in (flexible.events[i] for i in order)],
    )]
    if result.joints:
        found.append((
            "Joints and seams, each in its worst event",
            ("joint", "event", "governing check", "margin"),
            [[
                one.where, one.event,
                min(one.checks, key=lambda check: float(check.margin)).name, margin(one.margin),
            ] for one in result.joints],
        ))
    if result.cutouts:
        found.append((
            "Cut-outs, each in its worst event (peak: highest stress at its edge)",
            ("cut-out", "event", "peak over far stress", "peak", "margin", "land needed",
             "EI left"),
            [[
                one.where, one.event, f"{one.result.factor:.2f}",
                show(one.result.peak, "pressure", 3), margin(one.result.margin),
                "no land is enough" if one.result.land_needed is None
                else show(one.result.land_needed, "length", 3), f"{one.result.section.EI:.1%}",
            ] for one in result.cutouts],
        ))
    found.append(("The body", (), _facts(result, system)))
    return found


def _facts(result: LoadsResult, system: str) -> list[list[str]]:
    """What is known of the body beside its loads: name and words."""
    body, flexible = result.body, result.flexible

    def length(value: float) -> str:
        return shown(value, "length", system)

    lowest = ", ".join(digits(value, 3) for value in flexible.frequencies)
    facts = [
        ["body", f"{length(body.length)}, {shown(body.mass.total, 'mass', system)}, center of "
                 f"gravity {length(body.mass.center)} from the fore end"],
        ["free-free bending", f"{lowest} Hz"],
    ]
    slope, center = body.normal_force()
    if slope:
        diameter = np.sqrt(4 / np.pi * body.reference_area)
        aft = (center - body.mass.center) / diameter
        facts.append(["normal force slope", f"{slope:.3g} per rad at {length(center)}, "
                      f"{abs(aft):.2f} diameters {'aft' if aft > 0 else 'ahead'} of the center of "
                      "gravity"])
    for name, one in flexible.in_flight.items():
        facts.append([f"bent in {name!r}", f"normal force x{one.force_ratio:.3f}, center of "
                      f"pressure moves from {length(one.rigid_center)} to {length(one.center)}, "
                      f"nose turns {_degrees(one.nose_angle)}"])
    if flexible.joints:
        facts.append(["joints", f"{flexible.joints}, each "
                      f"{_flexibility(flexible.joint_flexibility, system)}, free play "
                      f"{_degrees(flexible.play)}"])
    if result.rotations:
        turned = ", ".join(f"{np.degrees(angle):.0f}" for angle in result.rotations)
        facts.append(["turn sections by", f"{turned} deg (bending plane not known)"])
    if result.best_rotation is not None and np.isfinite(result.best_rotation[2]):
        angle, best, worst = result.best_rotation
        facts.append(["bending plane known", f"first seam {np.degrees(angle):.0f} deg from it: "
                      f"margin {margin(best)}, at the worst angle {margin(worst)}"])
    return facts


def notes(result: LoadsResult) -> list[str]:
    """Every note once, with the event it belongs to."""
    found = list(result.notes)
    for event in result.events:
        found += [f"{event.event.name}: {note}" for note in event.notes]
    for shape in result.flexible.events:
        found += [f"{shape.name}: {note}" for note in shape.notes]
    for joint in result.joints:
        for check in joint.checks:
            found += [f"{joint.where}: {note}" for note in check.notes]
    for cut in result.cutouts:
        found += [f"{cut.where}: {note}" for note in (*cut.result.notes, cut.result.remark)]
    return list(dict.fromkeys(found))


def loads_text(result: LoadsResult, system: str = "metric") -> str:
    """The whole result as plain text: tables, notes, cautions."""
    lines = [result.title, ""]
    for title, heads, rows in tables(result, system):
        lines += [title, table(rows, heads or None), ""]
    lines += [MARGIN_NOTE, ""]
    lines += [f"note: {in_units(note, system)}" for note in notes(result)]
    lines += [f"caution: {line}" for line in CAUTIONS]
    return "\n".join(lines)


def _numbers(values: Array) -> list[float]:
    """Seven digits: a page of loads stays small, and nothing here is known better."""
    return [float(f"{value:.7g}") for value in values]


def loads_json(result: LoadsResult) -> dict[str, Any]:
    """SI throughout; null is an infinite margin or factor. Keys:

    ``mass`` kg, ``length``, ``center_of_gravity``, ``center_of_pressure`` m,
    ``normal_force_slope`` 1/rad, ``frequencies`` Hz; ``stations`` m (each twice: ahead of it and
    aft of it); ``events`` with ``compression``, ``shear``, ``moment`` along the stations (N, N,
    N m), ``worst`` section and ``shape``; ``envelope`` low and high; ``cases``; ``cases_toml``;
    ``joints``; ``cutouts`` (peak Pa, land_needed m); ``seam_rotations`` rad; ``notes``;
    ``cautions``.
    """
    body, flexible = result.body, result.flexible
    slope, center = body.normal_force()
    events = []
    for found, worst, shape in zip(result.events, result.worst, flexible.events, strict=True):
        events.append({
            "name": found.event.name, "kind": found.event.kind,
            "compression": _numbers(found.forces.compression),
            "shear": _numbers(found.forces.shear), "moment": _numbers(found.forces.moment),
            "worst": dict(vars(worst)),
            "facts": {name: {"value": value, "unit": unit}
                      for name, (value, unit) in found.facts.items()},
            "imbalance": found.imbalance,
            "shape": {
                "deflection": _numbers(shape.deflection), "nose_angle": shape.nose_angle,
                "joint_angle": shape.joint_angle, "column_factor": finite(shape.column_factor),
            },
            "factor": float(found.event.factor),
            "notes": [*found.notes, *shape.notes],
        })
    return {
        "title": result.title, "mass": body.mass.total, "length": body.length,
        "center_of_gravity": body.mass.center,
        "normal_force_slope": slope, "center_of_pressure": finite(center),
        "stations": _numbers(result.events[0].forces.position),
        "beam_stations": _numbers(flexible.stations),
        "events": events, "governing": result.events[result.governing].event.name,
        "envelope": {name: {"low": _numbers(low), "high": _numbers(high)}
                     for name, (low, high) in result.envelope.items()},
        "cases": [
            {"name": case.name, "compression": case.compression, "moment": case.moment,
             "shear": case.shear, "torque": case.torque, "support": case.support,
             "factor": case.factor}
            for case in result.cases
        ],
        "cases_toml": cases_toml(result.cases),
        "frequencies": _numbers(flexible.frequencies),
        "bending_in_flight": {name: {key: finite(value) for key, value in vars(one).items()}
                              for name, one in flexible.in_flight.items()},
        "joint_flexibility": flexible.joint_flexibility, "joint_play": flexible.play,
        "joints": [
            {"where": one.where, "position": one.position, "event": one.event,
             "margin": finite(one.margin), "checks": [
                 {"name": check.name, "allowable": float(check.allowable),
                  "applied": float(check.applied), "knockdown": float(check.knockdown),
                  "margin": finite(float(check.margin)), "source": check.source,
                  "notes": list(check.notes)} for check in one.checks]}
            for one in result.joints
        ],
        "cutouts": [
            {"where": one.where, "event": one.event, "factor": finite(one.result.factor),
             "peak": one.result.peak, "allowable": one.result.allowable,
             "margin": finite(one.result.margin), "land_needed": one.result.land_needed,
             "EI_left": one.result.section.EI, "source": one.result.source,
             "notes": [*one.result.notes, one.result.remark]} for one in result.cutouts
        ],
        "seam_rotations": list(result.rotations),
        "best_seam_rotation": None if result.best_rotation is None else {
            key: finite(value) for key, value in
            zip(("angle", "margin", "worst_margin"), result.best_rotation, strict=True)},
        "notes": notes(result), "cautions": list(CAUTIONS),
    }
