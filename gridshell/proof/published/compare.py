"""Published tests beside the formulas: perfect theory and design load against what was measured.

Data: published_tests.toml, every row with its source. No row is left out because it looks
bad. Rows that give only the share of classical theory test the knockdown factor alone; worked
examples (computed, not measured) are counted apart from tests.
"""

from __future__ import annotations

import tomllib
from dataclasses import asdict, dataclass
from pathlib import Path
from typing import Any

import numpy as np

from gridshell.define.types import finite
from gridshell.proof.published.rows import TestRow, read_rows

DATA = Path(__file__).parent / "published_tests.toml"
SINGLE, TESTS, DIMENSIONED, WORKED = (
    "single tests", "all tests", "tests with dimensions", "all worked examples")


@dataclass(frozen=True)
class PublishedResult:
    """All rows, and their statistics by group.

    Attributes:
        rows: in the order of the data file.
    """

    rows: tuple[TestRow, ...]

    def statistics(self) -> dict[str, dict[str, float]]:
        """Count, mean and scatter (coefficient of variation) of the ratios.

        By group of the data file, then for all tests, tests with dimensions and worked examples.
        NaN: the scatter of one row, and ratios over the design load of worked examples, which no
        knockdown applies to.
        """
        groups: dict[str, list[TestRow]] = {}
        for row in self.rows:
            groups.setdefault(row.group, []).append(row)
        tests = [row for row in self.rows if not row.worked]
        groups[SINGLE] = [row for row in tests if row.nature == "test"]
        groups[TESTS] = tests
        groups[DIMENSIONED] = [row for row in tests if row.unit != "1"]
        groups[WORKED] = [row for row in self.rows if row.worked]
        found = {}
        for name, rows in groups.items():
            if not rows:
                continue
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
        """Plain numbers and words, for JSON; None where a number is not known."""
        return {
            "rows": [
                {key: _or_none(value) for key, value in {
                    **asdict(row), "design": row.design, "over_perfect": row.over_perfect,
                    "over_design": row.over_design,
                }.items()}
                for row in self.rows
            ],
            "statistics": {
                name: {key: _or_none(value) for key, value in values.items()}
                for name, values in self.statistics().items()
            },
        }


def _scatter(values: np.ndarray) -> float:
    return float(values.std(ddof=1) / values.mean()) if len(values) > 1 else float("nan")


def _or_none(value: Any) -> Any:
    return finite(value) if isinstance(value, float) else value


def published_comparison(path: Path = DATA) -> PublishedResult:
    """Predict every published test and worked example.

    Args:
        path: of a data file in the form of published_tests.toml.

    Raises:
        InputError: a key of the file is missing or has a value that is unknown.
    """
    with path.open("rb") as stream:
        content = tomllib.load(stream)
    rows: list[TestRow] = []
    for group, table in content.items():
        rows += read_rows(group, table)
    return PublishedResult(tuple(rows))
