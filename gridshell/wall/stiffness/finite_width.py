"""Wall with ribs of finite width: skin, rib layers with their nodes, and strips, within bounds.

The handbook smears thin ribs: each is a bar under uniaxial stress from node to node. Cast ribs are
2 to 5 mm wide on a 15 to 40 mm grid, and then the energy of a strain e + z k has three parts:

1. *Skin and rib layers*, each strained by itself (`rib_layer`): skin and bars of the handbook, and
   nodes, where ribs that cross stiffen each other. Layers free to slide on each other hold less
   than a wall, so this part alone is a lower bound.
2. *Strips* (`strip`): the skin restrains the foot of each rib across, and in shear and twist. Each
   family adds a positive definite part.
3. *Torsion at nodes*: a twisting rib leans over sideways between nodes and can't at them.

An upper bound is every layer strained alike: the solid share of the layer times the solid's
stiffness in plane stress (Voigt, uniform strain; R. M. Jones, Mechanics of Composite Materials,
ch. 3, from memory). Rib layers and strips are cut back where they would pass it together. So the
stiffness is positive definite and between both bounds for every section, up to ribs that close the
pockets.
"""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from dataclasses import dataclass, replace

import numpy as np

from gridshell.define.types import Quantity
from gridshell.wall.geometry.lattice import FamilyLine, mirror_pairs
from gridshell.wall.geometry.rib_section import RibSection
from gridshell.wall.stiffness.forms import (
    Form,
    add_products,
    capped,
    is_zero,
    least_ratio,
    ratios,
    scaled,
)
from gridshell.wall.stiffness.rib_layer import Layer, bars_share, rib_layer, solid_share
from gridshell.wall.stiffness.smeared import Entries, products, skin_entries
from gridshell.wall.stiffness.strip import StripLengths, strip_lengths

# The two numbers that are fitted to unit cells (gridshell/proof/maps). Crossing ribs stop a
# twisting rib from leaning over: share of its torsion per (height / node distance).
NODE_TORSION = 1.5
# The skin restrains the material of rounded corners: strips add more, by so many times the share
# of the corners over that of the ribs.
CORNERS_HELD = 2.5
CORNERS_MOST = 0.28  # of that ratio: the largest that a cell was solved for; held from there on
# Gauss points from 0 to 1 and their weights.
_GAUSS = ((0.5 - np.sqrt(0.15), 5 / 18), (0.5, 8 / 18), (0.5 + np.sqrt(0.15), 5 / 18))
_LEAST_GAP = 1e-6  # of a strip: what pockets keep where ribs close them


@dataclass(frozen=True)
class RibGrid:
    """What the stiffness needs of a grid of ribs; lengths in m.

    Attributes:
        pattern: of the ribs; "families" has no known nodes.
        lines: the rib families.
        sections: rib section of each; one for all but for "families".
        node_area: wall area per node, m2 (isogrid: row height times rib length).
        root_fillet: radius between rib and skin.
        corner_radius: of the pockets at the skin, see `corner_at`.
        draft: of each flank, rad.
    """

    pattern: str
    lines: Sequence[FamilyLine]
    sections: Sequence[RibSection]
    node_area: Quantity
    root_fillet: Quantity = 0.0
    corner_radius: Quantity = 0.0
    draft: Quantity = 0.0

    def at(self, growth: Quantity) -> RibGrid:
        """The same ribs at another radius: other angles, pitches and node distances.

        Args:
            growth: that radius over the radius of the reference surface.
        """
        turned = []
        for line in self.lines:
            length = np.sqrt(line.cosine**2 + (line.sine * growth) ** 2)
            turned.append(replace(
                line, cosine=line.cosine / length, sine=line.sine * growth / length,
                pitch=line.pitch * growth / length,
            ))
        return replace(self, lines=tuple(turned), node_area=self.node_area * growth)

    def mirrored(self) -> Iterator[tuple[FamilyLine, RibSection, int]]:
        """Families with how often each counts: a pair of mirror images is done once."""
        for index, times in mirror_pairs(self.lines, self.sections):
            yield self.lines[index], self.sections[index], times

    def layer(self, poisson: Quantity) -> Layer:
        """The rib layer of a known pattern, at the ribs' even width."""
        section = self.sections[0]
        return rib_layer(
            self.pattern, self.lines, self.node_area, section.even_width,
            self.corner_at(section.height / 2), poisson)

    def strip_of(self, thickness: Quantity, section: RibSection) -> StripLengths:
        """`strip_lengths` of one of its sections, found once.

        Args:
            thickness: of the skin, m; the same at every call.
            section: one of `sections`.
        """
        kept: dict[int, StripLengths] = vars(self).setdefault("_strips", {})
        if id(section) not in kept:
            kept[id(section)] = strip_lengths(thickness, section, self.root_fillet)
        return kept[id(section)]

    def corner_at(self, above: Quantity) -> Quantity:
        """Corner radius of the pockets at a height above the skin, m.

        It grows with the draft; a pocket that is sharp at the skin stays sharp, as it is cast and
        weighed (`gridshell.wall.geometry.mass.pocket_outline_at`).
        """
        if is_zero(self.corner_radius):
            return 0.0
        return np.where(np.asarray(self.corner_radius) > 0,
                        self.corner_radius + above * np.tan(self.draft), 0.0)[()]

    def bars(self) -> Entries:
        """Bars of a rib layer, without nodes: sum of width/pitch P P', over E."""
        total: Entries = [0.0] * 6
        for line, section, times in self.mirrored():
            share = times * section.even_width / line.pitch
            add_products((total,), (share,), products(line.pull, times))
        return total


@dataclass(frozen=True)
class FiniteWidth:
    """Stiffness of a wall with ribs of finite width.

    Attributes:
        A: entries 11, 12, 16, 22, 26, 66 of the membrane stiffness, N/m.
        B: the same of the coupling about the skin's middle surface, N.
        D: the same of the bending stiffness about the skin's middle surface, N m.
        kept: share of the rib layers' own stiffness that counts: 1, but for crossing families of
            the user's own and where ribs all but close the pockets.
    """

    A: Entries
    B: Entries
    D: Entries
    kept: Quantity


def _across(thickness: Quantity, pitch: Quantity, side: float, strip: StripLengths) -> Form:
    """What one family adds across its ribs, over E/(1 - v^2): stretch, coupling, bending."""
    # Compliance over that of the skin, with moment measured in units of force times t/sqrt(12).
    first = 1 - strip.stretch / pitch
    second = 1 - strip.bend / pitch
    cross = -strip.couple / thickness / pitch / np.sqrt(12.0)
    determinant = first * second - cross * cross
    return (
        thickness * (second / determinant - 1),
        -side * thickness * thickness / np.sqrt(12.0) * cross / determinant,
        thickness**2 * thickness / 12 * (first / determinant - 1),
    )


def _shear(thickness: Quantity, pitch: Quantity, side: float, strip: StripLengths) -> Form:
    """What one family adds in shear and twist, over G."""
    slide = thickness / (1 - strip.shear / pitch)
    lever = side * thickness * strip.flow_offset / pitch
    return (
        slide - thickness, slide * lever, slide * lever * lever + strip.torsion / (4 * pitch)
    )


def _solid_moments(thickness: Quantity, side: float, grid: RibGrid) -> Form:
    """Integrals of 1, z, z^2 times the solid share, over the height of the ribs.

    Gauss points along fillet and flank, each with width, fillet and corner radius at its height.
    """
    height: Quantity = 0.0
    for section in grid.sections:
        height = np.maximum(height, section.height)
    lean = np.tan(grid.draft)
    straight = is_zero(grid.root_fillet) and is_zero(lean)
    total: list[Quantity] = [0.0, 0.0, 0.0]
    foot = grid.root_fillet
    if straight:
        points = [(0.5 * height, height)]
    elif is_zero(foot):
        points = [(x * height, weight * height) for x, weight in _GAUSS]
    else:
        points = [(x * foot, weight * foot) for x, weight in _GAUSS]
        points += [(foot + x * (height - foot), weight * (height - foot)) for x, weight in _GAUSS]
    for above, weight in points:
        bite = np.maximum(grid.root_fillet - above, 0.0)
        fillet = grid.root_fillet - np.sqrt(grid.root_fillet**2 - bite**2)
        widths = [
            np.where(above <= section.height, section.tip_width + 2 * fillet
                     + 2 * lean * (section.height - above), 0.0)
            for section in grid.sections
        ]
        pitches = [line.pitch for line in grid.lines]
        radius = np.maximum(grid.corner_at(above) - fillet, 0.0)
        solid, _ = solid_share(grid.pattern, pitches, grid.node_area, widths, radius)
        z = side * (thickness / 2 + above)
        own = height * height / 12 if straight else 0.0
        for n, factor in enumerate((1.0, z, z * z + own)):
            total[n] = total[n] + weight * solid * factor
    return total[0], total[1], total[2]


def finite_width(
    modulus: Quantity, poisson: Quantity, thickness: Quantity, side: float, grid: RibGrid,
    strips: bool = True,
) -> FiniteWidth:
    """A, B and D of a wall with ribs of finite width.

    Args:
        modulus: Young's modulus, Pa.
        poisson: Poisson's ratio.
        thickness: of the skin, m.
        side: +1 for ribs outside, -1 inside.
        grid: the ribs.
        strips: False: skin and rib layers alone, a lower bound of the wall.
    """
    A, D = skin_entries(modulus, poisson, thickness)
    total: tuple[Entries, Entries, Entries] = (A, [0.0] * 6, D)
    most = _solid_moments(thickness, side, grid)
    layer, parts, kept, fuller = _rib_layers(poisson, thickness, side, grid)
    plane, slide = 1 / (1 - poisson * poisson), 1 / (2 * (1 + poisson))
    solid: Entries = [plane, poisson * plane, 0.0, plane, 0.0, slide]

    # Rib layers below the solid's stiffness; what is left of that is room for the strips.
    # A little below: what is left stays positive whatever rounding does to a single family.
    limit = (1 - 1e-5) * least_ratio(solid, layer)
    largest: Quantity = 0.0
    for moments, weight, shares in parts:
        held = capped(moments, most, limit * weight)
        if held is not moments:
            kept = np.minimum(kept, ratios(held, moments)[0])
        largest = np.maximum(largest, ratios(held, most)[1] / weight)
        add_products(total, scaled(modulus, held), shares)
    if not strips:
        return FiniteWidth(*total, kept)
    left = [whole if is_zero(part) else whole - largest * part
            for whole, part in zip(solid, layer, strict=True)]

    added: list[tuple[Form, Quantity, Entries]] = []
    together: Entries = [0.0] * 6
    for line, section, times in grid.mirrored():
        strip = grid.strip_of(thickness, section)
        if grid.pattern != "families":
            more = NODE_TORSION * section.height * line.pitch / grid.node_area
            strip = replace(strip, torsion=strip.torsion * (1 + more))
        # A rib wider than the pitch closes the pockets; the strip then is all there is.
        foot = section.root_width + 2 * grid.root_fillet
        pitch = np.maximum(line.pitch, foot * (1 + _LEAST_GAP))
        weight = section.even_width / line.pitch
        cc, ss, cs = line.pull
        # Strain across plus v times strain along is what the strip resists; and shear along it.
        across = products((ss + poisson * cc, cc + poisson * ss, (poisson - 1) * cs), times)
        along = products((-2 * cs, 2 * cs, cc - ss), times)
        for form, factor, shares in (
            (_across(thickness, pitch, side, strip), times * plane, across),
            (_shear(thickness, pitch, side, strip), times * slide, along),
        ):
            shares = [factor * share for share in shares]
            added.append((scaled(fuller, form), weight, shares))
            add_products((together,), (weight,), shares)
    room = least_ratio(left, together)
    for form, weight, shares in added:
        held = capped(form, most, weight * room)
        add_products(total, scaled(modulus, held), shares)
    return FiniteWidth(*total, kept)


def _rib_layers(
    poisson: Quantity, thickness: Quantity, side: float, grid: RibGrid
) -> tuple[Entries, list[tuple[Form, Quantity, Entries]], Quantity, Quantity]:
    """The rib layers before any bound.

    Returns:
        Entries of a layer over E; its parts as moments, weight in the layer, and entries over E;
        the share of the bars that is kept; and by how much strips add more for rounded corners.
    """
    moments = {
        id(section): _moments(section, side * (thickness / 2 + section.centroid))
        for section in grid.sections
    }
    if grid.pattern != "families":
        section, layer = grid.sections[0], grid.layer(poisson)
        width = section.even_width
        entries: Entries = [layer.G11, layer.G12, 0.0, layer.G22, 0.0, layer.G66]
        covered = sum((width / line.pitch for line in grid.lines), start=0.0)
        part = scaled(1 / width, moments[id(section)])
        rounded = np.minimum(layer.corners / covered, CORNERS_MOST)
        return entries, [(part, 1.0, entries)], 1.0, 1 + CORNERS_HELD * rounded
    kept = bars_share(grid.lines, grid.sections, poisson)
    parts = []
    for line, section, times in grid.mirrored():
        share = times / line.pitch
        parts.append((scaled(kept * share, moments[id(section)]), share * section.even_width,
                      products(line.pull, times)))
    return grid.bars(), parts, kept, 1.0


def _moments(section: RibSection, offset: Quantity) -> Form:
    return (section.area, section.area * offset,
            section.inertia + section.area * offset * offset)
