"""Cautions by what is stated, without following the heat."""

from __future__ import annotations

import pytest

from gridshell.define.tables.chill import Chill, ChillStep
from gridshell.thermal.cautions import COLD, DRY_ICE, LIQUEFIED, chill_cautions


@pytest.mark.parametrize(("kind", "kelvin", "wanted"), [
    ("freezer", 263.15, set()),
    ("freezer", 243.15, {COLD}),
    ("dry-ice", 194.7, {COLD, DRY_ICE}),
    ("contact", 77.4, {COLD, DRY_ICE, LIQUEFIED}),
])
def test_cautions_by_temperature(kind, kelvin, wanted):
    step = ChillStep(kind=kind, temperature=kelvin, duration=600.0)
    found = set(chill_cautions(Chill(step=(step,))))
    assert found & {COLD, DRY_ICE, LIQUEFIED} == wanted


def test_local_rules_come_first():
    assert all("local" in words for words in (COLD, DRY_ICE, LIQUEFIED))
