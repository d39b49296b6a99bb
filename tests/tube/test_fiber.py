"""Stress at the extreme fiber against sections and cylinders of strength of materials."""

from __future__ import annotations

import numpy as np
import pytest

from gridshell.define.tables.design import Case
from gridshell.tube.assess import assess_tube
from gridshell.tube.joints.line_forces import SectionLoads
from gridshell.tube.strength.fiber import fiber_stress

OUTER = 0.1


def stress(make_design, make_properties, wall, name="strength of the skin", **loads):
    """Stress of a check of one case, and the design."""
    changes = {key: loads.pop(key) for key in list(loads) if "__" in key}
    design = make_design(wall, case=(Case(name="a", factor=1.0, **loads),),
                         tube__straightness=0.0, **changes)
    found = assess_tube(design, make_properties(poisson=0.3)).cases[0]
    return float(next(one for one in found.checks if one.name == name).applied), design


@pytest.mark.parametrize("thickness", [1e-3, 1e-2, 3e-2])
def test_thick_tube_in_bending_and_torsion(make_design, make_properties, thickness):
    # Timoshenko, Strength of Materials: M c/I and T c/J of a round tube, c the outer radius.
    inner = OUTER - thickness
    second = np.pi / 4 * (OUTER**4 - inner**4)
    bent, _ = stress(make_design, make_properties, "plain", moment=100.0,
                     skin__thickness=thickness)
    # A thick plate's own bending takes some hoop stress along, on the safe side.
    assert 0.998 * 100 * OUTER / second < bent < 1.015 * 100 * OUTER / second
    turned, _ = stress(make_design, make_properties, "plain", torque=100.0,
                       skin__thickness=thickness)
    # The wall's twist counts as R^2 + t^2/12 for the exact R^2 + t^2/4, on the safe side.
    assert 0.998 < turned / (np.sqrt(3) * 100 * OUTER / (2 * second)) < 1.025


@pytest.mark.parametrize("thickness", [1e-3, 1e-2, 3e-2])
@pytest.mark.parametrize("closed", [True, False])
def test_thick_tube_under_external_pressure(make_design, make_properties, thickness, closed):
    # Lame's cylinder (Timoshenko, Strength of Materials, part II): at the inner face the hoop
    # stress is 2 p b^2/(b^2 - a^2), the axial stress of closed ends half of it.
    inner = OUTER - thickness
    hoop = 2e5 * OUTER**2 / (OUTER**2 - inner**2)
    exact = hoop * (np.sqrt(3) / 2 if closed else 1.0)
    found, _ = stress(make_design, make_properties, "plain", pressure=1e5,
                      pressure_on_ends=closed, skin__thickness=thickness)
    assert found == pytest.approx(exact, rel=2e-3)


@pytest.mark.parametrize("thickness", [1e-3, 1e-2, 3e-2])
@pytest.mark.parametrize("closed", [True, False])
def test_thick_tube_under_internal_pressure(make_design, make_properties, thickness, closed):
    # Lame again, von Mises with the pressure on the inner face: never more than is checked.
    inner, p = OUTER - thickness, 1e5
    area = OUTER**2 - inner**2
    hoop, axial = p * (OUTER**2 + inner**2) / area, p * inner**2 / area * closed
    exact = np.sqrt(((hoop - axial) ** 2 + (axial + p) ** 2 + (hoop + p) ** 2) / 2)
    found, _ = stress(make_design, make_properties, "plain", pressure=-p, pressure_on_ends=closed,
                      skin__thickness=thickness)
    assert exact * (1 - 1e-9) <= found


def test_ribs_outside_strain_by_their_own_radius(make_design, make_properties):
    # M z/I of the composite section: skin as a ring, axial ribs as bars at their own radius.
    tip, design = stress(
        make_design, make_properties, "orthogrid", "strength of the ribs", moment=100.0,
        ribs__side="outside", ribs__height=0.01, ribs__hoop_spacing=0.2, ribs__formula="thin")
    skin, height, width = 1.5e-3, 0.01, 2e-3
    radius = float(design.skin_radius)
    count = np.rint(2 * np.pi * radius / 0.024)
    middle = radius + skin / 2 + height / 2
    second = np.pi * radius**3 * skin + count * width * height * (
        middle**2 + height**2 / 12) / 2
    assert tip == pytest.approx(100.0 * OUTER / second, rel=1e-2)


@pytest.mark.parametrize("wall", ["isogrid", "orthogrid", "diagonal", "families"])
def test_stress_of_bending_makes_up_the_moment(make_design, make_properties, wall):
    # Statics: the stresses round and through the section balance moment and torque.
    built = assess_tube(make_design(wall, ribs__formula="thin"), make_properties()).wall
    radius, skin = float(built.grid.radius), float(built.design.skin.thickness)
    for loads, place, share in ((SectionLoads(moment=7.0), 0, np.pi),
                                (SectionLoads(torque=7.0), 2, 2 * np.pi)):
        state = fiber_stress(built, loads, 1.0)
        faces = [np.asarray(face)[place] for face in (state.skin_rib_side, state.skin_smooth_side)]
        slope = (faces[0] - faces[1]) / skin * built.side
        mean = (faces[0] + faces[1]) / 2
        total = radius * (mean * skin * radius + slope * skin**3 / 12)
        for line, section, rib in zip(built.grid.families, built.sections, state.ribs, strict=True):
            part = line.cosine**2 if place == 0 else line.cosine * line.sine
            z = np.linspace(0.0, section.height, 201)
            along = rib.root + (rib.tip - rib.root) * z / section.height
            arm = radius + built.side * (skin / 2 + z)
            force = np.trapezoid(along * arm, z) * section.area / section.height / line.pitch
            total += radius * part * force
        if wall != "families" or place == 0:
            assert share * total == pytest.approx(7.0, rel=2e-2)


def test_skin_between_ribs_takes_pressure_by_itself(make_design, make_properties):
    # Wide pockets: the skin carries p R/t whatever the ribs do, as a tube of its own. Small ones
    # share with the ribs.
    wide, _ = stress(make_design, make_properties, "orthogrid", pressure=-1e5,
                     pressure_on_ends=False, ribs__hoop_spacing=0.1, ribs__spacing=0.1,
                     ribs__width=0.01, skin__thickness=5e-4)
    close, design = stress(make_design, make_properties, "orthogrid", pressure=-1e5,
                           pressure_on_ends=False, ribs__hoop_spacing=0.012, ribs__spacing=0.012,
                           ribs__width=1.2e-3, skin__thickness=5e-4)
    alone = 1e5 * float(design.skin_radius) / 5e-4
    assert close < 0.55 * alone
    assert 0.6 * alone < wide < 1.01 * alone
