"""General instability under the true stress of bending, which couples the waves round the tube.

The rule for design is the compression load at the most compressed fiber (NASA/SP-8007-2020/REV 2,
4.1.2). It is near the truth where many waves go round, and far on the safe side where two or
three do: those need the whole ring, of which bending compresses half.
"""

from __future__ import annotations

import numpy as np

from gridshell.define.types import Array, Quantity
from gridshell.tube.buckling.general import CELLS_PER_WAVE, wave_law
from gridshell.tube.buckling.wave_laws import condensed, layer_work, skin_bowing
from gridshell.tube.buckling.wave_stiffness import WaveStiffness
from gridshell.wall.assess import Wall

_MAX_ROUND = 40


def coupled_bending_load(law: WaveStiffness, length: float, m: int, max_round: int) -> float:
    """Moment (N m) at which m half waves along buckle, all waves round acting together.

    W_n cos(n t), V_n sin(n t), n = 0..max_round; axial amplitudes condensed; the line force
    N cos(t) works as N l^2 (V^2 + W^2) and couples n with n + 1 (D. L. Block, NASA TN D-3351, 1966,
    treats the same problem; title from a list of references, written here from the energy). What
    bowing of the skin and the depth of the layers take from the load of a single wave is
    taken from its stiffness.

    Args:
        law: wave matrix of one wall.
        length: of the tube, m.
        m: half waves along.
        max_round: waves round that take part.
    """
    n = np.arange(max_round + 1)
    x = np.full(len(n), (m * np.pi / length) ** 2)
    number = n / law.radius
    y = number**2
    k22, k23, k33, bent = condensed(law, x, y)
    layers, plain = layer_work(law, x, y, y * k23 / k22, bent)
    single = skin_bowing(
        law, x, y=y, k22=k22, k23=k23, k33=k33, bent=bent, share=law.skin_along,
    ) * plain / layers
    size = len(n)
    k = np.zeros((2 * size, 2 * size))  # W first, then V
    k[n, n] = k33 * single * np.where(n == 0, 2.0, 1.0)  # cos^2 of n = 0 counts twice
    k[size + n, size + n] = k22 * single
    k[n, size + n] = k[size + n, n] = number * k23 * single
    work = np.zeros_like(k)
    for j in range(max_round):
        work[j, j + 1] = work[j + 1, j] = x[0] / 2 * (2.0 if j == 0 else 1.0)
        work[size + j, size + j + 1] = work[size + j + 1, size + j] = (
            law.in_plane * x[0] / 2 * (j > 0)
        )
    keep = np.delete(np.arange(2 * size), size)  # there is no V of n = 0
    half = np.linalg.inv(np.linalg.cholesky(k[np.ix_(keep, keep)]))
    value = np.linalg.eigvalsh(half @ work[np.ix_(keep, keep)] @ half.T)
    return float(np.pi * law.radius**2 / value[-1])


def longest_waves(wall: Wall, max_m: float) -> Array:
    """Half waves along, each of two rib spacings or more, up to ``max_m``; geometric, whole."""
    pitch: Quantity = 0.0
    for line in wall.grid.families:
        if abs(float(line.sine)) > 1e-6:
            pitch = max(pitch, float(line.pitch) / abs(float(line.sine)))
    length = float(wall.design.tube.length)
    top = min(max_m, length / (CELLS_PER_WAVE * pitch)) if pitch else max_m
    return np.unique(np.rint(np.geomspace(1, max(top, 1.0), 30)))


def true_bending_load(
    wall: Wall, max_m: float = 400.0, max_round: int = _MAX_ROUND
) -> tuple[float, int]:
    """Lowest moment of one wall under the true stress of bending, N m, and its half waves along.

    Waves shorter than two rib spacings are left out: they are pockets and ribs, which have checks
    of their own.

    Args:
        wall: one.
        max_m: half waves along looked at.
        max_round: waves round that take part.
    """
    law = wave_law(wall)
    length = float(wall.design.tube.length)
    found = [(coupled_bending_load(law, length, int(m), max_round), int(m))
             for m in longest_waves(wall, max_m)]
    return min(found)


def bending_notes(wall: Wall, rule: Quantity, n: Quantity) -> tuple[str, ...]:
    """How far the rule of design is on the safe side, for one ribbed wall; nothing for arrays.

    Args:
        wall: one or many.
        rule: moment by the rule, before any knockdown, N m.
        n: waves round of that load.
    """
    if np.ndim(rule) or not wall.design.has_ribs or not np.isfinite(rule) or not rule > 0:
        return ()
    # Waves round far from those of the rule hardly take part.
    moment, _ = true_bending_load(wall, max_round=2 * int(n) + 10)
    if moment < 1.05 * float(rule):
        return ()
    return (
        "design rule (compression load at the most compressed fiber); a coupled solution gives "
        f"{moment / float(rule):.2f} times this load",
    )
