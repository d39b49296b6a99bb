"""Each kind of event against hand calculation on a plain body, and the words of every refusal."""

import numpy as np
import pytest

from gridshell.define.errors import DefinitionError, InputError
from gridshell.define.tables.body import read_body
from gridshell.loads.events import GRAVITY, OPENING_FACTOR, event_forces
from gridshell.loads.placed import place_body

TUBE = {"name": "tube", "role": "tube"}
LENGTH, MASS, DIAMETER = 2.0, 3.0, 0.1


def run(event, parts=(TUBE,)):
    body = read_body({"part": list(parts), "event": [{"name": "e", **event}]})
    placed = place_body(body, LENGTH, DIAMETER, MASS)
    return placed, event_forces(placed, body.event[0])


def at(found, name, x):
    """Value just ahead of x."""
    index = np.searchsorted(found.forces.position, x - 1e-9)
    return float(getattr(found.forces, name)[index])


def test_boost_with_drag_at_the_nose():
    # Thrust T and drag D: compression D + (T - D) x/L along an even body.
    _, found = run({"kind": "boost", "thrust": "60 N", "drag": "10 N"})
    assert at(found, "compression", 1.0) == pytest.approx(10 + 50 * 0.5)
    assert found.facts["acceleration along"][0] == pytest.approx(50 / MASS)
    assert found.imbalance < 1e-12
    assert np.abs(found.forces.moment).max() == pytest.approx(0.0, abs=1e-12)


def test_spread_drag():
    _, found = run({"kind": "boost", "thrust": "10 N", "drag_coefficient": 0.6, "speed": "50 m/s",
                    "drag_at_nose": 0.0})
    drag = 0.5 * 1.225 * 50**2 * 0.6 * np.pi / 4 * DIAMETER**2
    assert found.facts["drag"][0] == pytest.approx(drag)
    assert at(found, "compression", 1.0) == pytest.approx(10 / 2)  # spread drag as spread mass


def test_crooked_thrust_is_an_end_couple_and_an_end_push():
    # Offset only: couple T e at the tail of a free bar, M = T e x^2 (3 - 2 x), x from the nose.
    _, found = run({"kind": "boost", "thrust": "100 N", "thrust_offset": "2 mm"})
    assert abs(at(found, "moment", 1.0)) == pytest.approx(0.2 * 0.5**2 * 2, rel=1e-4)
    assert abs(at(found, "moment", 2.0)) == pytest.approx(0.2, rel=1e-3)


def test_gust_carries_the_normal_force_of_the_body():
    nose = {"name": "nose", "shape": "cone", "length": "300 mm", "mass": "200 g"}
    tail = {"name": "tail", "length": "300 mm", "mass": "500 g", "fins": {
        "count": 4, "root_chord": "150 mm", "tip_chord": "80 mm", "span": "90 mm",
        "sweep": "70 mm"}}
    placed, found = run({"kind": "gust", "speed": "80 m/s", "angle_of_attack": "4 deg",
                         "crossflow_coefficient": 0.0}, (nose, TUBE, tail))
    slope, center = placed.normal_force(80 / 340.3)
    lift = 0.5 * 1.225 * 80**2 * placed.reference_area * slope * np.radians(4)
    mass, cg = placed.mass.total, placed.mass.center
    assert found.facts["acceleration across"][0] == pytest.approx(lift / mass)
    expected = lift * (center - cg) / placed.mass.inertia_about(cg)
    assert found.facts["angular acceleration"][0] == pytest.approx(expected)
    assert found.imbalance < 1e-12 and not found.notes


def test_gust_notes_say_when_the_method_gives_out():
    nose = {"name": "nose", "shape": "ogive", "length": "300 mm", "mass": "10 g"}
    _, found = run({"kind": "gust", "speed": "320 m/s", "angle_of_attack": "12 deg"}, (nose, TUBE))
    text = " ".join(found.notes)
    assert "beyond the small angles" in text and "Mach 0.94" in text and "unstable" in text


def test_rail_in_wind_is_a_beam_on_two_guides():
    _, found = run({"kind": "rail", "thrust": "0 N", "supports": ["0 mm", "2000 mm"],
                    "wind_speed": "10 m/s", "elevation": "90 deg", "crossflow_coefficient": 1.0})
    line = 0.5 * 1.225 * 100 * DIAMETER
    assert np.abs(found.forces.moment).max() == pytest.approx(line * LENGTH**2 / 8)
    assert abs(found.facts["aft support"][0]) == pytest.approx(line * LENGTH / 2)


def test_tube_launch_pushes_with_pressure_on_the_bore():
    _, found = run({"kind": "tube-launch", "pressure": "200 kPa", "bore_diameter": "90 mm",
                    "supports": ["1000 mm", "2000 mm"], "wind_speed": "8 m/s"})
    assert at(found, "compression", 2.0) == pytest.approx(2e5 * np.pi / 4 * 0.09**2, rel=1e-2)
    # Only what stands out of the muzzle sees wind: a cantilever of 1 m there.
    line = 0.5 * 1.225 * 64 * 1.2 * DIAMETER
    assert np.abs(found.forces.moment).max() == pytest.approx(line / 2, rel=1e-3)
    assert abs(found.facts["aft support"][0]) == pytest.approx(line / 2, rel=1e-3)


@pytest.mark.parametrize("kind", ["rail", "tube-launch"])
def test_a_slanting_rail_takes_its_share_of_the_weight(kind):
    push = {"rail": {"thrust": "60 N"},
            "tube-launch": {"pressure": "10 kPa", "bore_diameter": "90 mm"}}[kind]
    force = 60.0 if kind == "rail" else 1e4 * np.pi / 4 * 0.09**2
    _, found = run({"kind": kind, **push, "supports": ["0 mm", "2000 mm"], "elevation": "30 deg"})
    weight = MASS * 9.80665  # ISO 80000-3
    assert abs(found.facts["acceleration along"][0]) == pytest.approx(
        (force - weight * np.sin(np.pi / 6)) / MASS)
    across = weight * np.cos(np.pi / 6)
    assert np.abs(found.forces.moment).max() == pytest.approx(across * LENGTH / 8, rel=1e-6)
    assert abs(found.facts["fore support"][0]) == pytest.approx(across / 2)
    # The push acts on the tail and the inertia is spread: half of it is left at mid-length.
    assert at(found, "compression", 1.0) == pytest.approx(force / 2, rel=1e-2)


def test_parachute_at_the_nose_pulls_the_body_along():
    _, found = run({"kind": "parachute", "force": "90 N"})
    assert at(found, "compression", 1.0) == pytest.approx(-45.0)
    _, found = run({"kind": "parachute", "force": "90 N", "pull_angle": "90 deg"})
    assert np.abs(found.forces.moment).max() == pytest.approx(4 / 27 * 90 * 2, rel=1e-4)


def test_parachute_from_line_and_from_canopy():
    _, found = run({"kind": "parachute", "speed": "6 m/s", "line_stiffness": "900 N/m"})
    assert found.facts["peak force"][0] == pytest.approx(6 * np.sqrt(900 * MASS))
    _, found = run({"kind": "parachute", "speed": "20 m/s", "drag_area": "0.5 m^2"})
    assert found.facts["peak force"][0] == pytest.approx(
        OPENING_FACTOR * 0.5 * 1.225 * 400 * 0.5)


def test_landing_on_the_tail():
    # Mean force m v^2/2d, twice for the peak of a spring; half of it at mid-length.
    _, found = run({"kind": "landing", "speed": "5 m/s", "stopping_distance": "50 mm"})
    peak = 2 * 0.5 * MASS * 25 / 0.05
    assert at(found, "compression", 1.0) == pytest.approx(peak / 2)


def test_tip_over_stops_the_energy_of_the_fall():
    _, found = run({"kind": "tip-over", "stopping_distance": "100 mm", "dynamic_factor": 1.0})
    mean = MASS * GRAVITY * (LENGTH / 2) / 0.1
    assert found.facts["peak force"][0] == pytest.approx(mean)
    # Moment about the foot: (F L - W L/2) = I alpha, I = m L^2/3.
    alpha = (mean * LENGTH - MASS * GRAVITY * LENGTH / 2) / (MASS * LENGTH**2 / 3)
    assert abs(found.facts["angular acceleration"][0]) == pytest.approx(alpha)
    assert found.imbalance < 1e-12


def test_handling_is_a_beam_under_twice_its_weight():
    _, found = run({"kind": "handling", "supports": ["0 mm", "2000 mm"]})
    assert np.abs(found.forces.moment).max() == pytest.approx(2 * MASS * GRAVITY * LENGTH / 8)


def test_mast_in_wind():
    top = {"name": "lamp", "length": "0 mm", "position": "0 mm", "role": "carried", "mass": "2 kg"}
    _, found = run({"kind": "mast", "wind_speed": "20 m/s", "force": "15 N",
                    "crossflow_coefficient": 1.2}, (TUBE, top))
    line = 0.5 * 1.225 * 400 * 1.2 * DIAMETER
    assert found.facts["moment at the foot"][0] == pytest.approx(line * 2**2 / 2 + 15 * 2)
    assert at(found, "compression", 2.0) == pytest.approx((2 + MASS) * GRAVITY)


def test_wind_on_fins_is_spread_over_their_root_chord():
    """Half of the fins broadside, at the tail: force, and no load ahead of them but the body's."""
    fins = {"count": 4, "root_chord": "200 mm", "tip_chord": "100 mm", "span": "80 mm"}
    wind = {"kind": "mast", "wind_speed": "20 m/s", "crossflow_coefficient": 1.2}
    pressure = 0.5 * 1.225 * 400 * 1.2
    area = 4 / 2 * (0.2 + 0.1) / 2 * 0.08
    bare = run(wind)[1]
    placed, finned = run(wind, ({**TUBE, "fins": fins},))
    fore = next(part.fins_at for part in placed.parts if part.fins is not None)
    for share in (0.0, 0.25, 0.5, 1.0):
        x = fore + share * 0.2
        more = abs(at(finned, "shear", x)) - abs(at(bare, "shear", x))
        assert more == pytest.approx(share * pressure * area, abs=0.02 * pressure * area)


def test_reference_area_is_that_of_the_widest_end():
    flare = {"name": "flare", "shape": "transition", "length": "200 mm", "mass": "100 g",
             "fore_diameter": "100 mm", "outside_diameter": "160 mm"}
    placed, _ = run({"kind": "boost", "thrust": "9 N"}, (TUBE, flare))
    assert placed.reference_area == pytest.approx(np.pi / 4 * 0.16**2)


def test_dynamic_factor_multiplies_everything():
    one = run({"kind": "handling", "supports": ["0 mm", "2000 mm"]})[1]
    two = run({"kind": "handling", "supports": ["0 mm", "2000 mm"], "dynamic_factor": 1.7})[1]
    assert two.forces.moment == pytest.approx(1.7 * one.forces.moment)


@pytest.mark.parametrize(("event", "words"), [
    ({"kind": "gust"}, "speed: missing"),
    ({"kind": "gust", "speed": "9 m/s"}, "give angle_of_attack or gust_speed"),
    ({"kind": "boost", "thrust": "9 N", "wind_speed": "3 m/s"}, "does not use it"),
    ({"kind": "boost", "thrust": "9 N", "drag_coefficient": 0.4}, "speed: missing"),
    ({"kind": "parachute"}, "give one of force"),
    ({"kind": "parachute", "drag_area": "1 m^2"}, "speed: missing"),
    ({"kind": "handling", "supports": ["1 m", "1 m"]}, "must differ"),
    ({"kind": "handling"}, "supports: missing"),
    ({"kind": "flight"}, "not one of"),
    ({"kind": "handling", "supports": ["1 m", "5 m"]}, "beyond the aft end"),
])
def test_refused_events(event, words):
    with pytest.raises(InputError, match=words):
        run(event)


@pytest.mark.parametrize(("parts", "words"), [
    ([], "exactly one"),
    ([TUBE, {"name": "b", "length": "1 m"}], "mass: missing"),
    ([TUBE, {"name": "b", "length": "1 m", "mass": "1 kg", "position": "3 m"}], "nothing joins"),
    ([TUBE, {"name": "b", "role": "carried", "length": "1 m", "mass": "1 kg"}], "position: miss"),
    ([TUBE, {"name": "b", "role": "carried", "length": "1 m", "mass": "1 kg",
             "position": "1.5 m"}], "beyond the body's aft"),
    ([TUBE, {"name": "b", "role": "carried", "length": "100 mm", "mass": "1 kg",
             "position": "1.95 m"}], "beyond the body's aft"),
    ([TUBE, {"name": "tube", "length": "1 m", "mass": "1 kg"}], "used twice"),
    ([{**TUBE, "length": "1 m"}], "leave it out"),
    ([{**TUBE, "shape": "cone"}], "is a cylinder"),
    ([TUBE, {"name": "b", "shape": "transition", "length": "1 m", "mass": "1 kg"}],
     "fore_diameter: missing"),
    ([{**TUBE, "fins": {"count": 3, "root_chord": "3 m", "span": "1 m"}}], "does not fit"),
])
def test_refused_parts(parts, words):
    with pytest.raises(InputError, match=words):
        run({"kind": "boost", "thrust": "1 N"}, parts)


def test_no_body_is_said_plainly():
    with pytest.raises(DefinitionError, match="body: missing"):
        read_body(None)
