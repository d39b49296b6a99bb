"""Sentences in the units of the job: nothing converted twice, nothing of the user's touched."""

import re

import pytest
from hypothesis import given
from hypothesis import strategies as st

from gridshell.define.files.reading import read_design
from gridshell.define.tables.design import with_values
from gridshell.mold.checks.run import mold_checks
from gridshell.report.sentences import in_units


@pytest.mark.parametrize(("said", "shown"), [
    ("comes to 82 degC, softens at 80 degC", "comes to 180 degF, softens at 176 degF"),
    ("peel it between -80 and 40 degC", "peel it between -112 and 104 degF"),
    ("case 'bolt 8 mm': 8 mm", "case 'bolt 8 mm': 0.315 in"),
    ("4 N/mm, 3 N m, 2 kg/m^3, M6 screws, 5 min", "4 N/mm, 3 N m, 2 kg/m^3, M6 screws, 5 min"),
    ("1,250 kPa", "181.3 psi"), ("1.1e+03 kPa", "160 psi"), ("12 x 9.5 mm", "0.472 x 0.374 in"),
    ("mold.vents = 3 and 18 pockets", "mold.vents = 3 and 18 pockets"),
])
def test_converted(said, shown):
    assert in_units(said, "inch") == shown
    assert in_units(shown, "inch") == shown  # a second time changes nothing


@given(st.floats(0.01, 9999.0),
       st.sampled_from([("mm", 25.4), ("N", 4.4482216), ("kPa", 6.894757)]))
def test_a_number_keeps_its_value(value, unit):
    name, size = unit
    found = in_units(f"about {value:.3f} {name} wide", "inch")
    number = float(re.search(r"[\d,]+(?:\.\d+)?", found)[0].replace(",", ""))
    assert number == pytest.approx(round(value, 3) / size, rel=6e-3)


def test_checks_of_a_mold_speak_inches(examples):
    path = next(path for path in examples if path.stem == "collar")
    design = with_values(read_design(path), {"units": "inch"})
    for check in mold_checks(design).checks:
        for said in (check.advice, *check.notes):
            assert not re.search(r"\d (mm|kPa|MPa|degC|cm3|N|g)\b(?!/)", in_units(said, "inch"))
