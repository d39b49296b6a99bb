"""What the tube's own radius changes in the smeared wall: each rib family at its own radius."""

from __future__ import annotations

from collections.abc import Sequence

from gridshell.define.tables.design import Design
from gridshell.define.types import Quantity
from gridshell.material.properties import Properties
from gridshell.wall.geometry.lattice import Lattice
from gridshell.wall.geometry.mass import rib_side
from gridshell.wall.geometry.rib_section import RibSection
from gridshell.wall.stiffness.finite_width import node_stiffness
from gridshell.wall.stiffness.smeared import Entries, add_entries, family_entries


def on_radius(
    design: Design, properties: Properties, grid: Lattice, sections: Sequence[RibSection],
    offsets: Sequence[Quantity],
) -> tuple[Entries, Entries, Entries]:
    """Additions to A, B, D of the flat wall: ribs and nodes at their own radius.

    Returns:
        Six entries each (11, 12, 16, 22, 26, 66), N/m, N, N m.
    """
    found: tuple[Entries, Entries, Entries] = ([0.0] * 6, [0.0] * 6, [0.0] * 6)

    def add(parts: tuple[Entries, Entries, Entries], times: float) -> None:
        for total, more in zip(found, parts, strict=True):
            add_entries(total, [times * entry for entry in more])

    modulus, poisson = properties.modulus, properties.poisson
    shear = modulus / (2 * (1 + poisson))
    ribs, thickness = design.ribs, design.skin.thickness
    for line, section, offset in zip(grid.families, sections, offsets, strict=True):
        for growth, times in ((1 + offset / grid.radius, 1.0), (1.0, -1.0)):
            add(family_entries(
                line.cosine, line.sine, line.pitch, modulus * section.area, offset,
                modulus * section.inertia, shear * section.torsion, growth, poisson,
            ), times)
    if sections and grid.pattern != "families":
        for growth, times in ((1 + offsets[0] / grid.radius, 1.0), (1.0, -1.0)):
            add(node_stiffness(
                modulus, poisson, thickness, rib_side(design), grid.pattern, grid.families,
                sections[0], ribs.corner_radius, ribs.draft, grid.node_area, growth,
            ), times)
    return found
