"""At the edges, and where nothing can be known: no answer may be on the unsafe side.

Sources beside the checks; "solid elements" are values measured with independent 20-node solid
elements on a tube of R 30, t 2, L 1,500 mm, E 3 GPa, v 0.33, closed ends.
"""

from __future__ import annotations

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from gridshell.define.errors import InputError
from gridshell.define.tables.design import Case, with_values
from gridshell.define.tables.joints import read_joints
from gridshell.material.properties import Properties
from gridshell.tube.assess import assess_tube
from gridshell.tube.result import margin_of
from gridshell.tube.section.column import Member

SLENDER = {"tube__outside_diameter": 0.062, "tube__length": 1.5, "skin__thickness": 2e-3}


def of(result, name):
    return next(check for check in result.checks if check.name == name)


@pytest.fixture
def slender(make_design, make_properties):
    """Function: the slender plain tube of the solid elements under one load case."""

    def run(material=None, **loads):
        design = make_design("plain", **SLENDER)
        known = material or make_properties(modulus=3e9, poisson=0.33, strength=60e6)
        return assess_tube(
            with_values(design, {"case": (Case(name="one", **loads),)}), known).cases[0]

    return run


@pytest.mark.parametrize("bar", [0.0, 1.0, 4.0, 40.0, -0.5])
@pytest.mark.parametrize("closed", [True, False])
def test_a_column_gains_nothing_from_pressure(slender, bar, closed):
    # Solid elements: 2,210 to 2,214 N at 0 to 4 bar inside.
    case = slender(compression=300.0, pressure=-bar * 1e5, factor=1.0, pressure_on_ends=closed)
    column = of(case, "column buckling")
    assert float(column.allowable) == pytest.approx(2212.0, rel=3e-3)
    assert float(column.applied) == 300.0
    alone = slender(compression=300.0, factor=1.0)
    assert float(case.moment) == pytest.approx(float(alone.moment))


def test_pressure_inside_does_relieve_the_wall(slender):
    # SP-8007, Eq. 48-51: internal pressure helps the shell modes.
    alone = slender(compression=300.0)
    helped = slender(compression=300.0, pressure=-5e4)
    name = "general instability in compression"
    assert float(of(helped, name).margin) > float(of(alone, name).margin)


def test_long_tube_under_pressure_fails_as_a_column(make_design, make_properties):
    # The case that was answered with +6.5: 60 mm, 3 m, 580 N and 4 bar inside.
    design = make_design("plain", **{**SLENDER, "tube__length": 3.0})
    for pressure in (0.0, -4e5):
        case = Case(name="a", compression=580.0, pressure=pressure, factor=1.4)
        found = assess_tube(with_values(design, {"case": (case,)}),
                            make_properties(modulus=3e9, strength=100e6))
        assert float(found.margin) < -0.2


def test_strength_is_checked_under_the_grown_moment(slender):
    # Timoshenko and Gere, chapter 1: a cantilever with P = 0.695 Pcr has 2.86 times the moment of
    # its tip force.
    member = Member("cantilever", 1.5, 3e9 * np.pi * 0.03**3 * 2e-3, 1e12)
    P = 0.695 * float(member.column_load)
    straight = {"support": "cantilever", "transverse": 10.0, "factor": 1.0}
    alone, pushed = slender(**straight), slender(compression=P, **straight)
    assert float(alone.moment) == pytest.approx(15.0)
    bow = P * 4 * 0.002 * 1.5 / (1 - 0.695)
    assert float(pushed.moment) - bow == pytest.approx(2.86 * 15.0, rel=0.03)
    R, t = 0.03, 2e-3
    bending = float(pushed.moment) * 0.031 / (np.pi / 4 * (0.031**4 - 0.029**4))
    stress = P / (2 * np.pi * R * t) + bending
    assert float(of(pushed, "strength of the skin").applied) == pytest.approx(
        stress, rel=2e-3)  # von Mises, with the shear force of the bent axis
    assert float(pushed.beam.deflection) > 2.5 * float(alone.beam.deflection)


def test_first_yield_of_a_bowed_column_is_perrys(slender):
    # Perry and Robertson: (s_cr - s)(s_y - s) = eta s_cr s, eta = e A c/I; strength alone.
    R, t, L, s_y = 0.03, 2e-3, 1.5, 12e6
    area, inertia = 2 * np.pi * R * t, np.pi / 4 * (0.031**4 - 0.029**4)
    case = slender(compression=100.0)
    s_cr = float(of(case, "column buckling").allowable) / area
    eta = 0.002 * L * area * 0.031 / inertia
    total = s_y + (1 + eta) * s_cr
    s = (total - np.sqrt(total**2 - 4 * s_y * s_cr)) / 2
    known = Properties("test", 294.15, 3e9, 0.33, 1000.0, s_y)
    at = slender(known, compression=s * area, factor=1.0)
    assert float(of(at, "strength of the skin").margin) == pytest.approx(0.0, abs=2e-3)
    factored = slender(known, compression=s * area / 1.7, factor=1.7)
    assert float(of(factored, "strength of the skin").margin) == pytest.approx(0.0, abs=2e-3)


@pytest.mark.parametrize("support", ["none", "cantilever", "simply-supported", "free-free"])
@pytest.mark.parametrize("times", [1.0, 1.001, 3.0, 1e6])
def test_at_and_above_the_column_load_nothing_passes(slender, support, times):
    column = float(of(slender(compression=1.0, support=support), "column buckling").allowable)
    case = slender(compression=times * column, support=support, factor=1.0, moment=0.1)
    assert float(case.margin) <= 0 and np.isfinite(float(case.margin))
    assert not any(np.isnan(float(check.margin)) for check in case.checks)
    assert float(of(case, "strength of the skin").margin) < 0


@settings(max_examples=25, deadline=None)
@given(
    st.sampled_from(["none", "cantilever", "simply-supported", "free-free"]),
    st.sampled_from(["isogrid", "orthogrid", "plain"]),
    st.floats(0, 3000), st.floats(0, 60), st.floats(-2e4, 5e3),
)
def test_more_load_never_raises_the_margin(
    make_design, make_properties, support, pattern, push, moment, pressure
):
    across = {} if support == "none" else {"transverse": 2.0, "acceleration": 3.0}
    design = make_design(pattern, tube__length=2.0, tube__segments=2, tube__sections=2)
    base = assess_tube(design, make_properties(), needed=("compression", "hydrostatic", "torsion"))

    def margin(stability=False, **more):
        loads = {"compression": push, "moment": moment, "pressure": pressure, **across, **more}
        case = Case(name="a", support=support, **loads)
        found = assess_tube(with_values(design, {"case": (case,)}), make_properties(),
                            buckling=base.buckling).cases[0]
        # Without any load nothing is checked, and nothing can fail.
        return min((float(check.margin) for check in found.checks
                    if check.subject == "stability" or not stability), default=np.inf)

    least = margin()
    assert not np.isnan(least)
    # Compression may close a joint that tension would open, so it is held to stability alone.
    assert margin(True, compression=1.1 * push + 1) <= margin(True) + 1e-9
    assert margin(moment=1.1 * moment + 0.1) <= least + 1e-9
    assert margin(factor=1.5) <= least + 1e-9


@pytest.mark.parametrize("pressure", [2e-311, 1e-300, 1e-12])
def test_a_load_too_small_to_divide_by_is_a_load(make_design, make_properties, pressure):
    case = Case(name="a", pressure=pressure, factor=1.0)
    found = assess_tube(make_design("isogrid", case=(case,)), make_properties())
    assert 1e9 < float(found.margin) < np.inf


def test_nan_is_never_a_pass(make_design, make_properties):
    assert np.isnan(margin_of(np.nan, 1.0, 1.0)) and np.isnan(margin_of(1.0, np.nan, 1.0))
    push = (Case(name="a", compression=10.0),)
    thick = with_values(make_design("isogrid", case=push), {
        "tube.outside_diameter": 1.0, "ribs.height": np.array([5e-3, 5.0])})
    found = assess_tube(thick, make_properties())
    margin = np.asarray(found.margin)
    assert margin[0] > 0 and np.isnan(margin[1])
    assert not margin[1] >= 0
    assert found.cases[0].governing[1] == "design outside of what can be assessed"
    # One design is refused with the field that is wrong.
    with pytest.raises(InputError, match=r"ribs\.height"):
        assess_tube(with_values(thick, {"ribs.height": 5.0}), make_properties())


@pytest.mark.parametrize("field", ["compression", "moment", "shear", "torque", "pressure"])
def test_loads_that_are_no_numbers_are_refused(make_design, make_properties, field):
    design = make_design("isogrid", case=(Case(name="a", **{field: float("nan")}),))
    with pytest.raises(InputError, match="not finite"):
        assess_tube(design, make_properties())
    many = with_values(design, {"case": (Case(name="a", **{field: np.array([1.0, np.nan])}),)})
    margin = np.asarray(assess_tube(many, make_properties()).margin)
    assert np.isfinite(margin[0]) and np.isnan(margin[1])


def test_strength_that_is_not_known_at_a_temperature_is_no_pass(make_design, make_properties):
    design = make_design("isogrid", case=(Case(name="a", compression=10.0),))
    known = make_properties(strength=np.array([30e6, np.nan]))
    found = assess_tube(design, known)
    margin = np.asarray(found.margin)
    assert margin[0] > 0 and np.isnan(margin[1])
    assert "strength" in found.cases[0].governing[1]


def test_a_stated_load_is_never_no_load(make_design):
    # Without a strength nothing here says what tension or internal pressure the tube takes.
    weak = Properties("test", 294.15, 2e9, 0.35, 1000.0)
    for loads in ({"compression": -400.0}, {"pressure": -5e4}):
        design = make_design("isogrid", case=(Case(name="a", **loads),))
        found = assess_tube(design, weak)
        assert np.isnan(float(found.margin))
        assert found.cases[0].governing == "stated load that no check covers"
        assert any("material.strength" in line for line in found.unchecked)
    pushed = assess_tube(make_design("isogrid", case=(Case(name="a", compression=9.0),)), weak)
    assert float(pushed.margin) > 0 and pushed.unchecked


def test_a_factor_below_one_is_said(slender):
    assert any("below 1" in note for note in slender(compression=9.0, factor=0.7).notes)
    assert not slender(compression=9.0, factor=1.0).notes


def test_the_smallest_and_the_largest_loads(slender):
    for loads in ({"compression": 1e12}, {"moment": 1e12}, {"pressure": 1e12},
                  {"compression": 1e12, "pressure": -1e12}, {"shear": 1e12}):
        assert float(slender(**loads).margin) < 0
    for loads in ({"compression": 1e-12}, {"moment": 1e-12}):
        assert float(slender(**loads).margin) > 1e6


# --- seams and joints ---------------------------------------------------------------------------


def test_half_shells_under_internal_pressure_have_their_seams_checked(
    make_design, make_properties
):
    # Edge stress p r/t across a butt seam on a land as deep as skin and ribs.
    case = Case(name="full", pressure=-2e4, factor=1.0)
    halves = assess_tube(make_design("isogrid", tube__segments=2, tube__seam_land=0.02,
                                     case=(case,)), make_properties())
    R, depth = float(halves.wall.grid.radius), 6.5e-3
    peel = of(halves.cases[0], "seam peel")
    assert float(peel.applied) == pytest.approx(2e4 * R / depth)
    assert float(peel.allowable) == pytest.approx(15e6)  # half of the wall's strength
    # Without a land the skin alone holds the seam.
    bare = assess_tube(make_design("isogrid", tube__segments=2, case=(case,)), make_properties())
    assert float(of(bare.cases[0], "seam peel").applied) == pytest.approx(2e4 * R / 1.5e-3)
    whole = assess_tube(make_design("isogrid", case=(case,)), make_properties())
    assert not any("seam" in check.name for check in whole.cases[0].checks)


def test_joints_between_sections_are_checked_in_every_case(make_design, make_properties):
    cases = (Case(name="pull", compression=-500.0, factor=1.0),
             Case(name="full", pressure=-2e4, factor=1.0),
             Case(name="push", compression=500.0, factor=1.0))
    found = assess_tube(make_design("isogrid", tube__sections=3, tube__end_land=0.01, case=cases),
                        make_properties())
    R, depth = float(found.wall.grid.radius), 6.5e-3
    pull, full, push = (of(case, "joint tension") for case in found.cases)
    assert float(pull.applied) == pytest.approx(500.0 / (2 * np.pi * R * depth))
    bore = R - 1.5e-3 / 2  # which the pressure fills
    assert float(full.applied) == pytest.approx(2e4 * bore**2 / (2 * R) / depth)
    assert float(push.margin) > 1e3 or np.isinf(float(push.margin))


def test_soft_joints_soften_the_column_and_bend_the_tube(make_design, make_properties):
    case = Case(name="a", compression=50.0, support="cantilever", transverse=5.0)
    glued = {"bond": {"thickness": "0.5 mm", "modulus": "5 MPa"}}
    stiff, soft = (
        assess_tube(
            make_design("isogrid", tube__sections=3, tube__end_land=0.01, tube__length=1.5,
                        case=(case,), joints=read_joints(joints)),
            make_properties(),
        ).cases[0]
        for joints in (None, glued))
    assert float(of(soft, "column buckling").allowable) < 0.95 * float(
        of(stiff, "column buckling").allowable)
    assert float(soft.beam.deflection) > 1.05 * float(stiff.beam.deflection)


def test_seams_and_joints_hold_for_arrays(make_design, make_properties):
    glued = {"bond": {"thickness": "0.2 mm", "modulus": "1 GPa", "shear_strength": "9 MPa",
                      "peel_strength": "7 MPa"},
             "seam": {"kind": "lap", "overlap": "9 mm", "angles": ["0 deg", "90 deg"]},
             "end": {"kind": "sleeve", "engagement": "20 mm"}}
    case = Case(name="a", compression=90.0, moment=4.0, torque=3.0, pressure=-1e4, shear=20.0)
    skins = np.array([1.2e-3, 1.8e-3, 2.5e-3])
    design = make_design("isogrid", tube__segments=2, tube__sections=2, tube__seam_land=0.01,
                         tube__end_land=0.01, joints=read_joints(glued), case=(case,))
    many = assess_tube(with_values(design, {"skin.thickness": skins}), make_properties()).cases[0]
    for index, skin in enumerate(skins):
        one = assess_tube(with_values(design, {"skin.thickness": float(skin)}),
                          make_properties()).cases[0]
        for check in one.checks:
            if check.subject == "joint":
                found = np.broadcast_to(of(many, check.name).margin, 3)[index]
                assert found == pytest.approx(float(check.margin), rel=1e-9)
    assert sum(check.subject == "joint" for check in many.checks) == 6


# --- time ---------------------------------------------------------------------------------------


def test_each_case_has_its_own_duration(make_design):
    # A library polymer that creeps: the mast's head stays for years, the gust for seconds.
    loads = {"compression": 20.0, "moment": 1.0}
    design = with_values(make_design("isogrid"), {
        "material.name": "hot-melt-eva", "material.modulus": None, "material.poisson": None,
        "material.density": None, "material.strength": None,
        "case": (Case(name="gust", duration=3.0, **loads),
                 Case(name="usual", **loads),
                 Case(name="year", duration=3.15e7, **loads))})
    found = assess_tube(design)
    gust, usual, year = ({check.name: float(check.margin) for check in case.checks}
                         for case in found.cases)
    for name, margin in usual.items():
        assert year[name] <= margin + 1e-9
        assert gust[name] == pytest.approx(margin, rel=0.2)
    assert year["column buckling"] < usual["column buckling"] - 0.1
    # Vibration is short: the modulus of a short test, whatever the load's duration.
    lasting = assess_tube(with_values(design, {"material.load_duration": 3.15e7, "case": ()}))
    assert float(lasting.stiffness.EI) < 0.9 * float(found.stiffness.EI)
    for support, frequency in found.frequencies.items():
        assert float(lasting.frequencies[support]) == pytest.approx(float(frequency), rel=1e-6)


# --- temperature difference, brittle corners, holes ---------------------------------------------


def test_plain_wall_with_a_warm_face(make_design):
    # Timoshenko and Goodier, Theory of Elasticity, thin tube: E alpha dT/(2 (1 - v)) at the faces.
    known = Properties("test", 294.15, 2e9, 0.35, 1000.0, 30e6, expansion=8e-5)
    for difference in (20.0, -20.0):
        case = Case(name="sun", temperature_difference=difference, factor=1.0)
        found = assess_tube(make_design("plain", case=(case,)), known).cases[0]
        assert float(of(found, "strength of the skin").applied) == pytest.approx(
            2e9 * 8e-5 * 20 / (2 * (1 - 0.35)), rel=1e-9)
    with pytest.raises(InputError, match="expansion"):
        assess_tube(make_design("plain", case=(case,)),
                    Properties("test", 294.15, 2e9, 0.35, 1000.0, 30e6))


@pytest.mark.parametrize("pattern", ["isogrid", "orthogrid", "diagonal"])
def test_temperature_stress_balances_and_is_no_relief(make_design, make_properties, pattern):
    from gridshell.tube.strength.thermal_gradient import gradient_stress
    from gridshell.wall.assess import assess_wall

    wall = assess_wall(make_design(pattern), make_properties())
    state = gradient_stress(wall, 30.0, 8e-5)
    mean = (state.skin_rib_side + state.skin_smooth_side) / 2
    total = mean * wall.design.skin.thickness  # no free strain at the skin's middle
    for line, section, rib in zip(wall.grid.families, wall.sections, state.ribs, strict=True):
        # Linear along its height; the force is the stress at the centroid times the area.
        share = section.centroid / section.height
        force = (rib.root + (rib.tip - rib.root) * share) * section.area / line.pitch
        c, s = line.cosine, line.sine
        total = total + force * np.array([c * c, s * s, c * s])
    assert np.abs(total).max() < 1e-9 * np.abs(state.skin_rib_side).max() * 1.5e-3 + 1e-6
    known = Properties("test", 294.15, 2e9, 0.35, 1000.0, 30e6, expansion=8e-5)
    loads = {"compression": 300.0, "moment": 10.0}
    plain, warm, cold = (
        assess_tube(make_design(pattern, case=(Case(
            name="a", temperature_difference=difference, **loads),)), known).cases[0]
        for difference in (0.0, 25.0, -25.0))
    for check in plain.checks:
        assert float(of(warm, check.name).margin) <= float(check.margin) + 1e-12
        assert float(of(cold, check.name).margin) <= float(check.margin) + 1e-12
    assert float(warm.margin) < float(plain.margin) or float(cold.margin) < float(plain.margin)


def test_corners_of_pockets_count_where_the_wall_is_brittle(make_design):
    case = Case(name="a", compression=300.0)
    name = "strength at pocket corners, brittle"

    def found(**known):
        return assess_tube(
            make_design("isogrid", case=(case,), ribs__root_fillet=known.pop("fillet", 1e-3)),
            Properties("test", 250.0, 2e9, 0.35, 1000.0, 30e6, **known)).cases[0]

    warm, cold = found(brittle_temperature=240.0), found(brittle_temperature=260.0)
    assert not any(check.name == name for check in warm.checks)
    skin = float(of(cold, "strength of the skin").applied)
    # Heywood (1952), from memory: skin 1.5, with ribs 6.5, fillet 1 mm.
    ratio = 6.5 / 1.5
    factor = 1 + ((ratio - 1) / (2 * (2.8 * ratio - 2)) * 3.0 / 1.0) ** 0.65
    assert float(of(cold, name).applied) == pytest.approx(factor * skin)
    assert float(of(found(strain_at_break=0.01, fillet=0.0), name).applied) > 2 * factor * skin
    assert not any(c.name == name for c in found(strain_at_break=0.1).checks)


def test_large_holes_lower_general_instability(make_design, make_properties):
    # Starnes (1972, from memory): nothing below a/sqrt(r t) = 0.4, half at 1.
    case = Case(name="a", compression=300.0, moment=3.0)

    def found(*diameters):
        mold = {"cutout": [{"shape": "round", "position": "300 mm", "diameter": f"{d} m"}
                           for d in diameters]}
        return assess_tube(make_design("isogrid", case=(case,), mold=mold if diameters else None),
                           make_properties())

    whole = found()
    size = float(np.sqrt(whole.wall.grid.radius * whole.wall.equivalent.thickness))
    for name in ("general instability in compression", "general instability in bending"):
        base = float(of(whole.cases[0], name).allowable)
        assert float(of(found(0.79 * size).cases[0], name).allowable) == pytest.approx(base)
        holed = of(found(2 * size, 0.5 * size).cases[0], name)
        assert float(holed.allowable) == pytest.approx(base / 2, rel=1e-6)
        assert any("Starnes" in note for note in holed.notes)
