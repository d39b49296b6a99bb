"""Peeling and grip against bending theory, Lame's tubes and the sleeve on a core."""

import math

import numpy as np
import pytest
from shapes import small

from gridshell.define.errors import DefinitionError, InputError
from gridshell.define.files.reading import design_from_table
from gridshell.define.tables.casting import Casting
from gridshell.define.tables.design import with_values
from gridshell.define.tables.mold import Mold, read_mold
from gridshell.material.properties import Properties
from gridshell.mold.checks.heat.cooling import mold_properties
from gridshell.mold.checks.release.grip import (
    Backing,
    grip,
    grip_checks,
    held_share,
    rib_foundation,
    shrink_before_release,
)
from gridshell.mold.checks.release.peel import (
    opening_curvature,
    opening_strain,
    peel_checks,
    sheared_stretch,
)
from gridshell.mold.checks.release.undercut import undercut
from gridshell.mold.checks.run import mold_checks
from gridshell.mold.pieces.build import piece_names
from gridshell.mold.pieces.layout import layout
from gridshell.mold.relief.ribbing import ribbing
from gridshell.thermal.stress.stress import shrink_pressure
from gridshell.wall.assess import assess_wall
from gridshell.wall.geometry.lattice import lattice


def make(material="hot-melt-eva", **ribs):
    return design_from_table({
        "title": "Invented scenario: part under test", "material": {"name": material},
        "tube": {"outside_diameter": "100 mm", "length": "300 mm", "segments": 2,
                 "seam_land": "8 mm", "end_land": "10 mm"},
        "skin": {"thickness": "1.5 mm"},
        "ribs": {"pattern": "isogrid", "height": "5 mm", "width": "2 mm", "draft": "3 deg",
                 "spacing": "25 mm", "corner_radius": "1 mm", **ribs}})


def plain(thickness="1 mm", segments=1):
    return design_from_table({
        "title": "Invented scenario: plain", "material": {"name": "pla"},
        "tube": {"outside_diameter": "100 mm", "length": "200 mm", "segments": segments},
        "skin": {"thickness": thickness}, "ribs": {"pattern": "plain"}})


def rubbery(poisson=0.0, **more):
    return Properties("soft", 300.0, 50e6, poisson, 1000.0, **more)


def peel_of(design, warm, mold="petg", **casting):
    grid = lattice(design)
    found = undercut(design, grid, ribbing(design, grid))
    return peel_checks(design, found, assess_wall(design, warm), warm, mold_properties(mold),
                       Casting(**casting))


def test_flattening_a_plain_shell_strains_it_by_half_thickness_over_radius():
    """Strain y/rho of bending (Gere and Timoshenko, Mechanics of Materials, curvature-strain
    relation): a shell of radius R laid flat has t/(2 R) at its faces."""
    design = plain()
    bent = assess_wall(design, rubbery())
    inner, outer = opening_strain(bent, 1 / bent.grid.radius)
    assert float(inner) == pytest.approx(0.5e-3 / 49.5e-3)
    assert float(outer) == pytest.approx(-0.5e-3 / 49.5e-3)


def test_rib_tips_are_strained_by_their_distance_from_the_neutral_surface():
    """Composite section worked out by hand: hoop ribs and skin of an orthogrid, no Poisson."""
    design = make(pattern="orthogrid", hoop_spacing="28 mm", draft="0 deg", corner_radius="0 mm")
    bent = assess_wall(design, rubbery())
    pitch = float(bent.grid.cell_height)
    skin, rib = 1.5 * pitch * 1e3, 2.0 * 5.0  # mm2
    neutral = (rib * -(0.75 + 2.5)) / (skin + rib)  # mm from mid skin
    inner, _ = opening_strain(bent, 10.0)
    assert float(inner) == pytest.approx((neutral + 0.75 + 5.0) * 1e-3 * 10.0, rel=5e-3)


def test_opening_turns_the_furthest_rib_to_within_the_lock_angle():
    radius, start, furthest = 0.05, 0.06, 1.4
    curvature = float(opening_curvature(start, furthest, radius))
    assert furthest - curvature * radius * furthest == pytest.approx(start)
    assert float(opening_curvature(0.1, 0.05, radius)) == 0.0


def test_shear_stretch_is_the_singular_value_of_the_deformation():
    shear = 0.8
    stretch = np.linalg.svd([[1.0, shear], [0.0, 1.0]])[1].max()
    assert float(sheared_stretch(shear)) == pytest.approx(stretch - 1)


def test_brittle_parts_tear_and_tough_ones_peel():
    design = make()
    tough = peel_of(design, rubbery(strain_at_break=1.0))[0]
    brittle = peel_of(design, rubbery(strain_at_break=0.03))[0]
    unknown = peel_of(design, rubbery())[0]
    assert (tough.verdict, brittle.verdict, unknown.verdict) == ("ok", "fails", "not known")
    assert tough.value == pytest.approx(brittle.value)
    assert "tears" in brittle.advice
    assert tough.limit == pytest.approx(0.5)  # half of the strain at break by default
    assert peel_of(design, rubbery(strain_at_break=1.0), peel_factor=4.0)[0].limit == (
        pytest.approx(0.25))


def test_a_part_bent_beyond_its_yield_stays_bent():
    design = make()
    # Yields at 2 MPa / 50 MPa = 4 %, which opening passes.
    found = peel_of(design, rubbery(strain_at_break=1.0, strength=2e6))[0]
    assert found.value > found.details["strain_at_yield"] == pytest.approx(0.04)
    assert found.verdict == "caution" and "stays bent" in found.advice


def test_ribs_outside_need_a_mold_that_bends():
    design = make(side="outside")
    warm = rubbery(strain_at_break=1.0)
    assert peel_of(design, warm)[0].verdict == "fails"
    rubber = peel_of(design, warm, mold="silicone-mold")[0]
    assert rubber.verdict == "ok"
    assert rubber.value == pytest.approx(
        float(sheared_stretch(rubber.details["overhang"] / 5e-3)))


def test_sleeve_pressure_is_that_of_lame_on_a_rigid_core():
    """Thin tube shrunk on a rigid bar, no Poisson's ratio: Lame (Timoshenko, Strength of
    Materials, Part II) less the thin-wall error of t/R."""
    design = plain("0.5 mm")
    soft = rubbery()
    found = grip(assess_wall(design, soft), 0.01, 0.3, True)
    inner = 50e-3 - 0.5e-3
    lame = float(shrink_pressure(0.01, inner, 50e-3, 0.0, 50e6, 0.0, 1e16, 0.0))
    assert float(found.pressure) == pytest.approx(lame, rel=0.02)


def test_sleeve_needs_friction_times_pressure_times_area():
    design = plain()
    found = grip(assess_wall(design, rubbery(0.4)), 0.01, 0.25, True)
    area = 2 * math.pi * 49.5e-3 * 0.2
    assert float(found.force) == pytest.approx(0.25 * float(found.pressure) * area)


def test_sliding_half_shell_force_is_the_integral_round_it():
    design = make(draft="20 deg")  # the draft beats friction, so the flanks hold nothing
    bent = assess_wall(design, rubbery(0.4))
    found = grip(bent, 0.01, 0.2, True)
    phi = np.linspace(-np.pi / 2, np.pi / 2, 20001)
    slide = 0.2 * float(found.pressure) * np.abs(np.sin(phi)) * float(bent.grid.radius) * 0.3
    assert float(found.force) == pytest.approx(np.trapezoid(slide, phi), rel=1e-6)


def test_a_plain_half_shell_holds_on_to_nothing():
    found = grip(assess_wall(plain(segments=2), rubbery()), 0.01, 0.3, True)
    assert float(found.force) == 0.0


def test_grip_grows_with_friction_and_falls_with_draft():
    warm = rubbery(0.4, strength=5e6)
    design = make()
    steep = with_values(design, {"ribs.draft": math.radians(8)})

    def force(which, friction):
        return grip_checks(which, assess_wall(which, warm), warm, 0.01, Casting(friction=friction))[
            0].value

    assert force(design, 0.6) > 1.8 * force(design, 0.3)
    assert force(steep, 0.3) < force(design, 0.3)
    built = assess_wall(design, warm)
    assert grip_checks(design, built, warm, None, Casting())[0].verdict == "not known"


def test_tension_held_by_sheared_ribs_solves_its_equation():
    """Independent: the boundary value problem A u'' = k u, u' = e at both free ends, by scipy."""
    from scipy.integrate import solve_bvp

    stiffness, foundation, half = 3.0e5, 4.0e8, 0.05
    solved = solve_bvp(
        lambda x, y: np.stack([y[1], foundation / stiffness * y[0]]),
        lambda a, b: np.array([a[1] - 1.0, b[1] - 1.0]),  # free ends contract by e = 1
        np.linspace(-half, half, 41), np.zeros((2, 41)), tol=1e-8)
    middle = 1.0 - float(solved.sol(0.0)[1])
    assert float(held_share(stiffness, foundation, half)) == pytest.approx(middle, rel=1e-6)


def test_a_short_arc_grips_less_than_a_half_shell():
    """The same tube in more segments: each arc holds less tension in its ribs."""
    shares = []
    for segments in (2, 3, 5):
        bent = assess_wall(with_values(make(), {"tube.segments": segments}), rubbery())
        whole = float(bent.A[..., 0, 1] + bent.A[..., 1, 1]) * 0.01  # nothing gives way
        shares.append(float(grip(bent, 0.01, 0.4, False).hoop) / whole)
    assert 1 > shares[0] > shares[1] > shares[2] > 0


def test_ribs_in_rubber_hold_as_springs_in_series():
    """By hand: rib and rubber block sheared over the rib's height, rubber under both over its
    thickness; compliances of springs in series add."""
    design = make(pattern="orthogrid", hoop_spacing="28 mm", draft="0 deg", corner_radius="0 mm")
    bent, silicone = assess_wall(design, rubbery()), mold_properties("silicone-mold")
    pitch, width, height, under = float(bent.grid.families[0].pitch), 2e-3, 5e-3, 8e-3
    soft = float(silicone.modulus) / (2 * (1 + float(silicone.poisson)))
    springs = [25e6 * width / height / pitch, soft * (pitch - width) / height / pitch, soft / under]
    _, around = rib_foundation(bent, Backing(silicone, under))
    axial = next(line for line in bent.grid.families if line.cosine > 0.5)
    assert float(axial.pitch) == pytest.approx(pitch)
    assert float(around) == pytest.approx(1 / sum(1 / spring for spring in springs), rel=1e-6)
    rigid = grip_checks(design, bent, rubbery(0.4), 0.02, Casting(release_force=1.0))[0]
    peeled = grip_checks(design, bent, rubbery(0.4), 0.02, Casting(release_force=1.0),
                         Backing(silicone, under))[0]
    assert peeled.value < 0.6 * rigid.value
    assert (rigid.verdict, peeled.verdict) == ("fails", "caution")
    assert "peel the rubber back" in peeled.advice and "jack" not in peeled.advice
    weak = rubbery(0.4, strength=1e4)
    torn, saved = (grip_checks(design, bent, weak, 0.02, Casting(), held)[1]
                   for held in (None, Backing(silicone, under)))
    assert (torn.verdict, saved.verdict) == ("fails", "caution")


def test_advice_fits_a_resin_that_cures():
    design, resin = make(), rubbery(family="casting resin")
    check = grip_checks(design, assess_wall(design, resin), resin, 0.02,
                        Casting(release_force=1e-3))[0]
    assert check.verdict == "fails"
    assert "warmer" not in check.advice and "while it cures" in check.advice


def test_shrinkage_share_before_release():
    # Sets at 80, out at 50, room 20: half of it has come.
    assert float(shrink_before_release(0.02, 353.15, 323.15, 293.15)) == pytest.approx(0.01)
    assert float(shrink_before_release(0.02, 300.0, 320.0)) == pytest.approx(0.02)  # a cured resin


def test_the_end_walls_lean_and_a_square_one_is_told():
    design = small()
    plan = layout(design, Mold(shrinkage=0.0), 1e3)
    found = mold_checks(design, Mold(shrinkage=0.0)).find("release of the ends")
    assert found.verdict == "ok" and found.value == pytest.approx(math.radians(1))
    # The triangle of the wall's depth and the draft, by hand.
    depth = plan.outer - plan.inner
    assert found.details["dish"] == pytest.approx(depth * 1e-3 * math.tan(math.radians(1)))
    # A half shell's seams lie in the parting: no face round the axis has draft there.
    assert found.details["draft_at_seams"] == pytest.approx(0, abs=1e-9)
    square = mold_checks(design, Mold(end_draft=0.0)).find("release of the ends")
    assert square.verdict == "caution" and "state mold.end_draft" in square.advice
    with pytest.raises(InputError, match=r"mold\.end_draft: 10 deg takes .* at most [\d.]+ deg"):
        piece_names(with_values(small(), {"ribs.height": 5e-3}), Mold(
            end_draft=math.radians(10), end_wall=3e-3))
    with pytest.raises(DefinitionError, match=r"mold\.end_draft"):
        read_mold({"end_draft": "11 deg"})
