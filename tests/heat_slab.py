"""A flat layer in a network of heat, for tests with plane solutions of the textbooks."""

from __future__ import annotations

import itertools


def add_slab(builder, thickness, cells, solid, area=1.0, first=None):
    """Add a flat layer of an area to a builder; returns its nodes, ``first`` being one it has."""
    nodes = [first if first is not None else builder.node()]
    nodes += [builder.node() for _ in range(cells)]
    length = thickness / cells
    for low, high in itertools.pairwise(nodes):
        builder.conductor(low, high, solid, area / length, area * length / 2, area * length / 2)
    return nodes
