"""A wall that many cases ask the same seconds of solving of."""

from __future__ import annotations

from typing import Any

from gridshell.tube.as_built.parts import parts_load
from gridshell.wall.assess import Wall


class AskedWall:
    """One wall as the key of a cache: equal where its content is.

    Args:
        built: one wall.
        more: whatever else the answer hangs on, hashable.
    """

    def __init__(self, built: Wall, *more: Any) -> None:
        self.built = built
        self.key = (
            *(part.tobytes() for part in built.curved), float(built.design.skin.thickness),
            float(built.grid.radius), float(built.design.tube.length), parts_load(built), *more)

    def __hash__(self) -> int:
        return hash(self.key)

    def __eq__(self, other: object) -> bool:
        return isinstance(other, AskedWall) and self.key == other.key
