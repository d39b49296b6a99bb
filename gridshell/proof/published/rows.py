"""Read published tests and worked examples, and predict each with the project's own formulas.

Dimensions and loads stand in the data file in the units of their source; they are turned into a
definition as a user would write it, so that a test goes through the same code as a design.
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import Any

import numpy as np

from gridshell.define.constants import ROOM_TEMPERATURE
from gridshell.define.errors import InputError
from gridshell.define.files.reading import design_from_table
from gridshell.define.tables.design import Design, with_values
from gridshell.define.units import parse_quantity
from gridshell.material.properties import Properties
from gridshell.tube.buckling.general import buckling_loads, resultant, wave_law
from gridshell.tube.buckling.knockdown import factors, knockdowns, plain_phi
from gridshell.tube.buckling.wave_laws import compression_load
from gridshell.tube.buckling.waves import LowestWave
from gridshell.wall.assess import assess_wall

# What a row is loaded with -> (buckling load of the formulas, kind of quantity, factor table).
LOADS = {
    "compression": ("compression", "force", "compression"),
    "bending": ("compression", "moment", "bending"),
    "torsion": ("torsion", "moment", "torsion"),
    "lateral": ("lateral", "pressure", "pressure"),
    "hydrostatic": ("hydrostatic", "pressure", "pressure"),
}
UNITS = {"force": "N", "moment": "N m", "pressure": "Pa"}
DIAMETERS = ("inside", "middle", "outside")
UNKNOWN = float("nan")
NATURES = ("test", "summary", "fit", "sets the factor", "worked example")
_ALWAYS = ("nature", "load", "source", "how", "note")
_CYLINDER = (
    *_ALWAYS, "name", "length_unit", "load_unit", "diameter", "diameter_of", "thickness",
    "length", "modulus", "poisson", "ends", "measured",
)


@dataclass(frozen=True)
class TestRow:
    """One published test or worked example.

    Attributes:
        group: table of the data file.
        name: of the specimen.
        worked: True where the published value was computed and not measured.
        nature: one single test, a summary of many, a formula fitted to tests, a lowest share that
            the knockdown factor was set by (and so cannot fail it), or a worked example.
        load: what it was loaded with.
        unit: of the loads below ("Pa", "N", "N m", or "1" for a share of classical theory).
        measured: load at buckling, or the published answer of a worked example.
        perfect: load of perfect theory, in ``unit``.
        knockdown: published factor, NaN for a worked example.
        mode: waves of perfect theory.
        measured_round: waves round seen in the test, 0 unknown.
        theory: a second published value for the same row, NaN if none.
        dimensions: as the source states them.
        ends: as the source states them.
        source: where from.
        how: how it was read.
        note: what to keep in mind.
    """

    group: str
    name: str
    worked: bool
    nature: str
    load: str
    unit: str
    measured: float
    perfect: float
    knockdown: float
    mode: str
    measured_round: int
    theory: float
    dimensions: str
    ends: str
    source: str
    how: str
    note: str

    @property
    def design(self) -> float:
        """Load that the project would allow before the design factor; NaN for an example."""
        return self.perfect * self.knockdown

    @property
    def over_perfect(self) -> float:
        """Measured over perfect theory."""
        return self.measured / self.perfect

    @property
    def over_design(self) -> float:
        """Measured over design load: below 1 the factor did not cover the test."""
        return self.measured / self.design


def read_rows(group: str, table: dict[str, Any]) -> list[TestRow]:
    """Rows of one table of the data file.

    Args:
        group: its name.
        table: kind "plain-ratio" or "ribbed-ratio" (shares of classical theory) or "cylinders"
            (dimensions), as the head of published_tests.toml tells.

    Raises:
        InputError: a key is missing, or kind, load or diameter are unknown.
        DefinitionError: dimensions that make no tube.
    """
    kind = table.get("kind")
    if table.get("nature") not in NATURES:
        raise InputError(
            f"{group}.nature: {table.get('nature')!r} is unknown; use {', '.join(NATURES)}")
    if kind == "cylinders":
        _need(group, table, ("specimens",))
        return [_cylinder(group, {**table, **one}) for one in table["specimens"]]
    if kind in ("plain-ratio", "ribbed-ratio"):
        _need(group, table, (*_ALWAYS, "measured_over_classical"))
        return _ratios(group, table, kind == "ribbed-ratio")
    raise InputError(
        f"{group}.kind: {kind!r} is unknown; use plain-ratio, ribbed-ratio or cylinders"
    )


def _need(group: str, row: dict[str, Any], keys: tuple[str, ...]) -> None:
    missing = [key for key in keys if key not in row]
    if missing:
        raise InputError(f"{group}: {', '.join(missing)} is missing")


def _cylinder(group: str, row: dict[str, Any]) -> TestRow:
    """A cylinder with its dimensions."""
    _need(f"{group}, {row.get('name', 'specimen')}", row, _CYLINDER)
    if row["load"] not in LOADS:
        raise InputError(f"{group}.load: {row['load']!r} is unknown; use {', '.join(LOADS)}")
    found, quantity, factor = LOADS[row["load"]]
    design = _design(group, row)
    built = assess_wall(design, Properties(
        "published", ROOM_TEMPERATURE, parse_quantity(row["modulus"], "pressure"), row["poisson"],
        1000.0,
    ))
    radius = built.grid.radius
    if "wave" in row:
        along, around = row["wave"]
        x = np.atleast_1d((along * np.pi / design.tube.length) ** 2)
        y = np.atleast_1d((around / radius) ** 2)
        load = compression_load(wave_law(built), x, y).item()
        wave = LowestWave(load, float(along), float(around), np.asarray(False))
    else:
        wave = getattr(buckling_loads(built, (found,)), found)
    scale = float(resultant(row["load"], radius))

    def published(value: float) -> float:
        return parse_quantity(f"{value} {row['load_unit']}", quantity)

    worked, unit = row.get("worked", False), row["length_unit"]
    return TestRow(
        group, f"{group}, {row['name']}", worked=worked, nature=row["nature"], load=row["load"],
        unit=UNITS[quantity], measured=published(row["measured"]), perfect=float(wave.load) * scale,
        knockdown=UNKNOWN if worked else float(knockdowns(built)[factor].factor),
        mode=wave.description, measured_round=row.get("round", 0),
        theory=published(row["theory"]) if "theory" in row else UNKNOWN,
        dimensions=(
            f"{row['diameter_of']} diameter {row['diameter']} {unit}, "
            f"wall {row['thickness']} {unit}, length {row['length']} {unit}"),
        ends=row["ends"], source=row["source"], how=row["how"], note=row["note"],
    )


def _design(group: str, row: dict[str, Any]) -> Design:
    """The definition of a specimen, ribs in the words of a definition file."""
    unit, skin, of = row["length_unit"], row["thickness"], row["diameter_of"]
    if of not in DIAMETERS:
        raise InputError(f"{group}.diameter_of: {of!r} is unknown; use {', '.join(DIAMETERS)}")
    outside = row["diameter"] + {"inside": 2, "middle": 1, "outside": 0}[of] * skin
    ribs = {"pattern": "plain", **row.get("ribs", {})}
    content: dict[str, Any] = {
        "title": "published test", "material": {"name": "published"},
        "tube": {"outside_diameter": f"{outside} {unit}", "length": f"{row['length']} {unit}"},
        "skin": {"thickness": f"{skin} {unit}"}, "ribs": ribs,
    }
    design = design_from_table(content, group)
    if ribs.get("side") == "outside":
        over = 2 * float(design.rib_height)
        tube = {**content["tube"], "outside_diameter": f"{design.tube.outside_diameter + over} m"}
        design = design_from_table({**content, "tube": tube}, group)
    if row.get("worked") and not design.has_ribs:
        # What was worked out by the classical formulas has no shear across the wall.
        design = with_values(design, {"ribs.formula": "thin"})
    return design


def _ratios(group: str, table: dict[str, Any], ribbed: bool) -> list[TestRow]:
    """Rows that give a share of classical theory: perfect theory is 1 by definition."""
    rows = []
    for index, share in enumerate(table["measured_over_classical"]):
        ratio, name, dimensions = 1.0, group, "not published there"
        if "radius_over_thickness" in table:
            ratio = float(table["radius_over_thickness"][index])
            name, dimensions = f"{group}, r/t {ratio:.0f}", f"radius over thickness {ratio:.0f}"
        elif "names" in table:
            name = f"{group}, {table['names'][index]}"
        rows.append(TestRow(
            group, name, worked=False, nature=table["nature"], load=table["load"], unit="1",
            measured=share, perfect=1.0,
            # Ribbed walls are published without dimensions: the constants of large ribs.
            knockdown=float(factors(0.0 if ribbed else plain_phi(ratio, 1.0), float(ribbed),
                          plain_phi(ratio, 1.0))[table["load"]].factor),
            mode="not published", measured_round=0, theory=UNKNOWN, dimensions=dimensions,
            ends="not published there", source=table["source"], how=table["how"],
            note=table["note"],
        ))
    return rows
