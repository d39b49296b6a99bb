"""The usable window and the range of temperatures for demolding."""

import dataclasses

import numpy as np
import pytest

from gridshell.define.tables.design import Material
from gridshell.thermal.curves import constant, material_curves
from gridshell.thermal.stress.demolding import demolding_range, peel_strain
from gridshell.thermal.window import ServiceLimit, usable_window

TIME = np.arange(0.0, 101.0, 10.0)


def test_window_takes_the_tightest_limit():
    stiff = ServiceLimit("stiff", 2.0, 10 - 0.1 * TIME, True)  # broken after 80
    margin = ServiceLimit("margin", 0.0, 4 - 0.1 * TIME, True)  # broken after 40
    cold = ServiceLimit("cold", 15.0, TIME, True)  # kept from 15
    window, _ = usable_window(TIME, (stiff, margin, cold), 0.0)
    assert (window.start, window.end) == pytest.approx((15.0, 40.0))
    assert (window.opened_by, window.ended_by) == ("cold", "margin")


def test_window_starts_when_uncovered_and_may_not_end():
    kept = ServiceLimit("kept", 5.0, np.ones(TIME.size), False)
    window, _ = usable_window(TIME, (kept,), 30.0)
    assert (window.start, window.end) == (30.0, 100.0)
    assert (window.opened_by, window.ended_by) == ("uncovered", "end of the time followed")


def test_no_window_names_what_prevents_it():
    never = ServiceLimit("never", 5.0, np.zeros(TIME.size), True)
    fine = ServiceLimit("fine", 5.0, np.zeros(TIME.size), False)
    window, without = usable_window(TIME, (never, fine), 0.0)
    assert window is None and without == ("never",)
    early = ServiceLimit("early", 20.0, TIME, False)
    late = ServiceLimit("late", 60.0, TIME, True)
    window, without = usable_window(TIME, (early, late), 0.0)
    assert window is None and set(without) == {"early", "late"}


def test_unknown_is_not_kept():
    gap = ServiceLimit("gap", 0.0, np.where(TIME > 45, np.nan, 1.0), True)
    window, _ = usable_window(TIME, (gap,), 0.0)
    assert window.end <= 50.0


def test_warm_part_peels_off_a_mold_that_locks_a_cold_one():
    # Common practice, no source: a warm, still bendy part can be peeled off a mold that would
    # lock a cold one.
    curves = material_curves(Material("hot-melt-eva"))
    found = demolding_range(0.3, curves)
    assert found.low < 294.15 < found.high
    assert found.high == pytest.approx(313.15)
    assert float(curves.strain_at_break(np.array([found.low]))[0]) == pytest.approx(0.6, rel=0.02)
    assert float(curves.strain_at_break(np.array([255.15]))[0]) < 0.6
    more = demolding_range(0.6, curves)
    assert more.low > found.low


def test_too_much_peel_is_refused_with_the_reason():
    curves = material_curves(Material("hot-melt-eva"))
    found = demolding_range(10.0, curves)
    assert found.low is None and found.high is None
    assert "less undercut" in found.notes[0]


def test_peel_without_data_is_unknown(brittle):
    silent = dataclasses.replace(brittle, strain_at_break=None)
    found = demolding_range(0.01, silent)
    assert found.low is None and found.low_by == "unknown"
    loose = dataclasses.replace(brittle, strain_at_break=constant(0.5))
    assert any("try a piece" in note for note in demolding_range(0.01, loose).notes)


def test_peel_above_room_says_so(brittle):
    ramp = dataclasses.replace(
        brittle, softening_temperature=360.0,
        strain_at_break=lambda t: np.interp(t, [300.0, 340.0], [0.01, 0.41]))
    found = demolding_range(0.05, ramp)
    assert found.low == pytest.approx(309.0, abs=0.01)
    assert found.high == pytest.approx(340.0)
    assert "peel it warm" in found.notes[0]


def test_peel_strain_of_a_strip():
    # Cantilever strip: strain = 3 t u/(2 L^2), Gere and Timoshenko.
    assert peel_strain(1e-3, 2e-3, 20e-3) == pytest.approx(0.0075)
