"""What the tube's own radius changes in the smeared wall: each rib family at its own radius."""

from __future__ import annotations

from collections.abc import Sequence

import numpy as np

from gridshell.define.types import Array, Quantity
from gridshell.wall.geometry.lattice import mirror_pairs
from gridshell.wall.stiffness.finite_width import RibGrid
from gridshell.wall.stiffness.forms import is_zero
from gridshell.wall.stiffness.smeared import Entries, add_entries, family_entries

_SKIN_LEFT = 0.8  # of the skin's stiffness
_HOOP_SHARE = (0, 1, 0, 2, 1, 0)  # hoop directions in entries 11, 12, 16, 22, 26, 66


def on_radius(
    modulus: Quantity, poisson: Quantity, radius: Quantity, grid: RibGrid,
    offsets: Sequence[Quantity], kept: Quantity = 1.0,
) -> tuple[Entries, Entries, Entries]:
    """Additions to A, B, D of the flat wall: ribs and nodes at their own radius.

    Args:
        modulus: Young's modulus, Pa.
        poisson: Poisson's ratio.
        radius: of the skin's middle surface, m.
        grid: the ribs.
        offsets: z of each family's centroid from the skin's middle surface, m.
        kept: share of the rib layers that the flat wall counts; with it the sum stays positive.

    Returns:
        Six entries each (11, 12, 16, 22, 26, 66), N/m, N, N m.
    """
    found: tuple[Entries, Entries, Entries] = ([0.0] * 6, [0.0] * 6, [0.0] * 6)

    def add(parts: tuple[Entries, Entries, Entries], times: float) -> None:
        for total, more in zip(found, parts, strict=True):
            add_entries(total, [times * kept * entry for entry in more])

    shear = modulus / (2 * (1 + poisson))
    for index, count in mirror_pairs(grid.lines, grid.sections):
        line, section, offset = grid.lines[index], grid.sections[index], offsets[index]
        for growth, times in ((1 + offset / radius, 1.0), (1.0, -1.0)):
            add(family_entries(
                line.cosine, line.sine, pitch=line.pitch, axial=modulus * section.area,
                offset=offset, bending=modulus * section.inertia, torsion=shear * section.torsion,
                growth=growth, poisson=poisson, counted=count,
            ), times)
    if grid.lines and grid.pattern != "families":
        for growth, times in ((1 + offsets[0] / radius, 1.0), (1.0, -1.0)):
            add(node_entries(modulus, poisson, offsets[0], grid, growth), times)
    return found


def positive_share(
    flat: tuple[Array, Array, Array], more: tuple[Array, Array, Array],
    skin: tuple[Array, Array], depth: Quantity,
) -> Quantity:
    """Share of what the radius changes that leaves a tenth of the flat wall and most of the skin.

    1 but for ribs that fill half of the radius: there B of ribs at their own radius is far from
    symmetric, and its symmetric part alone may be more than A and D carry. The bow of the skin
    between ribs takes up to 0.7 of its hoop stiffness afterwards, so that much has to be there.

    Args:
        flat: A, B, D of the flat wall, each (..., 3, 3).
        more: what the radius adds, likewise.
        skin: A and D of the skin alone, likewise.
        depth: of the wall, m, to scale moments.
    """
    scale = np.ones((*np.shape(depth), 6))
    scale[..., 3:] = 1 / np.asarray(depth)[..., None]
    laws = [np.concatenate([np.concatenate([A, B], -1), np.concatenate([B, D], -1)], -2)
            * scale[..., :, None] * scale[..., None, :]
            for A, B, D in (flat, more, (skin[0], 0 * skin[0], skin[1]))]
    known = np.isfinite(laws[0] + laws[1] + laws[2]).all((-2, -1))
    laws = [np.where(known[..., None, None], law, np.eye(6)) for law in laws]
    # The flat wall is no softer than its skin, so this is at least a tenth of it.
    laws[0] = 0.9 * laws[0] - _SKIN_LEFT * laws[2]
    factor = np.linalg.inv(np.linalg.cholesky(laws[0]))
    least = np.linalg.eigvalsh(factor @ laws[1] @ np.swapaxes(factor, -1, -2))[..., 0]
    return np.where(known, 1 / np.maximum(-least, 1.0), np.nan)


def node_entries(
    modulus: Quantity, poisson: Quantity, offset: Quantity, grid: RibGrid, growth: Quantity = 1.0
) -> tuple[Entries, Entries, Entries]:
    """Entries of A, B and D that nodes add to bars, with the ribs at their own radius.

    What the rib layer has beyond its bars multiplies the moments of the section as they stand.
    There its area is larger by ``growth``, and hoop curvature strains it by k_t z/growth, less what
    the ribs' Poisson contraction takes (see `gridshell.wall.stiffness.smeared.family_entries`).

    Args:
        modulus: Young's modulus, Pa.
        poisson: Poisson's ratio.
        offset: z of the ribs' centroid from the skin's middle surface, m.
        grid: the ribs of a pattern with known nodes.
        growth: radius of the ribs over that of the reference surface.
    """
    section, turned = grid.sections[0], grid.at(growth)
    layer = turned.layer(poisson)
    whole = (layer.G11, layer.G12, 0.0, layer.G22, 0.0, layer.G66)
    stretch = modulus * section.area * growth
    bend = modulus * section.inertia * growth
    once, half = 1 - poisson * (growth - 1), 1 - poisson * (growth - 1) / 2
    found: tuple[Entries, Entries, Entries] = ([0.0] * 6, [0.0] * 6, [0.0] * 6)
    for n, (part, bar, hoop) in enumerate(zip(whole, turned.bars(), _HOOP_SHARE, strict=True)):
        if is_zero(part):
            continue
        gain = (part - bar) / section.even_width
        lever = (half / growth + once) / 2 if hoop == 1 else (once * half / growth) ** (hoop / 2)
        found[0][n] = stretch * once**hoop * gain
        found[1][n] = stretch * offset * lever * gain
        found[2][n] = (stretch * offset**2 * (half / growth) ** hoop
                       + bend * (once / growth**2) ** hoop) * gain
    return found
