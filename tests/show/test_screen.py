"""The comparison at fixed widths: whole, readable, without colour."""

from __future__ import annotations

import io
import re
from functools import cache
from pathlib import Path

import pytest
from rich.console import Console

from scaleup.files.study import read_study
from scaleup.show.html import translation_html
from scaleup.show.numbers import band_text, value_text
from scaleup.show.terminal import show_translation
from scaleup.transfer.quantity import Quantity
from scaleup.transfer.translation import Translation, translate

EXAMPLES = Path(__file__).parents[2] / "examples"


@cache
def answer(name: str) -> Translation:
    return translate(read_study(EXAMPLES / name), draws=400)


def screen(name: str, width: int) -> str:
    out = io.StringIO()
    show_translation(Console(file=out, width=width, highlight=False), answer(name))
    return out.getvalue()


@pytest.mark.parametrize("name", ["marram", "dunlin", "sedge"])
@pytest.mark.parametrize("width", [80, 100, 160])
def test_nothing_is_cut_at_any_width(name: str, width: int) -> None:
    text = screen(name, width)
    assert max(map(len, text.splitlines())) <= width
    assert "\x1b" not in text
    assert "…" not in text
    flat = " ".join(text.split())
    for item in answer(name).risks:
        assert " ".join(item.message.split()) in flat
        assert " ".join(item.action.split()) in flat
    assert answer(name).verdict.answer in flat
    assert answer(name).caution in flat


@pytest.mark.parametrize("name", ["marram", "dunlin", "sedge"])
def test_every_figure_is_on_the_screen(name: str) -> None:
    text = screen(name, 80)
    for item in answer(name).equivalents:
        for quantity, factor in (
            (item.settings.main_force, 1e-3),
            (item.settings.effective_dwell, 1e3),
            (item.tablet.tensile_strength, 1.0),
        ):
            assert value_text(quantity, factor) in text


def test_every_mark_has_its_note() -> None:
    for name in ("marram", "sedge"):
        text = screen(name, 80)
        marks = set(re.findall(r"\[\d+\]", text))
        notes = set(re.findall(r"^\[\d+\]", text, flags=re.MULTILINE))
        assert marks == notes


@pytest.mark.parametrize(
    ("quantity", "factor", "value", "band"),
    [
        (Quantity(151.462, "MPa", 140.2, 163.9), 1.0, "151", "140–164"),
        (Quantity(0.83374, "1", 0.82616, 0.84021), 1.0, "0.834", "0.826–0.840"),
        (Quantity(12027.5, "N", 11961.0, 12094.0), 1e-3, "12.03", "11.96–12.09"),
        (Quantity(45.0, "rpm", 45.0, 45.0), 1.0, "45", ""),
        (Quantity(None, "mm", reason="no fill depth"), 1.0, "n/a", ""),
        (Quantity(3.2, "MPa", reason="one run: no band"), 1.0, "3.2", ""),
    ],
)
def test_a_value_is_rounded_by_its_band(
    quantity: Quantity, factor: float, value: str, band: str
) -> None:
    assert value_text(quantity, factor) == value
    assert band_text(quantity, factor) == band


def test_a_notebook_never_gets_a_name_raw() -> None:
    from dataclasses import replace  # noqa: PLC0415

    found = answer("marram")
    hostile = replace(found, study=replace(found.study, name="<script>alert(1)</script>"))
    assert "<script" not in translation_html(hostile)
    assert "&lt;script" in translation_html(hostile)
    assert found._repr_html_() == translation_html(found)
