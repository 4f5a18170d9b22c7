"""Parts of the pages of a trial: blanks, tables to write in, and sheets with their footers."""

from __future__ import annotations

from collections.abc import Iterable, Iterator, Sequence
from dataclasses import dataclass, field
from html import escape
from itertools import count
from math import ceil

from scaleup.sentence import Words
from scaleup.show.page import paragraph, plain
from scaleup.show.trial_page_style import HEIGHT, ROW, STYLE

PARTED = {
    each.replace("-", ""): each.replace("-", "\N{SOFT HYPHEN}")
    for each in ("precom-pression", "sepa-ration", "tempera-ture", "thick-ness")
}
"""Long words of headings, and where a narrow column may part them."""
LETTERS = 104
"""Characters that surely fit on one line of text, and of a footer."""
LINE, HEADING, GAP = 4.3, 7.0, 1.1
"""Heights in mm of a line of text, of a heading above it and of the gap below a paragraph."""
ROOM = HEIGHT - 28.0
"""Height in mm of a sheet less its head and its foot."""
BOX = '<i class="box"></i>'


@dataclass(frozen=True)
class Block:
    """A piece of a sheet that is not parted, and the height in mm that it takes at most."""

    html: str
    height: float


@dataclass(frozen=True)
class TrialSheetPage:
    """One printed page: its head and what stands on it, as HTML."""

    name: str
    told: str = ""
    aside: str = ""
    parts: Sequence[str] = field(default_factory=tuple)


def flowed(name: str, blocks: Iterable[Block]) -> Iterator[TrialSheetPage]:
    """Yield as many pages as blocks need."""
    parts: list[str] = []
    left, told = ROOM, ""
    for block in blocks:
        if parts and block.height > left:
            yield TrialSheetPage(name, told, parts=parts)
            parts, left, told = [], ROOM, "continued"
        parts.append(block.html)
        left -= block.height
    yield TrialSheetPage(name, told, parts=parts)


def sheets_page(title: str, foot: Words, sheets: Sequence[TrialSheetPage]) -> str:
    """Return the whole document; every sheet ends in the foot and in which page it is."""
    body = "\n".join(
        _sheet(sheet, foot, f"page {number} of {len(sheets)}")
        for number, sheet in enumerate(sheets, start=1)
    )
    return (
        '<!doctype html>\n<html lang="en">\n<head>\n<meta charset="utf-8">\n'
        '<meta name="viewport" content="width=device-width, initial-scale=1">\n'
        f'<link rel="icon" href="data:,">\n<title>{escape(title)}</title>\n'
        f"<style>{STYLE}</style>\n</head>\n<body>\n<main>\n{body}\n</main>\n</body>\n</html>\n"
    )


def _sheet(sheet: TrialSheetPage, foot: Words, place: str) -> str:
    told = f"<span>{plain(sheet.told)}</span>" if sheet.told else ""
    aside = f'<span class="aside">{plain(sheet.aside)}</span>' if sheet.aside else ""
    parts = "\n".join(sheet.parts)
    rest = "" if 'class="lines"' in parts else '<div class="rest"></div>'
    return (
        f'<section class="sheet">\n<header><h1>{plain(sheet.name)}</h1>{told}{aside}</header>\n'
        f"{parts}\n{rest}<footer><span>{plain(foot)}</span><span>{place}</span></footer>\n</section>"
    )


def heading(text: str) -> str:
    """Return a heading within a sheet."""
    return f"<h2>{plain(text)}</h2>"


def text_height(text: Words) -> float:
    """Return the height in mm that a text takes at most."""
    return ceil(len(str(text)) / LETTERS) * LINE + GAP


def told(text: Words, kind: str = "") -> Block:
    """Return a paragraph."""
    frame = 4.0 if kind == "frame" else 0.0
    return Block(paragraph(text, kind), text_height(text) + frame)


def listing(above: str, texts: Sequence[Words], *, ordered: bool = False) -> Iterator[Block]:
    """Yield texts under their heading, each a block: a list, a paragraph for one, or nothing."""
    tag = "ol" if ordered else "ul"
    head = heading(above)
    for number, text in zip(count(1), texts, strict=False):
        start = f' start="{number}"' if ordered else ""
        item = f"<{tag}{start}><li>{plain(text)}</li></{tag}>"
        html = head + (item if len(texts) > 1 else paragraph(text))
        yield Block(html, text_height(text) + (HEADING if head else 0.0))
        head = ""


def headed(above: str, text: Words) -> Iterator[Block]:
    """Yield one text under its heading."""
    return listing(above, [text])


def fields(pairs: Sequence[tuple[str, Words]], kind: str = "") -> str:
    """Return facts under their names; one that is empty is a line to write on."""
    items = "".join(
        f"<div><dt>{plain(name)}</dt><dd>{plain(fact)}</dd></div>" for name, fact in pairs
    )
    named = f' class="{kind}"' if kind else ""
    return f"<dl{named}>{items}</dl>"


def unit_heading(name: str, unit: str = "") -> str:
    """Return a heading of a table with its unit, which is never parted from it."""
    words = escape(" ".join(PARTED.get(word, word) for word in name.split()))
    return f'{words} <span class="unit">{escape(unit)}</span>' if unit else words


def form_table(
    label: str,
    headings: Sequence[str],
    rows: Iterable[Sequence[str]],
    widths: Sequence[int] = (),
    texts: int = 0,
) -> str:
    """Return a table; headings and cells are HTML, an empty cell is written in by hand.

    The first cell of a row is its head, and the `texts` cells after it are aligned to the left.
    """
    columns = "".join(f'<col style="width:{width}%">' for width in widths)
    head = "".join(f'<th scope="col">{each}</th>' for each in headings)
    body = "".join(f"<tr>{_row(row, texts)}</tr>" for row in rows)
    return (
        f'<div class="scroll" tabindex="0" role="region" aria-label="{escape(label, quote=True)}">'
        f"<table><colgroup>{columns}</colgroup><thead><tr>{head}</tr></thead>"
        f"<tbody>{body}</tbody></table></div>"
    )


def _row(cells: Sequence[str], texts: int) -> str:
    first, *rest = cells
    later = "".join(
        f'<td class="text">{cell}</td>' if place < texts else f"<td>{cell}</td>"
        for place, cell in enumerate(rest)
    )
    return f'<th scope="row">{first}</th>{later}'


def table_height(rows: int, lines: int = 1) -> float:
    """Return the height in mm of a table whose cells have so many lines at most."""
    return 2.0 * LINE + 2.0 + rows * max(ROW, lines * LINE + 1.0)


def ticked(*choices: str) -> str:
    """Return choices to tick; none of them is parted from its box."""
    return " ".join(f'<span class="tick">{BOX}{escape(each)}</span>' for each in choices)


def signatures(*who: str) -> str:
    """Return lines for names and dates."""
    return fields([(f"{each}: name, signature, date", "") for each in who], "two")
