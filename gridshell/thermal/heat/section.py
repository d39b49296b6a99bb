"""The wall of a design as columns of nodes: thin wall, rib on its strip of skin, solid land.

One meter of the tube. The columns share heat sideways through the skin. Everything is scaled so
that the material chilled is the material weighed.
"""

from __future__ import annotations

import itertools
from dataclasses import dataclass
from typing import Any

import numpy as np

from gridshell.define.tables.chill import SleeveLayer
from gridshell.define.tables.design import Design
from gridshell.define.types import Array, Quantity
from gridshell.thermal.heat.network import INSIDE, OUTSIDE, Builder, Network, Solid, constant_solid
from gridshell.wall.geometry.lattice import FamilyLine, Lattice, lattice
from gridshell.wall.geometry.mass import tube_volume
from gridshell.wall.geometry.rib_section import RibSection, rib_section

STILL_GAS_CONDUCTIVITY = 0.024  # W/(m K), air in the pockets between outside ribs and a sleeve

# From the mean to the edge of a panel that is cooled through its edges, over area/perimeter:
# 1/3 for a strip (parabola), 0.6 for an equilateral triangle and 0.5625 for a square, from
# their torsion constants (the same Poisson equation). 0.6 serves for all closed pockets.
STRIP_REACH, POCKET_REACH = 1 / 3, 0.6


@dataclass(frozen=True)
class SectionPart:
    """Nodes of one part of the wall.

    Attributes:
        nodes: (k,) in order from the inside (a rib: from its foot).
        volume: that each node holds, m3 per meter of tube (..., k).
        depth: distance of each node from the first, m (..., k).
    """

    nodes: np.ndarray
    volume: Array
    depth: Array


@dataclass(frozen=True)
class WallSection:
    """A wall ready to be chilled.

    Attributes:
        bare: the network without a sleeve.
        covered: with it (the same when there is none). The tube's nodes come first and are numbered
            alike in both.
        tube_nodes: how many nodes belong to the tube.
        parts: "skin" (thin wall between ribs), "foot" (skin under the ribs), "rib" and "land",
            those that the design has.
        diameter: m.
        covered_diameter: m.
        bore: m.
        thickness: of the skin and of the land, m.
        land_depth: of the skin and of the land, m.
        radius: of the skin's middle surface, m.
        end_land: width of a land at the end of a section, m.
        rib_sharing: share of the ribs that holds the skin in one direction: 1 for one family, 1/2
            for a grid, whose ribs work in both directions at once.
        cross: section of lands along the seams over the section of the whole wall.
        volume: of the tube, m3 per meter.
    """

    bare: Network
    covered: Network
    tube_nodes: int
    parts: dict[str, SectionPart]
    diameter: Quantity
    covered_diameter: Quantity
    bore: Quantity
    thickness: Quantity
    land_depth: Quantity
    radius: Quantity
    end_land: Quantity
    rib_sharing: float
    cross: Quantity
    volume: Quantity


@dataclass(frozen=True)
class _Ribs:
    height: Quantity
    covered: Quantity  # share of the skin under ribs
    flanks: Quantity  # length of rib flank per area of skin, 1/m
    lines: tuple[FamilyLine, ...]
    sections: tuple[RibSection, ...]

    def width(self, depth: Quantity) -> Quantity:
        """Rib width over pitch, summed over the families, at a height above the skin."""
        total: Quantity = 0.0
        for line, rib in zip(self.lines, self.sections, strict=True):
            lean = (rib.root_width - rib.tip_width) * (1 - depth / rib.height)
            total = total + np.where(depth < rib.height, (rib.tip_width + lean) / line.pitch, 0.0)
        return total


def _ribs(design: Design, grid: Lattice) -> _Ribs | None:
    if not grid.families:
        return None
    stated = design.ribs
    sections: list[RibSection] = []
    height: Quantity = 0.0
    open_share: Quantity = 1.0
    flanks: Quantity = 0.0
    for line in grid.families:
        rib = rib_section(
            stated.height if line.height is None else line.height,
            stated.width if line.width is None else line.width, stated.draft,
            stated.root_fillet)
        sections.append(rib)
        height = np.maximum(height, rib.height)
        open_share = open_share * np.maximum(1 - rib.root_width / line.pitch, 0.05)
        flanks = flanks + 2 / line.pitch
    return _Ribs(height, 1 - open_share, flanks, grid.families, tuple(sections))


def wall_section(
    design: Design, solid: Solid, cells: int = 6, sleeve: tuple[SleeveLayer, ...] = (),
) -> WallSection:
    """Columns of the wall of a design (or of many designs of one pattern).

    Args:
        solid: the tube's material, as the network takes it.
        cells: cells through the skin; ribs and lands get more in proportion.
        sleeve: layers round the tube, from the wall outwards.
    """
    grid = lattice(design)
    ribs = _ribs(design, grid)
    bare, parts, facts = _columns(design, grid, ribs, solid, cells, ())
    covered, _, covered_facts = (
        _columns(design, grid, ribs, solid, cells, sleeve) if sleeve else (bare, parts, facts))
    return WallSection(
        bare=bare, covered=covered, parts=parts, covered_diameter=covered_facts["diameter"],
        **facts)


def _columns(
    design: Design, grid: Lattice, ribs: _Ribs | None, solid: Solid, cells: int,
    sleeve: tuple[SleeveLayer, ...],
) -> tuple[Network, dict[str, SectionPart], dict[str, Any]]:
    tube, thickness, radius = design.tube, design.skin.thickness, grid.radius
    outward = ribs is not None and design.ribs.side == "outside"
    height: Quantity = ribs.height if ribs is not None else 0.0
    inner, outer = radius - thickness / 2, radius + thickness / 2
    land_inner = inner - (0.0 if outward else height)
    land_outer = outer + (height if outward else 0.0)
    around = 2 * np.pi * radius
    has_land = ribs is not None and bool(
        np.any(np.asarray(grid.end_land) > 0) or np.any(np.asarray(grid.seam_land) > 0))
    ends = 2 * grid.end_land * grid.sections / tube.length
    seams = grid.segments * grid.seam_land / around
    land_share = np.maximum(1 - (1 - ends) * (1 - seams), 1e-6) if has_land else 0.0
    foot_share = (1 - land_share) * ribs.covered if ribs is not None else 0.0
    skin_share = 1 - land_share - foot_share

    builder = Builder()
    chains = {"skin": builder.wall(inner, outer, cells, solid, skin_share)}
    rib_side = OUTSIDE if outward else INSIDE
    rib_scale: Quantity = 1.0
    total: Quantity = np.pi * (outer**2 - inner**2)
    if ribs is not None:
        chains["foot"] = builder.wall(inner, outer, cells, solid, foot_share)
        weighed = tube_volume(design, grid, ribs.sections) / tube.length
        land_volume = land_share * np.pi * (land_outer**2 - land_inner**2)
        thin = (1 - land_share) * total
        # Ribs crossing at a node are one piece; the true volume says how much that takes away.
        fin_cells = min(max(2 * cells, 6), 4 * cells)
        lengths = [(i + 0.5) * height / fin_cells for i in range(fin_cells)]
        plain = sum(ribs.width(z) * height / fin_cells for z in lengths) * around * (
            1 - land_share)
        rib_scale = np.maximum(weighed - land_volume - thin, 0.05 * plain) / plain
        total = thin + land_volume + plain * rib_scale
        chains["rib"] = _fin(
            builder, ribs, solid=solid, cells=fin_cells, base=chains["foot"][-1 if outward else 0],
            length=around * (1 - land_share) * rib_scale, surface=around * (1 - land_share),
            side=rib_side,
        )
    if has_land:
        land_cells = max(cells + 2, 2 * cells)
        chains["land"] = builder.wall(land_inner, land_outer, land_cells, solid, land_share)
    tube_nodes = builder.count

    # Inner and outer faces. Flanks see each other more than the surroundings: no radiation.
    builder.face(chains["skin"][0], skin_share * 2 * np.pi * inner, INSIDE)
    if ribs is not None and outward:
        builder.face(chains["foot"][0], foot_share * 2 * np.pi * inner, INSIDE)
    if has_land:
        builder.face(chains["land"][0], land_share * 2 * np.pi * land_inner, INSIDE)
    if ribs is not None:
        _sideways(
            builder, grid, ribs=ribs, solid=solid, chains=chains, design=design, around=around,
            land_share=land_share, rib_side=rib_side,
        )
    outermost = _outside(
        builder, chains, sleeve=sleeve, outward=outward, outer=outer, land_outer=land_outer,
        skin_share=skin_share, foot_share=foot_share, land_share=land_share, ribs=ribs,
        around=around, height=height,
    )

    network = builder.build()
    parts = _parts(network, chains, inner, thickness, land_inner, height)
    facts: dict[str, Any] = {
        "tube_nodes": tube_nodes, "diameter": 2 * outermost, "bore": 2 * land_inner,
        "thickness": thickness, "land_depth": thickness + height, "radius": radius,
        "end_land": grid.end_land if has_land else 0.0,
        "volume": total, "rib_sharing": 1.0 if len(grid.families) == 1 else 0.5,
        "cross": seams * (thickness + height) / (
            seams * (thickness + height) + (1 - seams) * (thickness + _rib_area(ribs)))
        if has_land else 0.0,
    }
    return network, parts, facts


def _rib_area(ribs: _Ribs | None) -> Quantity:
    area: Quantity = 0.0
    if ribs is not None:
        for line, rib in zip(ribs.lines, ribs.sections, strict=True):
            area = area + rib.area / line.pitch
    return area


def _fin(
    builder: Builder, ribs: _Ribs, solid: Solid, cells: int, base: int, length: Quantity,
    surface: Quantity, side: int,
) -> list[int]:
    """Ribs as one fin from the node at their foot; widths per meter of tube are width x length."""
    nodes = [base] + [builder.node() for _ in range(cells)]
    step = ribs.height / cells
    for i in range(cells):
        width = ribs.width((i + 0.5) * step) * length
        builder.conductor(nodes[i], nodes[i + 1], solid, width / step, width * step / 2,
                          width * step / 2)
        for node in nodes[i : i + 2]:
            builder.face(node, ribs.flanks * surface * step / 2, side, radiates=False)
    return nodes


def _sideways(
    builder: Builder, grid: Lattice, ribs: _Ribs, solid: Solid, chains: dict[str, list[int]],
    design: Design, around: Quantity, land_share: Quantity, rib_side: int,
) -> None:
    """Heat along the skin, from thin wall to rib foot and to land, and the flanks of the land."""
    reach = STRIP_REACH if len(grid.families) == 1 else POCKET_REACH
    open_length = reach * (1 - ribs.covered) / ribs.flanks
    half_foot = ribs.covered / ribs.flanks
    flank = ribs.flanks * around * (1 - land_share)
    _link(
        builder, chains["skin"], last=chains["foot"], solid=solid, length=flank,
        distance=open_length + half_foot / 3, thickness=design.skin.thickness,
    )
    if "land" not in chains:
        return
    # Length of edge per length of tube: two rings a section, two lines a segment.
    rings = np.where(np.asarray(grid.end_land) > 0, 2.0 * grid.sections, 0.0)
    lines = np.where(np.asarray(grid.seam_land) > 0, 2.0 * grid.segments, 0.0)
    edges = rings * around / design.tube.length + lines
    half_land = np.maximum(grid.end_land, grid.seam_land / 2) / 3
    land = chains["land"]
    beside = land[: len(chains["skin"])] if rib_side == OUTSIDE else land[-len(chains["skin"]):]
    _link(
        builder, chains["skin"], last=beside, solid=solid, length=edges,
        distance=open_length + half_land, thickness=design.skin.thickness,
    )
    free = land[len(chains["skin"]) - 1:] if rib_side == OUTSIDE else land[
        : len(land) - len(chains["skin"]) + 1]
    for node in free:
        builder.face(node, edges * ribs.height / len(free), rib_side, radiates=False)


def _link(
    builder: Builder, first: list[int], last: list[int], solid: Solid, length: Quantity,
    distance: Quantity, thickness: Quantity,
) -> None:
    cells = len(first) - 1
    for i, (a, b) in enumerate(zip(first, last, strict=True)):
        share = (0.5 if i in (0, cells) else 1.0) / cells
        builder.conductor(a, b, solid, length * thickness * share / distance)


def _outside(
    builder: Builder, chains: dict[str, list[int]], sleeve: tuple[SleeveLayer, ...],
    outward: bool, outer: Quantity, land_outer: Quantity, skin_share: Quantity,
    foot_share: Quantity, land_share: Quantity, ribs: _Ribs | None, around: Quantity,
    height: Quantity,
) -> Quantity:
    """Outer faces, or the sleeve and its outer faces; returns the outermost radius."""
    tip: Quantity = 0.0
    if ribs is not None:
        tip = ribs.width(height * (1 - 1e-9)) * around * (1 - land_share)
    tops: list[tuple[int, Quantity, Quantity]] = [
        (chains["skin"][-1], skin_share, skin_share * 2 * np.pi * outer)]
    if ribs is not None and outward:
        tops.append((chains["rib"][-1], foot_share, tip))
    elif ribs is not None:
        tops.append((chains["foot"][-1], foot_share, foot_share * 2 * np.pi * outer))
        builder.face(chains["rib"][-1], tip, INSIDE, radiates=False)
    if "land" in chains:
        tops.append((chains["land"][-1], land_share, land_share * 2 * np.pi * land_outer))
    if not sleeve:
        for node, _, area in tops:
            builder.face(node, area, OUTSIDE)
        return land_outer
    end: Quantity = land_outer
    # One object a layer, so that the network groups its cells.
    made = [constant_solid(layer.name, float(layer.conductivity), float(layer.density),
                           float(layer.heat_capacity)) for layer in sleeve]
    for node, share, _ in tops:
        low, start = land_outer, node
        if outward and node == chains["skin"][-1]:
            start = builder.node()
            builder.contact(node, start, share * 2 * np.pi * outer * STILL_GAS_CONDUCTIVITY
                            / height)
        for layer, solid in zip(sleeve, made, strict=True):
            high = low + layer.thickness
            start = builder.wall(low, high, 3, solid, share, first=start)[-1]
            low = high
        end = low
        builder.face(start, share * 2 * np.pi * end, OUTSIDE)
    return end


def _parts(
    network: Network, chains: dict[str, list[int]], inner: Quantity, thickness: Quantity,
    land_inner: Quantity, height: Quantity,
) -> dict[str, SectionPart]:
    parts = {}
    for name, nodes in chains.items():
        cells = len(nodes) - 1
        held = np.zeros((*network.volume.shape[:-2], len(nodes)))
        pairs = {pair: i for i, pair in enumerate(map(tuple, network.ends.tolist()))}
        for i, pair in enumerate(itertools.pairwise(nodes)):
            held[..., i] += network.volume[..., pairs[pair], 0]
            held[..., i + 1] += network.volume[..., pairs[pair], 1]
        deep = {"rib": height, "land": thickness + height}.get(name, thickness)
        depth = np.asarray(deep, dtype=float)[..., None] * np.arange(cells + 1) / cells
        parts[name] = SectionPart(np.array(nodes), held, depth)
    return parts
