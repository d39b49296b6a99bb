"""Sheets and pictures: written whole, every word on the page, the numbers that were computed."""

import dataclasses
import math
from pathlib import Path

import numpy as np
import pytest
from shapes import is_mold, small, words_off_the_page

from gridshell.define.errors import InputError
from gridshell.define.files.reading import design_from_table, read_design
from gridshell.define.tables.casting import Casting
from gridshell.define.tables.mold import Cutout, Mold, mold_of
from gridshell.mold.checks.run import batches_of, mold_checks
from gridshell.mold.pieces.bed import mandrel_edges
from gridshell.mold.pieces.build import build_molds, plan_molds
from gridshell.mold.pieces.cores.mandrel import mandrel_solid, ring_solid
from gridshell.mold.pieces.halves import part_solid
from gridshell.mold.pieces.mold_set import shrinkage_of
from gridshell.mold.pieces.solids.booleans import walk
from gridshell.mold.pieces.solids.joining import cylinder_radius
from gridshell.mold.relief.ribbing import islands
from gridshell.report.plots.mold import plot_cooling, plot_undercut
from gridshell.report.sheets.drawing import sheet_figure, write_sheets
from gridshell.report.sheets.joining import joining_figure
from gridshell.report.sheets.parts import pocket_spans
from gridshell.report.sheets.pour import as_text, pour_figure, pour_sheet, write_pour_sheet
from gridshell.report.sheets.setup import setup_text
from gridshell.report.sheets.subject import (
    SIDES,
    Subject,
    leader_angles,
    missing_radii,
    round_faces,
)
from gridshell.wall.geometry.lattice import lattice


@pytest.fixture(scope="module")
def probe():
    """Of hot melt, which the examples are not, in a printed mold that it softens."""
    return mold_checks(small(), Mold(casting=Casting(mold_material="petg")))


def words_that_overlap(axes):
    """Pairs of texts of one view of which one hides the other."""
    from matplotlib.backends.backend_agg import FigureCanvasAgg
    from matplotlib.text import Text

    # After `words_off_the_page`, which draws it: places are known then.
    canvas = FigureCanvasAgg(axes.figure)
    # An annotation's extent holds its arrow too; its words alone count.
    boxes = [(text.get_text(), Text.get_window_extent(text, canvas.get_renderer()))
             for text in axes.texts if text.get_text().strip()]
    return [(one, other) for number, (one, box) in enumerate(boxes)
            for other, second in boxes[number + 1:] if box.overlaps(second)]


@pytest.mark.parametrize("side", SIDES)
@pytest.mark.parametrize("name", ["lake-probe", "tide-mast"])
def test_every_word_of_a_sheet_is_on_the_page(name, side):
    design = read_design(f"examples/{name}.toml")
    mold, grid = mold_of(design), lattice(design)
    ribs = batches_of(design, mold)[0].ribs
    figure = sheet_figure(Subject(design, mold, grid, ribs, side, 0.012, (100.0,), "cut-1"))
    assert not words_off_the_page(figure)
    assert not words_that_overlap(figure.axes[0])
    words = " ".join(t.get_text() for axes in figure.axes for t in axes.texts)
    scale = 1.0 if side == "part" else 1 / (1 - 0.012)
    assert f"{float(design.section_length) * scale * 1e3:.2f}" in words
    grooved = "core" if design.ribs.side == "inside" else "cavity"
    if side == "part" or (side == grooved and mold.core == "rigid"):
        assert f"{float(design.ribs.height) * scale * 1e3:.2f}" in words
    else:
        recess = side == grooved  # rubber in it has the ribs
        assert ("recess" if recess else "smooth") in words and "to screws" in words
        assert any(face.name == "recess for the rubber" for face in round_faces(
            Subject(design, mold, grid, ribs, side, 0.012))) == recess


def round_faces_of(solid):
    """Faces about the tube's axis by their radius, mm."""
    found = {}
    for face in walk(solid, "face"):
        radius = cylinder_radius(face)
        if radius is not None:
            found.setdefault(round(radius, 4), []).append(face)
    return found


def nearest(faces, point):
    """Distance of a point from a number of faces, mm, by the kernel."""
    from OCP.BRepBuilderAPI import BRepBuilderAPI_MakeVertex
    from OCP.BRepExtrema import BRepExtrema_DistShapeShape
    from OCP.gp import gp_Pnt

    vertex = BRepBuilderAPI_MakeVertex(gp_Pnt(*map(float, point))).Vertex()
    return min(BRepExtrema_DistShapeShape(vertex, face).Value() for face in faces)


@pytest.mark.parametrize(("rib_side", "segments"), [("inside", 2), ("outside", 3)])
def test_every_radius_of_a_sheet_is_that_of_the_face_its_leader_meets(rib_side, segments):
    """Made from a wrong radius, the skin is too thin or missing: the sheet is held to the solid."""
    molds = build_molds(small(side=rib_side, segments=segments), Mold(engraving=0.0))
    for side in SIDES:
        subject = Subject(molds.design, molds.mold, molds.grid, molds.ribs[""], side,
                          molds.shrinkage)
        solid = round_faces_of(molds.piece(side).solid)
        faces = round_faces(subject)
        assert {round(face.radius, 4) for face in faces} == set(solid)
        assert missing_radii(subject, list(solid)) == []
        figure = sheet_figure(subject)
        leaders = {text.get_text(): text for axes in figure.axes for text in axes.texts}
        assert not words_off_the_page(figure)
        assert not words_that_overlap(figure.axes[0])
        pockets = subject.pockets()
        for face, angle in zip(faces, leader_angles(subject, pockets), strict=True):
            # What the label says, read back from the drawing, and where its leader ends.
            drawn = leaders[f"{face.words} R {face.radius:.2f}"]
            y, z = drawn.xy
            assert np.hypot(y, z) == pytest.approx(face.radius, abs=1e-9)
            assert np.arctan2(y, z) == pytest.approx(angle)
            x = subject.station * subject.scale * 1e3 if face.place != "end" else (
                -subject.plan.end_wall / 4)
            on = nearest(solid[round(face.radius, 4)], (x, y, z))
            assert on < 1e-3, (side, face)


def test_a_radius_that_the_solid_lacks_is_told():
    design = small(side="outside")
    mold, ribs = Mold(), batches_of(design, Mold())[0].ribs
    subject = Subject(design, mold, lattice(design), ribs, "cavity", 0.01)
    assert missing_radii(subject, [22 / 0.99, 19 / 0.99]) == [
        f"seats of the core R {(22 - 4.2) / 0.99 + 0.15:.3f}"]


def test_mandrel_and_ring_have_the_diameters_of_their_solids():
    for design, mold in ((small(), Mold()), (small(), Mold(bed=(0.1, 0.1, 0.04)))):
        figure = joining_figure(design, mold)
        assert not words_off_the_page(figure)
        words = " ".join(t.get_text() for axes in figure.axes for t in axes.texts)
        edges = mandrel_edges(design, mold)
        for solid, wanted in (
            (mandrel_solid(design, mold, *edges[:2]), {"diameter", "end"}),
            (ring_solid(design, mold), {"bore dia", "seat dia", "outside dia"}),
        ):
            radii = sorted(round_faces_of(solid))
            assert len(radii) >= len(wanted)
            for radius in radii if "seat dia" in wanted else radii[-1:]:
                assert f"{2 * radius:.2f}" in words


def test_set_up_sheet_names_the_tool_of_each_feature():
    design = dataclasses.replace(small(side="outside"), units="inch")
    text = setup_text(plan_molds(design, Mold(
        process="mill", engraving=0.0, gates=1, gate_diameter=2e-3)))
    assert "all lengths in inches" in text and "zero: x = 0" in text
    assert max(len(line) for line in text.splitlines()) <= 92
    for words in ("dowel hole 0.2362: drill under size", "dowel hole 0.2480: drill and ream",
                  "gate 0.0787", "Top up", "Underside up"):
        assert words in text
    # Width of the groove's bottom: the rib's tip of 1.6 mm, larger by the shrinkage.
    assert f"grooves: {1.6 / (1 - shrinkage_of(design, Mold())[0]) / 25.4:.4f} wide" in text


def test_set_up_sheet_of_a_recess_names_what_lies_in_it():
    steep = small(draft=np.radians(15), height=2e-3, root_fillet=0.0)
    made = {"process": "mill", "engraving": 0.0, "gates": 1, "shrinkage": 0.0}
    sliding = plan_molds(steep, Mold(core="sliding", core_wall=6e-3, **made))
    text = " ".join(setup_text(sliding).split())
    inner = 22 - 1.2 - 2  # bore of the part by hand, mm
    assert f"recess R {inner - 6 - 0.15:.3f}, between prints R {inner:.3f}" in text
    assert f"bore R {inner - 6:.3f}, the seat on the body" in text
    assert text.count("core-piece") == 3 and text.count("grooves: ") == 1
    assert f"piece {len(sliding.core_pieces)}, wide" in text
    rubber = plan_molds(small(side="outside"), Mold(core="rubber", core_wall=5e-3, **made))
    text = " ".join(setup_text(rubber).split())
    # Rubber of 5 mm round ribs outside of 22 mm; its mold is larger by the library's 0.1 %.
    assert f"recess R {22 + 5:.3f}, bored" in text
    assert "insert-cavity: stock and set-ups" in text
    assert f"bore R {27 / 0.999:.3f}, seats R {22 / 0.999 + 0.15:.3f}" in text
    assert "pockets 3.003 deep" in text and "grooves: " not in text


def test_three_segments_and_a_plain_wall_have_sheets():
    design = design_from_table({
        "title": "Invented scenario: plain in thirds", "material": {"name": "casting-wax"},
        "tube": {"outside_diameter": "90 mm", "length": "150 mm", "segments": 3},
        "skin": {"thickness": "3 mm"}, "ribs": {"pattern": "plain"}})
    mold, grid = mold_of(design), lattice(design)
    ribs = batches_of(design, mold)[0].ribs
    for side in SIDES:
        assert not words_off_the_page(sheet_figure(Subject(
            design, mold, grid, ribs, side, 0.01)))


@pytest.mark.parametrize("shape", ["round", "rectangle"])
def test_windows_of_a_sheet_are_where_the_solid_has_them(shape):
    size = {"diameter": 9e-3} if shape == "round" else {"width": 9e-3, "length": 7e-3}
    cut = Cutout(shape, 22e-3, math.radians(65.0), name="eye", **size)
    mold = Mold(cutout=(cut,))
    design = dataclasses.replace(small("plain"), mold=mold)
    molds = plan_molds(design)
    kind = next(kind for kind in molds.cast_segments if kind.cutouts)
    ribs = molds.ribs[kind.name]
    subject = Subject(design, mold, molds.grid, ribs, "part", 0.012, name=kind.name)
    laid = islands(design, molds.grid, ribs, 1e3, through=True)
    solid = part_solid(subject.plan, laid, mold)
    (outline,) = subject.windows()
    middle = outline.mean(axis=0)
    for inwards, there in ((0.97, False), (1.03, True)):
        for x, y in middle + inwards * (outline - middle):
            z = math.sqrt((subject.plan.outer - 1e-3) ** 2 - y**2)
            assert is_mold(solid, x, y, z) == there
    (note,) = subject.window_notes()
    assert note.startswith("Cut-out 1, eye: ")
    assert "middle 22.00 from the left end" in note
    # 25 deg before the crown of the first casting: towards +y, which is up.
    assert "25.00 deg off the crown, in the upper half" in note and middle[1] > 0
    figure = sheet_figure(subject)
    assert note[:30] in " ".join(text.get_text() for text in figure.texts)
    smooth = dataclasses.replace(subject, side="cavity")
    assert smooth.windows() == [] == smooth.window_notes()


@pytest.mark.parametrize("side", ["core", "cavity"])
def test_words_of_a_job_in_inches_are_on_the_page(side):
    """Both units beside each other take twice the room."""
    design = dataclasses.replace(small(), units="inch")
    mold, grid = Mold(core="rubber"), lattice(design)
    ribs = batches_of(design, mold)[0].ribs
    assert not words_off_the_page(sheet_figure(Subject(design, mold, grid, ribs, side, 0.012)))


def test_section_shows_the_pockets_of_its_row():
    """Orthogrid: one pocket for each cell round, each as wide as spacing less the rib."""
    design = read_design("examples/tide-mast.toml")
    grid = lattice(design)
    ribs = batches_of(design, mold_of(design))[0].ribs
    middle = float(ribs.pockets[0].corners[0, :, 1].mean())
    spans = pocket_spans(design, grid, ribs, middle)
    assert len(spans) == int(grid.cells_round)
    tip_radius = float(design.tube.outside_diameter) / 2
    pitch = float(grid.cell_width) / float(grid.radius)
    for (low, high), (floor_low, floor_high) in spans:
        assert high - low == pytest.approx(pitch - 2.2e-3 / tip_radius, rel=1e-6)
        assert low < floor_low < floor_high < high or high - low > floor_high - floor_low


def test_sheets_are_written_whole_and_not_over_old_ones(tmp_path: Path):
    design = read_design("examples/lake-probe.toml")
    mold, grid = mold_of(design), lattice(design)
    ribs = batches_of(design, mold)[0].ribs
    paths = [tmp_path / "core.pdf", tmp_path / "core.png"]
    subject = Subject(design, mold, grid, ribs, "core", 0.012)
    write_sheets(paths, subject)
    assert paths[0].read_bytes().startswith(b"%PDF")
    assert paths[1].read_bytes().startswith(b"\x89PNG")
    assert sorted(p.name for p in tmp_path.iterdir()) == ["core.pdf", "core.png"]
    with pytest.raises(InputError, match="there already"):
        write_sheets(paths[:1], subject, force=False)


def test_pour_sheet_says_what_was_computed(probe, tmp_path: Path):
    sheet = write_pour_sheet(probe, tmp_path / "pour.pdf", tmp_path / "pour.txt")
    text = (tmp_path / "pour.txt").read_text()
    assert (tmp_path / "pour.pdf").read_bytes().startswith(b"%PDF")
    pour = probe.find("pour for one casting").value
    assert f"{pour * 1e3:.0f} g" in text
    assert "175 degC" in text  # pour temperature of the library's EVA hot melt
    assert "burns deep" in text and "Local rules" in text
    assert "milled metal is the answer" in text
    assert max(len(line) for line in text.splitlines()) <= 92
    assert not words_off_the_page(pour_figure(sheet))


def test_pour_sheets_of_a_resin_and_of_inches():
    mast = pour_sheet(mold_checks(read_design("examples/tide-mast.toml"), Mold()))
    assert any("Weigh and mix" in step for step in mast.steps)
    assert any("Do not pour" in step for step in mast.steps)
    assert not any("melt" in step.lower() for step in mast.steps)
    assert not words_off_the_page(pour_figure(mast))
    design = dataclasses.replace(read_design("examples/tide-mast.toml"), units="inch")
    inch = as_text(pour_sheet(mold_checks(design)))  # with the rubber liner that it states
    assert "Do not pour" not in inch
    assert " lb)" in inch and "degF)" in inch


def test_pictures(probe, tmp_path: Path):
    plot_undercut(probe, tmp_path / "undercut.png")
    plot_cooling(probe, tmp_path / "cooling.svg")
    assert (tmp_path / "undercut.png").stat().st_size > 10_000
    svg = (tmp_path / "cooling.svg").read_text()
    assert svg.rstrip().endswith("</svg>")
    with pytest.raises(InputError, match="no cooling"):
        plot_cooling(mold_checks(read_design("examples/tide-mast.toml")), tmp_path / "none.png")
