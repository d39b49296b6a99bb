"""Tables of solved problems, read so that no value leaves the range of its neighbors."""

from __future__ import annotations

from collections.abc import Sequence

import numpy as np

from gridshell.define.monotone import monotone_cubic
from gridshell.define.types import Array, IntArray, Quantity


class Table:
    """Values on a rectangular grid of three coordinates.

    The solved grid is refined once by monotone cubics and then read linearly, so a value lies
    between those of its neighbors, and a symmetric matrix read entry by entry keeps every bound
    that its neighbors keep (their mean is a convex one). Outside the grid the coordinate is held at
    the edge.
    """

    def __init__(
        self, axes: Sequence[Sequence[float] | Array], values: Array, counts: Sequence[int]
    ):
        """Refine a solved table.

        Args:
            axes: the three coordinates of the solved grid, each rising.
            values: (n1, n2, n3, k), what was solved there.
            counts: points of the refined grid along each axis.
        """
        refined = np.asarray(values, float)
        self._low, self._step, self._last = [], [], []
        for axis, (solved, count) in enumerate(zip(axes, counts, strict=True)):
            points = np.linspace(solved[0], solved[-1], count)
            refined = np.moveaxis(
                monotone_cubic(np.asarray(solved), np.moveaxis(refined, axis, 0), points), 0, axis)
            self._low.append(float(solved[0]))
            self._step.append((float(solved[-1]) - float(solved[0])) / (count - 1))
            self._last.append(count - 1)
        self._rows = np.ascontiguousarray(refined.reshape(-1, refined.shape[-1]))
        self._strides = (counts[1] * counts[2], counts[2], 1)

    def __call__(self, *coordinates: Quantity) -> list[Quantity]:
        """The k values at three coordinates, each of the coordinates' broadcast shape."""
        shape = np.broadcast_shapes(*(np.shape(x) for x in coordinates))
        start: IntArray = np.zeros(shape, np.int64)
        shares = []
        for x, low, step, last, stride in zip(
            coordinates, self._low, self._step, self._last, self._strides, strict=True
        ):
            place = np.clip((x - low) / step, 0.0, last)
            # What is no number stays none: its share is, wherever it is read.
            whole = np.minimum(np.nan_to_num(np.asarray(place)).astype(np.int64), last - 1)
            shares.append(place - whole)
            start = start + stride * whole
        one, two, three = self._strides
        u, v, w = (np.broadcast_to(share, shape)[..., None] for share in shares)
        take = self._rows.take

        def edge(corner: IntArray) -> Array:
            near, far = take(corner, axis=0), take(corner + three, axis=0)
            far -= near
            far *= w
            far += near
            return far

        def face(corner: IntArray) -> Array:
            near, far = edge(corner), edge(corner + two)
            answer: Array = near + (far - near) * v
            return answer

        near, far = face(start), face(start + one)
        found = near + (far - near) * u
        return [found[..., k] for k in range(found.shape[-1])]
