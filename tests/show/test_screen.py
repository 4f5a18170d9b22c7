"""The comparison at fixed widths: whole, readable, without colour."""

from __future__ import annotations

import io
import re
import shutil
from collections import Counter
from dataclasses import replace
from functools import cache
from html import unescape
from html.parser import HTMLParser
from pathlib import Path

import pytest
from rich.console import Console

from scaleup.answers.functions import translate
from scaleup.answers.translation import Translation
from scaleup.io.starter import write_starter
from scaleup.io.study import read_study
from scaleup.model.estimate import Estimate
from scaleup.show.html import translation_html
from scaleup.show.numbers import band_text, value_text
from scaleup.show.rows import GROUPS
from scaleup.show.side_by_side import COLUMN_ROOM
from scaleup.show.terminal import show_translation

EXAMPLES = Path(__file__).parents[2] / "examples"
NAMES = ("marram", "dunlin", "sedge")
TITLES = {title for title, _ in GROUPS} | {""}
HEADINGS = [spec.heading for _, group in GROUPS for spec in group]


@cache
def answer(name: str) -> Translation:
    return translate(read_study(EXAMPLES / name), draws=400)


def screen(name: str, width: int) -> str:
    out = io.StringIO()
    show_translation(Console(file=out, width=width, highlight=False), answer(name))
    return out.getvalue()


def flat(text: str) -> str:
    """Return a text on one line, so that it can be sought however it was wrapped."""
    return " ".join(text.split())


@pytest.mark.parametrize("name", NAMES)
@pytest.mark.parametrize("width", [80, 100, 160])
def test_nothing_is_cut_at_any_width(name: str, width: int) -> None:
    text, found = screen(name, width), answer(name)
    assert max(map(len, text.splitlines())) <= width
    assert "\x1b" not in text
    assert "…" not in text
    told = flat(text)
    production = found.study.production
    whole = [found.study.name, production.press.profile.name, production.tooling.id, found.caution]
    for item in found.risks:
        whole += map(str, (item.message, item.evidence, item.action))
    for equivalent in found.equivalents:
        if not equivalent.reachable:
            whole.append(f"not reachable: {equivalent.reason}")
    for each in [*whole, *found.verdict.reasons, f"verdict: {found.verdict.answer}"]:
        assert flat(str(each)) in told


@pytest.mark.parametrize("name", NAMES)
def test_risks_are_told_worst_first(name: str) -> None:
    told = flat(screen(name, 80))
    order = {"severe": 0, "serious": 1, "watch": 2}
    ranks = [order[item.severity] for item in answer(name).risks]
    assert ranks == sorted(ranks)
    assert ranks
    places = [told.index(flat(f"{item.severity} {item.message}")) for item in answer(name).risks]
    assert places == sorted(places)
    assert told.index("verdict: ") < told.index("risks, worst first") < places[0]
    assert places[-1] < told.index("taken for granted") < told.index("caution: ")


CELL = re.compile(r"(?:n/a|[\d.]+)(?: \([\d.]+–[\d.]+\))?(?: \[\d+\])?")
BAND = re.compile(r"[\d.]*–[\d.]*|[\d.]+")
"""A band below its value; one too long for its column has its upper end on a line of its own."""


def table_of(text: str) -> dict[str, list[str]]:
    """Return the cells of the comparison by heading, a band below joined to its value.

    Columns are flush right, so a band belongs to the value that ends where it ends.
    """
    lines = text.splitlines()
    first = next(at for at, line in enumerate(lines) if line.startswith("──")) + 1
    last = next(at for at, line in enumerate(lines) if line.startswith("[1]"))
    table: dict[str, dict[int, str]] = {}
    heading = ""
    for line in lines[first:last]:
        if line.strip() in TITLES:
            continue
        label = line.split("  ", maxsplit=1)[0]
        if label and not heading.endswith(","):
            heading = label
            cells = CELL.finditer(line, len(label))
            table[heading] = {cell.end(): cell[0] for cell in cells}
            continue
        if label:  # the unit of a long heading stands below
            table[f"{heading} {label}"] = table.pop(heading)
            heading = f"{heading} {label}"
        for band in BAND.finditer(line, len(label)):
            cell = table[heading][band.end()]
            table[heading][band.end()] = f"{cell}{'' if cell.endswith('–') else ' '}{band[0]}"
    return {name: list(cells.values()) for name, cells in table.items()}


def expected(quantity: Estimate, factor: float) -> str:
    """Return what a cell shows without its note."""
    band = band_text(quantity, factor)
    return f"{value_text(quantity, factor)} {band}".strip()


@pytest.mark.parametrize("name", NAMES)
@pytest.mark.parametrize("width", [80, 160])
def test_every_figure_stands_in_its_cell(name: str, width: int) -> None:
    found, table = answer(name), table_of(screen(name, width))
    specs = [spec for _, group in GROUPS for spec in group]
    assert list(table) == HEADINGS
    for spec in specs:
        parts = [found.lab, *found.equivalents]
        quantities = [getattr(getattr(part, spec.part), spec.field) for part in parts]
        shown = [re.sub(r" \[\d+\]$|[()]", "", cell) for cell in table[spec.heading]]
        assert shown == [expected(each, spec.factor) for each in quantities]


SHOWN_UNITS = {("N", "kN"): 1e-3, ("s", "ms"): 1e3, ("1/h", "1000/h"): 1e-3, ("1", ""): 1.0}
"""What one core unit is in the unit shown, by the SI's prefixes; others are shown as they are."""


def test_every_heading_has_the_unit_of_its_figures() -> None:
    lab = answer("marram").lab
    for spec in (spec for _, group in GROUPS for spec in group):
        core = getattr(getattr(lab, spec.part), spec.field).unit
        assert core == spec.unit or (core, spec.unit) in SHOWN_UNITS, spec.heading
        assert spec.factor == SHOWN_UNITS.get((core, spec.unit), 1.0), spec.heading


@pytest.mark.parametrize("name", NAMES)
@pytest.mark.parametrize("width", [80, 160])
def test_every_mark_has_its_note(name: str, width: int) -> None:
    text = screen(name, width)
    notes = [int(mark) for mark in re.findall(r"^\[(\d+)\]", text, flags=re.MULTILINE)]
    assert notes == list(range(1, len(notes) + 1))
    table = text[: re.search(r"^\[1\]", text, flags=re.MULTILINE).start()]  # type: ignore[union-attr]
    marks = {int(mark) for mark in re.findall(r"\[(\d+)\]", table)}
    assert marks == set(notes)
    assert table.count("n/a") == len(re.findall(r"n/a \[\d+\]", table))
    assert table.count("n/a") > 0


@pytest.mark.parametrize("name", NAMES)
def test_no_band_is_shown_without_width(name: str) -> None:
    for cells in table_of(screen(name, 160)).values():
        for cell in cells:
            band = re.search(r"\((\S+)–(\S+)\)", cell)
            assert band is None or band[1] != band[2], cell


def hostile(name: str) -> Translation:
    """Return an answer whose study is named after the tricks of a terminal or a page."""
    record = answer("marram")
    return replace(record, study=replace(record.study, name=name))


@pytest.mark.parametrize(
    "name", ["[red]Marram[/red]", "[/] Marram", ":warning: Marram", "100 [mg]"]
)
def test_a_name_is_text_not_markup(name: str) -> None:
    out = io.StringIO()
    show_translation(Console(file=out, width=80), hostile(name))
    assert out.getvalue().splitlines()[0] == name


@pytest.mark.parametrize(
    ("quantity", "factor", "value", "band"),
    [
        (Estimate(151.462, "MPa", 140.2, 163.9), 1.0, "151", "140–164"),
        (Estimate(0.83374, "1", 0.82616, 0.84021), 1.0, "0.834", "0.826–0.840"),
        (Estimate(12027.5, "N", 11961.0, 12094.0), 1e-3, "12.03", "11.96–12.09"),
        (Estimate(45.0, "rpm", 45.0, 45.0), 1.0, "45", ""),
        (Estimate(None, "mm", reason="no fill depth"), 1.0, "n/a", ""),
        (Estimate(3.2, "MPa", reason="one run: no band"), 1.0, "3.2", ""),
    ],
)
def test_a_value_is_rounded_by_its_band(
    quantity: Estimate, factor: float, value: str, band: str
) -> None:
    assert value_text(quantity, factor) == value
    assert band_text(quantity, factor) == band


@pytest.mark.parametrize("name", ["<script>alert(1)</script>", "a & b", '"><img src=x>'])
def test_a_notebook_never_gets_a_name_raw(name: str) -> None:
    page = translation_html(hostile(name))
    assert name not in page
    assert unescape(page).count(name) == 1


class Tags(HTMLParser):
    """Counts the elements of a page."""

    def __init__(self, page: str) -> None:
        super().__init__()
        self.opened: Counter[str] = Counter()
        self.closed: Counter[str] = Counter()
        self.feed(page)
        self.close()

    def handle_starttag(self, tag: str, attrs: object) -> None:  # noqa: ARG002  the base's form
        self.opened[tag] += 1

    def handle_endtag(self, tag: str) -> None:
        self.closed[tag] += 1


@pytest.mark.parametrize("name", NAMES)
def test_a_notebook_gets_the_whole_table(name: str) -> None:
    record = answer(name)
    page = record._repr_html_()
    assert page == translation_html(record)
    tags = Tags(page)
    assert tags.opened["tr"] == 1 + len(HEADINGS)
    assert tags.opened["td"] == len(HEADINGS) * (1 + len(record.equivalents))
    assert tags.opened["li"] == len(record.risks)
    for tag in set(tags.opened) - {"br", "li"}:  # HTML lets the end tags of these two be left out
        assert tags.opened[tag] == tags.closed[tag]
    text = unescape(page)
    for risk in record.risks:
        assert str(risk.message) in text
    assert record.caution in text


def test_names_from_a_run_table_are_escaped(tmp_path: Path) -> None:
    study = Path(shutil.copytree(EXAMPLES / "marram", tmp_path / "marram"))
    for file, old, new in (
        ("study.toml", 'reference = "M4"', 'reference = "<b>[bold]M4"'),
        ("runs.csv", "\nM4,", "\n<b>[bold]M4,"),
    ):
        text = (study / file).read_text()
        assert old in text
        (study / file).write_text(text.replace(old, new))
    translation = translate(read_study(study), draws=300)
    assert "<b>[bold]" not in translation_html(translation)
    out = io.StringIO()
    show_translation(Console(file=out, width=80), translation)
    assert "runs <b>[bold]M4" in flat(out.getvalue())


def test_no_number_is_broken_across_lines(tmp_path: Path) -> None:
    """A band that is too long for its column breaks at the dash and nowhere else."""
    write_starter(tmp_path / "study")
    translation = translate(read_study(tmp_path / "study"), draws=400)
    out = io.StringIO()
    show_translation(Console(file=out, width=80, highlight=False), translation)
    words = out.getvalue().replace("–", " ").split()
    longest = 0
    for part in (translation.lab, *translation.equivalents):
        for spec in (spec for _, group in GROUPS for spec in group):
            band = band_text(getattr(getattr(part, spec.part), spec.field), spec.factor)
            assert set(band.split("–")) - {""} <= set(words), (spec.field, band)
            longest = max(longest, len(band))
    assert longest > COLUMN_ROOM


def test_a_band_with_one_end_is_rounded_by_what_it_has() -> None:
    """Some draws reach the value nowhere: the band is open above."""
    half_open = Estimate(12.9831, "kN", 11.066883, None, "some never do")
    assert band_text(half_open) == "11.1–…"
    assert value_text(half_open) == "13.0"
    assert band_text(Estimate(None, "kN", 11.066883, None, "most never do")).endswith("–…")
