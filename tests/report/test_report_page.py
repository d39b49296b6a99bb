"""The report page: self-contained, complete, and whole on a screen, a phone and paper."""

from __future__ import annotations

import re
import shutil
import subprocess
from pathlib import Path

import pytest

from gridshell.cli import main
from gridshell.define.files.reading import read_design, read_toml
from gridshell.report.page.page import report_page
from gridshell.report.page.parts import picture
from gridshell.tube.assess import assess_tube

EXAMPLES = Path(__file__).parents[2] / "examples"


@pytest.fixture(scope="module")
def page() -> str:
    path = EXAMPLES / "lake-probe.toml"
    return report_page(read_design(path), read_toml(path)[1])[0]


def test_the_page_loads_nothing_from_outside(page: str) -> None:
    for address in re.findall(r"""(?:src|href|url)\s*[=(]\s*["']?([^"')\s>]+)""", page):
        assert address.startswith("data:"), address[:80]
    assert "<script" not in page


def test_the_page_has_the_answer_and_the_file_to_repeat_it(page: str) -> None:
    path = EXAMPLES / "lake-probe.toml"
    tube = assess_tube(read_design(path))
    for case in tube.cases:
        assert f"<b>{case.name}</b>" in page
        for check in case.checks:
            assert check.name in page and check.source.replace("'", "&#x27;") in page
    shown = re.findall(r"<pre>(.*?)</pre>", page, flags=re.S)[-1]
    import html

    assert html.unescape(shown) == path.read_text(encoding="utf-8")
    assert "licensed practice" in page


def test_the_page_begins_with_the_verdict_on_everything(page: str) -> None:
    from html import escape

    from gridshell.report.verdict import HEADS, verdict_of

    verdict = verdict_of(read_design(EXAMPLES / "lake-probe.toml"))
    body = page[page.index("<main>"):]
    assert body.index(HEADS[verdict.word]) < body.index("<h1>")
    for one in verdict.findings:
        assert body.index(escape(one.reason)) < body.index("<h1>")


def test_what_the_page_finds_of_chilling_is_in_its_verdict(monkeypatch) -> None:
    from gridshell.report.page import page as made
    from gridshell.report.verdict import FAILS, Finding

    bad = Finding("chilling", FAILS, "the tube cracks")
    for part in ("_temperature", "_chilling"):
        monkeypatch.setattr(made, part, lambda *_: ("", bad))
    for part in ("_loads", "_mold"):
        monkeypatch.setattr(made, part, lambda *_: "")
    monkeypatch.setattr(made, "picture", lambda *_: "")
    path = EXAMPLES / "pipe-liner.toml"
    _, verdict = report_page(read_design(path), read_toml(path)[1])
    assert verdict.word == FAILS and verdict.findings.count(bad) == 2


def test_words_of_the_user_are_escaped(tmp_path: Path, monkeypatch) -> None:
    from gridshell.report.page import page as made

    # What is drawn is data of a picture; the words beside it are made as ever.
    monkeypatch.setattr(made, "picture", lambda draw, words: picture(
        lambda path: path.write_text("<svg/>"), words))
    text = (EXAMPLES / "gauge-housing-inch.toml").read_text(encoding="utf-8")
    path = tmp_path / "odd.toml"
    path.write_text(text.replace('title = "', 'title = "<script>alert(1)</script> & '),
                    encoding="utf-8")
    page, _ = report_page(read_design(path), read_toml(path)[1])
    assert "<script" not in page and "&lt;script&gt;" in page


def test_the_command_refuses_to_overwrite(tmp_path: Path, capsys: pytest.CaptureFixture[str]
                                          ) -> None:
    target = tmp_path / "page.html"
    target.write_text("mine", encoding="utf-8")
    assert main(["report", str(EXAMPLES / "tide-mast.toml"), "--out", str(target)]) == 2
    assert "--force" in capsys.readouterr().err
    assert target.read_text(encoding="utf-8") == "mine"
    assert list(tmp_path.iterdir()) == [target]


def test_the_pdf_is_whole(tmp_path: Path) -> None:
    pytest.importorskip("weasyprint")
    from gridshell.report.page.page import write_pdf
    from gridshell.report.page.parts import document, section

    target = tmp_path / "report.pdf"
    write_pdf(document("one", section("two", "<p>three</p>")), target)
    assert target.read_bytes()[:5] == b"%PDF-"
    assert [p.name for p in tmp_path.iterdir()] == ["report.pdf"]


@pytest.mark.parametrize("width", [1280, 390])
def test_a_browser_shows_it_without_sideways_scrolling(
    page: str, tmp_path: Path, width: int
) -> None:
    browser = shutil.which("chromium")
    if browser is None:
        pytest.skip("no chromium on this machine (Debian package chromium)")
    # The page tells its own width; wide tables and pictures scroll inside their boxes.
    probe = (
        "<script>document.title = document.documentElement.scrollWidth + ' ' + "
        "document.documentElement.clientWidth + ' ' + [...document.images].every(i => "
        "i.naturalWidth > 0)</script></body>"
    )
    frame = tmp_path / "page.html"
    frame.write_text(page.replace("</body>", probe), encoding="utf-8")
    # Headless windows have a least width, so the phone is a frame within a wider window.
    outer = tmp_path / "outer.html"
    outer.write_text(
        f'<iframe src="page.html" style="width:{width}px;height:800px;border:0"></iframe><script>'
        "window.onload = () => { document.body.textContent = "
        "document.querySelector('iframe').contentDocument.title }</script>", encoding="utf-8")
    done = subprocess.run(
        [browser, "--headless", "--no-sandbox", "--disable-gpu", "--no-first-run",
         "--disable-background-networking", "--disable-component-update", "--disable-sync",
         "--allow-file-access-from-files", f"--user-data-dir={tmp_path / 'profile'}",
         "--virtual-time-budget=5000", "--dump-dom", outer.as_uri()],
        capture_output=True, text=True, timeout=60, check=False,
    )
    found = re.search(r"(\d+) (\d+) (true|false)", done.stdout)
    assert found, done.stdout[-500:] + done.stderr[-500:]
    assert int(found[1]) <= int(found[2]) <= width
    assert found[3] == "true"
