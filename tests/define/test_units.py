"""Quantities with units. Factors: NIST SP 811 (2008), Appendix B (exact where marked there)."""

from __future__ import annotations

import pytest
from hypothesis import given
from hypothesis import strategies as st

from gridshell.define.errors import InputError
from gridshell.define.unit_table import USUAL, unit_lines
from gridshell.define.units import KINDS, _registry, _spelled, convert, parse_quantity


@pytest.mark.parametrize("written, kind, si", [
    ("1 in", "length", 0.0254),
    ("1 ft", "length", 0.3048),
    ("2.4 mm", "length", 2.4e-3),
    ("1 lb", "mass", 0.45359237),
    ("1 lbf", "force", 4.4482216152605),
    ("1 lbf in", "moment", 0.1129848290276167),
    ("1 psi", "pressure", 6894.757293168),
    ("10.2 Mpsi", "pressure", 10.2e6 * 6894.757293168),
    ("1 kgf", "force", 9.80665),
    ("32 degF", "temperature", 273.15),
    ("21 degC", "temperature", 294.15),
    ("194.7 K", "temperature", 194.7),
    ("5 delta_degC", "temperature_difference", 5.0),
    ("180 deg", "angle", 3.141592653589793),
    ("1.2 %", "ratio", 0.012),
    ("0.5", "ratio", 0.5),
    ("1 lb/in^3", "density", 27679.90471),
    ("9.81 m/s^2", "acceleration", 9.81),
    ("+.5e1 mm", "length", 5e-3),
    ("1/8 in", "length", 0.003175),
    ("2 3/4in", "length", 2.75 * 0.0254),
    ("2-3/4 in", "length", 2.75 * 0.0254),
    ("1/3", "ratio", 1 / 3),
])
def test_published_factors(written, kind, si):
    assert parse_quantity(written, kind) == pytest.approx(si, rel=1e-9)


@pytest.mark.parametrize("kind", USUAL)
def test_the_table_of_usual_units_is_what_the_units_library_makes_of_them(kind):
    si = KINDS[kind][0]
    for unit in USUAL[kind]:
        assert (kind, unit) in unit_lines()
        for value in (-40.0, 0.0, 1.0, 2.4, 7.3e5):
            quantity = _registry().Quantity(value, _spelled(unit, kind))
            assert parse_quantity(f"{value!r} {unit}", kind) == pytest.approx(
                quantity.to(si).magnitude, rel=1e-14, abs=1e-300), unit
            shown = _registry().Quantity(value, si).to(_spelled(unit, kind)).magnitude
            assert convert(value, kind, unit) == pytest.approx(shown, rel=1e-14, abs=1e-300), unit
    assert {unit for own, unit in unit_lines() if own == kind} == set(USUAL[kind])


@pytest.mark.parametrize("kind", KINDS)
def test_the_example_in_each_message_can_be_read(kind):
    example = KINDS[kind][1].split("'")[1]
    assert isinstance(parse_quantity(example, kind), float)


@pytest.mark.parametrize("written, kind, words", [
    ("2.4", "length", "has no unit"),
    ("1/8", "length", "has no unit"),
    ("1/0 in", "length", "has an unknown unit"),
    ("2.4 kg", "length", "wrong kind"),
    ("3 deg", "length", "wrong kind"),
    ("2 mm", "ratio", "wrong kind"),
    ("five mm", "length", "not a number"),
    ("nan mm", "length", "not a number"),
    ("inf mm", "length", "not a number"),
    ("1e999 mm", "length", "not finite"),
    ("1e300 km", "volume", "wrong kind"),
    ("1e308 km", "length", "not finite"),
    ("2 quux", "length", "unknown unit"),
    ("2 mm; import os", "length", "unknown unit"),
    ("2 " + "m*" * 50 + "m", "length", "is not a quantity"),
    ("2 mm\nmm", "length", "is not a quantity"),
    ("", "length", "not a number"),
    ("2,4 mm", "length", ""),
    ("2 **9**9**9", "length", ""),
    ("2 mm)", "length", ""),
    ("２ mm", "length", "not a number"),
])
def test_refused(written, kind, words):
    with pytest.raises(InputError) as error:
        parse_quantity(written, kind)
    message = str(error.value)
    assert words in message and "such as" in message and "\n" not in message.replace("\\n", "")


@given(st.text(max_size=60), st.sampled_from(sorted(KINDS)))
def test_any_text_is_a_quantity_or_one_clear_error(written, kind):
    try:
        value = parse_quantity(written, kind)
    except InputError as error:
        assert KINDS[kind][1] in str(error)
    else:
        assert value == value and abs(value) != float("inf")


@given(st.floats(1e-6, 1e6), st.sampled_from(["mm", "in", "ft", "um"]))
def test_round_trip(value, unit):
    assert convert(parse_quantity(f"{value!r} {unit}", "length"), "length", unit) == pytest.approx(
        value, rel=1e-12)
