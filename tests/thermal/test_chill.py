"""A whole chilling: facts of the trade, the window, the answers, and what is written out."""

import dataclasses
import json
from pathlib import Path

import numpy as np
import pytest

from gridshell.define.errors import InputError
from gridshell.define.tables.chill import AttachedPart, Chill, ChillLimits, ChillStep, Uncovered
from gridshell.define.tables.design import Material, Ribs, Tube
from gridshell.report.text.chill import chill_rows, chill_text, duration
from gridshell.report.verdict import FAILS, NOT_CHECKED, chill_finding
from gridshell.thermal.answers import peak
from gridshell.thermal.chill import _so_far, chill
from gridshell.thermal.curves import material_curves, tabulated
from gridshell.thermal.heat.history import history
from gridshell.thermal.heat.section import wall_section
from gridshell.thermal.margin import margin_function
from gridshell.thermal.stress.cracking import THIN_AT_LAND, still_ratio, wall_places

COUPLER = AttachedPart("coupler", "coupler", modulus=69e9, expansion=2.3e-5, thickness=2e-3)


def quick(design, table, **more):
    return chill(design, stated=table, answers=False, **more)


# --- common practice, no source -----------------------------------------------------------


def test_a_freezer_makes_a_soft_polymer_plainly_stiffer(body):
    # Common practice, no source: a thin part of a soft polymer out of a household freezer is
    # plainly stiffer than at room temperature.
    table = Chill(step=(ChillStep(kind="freezer", duration=4 * 3600.0),))
    found = quick(body, table)
    at = np.searchsorted(found.time, found.exposed_at - 1e-9)
    assert found.stiffness_ratio[at] > 3
    assert found.phases[0].through is not None


def test_an_hour_in_dry_ice_chills_a_thin_tube_throughout(body, dry_ice):
    # Common practice, no source: packed in dry ice for over an hour a thin-walled tube is at
    # coolant temperature throughout.
    found = quick(body, dry_ice)
    assert found.phases[0].through < 3600
    for part, kelvin in found.chilled_at.items():
        assert kelvin == pytest.approx(194.7, abs=0.5), part


def test_tight_dry_ice_cracks_it_first_where_thin_meets_thick(body, dry_ice):
    # Common practice, no source: it can crack with no outside load, and first where thin wall
    # meets thick land.
    step = dataclasses.replace(dry_ice.step[0], conductance=150.0)
    found = quick(body, dataclasses.replace(dry_ice, step=(step,)))
    assert found.cracks[0].place == THIN_AT_LAND
    assert found.cracking_ratio.max() > 1
    assert found.cracks_at < 600
    # And it has cracked for good: no usable time later, though it is then whole on paper.
    assert found.window is None
    assert found.without == ("cracking ratio",)


def test_handling_alone_can_break_a_brittle_tube(body, brittle, dry_ice):
    # Common practice, no source: handling included.
    rough = dataclasses.replace(dry_ice, handling_strain=0.006)
    section = wall_section(body, brittle.solid)
    assert still_ratio(290.0, section, brittle, rough)["handling"][0] < 1
    assert still_ratio(194.7, section, brittle, rough)["handling"][0] > 1


# --- stress from temperatures -------------------------------------------------------------


def test_even_temperature_of_one_material_leaves_no_stress(body, brittle, dry_ice):
    section = wall_section(body, brittle.solid)
    even = np.full((1, section.tube_nodes), 220.0)
    for place in wall_places(even, section, brittle, dry_ice):
        assert place.stress == pytest.approx(0, abs=1e-3), place.name


def test_warm_land_pulls_the_cold_thin_wall(body, brittle, dry_ice):
    # By hand: wall and ribs at T, land at T + 40 K, everything else even.
    section = wall_section(body, brittle.solid)
    even = np.full((1, section.tube_nodes), 220.0)
    even[0, section.parts["land"].nodes] += 40.0
    plain = dataclasses.replace(dry_ice, concentration=1.0)
    found = {p.name: p for p in wall_places(even, section, brittle, plain)}
    beta = (3 * (1 - 0.35**2)) ** 0.25 / np.sqrt(section.radius * 1.6e-3)
    ring = 10e-3 * 6.6e-3 / (10e-3 * 6.6e-3 + 1.6e-3 / beta)
    expected = 2e9 * 1e-4 * 40.0 * ring * np.sqrt(3 / (1 - 0.35**2))
    assert found[THIN_AT_LAND].stress[0] == pytest.approx(expected, rel=1e-6)
    assert found["skin"].stress[0] == pytest.approx(0, abs=1e-3)


@pytest.mark.parametrize("part", ["skin", "land"])
def test_gradient_through_skin_or_land_alone(body, brittle, dry_ice, part):
    # By hand: linear temperature through one part, its mean that of all else: at its cold face
    # E a dT/2/(1 - nu), at the end of the tube 1 - nu + sqrt((1 - nu^2)/3) times that.
    section = wall_section(body, brittle.solid, 12)
    even = np.full((1, section.tube_nodes), 220.0)
    nodes, volume = section.parts[part].nodes, section.parts[part].volume
    slope = np.linspace(10.0, -10.0, nodes.size)
    even[0, nodes] += slope - (slope * volume).sum() / volume.sum()
    found = {p.name: p for p in wall_places(even, section, brittle, dry_ice)}
    factor = 1 - 0.35 + np.sqrt((1 - 0.35**2) / 3)
    coldest = 220.0 - even.min()
    assert found[part].stress[0] == pytest.approx(2e9 * 1e-4 * coldest / 0.65 * factor, rel=1e-3)


def test_attached_part_pulls_only_after_its_gap_is_gone(body, brittle, dry_ice):
    section = wall_section(body, brittle.solid)

    def ratio(**stated):
        part = dataclasses.replace(COUPLER, **stated)
        table = dataclasses.replace(dry_ice, attached=(part,), handling_strain=0.0)
        return still_ratio(np.array([194.7]), section, brittle, table)["coupler"][0]

    mismatch = (1e-4 - 2.3e-5) * (294.15 - 194.7)
    bore = float(section.bore)
    tight = ratio()
    assert tight > 1
    assert ratio(clearance=1.01 * mismatch * bore) == 0
    assert 0 < ratio(clearance=0.5 * mismatch * bore) < tight
    # A coupler that keeps warm holds more; one that shrinks as the tube does not hold at all.
    assert ratio(follows=0.0) > tight
    assert ratio(expansion=1e-4) == 0


@pytest.mark.parametrize("part", [
    AttachedPart("bulkhead", "bulkhead", modulus=3e9, expansion=5e-5),
    AttachedPart("cord", "cord", modulus=70e9, expansion=-2e-6, area=4e-6),
    AttachedPart("screw", "screw", modulus=200e9, expansion=1.2e-5, diameter=3e-3,
                 edge_distance=6e-3),
])
def test_every_kind_of_part_pulls(body, brittle, dry_ice, part):
    section = wall_section(body, brittle.solid)
    table = dataclasses.replace(dry_ice, attached=(part,), handling_strain=0.0)
    cold = still_ratio(np.array([294.15, 250.0, 200.0]), section, brittle, table)[part.name]
    assert cold[0] == pytest.approx(0, abs=1e-12)
    assert 0 < cold[1] < cold[2]


# --- answers ------------------------------------------------------------------------------


def test_fastest_rate_is_the_edge_of_cracking(body, dry_ice):
    step = dataclasses.replace(dry_ice.step[0], conductance=150.0)
    table = dataclasses.replace(dry_ice, step=(step,))
    found = chill(body, stated=table)
    rate, _, plunge = found.answers
    assert rate.value is not None and rate.limit == THIN_AT_LAND
    curves = tabulated(material_curves(body.material), 190.0, 330.0)
    section = wall_section(body, curves.solid, table.cells)
    drop = table.start - 194.7

    def ratio(kelvin_per_second):
        ramp = drop / kelvin_per_second
        slow = dataclasses.replace(step, ramp=ramp, duration=ramp + 1800.0)
        return peak(section, curves, table, (slow,))[0]

    assert ratio(rate.value) <= 1.0
    assert ratio(rate.value * 1.1) > 1.0
    # Put in at once: warmer than dry ice is safe, dry ice is not.
    assert 194.7 < plunge.value < 294.0
    at_once = dataclasses.replace(step, temperature=plunge.value - 1.0, duration=1800.0)
    assert peak(section, curves, table, (at_once,))[0] > 1.0


def test_lowest_temperature_is_where_the_coupler_cracks_it(body, brittle, dry_ice):
    table = dataclasses.replace(dry_ice, attached=(COUPLER,))
    answers = {a.name: a for a in chill(body, stated=table, curves=brittle).answers}
    lowest = answers["lowest safe temperature, chilled slowly"]
    assert lowest.limit == "coupler"
    section = wall_section(body, brittle.solid)
    at = still_ratio(np.array([lowest.value]), section, brittle, table)["coupler"][0]
    assert at == pytest.approx(1.0, abs=2e-3)
    # Then no rate is slow enough, and it says why.
    rate = answers["fastest safe cooling"]
    assert rate.value is None and rate.limit == "coupler" and "however slowly" in rate.note


def test_unknown_strength_is_not_a_pass(body, brittle, dry_ice):
    silent = dataclasses.replace(brittle, strength=None, strain_at_break=None)
    found = chill(body, stated=dry_ice, curves=silent)
    assert all(a.value is None and a.limit == "unknown" for a in found.answers)
    assert np.isnan(found.cracking_ratio).all()
    assert ["cracking ratio", "not known"] in [row[:2] for row in chill_rows(found)]
    assert not any(limit.name == "cracking ratio" for limit in found.limits)


# --- the window ---------------------------------------------------------------------------


def test_limits_that_end_above_the_coolant_are_no_pass(body, brittle, dry_ice, change):
    # Limits of the material known down to 230 K only, dry ice at 195 K: no promise below that.
    def ended(law):
        return lambda t: np.where(np.asarray(t) < 230.0, np.nan, law(t))

    known = change(brittle, strength=ended(brittle.strength),
                   strain_at_break=ended(brittle.strain_at_break))
    table = change(dry_ice, limits=ChillLimits(stiffness_ratio=0.1))
    found = chill(body, stated=table, curves=known)
    rate, slow, at_once = found.answers
    assert rate.value is None and rate.limit == "unknown"
    assert slow.value == pytest.approx(230.0, abs=1.0) and "end of the data" in slow.limit
    assert 229.5 < at_once.value < 275.0
    assert found.window is None and "cracking ratio" in found.without
    assert chill_finding(found).word in (FAILS, NOT_CHECKED)
    assert "not checked" in chill_text(found)
    whole = chill(body, stated=table, curves=brittle, answers=False)
    assert (whole.window is None) == (whole.cracks_at is not None)
    none = quick(body, table, curves=change(brittle, strength=None, strain_at_break=None))
    assert chill_finding(none).word == NOT_CHECKED  # a window by stiffness alone is none


def test_after_a_time_that_is_not_known_nobody_knows():
    assert _so_far(np.array([0.2, np.nan, 0.3, 0.1]))[[0, 3]].tolist() == pytest.approx(
        [0.2, np.nan], nan_ok=True)
    assert _so_far(np.array([0.2, 1.2, np.nan, 0.3])).tolist() == [0.2, 1.2, 1.2, 1.2]
    assert _so_far(np.array([np.nan, 1.2]))[1] == 1.2
    assert _so_far(np.array([0.4, 0.2])).tolist() == [0.4, 0.4]


def test_data_that_end_before_the_coolant_are_said(body, brittle, dry_ice, change):
    found = quick(body, dry_ice, curves=change(brittle, held={"expansion": (240.0, 320.0)}))
    assert any(note.startswith("expansion: data cover") for note in found.notes)
    found = quick(body, dry_ice, curves=change(brittle, held={"expansion": (150.0, 320.0)}))
    assert not any(note.startswith("expansion") for note in found.notes)


def test_a_tube_that_softened_on_the_way_is_not_used(body, brittle, dry_ice, change):
    # Warmed to 60 degC after the chill, past the temperature at which it loses its shape.
    table = change(dry_ice, uncovered=Uncovered(temperature=333.15, duration=1800.0),
                   limits=ChillLimits(stiffness_ratio=0.1))
    found = quick(body, table, curves=change(brittle, softening_temperature=320.0))
    assert found.window is None or found.window.ended_by == "softening temperature"
    assert any(limit.name == "softening temperature" for limit in found.limits)
    found = quick(body, table, curves=change(brittle, softening_temperature=400.0))
    assert not any(limit.name == "softening temperature" for limit in found.limits)


def test_window_opens_and_ends_by_name(body, dry_ice):
    table = dataclasses.replace(dry_ice, limits=ChillLimits(stiffness_ratio=4.0, coldest=215.0))
    found = quick(body, table)
    window = found.window
    assert window.opened_by == "coldest allowed"
    assert window.ended_by == "stiffness ratio"
    assert np.interp(window.end, found.time, found.stiffness_ratio) == pytest.approx(4, rel=1e-6)
    later = found.time >= found.exposed_at
    coldest = np.interp(window.start, found.time[later], found.coldest[later])
    assert coldest == pytest.approx(215.0, abs=1e-6)


def test_margin_can_end_the_window(body, dry_ice):
    table = dataclasses.replace(
        dry_ice, limits=ChillLimits(stiffness_ratio=0.1, margin=1.0, coldest=200.0))
    margin_at = margin_function(body)
    found = quick(body, table, margin_at=margin_at)
    assert found.window.ended_by == "lowest margin"
    warmest = np.interp(found.window.end, found.time, found.warmest)
    # The same number from the tube's own assessment at that temperature.
    assert margin_at(np.array([warmest]))[0] == pytest.approx(1.0, abs=0.02)


def test_wind_and_sun_shorten_the_window(body, dry_ice):
    def length(**air):
        table = dataclasses.replace(dry_ice, uncovered=Uncovered(duration=7200.0, **air))
        return quick(body, table).window.length

    still = length(wind=0.0, sun=0.0)
    windy = length(wind=6.0, sun=0.0)
    sunny = length(wind=0.0, sun=900.0)
    assert windy < 0.7 * still
    assert sunny < still


def test_sleeve_lengthens_the_window(body, dry_ice):
    from gridshell.define.tables.chill import SleeveLayer

    on = dataclasses.replace(dry_ice, sleeve=(SleeveLayer(thickness=8e-3),),
                             uncovered=Uncovered(sleeve=True, duration=7200.0))
    off = dataclasses.replace(on, uncovered=Uncovered(sleeve=False, duration=7200.0))
    assert quick(body, on).window.end - 3600 > 3 * (quick(body, off).window.end - 3600)


def test_heat_is_accounted_for_in_every_phase(body):
    table = Chill(step=(
        ChillStep(kind="still-air", temperature=275.0, duration=900.0),
        ChillStep(kind="wind", wind=4.0, temperature=260.0, duration=900.0, ramp=300.0),
        ChillStep(kind="freezer", duration=1800.0, inside="still-air"),
        ChillStep(kind="dry-ice", duration=1800.0, inside="dry-ice"),
    ))
    found = quick(body, table)
    assert [p.name for p in found.phases] == ["still-air", "wind", "freezer", "dry-ice",
                                              "uncovered"]
    assert found.imbalance < 1e-3
    assert all(phase.heat < 0 for phase in found.phases[:-1])
    # What came out on the way down: mass x heat capacity x drop, by hand.
    curves = material_curves(body.material)
    section = wall_section(body, curves.solid)
    grid = np.linspace(194.7, 294.15, 2001)
    drop = np.trapezoid(curves.heat_capacity(grid), grid)
    room = float(curves.density(np.array(294.15)))
    out = -sum(phase.heat for phase in found.phases[:-1])
    assert out == pytest.approx(float(section.volume) * room * drop, rel=2e-3)


def test_result_does_not_hang_on_mesh_or_step(body, dry_ice):
    coarse = quick(body, dry_ice)
    fine = quick(body, dataclasses.replace(dry_ice, cells=16, tolerance=0.02))
    assert coarse.window.length == pytest.approx(fine.window.length, rel=0.01)
    assert coarse.cracks[0].peak == pytest.approx(fine.cracks[0].peak, rel=0.05)


def test_sleeve_state_is_kept_from_step_to_step(body):
    # Two equal steps in a row are one step of twice the time.
    from gridshell.define.tables.chill import SleeveLayer

    def last(*durations):
        table = Chill(sleeve=(SleeveLayer(thickness=8e-3),), step=tuple(
            ChillStep(kind="dry-ice", duration=d, name=f"part {i}")
            for i, d in enumerate(durations)))
        section = wall_section(body, material_curves(body.material).solid, 4, table.sleeve)
        return history(section, table, back=False).temperature[-1]

    assert last(400.0, 400.0) == pytest.approx(last(800.0), abs=0.3)


# --- plain and odd designs ----------------------------------------------------------------


@pytest.mark.parametrize("changes", [
    {"ribs": Ribs(pattern="plain")},
    {"ribs": Ribs(pattern="orthogrid", side="outside", height=4e-3, width=2e-3, spacing=2e-2,
                  hoop_spacing=2e-2)},
    {"tube": Tube(0.098, 0.3)},
    {"material": Material("hot-melt-eva", load_duration=3600.0)},
])
def test_other_designs(body, dry_ice, changes):
    made = dataclasses.replace(body, **changes)
    found = chill(made, stated=dataclasses.replace(dry_ice, attached=(COUPLER,)))
    assert found.imbalance < 1e-3
    assert np.isfinite(found.stiffness_ratio).all()
    landed = made.ribs.pattern != "plain" and made.tube.end_land > 0
    assert ("land" in found.temperature) == landed


def test_metal_tube_from_the_library(body, dry_ice):
    metal = dataclasses.replace(body, material=Material("aluminum-6061-t6"))
    found = chill(metal, stated=dry_ice)
    # Aluminum hardly stiffens: some 5 % (from memory), so there is no window by stiffness.
    at = np.searchsorted(found.time, found.exposed_at - 1e-9)
    assert 1.0 < found.stiffness_ratio[at] < 1.1
    assert found.window is None and "stiffness ratio" in found.without


def test_material_without_thermal_properties_is_refused(body, dry_ice):
    own = Material("own", modulus=2e9, poisson=0.35, density=1000.0)
    with pytest.raises(InputError, match=r"material\.properties\.conductivity: own"):
        quick(dataclasses.replace(body, material=own), dry_ice)


def test_reference_outside_the_data_is_refused(body, dry_ice):
    hot = dataclasses.replace(dry_ice, reference=350.0)
    with pytest.raises(InputError, match=r"chill\.reference"):
        quick(body, hot)


def test_beyond_the_data_it_says_so(body):
    # Liquid-cold contact below the modulus data of the hot melt: gaps, not guesses.
    table = Chill(step=(ChillStep(kind="contact", temperature=150.0, duration=1800.0),))
    found = quick(body, table)
    assert any("outside the modulus data" in note for note in found.notes)
    assert np.isnan(found.stiffness_ratio).any()


# --- what is written out ------------------------------------------------------------------


def test_json_is_plain_and_complete(body, dry_ice):
    found = chill(body, margin_function(body), stated=dry_ice)
    text = json.dumps(found.to_dict(), allow_nan=False)
    read = json.loads(text)
    assert set(read) == {
        "title", "material", "reference", "time", "temperature", "coldest", "warmest",
        "stiffness_ratio", "margin", "cracking_ratio", "cracks", "cracks_at", "phases",
        "uncovered", "limits", "window", "without_window", "answers", "imbalance",
        "notes", "cautions"}
    assert len(read["time"]) == len(read["temperature"]["skin"]) == len(read["margin"])
    assert read["window"]["length"] == pytest.approx(found.window.length)


@pytest.mark.parametrize("system", ["metric", "inch"])
def test_text_starts_with_what_governs_and_ends_with_cautions(body, dry_ice, system):
    found = chill(body, stated=dry_ice)
    rows = chill_rows(found, system)
    assert rows[0][0] == "usable window"
    assert rows[0][1] == duration(found.window.length)
    text = chill_text(found, system)
    assert "nan" not in text
    assert "Cold burns" in text
    assert ("degF" in text) == (system == "inch")
    assert ("degC" in chill_text(found, system).split("note:")[0]) == (system == "metric")


def test_text_says_when_it_cracks(body, dry_ice):
    step = dataclasses.replace(dry_ice.step[0], conductance=150.0)
    text = chill_text(quick(body, dataclasses.replace(dry_ice, step=(step,))))
    assert "CRACKS" in text and "kept out by: cracking ratio" in text


def test_cautions_go_with_the_steps(body, dry_ice):
    words = " ".join(quick(body, dry_ice).cautions)
    # Rules of the place come before ours.
    assert "local rules" in words and "safety data sheet" in words and "local law" in words
    assert "liquefied" not in words
    for needed in ("Cold burns", "carbon dioxide", "break under load", "range officer",
                   "burns deep"):
        assert needed in words
    mild = Chill(step=(ChillStep(kind="freezer", duration=600.0),))
    assert "carbon dioxide" not in " ".join(quick(body, mild).cautions)


def test_picture_is_written_whole_or_not_at_all(body, dry_ice, tmp_path, monkeypatch):
    from gridshell.report.plots.chill import chill_figure, save_chill_figure

    found = quick(body, dry_ice, margin_at=margin_function(body))
    target = tmp_path / "chill.png"
    save_chill_figure(found, target)
    assert target.read_bytes().startswith(b"\x89PNG")
    assert [p.name for p in tmp_path.iterdir()] == ["chill.png"]
    figure = chill_figure(found)
    words = [text.get_text() for axes in figure.axes for text in axes.texts]
    assert "usable" in words and any(word.startswith("least ratio") for word in words)
    assert found.window.ended_by in figure.texts[1].get_text()
    from matplotlib.figure import Figure

    def fail(self, path, *args, **kwargs):
        Path(path).write_bytes(b"half")
        raise OSError("disk full")

    monkeypatch.setattr(Figure, "savefig", fail)
    before = target.read_bytes()
    with pytest.raises(InputError, match="disk full"):
        save_chill_figure(found, target)
    assert target.read_bytes() == before
    assert [p.name for p in tmp_path.iterdir()] == ["chill.png"]
