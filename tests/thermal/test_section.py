"""The wall as columns of nodes: its volume, and the temperatures of a rib in two dimensions."""

import dataclasses

import numpy as np
import pytest
from scipy.sparse import coo_matrix, diags, eye
from scipy.sparse.linalg import splu

from gridshell.define.tables.chill import SleeveLayer
from gridshell.define.tables.design import (
    Design,
    Material,
    RibFamily,
    Ribs,
    Skin,
    Tube,
)
from gridshell.thermal.heat.network import INSIDE, OUTSIDE, constant_solid
from gridshell.thermal.heat.section import wall_section
from gridshell.thermal.heat.surroundings import Surroundings, constant_coefficient
from gridshell.thermal.heat.transient import transient
from gridshell.wall.geometry.lattice import lattice
from gridshell.wall.geometry.mass import tube_volume
from gridshell.wall.geometry.rib_section import rib_section

PLASTIC = constant_solid("plastic", 0.25, 960.0, 2000.0)
START, COLD = 300.0, 200.0


def design(**changes):
    ribs = Ribs(pattern="isogrid", height=5e-3, width=2.4e-3, draft=0.05, spacing=26e-3,
                corner_radius=2e-3)
    base = Design("invented", Material("hot-melt-eva"),
                  Tube(0.098, 0.9, sections=3, segments=2, seam_land=8e-3, end_land=10e-3),
                  Skin(1.6e-3), ribs)
    return dataclasses.replace(base, **changes)


ORTHOGRID = Ribs(pattern="orthogrid", height=4e-3, width=2e-3, spacing=20e-3, hoop_spacing=22e-3)


@pytest.mark.parametrize("ribs", [
    design().ribs, ORTHOGRID, dataclasses.replace(ORTHOGRID, side="outside"),
    Ribs(pattern="diagonal", height=4e-3, width=2e-3, spacing=20e-3, angle=0.6),
    Ribs(pattern="plain"),
])
def test_material_chilled_is_the_material_weighed(ribs):
    made = design(ribs=ribs)
    grid = lattice(made)
    sections = tuple(rib_section(ribs.height, ribs.width, ribs.draft, ribs.root_fillet)
                     for _ in grid.families)
    section = wall_section(made, PLASTIC)
    weighed = float(tube_volume(made, grid, sections)) / made.tube.length
    held = section.bare.node_volume().sum()
    assert held == pytest.approx(weighed, rel=1e-3)
    assert held == pytest.approx(section.volume, rel=1e-9)


def test_sleeve_adds_its_own_volume_and_slows_the_chilling():
    layer = SleeveLayer(thickness=8e-3)
    section = wall_section(design(), PLASTIC, sleeve=(layer, dataclasses.replace(
        layer, thickness=1e-3, conductivity=0.2, density=900.0)))
    plain, covered = section.bare, section.covered
    assert [s.name for s in covered.solids].count("sleeve") == 2
    inner, outer = 0.049, 0.058
    added = covered.node_volume().sum() - plain.node_volume().sum()
    assert added == pytest.approx(np.pi * (outer**2 - inner**2), rel=1e-9)
    assert section.covered_diameter == pytest.approx(2 * outer)
    bath = {OUTSIDE: Surroundings(COLD, constant_coefficient(50.0))}
    bare_end = transient(plain, np.full(plain.count, START), bath, 300.0).temperature[-1]
    slow_end = transient(covered, np.full(covered.count, START), bath, 300.0).temperature[-1]
    assert np.all(slow_end[: section.tube_nodes] > bare_end[: section.tube_nodes] + 5)


def test_many_designs_at_once():
    thick = np.array([1.2e-3, 2.4e-3])
    many = wall_section(design(skin=Skin(thick)), PLASTIC, 4)
    bath = {OUTSIDE: Surroundings(COLD, constant_coefficient(50.0))}
    together = transient(many.bare, np.full((2, many.bare.count), START), bath, 200.0, step=4.0)
    for i, one in enumerate(thick):
        alone = wall_section(design(skin=Skin(one)), PLASTIC, 4)
        found = transient(alone.bare, np.full(alone.bare.count, START), bath, 200.0, step=4.0)
        assert together.temperature[-1][i] == pytest.approx(found.temperature[-1], abs=1e-5)


def two_dimensions(half_pitch, thickness, width, height, h, times, cell):
    """Half a cell of a wall with parallel ribs, plane, cooled on the plain face; finite volumes.

    Returns mean temperature of skin clear of the rib, and of the rib, at the times.
    """
    columns = round(half_pitch / cell)
    rows = round((thickness + height) / cell)
    skin_rows, rib_columns = round(thickness / cell), round(width / 2 / cell)
    solid = np.zeros((rows, columns), bool)
    solid[:skin_rows] = True
    solid[:, :rib_columns] = True
    number = -np.ones(solid.shape, int)
    number[solid] = np.arange(solid.sum())
    first, last = [], []
    for a, b in ((number[1:], number[:-1]), (number[:, 1:], number[:, :-1])):
        both = (a >= 0) & (b >= 0)
        first.append(a[both])
        last.append(b[both])
    first, last = np.concatenate(first), np.concatenate(last)
    count = solid.sum()
    ones = np.full(first.size, 0.25)
    links = coo_matrix((np.r_[ones, ones], (np.r_[first, last], np.r_[last, first])),
                       shape=(count, count)).tocsr()
    outside = np.zeros(count)
    outside[number[0]] = 1 / (1 / h + cell / 2 / 0.25) * cell
    matrix = diags(np.asarray(links.sum(1)).ravel() + outside) - links
    capacity = 960 * 2000.0 * cell**2
    t, clock, found = np.full(count, START - COLD), 0.0, []
    step = times[0] / 40
    # Backward Euler with small steps: first order, but plainly another method.
    solve = splu((eye(count) * capacity + step * matrix).tocsc())
    skin, rib = number[:skin_rows, rib_columns:].ravel(), number[skin_rows:, :rib_columns].ravel()
    for time in times:
        while clock < time - 1e-9:
            t = solve.solve(capacity * t)
            clock += step
        found.append((COLD + t[skin].mean(), COLD + t[rib].mean()))
    return np.array(found)


def test_rib_and_skin_against_two_dimensional_conduction():
    # The lumped exchange between thin wall and rib foot is quasi-steady; against plane conduction
    # in the true cross-section it must hold to 5 % of the whole change of temperature.
    thickness, width, height, h = 1.6e-3, 2.4e-3, 4.8e-3, 50.0
    ribs = Ribs(pattern="families", height=height, width=width,
                family=(RibFamily(angle=0.0, spacing=20e-3),))
    made = design(ribs=ribs, tube=Tube(2.0, 4.0))
    pitch = float(lattice(made).families[0].pitch)
    section = wall_section(made, PLASTIC, 6)
    times = np.array([20.0, 60.0, 120.0, 240.0, 480.0])
    other = two_dimensions(pitch / 2, thickness, width, height, h, times, 0.2e-3)
    found = transient(section.bare, np.full(section.bare.count, START),
                      {OUTSIDE: Surroundings(COLD, constant_coefficient(h)), INSIDE: None},
                      times[-1], tolerance=0.02)

    def mean(name):
        part = section.parts[name]
        series = (found.temperature[:, part.nodes] * part.volume).sum(-1) / part.volume.sum()
        return np.interp(times, found.time, series)

    assert mean("skin") == pytest.approx(other[:, 0], abs=5.0)
    assert mean("rib") == pytest.approx(other[:, 1], abs=5.0)
    # The rib does lag: without it in the model the test would say nothing.
    assert (other[:, 1] - other[:, 0]).max() > 20


def test_plain_tube_needs_no_ribs():
    section = wall_section(design(ribs=Ribs(pattern="plain")), PLASTIC)
    assert set(section.parts) == {"skin"}
    assert float(section.land_depth) == pytest.approx(1.6e-3)


def test_every_surface_of_a_ribbed_wall_takes_heat():
    # One family of axial ribs, by hand: open skin, both flanks and tip of every rib inside; the
    # plain circumference outside. One meter of tube.
    ribs = Ribs(pattern="families", height=5e-3, width=2e-3,
                family=(RibFamily(angle=0.0, spacing=20e-3),))
    made = design(ribs=ribs, tube=Tube(1.0, 4.0))
    section = wall_section(made, PLASTIC)
    radius, pitch = float(section.radius), float(lattice(made).families[0].pitch)
    count = 2 * np.pi * radius / pitch
    area = {side: section.bare.face_area[section.bare.face_side == side].sum()
            for side in (INSIDE, OUTSIDE)}
    inner = radius - 0.8e-3
    open_skin = (1 - 2e-3 / pitch) * 2 * np.pi * inner
    assert area[INSIDE] == pytest.approx(open_skin + count * (2 * 5e-3 + 2e-3), rel=1e-6)
    assert area[OUTSIDE] == pytest.approx(2 * np.pi * 0.5, rel=1e-9)
