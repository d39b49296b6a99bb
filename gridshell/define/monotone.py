"""Monotone piecewise cubics through points, in plain numpy.

scipy has them too (`PchipInterpolator`, to which the tests hold this), but loading that part of
scipy takes longer than the assessment of a tube.
"""

from __future__ import annotations

import numpy as np

from gridshell.define.types import Array, Quantity


def monotone_cubic(points: Array, values: Array, at: Quantity) -> Array:
    """Values between points, never beyond those of the two neighbors.

    F. N. Fritsch and R. E. Carlson, "Monotone piecewise cubic interpolation", SIAM J. Numer. Anal.
    17 (1980); slopes by F. N. Fritsch and J. Butland, SIAM J. Sci. Stat. Comput. 5 (1984).

    Args:
        points: (n,) rising, two or more.
        values: (n, ...) at the points.
        at: any shape, within the points.

    Returns:
        values of the shape of ``at`` and then of one of ``values``.

    >>> monotone_cubic(np.array([0.0, 1.0, 2.0]), np.array([0.0, 1.0, 1.0]), [0.5, 1.5]).tolist()
    [0.6875, 1.0]
    """
    place = np.asarray(at, float)
    below = np.clip(np.searchsorted(points, place, side="right") - 1, 0, len(points) - 2)
    flat = (...,) + (None,) * (values.ndim - 1)
    steps = np.diff(points)[flat]
    rises = np.diff(values, axis=0) / steps
    slopes = _slopes(steps, rises)
    step, rise, first, last = steps[below], rises[below], slopes[below], slopes[below + 1]
    share = (place - points[below])[flat] / step
    # Hermite's cubic about the lower point.
    answer: Array = values[below] + step * share * (
        first + share * (3 * rise - 2 * first - last + share * (first + last - 2 * rise)))
    return answer


def _slopes(steps: Array, rises: Array) -> Array:
    """Slopes at the points: weighed harmonic means of those beside them, zero at a turn."""
    if len(rises) == 1:
        return np.concatenate([rises, rises])
    left, right = rises[:-1], rises[1:]
    near, far = 2 * steps[1:] + steps[:-1], steps[1:] + 2 * steps[:-1]
    rising = left * right > 0
    safe = [np.where(rising, part, 1.0) for part in (left, right)]
    inner = np.where(rising, (near + far) / (near / safe[0] + far / safe[1]), 0.0)
    return np.concatenate([
        _end(steps[0], steps[1], rises[0], rises[1])[None], inner,
        _end(steps[-1], steps[-2], rises[-1], rises[-2])[None],
    ])


def _end(step: Array, after: Array, rise: Array, next_rise: Array) -> Array:
    """Slope at an end from three points, turned neither past zero nor past three times the rise."""
    slope = ((2 * step + after) * rise - step * next_rise) / (step + after)
    slope = np.where(slope * rise > 0, slope, 0.0)
    steep = (rise * next_rise <= 0) & (np.abs(slope) > 3 * np.abs(rise))
    return np.where(steep, 3 * rise, slope)
