"""The picture of a sizing: drawn for the usual answer, for a plain one, and for none."""

from __future__ import annotations

import pytest

from gridshell.define.errors import InputError
from gridshell.define.tables.target import Target
from gridshell.report.plots.study import size as size_plot
from gridshell.report.plots.study.size import draw_conflicts, draw_ways_out, plot_size
from gridshell.report.plots.style import figure
from gridshell.report.text.study.size import percent
from gridshell.study.size.map import fronts, size_map, uses
from gridshell.study.size.run import size_tube

from .conftest import make


@pytest.fixture(scope="module")
def found_fronts(sized):
    return fronts(sized)


def test_picture_of_the_usual_answer(sized, found_fronts, tmp_path, monkeypatch):
    monkeypatch.setattr(size_plot, "fronts", lambda _: found_fronts)  # they take seconds
    plot_size(sized, tmp_path / "size.png")
    assert (tmp_path / "size.png").stat().st_size > 40_000


def test_map_has_the_optimum_on_the_border_of_zero_margin(sized):
    """At the ideal the margin changes sign within a step of the map; mass grows with height."""
    found = size_map(sized, 41)
    middle = found.margin.shape[0] // 2
    near = found.margin[middle - 2:middle + 3, middle - 2:middle + 3]
    assert near.min() < 0 < near.max()
    assert (found.mass[:, 1:] > found.mass[:, :-1]).all()


def test_fronts_rise_and_start_at_the_ideal(sized, found_fronts):
    found = found_fronts
    assert len(found) == len(sized.walls)
    for front, wall in zip(found, sized.walls, strict=True):
        known = front.mass[front.mass == front.mass]
        assert len(known) >= 3
        assert (known[1:] >= known[:-1] * (1 - 1e-9)).all()
        # Cells as real numbers can only be better than whole ones.
        assert known[0] <= float(wall.ideal.tube.mass) * 1.002


def test_uses_are_of_the_made_design(sized):
    listed = uses(sized.best)
    assert listed[0][2] == pytest.approx(1 / (1 + float(sized.best.rounded.tube.margin)))
    assert all(share <= 1 + 1e-9 for _, _, share in listed)


@pytest.mark.parametrize("target", [
    Target(walls=("plain",)), Target(walls=("plain",), largest_mass=0.01),
])
def test_picture_without_a_ribbed_answer(target, tmp_path):
    plot_size(size_tube(make(target=target)), tmp_path / "size.svg")
    assert (tmp_path / "size.svg").exists()


def test_conflicting_limits_are_drawn_with_what_each_would_have_to_become():
    found = size_tube(make(target=Target(walls=("plain",), largest_mass=0.01)))
    conflict = found.walls[0].conflict
    with figure(13, 5, 1, 2) as (_, axes):
        draw_conflicts(axes[0], [conflict])
        draw_ways_out(axes[1], conflict, "metric")
        assert axes[0].texts[0].get_text().strip() == percent(conflict.shortfall)
        assert len(axes[1].texts) == len(conflict.relaxations) > 0
        assert any("mass" in label.get_text() for label in axes[1].get_yticklabels())


def test_unknown_picture_format_is_refused(sized, tmp_path):
    with pytest.raises(InputError, match="not a picture"):
        plot_size(sized, tmp_path / "size.bmp")
