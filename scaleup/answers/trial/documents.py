"""The words of a plan around its numbers: equipment, materials, how to go through it, notes."""

from __future__ import annotations

from scaleup.answers.trial.design import CLIMB, Design
from scaleup.model.study import Study
from scaleup.sentence import Fact, Sentence, Words

SCALE_CHANGE = 10.0
"""Times the reference batch from which a batch is often called a change of scale (common
practice)."""


SAMPLING = (
    "Set, let the press settle, set the weight to its target, then sample at start, middle and end "
    "of the run. Runs are made in the order given: it is drawn by lot, so that a drift "
    "does not look like an effect of speed or force."
)
START_UP = (
    "If the start-up run is out of its action limits: do not go on. Check weight, balance, "
    "thickness gauge, tip separation and the zero of the force; run it again under a new name. If "
    "it is out again, end the trial: the prediction does not hold here."
)
STOP_AND_RESTART = (
    "Stop and restart: stop the turret as for a break of ten minutes, feeder full; start again "
    "and discard tablets until the weight is back. The run shows whether the press comes back to "
    "the same tablet."
)
BETWEEN = (
    "A centre run that differs from the one before it: stop, look for what has changed (powder "
    "level, feeder, temperature, gauge) and write it down."
)


def equipment(study: Study) -> tuple[Words, ...]:
    """Return press, tooling and instruments that the trial needs."""
    made = study.production
    press, tooling = made.press.profile, made.tooling.profile
    rating = tooling.tip_force_rating
    rated: Words = ""
    if rating is not None:
        rated = Sentence(", tips rated {rating}", rating=Fact(rating, "N"))
    return (
        Sentence(
            "{name} ({press}): {stations} stations, {slowest:g} to {fastest:g} rpm, main roller up "
            "to {force_limit}, {feed} feeder",
            name=press.name,
            press=made.press.id,
            stations=press.stations,
            slowest=Fact(press.speed.min, "rpm"),
            fastest=Fact(press.speed.max, "rpm"),
            force_limit=Fact(press.main_roller.force_limit, "N"),
            feed=press.feed,
        ),
        Sentence(
            "tooling {name} ({tooling}): {shape}{rated}",
            name=tooling.name,
            tooling=made.tooling.id,
            shape=tooling.shape,
            rated=rated,
        ),
        "balance, thickness gauge, breaking force tester, friability drum; all in calibration",
    )


def materials(study: Study, weight: float) -> tuple[Sentence, ...]:
    """Return the components of the blend, its true density and the target weight."""
    parts = [
        Sentence("{name} {percent:.4g} %", name=part.name, percent=Fact(100.0 * part.share, "%"))
        for part in study.blend.components
    ]
    density = Sentence(
        "true density {density:.3f} g/cm³, tablets of {weight:4}",
        density=Fact(study.blend.true_density, "g/cm³"),
        weight=Fact(weight, "mg"),
    )
    whole = Sentence("blend of {study}, {density}", study=study.name, density=density)
    return (*parts, density) if parts else (whole,)


def instructions(design: Design | None) -> tuple[Words, ...]:
    """Return how the runs are gone through, as an operator reads it."""
    climbs = 0 if design is None else sum(rung.purpose == "climb" for rung in design.rungs)
    gate: list[Words] = []
    if climbs:
        gate.append(
            Sentence(
                "The force climbs by at most {step:%} a run to what no run has tested. Gate: go on "
                "to the next step only if every mean lies within its action limits and no tablet "
                "caps or laminates.",
                step=CLIMB - 1.0,
            )
        )
    return (*gate, SAMPLING, START_UP, STOP_AND_RESTART, BETWEEN)


def notes(study: Study) -> tuple[Words, ...]:
    """Return what is outside the plan."""
    scale = (
        "Going from a single-station press to a rotary one changes the operating principle, and a "
        f"batch more than {SCALE_CHANGE:g} times the reference batch may count as a change of "
        "scale. Which level of change this is, and what it takes, is for regulatory affairs and "
        "quality to decide."
    )
    air = (
        "Precompression lets air out, which is outside the law: compare the levels by capping and "
        "friability, not by the predicted strength."
    )
    return (scale,) if study.production.press.profile.pre_roller is None else (scale, air)
