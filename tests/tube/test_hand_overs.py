"""What one table, case or command hands to the next must not turn an answer to the unsafe side.

Sources beside the checks; a rule without one is plain logic: the same loads, the same margin.
"""

from __future__ import annotations

import dataclasses

import numpy as np
import pytest

from gridshell.define.errors import InputError
from gridshell.define.tables.design import Case, Tube, with_values
from gridshell.define.tables.joints import EndJoint, Joints
from gridshell.define.tables.mold import Cutout, Mold
from gridshell.loads.openings import cut_wall
from gridshell.material.properties import Properties
from gridshell.tube.assess import assess_tube
from gridshell.tube.joints.line_forces import joint_wall

COLUMN = {"tube__outside_diameter": 0.06, "tube__length": 0.96, "skin__thickness": 5e-4}


def checks_of(result, case=0):
    return {check.name: check for check in result.cases[case].checks}


def test_shear_of_a_bowed_column_counts_without_a_torque(make_design, make_properties):
    # V = dM/dx: the axial force shears a bowed tube (Timoshenko and Gere, chapter 1), whether
    # somebody states a torque of nothing, or another case one of its own, or not.
    design, known = make_design("plain", **COLUMN), make_properties(modulus=3e9, strength=60e6)
    alone = Case(name="a", compression=750.0)
    found = {
        name: checks_of(assess_tube(with_values(design, {"case": cases}), known))
        for name, cases in (
            ("alone", (alone,)),
            ("torque", (dataclasses.replace(alone, torque=1e-9),)),
            ("other", (alone, Case(name="b", torque=1.0))),
        )
    }
    for checks in found.values():
        for name, check in found["torque"].items():
            assert float(checks[name].margin) == pytest.approx(float(check.margin), abs=1e-6)
    assert float(found["alone"]["general instability in torsion and shear"].applied) > 0


@pytest.mark.parametrize("change", [
    {"moment": -5.0}, {"shear": -5.0}, {"torque": -5.0}, {"transverse": -5.0}, {"duration": -1.0},
    {"factor": 0.0}, {"temperature_difference": 1e9}, {"support": "cantilevr"},
])
def test_what_no_file_may_state_is_refused_from_python(make_design, change):
    # A moment of -5 N m was no moment, a support that is none was two pins.
    case = Case(name="a", **{"support": "cantilever", "compression": 1.0, **change})
    design = make_design("plain", case=(case,))
    with pytest.raises(InputError, match=rf"case\[1\]\.{next(iter(change))}"):
        assess_tube(design)


@pytest.mark.parametrize("path, value", [
    ("material.poisson", 0.7), ("material.creep_factor", 2.0), ("tube.ends", "clampd"),
    ("material.strength", -1.0), ("joints", Joints(end=EndJoint(ring_modulus=0.0))),
])
def test_nor_are_such_properties(make_design, path, value):
    with pytest.raises(InputError, match=path):
        assess_tube(make_design("plain", case=(Case(name="a", compression=1.0),), **{
            path.replace(".", "__"): value}))


def test_in_arrays_such_loads_are_no_pass(make_design):
    case = Case(name="a", compression=1.0, moment=np.array([0.0, 5.0, -5.0, np.nan, 1e13]))
    margin = np.asarray(assess_tube(make_design("plain", case=(case,))).margin)
    assert np.isnan(margin).tolist() == [False, False, True, True, True]


def test_a_duration_is_the_same_at_the_material_and_at_the_case(make_design):
    # Polymer that keeps 0.3 of its modulus, warm on one face: E alpha dT/(2 (1 - v)) with the
    # modulus of a short test (Timoshenko and Goodier, Theory of Elasticity, thin tube).
    lasts = {"material__creep_factor": 0.3, "material__strength_per_decade": 0.95,
             "material__properties": {"expansion": "1e-4 1/K"}}
    for wall in ("plain", "orthogrid"):
        loads = {"compression": 50.0, "temperature_difference": 30.0}
        for short, long in ((10.0, 1e8), (1e8, 10.0)):
            own = assess_tube(make_design(wall, **lasts, material__load_duration=long, case=(
                Case(name="a", duration=short, **loads),)))
            same = assess_tube(make_design(wall, **lasts, material__load_duration=short, case=(
                Case(name="a", **loads),)))
            for name, check in checks_of(same).items():
                assert float(checks_of(own)[name].margin) == pytest.approx(
                    float(check.margin), rel=1e-6), (wall, short, name)
    alone = with_values(own.design, {"case": (Case(name="a", temperature_difference=30.0),),
                                     "ribs": make_design("plain").ribs})
    assert float(checks_of(assess_tube(alone))["strength of the skin"].applied) == pytest.approx(
        2e9 * 1e-4 * 30 / (2 * (1 - 0.35)), rel=1e-9)


def test_relief_of_pockets_is_not_multiplied_by_the_factor(make_design, make_properties):
    # NASA/SP-8007-2020/REV 2, 3.0: a load that relieves is not multiplied by the design factor.
    design = make_design("orthogrid", skin__thickness=4e-4, tube__straightness=0.0)
    known = make_properties()

    def use(**loads):
        case = Case(name="a", pressure_on_ends=False, **loads)
        check = checks_of(assess_tube(with_values(design, {"case": (case,)}), known))[
            "skin pocket buckling"]
        return 1 / (1 + float(check.margin))

    once = use(compression=2000.0, pressure=-5e3, factor=1.0)
    assert use(compression=1000.0, pressure=-5e3, factor=2.0) == pytest.approx(once, rel=1e-9)
    assert once < use(compression=2000.0, factor=1.0)


@pytest.mark.parametrize("wall", ["plain", "isogrid", "orthogrid"])
def test_wall_round_a_hole_carries_no_more_than_it_has(make_design, make_properties, wall):
    # Mean stress of a thin plain tube, N/t (statics); ribs square to each other carry no shear.
    built = assess_tube(make_design(wall), make_properties()).wall
    round_it, thickness = joint_wall(built, 1.0), built.design.skin.thickness
    if wall == "plain":
        assert cut_wall(round_it).thickness == pytest.approx(thickness, rel=1e-9)
    if wall != "isogrid":
        assert float(round_it.skin_shear) == pytest.approx(1 / thickness, rel=1e-9)
    assert 1.0 / thickness >= float(round_it.skin_axial) * (1 - 1e-9)


def test_stress_beside_a_cutout_is_checked_in_every_case(make_design, make_properties):
    # Kirsch (1898): three times N/t beside a round hole under a pull, four times the shear.
    hole = Mold(cutout=(Cutout(name="inlet", shape="round", diameter=0.01, position=0.3,
                               angle=0.7),))
    design = make_design("plain", mold=hole, tube__segments=2, tube__straightness=0.0)
    thickness, radius = 1.5e-3, float(design.skin_radius)
    for loads, stress in (
        ({"compression": 900.0}, 3 * 900 / (2 * np.pi * radius * thickness)),
        ({"compression": -900.0}, 3 * 900 / (2 * np.pi * radius * thickness)),
        ({"torque": 20.0}, 4 * 20 / (2 * np.pi * radius**2 * thickness)),
        ({"moment": 20.0}, 3 * 20 / (np.pi * radius**2 * thickness)),
    ):
        case = Case(name="a", factor=1.5, **loads)
        check = checks_of(assess_tube(
            with_values(design, {"case": (case,)}), make_properties()))["strength beside cut-outs"]
        assert float(check.applied) == pytest.approx(stress, rel=1e-3)
        assert float(check.margin) == pytest.approx(30e6 / (1.5 * stress) - 1, rel=1e-3)


def test_play_of_joints_bows_the_tube(make_design, make_properties):
    # Geometry: one joint at mid-height of a mast leans by c/(2 r), the tip by that times L/2.
    free = Joints(end=EndJoint(clearance=1e-3))
    loads = {"support": "cantilever", "transverse": 5.0, "compression": 500.0}
    tight, loose = (
        assess_tube(make_design("plain", tube__sections=2, tube__length=2.0, joints=joints, case=(
            Case(name="a", **loads),)), make_properties()).cases[0]
        for joints in (Joints(), free))
    lean = 1e-3 / (2 * float(make_design("plain").skin_radius)) * 1.0
    assert float(loose.beam.deflection - tight.beam.deflection) > lean
    grown = 1 / (1 - 700.0 / float(next(
        check.allowable for check in tight.checks if check.name == "column buckling")))
    assert float(loose.moment - tight.moment) == pytest.approx(500.0 * lean * grown, rel=1e-6)


def test_drawn_moduli_move_the_modulus_of_a_short_test_too(make_design):
    from gridshell.study.scatter.samples import RandomInput, sampled_designs

    known = Properties("test", 294.15, 1e9, 0.35, 1000.0, 30e6, short_time_modulus=2e9)
    _, drawn = sampled_designs(make_design("plain"), known, (
        RandomInput("material.modulus", "bounds", 1e9, 1e8),), np.array([[0.9e9], [1.1e9]]))
    assert np.asarray(drawn.quick_share) == pytest.approx([2.0, 2.0])


def test_seams_flatten_by_the_stiffness_that_bends_the_tube(make_design, make_properties):
    # EI = pi R^3 times the axial stiffness of a wall free to contract (Timoshenko, Strength of
    # Materials).
    built = assess_tube(make_design("plain", tube=Tube(0.2, 0.6)), make_properties())
    stretch = float(joint_wall(built.wall, built.stiffness.EI).stretch)
    assert stretch == pytest.approx(2e9 * 1.5e-3, rel=1e-9)


def test_a_lap_shorter_than_its_wall_is_said_to_be_outside_of_theory(make_design, make_properties):
    from gridshell.report.verdict import CAUTION, range_finding
    from gridshell.tube.joints.lap import SHORT_LAP

    for engagement, short in ((5e-4, True), (2e-2, False)):
        design = make_design("plain", tube__sections=2, joints=Joints(
            end=EndJoint(kind="sleeve", engagement=engagement)),
            case=(Case(name="a", moment=5.0),))
        found = assess_tube(design, make_properties())
        notes = [note for check in found.cases[0].checks for note in check.notes]
        assert (SHORT_LAP in notes) == short
        assert (range_finding(found) is not None and range_finding(found).word == CAUTION) == short


def test_notes_of_an_unsafe_formula_are_a_caution_until_the_margin_is_ample(
    make_design, make_properties
):
    from gridshell.report.verdict import range_finding

    def finding(compression):
        design = make_design("isogrid", ribs__height=0.02, ribs__width=4e-3, ribs__spacing=0.06,
                             case=(Case(name="a", compression=compression),))
        return range_finding(assess_tube(design, make_properties()))

    assert "deeper than" in finding(2e5).reason  # 21 % high in such walls, says the note
    assert "deeper than" not in getattr(finding(1.0), "reason", "")
