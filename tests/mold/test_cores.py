"""Cores that are not one rigid half: sliding pieces that each pull straight, and rubber inserts."""

from __future__ import annotations

import dataclasses
import math
import re
from pathlib import Path
from typing import Any

import numpy as np
import pytest
from shapes import small, words_off_the_page

from gridshell.define.errors import DefinitionError, InputError
from gridshell.define.tables.design import Design, with_values
from gridshell.define.tables.mold import Mold, read_mold
from gridshell.mold.checks.release.flanks import panel_flanks
from gridshell.mold.checks.release.slides import locked_overhangs
from gridshell.mold.checks.run import locked_in, mold_checks
from gridshell.mold.files.solids import solid_volume
from gridshell.mold.files.write import write_piece
from gridshell.mold.pieces.build import build_molds, piece_names, plan_molds
from gridshell.mold.pieces.cores.round_mold import arbor_radii
from gridshell.mold.pieces.cores.sliding import core_pieces, piece_at, travel
from gridshell.mold.pieces.halves import cavity_solid, core_solid
from gridshell.mold.pieces.layout import insert_layout
from gridshell.mold.pieces.mold_set import MoldPiece, MoldSet
from gridshell.mold.pieces.solids.booleans import walk
from gridshell.mold.pieces.solids.joining import cylinder_radius
from gridshell.mold.pieces.splitting import Span
from gridshell.report.jobs.mold import _sheets, make_molds
from gridshell.report.sheets.carriers import carrier_figure, carrier_views, missing_faces
from gridshell.report.sheets.drawing import sheet_figure
from gridshell.report.sheets.setup import setup_text
from gridshell.report.sheets.subject import Subject, round_faces

PLAIN: dict[str, Any] = {"engraving": 0.0, "shrinkage": 0.0}
STEEP = {"draft": math.radians(15), "height": 2e-3}


def short(design: Design) -> Design:
    """Two rows of pockets show what five do, in less time."""
    return with_values(design, {"tube.length": 30e-3})


@pytest.fixture(scope="module")
def sliding() -> MoldSet:
    return build_molds(short(small(**STEEP, root_fillet=0.0)), Mold(core="sliding", **PLAIN))


@pytest.fixture(scope="module", params=["inside", "outside"])
def rubber(request: pytest.FixtureRequest) -> MoldSet:
    segments = 2 if request.param == "inside" else 3
    design = short(small(side=request.param, segments=segments))
    # One gate: volumes of blocks with many funnels are integrated to 1e-7 only.
    return build_molds(design, Mold(core="rubber", gates=1, **PLAIN))


def volume(piece: MoldPiece) -> float:
    return solid_volume(piece.solid)


def sector(molds: MoldSet, inner: float, outer: float) -> float:
    """Of a ring over the length of the casting, mm3."""
    return molds.plan.half_angle * (outer**2 - inner**2) * molds.plan.length


def carriers(molds: MoldSet) -> list[MoldPiece]:
    return [piece for piece in molds.pieces if piece.role in ("slide", "insert")]


def test_sliding_pieces_and_part_fill_the_ring_between_body_and_cavity(
    sliding: MoldSet, tmp_path: Path
) -> None:
    assert not sliding.failed
    assert [p.name for p in sliding.pieces] == piece_names(sliding.design, sliding.mold)
    slides, plan = carriers(sliding), sliding.plan
    wall = float(sliding.notes[-1].split(" mm thick")[0].split()[-1])
    for piece in slides[:2]:
        assert write_piece(sliding, piece, tmp_path, ("stl",)).faults == []
    filled = sum(map(volume, slides)) + volume(sliding.piece("part"))
    expected = sector(sliding, plan.inner - wall, plan.outer)
    assert filled == pytest.approx(expected, rel=1e-6)
    # The body with its recess is the rigid core less the ring, the slip fit and its ribs.
    rigid = solid_volume(core_solid(plan, sliding.mold, Span(plan.start, plan.end, False, False)))
    recess = sector(sliding, plan.inner - wall - plan.clearance, plan.inner)
    assert volume(sliding.piece("core")) == pytest.approx(rigid - recess, rel=1e-9)


def common_volume(first: Any, second: Any, move: np.ndarray) -> float:
    """Of what two solids share once the second has moved, mm3."""
    from OCP.BRepAlgoAPI import BRepAlgoAPI_Common
    from OCP.gp import gp_Trsf, gp_Vec
    from OCP.TopLoc import TopLoc_Location

    shift = gp_Trsf()
    shift.SetTranslation(gp_Vec(*move))
    found = BRepAlgoAPI_Common(first, second.Moved(TopLoc_Location(shift))).Shape()
    return sum(solid_volume(solid) for solid in walk(found, "solid"))


def test_each_piece_pulls_straight_without_touching_part_or_neighbor(sliding: MoldSet) -> None:
    slides, part = carriers(sliding), sliding.piece("part").solid
    keys = [i for i, piece in enumerate(sliding.core_pieces) if piece.key]
    assert keys == [1, 3, 5]
    key = np.array(slides[3].pull)
    for way in (0.3, travel(sliding.plan)):
        assert common_volume(part, slides[3].solid, way * key) < 0.01
    assert common_volume(slides[2].solid, slides[3].solid, 0.3 * key) < 1e-3
    assert common_volume(part, slides[0].solid, 0.3 * np.array(slides[0].pull)) < 0.01
    # A wide piece is held by its keys: they must go first.
    held = np.array(slides[2].pull)
    assert common_volume(slides[1].solid, slides[2].solid, held) > 0.1
    # Pulled across, it would tear the ribs: the test can fail.
    across = np.array([0.0, slides[3].pull[2], -slides[3].pull[1]])
    assert common_volume(part, slides[3].solid, 0.5 * across) > 1.0


def test_rubber_insert_and_part_fill_the_ring_and_the_insert_has_its_mold(
    rubber: MoldSet, tmp_path: Path
) -> None:
    assert not rubber.failed
    assert [p.name for p in rubber.pieces] == piece_names(rubber.design, rubber.mold)
    plan, insert = rubber.plan, rubber.piece("insert")
    wall = 5.0
    inside = rubber.design.ribs.side == "inside"
    inner, outer = (plan.inner - wall, plan.outer) if inside else (plan.inner, plan.outer + wall)
    filled = volume(insert) + volume(rubber.piece("part"))
    assert filled == pytest.approx(sector(rubber, inner, outer), rel=1e-6)
    grow = 1 / (1 - 0.001)  # of the library's silicone
    own = insert_layout(plan, rubber.mold, wall, grow)
    name, make = ("insert-cavity", cavity_solid) if inside else ("insert-core", core_solid)
    square = dataclasses.replace(rubber.mold, end_draft=0.0)  # its end walls fit between prints
    smooth = solid_volume(make(own, square, Span(own.start, own.end, False, False)))
    ring = sector(rubber, *((plan.inner - wall, plan.inner) if inside
                            else (plan.outer, plan.outer + wall)))
    # What the pockets add to the insert is what they take off its mold, larger by the shrinkage.
    taken = grow**3 * (volume(insert) - ring)
    assert smooth - volume(rubber.piece(name)) == pytest.approx(taken, rel=1e-5)
    for piece in rubber.pieces:
        if piece.role.startswith("insert"):
            assert write_piece(rubber, piece, tmp_path, ("stl",)).faults == []


def test_sheets_of_halves_with_a_recess_have_the_radii_of_their_solids(
    sliding: MoldSet, rubber: MoldSet
) -> None:
    for molds in (sliding, rubber):
        for side in ("core", "cavity"):
            subject = Subject(molds.design, molds.mold, molds.grid, molds.ribs[""], side, 0.0)
            built = {round(radius, 4) for face in walk(molds.piece(side).solid, "face")
                     if (radius := cylinder_radius(face)) is not None}
            assert {round(face.radius, 4) for face in round_faces(subject)} == built
            assert (subject.recess is None) == (
                (side == "core") != (molds.design.ribs.side == "inside"))
            assert not words_off_the_page(sheet_figure(subject))


def held_to_the_solids(molds: MoldSet) -> None:
    """Each radius of the sheet of carriers is that of the face its leader ends on, and none is
    left out."""
    from OCP.BRepBuilderAPI import BRepBuilderAPI_MakeVertex
    from OCP.BRepExtrema import BRepExtrema_DistShapeShape
    from OCP.gp import gp_Pnt

    figure = carrier_figure(molds)
    assert not words_off_the_page(figure)
    views = carrier_views(molds)
    assert {view.role for view in views} == {
        piece.role for piece in molds.pieces if piece.role in ("slide", *INSERTS)}
    for axes, view in zip(figure.axes, views, strict=True):
        built: dict[float, list[Any]] = {}
        for piece in molds.pieces:
            for face in walk(piece.solid, "face") if piece.role == view.role else ():
                if (radius := cylinder_radius(face)) is not None:
                    built.setdefault(round(radius, 4), []).append(face)
        assert {round(face.radius, 4) for face in view.faces} == set(built)
        assert missing_faces(view, list(built)) == []
        assert missing_faces(view, [radius + 0.01 for radius in built])
        leaders = {text.get_text(): text for text in axes.texts}
        middle = Subject(molds.design, molds.mold, molds.grid, next(iter(molds.ribs.values())),
                         "core", molds.shrinkage).station * 1e3 * view.plan.length / (
                             float(molds.design.section_length) * 1e3)
        for face in view.faces:
            drawn = leaders[f"{face.words} R {face.radius:.2f}"]
            y, z = drawn.xy
            assert math.hypot(y, z) == pytest.approx(face.radius, abs=1e-9)
            x = -view.plan.end_wall / 4 if face.place == "end" else middle
            point = BRepBuilderAPI_MakeVertex(gp_Pnt(x, float(y), float(z))).Vertex()
            assert min(BRepExtrema_DistShapeShape(point, surface).Value()
                       for surface in built[round(face.radius, 4)]) < 1e-3, (view.role, face)


INSERTS = ("insert", "insert-core", "insert-cavity")


def test_sheet_of_sliding_pieces_is_held_to_them(sliding: MoldSet) -> None:
    held_to_the_solids(sliding)
    words = " ".join(text.get_text() for text in carrier_figure(sliding).texts)
    # By hand: seven pieces over half a turn, the middle of the first 90 - 180/14 deg off.
    assert "+77.14" in words and words.count("first (key)") == 3


def test_sheet_of_an_insert_is_held_to_it_and_its_mold(rubber: MoldSet) -> None:
    held_to_the_solids(rubber)


def test_a_rigid_core_has_no_sheet_of_carriers() -> None:
    assert carrier_views(plan_molds(small(), Mold(**PLAIN))) == []


def test_every_place_belongs_to_the_piece_whose_sides_it_is_between() -> None:
    pieces = core_pieces(math.pi / 2, 5)
    angle = np.array([piece.angle for piece in pieces])
    assert piece_at(pieces, 20.0, angle, 22.0).tolist() == [0, 1, 2, 3, 4]
    key = pieces[1]
    # Parallel sides: further out a key takes less of the angle than at the base.
    edge = key.angle + key.half - 0.01
    assert piece_at(pieces, 20.0, np.array([edge]), 20.0)[0] == 1
    assert piece_at(pieces, 20.0, np.array([edge]), 24.0)[0] == 2


def test_steeper_ribs_need_fewer_pieces_and_too_steep_ones_name_the_draft() -> None:
    few = mold_checks(small(draft=math.radians(32), height=2e-3, spacing=18e-3),
                      Mold(core="sliding")).find("undercut of the sliding core")
    many = mold_checks(small(**STEEP), Mold(core="sliding")).find("undercut of the sliding core")
    assert few.verdict == many.verdict == "ok"
    assert few.details["pieces"] < many.details["pieces"] == 7
    with pytest.raises(InputError, match=r"mold\.core: .*ribs\.draft to at least \d.*'rubber'"):
        build_molds(small(), Mold(core="sliding", **PLAIN))
    with pytest.raises(InputError, match=r"mold\.core_pieces: 4; .*odd number from 3 to 17"):
        build_molds(small(**STEEP), Mold(core="sliding", core_pieces=4, **PLAIN))
    with pytest.raises(InputError, match=r"mold\.core_pieces: with 3 pieces ribs lock"):
        build_molds(small(**STEEP), Mold(core="sliding", core_pieces=3, **PLAIN))
    with pytest.raises(InputError, match=r"mold\.core: 'sliding' is for ribs inside"):
        build_molds(small(side="outside", **STEEP), Mold(core="sliding", **PLAIN))


def test_ribs_that_lock_a_rigid_mold_are_refused_with_the_field_that_cures(tmp_path: Path) -> None:
    design = dataclasses.replace(small(side="outside"), mold={"process": "print"})
    with pytest.raises(InputError, match=r"mold\.core: 'rigid'.*mold\.core = 'rubber'"):
        make_molds(design, tmp_path / "molds")
    assert not (tmp_path / "molds").exists()
    assert locked_in(mold_checks(design, Mold(core="rubber"))) is None


def test_fields_of_another_core_are_refused() -> None:
    for stated, field in (
        ({"core_pieces": 5}, "core_pieces"), ({"core_wall": "6 mm"}, "core_wall"),
        ({"core": "sliding", "insert_shrinkage": "0.1 %"}, "insert_shrinkage"),
        ({"core": "rubber", "process": "print-part"}, "core"),
    ):
        with pytest.raises(DefinitionError, match=rf"mold\.{field}:"):
            read_mold(stated)


def test_overhang_shows_where_a_piece_would_lock(sliding: MoldSet) -> None:
    flanks = panel_flanks(sliding.design, sliding.grid, sliding.ribs[""])
    radii = (sliding.plan.base, sliding.plan.floor)
    whole = locked_overhangs(sliding.design, flanks, sliding.core_pieces, radii)
    assert max(whole) == 0.0
    fewer = locked_overhangs(sliding.design, flanks, core_pieces(math.pi / 2, 3), radii)
    assert max(fewer) > 1e-4


@pytest.fixture(scope="module")
def collapsing() -> MoldSet:
    """A tube without a seam, its core in pieces round a tapered arbor."""
    design = small("orthogrid", draft=math.radians(32), height=2e-3, spacing=23e-3,
                   hoop_spacing=20e-3, root_fillet=0.0)
    seamless = with_values(design, {
        "tube.segments": 1, "tube.seam_land": 0.0, "tube.length": 20e-3})
    return build_molds(seamless, Mold(core="sliding", **PLAIN))


def test_a_collapsing_core_fills_the_bore_of_the_part(
    collapsing: MoldSet, tmp_path: Path
) -> None:
    assert not collapsing.failed
    assert [p.name for p in collapsing.pieces] == piece_names(collapsing.design, collapsing.mold)
    plan = collapsing.plan
    low, high = arbor_radii(plan, 6.0)
    cone = math.pi * plan.length * (low**2 + low * high + high**2) / 3
    filled = sum(map(volume, carriers(collapsing))) + volume(collapsing.piece("part")) + cone
    assert filled == pytest.approx(math.pi * plan.outer**2 * plan.length, rel=1e-6)
    for name in ("core-piece-1", "core-piece-2", "core-arbor", "core-cap", "cavity-lower"):
        piece = collapsing.piece(name)
        assert write_piece(collapsing, piece, tmp_path, ("stl",)).faults == []


def test_a_collapsing_core_comes_out_in_its_order(collapsing: MoldSet) -> None:
    """Halves apart, arbor out along the tube, keys inwards, then what stood between them."""
    slides, part = carriers(collapsing), collapsing.piece("part").solid
    arbor, cap = (collapsing.piece(name).solid for name in ("core-arbor", "core-cap"))
    lower, upper = (collapsing.piece(name).solid for name in ("cavity-lower", "cavity-upper"))
    still, along, up = np.zeros(3), np.array([1.0, 0, 0]), np.array([0, 0, 1.0])
    for first, second in (
        (arbor, cap), (arbor, lower), (arbor, upper), (cap, lower), (lower, upper),
        (slides[0].solid, arbor), (slides[0].solid, cap), (slides[0].solid, slides[1].solid),
        (part, slides[0].solid), (part, slides[1].solid),
    ):
        assert common_volume(first, second, still) < 1e-3
    for way in (0.0, 0.3, 2 * collapsing.plan.outer):
        assert common_volume(part, upper, way * up) < 1e-3
        assert common_volume(part, lower, -way * up) < 1e-3
    for way in (0.3, collapsing.plan.length):
        for piece in slides[:2]:
            assert common_volume(piece.solid, arbor, way * along) < 1e-3
    assert common_volume(slides[0].solid, arbor, -along) > 1.0  # it is drawn at its wide end
    key, wide = slides[1], slides[2]
    assert collapsing.core_pieces[1].key and not collapsing.core_pieces[2].key
    for way in (0.3, travel(collapsing.plan)):
        move = way * np.array(key.pull)
        assert common_volume(part, key.solid, move) < 0.01
        for other in (slides[0], wide, slides[4]):  # beside it, and what it moves towards
            assert common_volume(other.solid, key.solid, move) < 1e-3
        move = way * np.array(wide.pull)
        assert common_volume(part, wide.solid, move) < 0.01
        for other in (slides[0], *slides[4::2]):  # the keys are gone
            assert common_volume(other.solid, wide.solid, move) < 1e-3
    # Free of the part, each passes along the bore between pieces that are still there.
    held = np.array(wide.pull)
    assert common_volume(key.solid, wide.solid, held) > 0.1  # the keys must go first
    bore = 0.5 * collapsing.plan.length * along
    inwards = travel(collapsing.plan) * np.array(key.pull)
    assert common_volume(part, key.solid, inwards + bore) < 0.01
    assert common_volume(part, wide.solid, bore) > 1.0  # and not before it is clear


def test_sheets_of_a_collapsing_core_are_held_to_its_solids(collapsing: MoldSet) -> None:
    held_to_the_solids(collapsing)
    text = " ".join(setup_text(dataclasses.replace(
        collapsing, mold=dataclasses.replace(collapsing.mold, process="mill"))).split())
    plan = collapsing.plan
    low, high = arbor_radii(plan, 6.0)
    assert f"cone from R {high:.3f} at the print to R {low:.3f} over {plan.length:.3f}" in text

    def radii(name: str) -> set[str]:
        return {f"{radius:.3f}" for face in walk(collapsing.piece(name).solid, "face")
                if (radius := cylinder_radius(face)) is not None}

    said = dict(zip(re.findall(r"(print|pilot|outside|and bore) R", text),
                    re.findall(r"(?:print|pilot|outside|and bore) R ([\d.]+)", text),
                    strict=True))
    assert {said["print"], said["pilot"]} <= radii("core-arbor")
    assert {said["outside"], said["and bore"]} <= radii("core-cap")
    bore = re.search(r"bore R ([\d.]+) between the end walls and the seats R ([\d.]+)", text)
    assert bore is not None
    for name in ("cavity-upper", "cavity-lower"):
        assert set(bore.groups()) <= radii(name)
        assert f"{name}: largest tool that makes each feature" in text
        # One drawing sheet for both: every round face about the axis of either is on it.
        subject = Subject(collapsing.design, collapsing.mold, collapsing.grid,
                          collapsing.ribs[""], "cavity", collapsing.shrinkage)
        assert {f"{face.radius:.3f}" for face in round_faces(subject)} == radii(name)
    figure = sheet_figure(subject)
    assert not words_off_the_page(figure)
    assert "both cavity halves" in " ".join(words.get_text() for words in figure.texts)
    assert _sheets(collapsing.design, collapsing.mold, [""]) == [("part", ""), ("cavity", "")]


def test_a_tube_without_a_seam_names_what_its_mold_needs() -> None:
    seamless = with_values(small(**STEEP), {"tube.segments": 1, "tube.seam_land": 0.0})
    for mold, why in (
        (Mold(**PLAIN), r"tube\.segments: 1 .*mold\.core = 'sliding'"),
        (Mold(core="rubber", **PLAIN), r"tube\.segments: 1 .*mold\.core = 'sliding'"),
        (Mold(core="sliding", core_pieces=7, **PLAIN), r"mold\.core_pieces: 7; .*even number"),
    ):
        with pytest.raises(InputError, match=why):
            build_molds(seamless, mold)
    land = with_values(seamless, {"tube.seam_land": 4e-3})
    with pytest.raises(InputError, match=r"seam_land"):
        build_molds(land, Mold(core="sliding", **PLAIN))
