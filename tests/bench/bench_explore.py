"""Response of the page: the parts on the server, and from move to drawing in a real browser.

Each figure is the median and the 95th percentile of repeated runs in milliseconds. A change still
feels immediate within a tenth of a second (Miller, Response time in man-computer conversational
transactions, AFIPS 1968; from memory). Run it on a quiet machine; the first line says how fast it
is, by ten million passes of an empty loop of Python:
tests/bench/bench_explore.py [FILE.toml]
"""

from __future__ import annotations

import functools
import math
import os
import platform
import statistics
import sys
import time
from collections.abc import Callable
from pathlib import Path

HERE = Path(__file__).parent
EXAMPLE = HERE.parents[1] / "examples" / "lake-probe.toml"
RUNS = 25
AT_ONCE = 5
POCKETS = 12_000  # of the mesh that is measured besides
# Where the time goes, from the browser's own records of each request (W3C Resource Timing).
PARTS = ("asked after", "sent after", "server", "received in", "drawn after")
MOVES = """
    const [path, first, runs, all, idle, key, done] = arguments;
    const pause = (ms) => new Promise((go) => setTimeout(go, ms));
    const rest = async () => { do await pause(40); while (!window.explored?.[idle]()); };
    (async () => {
        await rest();  // there are no sliders before
        const range = document.querySelector(`[data-path="${path}"] input[type=range]`);
        range.focus();  // as a hand or a key does before it moves
        await rest();
        const view = window.explored, moves = [];
        for (const list of Object.values(view.timing)) list.length = 0;
        performance.clearResourceTimings();
        performance.setResourceTimingBufferSize(5000);
        for (let i = first; i < first + runs; i++) {
            const share = 0.3 + 0.4 * i / all;
            if (!key) range.value = +range.min + share * (range.max - range.min);
            moves.push(performance.now());
            if (key) range.dispatchEvent(new KeyboardEvent('keydown', {key}));
            else range.dispatchEvent(new Event('input'));
            await rest();
            await pause(key ? 1500 : 450);  // what comes at rest is no part of the next move
            await rest();
        }
        const asked = performance.getEntriesByType('resource').map((e) => [
            e.name.split('/').pop(), e.startTime, e.requestStart, e.responseStart, e.responseEnd]);
        done([view.timing, moves, asked]);
    })();"""


def percentile(values: list[float], share: float) -> float:
    return sorted(values)[math.ceil(share * len(values)) - 1]


def row(name: str, times: list[float]) -> None:
    print(f"{name:34s} median {statistics.median(times):7.1f} ms   "
          f"p95 {percentile(times, 0.95):7.1f} ms   {len(times)} runs")


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
    print(f"{'  of it on the processor':34s} median {statistics.median(used):7.1f} ms")


def machine() -> str:
    times = []
    for _ in range(3):
        start = time.perf_counter()
        for _ in range(10_000_000):
            pass
        times.append(time.perf_counter() - start)
    return (f"{os.cpu_count()} cores, load {os.getloadavg()[0]:.1f}, Python "
            f"{platform.python_version()}, empty loop {min(times):.2f} s")


def with_pockets(path: Path, pockets: int):
    """The design of a file with spacings so close that each casting has about so many pockets."""
    from gridshell.define.files.reading import read_design
    from gridshell.define.tables.design import with_values
    from gridshell.mold.relief.ribbing import ribbing
    from gridshell.wall.geometry.lattice import lattice

    design = with_values(read_design(path), {
        "ribs.height": 1e-3, "ribs.width": 2e-4, "ribs.corner_radius": 1e-4,
        "ribs.root_fillet": 0.0, "ribs.smallest_pocket": 0.0})
    for _ in range(6):
        count = ribbing(design, lattice(design)).count
        close = {f"ribs.{name}": getattr(design.ribs, name) * math.sqrt(count / pockets)
                 for name in ("spacing", "hoop_spacing") if getattr(design.ribs, name)}
        design = with_values(design, close)
    return design


def bench_server(path: Path) -> None:
    from gridshell.define.files.reading import read_design
    from gridshell.explore.along import along
    from gridshell.explore.answer import answer, details, plain_beside, whole_column
    from gridshell.explore.axes import axis_of
    from gridshell.explore.chart import chart
    from gridshell.explore.controls import controls_of, stated
    from gridshell.explore.scene.scene import scene
    from gridshell.tube.assess import assess_tube

    base = read_design(path)
    controls = controls_of(base)
    design = stated(base, controls, {})
    tube = assess_tube(design)
    now = whole_column(tube)["si"]
    axes = [axis_of(base, base, controls, path) for path in ("ribs.height", "ribs.spacing")]
    print(f"on the server, {path.name}")
    server_row("reading what the page states", lambda: stated(base, controls, {}))
    server_row("numbers and section", lambda: answer(assess_tube(design), controls))
    server_row("  of it the assessment", lambda: assess_tube(design))
    server_row("unit loads", lambda: whole_column(tube))
    server_row("plain wall of equal mass", lambda: plain_beside(design, now))
    server_row("numbers along a slider", lambda: along(design, controls, "ribs.height"))
    server_row("light mesh", lambda: scene(design))
    many = with_pockets(path, POCKETS)
    server_row(f"light mesh, about {POCKETS:,} pockets", lambda: scene(many))
    for count in (11, 28):
        server_row(f"map of {count} x {count} designs",
                   functools.partial(chart, design, *axes, count, False))
    server_row("map of 28 x 28 with its bound", lambda: chart(design, *axes, 28))
    server_row("checks and limits (when at rest)", lambda: details(tube))


def shares(moves: list[float], drawn: list[float], asked: list[list], name: str) -> str:
    """Medians of the parts of a request that follows each move."""
    parts: list[list[float]] = []
    for move, end in zip(moves, drawn, strict=False):
        own = next((one for one in asked if one[0] == name and one[1] >= move - 1), None)
        if own is not None:
            _, start, sent, first, last = own
            parts.append([start - move, sent - start, first - sent, last - first,
                          end - (last - move)])
    return "" if not parts else ", ".join(
        f"{what} {statistics.median(times):.1f}"
        for what, times in zip(PARTS, zip(*parts, strict=True), strict=True))


def browser_of():
    """A headless Chromium that draws by software; None with the reason printed."""
    from conftest import first_of

    try:
        from selenium import webdriver
    except ImportError:
        print("no selenium: the page itself is not measured")
        return None
    program, driver = first_of("chromium", "chromium-browser"), first_of("chromedriver")
    if not program or not driver:
        print("no Chromium with its driver: the page itself is not measured")
        return None
    options = webdriver.ChromeOptions()
    options.binary_location = program
    for word in ("--headless=new", "--no-sandbox", "--enable-unsafe-swiftshader",
                 "--window-size=1280,720"):
        options.add_argument(word)
    browser = webdriver.Chrome(
        options=options, service=webdriver.ChromeService(executable_path=driver))
    browser.set_script_timeout(300)
    return browser


def bench_page(
    path: Path, moved: dict[str, str], runs: int = RUNS, idle: str = "settled", key: str = ""
) -> None:
    """Move sliders on a page of a file, far or by one stroke of a key each second or two."""
    from running_page import Served

    browser = browser_of()
    if browser is None:
        return
    served = Served(path)
    try:
        browser.get(served.address)
        while not browser.execute_script("return window.explored?.settled()"):
            time.sleep(0.2)  # all that is loaded once is no part of a move
        for name, path_moved in moved.items():
            timing: dict[str, list[float]] = {}
            moves: list[float] = []
            asked: list[list] = []
            for first in range(0, runs, AT_ONCE):  # a driver waits no longer than two minutes
                some = browser.execute_async_script(
                    MOVES, path_moved, first, min(AT_ONCE, runs - first), runs, idle, key)
                for kind, times in some[0].items():
                    timing.setdefault(kind, []).extend(times)
                moves += some[1]
                asked += some[2]
            print(f"at the page, moving {name}{', a step of a key' * bool(key)}: "
                  "from move to drawing")
            for kind, label, address in (
                ("numbers", "numbers", ""), ("answer", "verdict and section", "answer"),
                ("map", "map while moving", "map"),
                ("fine", "map at rest, since asked", ""), ("scene", "light mesh", "scene"),
            ):
                if timing.get(kind):
                    row(f"  {label}", timing[kind])
                    if parts := shares(moves, timing[kind], asked, address):
                        print(f"    {parts}")
    finally:
        browser.quit()
        served.close()


def main(path: Path) -> None:
    import tempfile

    from gridshell.define.files.writing import write_definition

    sys.path.insert(0, str(HERE.parent / "explore"))
    print(machine())
    bench_server(path)
    bench_page(path, {"rib height": "ribs.height", "skin": "skin.thickness",
                      "temperature": "material.temperature"})
    bench_page(path, {"skin": "skin.thickness", "temperature": "material.temperature"},
               key="ArrowRight")
    with tempfile.TemporaryDirectory() as folder:
        many = Path(folder) / "many.toml"
        write_definition(with_pockets(path, POCKETS), many)
        print(f"the same with about {POCKETS:,} pockets in each casting")
        # Its mold is not waited for; higher ribs would close its pockets.
        bench_page(many, {"skin": "skin.thickness"}, 10, "answered")


if __name__ == "__main__":
    main(Path(sys.argv[1]) if len(sys.argv) > 1 else EXAMPLE)
