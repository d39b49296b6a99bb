"""Plates: no two pieces overlap, all lie on the bed, and each is the piece of its own file."""

import itertools
import re
import zipfile

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st
from shapes import small

from gridshell.define.tables.mold import Mold
from gridshell.mold.files.plates import GAP, Footprint, packed
from gridshell.mold.files.write import planned_names, write_pieces
from gridshell.mold.pieces.build import build_molds

BED = (220.0, 200.0)
SIDES = st.floats(1.0, 219.0)


@given(st.lists(st.tuples(SIDES, st.floats(1.0, 199.0), st.integers(1, 3)), min_size=1, max_size=9))
def test_pieces_lie_apart_on_the_bed_and_none_is_lost(sizes):
    pieces = [Footprint(str(n), wide, deep, (0.0, 0.0), copies)
              for n, (wide, deep, copies) in enumerate(sizes)]
    plates = packed(pieces, BED)
    for plate in plates:
        for one in plate:
            assert -1e-9 <= one.x and one.x + one.piece.wide <= BED[0] + 1e-9
            assert -1e-9 <= one.y and one.y + one.piece.deep <= BED[1] + 1e-9
        for a, b in itertools.combinations(plate, 2):
            apart = max(b.x - a.x - a.piece.wide, a.x - b.x - b.piece.wide,
                        b.y - a.y - a.piece.deep, a.y - b.y - b.piece.deep)
            assert apart >= min(GAP, 0.5) - 1e-9
    count = sum(len(plate) for plate in plates)
    assert count == sum(piece.copies for piece in pieces)


def test_a_piece_wider_than_the_bed_has_no_plate():
    assert packed([Footprint("long", 300.0, 20.0, (0.0, 0.0))], BED) == []


@pytest.fixture(scope="module")
def written(tmp_path_factory):
    folder = tmp_path_factory.mktemp("plates")
    molds = build_molds(small("plain"), Mold(engraving=0.0, bed=(0.25, 0.21, 0.2)))
    write_pieces(molds, folder, ("3mf",), workers=1)
    return folder, molds


def model(path):
    with zipfile.ZipFile(path) as archive:
        return archive.read("3D/3dmodel.model").decode()


def vertices(text):
    found = re.findall(r'<vertex x="([-\d.e]+)" y="([-\d.e]+)" z="([-\d.e]+)"', text)
    return np.array(found, float)


def test_a_plate_has_every_printed_piece_as_often_as_it_is_needed(written):
    folder, molds = written
    plates = sorted(folder.glob("plate-*.3mf"))
    assert plates and {path.name for path in plates} <= set(
        planned_names([piece.name for piece in molds.pieces], ("3mf",)))
    seen = {}
    for path in plates:
        text = model(path)
        objects = dict(re.findall(r'<object id="(\d+)" type="model" name="([^"]+)"', text))
        bodies = dict(zip(objects, text.split("<object ")[1:], strict=True))
        boxes = []
        assert "transform" not in text  # which some slicers do not follow
        for number in re.findall(r'<item objectid="(\d+)"', text):
            points = vertices(bodies[number])
            assert np.all(points.min(axis=0) >= -1e-3)
            assert np.all(points[:, :2] <= np.array([250.0, 210.0]) + 1e-3)
            name = objects[number]
            assert len(points) == len(vertices(model(folder / f"{name}.3mf")))
            boxes.append((points.min(axis=0), points.max(axis=0)))
            seen[name] = seen.get(name, 0) + 1
        for (low, high), (lower, higher) in itertools.combinations(boxes, 2):
            assert np.any((high[:2] < lower[:2]) | (higher[:2] < low[:2]))
    assert seen == {piece.name: piece.quantity for piece in molds.pieces if piece.role != "part"}
