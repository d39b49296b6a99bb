"""The laid faces: valid closed solids whose volume the wall's mass and the booleans confirm."""

from __future__ import annotations

import math
from typing import Any

import numpy as np
import pytest
from shapes import small

from gridshell.define.making import make_design
from gridshell.define.tables.design import Design
from gridshell.define.tables.mold import Mold
from gridshell.material.resolve import properties
from gridshell.mold.files.solids import is_closed, is_valid, solid_volume
from gridshell.mold.pieces.halves import cavity_solid, core_solid, part_solid, relieved
from gridshell.mold.pieces.layout import layout, part_profile
from gridshell.mold.pieces.solids.booleans import combined, walk
from gridshell.mold.pieces.solids.joining import cylinder_radius, solid_of, with_sheet
from gridshell.mold.pieces.solids.plain import prism
from gridshell.mold.pieces.splitting import spans
from gridshell.mold.relief.faces import Island, lay_sheet
from gridshell.mold.relief.outline import CURVE_ERROR, arcs_of, degree_for, fitting, polygon_loops
from gridshell.mold.relief.ribbing import islands, ribbing
from gridshell.wall.assess import assess_wall
from gridshell.wall.geometry.lattice import lattice

CASES = [
    ("isogrid", "inside", 2, "hoop"), ("isogrid", "outside", 2, "hoop"),
    ("isogrid", "inside", 3, "axial"), ("isogrid", "outside", 4, "axial"),
    ("orthogrid", "inside", 2, "hoop"), ("orthogrid", "outside", 3, "hoop"),
    ("diagonal", "inside", 3, "hoop"), ("diagonal", "outside", 2, "hoop"),
]


def part_of(design: Design) -> Any:
    grid = lattice(design)
    laid = islands(design, grid, ribbing(design, grid), 1e3, through=True)
    return part_solid(layout(design, Mold(), 1e3), laid, Mold())


def castings_volume(design: Design) -> float:
    """Volume that the wall weighs, of one casting, mm3."""
    bent = assess_wall(design, properties(design.material, design.folder))
    return float(bent.tube_volume) * 1e9 / (bent.grid.segments * bent.grid.sections)


@pytest.mark.parametrize("degree", [3, 5, 8])
def test_bezier_through_chebyshev_points_keeps_its_error_bound(degree: int) -> None:
    sweep, radius = 0.8, 50.0
    parameter, matrix = fitting(degree)
    poles = matrix @ (radius * np.cos(sweep * parameter))
    t = np.linspace(0, 1, 400)
    index = np.arange(degree + 1)
    binomial = np.array([math.comb(degree, int(i)) for i in index])
    curve = (binomial * t[:, None] ** index * (1 - t[:, None]) ** (degree - index)) @ poles
    bound = 2 * (sweep / 4) ** (degree + 1) / math.factorial(degree + 1) * radius
    worst = np.abs(curve - radius * np.cos(sweep * t)).max()
    # The bound is for points without the ends; with both ends kept it is up to twice that.
    assert worst <= 2 * bound + 1e-12
    assert degree_for(sweep, radius) > degree or bound < CURVE_ERROR


@pytest.mark.parametrize("pattern,side,segments,orientation", CASES)
def test_part_is_one_valid_closed_solid_of_the_weighed_volume(
    pattern: str, side: str, segments: int, orientation: str
) -> None:
    design = small(pattern, side, segments, orientation)
    part = part_of(design)
    assert is_valid(part) and is_closed(part)
    # The wall's mass integrates plane geometry over the depth and shares no code with the kernel.
    assert solid_volume(part) == pytest.approx(castings_volume(design), rel=2e-3)


def test_corners_of_half_triangles_are_made_of_two_arcs() -> None:
    """Sharp and wide: in one edge the kernel took them for lines that cross the border."""
    design = make_design(
        title="Invented: few wide cells", material={"name": "polyurethane-casting"},
        tube={"outside_diameter": "250.73 mm", "length": "465.3 mm", "segments": 2,
              "seam_land": "27.4 mm", "end_land": "15.7 mm"},
        skin={"thickness": "5.9 mm"},
        ribs={"pattern": "isogrid", "side": "inside", "height": "16 mm", "width": "13.2 mm",
              "draft": "5 deg", "spacing": "134.5 mm", "corner_radius": "11.89 mm",
              "root_fillet": "2.64 mm"})
    part = part_of(design)
    assert is_valid(part) and is_closed(part)
    assert solid_volume(part) == pytest.approx(castings_volume(design), rel=2e-3)


def test_arcs_of_a_corner_follow_each_other() -> None:
    corners = np.array([[[0.0, 0.0], [50.0, 0.0], [0.0, 108.0]]])
    assert arcs_of(corners) == 2 and arcs_of(corners * [1.0, 0.4]) == 1
    one, two = (polygon_loops(corners, 3.0, 5.0, arcs) for arcs in (1, 2))
    assert two.arc == (False, True, True) * 3 and two.sweep.max() < math.radians(140)
    assert two.start[:, [0, 1, 3, 4, 6, 7]] == pytest.approx(one.start)
    for edge in range(9):
        last = two.points(edge, np.array([1.0]))[:, 0]
        assert last == pytest.approx(two.start[:, (edge + 1) % 9])


def test_pockets_too_small_are_left_solid_and_weighed_so() -> None:
    every, fewer = small(), small(smallest_pocket=25e-6)
    assert ribbing(fewer, lattice(fewer)).left_solid > 0
    part = part_of(fewer)
    assert is_valid(part) and is_closed(part)
    assert solid_volume(part) > solid_volume(part_of(every)) + 50
    assert solid_volume(part) == pytest.approx(castings_volume(fewer), rel=2e-3)


@pytest.mark.parametrize("seam_land,end_land", [(0.0, 5e-3), (4e-3, 0.0), (0.0, 0.0)])
def test_ribs_may_run_up_to_the_border(seam_land: float, end_land: float) -> None:
    from dataclasses import replace

    design = small()
    design = replace(design, tube=replace(
        design.tube, seam_land=seam_land, end_land=end_land))
    part = part_of(design)
    assert is_valid(part) and is_closed(part)
    assert solid_volume(part) == pytest.approx(castings_volume(design), rel=2e-3)


def test_sharp_corners_have_no_fillet_and_say_so() -> None:
    design = small(corner_radius=0.0)
    found = ribbing(design, lattice(design))
    assert all(group.fillet == 0 for group in found.pockets)
    assert sum(group.shortfall for group in found.pockets) > 0
    assert any("root fillet" in note for note in found.notes)
    part = part_of(design)
    assert is_valid(part) and is_closed(part)
    missing = sum(group.shortfall for group in found.pockets) * 1e9
    assert solid_volume(part) + missing == pytest.approx(castings_volume(design), rel=3e-3)


def test_fillets_add_the_area_of_the_fillet_along_every_pocket() -> None:
    # A fillet between two straight walls at 90 deg + draft; length of its path by hand.
    with_, without = small("orthogrid"), small("orthogrid", root_fillet=0.0)
    grid = lattice(with_)
    (group,) = ribbing(with_, grid).pockets
    added = solid_volume(part_of(with_)) - solid_volume(part_of(without))
    angle = math.pi / 2 + with_.ribs.draft
    area = 0.5**2 * (1 / math.tan(angle / 2) - (math.pi - angle) / 2)
    floor = (22 - 1.2) / (22 - 0.6)
    width = float(grid.cell_width) * 1e3 * floor - 1.6 - 2 * 3 * math.tan(with_.ribs.draft)
    height = float(grid.cell_height) * 1e3 - 1.6 - 2 * 3 * math.tan(with_.ribs.draft)
    path = 2 * (width + height) - (8 - 2 * math.pi) * 1.0
    assert added == pytest.approx(area * path * len(group.corners), rel=0.06)


def test_laid_solid_equals_what_the_boolean_engine_makes() -> None:
    design = small("orthogrid", root_fillet=0.0)
    grid = lattice(design)
    plan = layout(design, Mold(), 1e3)
    laid = islands(design, grid, ribbing(design, grid), 1e3, through=False)
    ours = with_sheet(core_solid(plan, Mold(), spans(plan, ())[0], features=False), plan.base,
                      plan.far, lay_sheet(plan.base, laid))
    theirs = combined(
        "fuse", core_solid(plan, Mold(), spans(plan, ())[0], features=False), _bosses(laid, plan)
    )
    assert solid_volume(ours) == pytest.approx(solid_volume(theirs), rel=1e-7)


def _bosses(laid: list[Island], plan: Any) -> list[Any]:
    """Each boss as a tapered solid of its own, sunk 1 mm into the block."""
    from OCP.BRep import BRep_Builder
    from OCP.TopLoc import TopLoc_Location
    from OCP.TopoDS import TopoDS_Face

    builder, result = BRep_Builder(), []
    for island in laid:
        first = island.stations[0]
        sheet = lay_sheet(plan.base - 1, [
            Island((type(first)(first.loops, first.radius - 1), *island.stations), None)
        ])
        count, m = first.loops.start.shape[:2]
        for index in range(count):
            faces = [sheet.faces[-count + index]]
            for row in range((len(sheet.faces) - count) // (count * m)):
                at = row * count * m + index * m
                faces += sheet.faces[at:at + m]
            bottom = TopoDS_Face()
            builder.MakeFace(bottom, sheet.base, TopLoc_Location(), 1e-5)
            builder.Add(bottom, sheet.holes[index].Reversed())
            result.append(solid_of([*faces, bottom.Reversed()]))
    return result


def test_checks_can_fail() -> None:
    design = small()
    part = part_of(design)
    faces = list(walk(part, "face"))
    assert not is_closed(solid_of(faces[:-1]))
    assert not is_valid(solid_of(faces[:-1]))
    turned = solid_of(face.Reversed() for face in faces)
    assert solid_volume(turned) < 0


@pytest.mark.parametrize("side,segments", [("inside", 2), ("outside", 2), ("inside", 3)])
def test_core_cavity_and_casting_fill_the_closed_block(side: str, segments: int) -> None:
    design = small(side=side, segments=segments)
    grid = lattice(design)
    mold = Mold(clearance=0.0)
    plan = layout(design, mold, 1e3)
    span = spans(plan, ())[0]
    laid = islands(design, grid, ribbing(design, grid), 1e3, through=False)
    core = core_solid(plan, mold, span, features=False)
    cavity = cavity_solid(plan, mold, span, features=False)
    if side == "inside":
        core = relieved(core, plan, laid, mold)
    else:
        cavity = relieved(cavity, plan, laid, mold)
    assert is_valid(core) and is_valid(cavity)
    # With no clearance only the draft of the end walls is left between them: a right triangle in
    # each, swept round the axis between bore and seat.
    lean = math.tan(math.radians(1.0))
    dishes = 2 * 2 * plan.half_angle * lean * (
        plan.outer * (plan.outer**2 - plan.inner**2) / 2 - (plan.outer**3 - plan.inner**3) / 3)
    section = (
        2 * plan.half_width * (plan.parting - plan.bottom)
        + 2 * plan.half_width * plan.flange
        + 2 * plan.shoulder * (plan.top - plan.parting - plan.flange)
    )
    block = section * (plan.end - plan.start)
    total = solid_volume(core) + solid_volume(cavity) + solid_volume(part_of(design))
    assert total + dishes == pytest.approx(block, rel=1e-8)


def test_skin_is_the_gap_between_boss_and_bore() -> None:
    from OCP.BRepExtrema import BRepExtrema_DistShapeShape

    design = small()
    grid = lattice(design)
    plan = layout(design, Mold(), 1e3)
    span = spans(plan, ())[0]
    laid = islands(design, grid, ribbing(design, grid), 1e3, through=False)
    core = relieved(core_solid(plan, Mold(), span), plan, laid, Mold())
    cavity = cavity_solid(plan, Mold(), span)
    (bore,) = [f for f in walk(cavity, "face") if abs((cylinder_radius(f) or 0) - 22) < 1e-9]
    tops = [f for f in walk(core, "face") if abs((cylinder_radius(f) or 0) - 20.8) < 1e-9]
    assert len(tops) == ribbing(design, grid).count
    for top in tops[::7]:
        assert BRepExtrema_DistShapeShape(top, bore).Value() == pytest.approx(1.2, abs=1e-6)
    # The tips of the ribs: groove floor to bore.
    tips = [f for f in walk(core, "face") if abs((cylinder_radius(f) or 0) - 17.8) < 1e-9]
    assert min(
        BRepExtrema_DistShapeShape(tip, bore).Value() for tip in tips[:6]
    ) == pytest.approx(4.2, abs=1e-6)


def test_plain_block_is_the_annulus() -> None:
    plan = layout(small(), Mold(), 1e3)
    block = prism(part_profile(plan), 0.0, plan.length)
    assert solid_volume(block) == pytest.approx(
        math.pi / 2 * (plan.outer**2 - plan.inner**2) * 60.0, rel=1e-9)
