"""The cross section of a drawing sheet, each round face with its radius and a leader to it."""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import replace
from typing import Any

import numpy as np

from gridshell.define.types import Array
from gridshell.mold.pieces.layout import Layout, cavity_profile, core_profile, part_profile
from gridshell.report.sheets.parts import (
    ACCENT,
    FILL,
    INK,
    LIGHT,
    dimension,
    millimeters,
    profile_points,
    ribbed_line,
    view_title,
)
from gridshell.report.sheets.subject import Span2, Subject, leader_angles, round_faces

ROOMY = math.radians(60)  # half angle from which labels fit into the hollow


def draw_section(axes: Any, subject: Subject) -> None:
    """Across through a row of pockets; a cavity's left half through its end wall."""
    plan, side, pockets = subject.plan, subject.side, subject.pockets()
    profile = {"part": part_profile, "core": core_profile, "cavity": cavity_profile}[side]
    recess = subject.recess
    # Between its prints a core's body has the radius of the recess.
    body = plan if recess is None or side != "core" else replace(plan, inner=recess)
    sunk = body is not plan
    outline = profile_points(profile(body))
    # A whole tube has no seam to draw where its outline starts.
    axes.fill(outline[:, 0], outline[:, 1], fc=FILL, ec="none" if subject.closed else INK, lw=0.9)
    if subject.closed:
        angles = np.linspace(0, 2 * math.pi, 240)
        for radius in (plan.inner, plan.outer):
            axes.plot(radius * np.cos(angles), radius * np.sin(angles), color=INK, lw=0.9)
    if side == "cavity":
        _bore(axes, plan if recess is None else replace(plan, outer=recess))
    if sunk:
        angles = np.linspace(plan.left, plan.right, 120)
        axes.plot(plan.inner * np.cos(angles), plan.inner * np.sin(angles), color=LIGHT, lw=0.7)
    if pockets:
        line = ribbed_line(pockets, plan.base, plan.floor, plan.half_angle)
        edge = ribbed_line([], plan.base, plan.floor, plan.half_angle)
        if side == "cavity":
            line, edge = _right(line), _right(edge)
        # The part loses its pockets; the half that makes them has blocks there.
        color = "white" if side == "part" else FILL
        axes.fill(*np.concatenate([line, edge[::-1]]).T, fc=color, ec="none")
        axes.plot(line[:, 0], line[:, 1], color=ACCENT, lw=0.9)
        axes.plot(edge[:, 0], edge[:, 1], color=LIGHT, lw=0.3, ls="--")
        outline = np.concatenate([outline, line])
    if side == "cavity":
        axes.plot([0, 0], [plan.inner * 0.97, plan.top], color=INK, lw=0.7, ls="-.")
    _dimensions(axes, subject, outline, pockets)
    through = "through a row of pockets" if pockets else "between the prints" if sunk else ""
    view_title(axes, (
        f"Section across: left through the end wall, right {through or 'between the end walls'}"
        if side == "cavity" else f"Section across{', ' if through else ''}{through}"))
    axes.set_aspect("equal")
    axes.set_axis_off()


def _right(line: Array) -> Array:
    """The part of a line right of the crown, from the crown on."""
    kept = line[line[:, 0] > 0]
    first = kept[np.argmin(kept[:, 0])]
    crown = np.array([[0.0, math.hypot(*first)]])
    return np.concatenate([crown, kept[np.argsort(kept[:, 0], kind="stable")]]) if (
        kept[0, 0] > kept[-1, 0]) else np.concatenate([crown, kept])


def _bore(axes: Any, plan: Layout) -> None:
    """Between the end walls the half is bored out to the outer radius of a plan: right half."""
    angles = np.linspace(plan.left, math.pi / 2, 90)
    hollow = plan.outer * np.stack([np.cos(angles), np.sin(angles)], axis=-1)
    seat = plan.inner * 0.98
    inner = seat * np.stack([np.cos(angles), np.sin(angles)], axis=-1)
    area = np.concatenate([hollow, inner[::-1]])
    axes.fill(area[:, 0], area[:, 1], fc="white", ec="white", lw=1.6)
    axes.plot(hollow[:, 0], hollow[:, 1], color=INK, lw=0.9)
    axes.plot([0, 0], [plan.inner + plan.clearance, plan.outer], color=INK, lw=0.9)


def _dimensions(axes: Any, subject: Subject, outline: Array, pockets: Sequence[Span2]) -> None:
    """Width and height, the way the halves part, and the labels of the radii."""
    plan, side, units = subject.plan, subject.side, subject.design.units
    faces = round_faces(subject)
    high, low = float(outline[:, 1].max()), float(outline[:, 1].min())
    wide = float(np.abs(outline[:, 0]).max())
    step = 0.09 * wide
    row = max(0.1 * wide, 0.055 * (high - low + 8 * step))
    outer = [number for number, face in enumerate(faces) if face.outward]
    inner = [number for number, face in enumerate(faces) if not face.outward]
    roomy = plan.half_angle >= ROOMY
    top = high + (len(outer) + 0.6) * row
    bottom = low - (0.0 if roomy else (len(inner) + 0.3) * row)
    places = {number: high + (rank + 0.8) * row for rank, number in enumerate(outer)}
    # In the hollow from its floor up, or in rows below a shallow section.
    foot = max(low, 0.0) + 0.35 * row if roomy else bottom + 0.5 * row
    if subject.closed:
        foot = -0.5 * row * len(inner)
    places |= {number: foot + rank * row for rank, number in enumerate(reversed(inner))}
    if side == "part":
        words = millimeters(2 * plan.edge / 1e3, units)
        if plan.half_angle >= math.pi / 2 - 1e-9:
            words = f"diameter {millimeters(2 * plan.outer / 1e3, units)}" + (
                "" if subject.closed else " (over the edges)")
        edge, height = (plan.outer, 0.0) if subject.closed else (plan.edge, plan.parting)
        dimension(axes, (-edge, height), (edge, height), words, (0, bottom - step - height))
    else:
        dimension(axes, (-wide, low), (wide, low), millimeters(2 * wide / 1e3, units),
                  (0, bottom - step - low))
        dimension(axes, (wide, low), (wide, high), millimeters((high - low) / 1e3, units),
                  (step, 0))
    for number, (face, angle) in enumerate(zip(faces, leader_angles(subject, pockets),
                                               strict=True)):
        tip = face.radius * np.array([math.sin(angle), math.cos(angle)])
        # In the order of their faces from the right, so that no leader runs through a label.
        rank = (outer if face.outward else inner).index(number)
        left = face.place == "end"
        center = (0.3 if roomy else 0.42) * wide * (-0.8 if left else (1.0, 0.0, -0.8)[rank])
        axes.annotate(
            f"{face.words} R {millimeters(face.radius / 1e3, units)}", tip,
            (center, places[number]), fontsize=7, ha="center", va="center", zorder=4,
            bbox={"boxstyle": "square,pad=0.15", "fc": "white", "ec": "none"},
            arrowprops={"arrowstyle": "-|>,head_width=0.15,head_length=0.35", "lw": 0.6,
                        "color": INK, "shrinkA": 0, "shrinkB": 0})
    if not subject.mold.direct:
        axes.annotate("", (-0.82 * wide, high + 1.9 * step), (-0.82 * wide, high + 0.4 * step),
                      arrowprops={"arrowstyle": "-|>", "lw": 1.2, "color": ACCENT})
        axes.text(-0.77 * wide, high + 1.2 * step, "pull", fontsize=7, color=ACCENT, va="center")
        top = max(top, high + 2.2 * step)
    axes.set_xlim(-1.08 * wide, 1.08 * wide + 2.2 * step)
    axes.set_ylim(bottom - 1.8 * step, top + 0.2 * step)
