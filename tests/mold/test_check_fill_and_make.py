"""Filling against the slot's own differential equation; making and masses by hand."""

import dataclasses
import json
import math
import re

import numpy as np
import pytest
from scipy.integrate import solve_ivp
from shapes import small

from gridshell.define.errors import InputError
from gridshell.define.files.reading import design_from_table, read_design
from gridshell.define.tables.casting import Casting
from gridshell.define.tables.design import Material, with_values
from gridshell.define.tables.mold import Cutout, Mold, mold_of
from gridshell.material.resolve import properties
from gridshell.mold.checks.filling.fill import (
    VISCOSITY,
    fill_checks,
    narrowest_filled,
    pot_life,
    slot_fill_time,
    traps_air,
    upwards,
)
from gridshell.mold.checks.filling.gate import gate_checks, hole_fill_time
from gridshell.mold.checks.filling.volume import volume_terms
from gridshell.mold.checks.release.flanks import panel_flanks
from gridshell.mold.checks.result import MoldCheck, worst
from gridshell.mold.checks.run import batches_of, measured, mold_checks
from gridshell.mold.checks.tool import block_widths
from gridshell.mold.pieces.build import piece_names
from gridshell.mold.relief.ribbing import ribbing
from gridshell.wall.assess import assess_wall
from gridshell.wall.geometry.lattice import lattice

EXAMPLES = ("lake-probe", "tide-mast", "gauge-housing-inch")


def make(**changes):
    table = {
        "title": "Invented scenario: mold under test",
        "material": {"name": "hot-melt-polyamide"},
        "tube": {"outside_diameter": "120 mm", "length": "200 mm", "segments": 2,
                 "seam_land": "8 mm", "end_land": "10 mm"},
        "skin": {"thickness": "2 mm"},
        "ribs": {"pattern": "orthogrid", "height": "5 mm", "width": "2 mm", "draft": "3 deg",
                 "spacing": "20 mm", "hoop_spacing": "22 mm", "corner_radius": "1 mm"}}
    for path, value in changes.items():
        head, _, key = path.partition("__")
        table[head][key] = value
    return design_from_table(table)


def test_slot_time_solves_the_fronts_equation_of_motion():
    """dx/dt = w^2 p/(12 eta x), plane Poiseuille flow (any text on fluid mechanics)."""
    gap, viscosity, pressure, length = 1.5e-3, 4.0, 1500.0, 0.07
    rate = gap**2 * pressure / (12 * viscosity)
    start = 1e-6
    run = solve_ivp(lambda t, x: rate / x, (0, 1e3), [start], rtol=1e-9, atol=1e-12,
                    events=lambda t, x: x[0] - length)
    assert slot_fill_time(gap, length, viscosity, pressure) == pytest.approx(
        run.t_events[0][0], rel=1e-4)


def test_narrowest_gap_fills_in_the_time_that_it_sets():
    from gridshell.mold.checks.heat.transfer import slab_cooling_time

    case = (0.08, 5.0, 1400.0)
    gap = float(narrowest_filled(*case, 1e-7, start=470.0, wall=330.0, sets_at=420.0))
    assert 1e-4 < gap < 1e-2
    filling = slot_fill_time(gap, *case)
    setting = float(slab_cooling_time(gap, 1e-7, 470.0, 330.0, 420.0))
    assert filling == pytest.approx(setting, rel=1e-9)
    assert float(narrowest_filled(*case, 1e-7, start=470.0, wall=430.0, sets_at=420.0)) == 0.0


def test_hole_time_of_long_thin_and_of_sharp_holes():
    """Limits by hand: a long tube is Hagen-Poiseuille's, water through a plate is an orifice's."""
    long = float(hole_fill_time(1e-4, 2e-3, 1.0, 1.0, 1e4, density=1000.0))
    assert long == pytest.approx(1e-4 * 128 / (math.pi * 16e-12 * 1e4), rel=2e-3)
    thin = float(hole_fill_time(1e-3, 0.02, 0.0, 1e-6, 1e3, density=1000.0))
    assert thin == pytest.approx(1e-3 / (0.6 * math.pi * 1e-4 * math.sqrt(2.0)), rel=1e-3)
    two = float(hole_fill_time(1e-3, 0.01, 0.01, 1.0, 1e3, density=1000.0, holes=2))
    assert two == pytest.approx(79.7 / 2, abs=0.1)


@pytest.mark.parametrize("name", ["tide-mast", "wax-pattern"])
def test_gates_left_open_are_chosen_so_that_the_pour_passes_in_time(name):
    """With the number that is made it passes; with one gate less of the same size it would not."""
    design = read_design(f"examples/{name}.toml")
    assert mold_of(design).gates is None
    checks = mold_checks(design)
    found = checks.find("pour through the gates")
    assert found.verdict == "ok" and found.value <= 0.7 * found.limit
    made = checks.mold
    assert made.gates > 1
    fewer = dataclasses.replace(made, gates=made.gates - 1)
    assert mold_checks(design, fewer).find("pour through the gates").verdict != "ok"


def test_a_pour_that_sets_on_the_way_never_fills():
    """Narrow gaps and skin are not said to fill where the pour itself comes too late."""
    design = read_design("examples/tide-mast.toml")
    slow = Mold(gates=1, gate_diameter=2e-3)
    checks = mold_checks(design, slow)
    gate = checks.find("pour through the gates")
    assert gate.value > gate.limit
    for name in ("narrow grooves fill", "skin fills"):
        assert checks.find(name).verdict == "fails"
        assert checks.find(name).advice.startswith("does not fill")
    # A resin with a long pot life on its data sheet has the time.
    patient = Mold(gates=1, gate_diameter=2e-3, casting=Casting(pot_life=50 * gate.value))
    checks = mold_checks(design, patient)
    assert checks.find("pour through the gates").verdict == "ok"
    assert checks.find("skin fills").verdict == "ok"


def test_the_pot_life_is_the_materials_or_asked_for():
    """A resin that states none is not given another's: the checks ask, and the stated one wins."""
    design = read_design("examples/tide-mast.toml")
    part = properties(design.material, temperature=294.15)
    assert pot_life(Casting(), part) == 300.0  # fast setting: of its library file
    assert pot_life(Casting(pot_life=900.0), part) == 900.0
    unknown = dataclasses.replace(part, pot_life=None)
    shell = properties(Material("petg"), temperature=294.15)
    found = gate_checks(design, lattice(design), Mold(gates=1, gate_diameter=2e-3),
                        part=unknown, shell=shell, start=294.15)[0]
    assert found.verdict == "not known" and "state mold.casting.pot_life" in found.advice
    assert found.limit is None
    gaps = fill_checks(design, lattice(design), Mold(), part=unknown, shell=shell, start=294.15,
                       flanks=panel_flanks(design, lattice(design), batches_of(
                           design, Mold())[0].ribs))
    assert {check.verdict for check in gaps if check.name.endswith("fill")} <= {
        "not known", "fails"}
    epoxy = properties(Material("epoxy-casting"), temperature=294.15)
    assert pot_life(Casting(), epoxy) > pot_life(Casting(), part)


@pytest.mark.parametrize(("skin", "verdict", "words"), [
    ("0.9 mm", "fails", "less than the 1 mm"), ("1.05 mm", "caution", "hardly more than the 1 mm"),
    ("1.6 mm", "ok", None)])
def test_a_skin_near_what_hands_can_pour_says_so(skin, verdict, words):
    """A thin resin runs in at once and the skin is still too thin."""
    found = mold_checks(make(material__name="polyurethane-casting", skin__thickness=skin))
    check = found.find("skin fills")
    assert check.verdict == verdict and "runs in within" in check.advice
    assert words in check.advice if words else "but" not in check.advice


def test_masses_of_the_solids_come_into_checks_that_were_made_before():
    """The same as checking again with the volumes, which would do all the other work twice."""
    design = read_design("examples/collar.toml")
    mold = mold_of(design)
    volumes = [1.01e-5 * (1 + n) for n in range(len(batches_of(design, mold)))]
    before = mold_checks(design, mold)
    after = measured(before, volumes)
    assert after.as_list() == mold_checks(design, mold, volumes).as_list()
    assert after.as_list() != before.as_list() and measured(before, None) is before


def test_more_gates_than_the_end_wall_holds_are_refused():
    with pytest.raises(InputError, match=r"mold\.gates: 20 gates .* at most \d+"):
        piece_names(small("plain", segments=6), Mold(gates=20, gate_diameter=0.9e-3))


def test_the_position_proposed_keeps_less_air():
    design = read_design("examples/lake-probe.toml")
    found = mold_checks(design, dataclasses.replace(mold_of(design), casting=Casting(
        filled="crown-down"))).find("air trapped in grooves and pocket corners")
    told = re.search(r"leans back by (\d+) deg, crown (up|down)", found.advice)
    assert told is not None and "no flank keeps air" in found.advice
    lean = math.radians(float(told[1]))
    up = np.array([-math.cos(lean), 0.0, math.sin(lean) * (1 if told[2] == "up" else -1)])
    flanks = panel_flanks(
        design, lattice(design), batches_of(design, mold_of(design))[0].ribs)
    kept = traps_air(flanks, up)
    assert flanks.area[kept].sum() < 1e-3 * flanks.area.sum() < found.value * flanks.area.sum()


def test_a_melt_that_sets_before_it_is_in_fails_and_says_what_would_do():
    low = Mold(casting=Casting(pour_head=12e-3))  # stated, so that no funnel is put on the gates
    found = mold_checks(small(), low).find("pour through the gates")
    assert found.verdict == "fails" and found.value > found.limit
    assert "mold.casting.pour_pressure" in found.advice
    thin = Mold(gates=2, casting=Casting(viscosity=0.01, pour_pressure=2e3))
    assert mold_checks(small(), thin).find("pour through the gates").verdict == "ok"


def test_advice_of_the_gate_check_is_enough():
    """What it proposes passes, on a resin of the library."""
    design = read_design("examples/tide-mast.toml")
    found = mold_checks(design, Mold(gates=1)).find("pour through the gates")
    told = re.search(r"gate_diameter = '([\d.]+) mm' with mold.gates = (\d+)", found.advice)
    assert told is not None
    better = Mold(gates=int(told[2]), gate_diameter=float(told[1]) * 1e-3)
    assert mold_checks(design, better).find("pour through the gates").verdict in ("ok", "caution")


def test_a_cold_metal_mold_freezes_the_melt_that_a_plastic_one_lets_run():
    design = make(skin__thickness="1.2 mm", ribs__width="1.5 mm")
    metal = mold_checks(design, Mold(process="mill", tool_diameter=1.4e-3))
    plastic = mold_checks(design, Mold(casting=Casting(mold_material="polycarbonate")))
    frozen, runs = (c.find("narrow grooves fill") for c in (metal, plastic))
    assert frozen.verdict == "fails" and "warm the mold to" in frozen.advice
    warm = frozen.details["mold_temperature_that_fills"]
    again = mold_checks(design, Mold(process="mill", tool_diameter=1.4e-3,
                                     casting=Casting(mold_temperature=warm + 1.0)))
    assert again.find("narrow grooves fill").verdict != "fails"
    assert runs.limit < frozen.limit


def test_every_castable_family_of_the_library_has_a_viscosity():
    from gridshell.material.resolve import material_names

    for name in material_names():
        found = properties(Material(name), temperature=294.15)
        if found.pour_temperature is not None:
            assert found.family in VISCOSITY, name


@pytest.mark.parametrize(("side", "filled", "keeps"), [
    ("inside", "crown-up", False), ("inside", "crown-down", True),
    ("outside", "crown-up", True), ("outside", "crown-down", False),
    ("inside", "end-up", False), ("outside", "end-up", False),
])
def test_grooves_that_open_upwards_let_air_out(side, filled, keeps):
    """Common practice, no source: a groove that opens down holds a bubble, one that opens up or
    to the side with draft does not. Corners are left out: they may overhang."""
    design = make(ribs__side=side)
    grid = lattice(design)
    flanks = panel_flanks(design, grid, ribbing(design, grid))
    kept = traps_air(flanks, upwards(filled))[~flanks.corner]
    assert kept.mean() > 0.3 if keeps else not kept.any()


def test_without_draft_level_ceilings_keep_bubbles():
    design = make(ribs__draft="0 deg")
    grid = lattice(design)
    flanks = panel_flanks(design, grid, ribbing(design, grid))
    assert traps_air(flanks, upwards("end-up"))[~flanks.corner].any()
    # Neither face of a hoop rib looks up then, but a groove that opens down keeps its air.
    hoop = ~flanks.corner & (np.abs(flanks.edge[:, 0]) < 0.01) & (np.abs(flanks.angle) < 0.5)
    assert hoop.any() and traps_air(flanks, upwards("crown-down"))[hoop].all()


def test_block_width_of_a_rectangular_pocket_is_spacing_less_the_rib_root():
    design = make()
    grid = lattice(design)
    # Inside ribs: the pocket's floor lies on the skin's inner face.
    floor = (60.0 - 2.0) * 1e-3
    hoop = float(grid.cell_width) * floor / float(grid.radius)
    root = 2e-3 + 2 * 5e-3 * math.tan(math.radians(3))
    found = dict(block_widths(design, grid, ribbing(design, grid)))
    assert found["rectangle"] == pytest.approx(min(hoop, float(grid.cell_height)) - root)


def test_milling_limits():
    design = make()
    fits = mold_checks(design, Mold(process="mill", tool_diameter=1.8e-3))
    assert fits.find("tool in the grooves").verdict == "ok"
    assert fits.find("tool reach").value == pytest.approx(
        5e-3 / (1 - fits.pouring.shrinkage) / 1.8e-3)
    thick = mold_checks(design, Mold(process="mill", tool_diameter=3e-3))
    assert thick.find("tool in the grooves").verdict == "fails"
    thin = mold_checks(design, Mold(process="mill", tool_diameter=1e-3))
    assert thin.find("tool reach").verdict == "fails"
    assert thin.find("milling access").verdict == "caution"  # half shells lock away from the crown


def test_printing_limits():
    fine = mold_checks(make())
    assert fine.find("printed groove").verdict == "ok"
    coarse = mold_checks(make(), Mold(casting=Casting(line_width=1.2e-3)))
    assert coarse.find("printed groove").verdict == "fails"
    assert mold_checks(make(ribs__height="16 mm", ribs__spacing="7 mm", ribs__hoop_spacing="7 mm",
                            ribs__draft="1 deg")).find("thin blocks in print").verdict != "ok"


def test_masses_without_cutouts_are_the_walls():
    design = make()
    checks = mold_checks(design)
    tube = checks.find("finished tube")
    room = properties(design.material, temperature=294.15)
    assert tube.value == pytest.approx(float(assess_wall(design, room).tube_mass))
    pour = checks.find("pour for one casting")
    assert pour.value == pytest.approx(tube.value / 2 * 1.15)
    assert checks.find("solids against the wall's mass").verdict == "not known"


def test_solids_are_compared_term_by_term():
    cutout = Cutout("round", 100e-3, math.radians(90), diameter=20e-3)
    design, mold = make(), Mold(cutout=(cutout,))
    batches = batches_of(design, mold)
    assert sum(b.count for b in batches) == 2
    terms = {t.name: t.volume for t in volume_terms(design, lattice(design), batches)}
    wide = 10e-3 + 7e-3 * math.tan(math.radians(3))
    frustum = math.pi * 7e-3 / 3 * (10e-3**2 + 10e-3 * wide + wide**2)
    assert terms["cut-outs"] == pytest.approx(-frustum)
    assert terms["pockets left solid round cut-outs"] > 0
    smeared = assess_wall(design, properties(design.material))
    whole = float(smeared.tube_volume) + sum(terms.values())
    right = mold_checks(design, mold, [whole / 2, whole / 2])
    wrong = mold_checks(design, mold, [whole / 2, whole / 2 * 1.05])
    name = "solids against the wall's mass"
    assert right.find(name).verdict == "ok" and right.find(name).value < 1e-12
    assert wrong.find(name).verdict == "fails"
    assert "cut-outs" in right.find(name).advice


def test_bond_and_rings_count_in_the_finished_tube():
    plain = mold_checks(make()).find("finished tube")
    design = make()
    glued = with_values(design, {"joints": {"bond": {"thickness": "0.2 mm", "modulus": "1 GPa"}}})
    found = mold_checks(glued).find("finished tube")
    # Two seams, 7 mm deep, 200 mm long, 0.2 mm of bond; polyamide hot melt 980 kg/m3.
    assert found.value - plain.value == pytest.approx(2 * 7e-3 * 0.2 * 0.2e-3 * 980.0)


@pytest.mark.parametrize("name", EXAMPLES)
def test_every_example_has_checks_that_say_why(name):
    checks = mold_checks(read_design(f"examples/{name}.toml"))
    names = [check.name for check in checks.checks]
    assert len(set(names)) == len(names) >= 8
    for check in checks.checks:
        assert check.advice and check.source, check.name
    json.loads(json.dumps(checks.as_list(), allow_nan=False))
    assert checks.verdict == worst(checks.checks)


def test_worst_of_none_and_some():
    def of(verdict):
        return MoldCheck("x", 1.0, 2.0, "length", verdict, "a", "s")

    assert worst(()) == "ok"
    assert worst((of("ok"), of("not known"))) == "not known"
    assert worst((of("caution"), of("fails"), of("ok"))) == "fails"
    assert of("ok").as_dict()["unit"] == "m"
    assert np.isclose(of("ok").as_dict()["limit"], 2.0)
