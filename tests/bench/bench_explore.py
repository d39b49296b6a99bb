"""Response of the page: the parts on the server, and from move to drawing in a real browser.

Each figure is the median of repeated runs in milliseconds, and its ratio to the tenth of a second
in which a change still feels immediate (Miller, Response time in man-computer conversational
transactions, AFIPS 1968; from memory). Run it on a quiet machine:
tests/bench/bench_explore.py [FILE.toml]
"""

from __future__ import annotations

import functools
import statistics
import sys
import time
from collections.abc import Callable
from pathlib import Path

HERE = Path(__file__).parent
EXAMPLE = HERE.parents[1] / "examples" / "lake-probe.toml"
LIMIT = 100.0  # ms
RUNS = 15


def row(name: str, times: list[float]) -> None:
    middle = statistics.median(times)
    print(f"{name:34s} {middle:8.1f} ms   {middle / LIMIT:5.2f} of the limit   "
          f"worst {max(times):8.1f} ms")


def server_row(name: str, work: Callable[[], object]) -> None:
    """Wall time, and processor time, which a busy machine stretches less."""
    work()
    times, used = [], []
    for _ in range(RUNS):
        start, before = time.perf_counter(), time.process_time()
        work()
        times.append((time.perf_counter() - start) * 1e3)
        used.append((time.process_time() - before) * 1e3)
    row(name, times)
    print(f"{'  of it on the processor':34s} {statistics.median(used):8.1f} ms")


def bench_server(path: Path) -> None:
    from gridshell.define.files.reading import read_design
    from gridshell.explore.answer import answer, details
    from gridshell.explore.axes import axis_of
    from gridshell.explore.chart import chart
    from gridshell.explore.controls import controls_of, stated
    from gridshell.explore.scene.scene import scene

    base = read_design(path)
    controls = controls_of(base)
    design = stated(base, controls, {})
    axes = [axis_of(base, base, controls, path) for path in ("ribs.height", "ribs.spacing")]
    print(f"on the server, {path.name}")
    server_row("reading what the page states", lambda: stated(base, controls, {}))
    server_row("numbers, plain wall, section", lambda: answer(design, controls))
    server_row("light mesh", lambda: scene(design))
    for count in (11, 28):
        server_row(f"map of {count} x {count} designs",
                   functools.partial(chart, design, *axes, count))
    server_row("checks and limits (when at rest)", lambda: details(design))


def bench_page(path: Path) -> None:
    sys.path.insert(0, str(HERE.parent / "explore"))
    from conftest import first_of
    from running_page import Served

    try:
        from selenium import webdriver
    except ImportError:
        print("no selenium: the page itself is not measured")
        return
    program, driver = first_of("chromium", "chromium-browser"), first_of("chromedriver")
    if not program or not driver:
        print("no Chromium with its driver: the page itself is not measured")
        return
    options = webdriver.ChromeOptions()
    options.binary_location = program
    for word in ("--headless=new", "--no-sandbox", "--use-gl=angle", "--use-angle=swiftshader",
                 "--enable-unsafe-swiftshader", "--window-size=1280,720"):
        options.add_argument(word)
    served = Served(path)
    browser = webdriver.Chrome(
        options=options, service=webdriver.ChromeService(executable_path=driver))
    try:
        browser.get(served.address)
        browser.set_script_timeout(120)
        for name, path_moved in (("rib height", "ribs.height"), ("skin", "skin.thickness"),
                                 ("temperature", "material.temperature")):
            times = browser.execute_async_script("""
                const [path, runs, done] = arguments;
                const range = document.querySelector(`[data-path="${path}"] input[type=range]`);
                const pause = (ms) => new Promise((go) => setTimeout(go, ms));
                (async () => {
                    while (!window.explored?.settled()) await pause(50);
                    const view = window.explored;
                    for (const list of Object.values(view.timing)) list.length = 0;
                    for (let i = 0; i < runs; i++) {
                        const share = 0.3 + 0.4 * i / runs;
                        range.value = +range.min + share * (range.max - range.min);
                        range.dispatchEvent(new Event('input'));
                        await pause(30);
                        while (!view.settled()) await pause(10);
                        await pause(600);
                    }
                    done(view.timing);
                })();""", path_moved, RUNS)
            print(f"at the page, moving {name}: from move to drawing")
            for kind, label in (("answer", "numbers and section"), ("map", "map"),
                                ("scene", "light mesh")):
                if times[kind]:
                    row(f"  {label}", times[kind])
    finally:
        browser.quit()
        served.close()


if __name__ == "__main__":
    file = Path(sys.argv[1]) if len(sys.argv) > 1 else EXAMPLE
    bench_server(file)
    bench_page(file)
