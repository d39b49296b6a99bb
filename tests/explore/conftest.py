"""A running page on a copy of an example, asked over plain HTTP or through a real browser."""

from __future__ import annotations

import http.client
import json
import os
import re
import shutil
import signal
import subprocess
import sys
from pathlib import Path

import pytest

EXAMPLES = Path(__file__).parents[2] / "examples"
START = (
    "import sys; from gridshell.explore.serve.run import run_explore; "
    "sys.exit(run_explore(sys.argv[1], 0, False))"
)


class Served:
    """One running server."""

    def __init__(self, file: Path) -> None:
        self.file, self.folder = file, file.parent
        self.process = subprocess.Popen(
            [sys.executable, "-c", START, str(file)], stdout=subprocess.PIPE, text=True,
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


def short_probe(folder):
    """The probe body cut short, so that its solids are quick to build; returns its file."""
    from gridshell.define.files.reading import read_design
    from gridshell.define.files.writing import write_definition
    from gridshell.define.tables.design import with_values

    design = with_values(read_design(EXAMPLES / "lake-probe.toml"), {
        "tube.length": 0.24, "tube.sections": 2, "units": "metric"})
    write_definition(design, folder / "probe-short.toml")
    return folder / "probe-short.toml"


@pytest.fixture(scope="session")
def short_file(tmp_path_factory):
    """Definition file of a short probe body."""
    return short_probe(tmp_path_factory.mktemp("short"))


@pytest.fixture(scope="module")
def served(tmp_path_factory):
    """A server on a short probe body, entered already."""
    server = Served(short_probe(tmp_path_factory.mktemp("explore")))
    server.enter()
    yield server
    server.close()


@pytest.fixture
def fresh(tmp_path):
    """A server that nobody has entered."""
    shutil.copy(EXAMPLES / "tide-mast.toml", tmp_path)
    server = Served(tmp_path / "tide-mast.toml")
    yield server
    server.close()


def first_of(*names):
    return next((found for found in map(shutil.which, names) if found), None)


@pytest.fixture(scope="module")
def open_browser():
    """Function: a headless Chromium of a window size, or skip with the reason."""
    webdriver = pytest.importorskip("selenium.webdriver", reason="selenium is not installed")
    program = first_of("chromium", "chromium-browser", "google-chrome")
    driver = first_of("chromedriver", "chromium.chromedriver")
    if not program or not driver:
        pytest.skip("no Chromium with its driver; apt-get install chromium chromium-driver")
    opened = []

    def open_one(width=1280, height=720, dark=False, phone=False):
        options = webdriver.ChromeOptions()
        options.binary_location = program
        for word in (
            "--headless=new", "--disable-dev-shm-usage", f"--window-size={width},{height}",
            "--hide-scrollbars", "--use-gl=angle", "--use-angle=swiftshader",
            "--enable-unsafe-swiftshader", "--disable-background-networking",
        ):
            options.add_argument(word)
        if os.geteuid() == 0:  # Chromium's own sandbox refuses root, as CI often is
            options.add_argument("--no-sandbox")
        options.set_capability("goog:loggingPrefs", {"browser": "ALL"})
        browser = webdriver.Chrome(
            options=options, service=webdriver.ChromeService(executable_path=driver)
        )
        opened.append(browser)
        browser.execute_cdp_cmd("Emulation.setDeviceMetricsOverride", {
            "width": width, "height": height, "deviceScaleFactor": 2 if phone else 1,
            "mobile": phone,
        })
        scheme = "dark" if dark else "light"
        browser.execute_cdp_cmd("Emulation.setEmulatedMedia", {
            "features": [{"name": "prefers-color-scheme", "value": scheme}]
        })
        return browser

    yield open_one
    for browser in opened:
        browser.quit()
