"""Remake the pictures of README.md: `python exports/pictures/make.py`, from the checkout.

The page needs Chromium with its driver and selenium (the test extra); the rest needs nothing more
than gridshell.
"""

from __future__ import annotations

import shutil
import subprocess
import sys
import tempfile
import time
from pathlib import Path

HERE = Path(__file__).parent
EXAMPLES = HERE.parents[1] / "examples"
LARGEST = 150_000  # bytes
PAGE = (
    "import sys; from gridshell.explore.serve.run import run_explore; "
    "sys.exit(run_explore(sys.argv[1], 0, False))"
)


def keep(source: Path, name: str, width: int) -> None:
    """Keep a picture at a width, in few colors."""
    from PIL import Image

    picture = Image.open(source).convert("RGB")
    height = round(picture.height * width / picture.width)
    small = picture.resize((width, height), Image.Resampling.LANCZOS)
    for colors in (128, 64, 32):
        small.quantize(colors).save(HERE / name, optimize=True)
        if (HERE / name).stat().st_size < LARGEST:
            return
    raise SystemExit(f"{name}: more than {LARGEST:,} bytes")


def result(folder: Path) -> None:
    """The probe beside plain walls."""
    import gridshell

    design = gridshell.read_design(EXAMPLES / "lake-probe.toml")
    gridshell.compare_walls(design).plot(folder / "result.png")
    keep(folder / "result.png", "result.png", 900)


def mode(folder: Path) -> None:
    """The governing buckling mode on the tube."""
    import gridshell
    from gridshell.report.numbers import margin
    from gridshell.report.plots.style import figure, headline, save
    from gridshell.report.plots.tube.first_buckle import draw_mode, first_mode

    tube = gridshell.assess_tube(gridshell.read_design(EXAMPLES / "lake-probe.toml")).result
    found = first_mode(tube, margin)
    assert found is not None
    with figure(7.5, 3.6) as (drawn, axes):
        draw_mode(axes, tube, found)
        axes.set_title("")
        headline(drawn, f"What buckles first: {found.where}")
        save(drawn, folder / "mode.png")
    keep(folder / "mode.png", "mode.png", 900)


def mold(folder: Path) -> None:
    """Both halves of a mold and the casting between them."""
    import gridshell

    design = gridshell.read_design(EXAMPLES / "collar.toml")
    gridshell.build_molds(design, folder / "mold", formats=["png"])
    keep(folder / "mold" / "assembly.png", "mold.png", 700)


def page(folder: Path) -> None:
    """The local page, as a browser shows it."""
    from selenium import webdriver

    file = shutil.copy(EXAMPLES / "lake-probe.toml", folder / "lake-probe.toml")
    served = subprocess.Popen([sys.executable, "-c", PAGE, file], stdout=subprocess.PIPE, text=True)
    assert served.stdout is not None
    try:
        address = [served.stdout.readline() for _ in range(2)][1]
        address = address[address.index("http"):].split()[0]
        options = webdriver.ChromeOptions()
        options.binary_location = shutil.which("chromium") or shutil.which("google-chrome") or ""
        for word in ("--headless=new", "--no-sandbox", "--window-size=1280,800",
                     "--hide-scrollbars", "--use-gl=angle", "--use-angle=swiftshader"):
            options.add_argument(word)
        driver = shutil.which("chromedriver")
        browser = webdriver.Chrome(options=options, service=webdriver.ChromeService(driver))
        try:
            browser.get(address)
            time.sleep(25)  # until the part is drawn
            browser.save_screenshot(str(folder / "page.png"))
        finally:
            browser.quit()
    finally:
        served.terminate()
        served.wait(60)
    keep(folder / "page.png", "page.png", 1000)


def main() -> None:
    """Make all, or those named on the command line."""
    makers = {"result": result, "mode": mode, "mold": mold, "page": page}
    for name in sys.argv[1:] or makers:
        with tempfile.TemporaryDirectory() as place:
            makers[name](Path(place))
        print(f"{name}.png: {(HERE / f'{name}.png').stat().st_size:,} bytes")


if __name__ == "__main__":
    main()
