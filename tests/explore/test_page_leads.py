"""What leads to a design on the page: maps of anything, first buckle, edited fields, goal, report.

A page of their own, fresh: those of `test_page.py` leave jobs and dialogs behind.
"""

from __future__ import annotations

import json

import pytest
from running_page import Page, check_numbers, pixels

from gridshell.define.files.reading import read_design
from gridshell.explore.edits import edited
from gridshell.report.text.tube.result import tube_json
from gridshell.tube.assess import assess_tube


@pytest.fixture(scope="module")
def page(open_browser, served):
    return Page(open_browser(), served)


def test_any_number_against_any_other(page):
    from selenium.webdriver.common.keys import Keys

    page.select("map-across", "skin.thickness")
    page.select("map-up", "tube.length")
    page.wait("document.getElementById('map').textContent.includes('tube length [mm]')")
    page.wait("document.querySelector('#map .zero')")
    before = page.values()
    page.browser.find_element("id", "map").send_keys(Keys.ARROW_RIGHT + Keys.ARROW_UP)
    page.settle()
    after = page.values()
    assert [p for p in after if after[p] != before[p]] == ["skin.thickness", "tube.length"]
    check_numbers(page)
    for color, text in (("stiffness", "EI per mass [N m2/kg]"), ("frequency", "[Hz]")):
        page.select("map-color", color)
        page.wait(f"document.getElementById('map-key').textContent.includes('{text}')")
    page.keep("map-frequency")
    # Loads and constants of the material are axes too, and a step along them edits the field.
    page.press("Reset")
    page.settle()
    page.select("map-color", "margin")
    page.select("map-across", "case[1].pressure")
    page.select("map-up", "material.modulus")
    page.wait("document.getElementById('map').textContent.includes('modulus, material [GPa]')")
    page.settle()
    before = page.values()
    page.browser.find_element("id", "map").send_keys(Keys.ARROW_RIGHT + Keys.ARROW_UP)
    page.settle()
    after = page.values()
    assert {p for p in after if after[p] != before.get(p)} == {
        "material.modulus", "case[1].pressure"}
    assert page.run("return window.explored.answer.tube") == json.loads(json.dumps(tube_json(
        assess_tube(edited(read_design(page.served.file), {
            path: after[path] for path in ("case[1].pressure", "material.modulus")})))))
    page.select("map-color", "margin")
    page.select("map-across", "ribs.height")
    page.select("map-up", "ribs.spacing")
    page.press("Reset")
    page.settle()


def test_the_map_of_the_next_step_is_there_before_the_step(page):
    """Of the slider that has the focus; and it is the map that would be asked for."""
    page.run("document.querySelector('[data-path=\"skin.thickness\"] [type=range]').focus()")
    page.wait("window.explored.pictures.ahead.size >= 2")
    page.run("window.explored.timing.map.length = 0")
    page.strike("\ue014")  # right
    assert page.run("return window.explored.timing.map.length") == 1
    there = page.run("return window.explored.pictures.map.data")
    status, asked = page.served.json("POST", "/map", {
        "values": page.values(), "count": 28, "quick": True, "across": "ribs.height",
        "up": "ribs.spacing"})
    assert status == 200 and there == asked
    page.press("Reset")
    page.settle()


def test_mass_against_margin_goes_through_what_was_visited(page):
    from selenium.webdriver.common.keys import Keys

    start = page.values()
    page.key("ribs.height", "PAGE_UP")
    page.run("document.querySelector('input[name=picture][value=mass]').click()")
    page.wait("document.querySelectorAll('#mass-margin .dot').length >= 2")
    picture = page.browser.find_element("id", "mass-margin")
    picture.send_keys(Keys.ARROW_RIGHT)
    assert "margin" in page.run("return document.getElementById('map-said').textContent")
    count = page.run("return document.querySelectorAll('#mass-margin .dot').length")
    for _ in range(count):  # one of them is the design that the file states
        picture.send_keys(Keys.ENTER)
        page.settle()
        if page.values() == start:
            break
        picture.send_keys(Keys.ARROW_RIGHT)
    check_numbers(page)
    page.run("document.querySelector('input[name=picture][value=map]').click()")
    page.press("Reset")
    page.settle()


def test_what_buckles_first_is_drawn_and_moves_on_request(page):
    page.run("document.querySelector('input[name=shown][value=buckle]').click()")
    page.wait("window.explored.solid.pair?.said.includes(window.explored.answer.buckles[0].name)")
    bent = pixels(page)
    assert bent[1] > 30 and bent[2] > 50  # what moves outward is rust
    sway = "return window.explored.solid.options.sway"
    still = page.run(sway)
    page.run("document.getElementById('animate').click()")
    page.wait(f"window.explored.solid.options.sway !== {still}")
    page.run("document.getElementById('animate').click()")
    other = page.run("return window.explored.answer.buckles.find(b => b.where === 'rib').name")
    page.select("check", other)
    page.wait(f"document.getElementById('solid-said').textContent.includes('{other}')")
    page.wait("document.getElementById('overlay').textContent.includes('rib ')")
    page.keep("rib")
    page.run("document.querySelector('input[name=shown][value=tube]').click()")


def test_everything_else_is_edited_by_the_readers_rules(page):
    margin = page.run("return window.explored.answer.now.si.margin")
    page.run("for (const d of document.querySelectorAll('#fields-fold, #fields details'))"
             " d.open = true;")
    box = page.browser.find_element("id", "field-case-1--pressure")
    box.clear()
    box.send_keys("40 kPa\t")
    page.settle()
    assert page.run("return window.explored.answer.now.si.margin") > margin + 0.5
    design = edited(read_design(page.served.file), {"case[1].pressure": "40 kPa"})
    assert page.run("return window.explored.answer.tube") == json.loads(json.dumps(
        tube_json(assess_tube(design))))
    # Without a load case there is no margin to color a map by, and the page says so.
    for _ in range(2):
        page.press("Leave out this case")
        page.settle()
    assert "no load case" in page.run("return document.getElementById('map-key').textContent")
    assert page.run("return document.getElementById('margin').textContent").startswith(
        ("not shown to hold", "verdict follows", "FAILS"))
    page.press("Undo")
    page.press("Undo")
    page.settle()
    page.press("Add a load case")
    page.settle()
    assert len(page.run("return window.explored.answer.tube.cases")) == 3
    box = page.browser.find_element("id", "field-tube-sections")
    box.clear()
    box.send_keys("0\t")
    page.wait("document.querySelector('[data-path=\"tube.sections\"] .wrong').textContent"
              ".includes('1 to')")
    page.press("Reset")
    page.settle()
    assert page.run("return window.explored.answer.now.si.margin") == margin
    page.run("document.getElementById('fields-fold').open = false")


def test_the_goal_is_sought_in_the_background_and_gone_to(page):
    page.run("document.getElementById('goal-fold').open = true; "
             "document.getElementById('goal-mold').checked = false;")
    box = page.browser.find_element("id", "field-target-margin")
    box.send_keys("0.5\t")
    page.settle()
    page.press("Find it")
    page.wait("document.querySelector('#goal-walls button')")
    assert "★" in page.run("return document.getElementById('goal-walls').textContent")
    page.keep("goal")
    page.press("go there")  # the search goes on with the plain wall: the move ends it
    page.settle()
    page.wait("/search stopped|lightest/.test(document.getElementById('goal-said').textContent)")
    assert page.run("return window.explored.answer.now.si.margin") >= 0.5 - 1e-6
    page.press("Reset")
    page.settle()
    assert "find it again" in page.run("return document.getElementById('goal-said').textContent")


def test_the_state_of_the_page_is_a_report_in_one_click(page):
    page.press("Report")
    page.wait("[...document.querySelectorAll('.job')].find(j => j.textContent.startsWith('report')"
              " && j.dataset.state === 'done')?.querySelector('a')", 200)
    address = page.run("return document.querySelector('.job a').getAttribute('href')")
    status, headers, content = page.served.ask("GET", address)
    assert status == 200 and headers["Content-Disposition"].startswith("attachment")
    assert page.text("mass").encode() in content
