"""Pictures show what the numbers say; every pattern can be drawn."""

from __future__ import annotations

import numpy as np
import pytest

from gridshell.define.tables.design import Case, with_values
from gridshell.report.plots.style import figure
from gridshell.report.plots.tube.mode import spread
from gridshell.report.plots.tube.result import plot_tube
from gridshell.report.plots.wall import draw_pattern, plot_wall, pocket_outlines
from gridshell.report.text.tube.result import theory_lines, tube_json, tube_text
from gridshell.report.text.wall import wall_json, wall_text
from gridshell.tube.assess import assess_tube
from gridshell.tube.buckling.theories import other_theories
from gridshell.wall.assess import assess_wall
from gridshell.wall.geometry.mass import pocket_floor_area
from gridshell.wall.geometry.pattern import panel_pockets
from gridshell.wall.geometry.pockets import polygon_area

ALL = ("isogrid", "isogrid-axial", "orthogrid", "diagonal", "families", "plain")


@pytest.mark.parametrize("pattern", ALL)
def test_every_pattern_can_be_drawn_and_written(tmp_path, make_design, make_properties, pattern):
    built = assess_wall(make_design(pattern), make_properties())
    plot_wall(built, tmp_path / "wall.png")
    assert (tmp_path / "wall.png").stat().st_size > 10_000
    assert built.design.title in wall_text(built)
    assert wall_json(built)["title"] == built.design.title


@pytest.mark.parametrize("side", ["inside", "outside"])
@pytest.mark.parametrize("pattern", ALL[:4])
def test_drawn_pockets_have_the_area_that_is_weighed(make_design, make_properties, pattern, side):
    built = assess_wall(make_design(pattern, ribs__side=side, ribs__corner_radius=2e-3,
                             ribs__draft=0.05, tube__end_land=5e-3), make_properties())
    drawn = pocket_outlines(built, 0.0)
    grid = built.grid
    scale = float((grid.radius + built.side * built.design.skin.thickness / 2) / grid.radius)
    areas = sum(float(polygon_area(outline)) * scale for outline in drawn)
    weighed = sum(float(np.sum(pocket_floor_area(built.design, grid, kind.corners)))
                  for kind in panel_pockets(grid))
    assert areas == pytest.approx(weighed, rel=5e-3)


def test_pockets_left_solid_are_not_drawn(make_design, make_properties):
    lands = {"tube__segments": 2, "tube__seam_land": 8e-3}
    few = assess_wall(
        make_design("isogrid", ribs__smallest_pocket=1e-3, **lands), make_properties())
    all_ = assess_wall(make_design("isogrid", **lands), make_properties())
    cut = sum(len(kind.corners) for kind in panel_pockets(few.grid) if kind.cut)
    assert len(pocket_outlines(all_, 0.0)) - len(pocket_outlines(few, 0.0)) == cut > 0


@pytest.mark.parametrize("cases", [
    (), (Case(name="nothing"),),
    (Case(name="a", compression=1e4, moment=50.0), Case(name="b", pressure=-1e3)),
])
def test_tubes_with_any_cases(tmp_path, make_design, make_properties, cases):
    tube = assess_tube(with_values(make_design("isogrid"), {"case": cases}), make_properties())
    plot_tube(tube, tmp_path / "tube.png")
    assert (tmp_path / "tube.png").stat().st_size > 10_000
    text = tube_text(tube, "metric", other_theories(tube.wall, tube.buckling))
    for case in cases:
        assert repr(case.name) in text
    if not cases:
        assert "add [[case]]" in text
    assert len(tube_json(tube)["cases"]) == len(cases)


def test_difference_between_theories_is_shown(make_design, make_properties):
    case = (Case(name="a", compression=100.0, pressure=1e3, torque=2.0),)
    tube = assess_tube(with_values(make_design("isogrid"), {"case": case}), make_properties())
    text = "\n".join(theory_lines(other_theories(tube.wall, tube.buckling)))
    for words in ("Sanders", "Donnell", "compression", "hydrostatic", "torsion", "%"):
        assert words in text


def test_inches_reach_the_wall_table_and_its_picture(make_design, make_properties):
    built = assess_wall(make_design("isogrid"), make_properties())
    # 1 lbf/in = 175.1268 N/m, 1 lbf in = 0.1129848 N m (NIST SP 811, appendix B).
    text = wall_text(built, "inch")
    assert f"{round(built.A[0, 0] / 175.1268, -1):,.0f} lbf/in" in text
    assert f"{built.D[0, 0] / 0.1129848:,.1f}" in text and "D [lbf in]" in text
    assert "lb/ft^2" in text and "N/m" not in text and "kg/m^2" not in text
    with figure(6, 4) as (_, axes):
        draw_pattern(axes, built, "inch")
        assert axes.get_xlabel() == "round the tube [in]"
        assert axes.get_ylim()[1] < float(built.design.tube.length) / 0.0254 * 1.05


def test_a_mode_is_thinned_with_both_ends_kept():
    assert list(spread(3, 10)) == [0, 1, 2]
    kept = spread(1001, 151)
    assert len(kept) == 151 and kept[0] == 0 and kept[-1] == 1000
