"""Values and lists that several parts of the program share, each said once."""

from __future__ import annotations

GRAVITY = 9.80665
"""Standard acceleration of free fall, m/s2 (ISO 80000-3)."""

ROOM_TEMPERATURE = 294.15
"""Temperature of use, of molds and of the air unless another is stated: 21 degC, in K."""

DRY_ICE_TEMPERATURE = 194.7
"""Sublimation of carbon dioxide at 1 atm, K."""

CELL_PATTERNS = ("isogrid", "orthogrid", "diagonal")
"""Rib patterns with a repeating rectangular cell."""

PATTERNS = (*CELL_PATTERNS, "families", "plain")
"""All rib patterns."""

DIRECT_PROCESSES = ("print-part", "machine-part")
"""Ways to make the part itself."""

PROCESSES = ("print", "mill", *DIRECT_PROCESSES)
"""Ways to make a mold or the part itself."""

SIDES = ("inside", "outside")
"""Sides of the skin that ribs may stand on."""

SUPPORTS = ("cantilever", "simply-supported", "free-free")
"""Ways to hold a tube."""

WALL_ENDS = ("simply-supported", "clamped")
"""Ways to hold the edge of the wall."""

BEND_TESTS = ("three-point", "four-point", "cantilever")
"""Bending tests of coupons and of finished tubes."""
