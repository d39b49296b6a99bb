"""Cross-section of a skin with one set of parallel ribs: its stiffness is a plane problem.

With ribs one way only, every section across them is alike, so the wall's stiffness follows from
one section: stretch and bending across the ribs from a plane-strain problem, shear and twist from
a problem of warping alone (Saint-Venant). Stretch and bending along the ribs need no solution:
E times area and moments is exact. `gridshell.wall.stiffness.strip` reads a table of
these solutions.
"""

from __future__ import annotations

from typing import Any

import numpy as np

from gridshell.define.types import Array
from gridshell.proof.cell.geometry import Cell, Resolution, rib_levels, toward_start
from gridshell.proof.cell.homogenize import finite_elements, solve_symmetric
from gridshell.proof.cell.mesh import merge_grids
from gridshell.wall.stiffness.strip import StripLengths

SECTION = Resolution(across=6, fan=8, skin_layers=6, fillet_layers=4, rib_layers=10)


def section_mesh(cell: Cell, spacing: float, size: Resolution = SECTION) -> Any:
    """Quadrilaterals over half a rib and half a pocket, coordinates (across, height), m."""
    heights, offsets, _ = rib_levels(cell, size)
    top = cell.thickness / 2
    skin_z = top - cell.thickness * toward_start(size.skin_layers)[::-1]
    v = 1 - toward_start(size.across)[::-1]
    foot = offsets[0]
    # Beyond the reach of the rib's foot the strain is even: few elements are enough.
    reach = min(2.5 * cell.thickness, 0.9 * (spacing / 2 - foot))
    near = foot + reach * toward_start(size.fan)
    pocket = np.concatenate([near, np.linspace(near[-1], spacing / 2, size.fan // 2 + 1)[1:]])

    def grid(y: Array, z: Array) -> Array:
        return np.stack(np.broadcast_arrays(y, z, 0.0), axis=-1)[:, :, None]

    blocks = [
        grid((foot * v)[:, None], skin_z[None]), grid(pocket[:, None], skin_z[None]),
        grid(v[:, None] * offsets[None], top + heights[None]),
    ]
    lift = np.array([0.0, 0.0, cell.thickness])
    points, cells = merge_grids(
        [np.concatenate([block, block + lift], axis=2) for block in blocks],
        1e-6 * cell.thickness,
    )
    flat = np.flatnonzero(points[2] == 0)
    number = np.full(points.shape[1], -1)
    number[flat] = np.arange(len(flat))
    return finite_elements().MeshQuad(
        np.ascontiguousarray(points[:2, flat]),
        np.ascontiguousarray(number[cells[[0, 2, 6, 3]]]),
    )


def section_stiffness(
    cell: Cell, spacing: float, poisson: float, size: Resolution = SECTION
) -> tuple[Array, Array]:
    """Stiffness across and in shear of a wall with one set of parallel ribs, per unit modulus.

    Args:
        cell: skin and rib section (its rectangle is not used).
        spacing: distance between the ribs, m.
        poisson: Poisson's ratio.

    Returns:
        Two (2, 2) arrays: (force across, moment across) per (strain, curvature) across with no
        strain along the ribs; and (shear force, twisting moment) per (shear, twist).
    """
    skfem = finite_elements()
    mesh = section_mesh(cell, spacing, size)
    shear = 1 / (2 * (1 + poisson))
    lame = poisson / ((1 + poisson) * (1 - 2 * poisson))
    edge = 1e-9 * spacing

    def sides(x: Array) -> Array:
        return np.asarray((np.abs(x[0]) < edge) | (np.abs(x[0] - spacing / 2) < edge))

    def effective(basis: Any, form: Any, load: Any, held: Array, direct: float) -> Array:
        matrix = form.assemble(basis).tocsr()
        right = np.stack([load(k).assemble(basis) for k in range(2)], axis=1)
        free = np.setdiff1d(np.arange(basis.N), held)
        response = np.zeros_like(right)
        response[free] = solve_symmetric(matrix[free][:, free], right[free])
        z = np.asarray(basis.global_coordinates())[1]
        even = np.array([[np.sum(z ** (i + j) * basis.dx) for i in range(2)] for j in range(2)])
        return np.asarray((direct * even - response.T @ (matrix @ response)) * 2 / spacing)

    basis = skfem.Basis(mesh, skfem.ElementVector(skfem.ElementQuad2()), intorder=4)

    @skfem.BilinearForm
    def work(u: Any, v: Any, w: Any) -> Any:
        slip = u.grad[0, 1] + u.grad[1, 0]
        return (
            lame * (u.grad[0, 0] + u.grad[1, 1]) * (v.grad[0, 0] + v.grad[1, 1])
            + 2 * shear * (u.grad[0, 0] * v.grad[0, 0] + u.grad[1, 1] * v.grad[1, 1])
            + shear * slip * (v.grad[0, 1] + v.grad[1, 0])
        )

    def stretch(k: int) -> Any:
        return skfem.LinearForm(lambda v, w: -(w.x[1] ** k) * (
            lame * (v.grad[0, 0] + v.grad[1, 1]) + 2 * shear * v.grad[0, 0]))

    dofs = basis.get_dofs(sides)
    held = np.append(dofs.all(["u^1"]), dofs.all(["u^2"])[:1])
    across = effective(basis, work, stretch, held, lame + 2 * shear)

    basis = skfem.Basis(mesh, skfem.ElementQuad2(), intorder=4)

    @skfem.BilinearForm
    def warp(u: Any, v: Any, w: Any) -> Any:
        return shear * (u.grad[0] * v.grad[0] + u.grad[1] * v.grad[1])

    def slide(k: int) -> Any:
        return skfem.LinearForm(lambda v, w: -shear * w.x[1] ** k * v.grad[0])

    twist = effective(basis, warp, slide, basis.get_dofs(sides).all(), shear)
    return across, twist


def solved_lengths(
    thickness: float, width: float, height: float, fillet: float = 0.0, draft: float = 0.0,
    poisson: float = 0.33, size: Resolution = SECTION,
) -> StripLengths:
    """`gridshell.wall.stiffness.strip.strip_lengths`, from the section itself.

    Args:
        thickness: of the skin, m.
        width: of the rib at its tip, m.
        height: of the rib, m.
        fillet: root fillet, m.
        draft: rad.
    """
    cell = Cell(
        "orthogrid", 1.0, round_hoop=1.0, thickness=thickness, height=height, width=width,
        draft=draft, corner_radius=0.0, root_fillet=fillet,
    )
    # Far enough apart that ribs do not feel each other; the lengths no longer depend on it.
    spacing = width + 2 * height * np.tan(draft) + 2 * fillet + 5 * thickness
    across, twist = section_stiffness(cell, spacing, poisson, size)
    plate = thickness / (1 - poisson**2)
    compliance = np.linalg.inv(across) * plate
    shear = 1 / (2 * (1 + poisson))
    lever = twist[0, 1] / twist[0, 0]
    return StripLengths(
        stretch=spacing * (1 - compliance[0, 0]),
        couple=-spacing * compliance[0, 1] * thickness**2,
        bend=spacing * (1 - compliance[1, 1] * thickness**2 / 12),
        shear=spacing * (1 - shear * thickness / twist[0, 0]),
        flow_offset=spacing * lever / thickness,
        torsion=4 * spacing * (
            (twist[1, 1] - lever * twist[0, 1]) / shear - thickness**3 / 12
        ),
    )
