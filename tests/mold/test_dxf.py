"""The unrolled DXF, read back by the library's own reader and by trimesh."""

import math

import numpy as np
import pytest

from gridshell.define.errors import InputError
from gridshell.define.files.reading import read_design
from gridshell.define.tables.mold import Mold, mold_of
from gridshell.mold.checks.run import batches_of
from gridshell.mold.files.unrolled_dxf import LAYERS, write_unrolled
from gridshell.wall.geometry.lattice import lattice
from gridshell.wall.geometry.mass import at_radius, pocket_outline_at
from gridshell.wall.geometry.pockets import outline_area

ezdxf = pytest.importorskip("ezdxf")


def polyline_area(polyline):
    """Shoelace plus a circular segment for each bulge (DXF reference: bulge = tan(angle/4))."""
    points = np.array(polyline.get_points("xyb"))
    after = np.roll(points, -1, axis=0)
    area = np.sum(points[:, 0] * after[:, 1] - after[:, 0] * points[:, 1]) / 2
    angle = 4 * np.arctan(points[:, 2])
    chord = np.hypot(*(after - points)[:, :2].T)
    with np.errstate(divide="ignore", invalid="ignore"):
        radius = np.where(angle > 0, chord / 2 / np.sin(angle / 2), 0.0)
    return area + np.sum(radius**2 / 2 * (angle - np.sin(angle)))


def written(name, path, **keys):
    design = read_design(f"examples/{name}.toml")
    grid = lattice(design)
    mold = keys.pop("mold", None) or mold_of(design)
    ribs = batches_of(design, mold)[-1].ribs
    write_unrolled(path, design, grid, ribs, **keys)
    return design, grid, ribs, ezdxf.readfile(path)


@pytest.mark.parametrize("name", ["lake-probe", "tide-mast"])
def test_areas_and_edges_are_those_of_the_pattern(name, tmp_path):
    design, grid, ribs, drawing = written(name, tmp_path / "u.dxf")
    assert not drawing.audit().errors
    assert drawing.header["$INSUNITS"] == 4  # mm, DXF reference
    space = drawing.modelspace()
    edges = [np.array(p.get_points("xy")) for p in space.query('LWPOLYLINE[layer=="EDGE"]')]
    pockets = list(space.query('LWPOLYLINE[layer=="POCKET"]'))
    assert len(pockets) == 2 * ribs.count
    for edge, depth in zip(edges, (0.0, float(design.ribs.height)), strict=True):
        radius, inset, stated = (float(v) for v in pocket_outline_at(design, grid, depth))
        assert np.ptp(edge[:, 0]) == pytest.approx(
            2 * math.pi * radius / design.tube.segments * 1e3)
        assert np.ptp(edge[:, 1]) == pytest.approx(float(design.section_length) * 1e3)
        inside = [p for p in pockets
                  if edge[:, 0].min() <= p.get_points("xy")[0][0] <= edge[:, 0].max()]
        expected = 0.0
        for group in ribs.pockets:
            rounding = stated - float(design.ribs.corner_radius) + group.corner_radius
            flat = at_radius(group.corners, np.full(len(group.corners), radius), grid.radius)
            expected += float(np.sum(outline_area(flat, inset, rounding)))
        assert sum(polyline_area(p) for p in inside) == pytest.approx(expected * 1e6, rel=1e-9)


@pytest.mark.parametrize("name", ["lake-probe", "tide-mast"])
def test_center_lines_cover_every_side_once_from_end_to_end(name, tmp_path):
    design, grid, ribs, drawing = written(name, tmp_path / "u.dxf")
    lines = np.array([[tuple(line.dxf.start)[:2], tuple(line.dxf.end)[:2]]
                      for line in drawing.modelspace().query('LINE[layer=="RIB_CENTER"]')])
    sides = set()
    for depth in (0.0, float(design.ribs.height)):
        radius = pocket_outline_at(design, grid, depth)[0]
        for group in ribs.pockets:
            for corners in at_radius(group.corners, np.full(
                    len(group.corners), radius), grid.radius) * 1e3:
                keys = [tuple(corner) for corner in np.round(corners, 6)]
                sides |= {(depth, *sorted(pair))
                          for pair in zip(keys, keys[1:] + keys[:1], strict=True)}
    assert len(lines) < 0.6 * len(sides)
    length = sum(math.dist(start, end) for _, start, end in sides)
    assert np.linalg.norm(lines[:, 1] - lines[:, 0], axis=1).sum() == pytest.approx(length)


def test_mold_size_is_larger_by_the_factor(tmp_path):
    _, _, _, part = written("lake-probe", tmp_path / "part.dxf")
    _, _, _, mold = written("lake-probe", tmp_path / "mold.dxf", scale=1.02)
    first, second = (
        polyline_area(d.modelspace().query('LWPOLYLINE[layer=="POCKET"]')[0])
        for d in (part, mold))
    assert second / first == pytest.approx(1.02**2)


def test_a_job_in_inches_is_drawn_in_inches(tmp_path):
    """DXF reference: $INSUNITS 1 is inches; machined housing, so no factor of a mold."""
    design, _, _, drawing = written("gauge-housing-inch", tmp_path / "u.dxf")
    assert design.units == "inch" and drawing.header["$INSUNITS"] == 1
    edge = np.array(next(iter(
        drawing.modelspace().query('LWPOLYLINE[layer=="EDGE"]'))).get_points("xy"))
    assert np.ptp(edge[:, 1]) == pytest.approx(float(design.section_length) / 0.0254)


def test_an_independent_reader_finds_the_same_extent(tmp_path):
    trimesh = pytest.importorskip("trimesh")
    design, grid, _, _ = written("lake-probe", tmp_path / "u.dxf")
    path = trimesh.load(tmp_path / "u.dxf")
    assert path.bounds[0] == pytest.approx([0, 0], abs=1e-6)
    height, share = float(design.ribs.height), 2 / design.tube.segments
    skin, tip = (float(pocket_outline_at(design, grid, d)[0]) for d in (0.0, height))
    wide = share * math.pi * (skin * 1.08 + tip) * 1e3
    # The reader counts the titles' places above the pattern too.
    assert path.bounds[1][0] == pytest.approx(wide, abs=1e-6)
    assert 200.0 < path.bounds[1][1] < 220.0


def test_cutouts_are_drawn_and_pockets_give_way(tmp_path):
    stated = Mold.__dataclass_fields__["cutout"].metadata["type"](
        "round", 100e-3, math.radians(22.5), diameter=18e-3)
    _, _, ribs, drawing = written("lake-probe", tmp_path / "u.dxf", mold=Mold(cutout=(stated,)))
    holes = drawing.modelspace().query('LWPOLYLINE[layer=="CUTOUT"]')
    assert len(holes) == 2
    assert polyline_area(holes[0]) == pytest.approx(math.pi * 81.0)
    assert ribs.given_way > 0


def test_layers_are_named_and_an_old_file_stays(tmp_path):
    _, _, _, drawing = written("tide-mast", tmp_path / "u.dxf")
    assert {layer.dxf.name for layer in drawing.layers} >= set(LAYERS)
    with pytest.raises(InputError, match="there already"):
        written("tide-mast", tmp_path / "u.dxf", force=False)
    assert [p.name for p in tmp_path.iterdir()] == ["u.dxf"]
