"""What `gridshell wall` shows: table and JSON."""

from __future__ import annotations

from pathlib import PurePath
from typing import Any

from gridshell.define.units import convert
from gridshell.report.numbers import digits, shown, table
from gridshell.wall.assess import Wall

CAUTION = (
    "CAUTION: numbers are a design aid, not a release: test before use, and for anything that "
    "flies, holds pressure or carries people follow local codes and licensed practice."
)


def wall_json(wall: Wall) -> dict[str, Any]:
    """JSON of a wall, SI.

    Keys: A (N/m), B (N), D (N m) 3x3 lists about the skin's middle surface; solid_cell: null, or
    the file whose stiffness they hold and A, B, D of the formula alone; formula (fat or thin: what
    they hold without a solid cell); handbook: the same for the handbook's thin ribs; areal_mass
    (kg/m2); mean_thickness (m); equivalent: thickness (m), modulus (Pa), poisson, and axial and
    hoop ones; radius of the middle surface (m); families: angle (rad), pitch (m), area (m2),
    centroid (z, m), inertia (m4), torsion (m4); rounding: stated and used (m); material: name,
    temperature (K), modulus (Pa), poisson, density (kg/m3); notes.
    """
    grid, equivalent, known = wall.grid, wall.equivalent, wall.properties
    return {
        "title": wall.design.title,
        "material": {
            "name": known.name,
            "temperature": float(known.temperature),
            "modulus": float(known.modulus),
            "poisson": float(known.poisson),
            "density": float(known.density),
        },
        "radius": float(grid.radius),
        "A": wall.A.tolist(),
        "B": wall.B.tolist(),
        "D": wall.D.tolist(),
        "solid_cell": None if wall.unit_cell is None else {
            "file": wall.design.ribs.solid_cell,
            "formula": {
                name: matrix.tolist() for name, matrix in zip("ABD", wall.formula, strict=True)
            },
        },
        "formula": wall.design.ribs.formula,
        "handbook": {
            name: matrix.tolist() for name, matrix in zip("ABD", wall.thin_rib, strict=True)
        },
        "areal_mass": float(wall.areal_mass),
        "mean_thickness": float(wall.volume_per_area),
        "equivalent": {
            "thickness": float(equivalent.thickness),
            "modulus": float(equivalent.modulus),
            "poisson": float(equivalent.poisson),
            "axial_thickness": float(equivalent.axial_thickness),
            "axial_modulus": float(equivalent.axial_modulus),
            "hoop_thickness": float(equivalent.hoop_thickness),
            "hoop_modulus": float(equivalent.hoop_modulus),
        },
        "cells": {
            "round_one_panel": int(grid.cells_round),
            "along_one_panel": int(grid.cells_along),
            "panels_round": grid.segments,
            "panels_along": grid.sections,
            "width": float(grid.cell_width),
            "height": float(grid.cell_height),
        },
        "families": [
            {
                "name": line.name,
                "angle": float(line.angle),
                "pitch": float(line.pitch),
                "area": float(section.area),
                "centroid": float(offset),
                "inertia": float(section.inertia),
                "torsion": float(section.torsion),
            }
            for line, section, offset in zip(
                grid.families, wall.sections, wall.offsets, strict=True
            )
        ],
        "rounding": [
            {"what": r.what, "stated": float(r.stated), "used": float(r.used)}
            for r in grid.rounding
        ],
        "notes": [*wall.range_notes, *known.notes],
    }


def rounding_lines(wall: Wall, system: str = "metric") -> list[str]:
    """What whole cells made of the stated spacing, one line each."""
    grid = wall.grid
    if not grid.rounding:
        return []
    lines = [
        f"rounded to whole cells: {int(grid.cells_round)} around and {int(grid.cells_along)} along "
        f"each of {grid.segments} x {grid.sections} panels"
    ]
    lines += [
        f"  {r.what}: {shown(r.stated, 'length', system)} requested, "
        f"{shown(r.used, 'length', system)} used ({percent(float(r.used / r.stated) - 1)})"
        for r in grid.rounding
    ]
    return lines


def solid_label(wall: Wall, shares: dict[str, float]) -> str:
    """What stands beside numbers that come from a solid cell; empty without one.

    Args:
        shares: name of a number -> that of the formula alone, over the one shown.
    """
    if wall.unit_cell is None:
        return ""
    off = ", ".join(f"{name} {percent(value - 1)}" for name, value in shares.items())
    return (
        f"stiffness from the unit cell in {_file_name(wall)}; by the formula alone: "
        f"{off}"
    )


def _file_name(wall: Wall) -> str:
    return PurePath(str(wall.design.ribs.solid_cell)).name


def percent(share: float) -> str:
    """A difference as a percentage with its sign.

    >>> percent(-0.0771), percent(-1e-9)
    ('-7.7 %', '+0.0 %')
    """
    return f"{round(100 * share, 1) + 0.0:+.1f} %"  # + 0.0: no negative zero


def titled(title: str, label: str) -> str:
    """Title of a picture, with what stands beside its numbers on the next line."""
    return f"{title}\n{label}" if label else title


def wall_label(wall: Wall) -> str:
    """`solid_label` of a wall, by its stretching and bending stiffness."""
    return solid_label(wall, {
        f"{name}{place}": float(alone[i, i] / used[i, i])
        for name, alone, used in (("A", wall.formula[0], wall.A), ("D", wall.formula[2], wall.D))
        for i, place in enumerate(("11", "22", "66"))
    })


def _handbook_lines(wall: Wall, system: str) -> list[str]:
    """How far the handbook's thin ribs (and the formula) fall below the values used."""
    rows = []
    others = [wall.thin_rib] if wall.unit_cell is None else [wall.formula, wall.thin_rib]
    for k, (name, used) in enumerate(zip("ABD", (wall.A, wall.B, wall.D), strict=True)):
        for label, i in (("11", 0), ("22", 1), ("66", 2)):
            if used[i, i] != 0:
                row = [f"{name}{label}"]
                for other in others:
                    value = float(other[k][i, i])
                    row += [_five(value * _in_units(k, system)[0]),
                            percent(value / float(used[i, i]) - 1)] if value else ["none", "-"]
                rows.append(row)
    if wall.unit_cell is not None:
        return [
            f"A, B and D are those of the unit cell in {_file_name(wall)} (solid finite elements, "
            f"{wall.unit_cell.mesh} mesh, solved for {wall.unit_cell.title!r}).",
            "For comparison, the finite-width formula and the handbook's thin-rib formula:",
            table(rows, ["", "finite-width", "difference", "thin-rib", "difference"]),
        ]
    return [
        "A, B and D are by the finite-width formula (ribs, nodes and fillets held by the skin).",
        "For comparison, the handbook's thin-rib formula (ribs.formula = \"thin\"):",
        table(rows, ["", "thin-rib", "difference"]),
    ]


# Kind, unit and inch unit of A, B and D.
_MATRICES = (("line_force", "N/m", "lbf/in"), ("force", "N", "lbf"), ("moment", "N m", "lbf in"))


def _in_units(k: int, system: str) -> tuple[float, str]:
    """Factor and unit that A, B and D (k = 0, 1, 2) are shown in."""
    kind, metric, inch = _MATRICES[k]
    return (1.0, metric) if system == "metric" else (convert(1.0, kind, inch), inch)


def _five(value: float) -> str:
    """Five digits, so that A, B and D can be used on; the rest of rounding reads as zero.

    >>> _five(123456.0), _five(-1.2e-9)
    ('123,460', '-1.2000e-09')
    """
    return digits(value, 5)


def _areal(value: Any, system: str) -> str:
    if system == "metric":
        return f"{float(value):.4g} kg/m^2"
    foot = convert(1.0, "length", "ft")
    return f"{convert(float(value), 'density', 'lb/ft^3') * foot:.4g} lb/ft^2"


def wall_text(wall: Wall, system: str = "metric") -> str:
    """The table of a wall: what it equals first, then where that comes from."""
    def length(value: Any) -> str:
        return shown(value, "length", system)

    equivalent, known, grid = wall.equivalent, wall.properties, wall.grid
    skin = wall.design.skin.thickness
    factor, unit = _in_units(0, system)
    plate = known.modulus * skin / (1 - known.poisson**2)
    rows = [
        ["equivalent plain wall", length(equivalent.thickness),
         f"of modulus {shown(equivalent.modulus, 'pressure', system)}"],
        ["mass as a mean thickness", length(wall.volume_per_area),
         _areal(wall.areal_mass, system)],
        ["axial membrane stiffness A11", f"{digits(float(wall.A[0, 0]) * factor)} {unit}",
         f"{float(wall.A[0, 0] / plate):.3g} x the skin's"],
        ["hoop membrane stiffness A22", f"{digits(float(wall.A[1, 1]) * factor)} {unit}", ""],
        ["shear stiffness A66", f"{digits(float(wall.A[2, 2]) * factor)} {unit}", ""],
    ]
    label = wall_label(wall)
    parts = [wall.design.title, "", table(rows), *([label] if label else []), ""]
    if wall.sections:
        families = [
            [line.name, f"{float(line.angle) * 57.29577951:.1f} deg", length(line.pitch),
             length(section.tip_width), length(section.root_width), length(section.height),
             length(offset)]
            for line, section, offset in zip(
                grid.families, wall.sections, wall.offsets, strict=True
            )
        ]
        parts += [table(families, ["ribs", "from axis", "pitch", "tip", "root", "height", "z"]), ""]
        parts += [*rounding_lines(wall, system), ""]
    for k, (name, matrix) in enumerate((("A", wall.A), ("B", wall.B), ("D", wall.D))):
        factor, unit = _in_units(k, system)
        rows = [[_five(float(v) * factor) for v in line] for line in matrix]
        parts += [f"{name} [{unit}] about the skin's middle surface", table(rows), ""]
    if wall.sections and wall.design.ribs.formula == "fat":
        parts += [*_handbook_lines(wall, system), ""]
    parts.append(
        f"material {known.name} at {shown(known.temperature, 'temperature', system, 3)}: modulus "
        f"{shown(known.modulus, 'pressure', system)}, Poisson's ratio {float(known.poisson):.3g}, "
        f"density {shown(known.density, 'density', system)}"
    )
    parts += [f"note: {note}" for note in (*wall.range_notes, *known.notes)]
    parts.append(CAUTION)
    return "\n".join(parts)


