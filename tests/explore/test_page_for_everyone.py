"""The page by keyboard, for a checker of accessibility, in two tabs, and after a crash.

The checker is axe-core (Deque Systems), whose rules follow WCAG 2.1 of the W3C.
"""

from __future__ import annotations

import os
import signal
from pathlib import Path

import pytest
from running_page import Page, Served, short_probe


@pytest.fixture(scope="module")
def page(open_browser, tmp_path_factory):
    """A page on a server of its own, which may be killed."""
    server = Served(short_probe(tmp_path_factory.mktemp("everyone")))
    server.enter()
    yield (page := Page(open_browser(), server))
    page.served.close()


def axe_script():
    """The checker's script: a newer one may be named, else that of the package."""
    named = os.environ.get("GRIDSHELL_AXE")
    if named:
        return Path(named).read_text(encoding="utf-8")
    package = pytest.importorskip("axe_core_python", reason="axe-core-python is not installed")
    return next(Path(package.__file__).parent.rglob("axe.min.js")).read_text(encoding="utf-8")


def test_no_serious_finding_of_the_accessibility_checker(page):
    page.wait("document.querySelectorAll('.step:not(:empty)').length >= 5")
    page.run(axe_script())
    page.browser.set_script_timeout(120)
    page.run("document.querySelectorAll('details').forEach((fold) => { fold.open = true; });")
    page.press("pin it")
    page.wait("document.querySelector('#numbers .name')")
    for scheme in ("light", "dark"):
        page.browser.execute_cdp_cmd("Emulation.setEmulatedMedia", {
            "features": [{"name": "prefers-color-scheme", "value": scheme}]})
        found = page.browser.execute_async_script(
            "const done = arguments[0]; axe.run({resultTypes: ['violations']}).then("
            "(r) => done(r.violations), (e) => done([{id: String(e), impact: 'critical',"
            " nodes: []}]));")
        serious = [
            (one["id"], [node["html"][:120] for node in one["nodes"][:4]]) for one in found
            if one["impact"] in ("serious", "critical")
        ]
        assert serious == [], scheme
    page.press("unpin")


def test_everything_is_reached_by_the_keyboard(page):
    from selenium.webdriver.common.keys import Keys

    page.run("document.querySelectorAll('details').forEach((fold) => { fold.open = false; });"
             "document.activeElement.blur(); window.scrollTo(0, 0);")
    seen = []
    for _ in range(70):
        page.strike(Keys.TAB)
        seen.append(page.run(
            "const n = document.activeElement; return n.id || n.name || n.type || n.tagName"))
        if seen[-1] == "build":
            break
    assert seen.index("undo" if "undo" in seen else "reset") < seen.index("ribs-height")
    for name in ("ribs.pattern", "ribs.side", "range", "map-across", "map-color", "map", "solid",
                 "cut", "report", "save", "make", "SUMMARY", "build"):
        assert name in seen, (name, seen)
    # The skip link leads to the sliders, and a dialog opens and closes without a mouse.
    page.run("document.getElementById('save').focus()")
    page.strike(Keys.ENTER)
    assert page.run("return document.getElementById('save-dialog').open")
    page.strike(Keys.ESCAPE)
    page.wait("!document.getElementById('save-dialog').open")
    assert page.run("return document.activeElement.id") == "save"


def test_a_killed_worker_is_told_and_the_page_goes_on(page):
    page.press("Build exact solids")
    page.wait("document.querySelector('.job[data-state=running]')")
    children = Path(f"/proc/{page.served.process.pid}/task/{page.served.process.pid}/children")
    if not children.exists():
        pytest.skip("no /proc on this system")
    workers = [
        int(pid) for pid in children.read_text().split()
        if b"serve.worker" in Path(f"/proc/{pid}/cmdline").read_bytes()
    ]
    assert workers
    for pid in workers:
        os.kill(pid, signal.SIGKILL)
    page.wait("document.querySelector('.job[data-state=failed]')")
    assert "the page goes on" in page.run("return document.getElementById('jobs').textContent")
    page.key("ribs.height")
    assert page.errors() == []


def test_two_tabs_keep_to_themselves(page):
    first = page.browser.current_window_handle
    here = page.values()["skin.thickness"]
    page.browser.switch_to.new_window("tab")
    page.open()
    page.key("skin.thickness", "PAGE_UP")
    assert page.values()["skin.thickness"] != here
    page.browser.close()
    page.browser.switch_to.window(first)
    assert page.values()["skin.thickness"] == here
    page.key("ribs.height")


def test_a_killed_server_is_told_for_good_and_a_new_one_is_taken_up(page):
    """The same port, a new key: the address that it prints, opened anywhere in the browser."""
    first = page.browser.current_window_handle
    page.served.process.kill()
    page.served.process.wait()
    page.served.process.stdout.close()
    page.run("document.querySelector('[data-path=\"ribs.width\"] [type=range]').focus()")
    from selenium.webdriver.common.keys import Keys

    page.strike(Keys.ARROW_RIGHT)
    page.wait("!document.getElementById('gone').hidden")
    wanted = page.values()
    assert page.run("return document.body.classList.contains('stale')")
    page.served = Served(page.served.file, page.served.port)
    # It does not know the old key: the page says what to do, as long as it takes.
    page.wait("document.getElementById('gone').textContent.includes('started anew')")
    page.browser.switch_to.new_window("tab")
    page.browser.get(page.served.address)
    page.settle()
    page.browser.close()
    page.browser.switch_to.window(first)
    page.wait("document.getElementById('gone').hidden")
    page.settle()
    assert page.values() == wanted
    assert not page.run("return document.body.classList.contains('stale')")
