"""Over everything a definition file may state: stiffness between published bounds, without jumps.

Upper bound: uniform strain in every layer (Voigt; R. M. Jones, Mechanics of Composite Materials,
ch. 3, from memory), with the solid share counted here from the outline of the pocket at a height.
Lower bound: the skin alone, since taking material away never stiffens (theorem of least potential
energy; Timoshenko and Goodier, Theory of Elasticity).
"""

from __future__ import annotations

import dataclasses

import numpy as np
import pytest

from gridshell.define.errors import InputError
from gridshell.define.files.reading import design_from_table
from gridshell.define.tables.design import with_values
from gridshell.wall.assess import assess_wall
from gridshell.wall.geometry.mass import pocket_outline_at
from gridshell.wall.geometry.pattern import pocket_shapes
from gridshell.wall.geometry.pockets import inscribed_radius, outline_area

PATTERNS = ("isogrid", "isogrid-axial", "orthogrid", "diagonal", "families")


def drawn(random, pattern):
    """A design drawn over the whole accepted range (radius 100 mm), or None if it is refused."""
    def log(low, high):
        return float(np.exp(random.uniform(np.log(low), np.log(high))))

    thickness = 100 / log(2.5, 2e3)
    spacing, height = log(2.0, 209.0), log(0.05 * thickness, min(40 * thickness, 50.0))
    width = spacing * log(0.005, 1.0)
    draft = random.choice([0.0, random.uniform(0, 44.9)])
    ribs = {"pattern": pattern.split("-")[0], "height": f"{height} mm", "width": f"{width} mm",
            "draft": f"{draft} deg", "side": str(random.choice(["inside", "outside"]))}
    room = spacing
    if pattern.startswith("isogrid"):
        ribs |= {"spacing": f"{spacing} mm", "orientation": "axial" if "-" in pattern else "hoop"}
        room = spacing / np.sqrt(3)
    elif pattern == "orthogrid":
        other = log(1.01 * width, 300.0)
        ribs |= {"spacing": f"{spacing} mm", "hoop_spacing": f"{other} mm"}
        room = min(spacing, other)
    elif pattern == "diagonal":
        ribs |= {"spacing": f"{spacing} mm", "angle": f"{random.uniform(1, 89)} deg"}
    else:
        ribs["family"] = [
            {"angle": f"{random.uniform(-90, 90)} deg", "spacing": f"{spacing * log(1, 3)} mm"}
            for _ in range(random.integers(1, 5))
        ]
    largest = (room - width - 2 * height * np.tan(np.radians(draft))) / 2
    if largest > 0:
        ribs["corner_radius"] = f"{largest * random.choice([0, random.uniform(0, 0.999)])} mm"
        fillet = min(largest, height) * random.choice([0, random.uniform(0, 0.999)])
        ribs["root_fillet"] = f"{fillet} mm"
    try:
        return design_from_table({
            "title": "Invented scenario: drawn at random",
            "material": {"name": "test", "modulus": "2 GPa", "poisson": random.uniform(0, 0.49),
                         "density": "1000 kg/m^3", "strength": "30 MPa"},
            "tube": {"outside_diameter": "200 mm", "length": f"{log(100, 2000)} mm"},
            "skin": {"thickness": f"{thickness} mm"}, "ribs": ribs,
        })
    except InputError:
        return None


@pytest.fixture(scope="module")
def accepted():
    """Function: accepted designs of a pattern."""
    def designs(pattern, count, seed):
        random, found = np.random.default_rng(seed), []
        while len(found) < count:
            design = drawn(random, pattern)
            if design is not None:
                found.append(design)
        return found

    return designs


def whole(A, B, D, thickness):
    """The 6 x 6 law, moments over the skin's thickness."""
    scale = np.array([1, 1, 1, *[1 / thickness] * 3])
    return np.block([[A, B], [B, D]]) * np.outer(scale, scale)


def solid_at(built, depth):
    """Solid share of the rib layer at a height above the skin, by the pocket's outline there."""
    design, grid = built.design, built.grid
    ribs = design.ribs
    bite = max(float(ribs.root_fillet) - depth, 0.0)
    fillet = float(ribs.root_fillet) - np.sqrt(float(ribs.root_fillet) ** 2 - bite**2)
    if grid.pattern == "families":
        opened, gaps = 1.0, []
        for line, section in zip(grid.families, built.sections, strict=True):
            wide = float(section.tip_width) + 2 * fillet + 2 * (
                float(section.height) - depth) * np.tan(float(ribs.draft))
            gaps.append(max(float(line.pitch) - wide, 0.0))
            opened *= gaps[-1] / float(line.pitch)
        if len(gaps) != 2:
            return 1 - opened
        # Rounded corners of a parallelogram: r^2 (sum of cot(angle/2) - pi) in each.
        one, two = (np.arctan2(line.sine, line.cosine) for line in grid.families)
        across = abs(float(np.sin(one - two)))
        radius = min(float(ribs.corner_radius) + depth * np.tan(float(ribs.draft)), *(
            gap / 2 for gap in gaps)) if ribs.corner_radius else 0.0
        per_pocket = np.prod([float(line.pitch) for line in grid.families]) / across
        return min(1 - opened + radius**2 * (4 / across - np.pi) / per_pocket, 1.0)
    inset = float(pocket_outline_at(design, grid, depth)[1]) + fillet
    corners = pocket_shapes(grid)[0].corners
    radius = float(ribs.corner_radius) + depth * np.tan(float(ribs.draft)) - fillet
    radius = min(max(radius, 0.0), max(float(inscribed_radius(corners)) - inset, 0.0))
    per_cell = 1 if grid.pattern == "orthogrid" else 2
    area = float(outline_area(corners, inset, radius))
    return 1 - per_cell * area / float(grid.cell_width * grid.cell_height)


def skin_and_voigt(built):
    """The two bounds as 6 x 6 laws."""
    design, known = built.design, built.properties
    t, v = float(design.skin.thickness), float(known.poisson)
    plane = known.modulus / (1 - v * v) * np.array([[1, v, 0], [v, 1, 0], [0, 0, (1 - v) / 2]])
    points, weights = np.polynomial.legendre.leggauss(24)
    height = float(built.depth) - t
    depths = height * (1 + points) / 2
    shares = np.array([solid_at(built, depth) for depth in depths])
    z = built.side * (t / 2 + depths)
    A, B, D = (np.sum(weights * height / 2 * shares * z**n) * plane for n in range(3))
    skin = (t * plane, 0 * plane, t**3 / 12 * plane)
    return whole(*skin, t), whole(A + skin[0], B, D + skin[2], t)


def spread(part, bound):
    """Least and largest ratio of two laws."""
    factor = np.linalg.inv(np.linalg.cholesky(bound))
    values = np.linalg.eigvalsh(factor @ part @ factor.T)
    return values[0], values[-1]


@pytest.mark.parametrize("pattern", PATTERNS)
def test_between_bounds_for_every_accepted_design(accepted, make_properties, pattern):
    for design in accepted(pattern, 60, 7):
        built = assess_wall(design, make_properties(poisson=design.material.poisson))
        for matrix in (built.A, built.B, built.D):
            assert np.all(np.isfinite(matrix))
            np.testing.assert_array_equal(matrix, matrix.T)
        law = whole(built.A, built.B, built.D, float(design.skin.thickness))
        skin, voigt = skin_and_voigt(built)
        assert spread(law, skin)[0] > 1 - 1e-5, design.ribs
        # Interpolated between solved shapes, Poisson's part may pass by parts in a thousand.
        assert spread(law, voigt)[1] < 1.005, design.ribs


@pytest.mark.parametrize("pattern", PATTERNS)
def test_on_its_radius_it_stays_positive(accepted, make_properties, pattern):
    for design in accepted(pattern, 60, 8):
        built = assess_wall(design, make_properties(poisson=design.material.poisson))
        law = whole(*built.curved, float(design.skin.thickness))
        assert spread(law, skin_and_voigt(built)[0])[0] > 0.2, design.ribs


@pytest.mark.parametrize("pattern", PATTERNS)
def test_never_a_jump(accepted, make_properties, pattern):
    # A thousandth of a field moves no entry by more than a hundredth of the root of 11 x 22.
    for design in accepted(pattern, 12, 9):
        known = make_properties(poisson=design.material.poisson)
        grid = assess_wall(design, known).grid
        cells = (grid.cells_round, grid.cells_along)
        for field in ("ribs.height", "ribs.width", "skin.thickness"):
            head, _, name = field.partition(".")
            value = getattr(getattr(design, head), name)
            steps = value * np.linspace(1.0, 1.012, 13)
            built = assess_wall(with_values(design, {field: steps}), known, *cells)
            for matrix in (built.A, built.D):
                diagonal = np.sqrt(np.einsum("...ii->...i", matrix))
                scaled = matrix / diagonal[:1, :, None] / diagonal[:1, None, :]
                assert np.abs(np.diff(scaled, axis=0)).max() < 0.01, (field, design.ribs)


@pytest.mark.parametrize("pattern", PATTERNS)
def test_ribs_to_nothing_leave_the_plain_wall(make_design, make_properties, pattern):
    plain = assess_wall(make_design("plain"), make_properties())
    gaps = []
    for height in (1e-4, 1e-5, 1e-6):
        built = assess_wall(make_design(pattern, ribs__height=height), make_properties())
        gaps.append(max(np.abs(built.A / plain.A[0, 0] - plain.A / plain.A[0, 0]).max(),
                        np.abs(built.D / plain.D[0, 0] - plain.D / plain.D[0, 0]).max()))
    assert gaps[0] < 0.05 and gaps[1] < 0.12 * gaps[0] and gaps[2] < 0.12 * gaps[1]


def test_low_wide_ribs_reach_the_upper_bound(make_design, make_properties):
    # Far lower than wide, a rib strains with its skin: uniform strain is exact.
    built = assess_wall(make_design("orthogrid", ribs__height=2e-5, ribs__width=8e-3),
                        make_properties())
    law = whole(built.A, built.B, built.D, 1.5e-3)
    skin, voigt = skin_and_voigt(built)
    assert (law - skin)[0, 0] == pytest.approx((voigt - skin)[0, 0], rel=0.04)
    # One ratio holds pull and shear back alike, so shear waits for the pull: the safe side.
    assert 0.85 < (law - skin)[5, 5] / (voigt - skin)[5, 5] <= 1 + 1e-9


def test_families_along_and_round_are_an_orthogrid(make_design, make_properties):
    grid = assess_wall(make_design("orthogrid", ribs__corner_radius=1e-3), make_properties())
    axial, hoop = (float(line.pitch) for line in grid.grid.families)
    content = {
        "title": "Invented scenario", "tube": {"outside_diameter": "200 mm", "length": "600 mm"},
        "material": {"name": "t", "modulus": "2 GPa", "poisson": 0.35, "density": "1000 kg/m^3"},
        "skin": {"thickness": "1.5 mm"},
        "ribs": {"pattern": "families", "height": "5 mm", "width": "2 mm",
                 "corner_radius": "1 mm", "family": [
                     {"angle": "90 deg", "spacing": f"{hoop} m"},
                     {"angle": "0 deg", "spacing": f"{axial} m"}]},
    }
    own = assess_wall(design_from_table(content), make_properties())
    for one, other in zip((own.A, own.B, own.D), (grid.A, grid.B, grid.D), strict=True):
        np.testing.assert_allclose(one, other, rtol=1e-9, atol=1e-9 * np.abs(other).max())


def test_mirrored_families_are_diagonal_ribs(make_design, make_properties):
    grid = assess_wall(make_design("diagonal"), make_properties())
    line = grid.grid.families[0]
    design = make_design("families")
    family = design.ribs.family[0]
    pair = tuple(dataclasses.replace(family, angle=sign * float(line.angle),
                                     spacing=float(line.pitch)) for sign in (1, -1))
    own = assess_wall(with_values(design, {"ribs.family": pair}), make_properties())
    for one, other in zip((own.A, own.B, own.D), (grid.A, grid.B, grid.D), strict=True):
        np.testing.assert_allclose(one, other, rtol=0.02, atol=0.02 * np.abs(other).max())


@pytest.mark.parametrize("pattern", PATTERNS)
def test_more_material_of_equal_shape_never_softens(accepted, make_properties, pattern):
    # Thicker skin, taller rib: the law about the same surface grows as a matrix.
    for design in accepted(pattern, 12, 10):
        known = make_properties(poisson=design.material.poisson)
        first = assess_wall(design, known)
        cells = (first.grid.cells_round, first.grid.cells_along)
        if design.ribs.draft:
            continue  # a taller drafted rib is wider as well; covered by the bounds
        more = assess_wall(
            with_values(design, {"ribs.height": design.ribs.height * 1.05}), known, *cells)
        t = float(design.skin.thickness)
        least, _ = spread(whole(more.A, more.B, more.D, t), whole(first.A, first.B, first.D, t))
        assert least > 0.98, design.ribs
