"""The wall of a design: grid, rib sections, smeared stiffness, mass."""

from __future__ import annotations

from collections.abc import Callable, Sequence
from dataclasses import dataclass
from functools import cached_property, wraps
from typing import Any, Concatenate, ParamSpec, TypeVar

import numpy as np

from gridshell.define.files.unit_cell import UnitCell
from gridshell.define.files.unit_cell_match import unit_cell_of
from gridshell.define.tables.design import Design
from gridshell.define.types import Array, BoolArray, Quantity
from gridshell.material.properties import Properties
from gridshell.wall.geometry.lattice import Lattice, lattice, mirror_pairs
from gridshell.wall.geometry.mass import rib_side, tube_volume, wall_volume
from gridshell.wall.geometry.rib_section import RibSection, rib_section
from gridshell.wall.stiffness.curvature import on_radius, positive_share
from gridshell.wall.stiffness.equivalent import EquivalentWall, equivalent_wall, neutral_bending
from gridshell.wall.stiffness.finite_width import RibGrid, finite_width
from gridshell.wall.stiffness.rib_grids import mixed, rib_grids
from gridshell.wall.stiffness.skin_bowing import NO_BOWING, SkinBowing, skin_bowing
from gridshell.wall.stiffness.smeared import (
    Entries,
    add_entries,
    family_entries,
    skin_entries,
    skin_stiffness,
    symmetric,
)
from gridshell.wall.stiffness.verified_range import WITHIN, outside_map, range_notes

P = ParamSpec("P")
R = TypeVar("R")
SOLID_NOTE = (
    "solid cell: it gives A, B, D, and through them EA, EI, GJ, frequencies and general "
    "instability; stress, skin pockets and ribs are by formula as before"
)
_DEEP = 0.15  # depth over radius above which what the radius changes may outweigh the flat wall
_NODES_CARRY = 2.0  # bending that ribs with their nodes carry at most, over that of bars alone


@dataclass(frozen=True)
class Wall:
    """One wall, or an array of walls of one pattern.

    Attributes:
        design: what was stated.
        properties: of the material at the temperature of use.
        grid: cells after rounding.
        sections: section of one rib of each family.
        offsets: z of each family's centroid from the skin's middle surface, m.
        A: membrane stiffness (..., 3, 3), N/m: that of the unit cell that ``ribs.solid_cell``
            states, else of `formula`.
        B: coupling stiffness about the skin's middle surface (..., 3, 3), N; likewise.
        D: bending stiffness about the skin's middle surface (..., 3, 3), N m; likewise.
        formula: A, B, D of the formula alone, with what the width of the ribs adds unless
            ``ribs.formula`` is "thin".
        rib_grids: what the finite-width formula needs of the ribs: share, grid, and the share of
            its rib layers that counts (`gridshell.wall.stiffness.finite_width.FiniteWidth`). One,
            but for two families of the user's own that are near to a pattern.
        unit_cell: the unit cell (solid finite elements), None without.
    """

    design: Design
    properties: Properties
    grid: Lattice
    sections: tuple[RibSection, ...]
    offsets: tuple[Quantity, ...]
    A: Array
    B: Array
    D: Array
    formula: tuple[Array, Array, Array]
    rib_grids: tuple[tuple[Quantity, RibGrid, Quantity], ...]
    unit_cell: UnitCell | None = None

    @property
    def finite_width(self) -> bool:
        """Whether the finite-width formula holds: ribs, and not the handbook's thin ones."""
        return bool(self.sections) and self.design.ribs.formula == "fat"

    @cached_property
    def thin_rib(self) -> tuple[Array, Array, Array]:
        """A, B, D of the handbook's thin ribs, without what fat ribs add."""
        A, B, D = _smeared(
            self.design, self.properties, self.grid, self.sections, self.offsets
        )
        shape = self.A.shape[:-2]
        return symmetric(A, shape), symmetric(B, shape), symmetric(D, shape)

    @cached_property
    def free_bending(self) -> Array:
        """Bending stiffness with the wall free to stretch, (..., 3, 3), N m."""
        return neutral_bending(self.A, self.B, self.D)

    @cached_property
    def equivalent(self) -> EquivalentWall:
        """The plain wall of the same stretching and bending stiffness."""
        return equivalent_wall(self.A, self.free_bending)

    @cached_property
    def curved(self) -> tuple[Array, Array, Array]:
        """A, B, D with every rib family at its own radius: what the whole tube works with.

        Those of the flat wall where ``ribs.formula`` is "thin", as in the handbook.
        """
        return self._on_radius((self.A, self.B, self.D))

    @cached_property
    def curved_formula(self) -> tuple[Array, Array, Array]:
        """The same by the formula alone, whether or not a solid cell replaces it."""
        return self._on_radius(self.formula)

    def _on_radius(self, flat_wall: tuple[Array, Array, Array]) -> tuple[Array, Array, Array]:
        if not self.finite_width:
            return flat_wall
        added = mixed([(share, on_radius(
            self.properties.modulus, self.properties.poisson, self.grid.radius, ribs,
            self.offsets, kept,
        )) for share, ribs, kept in self.rib_grids])
        A, B, D = (symmetric(part, self.A.shape[:-2]) for part in added)
        shape = self.A.shape[:-2]
        share = np.ones(shape)
        # No shallower wall comes near.
        deep = np.broadcast_to(self.depth > _DEEP * self.grid.radius, shape)
        if np.any(deep):
            flat, more = ([part[deep] for part in parts] for parts in (flat_wall, (A, B, D)))
            known = self.properties
            skin = [np.broadcast_to(part, (*shape, 3, 3))[deep] for part in skin_stiffness(
                known.modulus, known.poisson, self.design.skin.thickness)]
            share[deep] = positive_share(
                (flat[0], flat[1], flat[2]), (more[0], more[1], more[2]), (skin[0], skin[1]),
                np.broadcast_to(self.depth, shape)[deep])
        share = share[..., None, None]
        return flat_wall[0] + share * A, flat_wall[1] + share * B, flat_wall[2] + share * D

    @cached_property
    def bowing(self) -> SkinBowing:
        """What the bowing of the skin between the ribs takes from its hoop stiffness."""
        if not self.finite_width:
            return NO_BOWING
        return skin_bowing(
            self.design, self.properties, self.grid, self.sections[0], (self.A, self.B, self.D),
            self.transverse_shear,
        )

    @cached_property
    def transverse_shear(self) -> tuple[Quantity, Quantity]:
        """Shear stiffness of the wall across its depth, along and round the tube, N/m.

        Ribs: sum of 5/6 G A/pitch times cos^2 (or sin^2) of their angle; skin: 5/6 G t; in series
        by the share of bending that each carries, 1/S = d^2/S_skin + (1 - d)^2/S_ribs with
        d = D_skin/D: the form of NASA/TP-2011-216882, F19-F21 (from memory). A plain wall is all
        skin, so ribs that vanish leave its load. Infinite with the formula "thin", as in the
        handbook.
        """
        if self.design.ribs.formula != "fat":
            return np.inf, np.inf
        known, thickness = self.properties, self.design.skin.thickness
        share = 5 / 6 * known.modulus / (2 * (1 + known.poisson))
        skin = share * thickness
        plate = known.modulus * thickness**2 * thickness / (12 * (1 - known.poisson**2))
        found = []
        for i in (0, 1):
            ribs: Quantity = 0.0
            bars: Quantity = 0.0
            neutral = self.B[..., i, i] / self.A[..., i, i]
            for line, section, offset in zip(
                self.grid.families, self.sections, self.offsets, strict=True
            ):
                turn = (line.cosine if i == 0 else line.sine) ** 2
                ribs = ribs + share * section.area / line.pitch * turn
                second = section.inertia + section.area * (offset - neutral) ** 2
                bars = bars + known.modulus * second / line.pitch * turn**2
            # Bending stiffness of the wall free to stretch in this direction.
            bending = self.D[..., i, i] - self.B[..., i, i] * neutral
            # Nodes at most double what bars carry. The rest is skin made thicker across a rib.
            part = np.maximum(np.minimum(plate / bending, 1.0), 1 - _NODES_CARRY * bars / bending)
            with np.errstate(divide="ignore"):
                # Where no rib runs, the skin alone shears.
                found.append(np.where(
                    np.asarray(ribs) > 1e-9 * skin,
                    1 / (part**2 / skin + (1 - part) ** 2 / np.maximum(ribs, 1e-9 * skin)), skin,
                )[()])
        return found[0], found[1]

    @cached_property
    def volume_per_area(self) -> Quantity:
        """Volume over area of the middle surface in the grid, m: the mean thickness."""
        return wall_volume(self.design, self.grid, self.sections)

    @property
    def areal_mass(self) -> Quantity:
        """Mass over area of the middle surface in the grid, kg/m2."""
        return self.properties.density * self.volume_per_area

    @cached_property
    def tube_volume(self) -> Quantity:
        """Volume of the whole tube with lands, m3."""
        return tube_volume(self.design, self.grid, self.sections)

    @property
    def tube_mass(self) -> Quantity:
        """Mass of the whole tube with lands, kg."""
        return self.properties.density * self.tube_volume

    @property
    def range_notes(self) -> tuple[str, ...]:
        """How far the fat-rib formula was found off solid cells, or what is outside its map.

        With a solid cell, what that does not reach.
        """
        grid = self.grid
        if self.unit_cell is not None:
            return (SOLID_NOTE,)
        if not self.finite_width or grid.pattern == "families":
            return ()
        return range_notes(grid.pattern, **self._mapped)

    @property
    def _mapped(self) -> dict[str, Any]:
        """What the map of unit cells goes by."""
        ribs, grid = self.design.ribs, self.grid
        return {
            "thickness": self.design.skin.thickness, "width": ribs.width, "height": ribs.height,
            "root_fillet": ribs.root_fillet, "corner_radius": ribs.corner_radius,
            "poisson": self.properties.poisson, "node_distance": self.node_distance,
            "crossing": 2 * grid.families[0].angle if grid.pattern == "diagonal" else None,
        }

    @property
    def outside_map(self) -> BoolArray:
        """Whether each wall's stiffness is by a formula outside of the unit cells it was held to.

        Never of plain walls, of the handbook's thin ribs, or with a unit cell of its own.
        """
        shape = self.A.shape[:-2]
        if not self.finite_width or self.unit_cell is not None:
            return np.zeros(shape, bool)
        return np.broadcast_to(outside_map(self.grid.pattern, **self._mapped), shape)

    @property
    def unverified(self) -> bool:
        """Whether the finite-width formula lies outside its map, and a unit cell can tell.

        Of an array: any of its walls. The user's own families have no unit cell.
        """
        notes = self.range_notes
        return bool(notes) and self.unit_cell is None and not notes[0].startswith(WITHIN)

    @property
    def node_distance(self) -> Quantity:
        """Shortest distance between two nodes along a rib, m; infinite without ribs."""
        nearest: Quantity = np.inf
        for line in self.grid.families:
            nearest = np.minimum(nearest, self.grid.node_area / line.pitch)
        return nearest

    @cached_property
    def rib_torsion(self) -> Quantity:
        """Torsion constant of a rib of the first family on its skin, m4."""
        return self.rib_grids[0][1].strip_of(self.design.skin.thickness, self.sections[0]).torsion

    def __getstate__(self) -> dict[str, Any]:
        # What `found_once` keeps is found again by whoever is handed the wall.
        return {name: value for name, value in vars(self).items() if name != "_found"}

    @property
    def side(self) -> float:
        """+1 for ribs outside, -1 inside."""
        return rib_side(self.design)

    @property
    def depth(self) -> Quantity:
        """Skin and tallest rib together, m."""
        depth: Quantity = 0.0
        for section in self.sections:
            depth = np.maximum(depth, section.height)
        return depth + self.design.skin.thickness


def found_once(
    function: Callable[Concatenate[Wall, P], R]
) -> Callable[Concatenate[Wall, P], R]:
    """Keep what a function finds of a wall with the wall, however many load cases ask for it."""
    @wraps(function)
    def found(wall: Wall, /, *args: P.args, **named: P.kwargs) -> R:
        kept = vars(wall).setdefault("_found", {})
        key = (function, args, tuple(named.items()))
        if key not in kept:
            kept[key] = function(wall, *args, **named)
        answer: R = kept[key]
        return answer

    return found


def _smeared(
    design: Design, properties: Properties, grid: Lattice,
    sections: Sequence[RibSection], offsets: Sequence[Quantity],
) -> tuple[Entries, Entries, Entries]:
    """Entries of A, B, D of skin and thin ribs."""
    modulus, poisson = properties.modulus, properties.poisson
    shear = modulus / (2 * (1 + poisson))
    A, D = skin_entries(modulus, poisson, design.skin.thickness)
    B: Entries = [0.0] * 6
    for index, times in mirror_pairs(grid.families, sections):
        line, section = grid.families[index], sections[index]
        added = family_entries(
            line.cosine, line.sine, pitch=line.pitch, axial=modulus * section.area,
            offset=offsets[index], bending=modulus * section.inertia,
            torsion=shear * section.torsion, counted=times,
        )
        for total, more in zip((A, B, D), added, strict=True):
            add_entries(total, more)
    return A, B, D


def assess_wall(
    design: Design,
    properties: Properties,
    cells_round: Quantity | None = None,
    cells_along: Quantity | None = None,
    least: bool = False,
) -> Wall:
    """Smear the ribs of a design over its skin.

    Args:
        design: one design or many (array fields).
        properties: of the material at the temperature of use.
        cells_round, cells_along: see `gridshell.wall.geometry.lattice.lattice`.
        least: of ribs of finite width the lower bound of the stiffness, see
            `gridshell.wall.stiffness.finite_width`.
    Raises:
        InputError: ``ribs.solid_cell`` can't be read, or was solved for another wall.
    """
    grid = lattice(design, cells_round, cells_along)
    ribs, side = design.ribs, rib_side(design)
    common = rib_section(ribs.height, ribs.width, ribs.draft, ribs.root_fillet)
    sections, offsets = [], []
    for line in grid.families:
        section = common
        if line.height is not None or line.width is not None:
            section = rib_section(
                ribs.height if line.height is None else line.height,
                ribs.width if line.width is None else line.width,
                ribs.draft, ribs.root_fillet,
            )
        sections.append(section)
        offsets.append(side * (design.skin.thickness / 2 + section.centroid))
    grids: list[tuple[Quantity, RibGrid, Quantity]] = [
        (share, ribbed, 1.0) for share, ribbed in rib_grids(ribs, grid, sections)]
    if sections and ribs.formula == "fat":
        found = [(share, ribbed, finite_width(
            properties.modulus, properties.poisson, design.skin.thickness, side, ribbed,
            strips=not least)) for share, ribbed, _ in grids]
        entries = mixed([(share, (one.A, one.B, one.D)) for share, _, one in found])
        grids = [(share, ribbed, one.kept) for share, ribbed, one in found]
    else:
        entries = _smeared(design, properties, grid, sections, offsets)
    shape = np.broadcast_shapes(*(np.shape(entry) for part in entries for entry in part))
    A, B, D = (symmetric(part, shape) for part in entries)
    formula = (A, B, D)
    solid = unit_cell_of(design, grid.cell_height, grid.cell_width, properties.poisson)
    if solid is not None:
        modulus = np.asarray(properties.modulus, float)[..., None, None]
        A, B, D = (
            np.broadcast_to(modulus * over_modulus, smeared.shape)
            for over_modulus, smeared in zip(solid.matrices(), formula, strict=True)
        )
    return Wall(
        design, properties, grid=grid, sections=tuple(sections), offsets=tuple(offsets), A=A, B=B,
        D=D, formula=formula, rib_grids=tuple(grids), unit_cell=solid,
    )
