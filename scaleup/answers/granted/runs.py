"""What the lab runs leave open: densities, timings, the elastic part, the rate exponent."""

from __future__ import annotations

from collections.abc import Callable, Iterator
from dataclasses import replace

import numpy as np

from scaleup.answers.assumed import Change, Granted, Other
from scaleup.answers.granted.scene import Scene
from scaleup.arrays import Array
from scaleup.calibration.prior import RECOVERY
from scaleup.model.press import HydraulicProfile
from scaleup.model.run import Run
from scaleup.model.study import Study
from scaleup.powder.tip import tip_from
from scaleup.sentence import Fact, Sentence
from scaleup.transfer.case import TransferCase
from scaleup.transfer.process_model import ProcessModel

HOLD = 1.0
"""s that a hand holds a force (a judgement of this program)."""
DENSITY_OFF = 0.01
"""Share by which the density of a mixture may be off that of its components (from memory)."""
WIDER = 0.005
"""Share by which a tablet is wider than its die after ejection (from memory)."""
SCREEN = 1.4
"""How many times the shift of a solid fraction is looked at before the runs are fitted again; a
refit shifts it by up to 1.35 times (the tests hold it)."""
END = 1.0 / 3.0
"""Share of the draws at either end of a spread that stand for its end."""


def true_density(scene: Scene) -> Iterator[Granted]:
    """Yield the true density mixed from components, unless it was measured."""
    blend = scene.study.blend
    if not blend.density_from_components:
        return

    def off(share: float) -> Other:
        def denser(study: Study) -> Study:
            density = study.blend.true_density * share
            return replace(study, blend=replace(study.blend, stated_true_density=density))

        return Other(
            Sentence("{density:.3f} g/cm³", density=Fact(blend.true_density * share, "g/cm³")),
            study=denser,
            screen=_shifted(share - 1.0),
        )

    told = Sentence(
        "{density:.3f} g/cm³, that of its components mixed",
        density=Fact(blend.true_density, "g/cm³"),
    )
    yield Granted(
        "blend.true_density", told, "default", (off(1.0 - DENSITY_OFF), off(1.0 + DENSITY_OFF))
    )


def rate_exponent(scene: Scene) -> Iterator[Granted]:
    """Yield where the rate exponent is from, unless measured or of the material named."""
    fit = scene.fit
    if fit is None or fit.rate.evidence == "measured" or scene.study.blend.rate_material:
        return
    others = _ends("rate exponent", lambda process: process.fit.powder.rate_exponent)
    source = fit.rate.source
    yield Granted("blend.rate_material", source, "missing", others, about="rate exponent")


def hold_of_runs(scene: Scene) -> Iterator[Granted]:
    """Yield the hold taken for runs on a hydraulic press that state none."""
    press = scene.study.lab.press.profile
    if not isinstance(press, HydraulicProfile) or press.automatic_release:
        return
    timed = _timed(scene)
    bare = sum(run.hold is None for run in timed)
    if not bare:
        return

    allowed = press.hold
    time = HOLD if allowed is None else min(max(HOLD, allowed.min), allowed.max)

    def with_hold(study: Study) -> Study:
        return _runs(study, lambda run: replace(run, hold=time) if run.hold is None else run)

    told = Sentence(
        "none in {without} of {runs} lab runs, which count as not held",
        without=bare,
        runs=len(timed),
    )
    other = Other(Sentence("{hold}", hold=Fact(time, "s")), study=with_hold)
    yield Granted("column hold", told, "default", (other,), about="hold")


def loading_rate(scene: Scene) -> Iterator[Granted]:
    """Yield the loading rate taken for runs on a hydraulic press that state none."""
    press = scene.study.lab.press.profile
    if not isinstance(press, HydraulicProfile) or press.loading_rate is None:
        return
    timed = _timed(scene)
    bare = sum(run.loading_rate is None for run in timed)
    if not bare:
        return
    own, rates = press.loading_rate, press.loading_rates
    ends = (0.5 * own, 2.0 * own) if rates is None else (rates.min, rates.max)

    def at(rate: float) -> Other:
        def loaded(study: Study) -> Study:
            return _runs(
                study, lambda run: run if run.loading_rate else replace(run, loading_rate=rate)
            )

        return Other(Sentence("{rate}", rate=Fact(rate, "N/s")), study=loaded)

    told = Sentence(
        "the {rate} of the profile for {without} of {runs} lab runs",
        rate=Fact(own, "N/s"),
        without=bare,
        runs=len(timed),
    )
    others = tuple(at(rate) for rate in ends if rate != own)
    yield Granted("column loading rate", told, "default", others, about="loading rate")


def tablet_diameter(scene: Scene) -> Iterator[Granted]:
    """Yield the diameter taken for tablets measured without one."""
    measured = [
        seen.run for seen in scene.calibrated.observations if seen.run.thickness is not None
    ]
    if not measured or all(run.diameter is not None for run in measured):
        return
    width = tip_from(scene.study.lab.tooling.profile).width

    def wider(study: Study) -> Study:
        return _runs(
            study, lambda run: run if run.diameter else replace(run, diameter=width * (1.0 + WIDER))
        )

    told = Sentence("{share:%} wider", share=WIDER)
    other = Other(told, study=wider, screen=_shifted(2.0 * WIDER))
    yield Granted("column diameter", "that of the tips", "default", (other,))


def elastic_part(scene: Scene) -> Iterator[Granted]:
    """Yield the elastic recovery taken, unless it was measured."""
    fit = scene.fit
    if fit is None or fit.elastic_measured:
        return
    low, _, high = RECOVERY
    told = Sentence("elastic recovery of {low:%} to {high:%}", low=low, high=high)
    others = _ends("recovery", lambda process: -process.fit.powder.elastic)
    yield Granted("column in-die thickness", told, "default", others, about="elastic part")


def _ends(what: str, of: Callable[[ProcessModel], Array]) -> tuple[Other, ...]:
    """Return the lowest and the highest third of the draws by one of their figures."""

    def end(highest: bool) -> Change:
        def some(case: TransferCase) -> TransferCase:
            order = np.argsort(of(case.process), kind="stable")
            count = max(int(END * order.size), 1)
            which = np.sort(order[-count:] if highest else order[:count])
            return case.with_process(case.process.chosen(which))

        return some

    told = f"{what} in its {{}} third"
    return (
        Other(told.format("lowest"), end(highest=False)),
        Other(told.format("highest"), end(highest=True)),
    )


def _timed(scene: Scene) -> list[Run]:
    """Return the lab runs whose pulse no log tells."""
    return [
        replace(seen.run, hold=seen.setting.hold, loading_rate=seen.setting.loading_rate)
        for seen in scene.calibrated.observations
        if seen.run.press == "lab" and seen.logged is None
    ]


def _runs(study: Study, change: Callable[[Run], Run]) -> Study:
    """Return a study with other lab runs."""
    runs = tuple(change(run) if run.press == "lab" else run for run in study.lab.runs)
    return replace(study, lab=replace(study.lab, runs=runs))


def _shifted(share: float) -> Change:
    """Return what gives a case the window of the solid fraction moved by more than a share."""

    def moved(case: TransferCase) -> TransferCase:
        limits = tuple(
            replace(each, bound=each.bound * (1.0 + SCREEN * share))
            if each.code.startswith("solid-fraction")
            else each
            for each in case.limits
        )
        return case.limited_to(limits)

    return moved
