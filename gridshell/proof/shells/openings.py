"""A tube of shells with its cut-outs: the even mesh of facets, without those in an opening.

The wall is smeared and ends at the opening; the solid land that frames a window is left out, which
is on the safe side. The load is axial compression, with the stress that it causes round the
openings. What counts is the load over that of the same mesh without openings.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from typing import Any

import numpy as np

from gridshell.define.errors import InputError
from gridshell.define.tables.design import Design
from gridshell.define.tables.mold import Cutout, mold_of
from gridshell.define.types import Array, BoolArray
from gridshell.material.resolve import properties as resolve
from gridshell.proof.shells.element import facet, strain_at_center, work_at_center
from gridshell.proof.shells.sample import shell_wall
from gridshell.proof.shells.tube import ShellWall
from gridshell.tube.buckling.general import buckling_loads, resultant
from gridshell.tube.buckling.knockdown import knockdowns
from gridshell.tube.case_checks import holes_left
from gridshell.wall.assess import assess_wall

PER_HALF_WAVE = 8  # facets, along and round
MOST_FACETS = 16000  # some minutes and a GB
FEWEST_ACROSS = 6  # facets across an opening, or it has no shape


@dataclass(frozen=True)
class OpeningsResult:
    """Compression of the whole tube with and without its cut-outs.

    Attributes:
        open_load: lowest buckling load with the cut-outs, N.
        closed_load: of the same mesh without them, N.
        formula_load: of the formula without them, perfect theory, N.
        rule: share that the published rule leaves (`gridshell.tube.strength.cutouts`).
        knockdown: factor of imperfect shape that `gridshell tube` puts beside it.
        facets: along and round.
        removed: facets in the cut-outs.
    """

    open_load: float
    closed_load: float
    formula_load: float
    rule: float
    knockdown: float
    facets: tuple[int, int]
    removed: int

    @property
    def left(self) -> float:
        """Share of the load that the cut-outs leave."""
        return self.open_load / self.closed_load

    @property
    def safe(self) -> bool:
        """Whether what `gridshell tube` allows is no more than the shells carry."""
        return self.rule * self.knockdown <= self.left

    def to_dict(self) -> dict[str, object]:
        """For JSON, SI."""
        return {**vars(self), "facets": list(self.facets), "left": self.left, "safe": self.safe}


class OpenTube:
    """A tube of equal facets, some of them taken out.

    Attributes:
        radius: of the reference surface, m.
        length: m.
        gone: facets taken out, (along, round).
    """

    def __init__(self, wall: ShellWall, radius: float, length: float, gone: BoolArray) -> None:
        self.radius, self.length, self.gone = radius, length, gone
        along, around = gone.shape
        sides = (length / along, 2 * np.pi / around)
        self._facet = facet(wall.stiffness, wall.shear, wall.areal_mass, radius, sides)
        A, B, _ = wall.stiffness
        self._force = np.hstack([A, B]) @ strain_at_center(radius, sides)
        self._work = work_at_center(radius, sides)
        i, j = np.nonzero(~gone)
        node = np.stack([i, i + 1, i + 1, i]) * around + np.stack(
            [j, j, (j + 1) % around, (j + 1) % around])
        self._unknowns = (6 * node.T[:, :, None] + np.arange(6)).reshape(len(i), 24)

    def _whole(self, each: Array) -> Any:
        """Sparse matrix of the tube from those of the facets, (facets or 1, 24, 24)."""
        from scipy.sparse import coo_matrix

        count = len(self._unknowns)
        rows = np.repeat(self._unknowns, 24, axis=1).ravel()
        columns = np.tile(self._unknowns, (1, 24)).ravel()
        size = 6 * (self.gone.shape[0] + 1) * self.gone.shape[1]
        values = np.broadcast_to(each, (count, 24, 24)).ravel()
        return coo_matrix((values, (rows, columns)), (size, size)).tocsc()

    def compression(self) -> float:
        """Lowest axial compression at which the tube buckles, N; ends round, free to warp."""
        import scipy.sparse.linalg as sparse

        along, around = self.gone.shape
        used = np.unique(self._unknowns)
        ends = np.concatenate([np.arange(around), along * around + np.arange(around)])
        held = np.concatenate([6 * ends + 1, 6 * ends + 2, [6 * (along // 2 * around)]])
        free = np.setdiff1d(used, held)
        # Before buckling the ends grow as the middle does, or they would buckle by themselves.
        grown = np.setdiff1d(used, np.setdiff1d(held, 6 * ends + 2))
        whole = self._whole(self._facet.stiffness[None])
        stiffness = whole[free][:, free]
        factor = sparse.splu(stiffness)
        push = np.zeros(6 * (along + 1) * around)
        push[6 * np.arange(around)] = 1 / around
        push[6 * (along * around + np.arange(around))] = -1 / around
        moved = np.zeros_like(push)
        moved[grown] = sparse.splu(whole[grown][:, grown]).solve(push[grown])
        force = moved[self._unknowns] @ self._force.T
        each = np.einsum("fk,kij->fij", force, self._work)
        load = self._whole(each)[free][:, free]
        inverse = sparse.LinearOperator(stiffness.shape, matvec=factor.solve, dtype=float)
        value = sparse.eigsh(
            -load, k=1, M=stiffness, Minv=inverse, which="LA", tol=1e-6, ncv=30,
            v0=np.random.default_rng(0).standard_normal(len(free)), return_eigenvectors=False)
        return 1 / float(value[0])


def openings(
    cutouts: Sequence[Cutout], radius: float, length: float, facets: tuple[int, int]
) -> BoolArray:
    """Facets whose middle lies in a cut-out, (along, round).

    Args:
        cutouts: of the tube.
        radius: of the reference surface, m.
        length: of the tube, m.
        facets: along and round.

    Raises:
        InputError: a cut-out has fewer than `FEWEST_ACROSS` facets across.
    """
    x = (np.arange(facets[0]) + 0.5)[:, None] * length / facets[0]
    angle = (np.arange(facets[1]) + 0.5)[None, :] * 2 * np.pi / facets[1]
    gone = np.zeros(facets, dtype=bool)
    size = max(length / facets[0], 2 * np.pi * radius / facets[1])
    for one in cutouts:
        along = x - float(one.position)
        turned = (angle - float(one.angle) + np.pi) % (2 * np.pi) - np.pi
        around = radius * turned
        if one.diameter is not None:
            across = float(one.diameter)
            inside = np.hypot(along, around) < across / 2
        else:
            assert one.length is not None and one.width is not None
            across = min(float(one.length), float(one.width))
            inside = (np.abs(along) < one.length / 2) & (np.abs(around) < one.width / 2)
        if across < FEWEST_ACROSS * size:
            raise InputError(
                f"mold.cutout {one.name!r}: {across * 1e3:.3g} mm is less than {FEWEST_ACROSS} "
                f"facets of {size * 1e3:.3g} mm; it is too small for this model, where the "
                "published rule takes little away too"
            )
        gone |= inside
    return gone


def mesh_of(
    m: float, n: float, radius: float, length: float, cutouts: Sequence[Cutout]
) -> tuple[int, int]:
    """Facets along and round that show the buckles and the cut-outs.

    Args:
        m: half waves along.
        n: waves round.
        radius: of the reference surface, m.
        length: of the tube, m.
        cutouts: of the tube.

    Raises:
        InputError: more than `MOST_FACETS` are needed.
    """
    least = min(
        float(size) for one in cutouts for size in (one.diameter, one.width, one.length)
        if size is not None)
    size = min(
        length / (PER_HALF_WAVE * max(m, 3.0)), np.pi * radius / (PER_HALF_WAVE * max(n, 6.0)),
        least / (FEWEST_ACROSS + 2))
    facets = int(np.ceil(length / size)), int(np.ceil(2 * np.pi * radius / size))
    if facets[0] * facets[1] > MOST_FACETS:
        raise InputError(
            f"this tube needs {facets[0]} x {facets[1]} facets, more than the {MOST_FACETS} of "
            "this model: many short buckles, or a small cut-out; use 'gridshell mesh' and a "
            "general solver")
    return facets


def solve_openings(design: Design) -> OpeningsResult:
    """Compression of a design's tube with its cut-outs, as shells.

    Args:
        design: one design with ``[[mold.cutout]]``.

    Raises:
        InputError: no cut-outs, or more facets than the model takes.
        MissingPackage: pyfe3d is not installed.
    """
    stated = mold_of(design).cutout if design.mold else ()
    if not stated:
        raise InputError("--cut-outs: the file states none; add [[mold.cutout]]")
    built = assess_wall(design, resolve(design.material, design.folder))
    radius, length = float(built.grid.radius), float(design.tube.length)
    wave = buckling_loads(built, ("compression",)).compression
    assert wave is not None
    facets = mesh_of(float(wave.m), float(wave.n), radius, length, stated)
    wall, gone = shell_wall(built), openings(stated, radius, length, facets)
    whole = OpenTube(wall, radius, length, np.zeros(facets, dtype=bool)).compression()
    cut = OpenTube(wall, radius, length, gone).compression()
    knockdown = float(knockdowns(built)["compression"].factor)
    return OpeningsResult(
        open_load=cut, closed_load=whole,
        formula_load=float(wave.load) * float(resultant("compression", radius)),
        rule=float(holes_left(built, knockdown)[0]), knockdown=knockdown, facets=facets,
        removed=int(gone.sum()),
    )
