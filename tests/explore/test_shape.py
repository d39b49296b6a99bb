"""The light mesh against exact volumes and against the mold's own undercut check."""

from __future__ import annotations

import numpy as np
import pytest

from gridshell.define.files.reading import read_design
from gridshell.define.tables.design import with_values
from gridshell.explore.controls import controls_of, stated
from gridshell.explore.scene import shape
from gridshell.explore.scene.halves import mold_halves
from gridshell.explore.scene.scene import scene
from gridshell.explore.scene.shape import casting, joined
from gridshell.explore.serve.packing import packed
from gridshell.material.resolve import properties
from gridshell.mold.checks.release.undercut import undercut
from gridshell.mold.relief.ribbing import ribbing
from gridshell.wall.assess import assess_wall
from gridshell.wall.geometry.lattice import lattice


@pytest.fixture(scope="module")
def probe(examples):
    return read_design(next(path for path in examples if path.stem == "lake-probe"))


def volume(mesh, scale=1.0):
    corners = (mesh.points * scale)[mesh.triangles]
    return np.einsum("ij,ij->i", corners[:, 0], np.cross(corners[:, 1], corners[:, 2])).sum() / 6


def areas_and_agreement(mesh):
    corners = mesh.points[mesh.triangles]
    normal = np.cross(corners[:, 1] - corners[:, 0], corners[:, 2] - corners[:, 0])
    area = np.linalg.norm(normal, axis=1) / 2
    shaded = mesh.normals[mesh.triangles].mean(axis=1)
    real = area > 1e-6
    return area, np.einsum("ij,ij->i", normal, shaded)[real] / area[real] / 2, area[real]


def faces_outward(mesh):
    """Counterclockwise seen from outside, and shaded so."""
    _, agree, area = areas_and_agreement(mesh)
    assert agree.min() > 0.0
    return area[agree > 0.97].sum() / area.sum() > 0.99


@pytest.mark.parametrize("pattern", ["isogrid", "orthogrid", "diagonal", "plain"])
@pytest.mark.parametrize("side", ["inside", "outside"])
def test_volume_is_that_of_the_casting(probe, pattern, side, monkeypatch):
    # Finer than on the screen, where facets and corner chords cost up to 2 % of a thin wall.
    monkeypatch.setattr(shape, "CHORDS", 12)
    monkeypatch.setattr(shape, "FACET", np.radians(1.0))
    monkeypatch.setattr(shape, "_FINEST", np.radians(1.0))
    design = stated(probe, controls_of(probe), {"ribs.pattern": pattern, "ribs.side": side,
                                                 "ribs.root_fillet": "0 mm"})
    part = casting(design)
    built = assess_wall(design, properties(design.material, design.folder))
    wanted = float(built.tube_volume) / (design.tube.segments * design.tube.sections) * 1e9
    mesh = joined([part.ribbed, part.rest])
    assert volume(mesh) == pytest.approx(wanted, rel=0.003)
    assert faces_outward(mesh)


@pytest.mark.parametrize("side", ["inside", "outside"])
def test_halves_close_with_the_ribbed_side_and_hold_the_casting(probe, side):
    # Half shells: what is signed below is the volume of meshes that are open on one side.
    probe = with_values(probe, {"tube.segments": 2})
    design = stated(probe, controls_of(probe), {"ribs.side": side})
    part, (halves, grow) = casting(design), mold_halves(design)
    assert grow > 1.0  # hot melt shrinks
    plain, _ = mold_halves(stated(design, controls_of(design), {"ribs.pattern": "plain"}))
    assert {name: volume(mesh) > 0 for name, mesh in plain.items()} == {
        "core": True, "cavity": True}
    relief = -volume(part.ribbed, grow)  # the same surface from its other side
    grooved = "core" if side == "inside" else "cavity"
    for name, mesh in halves.items():
        assert faces_outward(mesh)
        low, high = mesh.points[:, 0].min(), mesh.points[:, 0].max()
        block = (high - low) * np.ptp(mesh.points[:, 1]) * np.ptp(mesh.points[:, 2])
        whole = volume(mesh) + (relief if name == grooved else 0.0)
        assert 0.2 * block < whole < block


def test_marked_faces_are_those_that_the_undercut_check_finds(probe):
    for values in ({}, {"ribs.draft": "10 deg"}, {"ribs.side": "outside"}):
        design = stated(probe, controls_of(probe), values)
        grid = lattice(design)
        found = undercut(design, grid, ribbing(design, grid))
        ribbed = casting(design).ribbed
        area = areas_and_agreement(ribbed)[0]
        mark = ribbed.mark[ribbed.triangles].min(axis=1)
        share = area[mark > 1e-4].sum() / area[mark > -0.25].sum()
        assert share == pytest.approx(found.share, abs=0.08)


def test_packed_head_and_arrays_add_up(probe):
    import json

    data = scene(probe)
    size = int.from_bytes(data[:4], "little")
    head = json.loads(data[4:4 + size])
    length = sum(body["points"] * 16 + body["triangles"] * 12 + body["places"] * 8
                 for body in head["bodies"])
    assert len(data) == 4 + size + length and size % 4 == 0
    names = [body["name"] for body in head["bodies"]]
    assert {"rest", "core", "cavity", "ribbed-1"} <= set(names)
    assert sum(body["places"] for body in head["bodies"]) == head["pockets"]
    assert len(head["copies"]) == probe.tube.segments * probe.tube.sections
    first = np.frombuffer(data, "<f4", head["bodies"][0]["points"] * 3, 4 + size)
    assert first.reshape(-1, 3).max(axis=0) == pytest.approx(head["bodies"][0]["high"], rel=1e-6)


def test_what_cant_be_drawn_is_said(make_design, examples):
    families = casting(make_design("families"))
    assert families.drawn == 0 and "plain" in families.notes[0]
    tiny = casting(make_design("isogrid", ribs__spacing=2e-3, ribs__width=0.2e-3))
    assert tiny.drawn == 0 and "too many" in tiny.notes[0]
    barrel = read_design(next(path for path in examples if path.stem == "gauge-housing-inch"))
    assert barrel.mold.process == "machine-part"
    assert b'"no mold: the part itself is made' in scene(barrel)[:20000]
    molded = with_values(barrel, {"tube.segments": 1, "tube.seam_land": 0.0, "mold": None})
    # One segment: no mold in halves.
    assert b'"no mold: tube.segments' in scene(molded)[:20000]
    assert packed({}, {"a": 1})[4:].startswith(b'{"bodies": []')
