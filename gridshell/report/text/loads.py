"""The loads as a table to read and as a dictionary for other programs."""

from __future__ import annotations

from typing import Any

import numpy as np

from gridshell.define.types import Array, finite
from gridshell.loads.run import CAUTIONS, LoadsResult, cases_toml

Table = tuple[str, tuple[str, ...], list[tuple[str, ...]]]
"""Title, column heads, rows."""


def _factor(value: float) -> str:
    if not np.isfinite(value):
        return "-"
    return f"{value:.3g}" if value < 1e3 else "over 1000"


def tables(result: LoadsResult) -> list[Table]:
    """Tables in the order of their weight: the worst section of each event first."""
    order = sorted(range(len(result.events)), key=lambda i: -max(
        result.worst[i].edge_compression, result.worst[i].edge_tension))
    body, flexible = result.body, result.flexible
    found: list[Table] = [(
        "Worst section of the tube in each event (worst event first; unfactored)",
        ("event", "at mm", "compression N", "moment N m", "shear N", "edge N/mm"),
        [(
            result.events[i].event.name, f"{result.worst[i].position * 1e3:.0f}",
            f"{result.worst[i].compression:.4g}", f"{result.worst[i].moment:.4g}",
            f"{result.worst[i].shear:.4g}",
            f"{max(result.worst[i].edge_compression, result.worst[i].edge_tension) / 1e3:.3g}",
        ) for i in order],
    ), (
        "Bending of the body in each event",
        ("event", "deflection mm", "nose to tail deg", "of it in joints deg", "column factor"),
        [(
            one.name, f"{one.deflection_most * 1e3:.3g}", f"{np.degrees(abs(one.nose_angle)):.3g}",
            f"{np.degrees(abs(one.joint_angle)):.2g}", _factor(one.column_factor),
        ) for one in (flexible.events[i] for i in order)],
    )]
    if result.joints:
        found.append((
            "Joints and seams, each in its worst event",
            ("joint", "event", "governing check", "margin"),
            [(
                one.where, one.event,
                min(one.checks, key=lambda check: float(check.margin)).name, f"{one.margin:+.2f}",
            ) for one in result.joints],
        ))
    if result.cutouts:
        found.append((
            "Cut-outs, each in its worst event",
            ("cut-out", "event", "peak over far", "peak MPa", "margin", "land needed mm",
             "EI left"),
            [(
                one.where, one.event, f"{one.result.factor:.2f}", f"{one.result.peak / 1e6:.3g}",
                f"{one.result.margin:+.2f}",
                "none does" if one.result.land_needed is None
                else f"{one.result.land_needed * 1e3:.2f}", f"{one.result.section.EI:.1%}",
            ) for one in result.cutouts],
        ))
    lowest = ", ".join(f"{value:.3g}" for value in flexible.frequencies)
    facts: list[tuple[str, ...]] = [
        ("body", f"{body.length * 1e3:.0f} mm, {body.mass.total:.3f} kg, center of gravity "
                 f"{body.mass.center * 1e3:.0f} mm from the fore end"),
        ("free-free bending", f"{lowest} Hz"),
    ]
    slope, center = body.normal_force()
    if slope:
        diameter = np.sqrt(4 / np.pi * body.reference_area)
        facts.append(("normal force slope", f"{slope:.3g} per rad at {center * 1e3:.0f} mm, "
                      f"{(center - body.mass.center) / diameter:+.2f} diameters aft of the center "
                      "of gravity"))
    for name, one in flexible.in_flight.items():
        facts.append((f"bent in {name!r}", f"normal force x{one.force_ratio:.3f}, center of "
                      f"pressure {one.rigid_center * 1e3:.0f} -> {one.center * 1e3:.0f} mm, nose "
                      f"{np.degrees(one.nose_angle):.2f} deg"))
    if flexible.joints:
        facts.append(("joints", f"{flexible.joints}, each {flexible.joint_flexibility:.3g} "
                      f"rad/(N m), free play {np.degrees(flexible.play):.2g} deg"))
    if result.rotations:
        turned = ", ".join(f"{np.degrees(angle):.0f}" for angle in result.rotations)
        facts.append(("turn sections by", f"{turned} deg (bending plane not known)"))
    if result.best_rotation is not None and np.isfinite(result.best_rotation[2]):
        angle, best, worst = result.best_rotation
        facts.append(("plane known", f"first seam {np.degrees(angle):.0f} deg from it: margin "
                      f"{best:+.2f}, at the worst angle {worst:+.2f}"))
    found.append(("The body", ("", ""), facts))
    return found


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


def text(result: LoadsResult) -> str:
    """The whole result as plain text: tables, notes, cautions."""
    lines = [result.title, ""]
    for title, heads, rows in tables(result):
        widths = [max(len(row[i]) for row in [heads, *rows]) for i in range(len(heads))]
        lines.append(title)
        shown = ([heads] if any(heads) else []) + rows
        for row in shown:
            cells = [cell.ljust(width) if i == 0 or not any(heads) else cell.rjust(width)
                     for i, (cell, width) in enumerate(zip(row, widths, strict=True))]
            lines.append("  " + "  ".join(cells).rstrip())
        lines.append("")
    remarks = notes(result)
    if remarks:
        lines += ["Notes", *(f"  {note}" for note in remarks), ""]
    lines += ["Caution", *(f"  {line}" for line in CAUTIONS)]
    return "\n".join(lines)


def _numbers(values: Array) -> list[float]:
    """Seven digits: a page of loads stays small, and nothing here is known better."""
    return [float(f"{value:.7g}") for value in values]


def as_dict(result: LoadsResult) -> dict[str, Any]:
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
