"""One self-contained HTML page: no network, readable on a screen and on A4 or letter paper."""

from __future__ import annotations

import re
from collections.abc import Iterable, Sequence
from html import escape

from scaleup.sentence import Words

STYLE = """
:root { color-scheme: light; }
* { box-sizing: border-box; }
body { font: 15px/1.45 system-ui, sans-serif; color: #1b1b1b; margin: 0 auto; max-width: 1100px;
  padding: 1.2rem; }
h1 { font-size: 1.5rem; margin: 0 0 .2rem; }
h2 { font-size: 1.1rem; margin: 1.6rem 0 .4rem; border-bottom: 1px solid #999; }
.scroll { overflow-x: auto; }
.scroll:focus-visible { outline: 2px solid #1b1b1b; }
table { border-collapse: collapse; font-variant-numeric: tabular-nums; }
th, td { border: 1px solid #bbb; padding: .2rem .45rem; text-align: right; vertical-align: top; }
th { background: #eee; }
td.text, th.text { text-align: left; }
.band { color: #555; font-size: .85em; white-space: nowrap; }
.caution { border: 2px solid #1b1b1b; padding: .5rem .8rem; }
.against { border-left: 6px solid #1b1b1b; padding-left: .7rem; font-weight: 600; }
figure { margin: 0 0 1.2rem; max-width: 46rem; break-inside: avoid; }
figure svg { width: 100%; height: auto; }
figcaption { font-size: .85em; color: #444; }
td.long { min-width: 7rem; }
footer { margin-top: 2rem; font-size: .8em; color: #444; overflow-wrap: anywhere; }
@page { margin: 15mm; }
@media print {
  body { font-size: 9.5pt; max-width: none; padding: 0; }
  .scroll { overflow: visible; }
  table { font-size: 7.5pt; }
  th, td { padding: 1pt 2pt; }
  tr, .caution { break-inside: avoid; }
  h2 { break-after: avoid; }
}
"""


LONG = 24
"""Characters from which a cell's text is given room to wrap well."""
UNITS = re.compile(r"(?<=[0-9)]) (?=(?:%|rpm|kN|N|MPa|mm|ms|s|min|kg|mg|tablets/h)(?![A-Za-z]))")


def plain(text: Words) -> str:
    r"""Return plain text as HTML; a number and its unit stay on one line.

    >>> plain("<b> at 45 rpm")
    '&lt;b&gt; at 45\xa0rpm'
    """
    return UNITS.sub("\N{NO-BREAK SPACE}", escape(str(text)))


def page(title: str, parts: Iterable[str], footer: Sequence[str]) -> str:
    """Return a whole page; parts are HTML already escaped, title and footer are plain text."""
    foot = "<br>".join(escape(line) for line in footer)
    return (
        '<!doctype html>\n<html lang="en">\n<head>\n<meta charset="utf-8">\n'
        '<meta name="viewport" content="width=device-width, initial-scale=1">\n'
        f'<link rel="icon" href="data:,">\n<title>{escape(title)}</title>\n'
        f"<style>{STYLE}</style>\n</head>\n<body>\n<main>\n<h1>{escape(title)}</h1>\n"
        + "\n".join(parts)
        + f"\n</main>\n<footer>{foot}</footer>\n</body>\n</html>\n"
    )


def section(heading: str, *parts: str) -> str:
    """Return a section; parts are HTML."""
    return f"<section>\n<h2>{escape(heading)}</h2>\n" + "\n".join(parts) + "\n</section>"


def paragraph(text: Words, kind: str = "") -> str:
    """Return a paragraph of plain text."""
    named = f' class="{kind}"' if kind else ""
    return f"<p{named}>{plain(text)}</p>"


def bullets(lines: Iterable[Words], *, ordered: bool = False) -> str:
    """Return a list of plain texts."""
    tag = "ol" if ordered else "ul"
    items = "".join(f"<li>{plain(line)}</li>" for line in lines)
    return f"<{tag}>{items}</{tag}>"


def table(
    caption: str, headings: Sequence[str], rows: Iterable[Sequence[Words]], texts: int = 1
) -> str:
    """Return a table that scrolls by itself and can be reached by keyboard.

    Cells are plain text; the first `texts` columns are aligned to the left, and a line break in a
    cell parts a value from its band.
    """
    head = "".join(
        f'<th scope="col"{_kind(place, texts)}>{escape(each)}</th>'
        for place, each in enumerate(headings)
    )
    body = "".join(
        "<tr>" + "".join(_cell(place, cell, texts) for place, cell in enumerate(row)) + "</tr>"
        for row in rows
    )
    label = escape(caption, quote=True)
    return (
        f'<div class="scroll" tabindex="0" role="region" aria-label="{label}">'
        f"<table><thead><tr>{head}</tr></thead><tbody>{body}</tbody></table></div>"
    )


def _kind(place: int, texts: int) -> str:
    return ' class="text"' if place < texts else ""


def _cell(place: int, cell: Words, texts: int) -> str:
    value, _, band = str(cell).partition("\n")
    small = f'<br><span class="band">{escape(band)}</span>' if band else ""
    kind = ' class="text long"' if place < texts and len(value) > LONG else _kind(place, texts)
    return f"<td{kind}>{plain(value)}{small}</td>"
