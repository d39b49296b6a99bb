"""Small invented designs that several tests of the molds share."""

from __future__ import annotations

import math
from typing import Any

from gridshell.define.tables.design import Design, Material, Ribs, Skin, Tube


def small(
    pattern: str = "isogrid", side: str = "inside", segments: int = 2, orientation: str = "hoop",
    **changes: Any,
) -> Design:
    """A tube 44 mm across with cells of 14 mm."""
    ribs: dict[str, Any] = {
        "pattern": pattern, "side": side, "orientation": orientation, "height": 3e-3,
        "width": 1.6e-3, "draft": math.radians(3), "spacing": 14e-3, "corner_radius": 1e-3,
        "root_fillet": 0.5e-3,
    }
    if pattern == "orthogrid":
        ribs["hoop_spacing"] = 12e-3
    if pattern == "diagonal":
        ribs["angle"] = math.radians(40)
    ribs |= changes
    return Design(
        title="Invented scenario: test tube", material=Material(name="hot-melt-eva"),
        tube=Tube(outside_diameter=44e-3, length=60e-3, segments=segments, seam_land=4e-3,
                  end_land=5e-3),
        skin=Skin(thickness=1.2e-3), ribs=Ribs(**ribs),
    )
