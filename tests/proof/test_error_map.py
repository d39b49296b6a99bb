"""The stated accuracy of the formulas, held to the solved cells that are kept with the code."""

import numpy as np
import pytest

from gridshell.define.constants import CELL_PATTERNS
from gridshell.proof.maps.cells import FRESH, errors, read, shapes
from gridshell.wall.stiffness.verified_range import FOUND, MAPPED, range_notes

CELLS = read()
HANDBOOK, IMPROVED = errors(CELLS)
OF = {name: np.array([p == name for p in CELLS.pattern]) for name in CELL_PATTERNS}


def test_there_is_a_map():
    for rows in OF.values():
        assert rows.sum() >= 25


@pytest.mark.parametrize("pattern", CELL_PATTERNS)
def test_stated_accuracy(pattern):
    for matrix, most in zip("ABD", FOUND[pattern], strict=True):
        found = 100 * np.abs(getattr(IMPROVED, matrix)[OF[pattern]])
        assert found.max() <= most
        assert found.max() > most / 3  # and the statement is not empty


def test_stated_accuracy_on_cells_that_nothing_was_fitted_on():
    fresh = read(FRESH)
    for index, pattern in enumerate(fresh.pattern):
        for matrix, most in zip("ABD", FOUND[pattern], strict=True):
            assert 100 * np.abs(getattr(errors(fresh)[1], matrix)[index]).max() <= most


@pytest.mark.parametrize("pattern", CELL_PATTERNS)
def test_far_better_than_the_handbook(pattern):
    for matrix in "ABD":
        old = np.sqrt(np.mean(getattr(HANDBOOK, matrix)[OF[pattern]] ** 2))
        new = np.sqrt(np.mean(getattr(IMPROVED, matrix)[OF[pattern]] ** 2))
        assert new < old / 3


def test_never_much_too_stiff():
    # A wall stiffer on paper than in solid would be the dangerous side.
    for matrix in "ABD":
        assert getattr(IMPROVED, matrix)[:, :2].max() < 0.025


def test_map_fills_the_stated_range():
    tables = (CELLS.shape, read(FRESH).shape)

    def both(name, over=None):
        return np.concatenate([
            shape[name] if over is None else shape[name] / shape[over] for shape in tables])

    ratios = {
        "rib width / node distance": both("width"),
        "rib height / rib width": both("height", "width"),
        "rib height / node distance": both("height"),
        "skin thickness / rib width": both("thickness", "width"),
        "corner radius / rib width": both("corner_radius", "width"),
        "root fillet / rib width": both("root_fillet", "width"),
        "Poisson's ratio": both("poisson"),
    }
    for name, values in ratios.items():
        low, high = MAPPED[name]
        assert values.min() <= 1.4 * low + 0.06 * high and values.max() > 0.8 * high
    assert set(ratios) == set(MAPPED)


def test_notes_name_what_is_outside():
    inside = (1.6e-3, 2.4e-3, 5e-3, 0.8e-3, 2e-3, 0.33, 26e-3)
    assert "within" in range_notes("isogrid", *inside)[0]
    wide = (1.6e-3, np.array([2.4e-3, 6e-3]), 5e-3, 0.8e-3, 2e-3, 0.33, 26e-3)
    assert any("rib width / node distance 0.23" in note for note in range_notes("isogrid", *wide))
    flat = range_notes("diagonal", *inside, crossing=np.radians(60))
    assert "cross at 60 deg" in flat[0]
    assert "within" in range_notes("diagonal", *inside, crossing=np.radians(90))[0]
    assert "no node terms" in range_notes("families", *inside)[0]


def test_shapes_repeat():
    first, second = list(shapes(8)), list(shapes(8))
    assert first == second and len(first) > 4
