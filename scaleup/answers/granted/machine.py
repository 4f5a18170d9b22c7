"""What press, tooling and feeder leave open."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import replace

import numpy as np

from scaleup.answers.assumed import Granted, Other
from scaleup.answers.granted.scene import Scene, limited, on_process
from scaleup.calibration.observations import side_of
from scaleup.calibration.strength_curve import EjectionLine
from scaleup.model.press_proportions import MOST_GIVE
from scaleup.powder.precompression import precompression_counts
from scaleup.sentence import Fact, Sentence
from scaleup.transfer.case import TransferCase
from scaleup.transfer.filling import Filling
from scaleup.transfer.limits import SHORT_FEED, Limit
from scaleup.transfer.process_model import ProcessModel

LEAST_TIP_STRESS = 200.0
"""MPa over the tip area for which weak tips are rated (from memory)."""
EJECTION_STRESS = 5.0
"""MPa of ejection stress from which problems are usual (common practice)."""
PRECOMPRESSION = 0.20
"""Share of the main force that is usual to start with (common practice)."""
GIVING = 100e3
"""N/mm of a press that gives a good deal (from memory)."""
LOOSE = (0.20, 0.45)
"""Density of loose blends over their true density (from memory)."""


def ejection_force(scene: Scene) -> Iterator[Granted]:
    """Yield that no ejection force was measured, unless one was."""
    fit = scene.fit
    if fit is None or fit.ejection is not None:
        return
    press = scene.production.press.profile

    def hard_to_eject(process: ProcessModel) -> ProcessModel:
        flat = np.zeros(process.fit.powder.draws)
        stress = EjectionLine(flat + np.log(EJECTION_STRESS), flat)
        return replace(process, fit=replace(process.fit, ejection=stress))

    told = Sentence("{stress} of ejection stress", stress=Fact(EJECTION_STRESS, "MPa"))
    others = (Other(told, on_process(hard_to_eject)),)
    yield Granted(
        "column ejection force",
        "too few values, so no ejection force is predicted",
        "missing",
        others if press.ejection_limit is not None else (),
        about="ejection measured",
    )


def fill_depth(scene: Scene) -> Iterator[Granted]:
    """Yield that no fill depth was measured, unless one was."""
    if any(seen.fill_density is not None for seen in scene.calibrated.observations):
        return

    def filled(share: float) -> Other:
        density = share * scene.study.blend.true_density
        return Other(
            Sentence("{density:.2f} g/cm³ in the die", density=Fact(density, "g/cm³")),
            on_process(lambda process: replace(process, filling=_filling(process, density))),
        )

    ranges = scene.production.press.profile.fill
    told = "no values, so no fill depth is predicted or held against the fill cams"
    others = tuple(map(filled, LOOSE)) if ranges else ()
    yield Granted("column fill depth", told, "missing", others, about="fill depth")


def _filling(process: ProcessModel, density: float) -> Filling:
    feed = process.production.press.profile.feed
    return Filling(np.array([density]), feed, feed)


def precompression_share(scene: Scene) -> Iterator[Granted]:
    """Yield that no precompression is asked, where the press could give one."""
    made = scene.production
    if made.precompression is not None or made.press.profile.pre_roller is None:
        return

    def pressed(case: TransferCase) -> TransferCase:
        other = replace(case.production, precompression=PRECOMPRESSION)
        process = replace(case.process, production=other)
        if not precompression_counts(process.fit.powder, PRECOMPRESSION):
            process = case.process.with_map(process)
        return replace(case, calibrated=case.calibrated.on(other)).with_process(process)

    other = Other(Sentence("{share:%}", share=PRECOMPRESSION), pressed, solves=True)
    yield Granted("production.precompression", "none", "default", (other,))


def feeder_arc(scene: Scene) -> Iterator[Granted]:
    """Yield that the profile of the press does not state the arc under its feeder."""
    press = scene.production.press
    if press.profile.feeder_arc is None:
        told = Sentence(
            "not stated, so time under the feeder ({least}) is not watched",
            least=Fact(SHORT_FEED, "s"),
        )
        yield Granted(f"{press.id}: feeder_arc", told, "missing", about="feeder arc")


def tip_rating(scene: Scene) -> Iterator[Granted]:
    """Yield that the tooling does not state the tip force it is rated for."""
    tooling = scene.production.tooling
    if tooling.profile.tip_force_rating is not None:
        return
    low = LEAST_TIP_STRESS * tooling.profile.tip_area
    limit = Limit("tip-rating", "tip force", "machine", "N", low, "at most", lambda at: at.force)
    yield Granted(
        f"{tooling.id}: tip_force_rating",
        "not stated, so no force is held against it",
        "missing",
        (Other(Sentence("{rating}", rating=Fact(low, "N")), limited(limit)),),
        about="tip rating",
    )


def ejection_limit(scene: Scene) -> Iterator[Granted]:
    """Yield that the profile of the press does not state an ejection limit."""
    press, fit = scene.production.press, scene.fit
    if press.profile.ejection_limit is not None:
        return
    others: tuple[Other, ...] = ()
    if fit is not None and fit.ejection is not None:
        limit = Limit(
            "ejection-stress", "ejection stress", "machine", "MPa", EJECTION_STRESS, "at most",
            lambda at: at.ejection_stress,
        )  # fmt: skip
        stress = Sentence("{stress} of ejection stress", stress=Fact(EJECTION_STRESS, "MPa"))
        others = (Other(stress, limited(limit)),)
    told = "not stated, so no ejection force is held against it"
    yield Granted(f"{press.id}: ejection_limit", told, "missing", others, about="ejection limit")


def stiffness(scene: Scene) -> Iterator[Granted]:
    """Yield that the press is taken as rigid, where its profile states no stiffness."""
    press = scene.production.press
    if press.profile.stiffness is not None:
        return

    def giving(case: TransferCase) -> TransferCase:
        made = case.production
        profile = replace(made.press.profile, stiffness=GIVING)
        other = replace(made, press=replace(made.press, profile=profile))
        process = replace(case.process, production=other, side=side_of(other))
        return replace(case, calibrated=case.calibrated.on(other)).with_process(process)

    other = Other(Sentence("{stiffness}", stiffness=Fact(GIVING, "N/mm")), giving, solves=True)
    can_give = press.profile.greatest_force / GIVING <= MOST_GIVE
    others = (other,) if can_give else ()
    yield Granted(f"{press.id}: stiffness", "rigid", "missing", others, about="deflection")
