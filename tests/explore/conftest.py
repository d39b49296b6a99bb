"""A running page on a copy of an example, for the tests of this folder."""

from __future__ import annotations

import os
import shutil

import pytest
from running_page import EXAMPLES, Served, look, short_probe


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
            "--hide-scrollbars", "--enable-unsafe-swiftshader", "--disable-background-networking",
        ):
            options.add_argument(word)
        if os.geteuid() == 0:  # Chromium's own sandbox refuses root, as CI often is
            options.add_argument("--no-sandbox")
        options.set_capability("goog:loggingPrefs", {"browser": "ALL"})
        browser = webdriver.Chrome(
            options=options, service=webdriver.ChromeService(executable_path=driver)
        )
        opened.append(browser)
        look(browser, width, height, dark=dark, phone=phone)
        return browser

    yield open_one
    for browser in opened:
        browser.quit()
