"""The section of the wall as the page draws it, to scale."""

from __future__ import annotations

import math
from typing import Any

import numpy as np

from gridshell.report.numbers import shown
from gridshell.wall.assess import Wall


def section(built: Wall) -> dict[str, Any]:
    """Section across one pitch of the first family, to scale: outline in m, and its sizes.

    z grows outwards; the section runs from the middle of a pocket over a rib to the next middle.
    """
    design, system = built.design, built.design.units
    skin = float(design.skin.thickness)
    stiff = built.A[..., 0, 0] + built.A[..., 1, 1]
    found: dict[str, Any] = {
        "skin": skin, "neutral": float((built.B[..., 0, 0] + built.B[..., 1, 1]) / stiff),
        "skin_text": shown(skin, "length", system, 3), "ribbed": bool(built.sections),
        "equivalent": (
            f"stretches and bends like a plain wall of "
            f"{shown(built.equivalent.thickness, 'length', system, 3)} and "
            f"{shown(built.equivalent.modulus, 'pressure', system, 3)}; weighs as one of "
            f"{shown(built.volume_per_area, 'length', system, 3)}"
        ),
    }
    if not built.sections:
        half = 4 * skin
        found["outline"] = [[-half, -skin / 2], [half, -skin / 2], [half, skin / 2],
                            [-half, skin / 2]]
        return found
    rib, line, side = built.sections[0], built.grid.families[0], built.side
    pitch, height = float(line.pitch), float(rib.height)
    tip, root = float(rib.tip_width), float(rib.root_width)
    flank = _flank(root / 2, tip / 2, height, min(float(design.ribs.root_fillet), height))
    right = [[x, skin / 2 + up] for x, up in flank]
    upper = [[pitch, skin / 2]]
    upper += [[pitch / 2 + x, z] for x, z in right]
    upper += [[pitch / 2 - x, z] for x, z in reversed(right)]
    upper += [[0.0, skin / 2]]
    points = [[0.0, -skin / 2], [pitch, -skin / 2], *upper]
    found["outline"] = [[x - pitch / 2, side * z] for x, z in points]
    found.update({
        "side": side, "pitch": pitch, "height": height, "tip": tip, "root": root,
        "pitch_text": shown(pitch, "length", system, 3),
        "height_text": shown(height, "length", system, 3),
        "tip_text": shown(tip, "length", system, 3),
        "root_text": shown(root, "length", system, 3),
        "family": line.name,
    })
    return found


def _flank(half_root: float, half_tip: float, height: float, fillet: float) -> list[list[float]]:
    """Points (x, up) of the right flank from the skin over the fillet to the tip."""
    if fillet <= 0:
        return [[half_root, 0.0], [half_tip, height]]
    inner = math.pi / 2 + math.atan2(half_root - half_tip, height)  # between skin and flank
    center = half_root + fillet / math.tan(inner / 2)
    turn = np.linspace(-math.pi / 2, -math.pi / 2 - (math.pi - inner), 7)
    arc = np.stack([center + fillet * np.cos(turn), fillet + fillet * np.sin(turn)], axis=-1)
    arc = arc[arc[:, 1] < height]
    return [*arc.tolist(), [half_tip, height]]
