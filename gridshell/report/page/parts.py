"""Pieces of the report page: escaped text, tables, pictures as data, the sheet of styles."""

from __future__ import annotations

import base64
import tempfile
from collections.abc import Callable, Sequence
from html import escape
from pathlib import Path

# One column on a phone, wide tables scroll on their own, sections stay whole on paper.
STYLE = """
:root { --ink: #222; --soft: #666; --line: #ccc; --good: #00684c; --bad: #a13c00;
  --warn: #7a5200; --wash: #f4f6f8; --paper: #fff; }
@media screen and (prefers-color-scheme: dark) {
  :root { --ink: #e6e6e6; --soft: #a9b0b6; --line: #4a5057; --good: #62d0a9; --bad: #ff9b66;
    --warn: #f2c14e; --wash: #24292e; --paper: #16191c; }
  figure img { background: #fff; padding: .4rem; }  /* pictures are drawn for white paper */
}
* { box-sizing: border-box; }
body { font: 16px/1.5 "DejaVu Sans", Verdana, sans-serif; color: var(--ink);
  background: var(--paper); margin: 0 auto; padding: 1rem; max-width: 62rem; }
h1 { font-size: 1.5rem; line-height: 1.25; margin: 0 0 .3rem; }
h2 { font-size: 1.15rem; margin: 2rem 0 .6rem; padding-bottom: .2rem;
  border-bottom: 2px solid var(--ink); }
h3 { font-size: 1rem; margin: 1.2rem 0 .4rem; }
p { margin: .4rem 0; }
.soft { color: var(--soft); }
.answer { background: var(--wash); border-left: 6px solid var(--ink); padding: .7rem 1rem;
  margin: .8rem 0; }
.answer ul { margin: .2rem 0; padding-left: 1.2rem; }
.verdict { border: 3px solid currentColor; padding: .6rem 1rem; margin: 0 0 1rem; }
.verdict > p { font-size: 1.3rem; margin: 0; }
.verdict ul { margin: .3rem 0 0; padding-left: 1.2rem; }
.open { color: var(--warn); font-weight: bold; }
.holds { color: var(--good); font-weight: bold; }
.fails { color: var(--bad); font-weight: bold; }
.facts { display: flex; flex-wrap: wrap; gap: .6rem; margin: .8rem 0; padding: 0;
  list-style: none; }
.facts li { border: 1px solid var(--line); padding: .5rem .7rem; flex: 1 1 11rem; }
.facts b { display: block; font-size: 1.15rem; }
.wide { overflow-x: auto; margin: .5rem 0; max-width: 100%; }
body { overflow-wrap: break-word; }
table { border-collapse: collapse; font-size: .82rem; width: 100%; }
th, td { text-align: left; vertical-align: top; padding: .3rem .6rem .3rem 0;
  border-bottom: 1px solid var(--line); }
th { border-bottom: 2px solid var(--ink); }
td.number, th.number { text-align: right; white-space: nowrap; }
figure { margin: .8rem 0; break-inside: avoid; overflow-x: auto; }
figure img { width: 100%; height: auto; display: block; }
@media screen { figure { overflow-x: auto; } figure img { min-width: 34rem; } }
figcaption { font-size: .82rem; color: var(--soft); }
.caution { border: 2px solid var(--bad); padding: .5rem .9rem; margin: .8rem 0;
  break-inside: avoid; }
pre { background: var(--wash); padding: .8rem; font-size: .74rem; line-height: 1.35;
  white-space: pre-wrap; overflow-wrap: anywhere; }
@media print {
  body { font-size: 10.5pt; max-width: none; padding: 0; }
  h2, h3, h3 + p { break-after: avoid; }
  tr { break-inside: avoid; }
  .wide { overflow: visible; }
}
@page { size: A4; margin: 16mm 14mm; @bottom-right { content: counter(page) " / " counter(pages);
  font: 8pt "DejaVu Sans", sans-serif; color: #666; } }
"""


def paragraphs(lines: Sequence[str], kind: str = "") -> str:
    """Lines as paragraphs."""
    mark = f' class="{kind}"' if kind else ""
    return "".join(f"<p{mark}>{escape(line)}</p>" for line in lines)


def listing(lines: Sequence[str]) -> str:
    """Lines as a list."""
    if not lines:
        return ""
    return "<ul>" + "".join(f"<li>{escape(line)}</li>" for line in lines) + "</ul>"


def _raised(text: str) -> str:
    """Powers as print has them; not for the definition file, which is to be read again."""
    return escape(text).replace("^2", "\u00b2").replace("^3", "\u00b3")


def table(rows: Sequence[Sequence[str]], head: Sequence[str], numbers: Sequence[int] = ()) -> str:
    """A table that scrolls on its own where it is too wide; ``numbers``: columns to the right."""
    def cells(row: Sequence[str], tag: str) -> str:
        return "".join(
            f'<{tag} class="number">{_raised(cell)}</{tag}>' if i in numbers
            else f"<{tag}>{escape(cell)}</{tag}>"
            for i, cell in enumerate(row)
        )

    body = "".join(f"<tr>{cells(row, 'td')}</tr>" for row in rows)
    return (
        f'<div class="wide" tabindex="0"><table><thead><tr>{cells(head, "th")}</tr></thead>'
        f"<tbody>{body}</tbody></table></div>"
    )


def picture(draw: Callable[[Path], object], words: str) -> str:
    """A figure drawn to a scratch file and put into the page as data; nothing is linked."""
    with tempfile.TemporaryDirectory() as folder:
        path = Path(folder) / "picture.svg"
        draw(path)
        data = base64.b64encode(path.read_bytes()).decode("ascii")
    return (
        f'<figure tabindex="0" aria-label="{escape(words, quote=True)}">'
        f'<img alt="{escape(words, quote=True)}" src="data:image/svg+xml;base64,{data}">'
        f"<figcaption>{escape(words)}</figcaption></figure>"
    )


def facts(pairs: Sequence[tuple[str, str]]) -> str:
    """A few large numbers with their names."""
    return '<ul class="facts">' + "".join(
        f"<li>{escape(name)}<b>{_raised(value)}</b></li>" for name, value in pairs
    ) + "</ul>"


def section(title: str, *content: str) -> str:
    """A headed section; nothing when it has no content."""
    inner = "".join(content)
    return f"<section><h2>{escape(title)}</h2>{inner}</section>" if inner else ""


def document(title: str, content: str) -> str:
    """The whole page."""
    return (
        '<!DOCTYPE html>\n<html lang="en"><head><meta charset="utf-8">'
        '<meta name="viewport" content="width=device-width, initial-scale=1">'
        f"<title>{escape(title)}</title><style>{STYLE}</style></head>"
        f"<body><main>{content}</main></body></html>\n"
    )
