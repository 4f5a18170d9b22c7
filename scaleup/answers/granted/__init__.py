"""Every value that no input states and an answer rests on, one function each."""

from __future__ import annotations

from collections.abc import Iterator

from scaleup.answers.assumed import Assumed, Granted, Kept, assumed
from scaleup.answers.granted import machine, plant, runs, target
from scaleup.answers.granted.scene import Rule, Scene
from scaleup.transfer.case import TransferCase
from scaleup.transfer.outcomes import Outcome


def taken_for_granted(
    case: TransferCase, outcome: Outcome, *, confidence_given: bool, kept: Kept | None = None
) -> tuple[Assumed, ...]:
    """Return what an answer takes for granted, the answer being had by its outcome."""
    scene = Scene(case.calibrated, confidence_given or case.study.target.states_confidence)
    return assumed(granted(scene), case, outcome, kept)


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
    plant.terms,
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
