"""The stated accuracy of general instability, held to the solved tubes kept with the code."""

import numpy as np
import pytest

from gridshell.define.constants import CELL_PATTERNS
from gridshell.proof.maps.tubes import LOADS, designs, read, table
from gridshell.tube.buckling.general import (
    DEEPEST,
    MOST_GIVE,
    OUTSIDE_PERCENT,
    SOLID_PERCENT,
    solid_notes,
)

TUBES = read()
RATIOS = table(TUBES)
WALLS = [tube.wall for tube in TUBES]
DEPTH = np.array([float(wall.depth / wall.grid.radius) for wall in WALLS])
LOST = np.array([float(wall.bowing.hoop_loss) for wall in WALLS])
SMEARS = np.array([[tube.smears()[name] for name in LOADS] for tube in TUBES])
INSIDE = (DEPTH <= DEEPEST) & (LOST <= MOST_GIVE)


def test_there_is_a_map():
    assert len(TUBES) >= 30
    for pattern in CELL_PATTERNS:
        for side in ("inside", "outside"):
            assert sum(t.design.ribs.pattern == pattern and t.design.ribs.side == side
                       for t in TUBES) >= 5


def test_stated_accuracy():
    off = np.abs(RATIOS - 1)
    assert off[INSIDE][SMEARS[INSIDE]].max() <= SOLID_PERCENT / 100
    assert off[INSIDE].max() > SOLID_PERCENT / 200  # and the statement is not empty
    assert off[~INSIDE].max() <= OUTSIDE_PERCENT / 100
    assert (~INSIDE).any()


def test_no_bias():
    # Neither side of the truth is preferred, for any load.
    assert np.abs(np.median(RATIOS, axis=0) - 1).max() < 0.02


def test_map_reaches_the_stated_limits():
    assert DEPTH[INSIDE].max() > 0.9 * DEEPEST
    assert LOST[INSIDE].max() > 0.75 * MOST_GIVE


def test_same_waves():
    # Half waves along agree to one (torsion: whole halves were solved), waves round exactly.
    for tube, wall, smears in zip(TUBES, WALLS, SMEARS, strict=True):
        from gridshell.tube.buckling.general import buckling_loads

        loads = buckling_loads(wall, LOADS)
        for name, smooth in zip(LOADS, smears, strict=True):
            if smooth and name != "torsion":
                assert abs(float(getattr(loads, name).m) - tube.waves[name][0]) <= 1
                assert int(getattr(loads, name).n) == tube.waves[name][1]


@pytest.mark.parametrize("number", range(len(TUBES)))
def test_notes_flag_what_is_outside(number):
    note = " ".join(solid_notes(WALLS[number]))
    assert ("within" in note) == bool(INSIDE[number])


def test_designs_repeat():
    first, second = (list(designs(6)) for _ in range(2))
    assert [row for row, _, _ in first] == [row for row, _, _ in second]


def test_kept_rows_are_those_designs():
    rows = [row for row, _, _ in designs(36)]
    kept = {(t.design.ribs.pattern, round(float(t.design.tube.outside_diameter), 8)) for t in TUBES}
    assert kept <= {(row["pattern"], round(float(row["diameter"]), 8)) for row in rows}
