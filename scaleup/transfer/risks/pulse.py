"""Risks of the pulse: a press that was logged to press otherwise than its profile says."""

from __future__ import annotations

from collections.abc import Iterator
from math import sqrt

from scaleup.sentence import Fact, Sentence, Words
from scaleup.transfer.case import TransferCase
from scaleup.transfer.logged_figures import HeldLog
from scaleup.transfer.risks.registry import Risk, risk

FAR = 0.25
"""Share beyond what is allowed from which a departure is serious (a judgement of this program)."""
ALL_TIMES = (
    "All times are off alike, as if the turret turned {slower:.2f} times as fast as stated (output "
    "then goes with it): check the turret speed of the log, the log's unit of time, and "
    "pitch_circle (a diameter) in {profile}."
)
THE_TOP = (
    "Only the top is off: check head_flat in {tooling}, and stiffness in {profile}, by which the "
    "press gives way."
)
THE_FLANKS = (
    "Only the flanks are off: check the radius of main_roller in {profile} and head_edge_radius in "
    "{tooling}; the contact hangs on loose powder and tablet weight as well."
)
NO_ONE_KEY = (
    "No single key explains it: check speed, pitch_circle and the radius of main_roller in "
    "{profile}, head_flat and head_edge_radius in {tooling}, and which compression it is."
)


@risk()
def pulse_conflicts(case: TransferCase) -> Iterator[Risk]:
    """Logged pulses of the press that the geometry of its profile does not give."""
    figures = case.process.logged_figures
    off = [] if figures is None else [held for held in figures.held if held.excess > 0.0]
    if not off:
        return
    worst = max(off, key=lambda held: held.excess)
    above, rise, contact = (worst.of(name) for name in ("above_90", "rise", "contact"))
    yield Risk(
        "pulse-conflicts",
        "serious" if worst.excess >= FAR else "watch",
        Sentence(
            "The logged pulse of {log} at {speed} is not the one that the geometry of {press} "
            "gives: {above} above 90 % of its peak against {above_low} to {above_high}.",
            log=worst.log.name,
            speed=Fact(worst.log.speed, "rpm"),
            press=case.production.press.id,
            above=Fact(above.logged, "s"),
            above_low=Fact(above.low, "s"),
            above_high=Fact(above.high, "s"),
        ),
        Sentence(
            "Rise {rise} against {rise_low} to {rise_high}, contact {contact} against "
            "{contact_low} to {contact_high}, effective dwell {ratio:.2f} times as long; {count} "
            "of {logs} logged compressions depart. The forecast takes the logged pulse.",
            rise=Fact(rise.logged, "s"),
            rise_low=Fact(rise.low, "s"),
            rise_high=Fact(rise.high, "s"),
            contact=Fact(contact.logged, "s"),
            contact_low=Fact(contact.low, "s"),
            contact_high=Fact(contact.high, "s"),
            ratio=worst.dwell_ratio,
            count=len(off),
            logs=len(figures.held) if figures is not None else 0,
        ),
        _keys(case, worst),
        worst.excess,
    )


def _keys(case: TransferCase, held: HeldLog) -> Words:
    """Return which keys of the profiles, and what of the log, would explain a departure."""
    text = NO_ONE_KEY
    if held.alike:
        text = ALL_TIMES
    elif held.only_the_top:
        text = THE_TOP
    elif held.only_the_flanks:
        text = THE_FLANKS
    made = case.production
    least, most = held.factors
    named: dict[str, str | float] = {
        "profile": made.press.shown,
        "tooling": made.tooling.shown,
        "slower": 1.0 / sqrt(least * most),
    }
    return Sentence(text, **{key: told for key, told in named.items() if f"{{{key}" in text})
