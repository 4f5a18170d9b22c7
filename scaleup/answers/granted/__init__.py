"""Every value that no input states and an answer rests on, one function each."""

from __future__ import annotations

from collections.abc import Iterator

from scaleup.answers.assumed import Asking, Assumed, Granted, Outcome, assumed
from scaleup.answers.granted import machine, runs, target
from scaleup.answers.granted.scene import Rule, Scene
from scaleup.transfer.question import LabCase, Question


def taken_for_granted(
    case: LabCase, asked: Question | None, outcome: Outcome, *, confidence_given: bool
) -> tuple[Assumed, ...]:
    """Return what an answer takes for granted; `asked` is None where the runs allow no fit."""
    study = case.study
    made = study.production if asked is None else asked.line.production
    scene = Scene(case, made, confidence_given or study.target.states_confidence)
    return assumed(granted(scene), None if asked is None else Asking(case, asked, outcome))


def granted(scene: Scene) -> Iterator[Granted]:
    """Yield everything that is taken for granted, in the order of a study's tables."""
    for rule in RULES:
        yield from rule(scene)


RULES: tuple[Rule, ...] = (
    runs.true_density,
    runs.rate_exponent,
    runs.hold_of_runs,
    runs.loading_rate,
    runs.tablet_diameter,
    runs.elastic_part,
    machine.ejection_force,
    machine.fill_depth,
    machine.precompression_share,
    machine.feeder_on_strength,
    machine.feeder_arc,
    machine.tip_rating,
    machine.ejection_limit,
    machine.stiffness,
    target.target_strength,
    target.solid_fraction_window,
    target.tablet_weight,
    target.asked_confidence,
)
"""Every rule, in the order of a study's tables; a new one is a function and a line here."""
