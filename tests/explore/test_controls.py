"""What the page states becomes the design that the same words in a file would make."""

from __future__ import annotations

import dataclasses

import pytest

from gridshell.define.errors import DefinitionError, InputError
from gridshell.define.files.reading import design_from_table, read_design
from gridshell.define.files.writing import definition_text
from gridshell.explore.controls import controls_of, stated


@pytest.fixture(scope="module", params=["lake-probe", "tide-mast", "gauge-housing-inch"])
def base(request, examples):
    return read_design(next(path for path in examples if path.stem == request.param))


def test_untouched_page_states_the_file(base):
    assert stated(base, controls_of(base), {}) == base


def test_start_lies_in_the_range_of_each_slider(base):
    for slider in controls_of(base).sliders:
        number = float(slider.start.split()[0])
        assert slider.low <= number <= slider.high, slider
        assert 50 <= (slider.high - slider.low) / slider.step <= 400, slider


@pytest.mark.parametrize("pattern", ["isogrid", "orthogrid", "diagonal", "plain"])
def test_every_pattern_writes_a_file_that_reads_as_the_same_design(base, pattern):
    import tomllib

    design = stated(base, controls_of(base), {"ribs.pattern": pattern})
    assert design.ribs.pattern == pattern
    read = design_from_table(tomllib.loads(definition_text(design)), folder=base.folder)
    assert definition_text(read) == definition_text(design)


def test_values_are_read_as_in_a_file(base):
    design = stated(base, controls_of(base), {"ribs.height": "0.2 in"})
    assert float(design.ribs.height) == pytest.approx(5.08e-3, rel=1e-12)


@pytest.mark.parametrize(("values", "path"), [
    ({"ribs.height": "5"}, "ribs.height"),
    ({"ribs.height": "5 kg"}, "ribs.height"),
    ({"ribs.height": "-1 mm"}, "ribs.height"),
    ({"ribs.height": "1e999 mm"}, "ribs.height"),
    ({"ribs.height": 5}, "ribs.height"),
    ({"ribs.height": "5 mm" + " " * 100}, "ribs.height"),
    ({"ribs.pattern": "squares"}, "ribs.pattern"),
    ({"ribs.pattern": "families"}, "ribs.pattern"),
    ({"ribs.colour": "red"}, "ribs.colour"),
    ({"tube.sections": "2"}, "tube.sections"),  # no slider; see test_edits.py
    ({"ribs.width": "90 m"}, "ribs.width"),
])
def test_refused_with_the_path(base, values, path):
    with pytest.raises(DefinitionError) as refused:
        stated(base, controls_of(base), values)
    assert [problem.path for problem in refused.value.problems] == [path]


def test_values_must_be_a_table(base):
    with pytest.raises(InputError):
        stated(base, controls_of(base), ["ribs.height"])


def test_own_families_are_offered_only_where_the_file_has_them(make_design):
    design = dataclasses.replace(make_design("families"))
    assert "families" in controls_of(design).choices[0].options
    assert "families" not in controls_of(make_design("isogrid")).choices[0].options
    assert stated(design, controls_of(design), {"ribs.pattern": "isogrid"}).ribs.family == ()
