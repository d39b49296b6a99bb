"""What buckles first, drawn: the checks that are listed, and meshes that move as modes do."""

from __future__ import annotations

import json

import numpy as np
import pytest

from gridshell.define.errors import InputError
from gridshell.define.files.reading import read_design
from gridshell.explore.scene.buckle import buckle_scene, buckles, cell_scene
from gridshell.study.compare import plain_design
from gridshell.tube.assess import assess_tube


def unpacked(data):
    """Head, and points, marks and triangles of each body."""
    size = int.from_bytes(data[:4], "little")
    head, at, bodies = json.loads(data[4:4 + size]), 4 + size, {}
    for body in head["bodies"]:
        n, m = body["points"], body["triangles"]
        points = np.frombuffer(data, "<f4", 3 * n, at).reshape(-1, 3)
        marks = np.frombuffer(data, "<i1", 4 * n, at + 12 * n).reshape(-1, 4)[:, 3] / 127
        triangles = np.frombuffer(data, "<u4", 3 * m, at + 16 * n).reshape(-1, 3)
        bodies[body["name"]] = points, marks, triangles
        at += 16 * n + 12 * m + 8 * body["places"]
    return head, bodies


@pytest.fixture(scope="module")
def tubes(examples):
    return {path.stem: assess_tube(read_design(path)) for path in examples
            if path.stem in ("lake-probe", "tide-mast")}


def test_the_governing_buckle_comes_first(tubes):
    for tube in tubes.values():
        listed = buckles(tube)
        names = [one["name"] for one in listed]
        assert len(set(names)) == len(names) and not any("combined" in name for name in names)
        lowest = {}
        for case in tube.cases:
            for check in case.checks:
                if check.name in names:
                    lowest[check.name] = min(float(check.margin), lowest.get(check.name, np.inf))
        assert names == sorted(lowest, key=lowest.get)


def test_the_tube_bulges_in_its_waves(tubes):
    """External pressure: half waves along and waves round are those that the check names."""
    tube = tubes["lake-probe"]
    name = "general instability under external pressure"
    head, bodies = unpacked(buckle_scene(tube, name))
    still, marks, _ = bodies["still"]
    moved = bodies["moved"][0]
    out = np.hypot(moved[:, 1], moved[:, 2]) - np.hypot(still[:, 1], still[:, 2])
    assert np.abs(out).max() > 0.08 * float(tube.wall.grid.radius) * 1e3
    assert np.corrcoef(out, marks)[0, 1] > 0.99
    wave = tube.buckling.hydrostatic if tube.buckling.lateral is None else tube.buckling.lateral
    middle = np.abs(still[:, 0] / (float(tube.design.tube.length) * 1e3) - 0.5) < 0.06
    angle = np.arctan2(still[middle, 2], still[middle, 1])
    strength = [abs(np.mean(marks[middle] * np.exp(1j * n * angle))) for n in range(12)]
    assert int(np.argmax(strength)) == int(wave.n)
    assert f"{int(wave.n)} round" in head["said"]
    ends = np.abs(still[:, 0]) < 1e-6
    assert np.abs(out[ends]).max() < 1e-3


@pytest.mark.parametrize("name", ["lake-probe", "tide-mast"])
def test_one_cell_moves_only_where_its_mode_does(tubes, name):
    tube = tubes[name]
    high = float(tube.design.ribs.height) * 1e3
    for check in ("skin pocket buckling", "rib crippling"):
        head, bodies = unpacked(buckle_scene(tube, check))
        still, marks, _ = bodies["still"]
        gone = np.linalg.norm(bodies["moved"][0] - still, axis=1)
        assert 0 < gone.max() < 3 * high
        assert check in head["said"] and "first" in head["said"]
        radius = np.hypot(still[:, 1], still[:, 2])
        tip = radius.max() if tube.design.ribs.side == "outside" else radius.min()
        at_tip = np.abs(radius - tip) < 0.05 * high
        assert (gone[at_tip].max() > 0) == (check == "rib crippling")
        assert (gone[~at_tip].max() > 1e-4) == (check != "rib crippling")
        assert marks.max() == pytest.approx(1.0, abs=0.01)


def test_one_cell_is_closed_and_to_scale(tubes):
    for tube in tubes.values():
        head, bodies = unpacked(cell_scene(tube.design))
        # The eye is on the side of the ribs.
        assert head["side"] == (1 if tube.design.ribs.side == "outside" else -1)
        points, _, triangles = bodies["still"]
        corners = points[triangles].astype(float)
        volume = np.einsum("ij,ij->i", corners[:, 0], np.cross(corners[:, 1], corners[:, 2]))
        # Closed and outward: the enclosed volume is that of skin and half ribs, at least the skin.
        inside = volume.sum() / 6
        plan = [d for d in head["dimensions"]]
        skin = float(tube.design.skin.thickness) * 1e3
        depth = skin + float(tube.design.ribs.height) * 1e3
        spans = np.ptp(points, axis=0)
        assert 0.4 * spans[0] * spans[1] * skin < inside < spans[0] * spans[1] * depth
        assert [d["text"].split()[0] for d in plan[1:]] == ["rib", "skin"]
        sizes = [float(np.linalg.norm(np.subtract(d["to"], d["from"]))) for d in plan]
        assert sizes[1] == pytest.approx(depth - skin, rel=0.02)
        assert sizes[2] == pytest.approx(skin, rel=0.02)


def test_what_does_not_buckle_is_refused(tubes):
    with pytest.raises(InputError, match="does not buckle"):
        buckle_scene(tubes["lake-probe"], "rust")
    with pytest.raises(InputError, match="no pocket"):
        cell_scene(plain_design(tubes["lake-probe"].design, 2e-3))
