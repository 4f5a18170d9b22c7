"""Parts that several screens share: who and what, numbers in sentences, findings, the caution."""

from __future__ import annotations

from rich.console import Group, RenderableType
from rich.padding import Padding
from rich.text import Text

from scaleup.answers.assumed import Assumed
from scaleup.calibration.fit import Fit, NoFit
from scaleup.model.estimate import Estimate
from scaleup.model.study import ProductionSide, Study
from scaleup.sentence import Words
from scaleup.show.numbers import band_text, value_text
from scaleup.show.powder import forms_text, relaxation_text
from scaleup.show.told_once import Once
from scaleup.transfer.fastest_speed import Fastest
from scaleup.transfer.risks.registry import Risk
from scaleup.units_shown import unit_of
from scaleup.wording import percent, say

EDGES = {
    "more force": "upper force limit",
    "less force": "lower force limit",
    "faster": "upper speed limit",
    "slower": "lower speed limit",
}
"""Which edge of an operating window lies in which direction from a point of it."""
MORE = "but what is told above"
SEVERITY_STYLE = {"severe": "bold red", "serious": "yellow", "watch": "cyan"}
ANSWER_STYLE = {
    "yes": "bold green",
    "transferable": "bold green",
    "yes with changes": "bold yellow",
    "transferable with changes": "bold yellow",
    "no": "bold red",
    "not transferable": "bold red",
    "not enough evidence": "bold magenta",
}


def title(study: Study, *lines: str) -> RenderableType:
    """Return the name of a study and what the screen is about."""
    return Group(Text(study.name, style="bold"), *[Text(line) for line in lines])


def press_line(production: ProductionSide) -> str:
    """Return a production press and its tooling."""
    press = production.press
    return f"{press.profile.name} ({press.id}, {production.tooling.id})"


def confidence_line(confidence: float) -> str:
    """Return with which confidence limits are asked."""
    return f"each limit asked with {percent(confidence)} confidence"


BANDS_OF = "the mean of the next production batch"


def fit_line(fit: Fit | NoFit, logged_pulse: Words = "") -> Text:
    """Return the hardening forms, where the rate exponent is from, and what logs say of a press."""
    if isinstance(fit, NoFit):
        return Text("powder: not available: " + "; ".join(fit.reasons))
    text = f"hardening form: {forms_text(fit)}; rate exponent {fit.rate.evidence}"
    pulse = f"\n{logged_pulse}" if logged_pulse else ""
    made = "".join(f"\n{each}" for each in made_elsewhere(fit))
    told = Text(
        f"{text}{relaxation_text(fit)}{pulse}{made}\nbands and limits: {BANDS_OF}", style="dim"
    )
    if fit.plant.off:
        left_out = f"; left out, as the study asks: {', '.join(fit.plant.off)}"
        told.append(left_out, style="bold not dim")
    return told


def made_elsewhere(fit: Fit | NoFit) -> tuple[Words, ...]:
    """Return where production runs were made, where not all were on the study's own press."""
    told = "" if isinstance(fit, NoFit) else fit.plant.made_told
    return (told,) if told else ()


def answer(label: str, value: str, reasons: tuple[Words, ...]) -> RenderableType:
    """Return an answer with its reasons."""
    head = Text(f"{label}: ", style="bold")
    head.append(value, style=ANSWER_STYLE[value])
    return Group(head, *[Padding(Text(str(reason)), (0, 0, 0, 4)) for reason in reasons])


def granted_told(assumed: tuple[Assumed, ...]) -> tuple[str, ...]:
    """Return what was taken for granted, a sentence each."""
    return tuple(
        f"{each.key}: {each.value}"
        + (f"; it decides: asked again with {each.instead}, the answer is another." if each.decides
           else ".")
        for each in assumed
    )  # fmt: skip


def granted_lines(assumed: tuple[Assumed, ...], *, all_told: bool = False) -> RenderableType:
    """Return what was taken for granted, a line each, what decides first.

    `all_told` says that there is some, and that the screen has told all of it already.
    """
    if not assumed:
        return Text(f"taken for granted: nothing {MORE if all_told else 'that was looked for'}")
    lines: list[RenderableType] = [Text("taken for granted", style="bold")]
    for each in assumed:
        if each.decides:
            line = Text(f"{each.key}: {each.value}; ")
            line.append(f"it decides: asked again with {each.instead}, the answer is another",
                        style="yellow")  # fmt: skip
            lines.append(Padding(line, (0, 0, 0, 2)))
    rest = [each for each in assumed if not each.decides]
    if rest:
        lines.append(Text("  another sensible value leaves the answer as it is:", style="dim"))
    lines += [
        Padding(Text(f"{each.key}: {each.value}", style="dim"), (0, 0, 0, 4)) for each in rest
    ]
    return Group(*lines)


def caution(text: str) -> Text:
    """Return the caution."""
    return Text(f"caution: {text}", style="italic")


def finding_heads(risks: tuple[Risk, ...], once: Once) -> RenderableType:
    """Return the findings in one line each; the whole of them is what translating prints."""
    if not risks:
        return Text("risks: none found by the checks made")
    lines = [Text("risks, worst first (scaleup translate tells what to do)", style="bold")]
    for item in risks:
        line = Text(f"{item.severity} ", style=SEVERITY_STYLE[item.severity])
        line.append(str(item.message), style="default")
        lines.append(line.append(decides_told(item, once), style="yellow"))
    return Group(*lines)


def decides_told(item: Risk, once: Once) -> str:
    """Return what a risk adds where the answer hangs on what it is about."""
    told = once.decides(item)
    return f" {told}" if told else ""


def in_unit(quantity: Estimate) -> tuple[float, str]:
    """Return the factor and the unit a quantity is read in."""
    size = max(abs(quantity.value or 0.0), abs(quantity.low or 0.0))
    name, factor = unit_of(size, quantity.unit)
    return factor, name


def fastest_told(fastest: Fastest) -> str:
    """Return the fastest speed that holds, not rounded up, and the force to set there.

    >>> from scaleup.model.estimate import exactly
    >>> known = ((25.8, "rpm"), (150.0, "MPa"), (12e3, "N"), (29e3, "1/h"))
    >>> each = (exactly(*one) for one in known)
    >>> fastest_told(Fastest(*each, "25 rpm", "400 draws leave open 24 rpm to 27 rpm"))
    '25 rpm (400 draws leave open 24 rpm to 27 rpm) at 12 kN (150 MPa)'
    """
    if fastest.speed.value is None:
        return str(fastest.told)
    left_open = f" ({fastest.left_open})" if fastest.left_open else ""
    force, pressure = fastest.force.value or 0.0, fastest.pressure.value or 0.0
    return f"{fastest.told}{left_open} at {say(force, 'N')} ({say(pressure, 'MPa')})"


def slowest_told(fastest: Fastest, production: ProductionSide) -> str:
    """Return the slowest speed that holds, empty where none does."""
    slowest, least = fastest.slowest.value, production.press.profile.speed.min
    if slowest is None:
        return ""
    end = ", the slowest of the press" if slowest <= least * 1.001 else "; below it a limit breaks"
    return f"slowest speed that holds: {say(slowest, 'rpm')}{end}"


def told(quantity: Estimate, *, band: bool = True, unit: bool = True) -> str:
    """Return a quantity with its band and unit, or why there is none.

    >>> told(Estimate(12027.0, "N", 11000.0, 13000.0))
    '12.0 (11.0–13.0) kN'
    >>> told(Estimate(45.0, "rpm", 45.0, 45.0))
    '45 rpm'
    """
    if quantity.value is None:
        return f"not available: {quantity.reason}"
    factor, name = in_unit(quantity)
    ends = band_text(quantity, factor) if band else ""
    text = value_text(quantity, factor) + (f" ({ends})" if ends else "")
    return f"{text} {name}".rstrip() if unit else text
