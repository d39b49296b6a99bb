"""The hole table is held to the solid: inside each hole is air, a little further is mold."""

from __future__ import annotations

import csv
import io
import math
from typing import Any

import numpy as np
import pytest
from shapes import is_mold, small, words_off_the_page

from gridshell.define.tables.casting import Casting
from gridshell.define.tables.mold import Mold
from gridshell.mold.checks.filling.fill import upwards
from gridshell.mold.pieces.build import build_molds, plan_molds
from gridshell.mold.pieces.cores.inserts import carried_wall, insert_growth, insert_half
from gridshell.mold.pieces.features.hole_table import (
    COLUMNS,
    Feature,
    as_csv,
    halves_of,
    hole_table,
)
from gridshell.mold.pieces.mold_set import MoldSet
from gridshell.report.sheets.holes import hole_figure


@pytest.fixture(scope="module", params=[
    (None, "end-up"), ((0.06, 0.11, 0.06), "crown-up"), (None, "crown-down")],
    ids=["whole", "split", "crown-down"])
def molds(request: Any) -> MoldSet:
    bed, filled = request.param
    return build_molds(small("plain"), Mold(
        engraving=0.0, shrinkage=0.015, bed=bed, gates=2, gate_diameter=0.8e-3, vents=4,
        casting=Casting(filled=filled)))


def test_every_hole_is_where_the_table_says(molds: MoldSet) -> None:
    rows = hole_table(molds)
    assert {row.feature for row in rows} >= {
        "screw hole", "dowel hole", "gate", "vent", "flash groove"}
    # Short pieces have no room for a lever between their holes.
    named = {row.feature for row in rows}
    assert named >= ({"split plane", "key", "socket", "joint pin hole"} if molds.planes else
                     {"pry slot"})
    if not molds.planes:
        jacks = [row for row in rows if row.feature == "jack hole"]
        assert len(jacks) == 4 and {row.piece for row in jacks} == {"cavity"}
        core = molds.piece("core").solid
        for row in jacks:  # its screw bears on the core
            assert is_mold(core, row.x, row.y, molds.plan.parting - 0.1), row
    for row in rows:
        is_there(row, molds.piece(row.piece).solid, molds.plan.parting)


def test_holes_of_the_mold_of_an_insert_are_in_the_table() -> None:
    """Larger by the shrinkage of the rubber, with places of their own."""
    molds = plan_molds(small(), Mold(core="rubber", shrinkage=0.015))
    halves = {half.name: half for half in halves_of(molds)}
    assert list(halves) == ["core", "cavity", "insert-core", "insert-cavity"]
    wall = carried_wall(molds.plan, molds.mold, molds.design)
    rows = hole_table(molds)
    places = {}
    for name, half in list(halves.items())[2:]:
        solid = insert_half(molds.plan, molds.mold, [], wall, name, insert_growth(molds.mold))
        own = [row for row in rows if row.piece == name]
        assert {row.feature for row in own} >= {"screw hole", "dowel hole"}
        for row in own:
            is_there(row, solid, half.plan.parting)
        places[name] = {(row.x, row.y) for row in own if row.feature == "screw hole"}
        figure = hole_figure(molds, name)
        assert not words_off_the_page(figure)
        assert "times the insert" in " ".join(text.get_text() for text in figure.texts)
    assert places["insert-core"] == places["insert-cavity"]
    assert places["insert-core"].isdisjoint(
        {(row.x, row.y) for row in rows if row.piece == "core"})


def is_there(row: Feature, solid: Any, zero: float) -> None:
    """Inside is air (of a key, mold), a little further is mold."""
    z = row.z + zero
    if row.along in ("z", "-z"):
        way = 1 if row.along == "z" else -1
        middle = z + way * row.depth / 2
        assert not is_mold(solid, row.x, row.y, middle), row
        across = (row.diameter or row.width or 0.0) / 2
        inward = -math.copysign(1.0, row.y)
        assert not is_mold(solid, row.x, row.y + inward * (across - 0.02), middle), row
        assert is_mold(solid, row.x, row.y + inward * (across + 0.02), middle), row
        if row.diameter is None:
            assert is_mold(solid, row.x, row.y, z + way * (row.depth + 0.02)), row
            assert not is_mold(solid, row.x + (row.length or 0) / 2 - 0.02, row.y, middle), row
    elif row.feature in ("key", "socket", "joint pin hole"):
        way = -1 if row.along == "-x" else 1
        middle = row.x + way * row.depth / 2
        assert is_mold(solid, middle, row.y, z) == (row.feature == "key"), row
        edge = (row.diameter or row.height or 0.0) / 2
        for beyond, inside in ((-0.02, True), (0.02, False)):
            # Of a key inside is mold; of a socket or a hole it is air.
            assert is_mold(solid, middle, row.y, z + edge + beyond) == (
                inside == (row.feature == "key")), row
        if row.feature == "socket":
            assert is_mold(solid, row.x + row.depth + 0.02, row.y, z), row
    elif row.feature in ("gate", "vent"):
        inside = row.x + (0.1 if row.along == "x" else -0.1) * row.depth
        assert not is_mold(solid, inside, row.y, z), row
        radius = math.hypot(row.y, z)
        # Inwards is the seat of the core's print, so only the outer side is looked at.
        outer = 1 + ((row.diameter or 0.0) / 2 + 0.02) / radius
        assert is_mold(solid, inside, row.y * outer, z * outer), row


def test_vents_are_at_the_highest_places(molds: MoldSet) -> None:
    """Of the casting's end faces, whichever way the mold stands."""
    filled, plan = molds.mold.casting.filled, molds.plan
    up = upwards(filled)[1:]
    vents = [row for row in hole_table(molds) if row.feature == "vent"]
    assert len(vents) == 4
    assert {row.x for row in vents} == ({0.0} if filled == "end-up" else {0.0, plan.length})
    if filled == "end-up":  # the whole upper land is level; its corners are farthest from the gates
        assert max(row.y for row in vents) > 0.8 * plan.inner
        return
    face = np.concatenate([
        r * np.stack([np.cos(a), np.sin(a)], axis=-1) for r in (plan.inner, plan.outer)
        for a in [np.linspace(plan.left, plan.right, 181)]])
    for row in vents:
        height = np.array([row.y, row.z + plan.parting]) @ up
        assert height > (face @ up).max() - 2 * (row.diameter or 0.0), row


def test_table_reads_as_csv(molds: MoldSet) -> None:
    text = as_csv(hole_table(molds))
    assert text.startswith("# zero: x = 0 at the casting's pour end face")
    assert "all in mm" in text.split("\n")[0]
    inches = as_csv(hole_table(molds), "inch")
    assert "all in inches" in inches.split("\n")[0] and ",0.2362," in inches  # 6 mm
    rows = list(csv.DictReader(io.StringIO(text.split("\n", 1)[1])))
    assert tuple(rows[0]) == COLUMNS
    fits = {(row["piece"].split("-")[0], row["diameter"], row["fit"]) for row in rows
            if row["feature"] == "dowel hole"}
    # 6 mm pins: tight in the core, with the stated 0.15 mm on each side in the cavity.
    assert fits == {("core", "6.000", "press"), ("cavity", "6.300", "slip")}


def test_sheets_of_holes_show_every_row(molds: MoldSet) -> None:
    rows = hole_table(molds)
    for name in {row.piece for row in rows}:
        figure = hole_figure(molds, name)
        assert not words_off_the_page(figure)
        written = [text.get_text() for text in figure.texts]
        for number, row in enumerate((r for r in rows if r.piece == name), start=1):
            assert f"{number}  {row.feature}" in written and f"{row.x + 0.0:.3f}" in written
