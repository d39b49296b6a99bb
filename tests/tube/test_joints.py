"""Lap theory against its own differential equations, seams and joints against hand calculation."""

import numpy as np
import pytest
from scipy.integrate import solve_bvp

from gridshell.define.errors import DefinitionError
from gridshell.define.tables.joints import Bond, EndJoint, Seam, read_joints
from gridshell.tube.joints.end import (
    bolt_flexibility,
    end_checks,
    end_compliance,
    joint_rotation,
    play_angle,
)
from gridshell.tube.joints.lap import (
    Overlap,
    SingleLap,
    edge_peel,
    goland_reissner_shear,
    moment_factor,
    single_lap,
    volkersen_compliance,
    volkersen_peak,
    volkersen_shear,
)
from gridshell.tube.joints.line_forces import (
    JointWall,
    SectionLoads,
    bending_shear_flow,
    edge_line_forces,
    torsion_shear_flow,
)
from gridshell.tube.joints.seam import (
    best_seam_rotation,
    ovalizing_moment,
    seam_checks,
    seam_flexibility,
    staggered_rotations,
)

WALL = JointWall(0.05, 0.006, 2e9, 1 / 3, 30e6, 8e6, 3000.0)
GLUE = Bond(thickness=2e-4, modulus=1e9, shear_strength=10e6, peel_strength=8e6)


# Unequal pieces: E1 t1, E2 t2, overlap, G, eta.
@pytest.mark.parametrize("joint", [(4e6, 9e6, 0.03, 3e8, 2e-4), (2e7, 2e6, 0.05, 2e7, 5e-4)])
def test_volkersen_solves_its_equation(joint):
    one, two, overlap, shear, eta = joint
    force = 5e3

    def rates(x, y):  # force in piece one, slip u2 - u1
        tau = shear / eta * y[1]
        return np.stack([-tau, (force - y[0]) / two - y[0] / one])

    def ends(a, b):
        return np.array([a[0] - force, b[0]])

    x = np.linspace(-overlap / 2, overlap / 2, 201)
    # Signs: piece one carries all at -l/2, so its points move towards the load.
    solved = solve_bvp(rates, ends, x, np.zeros((2, 201)), tol=1e-8, max_nodes=20000)
    tau = shear / eta * solved.sol(x)[1]
    lap = Overlap(overlap, one, two, shear, eta)
    assert volkersen_shear(lap, force, x) == pytest.approx(tau, rel=1e-4)
    stretch = np.trapezoid(solved.sol(x)[0] / one, x) + solved.sol(x)[1][-1]
    assert volkersen_compliance(lap) == pytest.approx(stretch / force, rel=1e-4)


def test_volkersen_carries_the_whole_load_and_turns_round():
    x = np.linspace(-0.02, 0.02, 4001)
    tau = volkersen_shear(Overlap(0.04, 3e6, 8e6, 2e8, 3e-4), 700.0, x)
    assert np.trapezoid(tau, x) == pytest.approx(700.0, rel=1e-4)
    turned = volkersen_shear(Overlap(0.04, 8e6, 3e6, 2e8, 3e-4), 700.0, -x)
    assert turned == pytest.approx(tau)
    same = [volkersen_compliance(Overlap(0.04, *pair, 2e8, 3e-4))
            for pair in ((3e6, 8e6), (8e6, 3e6))]
    assert same[0] == pytest.approx(same[1])


def test_long_overlap_does_not_overflow():
    assert np.isfinite(volkersen_peak(Overlap(100.0, 1e5, 2e5, 1e9, 1e-6), 1.0))
    assert np.isfinite(edge_peel(SingleLap(1e-4, 1e9, 10.0, 1e9, 1e9, 1e-6), 1.0, 1.0))


def test_goland_and_reissner_limits():
    # Their figure: k from 1 down to 0.26 (1944).
    lap = SingleLap(2e-3, 7e10, 0.03, 3e9, 1e9, 2e-4)
    k = moment_factor(lap, np.array([0.0, 1e3, 1e5, 1e9]))
    assert np.all(np.diff(k) < 0) and k[0] == 1 and k[-1] == pytest.approx(0.2612, abs=1e-3)
    # With k = 1 their shear is Volkersen's with bending of the pieces, four times E t as soft.
    shear = goland_reissner_shear(lap, 1e4, 1.0)
    volkersen = volkersen_peak(
        Overlap(0.03, 7e10 * 2e-3 / 4, 7e10 * 2e-3 / 4, 1e9, 2e-4), 1e4)
    assert shear == pytest.approx(volkersen)


@pytest.mark.parametrize("overlap", [0.0015, 0.012])
def test_edge_peel_solves_its_equation(overlap):
    t, E, Eb, eta = 2e-3, 3e9, 1.2e9, 2e-4
    moment, shear = 3.0, 250.0
    plate = E * t**3 / 12  # the published rate leaves out 1 - v^2
    c = overlap / 2
    bed = Eb / eta

    # Two plates: upper loaded at +c side, lower at -c; y = opening and three derivatives, even.
    def rates(x, y):
        return np.stack([y[1] * c, y[2] * c, y[3] * c, -2 * bed / plate * y[0] * c])

    def ends(a, b):
        return np.array([a[1], a[3], b[2] - moment / plate, b[3] - shear / plate])

    x = np.linspace(0, 1, 60)
    solved = solve_bvp(rates, ends, x, np.zeros((4, 60)), tol=1e-5)
    peel = abs(bed * solved.sol(1.0)[0])
    # Moment and shear open the edge together in the lap, so their parts add.
    lap = SingleLap(t, E, overlap, Eb, Eb / 2.8, eta)
    parts = [abs(edge_peel(lap, m, v)) for m, v in ((moment, 0), (0, shear))]
    only_moment = solve_bvp(
        rates, lambda a, b: np.array([a[1], a[3], b[2] - moment / plate, b[3]]), x,
        np.zeros((4, 60)), tol=1e-5)
    only_shear = solve_bvp(
        rates, lambda a, b: np.array([a[1], a[3], b[2], b[3] - shear / plate]), x,
        np.zeros((4, 60)), tol=1e-5)
    assert parts[0] == pytest.approx(abs(bed * only_moment.sol(1.0)[0]), rel=1e-3)
    assert parts[1] == pytest.approx(abs(bed * only_shear.sol(1.0)[0]), rel=1e-3)
    assert peel <= sum(parts) * (1 + 1e-6)
    assert edge_peel(lap, moment, shear) == pytest.approx(sum(parts))


def test_single_lap_puts_it_together():
    lap = SingleLap(2e-3, 7e10, 0.025, 3e9, 1.1e9, 2e-4)
    shear, peel, k = single_lap(lap, 2e4, extra_moment=4.0)
    assert 0.26 < k < 1
    assert shear > 2e4 / 0.025
    assert peel > single_lap(lap, 2e4)[1] > 0


def test_shear_flow_is_vq_over_i():
    angle = np.radians(50)
    # Q of the cap above the cut, by integration round a thin ring: r^2 t sin(angle) 2 -> both cuts.
    cap = np.linspace(-angle, angle, 20001)
    Q = np.trapezoid(0.05 * np.cos(cap) * 0.05, cap)
    expected = 90.0 * Q / (np.pi * 0.05**3) / 2
    assert bending_shear_flow(90.0, angle, 0.05) == pytest.approx(expected, rel=1e-6)
    round_it = np.linspace(0, 2 * np.pi, 20001)
    lift = bending_shear_flow(90.0, round_it, 0.05) * np.abs(np.sin(round_it)) * 0.05
    assert np.trapezoid(lift, round_it) == pytest.approx(90.0, rel=1e-6)


def test_torsion_flow():
    assert torsion_shear_flow(12.0, 0.05) * 2 * np.pi * 0.05**2 == pytest.approx(12.0)


def test_ovalizing_moment_balances_braziers_pressure():
    # Ring equation for inextensional bending under the crushing load f = A C^2 r |cos| towards the
    # neutral plane; with y = r cos t, the load per arc f(t) acts along y. Moment by statics of a
    # quarter ring, with the redundant moment from zero rotation at the top.
    r, A, C = 0.05, 8e6, 0.4
    t = np.linspace(0, np.pi / 2, 4001)  # from the extreme fiber
    f = A * C**2 * r * np.cos(t)
    # Force along y ahead of t, and its moment about t (x = r sin t).
    moment = np.array([
        np.trapezoid(f[: i + 1] * r * (r * np.sin(t[i]) - r * np.sin(t[: i + 1])), t[: i + 1])
        for i in range(0, 4001, 40)
    ])
    quarter = t[::40]
    # Thrust at the top is zero by symmetry of the load; the mean moment is taken out.
    moment = moment - np.trapezoid(moment, quarter) / (np.pi / 2)
    expected = ovalizing_moment(C * 3000.0, 3000.0, A, r, quarter)
    assert moment == pytest.approx(-expected, abs=2e-3 * np.abs(expected).max())


def test_butt_seam_by_hand():
    loads = SectionLoads(moment=20.0, shear=300.0, torque=4.0, pressure=-1e5, hoop_moment=2.0,
                         factor=1.5)
    shear, peel, both = seam_checks(Seam(), GLUE, WALL, loads, np.pi / 2)
    flow = 300 / (np.pi * 0.05) + 4 / (2 * np.pi * 0.05**2)
    assert shear.applied == pytest.approx(flow / 0.006)
    m = 8e6 * 0.05**3 * (20 / 3000) ** 2 / 4 + 2.0
    assert peel.applied == pytest.approx(1e5 * 0.05 / 0.006 + 6 * m / 0.006**2)
    assert both.applied == pytest.approx(np.hypot(shear.applied / 10e6, peel.applied / 8e6))
    assert shear.margin == pytest.approx(10e6 / (1.5 * shear.applied) - 1)


def test_lap_and_strip_seams_concentrate_stress():
    loads = SectionLoads(shear=300.0, pressure=-1e5)
    for seam in (Seam(kind="lap", overlap=0.012),
                 Seam(kind="strip", overlap=0.012, strip_thickness=0.003)):
        shear, peel, _ = seam_checks(seam, GLUE, WALL, loads, np.pi / 2)
        mean = np.hypot(300 / (np.pi * 0.05), 1e5 * 0.05) / 0.012
        assert shear.applied > mean and peel.applied > 0
        fused = seam_checks(seam, Bond(), WALL, loads, np.pi / 2)[0]
        assert fused.applied == pytest.approx(mean)
        assert any("fused" in note for note in fused.notes)
    outside = seam_checks(Seam(kind="lap", overlap=0.012), GLUE, WALL,
                          SectionLoads(pressure=1e5), 0.0)
    assert outside[1].applied == 0 and any("closes" in note for note in outside[1].notes)


def test_fused_overlap_peels_as_a_section_in_bending():
    # 6 (N t/2 + M)/l^2 on the length of the overlap; N t/2 is the moment of the step.
    loads = SectionLoads(moment=20.0, pressure=-1e5, hoop_moment=2.0)
    peel = seam_checks(Seam(kind="lap", overlap=0.012), Bond(), WALL, loads, np.pi / 2)[1]
    m = 8e6 * 0.05**3 * (20 / 3000) ** 2 / 4 + 2.0
    assert peel.applied == pytest.approx(6 * (1e5 * 0.05 * 0.006 / 2 + m) / 0.012**2)


def test_flattening_note():
    soft = JointWall(0.05, 0.006, 2e9, 1 / 3, 30e6, 8e6, 3000.0, hoop_bending=10.0)
    checks = seam_checks(Seam(), GLUE, soft, SectionLoads(moment=2000.0), 0.0)
    assert any("flattens" in note for note in checks[0].notes)


def test_best_rotation():
    # Shear alone: the seams belong in the bending plane, where V Q/I vanishes.
    angle, best, worst = best_seam_rotation(Seam(), GLUE, WALL, SectionLoads(shear=500.0), 2)
    assert angle == pytest.approx(0.0) and best > 1e3 * worst > 0
    # Flattening alone: 45 deg off it, where the hoop moment changes sign.
    angle, best, worst = best_seam_rotation(Seam(), GLUE, WALL, SectionLoads(moment=300.0), 2)
    assert np.degrees(angle) % 90 == pytest.approx(45.0) and best > worst
    assert np.degrees(staggered_rotations(4, 3)).tolist() == pytest.approx([0, 60, 0, 60])


def test_edge_line_forces():
    tension, squeeze, flow = edge_line_forces(
        SectionLoads(compression=100.0, moment=5.0, shear=20.0), 0.05)
    assert squeeze - tension == pytest.approx(100 / (np.pi * 0.05))
    assert squeeze == pytest.approx(100 / (2 * np.pi * 0.05) + 5 / (np.pi * 0.05**2))
    assert flow == pytest.approx(20 / (np.pi * 0.05))


def test_joint_rotation_is_that_of_a_short_tube():
    # A slice of tube of length l and wall E t opens by c = l/(E t): rotation l/EI, EI = pi r^3 E t.
    assert joint_rotation(0.01 / 8e6, 0.05) == pytest.approx(0.01 / (np.pi * 0.05**3 * 8e6))
    assert play_angle(1e-4, 0.05) == pytest.approx(1e-3)


def test_butt_joint():
    end = EndJoint()
    assert end_compliance(end, GLUE, WALL) == pytest.approx(2e-4 / (1e9 * 0.006))
    assert end_compliance(end, Bond(), WALL) == 0
    tension, _ = end_checks(end, GLUE, WALL, SectionLoads(moment=30.0, factor=1.0))
    assert tension.applied == pytest.approx(30 / (np.pi * 0.05**2) / 0.006)
    assert tension.margin == pytest.approx(8e6 / tension.applied - 1)
    closed, _ = end_checks(end, GLUE, WALL, SectionLoads(compression=5e4))
    assert np.isinf(closed.margin) and any("compression" in note for note in closed.notes)


def test_sleeve_joint_is_two_laps():
    end = EndJoint(kind="sleeve", engagement=0.02, ring_thickness=0.002)
    soft = Bond(thickness=2e-4, modulus=5e6)
    lap = volkersen_compliance(Overlap(0.02, 2e9 * 0.006, 2e9 * 0.002, 5e6 / 2.8, 2e-4))
    assert end_compliance(end, soft, WALL) == pytest.approx(2 * lap - 2 * 0.02 / (2e9 * 0.006))
    # A stiff bond makes the overlap stiffer than the plain wall; no credit is taken for that.
    assert end_compliance(end, GLUE, WALL) == 0
    checks = end_checks(end, GLUE, WALL, SectionLoads(moment=30.0))
    assert [check.name for check in checks] == ["joint shear", "joint peel", "joint shear and peel"]
    shear, peel, both = checks
    assert both.applied == pytest.approx(
        np.hypot(shear.applied / shear.allowable, peel.applied / peel.allowable))


def test_bolted_ring_by_hand():
    end = EndJoint(kind="inner-ring", engagement=0.03, ring_thickness=0.004, held_by="bolts",
                   bolts=8, bolt_diameter=0.004)
    loads = SectionLoads(compression=400.0, moment=30.0, factor=1.0)
    bearing, bolt, out, net = end_checks(end, GLUE, WALL, loads)
    # P/n + 2 M/(n r): the usual share of a ring of fasteners.
    force = 400 / 8 + 2 * 30 / (8 * 0.05)
    assert bearing.applied == pytest.approx(force / (0.004 * 0.004))
    assert bolt.applied == pytest.approx(force / (np.pi / 4 * 0.004**2))
    assert out.applied == pytest.approx(force / (2 * 0.015 * 0.004))
    pitch = 2 * np.pi * 0.05 / 8
    assert net.applied == pytest.approx(force / pitch / (0.006 * (1 - 0.004 / pitch)))
    one = bolt_flexibility(diameter=0.004, bolt_modulus=200e9, thickness_one=0.006,
                           modulus_one=2e9, thickness_two=0.004, modulus_two=2e9)
    assert end_compliance(end, GLUE, WALL) == pytest.approx(2 * one * pitch)
    # Bearing in the soft walls is nearly all of it.
    assert one == pytest.approx(1 / (2e9 * 0.006) + 1 / (2e9 * 0.004), rel=0.15)


def test_a_bolt_does_not_know_which_plate_comes_first():
    one = bolt_flexibility(diameter=0.004, bolt_modulus=70e9, thickness_one=0.006,
                           modulus_one=60e9, thickness_two=0.002, modulus_two=90e9)
    other = bolt_flexibility(diameter=0.004, bolt_modulus=70e9, thickness_one=0.002,
                             modulus_one=90e9, thickness_two=0.006, modulus_two=60e9)
    assert one == pytest.approx(other, rel=1e-12)


def test_seam_slip_adds_shear_flexibility():
    GA, GJ = seam_flexibility(GLUE, WALL, Seam(), np.array([np.pi / 2, -np.pi / 2]))
    slip = 2e-4 / (1e9 / 2.8 * 0.006)
    assert GA == pytest.approx(2 / (np.pi * 0.05) ** 2 * slip)
    assert GJ == pytest.approx(2 * slip / (2 * np.pi * 0.05**2) ** 2)
    assert seam_flexibility(Bond(), WALL, Seam(), np.zeros(2)) == (0.0, 0.0)


@pytest.mark.parametrize(("table", "words"), [
    ({"seam": {"kind": "lap"}}, "overlap: missing"),
    ({"seam": {"kind": "lap", "overlap": "9 mm", "strip_thickness": "1 mm"}}, "'strip' only"),
    ({"end": {"kind": "sleeve"}}, "engagement: missing"),
    ({"end": {"held_by": "bolts"}}, "no ring to bolt to"),
    ({"end": {"kind": "sleeve", "engagement": "9 mm", "held_by": "bolts"}}, "too few"),
    ({"bond": {"thickness": "0.2 mm"}}, "modulus: missing"),
    ({"bonds": {}}, "did you mean 'bond'"),
])
def test_refusals(table, words):
    with pytest.raises(DefinitionError, match=words):
        read_joints(table)


def test_no_table_is_fused_butt_joints():
    joints = read_joints(None)
    assert joints.bond.thickness == 0 and joints.seam.kind == joints.end.kind == "butt"
