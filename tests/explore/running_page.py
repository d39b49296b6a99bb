"""A running page on a copy of an example, asked over plain HTTP or through a real browser."""

from __future__ import annotations

import http.client
import json
import os
import re
import signal
import subprocess
import sys
import time
from pathlib import Path

from gridshell.define.files.reading import read_design
from gridshell.explore.controls import controls_of, stated
from gridshell.report.numbers import shown
from gridshell.report.text.tube.result import tube_json
from gridshell.tube.assess import assess_tube

EXAMPLES = Path(__file__).parents[2] / "examples"
START = (
    "import sys; from gridshell.explore.serve.run import run_explore; "
    "sys.exit(run_explore(sys.argv[1], int(sys.argv[2]), False))"
)
# A folder to keep the screenshots in, to look at them; none are kept unless it is named.
KEEP = os.environ.get("GRIDSHELL_SCREENSHOTS")


class Served:
    """One running server."""

    def __init__(self, file: Path, port: int = 0) -> None:
        self.file, self.folder = file, file.parent
        self.process = subprocess.Popen(
            [sys.executable, "-c", START, str(file), str(port)], stdout=subprocess.PIPE, text=True,
        )
        lines = [self.process.stdout.readline() for _ in range(2)]
        found = re.search(r"http://127\.0\.0\.1:(\d+)/\?token=(\S+)", lines[1])
        assert found, lines
        self.port, self.token = int(found[1]), found[2]
        self.address = found[0]
        self.cookie = ""

    def ask(self, method, path, body=None, **headers):
        """(status, headers, body) of one request; a dict is sent as JSON."""
        if isinstance(body, dict):
            body = json.dumps(body)
            headers.setdefault("Content-Type", "application/json")
        if self.cookie:
            headers.setdefault("Cookie", self.cookie)
        connection = http.client.HTTPConnection("127.0.0.1", self.port, timeout=60)
        try:
            connection.request(
                method, path, body, {k.replace("_", "-"): v for k, v in headers.items()}
            )
            answer = connection.getresponse()
            return answer.status, answer.headers, answer.read()
        finally:
            connection.close()

    def enter(self):
        """Exchange the token for the cookie."""
        status, headers, _ = self.ask("GET", f"/?token={self.token}")
        assert status == 303, status
        self.cookie = headers["Set-Cookie"].split(";")[0]

    def json(self, method, path, body=None, **headers):
        """(status, content) of one request."""
        status, _, content = self.ask(method, path, body, **headers)
        return status, json.loads(content)

    def close(self):
        if self.process.poll() is None:
            self.process.send_signal(signal.SIGINT)
        self.process.wait(60)
        self.process.stdout.close()


def look(browser, width, height, dark=False, phone=False):
    """Give the window of a browser a size, a theme, and the ways of a phone."""
    browser.execute_cdp_cmd("Emulation.setDeviceMetricsOverride", {
        "width": width, "height": height, "deviceScaleFactor": 2 if phone else 1, "mobile": phone,
    })
    browser.execute_cdp_cmd("Emulation.setEmulatedMedia", {
        "features": [{"name": "prefers-color-scheme", "value": "dark" if dark else "light"}]
    })


def short_probe(folder):
    """The probe body cut short, so that its solids are quick to build; returns its file."""
    from gridshell.define.files.reading import read_design
    from gridshell.define.files.writing import write_definition
    from gridshell.define.tables.design import with_values

    design = with_values(read_design(EXAMPLES / "lake-probe.toml"), {
        "tube.length": 0.24, "tube.sections": 2, "units": "metric",
        # Wide pieces and steep ribs, so that some lock.
        "tube.segments": 3, "ribs.draft": 0.07})
    write_definition(design, folder / "probe-short.toml")
    return folder / "probe-short.toml"


class Page:
    """The page as a person uses it."""

    def __init__(self, browser, served):
        self.browser, self.served = browser, served
        self.open()

    def open(self):
        """Enter with the server's key, and wait until everything is there."""
        browser, served = self.browser, self.served
        name, _, value = served.cookie.partition("=")
        address = f"http://127.0.0.1:{served.port}/"
        browser.execute_cdp_cmd("Network.setCookie", {"name": name, "value": value, "url": address})
        browser.get(address)
        self.settle()

    def run(self, script, *arguments):
        return self.browser.execute_script(script, *arguments)

    def strike(self, key):
        """Strike a key as a person does, whatever has the focus."""
        from selenium.webdriver import ActionChains

        ActionChains(self.browser).send_keys(key).perform()

    def wait(self, script, seconds=180.0):  # a loaded machine takes its time
        end = time.monotonic() + seconds
        while time.monotonic() < end:
            found = self.run(f"return {script}")
            if found:
                return found
            time.sleep(0.03)
        raise AssertionError(f"never: {script}; page says {self.said()!r}")

    def said(self):
        return self.run("return document.getElementById('said').textContent")

    def values(self):
        return self.run("return window.explored?.values")

    def select(self, name, value):
        self.run("const [n, v] = arguments, node = document.getElementById(n); node.value = v;"
                 "node.dispatchEvent(new Event('change'));", name, value)

    def settle(self):
        """Wait until what is shown is of the values that are set."""
        self.wait("window.explored && window.explored.settled()")

    def answered(self):
        """Wait until the numbers are of the values that are set, whatever follows them."""
        self.wait("window.explored && window.explored.answered()")

    def key(self, path, key="ARROW_RIGHT", times=1, whole=True):
        from selenium.webdriver.common.keys import Keys

        slider = self.browser.find_element(
            "css selector", f'[data-path="{path}"] input[type=range]')
        self.run("const fold = arguments[0].closest('details'); if (fold) fold.open = true;",
                 slider)
        slider.send_keys(getattr(Keys, key) * times)
        self.settle() if whole else self.answered()

    def choose(self, path, word, whole=True):
        self.run("document.querySelector(arguments[0]).click()",
                 f'input[name="{path}"][value="{word}"]')
        self.settle() if whole else self.answered()

    def press(self, words):
        self.run("[...document.querySelectorAll('button')].find("
                 "b => b.textContent === arguments[0]).click()", words)

    def errors(self):
        return [entry for entry in self.browser.get_log("browser") if entry["level"] == "SEVERE"]

    def keep(self, name):
        if KEEP:
            self.browser.save_screenshot(str(Path(KEEP) / f"{name}.png"))

    def text(self, key, column=0):
        return self.run(
            "return document.querySelectorAll(`#numbers td[data-key=${arguments[0]}]`)"
            "[arguments[1]].childNodes[0].textContent", key, column)


def expected(page):
    base = read_design(page.served.file)
    controls = controls_of(base)
    moved = {control.path: page.values()[control.path] for control in controls.each}
    return stated(base, controls, moved)


def check_numbers(page):
    """What the page shows is what the commands' code gives for the values it states."""
    design = expected(page)
    tube = assess_tube(design)
    assert page.run("return window.explored.answer.tube") == json.loads(json.dumps(tube_json(tube)))
    assert page.text("mass") == shown(tube.mass, "mass", design.units)
    assert page.text("EI") == shown(tube.stiffness.EI, "stiffness", design.units).replace(
        "^2", "²")


def pixels(page):
    """Share of the canvas that is drawn, and how many colors it has."""
    return page.run("""
        const view = window.explored.solid; view.paint();
        const gl = view.gl, w = gl.drawingBufferWidth, h = gl.drawingBufferHeight;
        const data = new Uint8Array(w * h * 4);
        gl.readPixels(0, 0, w, h, gl.RGBA, gl.UNSIGNED_BYTE, data);
        let full = 0, rust = 0; const colors = new Set();
        for (let i = 0; i < data.length; i += 4) {
            if (!data[i + 3]) continue;
            full++; colors.add(data[i] >> 3 << 10 | data[i + 1] >> 3 << 5 | data[i + 2] >> 3);
            if (data[i] > 1.9 * data[i + 1] && data[i + 2] < 60) rust++;
        }
        return [full / (w * h), colors.size, rust];""")
