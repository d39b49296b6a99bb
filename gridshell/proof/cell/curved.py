"""The solid cell bent to its true radius: axial stretch, hoop opening and twist of a whole tube.

A tube under axial force or torque has the same strains in every cell, so one curved cell with
mirror conditions is the whole tube, thick ribs, converging rib sides and all. The third load opens
the tube like a cut ring, and shows the wall's hoop bending with the radius free.
"""

from __future__ import annotations

from typing import Any

import numpy as np

from gridshell.define.types import Array
from gridshell.proof.cell.formula import Stiffness
from gridshell.proof.cell.geometry import MEDIUM, Cell, Resolution
from gridshell.proof.cell.homogenize import assemble, elasticity, finite_elements, respond


def curved_stiffness(
    cell: Cell, modulus: float, poisson: float, size: Resolution = MEDIUM
) -> Array:
    """Energy matrix (3, 3) of a curved cell per area of the skin's middle surface, N/m.

    The loads are axial strain, hoop opening (a strain that is the same at every depth, as when a
    cut ring is closed) and shear strain of torsion (at the middle surface); the radius follows.
    The first diagonal entry times 2 pi R is EA when opening is prevented; the last times 2 pi R^3
    is GJ.

    Raises:
        MissingPackage: scikit-fem is not installed.
        InputError: the cell can't be meshed.
    """
    skfem = finite_elements()
    basis, stiffness, strain_at = assemble(cell, poisson, size)
    c = elasticity(1.0, poisson)
    bend = 1 / cell.radius

    def fields(z: Array) -> list[Array]:
        one, none = np.ones_like(z), np.zeros_like(z)
        return [
            np.stack([one, none, none, none, none, none]),
            np.stack([none, one, none, none, none, none]),
            np.stack([none, none, none, none, none, 1 + z * bend]),
        ]

    loads = []
    for k in range(3):
        @skfem.LinearForm
        def load(v: Any, w: Any, k: int = k) -> Any:
            z = w.x[2]
            stress = np.einsum("ij,j...->i...", c, fields(z)[k]) * (1 + z * bend)
            return np.einsum("i...,i...->...", stress, strain_at(v, z))

        loads.append(-load.assemble(basis))
    right = np.stack(loads, axis=1)
    response = respond(basis, stiffness, right, cell, np.array([0, 1]), np.array([2]))
    z = np.asarray(basis.global_coordinates())[2]
    given = fields(z)
    energy = np.array([
        [np.sum(np.einsum("i...,ij,j...->...", a, c, b) * (1 + z * bend) * basis.dx)
         for b in given] for a in given
    ])
    energy -= response.T @ (stiffness @ response)
    energy[:2, 2] = energy[2, :2] = 0.0
    return np.asarray((energy + energy.T) * 2 * modulus / cell.area)


def shell_stiffness(wall: Stiffness, radius: float) -> Array:
    """The same (3, 3) from A, B, D: hoop curvature -w/R^2 for a radius grown by w."""
    A, B, D = wall
    # Strain and curvature (axial, hoop, shear | axial, hoop, twist) of each load and of w = R.
    axial = np.array([1.0, 0, 0, 0, 0, 0])
    opening = np.array([0, 1.0, 0, 0, 0, 0])
    swell = np.array([0, 1.0, 0, 0, -1 / radius, 0])
    shear = np.array([0, 0, 1.0, 0, 0, 1 / radius])
    full = np.block([[A, B], [B, D]])
    loads = np.stack([axial, opening, shear])
    work = loads @ full @ loads.T
    coupled = loads @ full @ swell
    return np.asarray(work - np.outer(coupled, coupled) / (swell @ full @ swell))
