"""The page in a real headless browser: every slider, numbers, pins, undo, link, save, files."""

from __future__ import annotations

import json
import time

import pytest
from running_page import Page, check_numbers, expected, look, pixels

from gridshell.cli import main
from gridshell.define.files.reading import read_design
from gridshell.explore.controls import controls_of


@pytest.fixture(scope="module")
def page(open_browser, served):
    return Page(open_browser(), served)


def test_every_slider_and_choice_is_followed(page):
    before = page.run("return window.explored.answer.tube")
    base = read_design(page.served.file)
    moved = []
    for pattern in ("isogrid", "orthogrid", "diagonal"):
        page.choose("ribs.pattern", pattern, whole=False)
        check_numbers(page)
        for slider in controls_of(base).sliders:
            if pattern not in slider.patterns or slider.path in moved:
                continue
            was = page.run("return JSON.stringify(window.explored.answer)")
            page.key(slider.path, "PAGE_DOWN", 2, whole=False)  # less might round to the same cells
            check_numbers(page)
            assert page.values()[slider.path] != slider.start
            assert page.run("return JSON.stringify(window.explored.answer)") != was, slider.path
            moved.append(slider.path)
    assert sorted(moved) == sorted(s.path for s in controls_of(base).sliders)
    page.choose("ribs.pattern", "isogrid", whole=False)
    for path, word in (("ribs.orientation", "axial"), ("ribs.side", "outside"),
                       ("ribs.pattern", "plain")):
        page.choose(path, word, whole=False)
        check_numbers(page)
        if word == "outside":  # such ribs are seen on the whole tube
            assert page.run("return document.getElementById('cut').value") == "none"
    assert page.run("return document.querySelector('[data-path=\"ribs.height\"]').hidden")
    page.press("Reset")
    page.settle()
    assert page.run("return window.explored.answer.tube") == before
    # The axes that a plain wall does not have are there again.
    assert page.run("return ['across', 'up'].map(n => document.getElementById(`map-${n}`).value)"
                    ) == ["ribs.height", "ribs.spacing"]
    assert page.errors() == []


def test_dragging_follows_and_is_one_step_of_undo(page):
    page.run("""
        const range = document.querySelector('[data-path="skin.thickness"] input[type=range]');
        for (const value of [1.3, 1.5, 1.7, 1.9]) {
            range.value = value; range.dispatchEvent(new Event('input'));
        }
        range.dispatchEvent(new Event('change'));""")
    page.settle()
    assert page.values()["skin.thickness"] == "1.9 mm"
    check_numbers(page)
    page.press("Undo")
    page.settle()
    assert page.values()["skin.thickness"] == "1.4 mm"
    page.press("Redo")
    page.settle()
    assert page.values()["skin.thickness"] == "1.9 mm"
    page.press("Reset")
    page.settle()


def test_a_move_shows_its_numbers_before_the_answer(page):
    """Of the slider that has the focus, in the same breath; and below a margin of 0 it fails."""
    page.run("document.querySelector('[data-path=\"ribs.height\"] [type=range]').focus()")
    page.settle()
    before = page.text("mass")
    at_once = page.run("""
        const range = document.querySelector('[data-path="ribs.height"] [type=range]');
        range.value = range.min;
        range.dispatchEvent(new Event('input'));
        const text = (key) => document.querySelector(`#numbers td[data-key=${key}]`)
            .childNodes[0].textContent;
        return [text('mass'), text('margin'), document.getElementById('margin').textContent];""")
    assert at_once[0] != before and at_once[2].startswith("FAILS")
    page.run("document.querySelector('[data-path=\"ribs.height\"] [type=range]')"
             ".dispatchEvent(new Event('change'))")
    page.settle()
    check_numbers(page)
    assert [page.text("mass"), page.text("margin")] == at_once[:2]
    head = page.run("return document.getElementById('margin').textContent")
    assert head.startswith("FAILS; ") and at_once[2].split()[-1] in head
    # Above 0 the word of the design before does not stand beside the new margin.
    back = page.run("""
        const range = document.querySelector('[data-path="ribs.height"] [type=range]');
        range.value = range.max;
        range.dispatchEvent(new Event('input'));
        return document.getElementById('margin').textContent;""")
    assert back.startswith("verdict follows; structure margin +")
    page.run("document.querySelector('[data-path=\"ribs.height\"] [type=range]')"
             ".dispatchEvent(new Event('change'))")
    page.settle()
    page.press("Reset")
    page.settle()


def thumb(page, path):
    return page.run("const row = document.querySelector(`[data-path=\"${arguments[0]}\"]`);"
                    "return [Number(row.querySelector('[type=range]').value), "
                    "row.querySelector('.unit').hidden]", path)


def test_typed_numbers_move_the_thumb_and_keys_go_on_from_there(page):
    box = page.browser.find_element("id", "ribs-height")
    for typed, millimeters, own in (("8", 8.0, True), ("5,5", 5.5, True), ("0.25 in", 6.35, False)):
        box.clear()
        box.send_keys(f"{typed}\t")
        page.settle()
        page.wait("Math.abs(document.querySelector('[data-path=\"ribs.height\"] [type=range]')"
                  f".value - {millimeters}) < 1e-6")
        at, hidden = thumb(page, "ribs.height")
        assert at == pytest.approx(millimeters) and hidden != own  # never "0.25 in mm"
        assert float(expected(page).ribs.height) == pytest.approx(millimeters * 1e-3)
    page.key("ribs.height")
    assert float(expected(page).ribs.height) == pytest.approx(6.45e-3, abs=0.051e-3)
    page.press("Reset")
    page.settle()


def test_key_presses_in_a_row_are_one_step_of_undo(page):
    start = page.values()["ribs.height"]
    page.key("ribs.height", times=5)
    assert page.values()["ribs.height"] != start
    page.press("Undo")
    page.settle()
    assert page.values()["ribs.height"] == start
    page.press("Reset")
    page.settle()


def test_the_verdict_is_the_worst_of_structure_and_mold(page):
    from gridshell.report.numbers import margin
    from gridshell.report.verdict import HEADS, verdict_of

    verdict = verdict_of(expected(page))
    page.wait("document.getElementById('governs').textContent.includes('mold')"
              " && !document.getElementById('governs').textContent.includes('checking')")
    head = page.run("return document.getElementById('margin').textContent")
    assert head.lower().startswith(HEADS[verdict.word].lower())
    lowest = verdict.lowest
    assert f"lowest margin {margin(lowest.margin).replace('-', '−')} ({lowest.area})" in head
    lines = page.run("return document.getElementById('governs').textContent")
    for one in verdict.findings:
        assert f"{one.area} {one.word}" in lines
    assert "against a plain wall of equal mass" in lines


def test_each_slider_says_what_its_step_does(page):
    page.wait("document.querySelectorAll('.step:not(:empty)').length >= 5")
    said = page.run(
        "return document.querySelector('[data-path=\"ribs.height\"] .step').textContent")
    assert "margin" in said and "mass +" in said
    # Those that matter come first, what is built stands beside what is asked, cells have ticks.
    first = page.run("return [...document.querySelectorAll('#movers button')].map(b => "
                     "b.textContent)")
    assert len(first) == 3 and "rib height" in first
    built, ticks = page.run("const row = document.querySelector('[data-path=\"ribs.spacing\"]');"
                            "return [row.querySelector('.built').textContent, "
                            "row.querySelectorAll('.ticks i').length]")
    asked = page.values()["ribs.spacing"].split()[0]
    assert built.startswith("→ ") and built.endswith(" mm") and built.split()[1] != asked
    assert ticks > 1


def test_pinning_keeps_the_focus_and_the_map_speaks(page):
    from selenium.webdriver.common.keys import Keys

    page.run("[...document.querySelectorAll('#numbers button')][0].focus()")
    page.strike(Keys.ENTER)
    page.wait("document.activeElement.textContent === 'pin it'")
    page.run("[...document.querySelectorAll('#numbers button')].at(-1).focus()")
    page.strike(Keys.ENTER)
    page.wait("document.activeElement.textContent === 'pin it'")
    page.wait("document.querySelectorAll('#map .cells').length > 1")
    page.browser.find_element("id", "map").send_keys(Keys.ARROW_RIGHT)
    page.wait("document.getElementById('map-spoken').textContent.includes('mm')")
    assert page.run("""
        return [...document.querySelectorAll('button[aria-label]')].filter(b =>
            !b.getAttribute('aria-label').includes(b.textContent.trim())).map(b => b.outerHTML);
    """) == []
    page.press("Reset")
    page.settle()


def test_what_cant_be_built_is_told_at_its_control(page):
    box = page.browser.find_element("id", "ribs-width")
    box.clear()
    box.send_keys("30\t")
    page.wait("document.querySelector('[data-path=\"ribs.width\"] .wrong').textContent"
              ".includes('close the pockets')")
    assert page.run("return document.body.classList.contains('stale')")
    box.clear()
    box.send_keys("0,1 in\t")  # another unit, and a comma, are fine
    page.settle()
    assert float(expected(page).ribs.width) == pytest.approx(2.54e-3)
    check_numbers(page)
    page.press("Reset")
    page.settle()
    # The refusals above are the only errors that the browser may have noted.
    assert all("422" in entry["message"] for entry in page.errors())


def test_pins_stand_beside_and_the_link_restores_all(page):
    page.press("pin it")
    page.key("ribs.height", "PAGE_UP", 2)
    page.press("pin it")
    page.key("ribs.spacing", "PAGE_DOWN", 2)  # to other whole cells
    page.wait("document.querySelectorAll('#numbers thead th').length === 4")
    page.wait("location.hash.includes('pin2')")
    # The link follows when the sliders rest.
    spacing = page.values()["ribs.spacing"]
    page.wait("new URLSearchParams(location.hash.slice(1)).get('ribs.spacing') === "
              f"'{spacing}'")
    three = [page.text("mass", column) for column in (0, 2, 3)]
    assert len(set(three)) == 3
    page.keep("pins")
    address = page.run("return location.href")
    page.browser.get("about:blank")
    page.browser.get(address)
    page.settle()
    page.wait("document.querySelectorAll('#numbers thead th').length === 4")
    assert [page.text("mass", column) for column in (0, 2, 3)] == three
    # Each has a name of its own, and says in what it differs.
    page.run("const box = document.querySelector('#numbers .name'); box.value = 'low ribs';"
             "box.dispatchEvent(new Event('change'));")
    page.wait("location.hash.includes('low+ribs')")
    assert "rib height" in page.run(
        "return [...document.querySelectorAll('#numbers tbody tr')].find(r => "
        "r.textContent.startsWith('differs')).textContent")
    page.press("back to it")
    page.settle()
    assert page.text("mass") == three[1]
    page.press("unpin")
    page.press("unpin")
    page.wait("document.querySelectorAll('#numbers thead th').length === 2")


def test_map_shows_and_moves_the_design(page):
    from selenium.webdriver.common.keys import Keys

    page.press("Reset")
    page.settle()
    page.wait("document.querySelectorAll('#map .cells').length > 1")
    page.wait("document.querySelector('#map .zero').getAttribute('d').length > 20")
    before = page.values()
    page.browser.find_element("id", "map").send_keys(Keys.ARROW_RIGHT * 2 + Keys.ARROW_UP)
    page.settle()
    for name in ("ribs.height", "ribs.spacing"):
        assert float(page.values()[name].split()[0]) > float(before[name].split()[0])
    check_numbers(page)
    page.run("""
        const map = document.getElementById('map'), box = map.getBoundingClientRect();
        map.dispatchEvent(new MouseEvent('click', {clientX: box.left + box.width * 0.8,
            clientY: box.top + box.height * 0.7, bubbles: true}));""")
    page.settle()
    assert float(expected(page).ribs.height) > 9e-3
    check_numbers(page)
    page.press("Reset")
    page.settle()


def test_solid_is_drawn_cut_opened_and_marked(page):
    tube = pixels(page)
    assert 0.03 < tube[0] < 0.9 and tube[1] > 20 and tube[2] == 0
    page.run("document.querySelector('input[name=shown][value=mold]').click()")
    page.settle()  # its halves are asked for now
    assert page.run("return window.explored.solid.light.bodies.some(b => b.name === 'cavity')")
    mold = pixels(page)
    assert mold[1] > tube[1] / 2 and mold[0] != tube[0]
    page.run("document.getElementById('locks').click()")
    assert pixels(page)[2] > 50  # faces that lock
    # The place that is named lies on the half that the cut leaves, and on a flank.
    spot = page.run("const f = window.explored.figure; return f.lockPlace();")
    assert spot and spot[1] > 0
    named = page.run("return document.getElementById('overlay').textContent")
    assert all(name in named for name in ("core half", "cavity half", "casting", "locks here"))
    assert "lock on a straight pull" in page.run(
        "return document.getElementById('solid-said').textContent")
    page.keep("mold")
    page.run("""const cut = document.getElementById('cut'); cut.value = 'across';
        cut.dispatchEvent(new Event('change'));""")
    assert pixels(page)[0] != mold[0]
    page.run("""const cut = document.getElementById('cut'); cut.value = 'along';
        cut.dispatchEvent(new Event('change')); document.getElementById('locks').click();
        document.querySelector('input[name=shown][value=tube]').click();""")
    # What software leaves out of the picture is told of the one at rest alone: else the words
    # come and go, the drawing has other room each time, and is drawn for ever.
    assert page.run("""
        const view = window.explored.solid, { copies } = view.light, { slow } = view, told = [];
        view.slow = true; view.paint(); told.push(view.partial);
        view.light.copies = Array(400).fill(copies).flat();
        view.paint(true); told.push(view.partial); view.paint(); told.push(view.partial);
        view.light.copies = copies; view.paint(); told.push(view.partial);
        view.slow = slow; view.draw();
        return told;""") == [False, False, True, False]


def test_exact_solids_come_with_progress_and_are_shown(page):
    page.press("Build exact solids")
    page.wait("document.querySelector('.job progress')")
    page.wait("document.querySelector('.job[data-state=done]')", 300)
    page.wait("document.getElementById('exact').checked")
    assert "exact solids" in page.run("return document.getElementById('solid-said').textContent")
    assert pixels(page)[0] > 0.03
    page.keep("exact")
    page.key("ribs.height")  # a move goes back to the light mesh
    assert not page.run("return document.getElementById('exact').checked")
    assert "out of date" in page.run("return document.getElementById('solid-said').textContent")
    page.press("Build exact solids")
    page.wait("document.querySelector('.job[data-state=running]')")
    page.press("Stop")
    page.wait("document.querySelector('.job[data-state=stopped]')")
    page.press("Reset")
    page.settle()


def test_save_and_the_command_line_agree(page, capsys):
    page.key("ribs.height", "ARROW_RIGHT", 7)
    page.choose("ribs.side", "outside")
    page.press("Save definition…")
    name = page.browser.find_element("id", "save-name")
    name.clear()
    name.send_keys("kept")
    page.press("Save")
    page.wait("document.getElementById('said').textContent.includes('saved kept.toml')")
    assert main(["tube", str(page.served.folder / "kept.toml"), "--json"]) == 0
    told = json.loads(capsys.readouterr().out)
    told.pop("verdict")  # of the mold too, which the page asks for on its own
    assert told == page.run("return window.explored.answer.tube")
    page.press("Save definition…")
    page.press("Save")  # the name is taken now
    page.wait("document.getElementById('save-wrong').textContent.includes('there already')")
    page.press("Cancel")
    page.press("Reset")
    page.settle()


def test_make_the_files(page):
    """The one test of the whole way: page -> worker -> the mold's own code -> files."""
    page.choose("ribs.pattern", "plain")
    page.press("Make the files…")
    name = page.browser.find_element("id", "make-name")
    assert name.get_attribute("value") == "probe-short-mold"
    # What is against the mold stands where it is asked for.
    page.wait("document.getElementById('make-verdict').textContent.startsWith('mold ')")
    name.clear()
    name.send_keys("molds")
    page.press("Make")
    page.wait("[...document.querySelectorAll('.job')].some(j => j.dataset.state === 'done' "
              "&& j.textContent.includes('In molds: '))", 400)
    written = {path.name for path in (page.served.folder / "molds").iterdir()}
    assert {f"{piece}.{ending}" for piece in ("part", "core", "cavity", "mandrel")
            for ending in ("step", "stl", "3mf")} | {"pour-sheet.txt", "sheet-core.pdf"} <= written
    assert "no faults" in page.run("return document.getElementById('jobs').textContent")
    page.press("Make the files…")
    page.press("Make")  # the folder is there now
    page.wait("document.getElementById('make-wrong').textContent.includes('there already')")
    page.press("Cancel")
    page.press("Reset")
    page.settle()
    assert all("409" in entry["message"] for entry in page.errors())


@pytest.mark.parametrize(("name", "size", "dark", "phone"), [
    ("desktop-light", (1280, 720), False, False), ("wide-dark", (1920, 1080), True, False),
    ("phone-light", (390, 844), False, True),
])
def test_fits_the_window_and_nothing_is_cut(page, name, size, dark, phone):
    other, first = page.browser, page.browser.current_window_handle
    other.switch_to.new_window("tab")
    look(other, *size, dark=dark, phone=phone)
    page.errors()  # those of before are read
    seen = Page(other, page.served)
    time.sleep(1.0)  # until the fine map is there
    wide, tall = seen.run("return [document.documentElement.scrollWidth, "
                          "document.documentElement.scrollHeight]")
    assert wide <= size[0]
    if not phone:
        assert tall <= size[1]
    # Every label of the drawings lies inside its drawing.
    outside = seen.run("""
        return [...document.querySelectorAll('svg text')].filter(t => {
            const a = t.getBoundingClientRect(), b = t.ownerSVGElement.getBoundingClientRect();
            return a.width && (a.left < b.left - 1 || a.right > b.right + 1 || a.top < b.top - 2
                || a.bottom > b.bottom + 2);
        }).map(t => t.textContent);""")
    assert outside == []
    # Nor do two labels of one drawing lie over each other.
    assert seen.run("""
        return [...document.querySelectorAll('svg')].flatMap(svg => {
            const at = [...svg.querySelectorAll('text')].map(t => [t.textContent,
                t.getBoundingClientRect()]).filter(([, r]) => r.width);
            return at.flatMap(([a, p], i) => at.slice(i + 1).filter(([, q]) =>
                Math.min(p.right, q.right) - Math.max(p.left, q.left) > 2 &&
                Math.min(p.bottom, q.bottom) - Math.max(p.top, q.top) > 4)
                .map(([b]) => [a, b]));
        });""") == []
    # Everything that can be used has a name, and text stands out from what is behind it.
    unnamed = seen.run("""
        return [...document.querySelectorAll('button, input, select, canvas, #map')].filter(n =>
            !(n.getAttribute('aria-label') || n.textContent.trim() || n.labels?.length)
        ).map(n => n.outerHTML);""")
    assert unnamed == []
    for scheme in ("light", "dark"):
        look(other, *size, dark=scheme == "dark", phone=phone)
        faint = seen.run("""
            const bright = (c) => { const [r, g, b] = c.match(/[\\d.]+/g).map(v => {
                v /= 255; return v <= 0.04045 ? v / 12.92 : ((v + 0.055) / 1.055) ** 2.4; });
                return 0.2126 * r + 0.7152 * g + 0.0722 * b; };
            const style = (n) => getComputedStyle(n);
            const back = bright(style(document.getElementById('result')).backgroundColor);
            const ratio = (v) => (Math.max(v, back) + 0.05) / (Math.min(v, back) + 0.05);
            const all = (words) => [...document.querySelectorAll(words)];
            const texts = all('p, th, td, label, summary, #margin, .small')
                .map(n => [ratio(bright(style(n).color)), n.textContent.slice(0, 30)])
                .filter(([r]) => r < 4.5 && r > 1.2);
            const edges = all('button:not(:disabled), select, input[type=text], .group')
                .map(n => [ratio(bright(style(n).borderTopColor)), n.id || n.className])
                .filter(([r]) => r < 3);  // WCAG 2.1, 1.4.11
            return [...texts, ...edges];""")
        assert faint == [], scheme
    look(other, *size, dark=dark, phone=phone)
    assert seen.errors() == []
    if phone:
        other.execute_cdp_cmd("Emulation.setDeviceMetricsOverride", {
            "width": size[0], "height": tall, "deviceScaleFactor": 2, "mobile": True})
        time.sleep(0.5)
    seen.keep(name)
    other.close()
    other.switch_to.window(first)
