"""Wall stiffness of a solid cell by periodic homogenization about the skin's middle surface.

The displacement is that of a wall with given mid-surface strains and curvatures plus a part that
repeats from cell to cell and is free on both faces; the repeating part makes the energy least.
Energies of pairs of unit strains are the entries of A, B and D. A strain E0 + z K with in-plane
entries only is the exact field of a bent plate, so no shear or edge effect enters (the theory of
periodic plates: D. Caillerie, "Thin elastic and periodic plates", Mathematical Methods in the
Applied Sciences 6 (1984), from memory).
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import Any

import numpy as np

from gridshell.define.errors import InputError
from gridshell.define.types import Array, IntArray
from gridshell.proof.cell.geometry import COARSE, MEDIUM, Cell, Resolution
from gridshell.proof.cell.mesh import quarter_cell

# Loads by their symmetry in the two mirror planes of the cell.
EVEN = np.array([0, 1, 3, 4])
ODD = np.array([2, 5])


class MissingPackage(InputError):
    """An optional package for the finite-element checks is not installed."""


def finite_elements() -> Any:
    """The scikit-fem package.

    Raises:
        MissingPackage: it is not installed; the message says how to add it.
    """
    try:
        import skfem
    except ImportError:
        raise MissingPackage(
            "the finite-element checks need the optional package scikit-fem; install it with "
            "pip install 'gridshell[proof]'"
        ) from None
    return skfem


@dataclass(frozen=True)
class CellWall:
    """Stiffness of a wall from its solid cell.

    Attributes:
        A: membrane stiffness (3, 3), N/m; order x, y, xy with engineering shear and twist.
        B: coupling stiffness (3, 3), N.
        D: bending stiffness (3, 3), N m.
        volume: of solid per area of wall, m.
        unknowns: number of unknowns of the finite-element model.
    """

    A: Array
    B: Array
    D: Array
    volume: float
    unknowns: int


def strain_field(u: Any, z: Any, bend: float) -> Array:
    """Six engineering strains (xx, yy, zz, yz, xz, xy) of a displacement field of skfem.

    ``bend`` is 1/R of the wall; components and coordinates follow the cylinder.
    """
    g = 1 + z * bend
    du = u.grad
    value = np.asarray(u)
    return np.stack([
        du[0, 0],
        (du[1, 1] + value[2] * bend) / g,
        du[2, 2],
        du[2, 1] / g + du[1, 2] - value[1] * bend / g,
        du[0, 2] + du[2, 0],
        du[0, 1] / g + du[1, 0],
    ])


def elasticity(modulus: float, poisson: float) -> Array:
    """Isotropic stiffness (6, 6) for engineering strains xx, yy, zz, yz, xz, xy, Pa."""
    lame = modulus * poisson / ((1 + poisson) * (1 - 2 * poisson))
    shear = modulus / (2 * (1 + poisson))
    c = np.diag([2 * shear] * 3 + [shear] * 3)
    c[:3, :3] += lame
    return c


def solve_symmetric(matrix: Any, loads: Array) -> Array:
    """Solve a sparse positive definite system for several right sides, shape (n, k)."""
    import scipy.sparse.linalg as sparse

    factor = sparse.splu(
        matrix.tocsc(), permc_spec="MMD_AT_PLUS_A", diag_pivot_thresh=0.0,
        options={"SymmetricMode": True},
    )
    return np.asarray(factor.solve(loads))


def homogenize(
    cell: Cell, modulus: float, poisson: float, size: Resolution = MEDIUM
) -> CellWall:
    """A, B, D of a flat cell.

    Args:
        cell: the repeating rectangle; its ``radius`` must be infinite.
        modulus: Young's modulus, Pa.
        poisson: Poisson's ratio, below 0.5.

    Raises:
        MissingPackage: scikit-fem is not installed.
        InputError: the cell can't be meshed.
    """
    basis, stiffness, strain_at = assemble(cell, poisson, size)
    skfem = finite_elements()
    c = elasticity(1.0, poisson)
    unit = np.eye(6)[[0, 1, 5]]  # xx, yy, xy of the six strains

    def fields(z: Array) -> list[Array]:
        flat = [np.multiply.outer(row, np.ones_like(z)) for row in unit]
        return flat + [np.multiply.outer(row, z) for row in unit]

    z = np.asarray(basis.global_coordinates())[2]
    given = fields(z)
    loads = []
    for k in range(6):
        @skfem.LinearForm
        def load(v: Any, w: Any, k: int = k) -> Any:
            stress = np.einsum("ij,j...->i...", c, fields(w.x[2])[k])
            return np.einsum("i...,i...->...", stress, strain_at(v, w.x[2]))

        loads.append(-load.assemble(basis))
    right = np.stack(loads, axis=1)
    response = respond(basis, stiffness, right, cell, EVEN, ODD)
    energy = np.empty((6, 6))
    for k in range(6):
        stress = np.einsum("ij,j...->i...", c, given[k])
        for m in range(6):
            energy[k, m] = np.sum(np.einsum("i...,i...->...", stress, given[m]) * basis.dx)
    energy -= response.T @ (stiffness @ response)
    energy *= 4 * modulus / cell.area
    energy = (energy + energy.T) / 2
    # Even and odd fields cancel over the whole cell, though not over the quarter.
    energy[np.ix_(EVEN, ODD)] = energy[np.ix_(ODD, EVEN)] = 0.0
    return CellWall(
        A=energy[:3, :3], B=energy[:3, 3:], D=energy[3:, 3:],
        volume=float(np.sum(basis.dx)) * 4 / cell.area, unknowns=int(basis.N),
    )


def converged(
    cell: Cell, modulus: float, poisson: float, size: Resolution = MEDIUM
) -> tuple[CellWall, float]:
    """A, B, D of a flat cell freed of most of the mesh error, and an estimate of what is left.

    Displacement elements are too stiff on every mesh. A third of the fall from the coarse mesh
    to the given one is still to come (with a fine mesh between a fifth, rounded corners, and a
    half, sharp corners).

    Returns:
        The wall, and the fall that was added, over the wall's own stiffness: the largest (not a
        number for the coarse mesh, which is returned as it is).
    """
    wall = homogenize(cell, modulus, poisson, size)
    if size == COARSE:
        return wall, float("nan")
    rough = homogenize(cell, modulus, poisson, COARSE)
    step = {name: (getattr(wall, name) - getattr(rough, name)) / 3 for name in "ABD"}
    ends = {name: getattr(wall, name) + step[name] for name in "ABD"}
    left = max(
        float(np.max(np.abs(step[name])) / np.max(np.abs(ends[name]))) for name in "ABD"
        if name != "B" or np.max(np.abs(ends["B"])) > 1e-6 * np.max(ends["A"]) * cell.thickness
    )
    return CellWall(ends["A"], ends["B"], ends["D"], wall.volume, wall.unknowns), left


def respond(
    basis: Any, stiffness: Any, right: Array, cell: Cell, even: IntArray, odd: IntArray
) -> Array:
    """Repeating part of the displacement for loads even and odd in the two mirror planes."""
    response = np.zeros_like(right)
    for free, columns in zip(_supports(basis, cell), (even, odd), strict=True):
        response[np.ix_(free, columns)] = solve_symmetric(
            stiffness[free][:, free], right[np.ix_(free, columns)]
        )
    return response


def assemble(cell: Cell, poisson: float, size: Resolution) -> tuple[Any, Any, Any]:
    """Basis, stiffness matrix (unit modulus) and strain operator of a quarter cell."""
    skfem = finite_elements()
    points, corners = quarter_cell(cell, size)
    mesh = skfem.MeshHex(points, corners)
    element = skfem.ElementVector(skfem.ElementHexS2())
    basis = skfem.Basis(mesh, element, intorder=4)
    c = elasticity(1.0, poisson)
    bend = 1 / cell.radius

    def strain_at(u: Any, z: Any) -> Array:
        return strain_field(u, z, bend)

    @skfem.BilinearForm
    def work(u: Any, v: Any, w: Any) -> Any:
        z = w.x[2]
        stress = np.einsum("ij,j...->i...", c, strain_at(u, z))
        return np.einsum("i...,i...->...", stress, strain_at(v, z)) * (1 + z * bend)

    return basis, work.assemble(basis).tocsr(), strain_at


def _supports(basis: Any, cell: Cell) -> tuple[IntArray, IntArray]:
    """Free unknowns for loads even and odd in the two mirror planes."""
    x, y, _ = basis.doflocs
    tolerance = 1e-7 * max(cell.along_axis, cell.round_hoop)
    ends_x = (np.abs(x) < tolerance) | (np.abs(x - cell.along_axis / 2) < tolerance)
    ends_y = (np.abs(y) < tolerance) | (np.abs(y - cell.round_hoop / 2) < tolerance)
    component = dof_components(basis)
    even = (ends_x & (component == 0)) | (ends_y & (component == 1))
    odd = (ends_x & (component != 0)) | (ends_y & (component != 1))
    # One height fixed: an even field of a flat wall may move as a whole along z.
    if np.isinf(cell.radius):
        even[np.flatnonzero(component == 2)[0]] = True
    return np.flatnonzero(~even), np.flatnonzero(~odd)


def dof_components(basis: Any) -> IntArray:
    """Direction (0, 1, 2) of each unknown of a vector basis."""
    dofs = basis.dofs
    component = np.zeros(basis.N, dtype=int)
    for table in (dofs.nodal_dofs, dofs.edge_dofs, dofs.facet_dofs, dofs.interior_dofs):
        for row in range(table.shape[0]):
            component[table[row].ravel()] = row % 3
    return component
