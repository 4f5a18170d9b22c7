"""What the target leaves open."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import replace

from scaleup.answers.assumed import Granted, Other
from scaleup.answers.granted.scene import Scene, limited
from scaleup.arrays import Array
from scaleup.sentence import Fact, Sentence
from scaleup.transfer.limits import Limit
from scaleup.transfer.operating_point import OperatingPoint

CONFIDENCES = (0.80, 0.95)
"""Other confidences that are asked with (common practice)."""
WEIGHT_OFF = 0.05
"""Share by which a tablet's weight may differ from the one aimed at (common practice)."""


def target_strength(scene: Scene) -> Iterator[Granted]:
    """Yield the strength taken as the target, where the study states none."""
    target = scene.study.target
    if target.strength is not None or target.breaking_force is not None:
        return
    lab = scene.calibrated.reference.mean(lambda seen: seen.strength, "MPa", "strength").value
    others: tuple[Other, ...] = ()
    if lab is not None:
        limit = Limit("strength", "tensile strength", "tablet", "MPa", lab, "at least", _strong)
        told = Sentence("the lab tablet's {strength}", strength=Fact(lab, "MPa"))
        others = (Other(told, limited(limit)),)
    yield Granted("target.strength", "none asked for", "missing", others, about="strength target")


def _strong(point: OperatingPoint) -> Array | None:
    return point.strength


def solid_fraction_window(scene: Scene) -> Iterator[Granted]:
    """Yield the window of solid fraction taken, where the study states none."""
    target = scene.study.target
    if not target.states_solid_fraction:
        window = target.solid_fraction
        yield Granted(
            "target.solid_fraction",
            Sentence("{low:%} to {high:%}", low=window.min, high=window.max),
            "default",
            (Other("no window", limited(without="solid-fraction")),),
        )


def tablet_weight(scene: Scene) -> Iterator[Granted]:
    """Yield the tablet weight taken, where the study states none."""
    weight = scene.calibrated.reference.weight
    if scene.study.target.weight is not None or weight is None:
        return

    def of(share: float) -> Other:
        return Other(
            Sentence("{weight}", weight=Fact(weight * share, "mg")),
            lambda case: case.with_process(
                case.process.of_weight(case.process.charge.weight * share)
            ),
        )

    told = Sentence(
        "{weight:4}, that of the runs {runs}",
        weight=Fact(weight, "mg"),
        runs=scene.calibrated.reference.name,
    )
    others = (of(1.0 - WEIGHT_OFF), of(1.0 + WEIGHT_OFF))
    yield Granted("target.weight", told, "default", others)


def asked_confidence(scene: Scene) -> Iterator[Granted]:
    """Yield the confidence taken, where neither the study nor the user states one."""
    if scene.confidence_stated:
        return
    taken = scene.study.target.confidence

    def at(confidence: float) -> Other:
        return Other(
            _asked(confidence), lambda case: replace(case, confidence=confidence, first=None)
        )

    yield Granted("target.confidence", _asked(taken), "default", tuple(map(at, CONFIDENCES)))


def _asked(confidence: float) -> Sentence:
    return Sentence("{confidence:%}", confidence=confidence)
