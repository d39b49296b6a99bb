"""Published tests: read in full, dimensions right, and predicted as the reports say."""

import pytest

from gridshell.proof.published import DATA, INCH, PSI, published_comparison


@pytest.fixture(scope="module")
def result():
    return published_comparison()


def test_every_row_has_its_source(result):
    assert len(result.rows) == 5
    for row in result.rows:
        assert row.source and row.how and row.note


def test_no_row_is_dropped(result):
    import tomllib

    content = tomllib.loads(DATA.read_text())
    count = sum(len(t.get("measured", t.get("measured_over_classical"))) for t in content.values())
    assert count == len(result.rows) == result.statistics()["all"]["count"]


def test_ring_rows_are_read_and_fall_with_length(tmp_path):
    """An invented ring-stiffened cylinder: the reader for rows with dimensions."""
    path = tmp_path / "invented.toml"
    path.write_text("""
[invented]
kind = "rings"
load = "hydrostatic"
source = "invented"
how = "invented"
note = "no such test was made"
inside_diameter = 8.0
thickness = 0.04
ring_spacing = 1.2
ring_width = 0.09
ring_height = 0.17
ring_side = "outside"
modulus = 30e6
poisson = 0.3
bays = [15, 25, 35]
measured = [400, 300, 200]
measured_round = [3, 3, 2]
theory = [420, 310, 210]
""")
    rows = published_comparison(path).rows
    perfect = [row.perfect for row in rows]
    assert perfect[0] > perfect[1] > perfect[2] > 0
    assert rows[0].measured == pytest.approx(400 * PSI)
    assert rows[0].design == pytest.approx(0.75 * perfect[0])


def test_design_loads_cover_the_tests(result):
    assert all(row.over_design >= 1.0 for row in result.rows)
    statistics = result.statistics()["all"]
    assert statistics["scatter over design"] < statistics["scatter over perfect"]


def test_tables(result):
    rows = result.text_rows()
    assert len(rows) == 6 and all(len(row) == len(rows[0]) for row in rows)
    content = result.to_dict()
    assert content["rows"][-1]["theory"] is None
    assert content["rows"][0]["over_perfect"] == pytest.approx(
        content["rows"][0]["measured"] / content["rows"][0]["perfect"]
    )


def test_inch_and_psi():
    assert INCH == 0.0254
    assert pytest.approx(4.4482216152605 / 0.0254**2) == PSI
