"""How a piece leaves its mold, settled before and after a size is sought: a core that lets it go.

Whether ribs lock, and how hard a shrunken piece holds, depends little on the sizes that a search is
free to choose: no size mends a rigid core in a half shell of brittle resin. So where no likely size
leaves the core stated, another core is set, and said.
"""

from __future__ import annotations

import dataclasses
from collections.abc import Sequence

from gridshell.define.checks import check_design
from gridshell.define.errors import InputError
from gridshell.define.tables.design import Design, with_values
from gridshell.define.tables.mold import mold_of
from gridshell.mold.checks.release.grip import GRIP, GRIP_STRESS
from gridshell.mold.checks.result import FAILS
from gridshell.mold.checks.run import mold_checks
from gridshell.study.size.making import MakingChange

LEAVING = ("undercut of the ribs", "strain of peeling the piece off",
           "strain of a rubber mold coming off", GRIP, GRIP_STRESS)
# Rib height and skin over the diameter, rib width over height, spacing over the diameter.
_LIKELY = ((0.03, 0.016, 0.6, 0.22), (0.015, 0.02, 1.0, 0.2), (0.05, 0.012, 0.4, 0.3))
_LEAST = 1.2e-3  # m, of anything cast


def likely_sizes(design: Design) -> list[dict[str, float]]:
    """A few sizes of wall for the design's diameter, from slender to stout.

    Args:
        design: its tube.
    """
    across = float(design.tube.outside_diameter)
    target = design.target
    width = _LEAST if target is None else max(_LEAST, float(target.least_rib_width))
    found = []
    for height, skin, slender, pitch in _LIKELY:
        tall = max(height * across, 1.5 * _LEAST)
        wide = max(slender * tall, width)
        found.append({"ribs.height": tall, "ribs.width": wide,
                      "skin.thickness": max(skin * across, _LEAST),
                      "ribs.spacing": max(pitch * across, 6 * wide)})
    return found


def settled(design: Design, just: bool) -> tuple[Design, tuple[MakingChange, ...]]:
    """The design with a core that its pieces leave, and what was changed for that.

    Args:
        design: one design with a ``[mold]`` table.
        just: look at its own sizes, not at likely ones.
    """
    mold = mold_of(design)
    ribbed = design.has_ribs and (
        just or design.target is None or set(design.target.walls) != {"plain"})
    if mold.direct or not ribbed or mold.core == "rubber":
        return design, ()
    sizes = [design] if just else _sized(design)
    wrong: list[Sequence[str]] = []
    for one in sizes:
        wrong.append(_stuck(one))
        if not wrong[-1]:
            return design, ()
    if not wrong:
        return design, ()
    others = ["rubber"] if mold.core == "sliding" or design.ribs.side == "outside" else [
        "sliding", "rubber"]
    for core in others:
        changed = dataclasses.replace(mold, core=core, core_pieces=None)
        if any(not _stuck(dataclasses.replace(one, mold=changed)) for one in sizes):
            why = f"with {mold.core!r}: {', '.join(wrong[0])}"
            return (dataclasses.replace(design, mold=changed),
                    (MakingChange("mold.core", f"'{core}'", why),))
    return design, ()


def _sized(design: Design) -> list[Design]:
    """The design at likely sizes, those that can be built."""
    tried = (with_values(design, size) for size in likely_sizes(design))
    return [one for one in tried if not check_design(one)]


def _stuck(design: Design) -> Sequence[str]:
    """What keeps the piece in its mold; empty where it comes off."""
    try:
        checks = mold_checks(design, advise=False).checks
    except InputError:
        return ("no such mold",)
    return [check.name for check in checks if check.verdict == FAILS and check.name in LEAVING]
