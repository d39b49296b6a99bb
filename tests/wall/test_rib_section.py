"""Rib section against polygon integration, and torsion against Saint-Venant's series."""

from __future__ import annotations

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from gridshell.wall.geometry.rib_section import rectangle_torsion, rib_section


def _outline(height, tip, draft, fillet, chords=400):
    """Right half of the section as a polygon, arcs as chords: (points, 2), mirrored."""
    root = tip / 2 + height * np.tan(draft)
    inner = np.pi / 2 + draft
    reach = fillet / np.tan(inner / 2)
    # Arc about (root + reach, fillet) from the skin up to the flank.
    turn = np.linspace(-np.pi / 2, -np.pi / 2 - (np.pi - inner), chords)
    arc = np.stack([root + reach + fillet * np.cos(turn), fillet + fillet * np.sin(turn)], -1)
    right = np.concatenate([arc, [[tip / 2, height]]]) if fillet else np.array(
        [[root, 0.0], [tip / 2, height]])
    return np.concatenate([right, right[::-1] * [-1, 1]])


def _moments(points):
    """Area, centroid height, inertia about it (plane polygon, Green's theorem)."""
    x, y = points.T
    x2, y2 = np.roll(points, -1, axis=0).T
    cross = x * y2 - x2 * y
    area = cross.sum() / 2
    centroid = ((y + y2) * cross).sum() / (6 * area)
    inertia = ((y * y + y * y2 + y2 * y2) * cross).sum() / 12 - area * centroid**2
    return area, centroid, inertia


@settings(deadline=None, max_examples=60)
@given(height=st.floats(1.0, 10.0), tip=st.floats(0.3, 4.0), draft=st.floats(0.0, 0.25),
       share=st.floats(0.0, 0.6))
def test_area_centroid_and_inertia_of_a_drafted_rib_with_fillets(height, tip, draft, share):
    fillet = share * min(height, tip)
    area, centroid, inertia = _moments(_outline(height, tip, draft, fillet))
    found = rib_section(height, tip, draft, fillet)
    assert found.area == pytest.approx(area, rel=2e-5)
    assert found.centroid == pytest.approx(centroid, rel=1e-4)
    # The fillet's own inertia is that of a square corner: a draft changes it a little.
    assert found.inertia == pytest.approx(inertia, rel=3e-3 * (1 + 14 * draft))
    assert found.root_width == pytest.approx(tip + 2 * height * np.tan(draft))
    assert found.mean_width == pytest.approx((found.root_width + tip) / 2)


@pytest.mark.parametrize("ratio", [1.0, 1.5, 2.0, 3.0, 5.0, 10.0])
def test_torsion_of_a_rectangle_is_saint_venants_series(ratio):
    # Timoshenko and Goodier, Theory of Elasticity, section 109 (torsion of a rectangular bar).
    n = np.arange(1, 400, 2)
    series = (1 / 3) * ratio * (
        1 - 192 / np.pi**5 / ratio * np.sum(np.tanh(n * np.pi * ratio / 2) / n**5)
    )
    assert float(rectangle_torsion(1.0, ratio)) == pytest.approx(series, rel=4e-3)
    assert float(rectangle_torsion(ratio, 1.0)) == pytest.approx(series, rel=4e-3)


def test_no_rib_has_no_section():
    nothing = rib_section(0.0, 0.0)
    values = [nothing.area, nothing.centroid, nothing.inertia, nothing.torsion]
    assert [float(value) for value in values] == [0.0] * 4
