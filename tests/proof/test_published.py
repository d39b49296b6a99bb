"""Published tests and worked examples: read in full, with their sources, predicted as they say.

Outside facts used here: Fairbairn's own formula for his tubes (quoted from his paper of 1858);
NASA/SP-8007-2020/REV 2, Eq. 34; the answers of worked examples in data/published_tests.toml.
"""

import json
import tomllib

import numpy as np
import pytest

from gridshell.define.errors import InputError
from gridshell.define.files.reading import design_from_table
from gridshell.define.units import parse_quantity
from gridshell.material.properties import Properties
from gridshell.proof.published.compare import DATA, DIMENSIONED, TESTS, WORKED, published_comparison
from gridshell.report.text.proof.prove import published_text
from gridshell.tube.buckling.general import buckling_loads
from gridshell.wall.assess import assess_wall


@pytest.fixture(scope="module")
def result():
    return published_comparison()


def of(result, group):
    return [row for row in result.rows if row.group == group]


def test_every_row_has_its_source(result):
    for row in result.rows:
        assert row.source and row.how and row.note and row.dimensions and row.ends


def test_no_row_is_dropped(result):
    content = tomllib.loads(DATA.read_text())
    count = sum(
        len(table.get("specimens", table.get("measured_over_classical")))
        for table in content.values()
    )
    statistics = result.statistics()
    assert count == len(result.rows) == 39
    assert count == statistics[TESTS]["count"] + statistics[WORKED]["count"]
    assert statistics[DIMENSIONED]["count"] == 24


def test_remembered_pressures_fit_the_formula_of_their_author(result):
    # p = 9672000 t^2.19/(l d), inch and pound: he drew it from these tests.
    ratios = []
    for row in tomllib.loads(DATA.read_text())["fairbairn-1858"]["specimens"]:
        formula = 9_672_000 * 0.043**2.19 / (row["length"] * row["diameter"])
        ratios.append(row["measured"] / formula)
    assert np.mean(ratios) == pytest.approx(1.0, abs=0.02)
    assert np.std(ratios) < 0.14


def test_tests_lie_where_the_readme_says(result):
    statistics = result.statistics()
    assert statistics[TESTS]["mean over perfect"] == pytest.approx(0.78, abs=0.01)
    assert statistics[DIMENSIONED]["mean over perfect"] == pytest.approx(0.83, abs=0.01)
    assert statistics[TESTS]["scatter over design"] < statistics[TESTS]["scatter over perfect"]
    # Lapped plate and commercial pipe fall below the design load; nothing else does.
    below = {row.group for row in result.rows if row.over_design < 1}
    assert below == {"fairbairn-1858", "long-tubes-1906"}
    assert min(row.over_design for row in result.rows if not row.worked) > 0.7


def test_worked_examples_come_out(result):
    assert of(result, "handbook-long-tube")[0].over_perfect == pytest.approx(1, abs=1e-3)
    assert of(result, "textbook-pressure")[0].over_perfect == pytest.approx(1, abs=0.03)
    axisymmetric = of(result, "nastran-5-1")
    for row in axisymmetric[:3]:
        assert row.over_perfect == pytest.approx(1, abs=2e-3)
        assert row.theory == pytest.approx(row.perfect, rel=0.01)
    # The slip in the source: its formula at four half waves.
    stress = 1e4 * (2.5**2 * 16 * np.pi**2 / (12 * 50**2) + 50**2 / (80**2 * 16 * np.pi**2))
    force = parse_quantity(f"{stress * 2 * np.pi * 80 * 2.5} lbf", "force")
    assert axisymmetric[3].perfect == pytest.approx(force, rel=2e-3)


INVENTED = """
[invented]
kind = "cylinders"
nature = "test"
load = "{load}"
source = "invented"
how = "invented"
note = "no such test was made"
ends = "invented"
length_unit = "in"
load_unit = "{unit}"
diameter_of = "inside"
diameter = 8.0
thickness = 0.04
modulus = "30e6 psi"
poisson = 0.3
ribs = {ribs}
specimens = [
    {{name = "short", length = 18, measured = 400, round = 3, theory = 420}},
    {{name = "long", length = 42, measured = 200}},
]
"""
RINGS = """{pattern = "families", side = "outside", height = "0.17 in", width = "0.09 in",
    family = [{angle = "90 deg", spacing = "1.2 in"}]}""".replace("\n", " ")
ISOGRID = '{pattern = "isogrid", height = "0.2 in", width = "0.08 in", spacing = "1.1 in"}'
ORTHOGRID = ('{pattern = "orthogrid", height = "0.2 in", width = "0.08 in", spacing = "1 in", '
             'hoop_spacing = "1.2 in"}')


def invented(tmp_path, load, unit, ribs):
    path = tmp_path / "invented.toml"
    path.write_text(INVENTED.format(load=load, unit=unit, ribs=ribs))
    return published_comparison(path).rows


@pytest.mark.parametrize("load, unit, kind, factor", [
    ("hydrostatic", "psi", "pressure", 0.75), ("lateral", "psi", "pressure", 0.75),
    # Rings leave bending along the tube to the skin: Eq. 14 with phi of Eq. 61, just below 0.75.
    ("compression", "lbf", "force", 0.65), ("bending", "in lbf", "moment", 0.7435),
    ("torsion", "in lbf", "moment", 0.67),
])
def test_ribbed_cylinders_are_read_under_every_load(tmp_path, load, unit, kind, factor):
    rows = invented(tmp_path, load, unit, RINGS)
    assert rows[0].measured == pytest.approx(parse_quantity(f"400 {unit}", kind))
    assert rows[0].theory == pytest.approx(parse_quantity(f"420 {unit}", kind))
    assert np.isnan(rows[1].theory) and (rows[0].measured_round, rows[1].measured_round) == (3, 0)
    assert rows[0].design == pytest.approx(factor * rows[0].perfect, rel=1e-4)
    if kind == "pressure":  # falls with the length
        assert rows[0].perfect > rows[1].perfect > 0
    # The same tube written by hand: ribs stand on the skin, so the skin's bore is kept.
    design = design_from_table({
        "title": "by hand", "material": {"name": "published"},
        "tube": {"outside_diameter": "8.42 in", "length": "18 in"},
        "skin": {"thickness": "0.04 in"},
        "ribs": {"pattern": "families", "side": "outside", "height": "0.17 in",
                 "width": "0.09 in", "family": [{"angle": "90 deg", "spacing": "1.2 in"}]},
    })
    modulus = parse_quantity("30e6 psi", "pressure")
    built = assess_wall(design, Properties("published", 294.15, modulus, 0.3, 1000.0, None))
    radius = 4.02 * 0.0254
    loads = buckling_loads(built)
    expected = {
        "hydrostatic": loads.hydrostatic.load, "lateral": loads.lateral.load,
        "compression": loads.compression.load * 2 * np.pi * radius,
        "bending": loads.compression.load * np.pi * radius**2,
        "torsion": loads.torsion.load * 2 * np.pi * radius**2,
    }[load]
    assert rows[0].perfect == pytest.approx(float(expected), rel=1e-6)


def test_grids_are_stiffer_than_their_skin(tmp_path):
    plain = invented(tmp_path, "compression", "lbf", '{pattern = "plain"}')[0]
    for ribs in (ISOGRID, ORTHOGRID):
        row = invented(tmp_path, "compression", "lbf", ribs)[0]
        assert row.perfect > 3 * plain.perfect and row.knockdown == 0.65
    phi = np.sqrt(4.02 / 0.04) / 16  # NASA/SP-8007-2020/REV 2, Eq. 9-10
    assert plain.knockdown == pytest.approx(1 - 0.901 * (1 - np.exp(-phi)))


@pytest.mark.parametrize("old, new, message", [
    ('load = "torsion"', 'load = "twist"', "'twist' is unknown; use compression"),
    ('diameter_of = "inside"', 'diameter_of = "in"', "'in' is unknown; use inside"),
    ('kind = "cylinders"', 'kind = "cones"', "'cones' is unknown; use plain-ratio"),
    ("poisson = 0.3\n", "", "invented, short: poisson is missing"),
    ('load_unit = "in lbf"', 'load_unit = "psi"', "wrong kind of quantity"),
])
def test_slips_in_a_data_file_are_named(tmp_path, old, new, message):
    text = INVENTED.format(load="torsion", unit="in lbf", ribs=RINGS)
    assert old in text
    path = tmp_path / "slip.toml"
    path.write_text(text.replace(old, new))
    with pytest.raises(InputError, match=message):
        published_comparison(path)


def test_tables(result):
    shown = published_text(result)
    assert "nan" not in shown
    assert all(row.name in shown for row in result.rows)
    assert all(group in shown for group in result.statistics())
    content = result.to_dict()
    json.dumps(content, allow_nan=False)
    assert content["rows"][0]["theory"] is None
    assert content["rows"][-1]["over_design"] is None
    assert content["rows"][0]["over_perfect"] == pytest.approx(
        content["rows"][0]["measured"] / content["rows"][0]["perfect"]
    )


def test_picture(result, tmp_path):
    from gridshell.report.plots.proof.whole_tube import draw_published

    draw_published(result, tmp_path / "published.svg")
    drawn = (tmp_path / "published.svg").read_text()
    assert drawn.count("<use") > 2 * len(result.rows)
