"""The tube as a column: axial load at which it buckles as a whole, with shear and soft joints."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from gridshell.define.types import Array, Quantity


@dataclass(frozen=True)
class JointSprings:
    """Equal joints between the equal sections of a tube, as rotational springs.

    Attributes:
        flexibility: rotation per moment of one joint, rad/(N m); 0 is a tube in one piece.
        count: how many joints.
    """

    flexibility: Quantity = 0.0
    count: int = 0

    @property
    def places(self) -> Array:
        """(count,) of the joints, in lengths of the tube from its first end."""
        return np.arange(1, self.count + 1) / (self.count + 1)


ONE_PIECE = JointSprings()


@dataclass(frozen=True)
class Member:
    """A uniform tube between its supports.

    Attributes:
        support: cantilever, simply-supported, free-free, or none (taken as pinned at both ends).
        length: m.
        EI: bending stiffness, N m2.
        GA: shear stiffness, N.
        joints: between its sections.
    """

    support: str
    length: Quantity
    EI: Quantity
    GA: Quantity
    joints: JointSprings = ONE_PIECE

    @property
    def effective_length(self) -> Quantity:
        """Length of the half wave the column buckles in, m.

        Twice the length with one clamped end; else the length. A free-free body under thrust is no
        softer than one pinned at both ends.
        """
        return 2 * self.length if self.support == "cantilever" else self.length

    @property
    def bending_load(self) -> Quantity:
        """Column load of bending and joints, without shear, N.

        1/P = (k L)^2/(pi^2 EI) + sum of c g: a pinned rod of two rigid links with one spring of
        flexibility c at x buckles at P = L/(c x (L - x)), so g = x (L - x)/L; one rigid link on a
        spring at its foot at 1/(c a), so g = a, the length that stands on the spring. Adding the
        inverse loads is a lower bound (Southwell, Dunkerley; Timoshenko and Gere, Theory of
        Elastic Stability, 2.17 adds shear in the same way): exact for no joint and for one joint
        in a stiff tube, up to 1.23 times on the safe side for one at mid-length, 1.64 times for
        many.
        """
        euler = np.pi**2 * self.EI / self.effective_length**2
        x = self.joints.places
        spread = float(np.sum(1 - x if self.support == "cantilever" else x * (1 - x)))
        return 1 / (1 / euler + self.joints.flexibility * spread * self.length)

    @property
    def lean_of_joints(self) -> float:
        """Deflection over the length when every joint turns by one radian to the same side: of the
        tip of a cantilever, else of mid-length against the ends."""
        x = self.joints.places
        return float(np.sum(1 - x if self.support == "cantilever" else np.minimum(x, 1 - x) / 2))

    @property
    def column_load(self) -> Quantity:
        """Axial load at which the tube buckles as a column, N.

        P = Pb/(1 + Pb/GA), Pb = pi^2 EI/(k L)^2; Engesser, in Timoshenko and Gere, Theory of
        Elastic Stability, 2.17.

        >>> pinned, clamped = (Member(s, 2.0, 1.0, 1e12) for s in ("none", "cantilever"))
        >>> round(pinned.column_load / np.pi**2, 6), round(clamped.column_load / np.pi**2, 6)
        (0.25, 0.0625)
        """
        return self.bending_load / (1 + self.bending_load / self.GA)

    @property
    def ends(self) -> str:
        """How the ends are taken, in words."""
        if self.support == "cantilever":
            return "fixed at one end"
        return "pinned at both ends"
