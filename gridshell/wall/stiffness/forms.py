"""Small quadratic forms (stiffness matrices) for one wall or many: ratios between two, and caps.

A form is kept as its entries, so that exact zeros cost nothing in arrays: (11, 12, 22) for 2 x 2
and (11, 12, 16, 22, 26, 66) for 3 x 3.
"""

from __future__ import annotations

from collections.abc import Sequence

import numpy as np

from gridshell.define.types import Quantity
from gridshell.wall.stiffness.smeared import Entries, symmetric

Form = tuple[Quantity, Quantity, Quantity]
"""Entries 11, 12, 22 of a symmetric 2 x 2 matrix; also the integrals of 1, z, z^2 of a section."""

_TINY = 1e-300
_LITTLE = 1e-6  # of the whole: what rounding may leave of a stiffness that is used up


def is_zero(value: Quantity) -> bool:
    """Whether a value is the plain number zero, for every wall of an array."""
    return np.ndim(value) == 0 and bool(value == 0)


def scaled(factor: Quantity, form: Form) -> Form:
    """The form times a factor."""
    return factor * form[0], factor * form[1], factor * form[2]


def add_products(total: Sequence[Entries], parts: Sequence[Quantity], shares: Entries) -> None:
    """Add to each of ``total`` (such as A, B, D) its part times ``shares``, in place."""
    for n, share in enumerate(shares):
        if not is_zero(share):
            for entries, part in zip(total, parts, strict=True):
                entries[n] = entries[n] + part * share


def ratios(part: Form, whole: Form) -> tuple[Quantity, Quantity]:
    """Least and largest ratio of one form to another, which is not negative.

    The least is 0 where ``part`` is nowhere positive.

    >>> least, most = ratios((2.0, 0.0, 6.0), (1.0, 0.0, 2.0))
    >>> float(least), float(most)
    (2.0, 3.0)
    """
    own = part[0] * part[2] - part[1] * part[1]
    determinant = whole[0] * whole[2] - whole[1] * whole[1]
    half = (part[0] * whole[2] + part[2] * whole[0]) / 2 - part[1] * whole[1]
    top = np.maximum(half + np.sqrt(np.maximum(half * half - own * determinant, 0.0)), _TINY)
    return np.where(half > 0, own / top, 0.0), top / np.maximum(determinant, _TINY)


def capped(part: Form, bound: Form, share: Quantity) -> Form:
    """A form held below a share of another.

    It is split by its ratios to ``bound`` (generalized eigenvalues); each ratio above the share
    becomes the share, what is below stays.

    Args:
        part: not negative.
        bound: positive.
        share: of the bound, 0 or more.

    >>> tuple(map(float, capped((2.0, 0.0, 6.0), (1.0, 0.0, 2.0), 2.5)))
    (2.0, 0.0, 5.0)
    """
    least, most = ratios(part, bound)
    if np.all(most <= share):
        return part
    least = np.maximum(least, 0.0)  # rounding may say less
    gap = most - least
    apart = gap > 1e-9 * most
    inverse = np.where(apart, 1 / np.where(apart, gap, 1.0), 0.0)
    first = [(p - least * b) * inverse for p, b in zip(part, bound, strict=True)]
    low, high = np.minimum(least, share), np.minimum(most, share)
    entries = [low * b + (high - low) * f for b, f in zip(bound, first, strict=True)]
    return entries[0], entries[1], entries[2]


def least_ratio(whole: Entries, part: Entries) -> Quantity:
    """Least ratio of one 3 x 3 form to another, over all directions; never below zero.

    Args:
        whole: entries, of the order of 1.
        part: entries, not negative.
    """
    # Where both are zero (along a single family) there is nothing to compare.
    first, last = whole[0] + _LITTLE, whole[3] + _LITTLE
    _, most = ratios((part[0], part[1], part[3]), (first, whole[1], last))
    positive = (first > 0) & (first * last > whole[1] * whole[1])
    normal = np.where(positive, 1 / np.maximum(most, _TINY), 0.0)
    least = np.minimum(normal, np.maximum(whole[5] / np.maximum(part[5], _TINY), 0.0))
    # Mirrored families cancel in 16 and 26: each wall of an array goes by itself, as one wall does.
    coupled = np.broadcast_arrays(least, whole[2], whole[4], part[2], part[4])[1:]
    apart = np.all([entry == 0 for entry in coupled], axis=0)
    if apart.all():
        return least
    values, vectors = np.linalg.eigh(symmetric(whole))
    unit = vectors / np.sqrt(np.maximum(values, _LITTLE))[..., None, :]
    seen = np.swapaxes(unit, -1, -2) @ symmetric(part) @ unit
    return np.where(apart, least, 1 / np.maximum(np.linalg.eigvalsh(seen)[..., -1], _TINY))
