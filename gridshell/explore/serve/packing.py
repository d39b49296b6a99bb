"""Meshes as bytes for the page: a JSON head, then plain little-endian arrays.

Layout: 4 bytes length of the head (a multiple of 4), the head, then for each body its points
(float32, 3 each), normal and mark (int8, 3 + 1 each), triangles (uint32, 3 each) and places
(float32, angle about the x axis and shift along it; none for a body that stands once).
"""

from __future__ import annotations

import json
from collections.abc import Mapping
from typing import Any

import numpy as np

from gridshell.define.types import Array
from gridshell.explore.scene.shape import Mesh

MEDIA_TYPE = "application/octet-stream"


def _padded(data: bytes) -> bytes:
    return data + b"\0" * (-len(data) % 4)


def packed(
    bodies: Mapping[str, Mesh], more: Mapping[str, Any],
    places: Mapping[str, Array] | None = None,
) -> bytes:
    """Bodies by name, and anything else that JSON can hold, as one block.

    Args:
        bodies: by name.
        more: for the head.
        places: (n, 2) angle, rad, and shift, mm, of bodies that stand at many places.
    """
    places = {} if places is None else places
    blocks: list[bytes] = []
    listed: list[dict[str, Any]] = []
    for name, mesh in bodies.items():
        # One byte a direction: an error of half a degree, not to be seen.
        shading = np.concatenate([
            np.rint(127 * mesh.normals), np.rint(127 * np.clip(mesh.mark, -1, 1))[:, None]
        ], axis=1).astype("<i1")
        blocks += [
            np.ascontiguousarray(mesh.points, "<f4").tobytes(), shading.tobytes(),
            np.ascontiguousarray(mesh.triangles, "<u4").tobytes(),
        ]
        many = places.get(name, ())
        if len(many):
            blocks.append(np.ascontiguousarray(many, "<f4").tobytes())
        columns = mesh.points.T  # each by itself: a minimum over rows of three is slow
        listed.append({
            "name": name, "points": len(mesh.points), "triangles": len(mesh.triangles),
            "places": len(many), "low": [float(column.min()) for column in columns],
            "high": [float(column.max()) for column in columns],
        })
    head = json.dumps({"bodies": listed, **more}, allow_nan=False).encode()
    head += b" " * (-len(head) % 4)
    return len(head).to_bytes(4, "little") + head + b"".join(_padded(block) for block in blocks)
