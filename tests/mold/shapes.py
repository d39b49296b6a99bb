"""Small invented designs that several tests of the molds share."""

from __future__ import annotations

import functools
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


@functools.lru_cache(maxsize=8)
def classifier(solid: Any) -> Any:
    """Of one solid for many points: making it takes most of the time."""
    from OCP.BRepClass3d import BRepClass3d_SolidClassifier

    return BRepClass3d_SolidClassifier(solid)


def is_mold(solid: Any, x: float, y: float, z: float) -> bool:
    """Whether a point is inside a solid, mm."""
    from OCP.gp import gp_Pnt
    from OCP.TopAbs import TopAbs_State

    found = classifier(solid)
    found.Perform(gp_Pnt(x, y, z), 1e-7)
    return bool(found.State() == TopAbs_State.TopAbs_IN)


def words_off_the_page(figure: Any) -> list[str]:
    """Texts that reach over the frame of the sheet, 2 % inside the paper."""
    from matplotlib.backends.backend_agg import FigureCanvasAgg

    canvas = FigureCanvasAgg(figure)
    canvas.draw()
    wide, high = figure.bbox.width, figure.bbox.height
    found = []
    for text in [*figure.texts, *(t for axes in figure.axes for t in axes.texts)]:
        if not text.get_text().strip():
            continue
        box = text.get_window_extent(canvas.get_renderer())
        if (box.x0 < 0.02 * wide or box.x1 > 0.98 * wide or box.y0 < 0.025 * high
                or box.y1 > 0.975 * high):
            found.append(text.get_text())
    return found
