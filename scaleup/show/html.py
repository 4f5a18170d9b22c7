"""A translation in a notebook."""

from __future__ import annotations

from html import escape

from scaleup.answers.translation import Translation
from scaleup.model.estimate import Estimate
from scaleup.show.numbers import band_text, value_text
from scaleup.show.rows import GROUPS, RowSpec


def translation_html(translation: Translation) -> str:
    """Return the comparison, the risks and the verdict as HTML; every text escaped."""
    heads = ["", "lab", *[item.match for item in translation.equivalents]]
    rows = [_row(spec, translation) for _, specs in GROUPS for spec in specs]
    risks = "".join(
        f"<li><b>{escape(item.severity)}</b> {escape(str(item.message))} "
        f"<i>{escape(str(item.action))}</i>"
        for item in translation.risks
    )
    return (
        f"<h4>{escape(translation.study.name)}</h4>"
        f"<p><b>{escape(translation.verdict.answer)}</b>: "
        + escape(" ".join(map(str, translation.verdict.reasons)))
        + "</p><table><thead><tr>"
        + "".join(f"<th>{escape(head)}</th>" for head in heads)
        + "</tr></thead><tbody>"
        + "".join(rows)
        + f"</tbody></table><ul>{risks}</ul>"
        + f"<p><i>{escape(translation.caution)}</i></p>"
    )


def _row(spec: RowSpec, translation: Translation) -> str:
    parts = [getattr(translation.lab, spec.part)]
    parts += [getattr(item, spec.part) for item in translation.equivalents]
    cells = "".join(_cell(getattr(part, spec.field), spec.shown.factor) for part in parts)
    return f"<tr><th>{escape(spec.heading)}</th>{cells}</tr>"


def _cell(quantity: Estimate, factor: float) -> str:
    title = f' title="{escape(str(quantity.reason))}"' if quantity.reason else ""
    band = band_text(quantity, factor)
    small = f"<br><small>{escape(band)}</small>" if band else ""
    return f"<td{title}>{escape(value_text(quantity, factor))}{small}</td>"
