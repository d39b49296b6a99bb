"""The stated accuracy of general instability, held to the solved tubes kept with the code."""

import re

import numpy as np
import pytest

from gridshell.define.constants import CELL_PATTERNS
from gridshell.proof.maps.tubes import FRESH, LOADS, SEEDS, designs, read, table
from gridshell.tube.buckling.general import buckling_loads, solid_notes

TUBES = read()
RATIOS = table(TUBES)
WALLS = [tube.wall for tube in TUBES]
DEPTH = np.array([float(wall.depth / wall.grid.radius) for wall in WALLS])
LOST = np.array([float(wall.bowing.hoop_loss) for wall in WALLS])
SMEARS = np.array([[tube.smears()[name] for name in LOADS] for tube in TUBES])


def test_there_is_a_map():
    assert len(TUBES) >= 30
    for pattern in CELL_PATTERNS:
        for side in ("inside", "outside"):
            assert sum(t.design.ribs.pattern == pattern and t.design.ribs.side == side
                       for t in TUBES) >= 5


def stated_percent(tube):
    """What the notes of `gridshell tube` promise for a tube, read as a user reads them."""
    notes = " ".join(solid_notes(tube.wall))
    inside = re.search(r"within ([\d.]+) %", notes)
    outside = re.search(r"up to (\d+) % high", notes)
    assert (inside is None) != (outside is None), notes
    return float((inside or outside)[1])


def off_percent(tubes):
    """Largest difference of each tube, over the loads whose waves span two ribs."""
    off = 100 * np.abs(table(tubes) - 1)
    smears = np.array([[tube.smears()[name] for name in LOADS] for tube in tubes])
    return np.max(np.where(smears, off, 0.0), axis=1)


def test_claim_on_fresh_tubes():
    """Tubes that were solved after the limits were chosen; none is left out."""
    fresh = read(FRESH)
    told = [row for row, _, _ in designs(len(fresh), SEEDS[FRESH])]
    assert len(fresh) >= 10
    for tube, row in zip(fresh, told, strict=True):
        assert tube.design.tube.length == pytest.approx(row["length"], rel=1e-8)
    off, promised = off_percent(fresh), np.array([stated_percent(tube) for tube in fresh])
    assert (off <= promised).all()
    assert off.max() > promised.max() / 3  # and the promise is not empty


def test_limits_on_the_tubes_they_were_chosen_on():
    off = off_percent(TUBES)
    assert (off <= [stated_percent(tube) for tube in TUBES]).all()
    # By hand from the kept table: within 5.1 % in walls no deeper than 0.16 of the radius
    # whose skin loses no more than 0.45 of its hoop stiffness, up to 10 % beyond.
    inside = (DEPTH <= 0.16) & (LOST <= 0.45)
    assert (~inside).any() and off[inside].max() < 5.1 < off[~inside].max() < 10


def test_no_bias():
    # Neither side of the truth is preferred, for any load.
    assert np.abs(np.median(RATIOS, axis=0) - 1).max() < 0.02


def test_same_waves():
    # Half waves along agree to one (torsion: whole halves were solved), waves round exactly.
    for tube, wall, smears in zip(TUBES, WALLS, SMEARS, strict=True):
        loads = buckling_loads(wall, LOADS)
        for name, smooth in zip(LOADS, smears, strict=True):
            if smooth and name != "torsion":
                assert abs(float(getattr(loads, name).m) - tube.waves[name][0]) <= 1
                assert int(getattr(loads, name).n) == tube.waves[name][1]


def test_designs_repeat():
    first, second = (list(designs(6)) for _ in range(2))
    assert [row for row, _, _ in first] == [row for row, _, _ in second]


def test_kept_rows_are_those_designs():
    rows = [row for row, _, _ in designs(36)]
    kept = {(t.design.ribs.pattern, round(float(t.design.tube.outside_diameter), 8)) for t in TUBES}
    assert kept <= {(row["pattern"], round(float(row["diameter"]), 8)) for row in rows}
