"""Torsion between ends that stay round: a series of waves along the tube, coupled by the torque.

A torque leans waves over, so no single wave sin(m pi x/L) cos(n t) buckles alone. The wave is a sum
of sin(p pi x/L), p = 1, 2, ..., with complex amplitudes: every term is round at both ends and free
to move along there and keeps the energy of `WaveStiffness`; shear flow couples odd p with even.
The search of `waves` finds n and the mean wave number with two helices; here that answer, 3 to 8 %
high, is brought down to what the ends allow.
"""

from __future__ import annotations

import numpy as np

from gridshell.define.types import Array, Quantity
from gridshell.tube.buckling.wave_stiffness import WaveStiffness
from gridshell.tube.buckling.waves import LowestWave, flattened, helix

TERMS = 12
_AT_ONCE = 3000  # designs: keeps memory bounded and arrays in a cache


def series_load(
    law: WaveStiffness, length: Quantity, n: Array, first: Array, terms: int = TERMS
) -> Array:
    """Shear flow of torsion (N/m) at which n waves round buckle; all arguments (designs,).

    With amplitude c_p, energy is (L/8) sum k_p |c_p|^2 and work per shear flow is
    (1/2R) sum i c_p c_q* p q (a_p + a_q)/(q^2 - p^2) over p + q odd, a_p = n (1 + V_p/(n W)) and
    what `helix` adds to it: the load is one over the largest singular value of odd against even
    (Galerkin's method, as Batdorf, Stein and Schildcrout used it for plain tubes, NACA TN 1344,
    1947, cited from memory; written here from the energy).

    Args:
        law: wave matrix of the walls. length: m.
        n: waves round. first: lowest p of the series. terms: how many.
    """
    p = first[:, None] + np.arange(terms)
    y = (n / law.radius)[:, None] ** 2
    lifted = law.with_each(lambda value: value[..., None])
    wave = p * np.pi / np.asarray(length)[..., None]
    energy, work = helix(lifted, wave, y)
    lean = work * lifted.radius / (2 * wave)
    root = np.sqrt(np.maximum(energy, 1e-300))
    one, other = slice(0, None, 2), slice(1, None, 2)
    a, b = p[:, one, None], p[:, None, other]
    table = a * b / (b * b - a * a) * (lean[:, one, None] + lean[:, None, other])
    table = table / (root[:, one, None] * root[:, None, other])
    square = table @ table.swapaxes(1, 2)
    largest = np.sqrt(np.linalg.eigvalsh(square)[:, -1])
    with np.errstate(divide="ignore"):
        return np.asarray(length * law.radius / (4 * largest))


def first_term(m: Quantity) -> Array:
    """Lowest p of a series round a mean wave number of m half waves."""
    return np.maximum(np.rint(m) - TERMS // 2, 1.0)


def _picked(law: WaveStiffness, part: slice) -> WaveStiffness:
    """Some designs of a flattened law."""
    return law.with_each(lambda value: value[part])


def between_ends(law: WaveStiffness, found: LowestWave, length: Quantity) -> LowestWave:
    """The lowest load of torsion by the series, from the two-helix answer of the search.

    Waves round: the one found and those next to it; the series often prefers the one below.
    """
    shape = np.shape(found.load)
    flat = flattened(law, shape)
    span = np.broadcast_to(np.asarray(length, float), shape).ravel()
    load, m, n = (np.array(np.ravel(part), float) for part in (found.load, found.m, found.n))
    best, best_n = load.copy(), n.copy()
    for start in range(0, load.size, _AT_ONCE):
        part = slice(start, start + _AT_ONCE)
        usable = np.isfinite(load[part])
        first = first_term(np.where(usable, m[part], 1.0))
        some = _picked(flat, part)
        for step in (-1, 0, 1):
            tried = np.maximum(np.where(usable, n[part], 2.0) + step, 2.0)
            lower = np.where(usable, series_load(some, span[part], tried, first), np.inf)
            better = lower < best[part]
            best[part] = np.where(better, lower, best[part])
            best_n[part] = np.where(better, tried, best_n[part])
    return LowestWave(
        best.reshape(shape), np.reshape(m, shape), best_n.reshape(shape), found.on_edge)
