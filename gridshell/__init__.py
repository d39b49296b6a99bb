"""Rib-stiffened tubes: from a definition file to stiffness, buckling, sizing and molds.

Everything offered here is loaded when it is first used; see `gridshell.api`.
"""

from __future__ import annotations

from typing import TYPE_CHECKING, Any

__version__ = "0.2.0"

if TYPE_CHECKING:
    from gridshell.api import (
        assess_tube,
        assess_wall,
        build_molds,
        chill,
        compare_walls,
        make_design,
        materials,
        read_design,
        scatter_designs,
        section_loads,
        size_tube,
        sweep_designs,
    )

__all__ = [
    "assess_tube",
    "assess_wall",
    "build_molds",
    "chill",
    "compare_walls",
    "make_design",
    "materials",
    "read_design",
    "scatter_designs",
    "section_loads",
    "size_tube",
    "sweep_designs",
]


def __getattr__(name: str) -> Any:
    if name in __all__:
        from gridshell import api

        return getattr(api, name)
    raise AttributeError(f"module 'gridshell' has no attribute {name!r}")


def __dir__() -> list[str]:
    return sorted([*globals(), *__all__])
