"""The whole result: examples, cases fed back, flexible body, picture, dictionary."""

import dataclasses
import json
import tomllib
from pathlib import Path

import numpy as np
import pytest

from gridshell.define.errors import InputError
from gridshell.define.files.reading import design_from_table, read_design
from gridshell.define.tables.design import with_values
from gridshell.define.tables.joints import read_joints
from gridshell.loads.events import event_forces
from gridshell.loads.flexible import bending_in_flight, body_beam, flexible_body
from gridshell.loads.openings import cut_wall
from gridshell.loads.placed import place_body
from gridshell.loads.run import TubeNumbers, cases_toml, section_loads, tube_numbers, with_cases
from gridshell.report.plots.loads import plot_loads
from gridshell.report.text.loads import loads_json, loads_text, tables
from gridshell.tube.joints.seam import seam_flexibility
from gridshell.tube.strength.cutouts import WallCutout

EXAMPLES = Path(__file__).parents[2] / "examples"


@pytest.fixture(scope="module")
def probe():
    return read_design(EXAMPLES / "sounding-body.toml")


@pytest.fixture(scope="module")
def result(probe):
    return section_loads(probe)


def test_tube_numbers_are_those_of_the_tube(probe):
    from gridshell.tube.assess import assess_tube

    tube, numbers = assess_tube(probe, needed=()), tube_numbers(probe)
    assert numbers.EI == pytest.approx(float(tube.stiffness.EI))
    assert numbers.mass == pytest.approx(float(tube.mass))


def test_every_event_closes(result):
    assert max(found.imbalance for found in result.events) < 1e-9


def test_worst_section_is_the_largest_line_force_in_the_tube(result):
    tube, radius = result.body.tube, result.tube.radius
    for found, worst in zip(result.events, result.worst, strict=True):
        f = found.forces
        inside = (f.position > tube.fore + 1e-9) & (f.position < tube.aft - 1e-9)
        line = np.abs(f.moment) / (np.pi * radius**2) + np.abs(f.compression) / (
            2 * np.pi * radius)
        assert max(worst.edge_compression, worst.edge_tension) == pytest.approx(
            line[inside].max(), rel=1e-2)


def test_envelope_holds_every_event(result):
    for name, (low, high) in result.envelope.items():
        for found in result.events:
            values = getattr(found.forces, name)
            assert np.all(values >= low) and np.all(values <= high)


def test_cases_read_back_from_their_own_text(probe, result):
    written = cases_toml(result.cases, digits=12)
    table = tomllib.loads(written)
    again = design_from_table({
        "title": "t", "material": {"name": "hot-melt-eva"},
        "tube": {"outside_diameter": "98 mm", "length": "900 mm"},
        "skin": {"thickness": "2 mm"}, "ribs": {"pattern": "plain"}, **table,
    })
    assert len(again.case) == len(result.cases)
    for one, two in zip(again.case, result.cases, strict=True):
        for name in ("compression", "moment", "shear", "factor"):
            assert getattr(one, name) == pytest.approx(getattr(two, name))
    fed = with_cases(probe, result.cases)
    assert {case.name for case in fed.case} >= {event.event.name for event in result.events}
    assert len(with_cases(fed, result.cases).case) == len(fed.case)


def test_tension_does_not_hide_the_squeezed_side(result):
    names = [case.name for case in result.cases]
    assert "drogue opens (squeezed)" in names
    squeezed = next(case for case in result.cases if case.name.endswith("(squeezed)"))
    plain = next(case for case in result.cases if case.name == "drogue opens")
    r = result.tube.radius
    assert (squeezed.moment / r + squeezed.compression / 2) > (
        plain.moment / r + plain.compression / 2)


def test_joints_soften_and_cut_outs_too(probe):
    numbers = tube_numbers(probe)
    plain = section_loads(dataclasses.replace(probe, joints=None, mold=None), numbers)
    jointed = section_loads(dataclasses.replace(probe, mold=None), numbers)
    window = WallCutout("rectangle", 0.08, 0.05, 0.45, 0.0, 0.01)
    open_too = section_loads(probe, numbers, cutouts=[window])
    lowest = [one.flexible.frequencies[0] for one in (plain, jointed, open_too)]
    assert lowest[0] > lowest[1] > lowest[2]
    # Not quite: the glued seams slip a little as well.
    assert jointed.flexible.rigid_joint_frequency == pytest.approx(lowest[0], rel=1e-3)
    assert jointed.flexible.rigid_joint_frequency < lowest[0]
    assert lowest[1] < 0.999 * jointed.flexible.rigid_joint_frequency
    assert open_too.cutouts[0].result.factor > 3.0


def test_as_many_joints_as_places_between_sections(probe):
    three = with_values(probe, {"tube.sections": 3})
    found = section_loads(three, tube_numbers(three))
    joints = {one.position for one in found.joints if one.where.startswith("joint")}
    length = float(three.tube.length)
    tube = found.body.tube
    places = [length / 3, 2 * length / 3]
    assert sorted(x - tube.fore for x in joints) == pytest.approx(places)
    for place in places:  # each has a station of its own, where forces step
        assert np.abs(found.body.mass.stations - tube.fore - place).min() < 1e-9


def test_the_wall_round_a_cut_out_has_the_stress_of_the_skin(probe):
    # Ribs of an isogrid hold the skin from contracting, so that it has a little more than E times
    # the strain, up to 1/(1 - v^2) (Hooke's law of plane stress).
    wall = tube_numbers(probe).wall
    cut = cut_wall(wall)
    assert cut.thickness == pytest.approx(1 / float(wall.skin_axial))
    even = float(wall.stretch) / float(wall.modulus)
    assert (1 - float(wall.poisson) ** 2) * even < cut.thickness < 1.01 * even


def test_slip_of_seams_evenly_round_softens_the_body(probe):
    """Seams evenly round slip alike whichever way the tube bends: the sum of sin^2 is n/2."""
    whole = dataclasses.replace(probe, mold=None)
    numbers, joints = tube_numbers(whole), read_joints(probe.joints)
    wall = numbers.seam_wall or numbers.wall
    if joints.seam.thickness is not None:
        wall = dataclasses.replace(wall, thickness=joints.seam.thickness)
    even = np.pi * np.arange(2 * int(probe.tube.segments)) / int(probe.tube.segments)
    added = float(seam_flexibility(joints.bond, wall, joints.seam, even)[0]) / 2
    seamless = with_values(whole, {"tube.segments": 1})
    soft = dataclasses.replace(numbers, GA=1 / (1 / numbers.GA + added))
    found, stiff, expected = (
        section_loads(design, given).flexible.frequencies[0]
        for design, given in ((whole, numbers), (seamless, numbers), (seamless, soft)))
    assert found == pytest.approx(expected, rel=1e-9) and found < stiff * (1 - 1e-7)


def test_seams_of_neighboring_sections_are_turned(probe, result):
    from gridshell.tube.joints.seam import staggered_rotations

    sections, segments = int(probe.tube.sections), int(probe.tube.segments)
    assert len(result.rotations) == sections
    assert result.rotations == pytest.approx(staggered_rotations(sections, segments))


def test_stated_seam_angles_count_from_the_plane_of_bending(probe):
    # V Q/I: the shear flow is largest on the neutral axis and vanishes at the extreme fibers.
    numbers = tube_numbers(probe)

    def shear_use(*angles):
        joints = {**(probe.joints if isinstance(probe.joints, dict) else {})}
        joints["seam"] = {**joints.get("seam", {}),
                          "angles": [f"{angle} deg" for angle in angles]}
        found = section_loads(dataclasses.replace(probe, joints=joints), numbers)
        seams = [one for one in found.joints if one.where.startswith("seams")]
        return max(float(check.applied) for one in seams for check in one.checks)

    assert shear_use(0) != pytest.approx(shear_use(90), rel=1e-3)
    # segments lie evenly round: either way from the plane is the same
    assert shear_use(20) == pytest.approx(shear_use(-20))


def test_joints_between_sections_are_those_of_the_end_land(probe):
    numbers = tube_numbers(probe)
    thick = dataclasses.replace(
        numbers.wall, thickness=3 * numbers.wall.thickness)

    def joint(end_wall):
        found = section_loads(probe, dataclasses.replace(numbers, end_wall=end_wall))
        return min(float(one.margin) for one in found.joints if one.where.startswith("joint"))

    assert joint(thick) > joint(numbers.wall) == joint(None)


def test_stiff_body_flies_as_a_rigid_one(probe):
    numbers = tube_numbers(probe)
    placed = place_body(probe.body, numbers.length, numbers.diameter, numbers.mass)
    stiff = bending_in_flight(placed, body_beam(placed, 1e9, 1e12), 2000.0, 0.1)
    assert stiff.force_ratio == pytest.approx(1.0, abs=1e-5)
    assert stiff.center == pytest.approx(stiff.rigid_center, abs=1e-5)
    soft = bending_in_flight(placed, body_beam(placed, 30.0, 1e4), 2000.0, 0.1)
    # A bent body loses fin lift: the center of pressure moves forward.
    assert soft.center < soft.rigid_center and soft.nose_angle > 0
    # Near divergence the nose angle grows without limit.
    if np.isfinite(soft.divergence):
        near = bending_in_flight(placed, body_beam(placed, 30.0, 1e4), 0.999 * soft.divergence,
                                 0.1)
        assert abs(near.nose_angle) > 50 * soft.nose_angle


def test_mast_leans_as_a_cantilever():
    design = read_design(EXAMPLES / "tide-mast.toml")
    table = {"part": [{"name": "m", "role": "tube"}],
             "event": [{"name": "pull", "kind": "mast", "force": "10 N"}]}
    design = dataclasses.replace(design, body=table)
    numbers = TubeNumbers(2.4, 0.11, 0.054, 3e-9, 900.0, 1e9)
    found = section_loads(design, numbers).flexible.events[0]
    assert found.deflection_most == pytest.approx(10 * 2.4**3 / (3 * 900.0), rel=1e-4)
    assert abs(found.nose_angle) == pytest.approx(10 * 2.4**2 / (2 * 900.0), rel=1e-4)


def test_flexible_shape_sits_on_its_supports(probe, result):
    shape = next(one for one in result.flexible.events if one.name == "carried at two points")
    for place in (0.35, 1.2):
        assert np.interp(place, shape.stations, shape.deflection) == pytest.approx(0, abs=1e-9)


def test_finer_cells_change_nothing(probe):
    numbers = tube_numbers(probe)
    coarse, fine = (place_body(probe.body, numbers.length, numbers.diameter, numbers.mass, n)
                    for n in (60, 240))
    for event in probe.body.event:
        one, two = (np.abs(event_forces(body, event).forces.moment).max()
                    for body in (coarse, fine))
        assert one == pytest.approx(two, rel=5e-3)


def test_text_and_dictionary(result):
    shown = loads_text(result)
    assert "safety code" in shown and "range safety officer" in shown
    assert shown.index("Worst section") < shown.index("The body")
    assert tables(result)[0][2][0][0] == result.events[result.governing].event.name
    found = json.loads(json.dumps(loads_json(result), allow_nan=False))
    assert len(found["stations"]) == len(found["events"][0]["moment"])
    assert found["cases"][0]["compression"] == pytest.approx(result.cases[0].compression)


def test_picture_is_written_whole_or_not_at_all(result, tmp_path):
    plot_loads(result, tmp_path / "a.png")
    assert (tmp_path / "a.png").read_bytes().startswith(b"\x89PNG")
    with pytest.raises(InputError, match="is not a picture"):
        plot_loads(result, tmp_path / "a.xyz")
    with pytest.raises(InputError):
        plot_loads(result, tmp_path / "missing" / "a.png")
    assert [entry.name for entry in tmp_path.iterdir()] == ["a.png"]


def test_no_events_is_said_plainly(probe):
    body = dataclasses.replace(probe.body, event=())
    with pytest.raises(InputError, match="at least one"):
        section_loads(dataclasses.replace(probe, body=body))


def test_flexible_body_without_events():
    from gridshell.define.tables.body import read_body

    body = place_body(read_body({"part": [{"name": "t", "role": "tube"}]}), 1.0, 0.1, 2.0)
    lowest = flexible_body(body, (), 50.0, np.inf).frequencies[0]
    assert lowest == pytest.approx(4.73004074**2 / (2 * np.pi) * np.sqrt(50.0 / 2.0), rel=1e-4)


def test_a_head_far_above_the_tube_makes_a_longer_column():
    # A rigid pole of length a with a weight P on its top, on a cantilever L: k a tan(k L) = 1,
    # k^2 = P/(E I) (statics of the bent cantilever, Timoshenko and Gere, chapter 2).
    from scipy.optimize import brentq

    from gridshell.report import verdict
    from gridshell.tube.assess import assess_tube

    design = read_design(EXAMPLES / "tide-mast.toml")
    head, mast = design.body.part
    gale = dataclasses.replace(design.body.event[0], wind_speed=1.0)

    def run(mass):
        body = dataclasses.replace(
            design.body, part=(dataclasses.replace(head, length=6.0, mass=mass), mast),
            event=(gale,))
        return section_loads(dataclasses.replace(design, body=body))

    light, heavy = run(30.0), run(400.0)
    L, EI = float(design.tube.length), light.tube.EI
    wave = brentq(lambda x: x * 3.0 / L * np.tan(x) - 1, 0.1, 1.5) / L  # its weight acts half-way
    case, event = light.cases[0], light.flexible.events[0]
    assert event.column_factor * 30 * 9.81 * 1.4 == pytest.approx(wave**2 * EI, rel=0.25)
    assert float(case.moment) > 1.2 * light.worst[0].moment
    found = verdict.events_finding(assess_tube(design), heavy)
    assert found.word == verdict.FAILS
