"""A whole study on one self-contained page: answer, comparison, pictures, risks, provenance."""

from __future__ import annotations

import platform
from dataclasses import dataclass
from html import escape
from importlib.metadata import version

from scaleup import __version__
from scaleup.answers.translation import Translation
from scaleup.answers.trial.learning import Learned
from scaleup.answers.window import Window
from scaleup.calibration.fit import Fit, NoFit
from scaleup.model.estimate import exactly
from scaleup.show.numbers import cell_text
from scaleup.show.page import bullets, page, paragraph, section, table
from scaleup.show.parts import EDGES, MORE, decides_told, fastest_told, press_line, told
from scaleup.show.pictures import PICTURES, Picture, Subject, picture
from scaleup.show.powder import forms_text, powder_quantities
from scaleup.show.rows import GROUPS, MEANINGS
from scaleup.show.side_by_side import figure_rows, match_head
from scaleup.show.terminal import filling_lines, translation_columns
from scaleup.show.told_once import told_once
from scaleup.show.trial_learned import SETTINGS_HEADS, causes_told, limits_text, settings_rows
from scaleup.transfer.recommended import place_told
from scaleup.wording import capital, percent, say

SOURCES = """\
roller contact: Rippie & Danielson, J Pharm Sci 70 (1981) 476; slider-crank: Armstrong et al. 1983
hardening: Heckel 1961; Kuentz & Leuenberger, J Pharm Sci 88 (1999) 174 and Kawakita & Lüdde, \
Powder Technol 4 (1971) 61, both from memory; the rate law on top is this project's
strength against porosity: Ryshkewitch 1953, Duckworth 1953; one curve across speed: Tye, Sun & \
Amidon, J Pharm Sci 94 (2005) 465
tensile strength: Fell & Newton, J Pharm Sci 59 (1970) 688; Pitt, Newton & Stanley, J Mater Sci 23 \
(1988) 2723; Pitt & Heasley, Powder Technol 238 (2013) 169; USP <1217>
""".splitlines()
PACKAGES = ("numpy", "scipy", "pandas", "pydantic", "pint", "matplotlib")


@dataclass(frozen=True)
class ReportParts:
    """What a report is made of."""

    translation: Translation
    window: Window | None
    subject: Subject | None
    """None where the runs allow no fit, and so no picture."""
    learned: Learned | None
    sheet: tuple[str, str] | None = None
    """Name and SHA-256 of the trial sheet."""


def report_page(parts: ReportParts) -> str:
    """Return the report as a page."""
    answer = parts.translation
    study, lab = answer.study, answer.study.lab
    body = [
        paragraph(study.description) if study.description else "",
        paragraph(
            f"From {lab.press.profile.name} ({lab.press.id}, {lab.tooling.id}) to "
            f"{press_line(study.production)} at {say(answer.speed, 'rpm')}; each limit asked with "
            f"{percent(answer.confidence)} confidence."
        ),
        section(
            f"Verdict: {answer.verdict.answer}",
            bullets(answer.verdict.reasons),
            paragraph(answer.caution, "caution"),
        ),
        section("Lab tablet and production equivalents", _comparison(answer)),
        _window(parts.window),
        _pictures(parts.subject),
        section("Risks, worst first", _risks(answer)),
        section("Taken for granted", _granted(answer)),
        _learned(parts.learned),
        section("Powder", *_powder(answer)),
        section("Sources used", bullets(SOURCES)),
        section("Inputs", _inputs(answer, parts.sheet)),
    ]
    packages = ", ".join(f"{name} {version(name)}" for name in PACKAGES)
    foot = [
        f"scaleup {__version__}; seed {answer.drawing.seed}, {answer.drawing.draws} draws",
        f"Python {platform.python_version()}, {packages}",
    ]
    return page(study.name, [part for part in body if part], foot)


def _comparison(answer: Translation) -> str:
    heads = [f"lab ({answer.lab.reference.name})"]
    heads += [match_head(item.match).replace("\n", " ") for item in answer.equivalents]
    rows = [
        [f"{title}: {heading}", *cells]
        for title, heading, cells in figure_rows(translation_columns(answer), GROUPS)
    ]
    notes = [
        f"{match_head(item.match).replace(chr(10), ' ')} is not reachable: {item.reason}"
        for item in answer.equivalents
        if not item.reachable
    ]
    notes += [f"{capital(str(each))}." for each in (*MEANINGS, *filling_lines(answer))]
    notes.append(
        "Bands hold 90 % of the draws; of pressure, force and speed they are the settings required "
        "across plausible fits, of other figures what to expect at the value set. Values are "
        "the middle of the "
        "draws; the force of target strength is the one that meets it with the asked confidence. "
        "n/a is not available."
    )
    return table("comparison", ["figure", *heads], rows) + bullets(notes)


def _window(window: Window | None) -> str:
    if window is None or window.centre is None or window.recommended is None:
        told_why = () if window is None else window.reasons
        return section("Operating window", bullets(told_why)) if told_why else ""
    best, widest = window.recommended, window.centre
    centre, force = best.point, widest.set_point.force.value or 0.0
    lines = [
        f"Recommended: {best.told}, {best.why}; both may be off by {percent(centre.margin)}.",
        f"Largest margin: {place_told(force, widest.speed)}; {percent(widest.margin)}.",
        f"Fastest speed that holds: {fastest_told(window.fastest)}.",
        *[
            f"{EDGES[edge.towards]}: {say(edge.at, edge.unit)} ({edge.limit})"
            for edge in centre.edges
        ],
    ]
    if centre.beyond_tested > 0.0:
        lines.append(f"{percent(centre.beyond_tested)} above the highest tested pressure")
    return section("Operating window", bullets([*lines, *window.reasons]))


def _pictures(subject: Subject | None) -> str:
    if subject is None:
        return ""
    return section("Pictures", *[_figure(picture(name, subject)) for name in PICTURES])


def _figure(drawn: Picture) -> str:
    label = escape(drawn.alternative, quote=True)
    svg = drawn.svg.replace("<svg ", f'<svg role="img" aria-label="{label}" ', 1)
    return f"<figure>{svg}<figcaption>{escape(drawn.alternative)}</figcaption></figure>"


def _risks(answer: Translation) -> str:
    if not answer.risks:
        return paragraph("None found by the checks made.")
    once = told_once(answer.risks, answer.assumed)
    rows = [
        [item.severity, f"{item.message}{decides_told(item, once)}", item.evidence, item.action]
        for item in answer.risks
    ]
    return table("risks", ("severity", "finding", "evidence", "what to do"), rows, texts=4)


def _granted(answer: Translation) -> str:
    assumed = told_once(answer.risks, answer.assumed).assumed
    if not assumed:
        told = MORE if answer.assumed else "that was looked for"
        return paragraph(f"Nothing {told}.")
    rows = [
        [each.key, each.value, each.origin, "yes" if each.decides else "no", each.instead or "-"]
        for each in assumed
    ]
    heads = ("what", "taken", "why", "decides", "asked again with")
    return table("taken for granted", heads, rows, texts=5)


def _learned(learned: Learned | None) -> str:
    if learned is None:
        return ""
    results = [
        [
            result.name, say(result.speed, "rpm"), say(result.force, "N"),
            item.measure.replace("_", " "), told(exactly(item.measured, item.unit)),
            told(item.predicted), f"{item.residual:+.1f}", limits_text(item),
        ]
        for result in learned.results
        for item in result.compared
    ]  # fmt: skip
    heads = (
        "run",
        "speed",
        "force",
        "measure",
        "measured",
        "predicted",
        "residual",
        "action limits",
    )
    rule = {True: "holds", False: "does not hold", None: "not known"}
    return section(
        "What the trial taught",
        bullets(causes_told(learned)),
        bullets([f"{item.rule}: {rule[item.holds]}; {item.why}" for item in learned.accepted]),
        bullets(
            [
                *learned.notes,
                *(["left blank: " + ", ".join(learned.left_blank)] if learned.left_blank else []),
            ]
        ),
        table("trial results", heads, results, texts=1),
        table(
            "what moved",
            ("figure", "before", "after"),
            [[each.name, told(each.before), told(each.after)] for each in learned.moved_told],
        ),
        table("new settings", SETTINGS_HEADS, settings_rows(learned)),
    )


def _powder(answer: Translation) -> list[str]:
    fit = answer.fit
    if isinstance(fit, NoFit):
        return [bullets(fit.reasons)]
    rows = [[name, cell_text(quantity), unit] for name, quantity, unit in powder_quantities(fit)]
    return [
        paragraph(f"Hardening form: {forms_text(fit)}. Rate exponent {_evidence(fit)}."),
        table("fitted parameters", ("parameter", "value", "unit"), rows),
    ]


def _evidence(fit: Fit) -> str:
    return f"{fit.rate.evidence} ({fit.rate.source})"


def _inputs(answer: Translation, sheet: tuple[str, str] | None) -> str:
    inputs = answer.study.inputs if sheet is None else (*answer.study.inputs, sheet)
    rows = [[file, digest] for file, digest in inputs]
    return table("inputs", ("file", "SHA-256"), rows, texts=2)
