"""Published tests beside the formulas: perfect theory and design load against what was measured.

Data: data/published_tests.toml, every row with its source. No row is left out because it looks
bad. Rows that give only the share of classical theory test the knockdown factor alone.
"""

from __future__ import annotations

import tomllib
from dataclasses import asdict, dataclass
from pathlib import Path
from typing import Any

import numpy as np

from gridshell.define.reading import design_from_table
from gridshell.material.properties import Properties
from gridshell.tube.instability import buckling_loads
from gridshell.tube.knockdown import knockdowns
from gridshell.wall.wall import wall

DATA = Path(__file__).parent / "data" / "published_tests.toml"
INCH, PSI = 25.4e-3, 6894.757293168  # m, Pa (exact inch; pound and standard gravity)


@dataclass(frozen=True)
class TestRow:
    """One published test.

    Attributes:
        group: table of the data file. name: of the specimen.
        load: what it was loaded with. unit: of the loads below ("Pa", or "1" for a share of
            classical theory).
        measured: load at buckling. perfect: of perfect theory. knockdown: published factor.
        mode: waves of perfect theory. measured_round: waves round seen in the test, 0 unknown.
        theory: another published theory for the same row, NaN if none.
        source, how, note: where from, how it was read, what to keep in mind.
    """

    group: str
    name: str
    load: str
    unit: str
    measured: float
    perfect: float
    knockdown: float
    mode: str
    measured_round: int
    theory: float
    source: str
    how: str
    note: str

    @property
    def design(self) -> float:
        """Load that the project would allow before the design factor."""
        return self.perfect * self.knockdown

    @property
    def over_perfect(self) -> float:
        """Measured over perfect theory."""
        return self.measured / self.perfect

    @property
    def over_design(self) -> float:
        """Measured over design load: below 1 the factor did not cover the test."""
        return self.measured / self.design


@dataclass(frozen=True)
class PublishedResult:
    """All rows, and their statistics by group."""

    rows: tuple[TestRow, ...]

    def statistics(self) -> dict[str, dict[str, float]]:
        """Count, mean and scatter (coefficient of variation) of the ratios, by group and all."""
        groups = {"all": self.rows}
        for row in self.rows:
            groups[row.group] = (*groups.get(row.group, ()), row)
        found = {}
        for name, rows in groups.items():
            perfect = np.array([row.over_perfect for row in rows])
            design = np.array([row.over_design for row in rows])
            found[name] = {
                "count": float(len(rows)),
                "mean over perfect": float(perfect.mean()),
                "scatter over perfect": _scatter(perfect),
                "mean over design": float(design.mean()),
                "scatter over design": _scatter(design),
                "lowest over design": float(design.min()),
            }
        return found

    def to_dict(self) -> dict[str, Any]:
        """Plain numbers and words, for JSON."""
        return {
            "rows": [
                {**asdict(row), "theory": None if np.isnan(row.theory) else row.theory,
                 "design": row.design, "over_perfect": row.over_perfect,
                 "over_design": row.over_design}
                for row in self.rows
            ],
            "statistics": self.statistics(),
        }

    def text_rows(self) -> list[tuple[str, ...]]:
        """A table as words."""
        head = ("test", "unit", "measured", "perfect theory", "design load",
                "measured/perfect", "measured/design", "waves")
        return [head, *(
            (row.name, row.unit, f"{row.measured:.4g}", f"{row.perfect:.4g}",
             f"{row.design:.4g}", f"{row.over_perfect:.2f}", f"{row.over_design:.2f}", row.mode)
            for row in self.rows
        )]


def _scatter(values: np.ndarray) -> float:
    return float(values.std(ddof=1) / values.mean()) if len(values) > 1 else 0.0


def published_comparison(path: Path = DATA) -> PublishedResult:
    """Predict every published test.

    Args:
        path: of a data file in the form of data/published_tests.toml.
    """
    with path.open("rb") as stream:
        content = tomllib.load(stream)
    readers = {"rings": _rings, "plain-ratio": _ratios, "ribbed-ratio": _ratios}
    rows: list[TestRow] = []
    for group, table in content.items():
        rows += readers[table["kind"]](group, table)
    return PublishedResult(tuple(rows))


def _rings(group: str, table: dict[str, Any]) -> list[TestRow]:
    """Cylinders with rectangular rings under hydrostatic pressure."""
    width, height, skin = (table[key] * INCH for key in (
        "ring_width", "ring_height", "thickness"))
    pitch = table["ring_spacing"] * INCH
    bore = table["inside_diameter"] * INCH
    outside = table["ring_side"] == "outside"
    diameter = bore + 2 * skin + (2 * height if outside else 0.0)
    material = Properties(
        "published", 294.15, table["modulus"] * PSI, table["poisson"], 7850.0, None
    )
    rows = []
    for index, bays in enumerate(table["bays"]):
        design = design_from_table({
            "title": "published test",
            "material": {"name": "published"},
            "tube": {"outside_diameter": f"{diameter} m", "length": f"{bays * pitch} m"},
            "skin": {"thickness": f"{skin} m"},
            "ribs": {
                "pattern": "families", "side": table["ring_side"], "height": f"{height} m",
                "width": f"{width} m",
                "family": [{"angle": "90 deg", "spacing": f"{pitch} m"}],
            },
        })
        built = wall(design, material)
        wave = buckling_loads(built, (table["load"],)).hydrostatic
        assert wave is not None
        radius = built.grid.radius
        rows.append(TestRow(
            group, f"{group}, {bays} bays", table["load"], "Pa",
            table["measured"][index] * PSI, float(wave.load),
            float(knockdowns(True, radius, skin)["pressure"].factor),
            f"{float(wave.m):.0f} half waves along, {float(wave.n):.0f} round",
            table["measured_round"][index], table["theory"][index] * PSI,
            table["source"], table["how"], table["note"],
        ))
    return rows


def _ratios(group: str, table: dict[str, Any]) -> list[TestRow]:
    """Rows that give a share of classical theory: perfect theory is 1 by definition."""
    ribbed = table["kind"] == "ribbed-ratio"
    rows = []
    for index, share in enumerate(table["measured_over_classical"]):
        ratio = 1.0 if ribbed else float(table["radius_over_thickness"][index])
        name = group if ribbed else f"{group}, r/t {ratio:.0f}"
        rows.append(TestRow(
            group, name, table["load"], "1", share, 1.0,
            float(knockdowns(ribbed, ratio, 1.0)[table["load"]].factor),
            "not published", 0, float("nan"), table["source"], table["how"], table["note"],
        ))
    return rows
