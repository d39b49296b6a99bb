"""The picture of a sizing: drawn for the usual answer, for a plain one, and for none."""

from __future__ import annotations

import pytest

from gridshell.define.errors import InputError
from gridshell.define.target import Target
from gridshell.report.size_plot import plot_size
from gridshell.study.size import size
from gridshell.study.size_map import fronts, size_map, uses

from .conftest import make


def test_picture_of_the_usual_answer(sized, tmp_path):
    plot_size(sized, tmp_path / "size.png")
    assert (tmp_path / "size.png").stat().st_size > 40_000


def test_map_has_the_optimum_on_the_border_of_zero_margin(sized):
    """At the ideal the margin changes sign within a step of the map; mass grows with height."""
    found = size_map(sized, 41)
    middle = found.margin.shape[0] // 2
    near = found.margin[middle - 2:middle + 3, middle - 2:middle + 3]
    assert near.min() < 0 < near.max()
    assert (found.mass[:, 1:] > found.mass[:, :-1]).all()


def test_fronts_rise_and_start_at_the_ideal(sized):
    found = fronts(sized)
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
    plot_size(size(make(target=target)), tmp_path / "size.svg")
    assert (tmp_path / "size.svg").exists()


def test_unknown_picture_format_is_refused(sized, tmp_path):
    with pytest.raises(InputError, match="not a picture"):
        plot_size(sized, tmp_path / "size.bmp")
