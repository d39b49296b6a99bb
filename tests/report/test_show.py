"""Numbers as people read them."""

from __future__ import annotations

import math

import pytest
from hypothesis import given
from hypothesis import strategies as st

from gridshell.define.errors import InputError
from gridshell.define.units import KINDS
from gridshell.report.numbers import SHOWN, digits, margin, shown, table
from gridshell.report.plots.style import check_picture_path


@given(st.floats(allow_nan=False, allow_infinity=False, min_value=-1e30, max_value=1e30))
def test_digits_keep_the_value(value):
    written = digits(value)
    assert float(written.replace(",", "")) == pytest.approx(value, rel=6e-4, abs=1e-300)


@pytest.mark.parametrize("value, written", [
    (0.0, "0"), (1234.5, "1,234"), (12.3456, "12.35"), (0.9999999, "1.000"), (1e-7, "1.000e-07"),
    (math.inf, "none"), (-math.inf, "none"), (999999.9, "1,000,000"),
])
def test_digits(value, written):
    assert digits(value) == written


@pytest.mark.parametrize("kind", SHOWN)
def test_units_shown_are_of_their_kind(kind):
    assert kind in KINDS
    for system in ("metric", "inch"):
        assert shown(1.0, kind, system).split(" ", 1)[1]


@pytest.mark.parametrize("value, kind, system, written", [
    (0.0254, "length", "inch", "1.000 in"),
    (0.0254, "length", "metric", "25.40 mm"),
    (4.4482216152605, "force", "inch", "1.000 lbf"),
    (6.894757e6, "pressure", "inch", "1.000 ksi"),
    (5e3, "pressure", "metric", "5.000 kPa"),
    (70e9, "pressure", "metric", "70.00 GPa"),
    (294.15, "temperature", "metric", "21.00 degC"),
    (25.0, "mass", "metric", "25.00 kg"),
    (0.25, "ratio", "metric", "0.2500"),
])
def test_shown(value, kind, system, written):
    assert shown(value, kind, system) == written


@pytest.mark.parametrize("value, written", [
    (0.0, "+0.00"), (-1.0, "-1.00"), (0.126, "+0.13"), (math.inf, "no load"), (25.0, "+25.0"),
    (1234.0, "+1,230"),
])
def test_margins(value, written):
    assert margin(value) == written


def test_table_aligns_numbers_to_the_right():
    lines = table([["skin", "1.5 mm"], ["a rib", "12.25 mm"]], ["part", "size"]).splitlines()
    assert lines == ["part       size", "-----  --------", "skin     1.5 mm", "a rib  12.25 mm"]
    assert table([]) == ""


@pytest.mark.parametrize("name", ["a.gif", "a", "", "a.png.txt"])
def test_pictures_of_unknown_kind(name):
    with pytest.raises(InputError, match=r"use \.png"):
        check_picture_path(name)
    check_picture_path("a.PNG")
