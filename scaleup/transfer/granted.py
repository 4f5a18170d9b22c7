"""Every value that no input states and an answer rests on, one function each."""

from __future__ import annotations

from collections.abc import Callable, Iterator
from dataclasses import dataclass, replace

import numpy as np

from scaleup.arrays import Array
from scaleup.evidence.fit import Fit
from scaleup.evidence.prior import RECOVERY
from scaleup.evidence.strength_curve import EjectionLine
from scaleup.files.press_profiles import HydraulicProfile
from scaleup.files.run_table import Run
from scaleup.files.study import ProductionSide, Study
from scaleup.powder.precompression import precompression_counts
from scaleup.powder.tip import tip_from
from scaleup.transfer.assumed import Asking, Assumed, Granted, Other, Outcome, assumed
from scaleup.transfer.filling import Filling
from scaleup.transfer.limits import SHORT_FEED, Limit
from scaleup.transfer.line import Line, OperatingPoint
from scaleup.transfer.question import LabCase, Question, question, with_line
from scaleup.transfer.wording import percent, say

CONFIDENCES = (0.80, 0.95)
"""Other confidences that are asked with (common practice)."""
LEAST_TIP_STRESS = 200.0
"""MPa over the tip area for which weak tips are rated (from memory)."""
EJECTION_STRESS = 5.0
"""MPa of ejection stress from which problems are usual (common practice)."""
WEIGHT_OFF = 0.05
"""Share by which a tablet's weight may differ from the one aimed at (common practice)."""
PRECOMPRESSION = 0.20
"""Share of the main force that is usual to start with (common practice)."""
SHEARED = 0.934
"""Strength of a sheared blend over that of a fresh one at equal solid fraction (Akseli et al.,
AAPS PharmSciTech 12 (2011) 834)."""
GIVING = 100e3
"""N/mm of a press that gives a good deal (from memory)."""
HELD = 1.0
"""s that a hand holds a force (a judgement of this program)."""
DENSITY_OFF = 0.01
"""Share by which the density of a mixture may be off that of its components (from memory)."""
WIDER = 0.005
"""Share by which a tablet is wider than its die after ejection (from memory)."""
LOOSE = (0.20, 0.45)
"""Density of loose blends over their true density (from memory)."""
SCREEN = 2.0
"""How many times the shift of a solid fraction is looked at before the runs are fitted again."""
END = 1.0 / 3.0
"""Share of the draws at either end of a spread that stand for its end."""


@dataclass(frozen=True)
class Scene:
    """Everything a rule looks at."""

    case: LabCase
    production: ProductionSide
    confidence_stated: bool
    """Whether study or caller state the confidence."""

    @property
    def study(self) -> Study:
        """Return the study."""
        return self.case.study

    @property
    def fit(self) -> Fit | None:
        """Return the fit, if the runs allow one."""
        return self.case.fit if isinstance(self.case.fit, Fit) else None


Rule = Callable[[Scene], Iterator[Granted]]


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


def _limited(*limits: Limit, without: str = "") -> Callable[[LabCase, Question], Asked]:
    """Return the question with more limits, or without those of some code."""

    def asked_again(case: LabCase, asked: Question) -> Asked:
        kept = [each for each in asked.limits if not without or not each.code.startswith(without)]
        return case, replace(asked, limits=(*kept, *limits))

    return asked_again


Asked = tuple[LabCase, Question]


def _on_line(change: Callable[[Line], Line]) -> Callable[[LabCase, Question], Asked]:
    """Return the question about a line that a change leaves the map of as it is."""
    return lambda case, asked: (case, with_line(asked, asked.line.with_map(change(asked.line))))


def _confidence(scene: Scene) -> Iterator[Granted]:
    if scene.confidence_stated:
        return
    taken = scene.study.target.confidence

    def at(confidence: float) -> Other:
        return Other(
            percent(confidence), lambda case, asked: (case, replace(asked, confidence=confidence))
        )

    yield Granted("target.confidence", percent(taken), "default", tuple(map(at, CONFIDENCES)))


def _solid_fraction(scene: Scene) -> Iterator[Granted]:
    target = scene.study.target
    if not target.states_solid_fraction:
        window = target.solid_fraction
        yield Granted(
            "target.solid_fraction",
            f"{percent(window.min)} to {percent(window.max)}",
            "default",
            (Other("no window", _limited(without="solid-fraction")),),
        )


def _strength(scene: Scene) -> Iterator[Granted]:
    target = scene.study.target
    if target.strength is not None or target.breaking_force is not None:
        return
    lab = scene.case.reference.mean(lambda seen: seen.strength, "MPa", "strength").value
    others: tuple[Other, ...] = ()
    if lab is not None:
        limit = Limit("strength", "tensile strength", "tablet", "MPa", lab, "at least", _strong)
        others = (Other(f"the lab tablet's {say(lab, 'MPa')}", _limited(limit)),)
    yield Granted("target.strength", "none asked for", "missing", others)


def _strong(point: OperatingPoint) -> Array | None:
    return point.strength


def _weight(scene: Scene) -> Iterator[Granted]:
    weight = scene.case.reference.weight
    if scene.study.target.weight is not None or weight is None:
        return

    def of(share: float) -> Other:
        return Other(
            say(weight * share, "mg"),
            lambda case, asked: (
                case,
                with_line(asked, asked.line.of_weight(asked.line.charge.weight * share)),
            ),
        )

    told = f"{say(weight, 'mg', 4)}, that of the runs {scene.case.reference.name}"
    others = (of(1.0 - WEIGHT_OFF), of(1.0 + WEIGHT_OFF))
    yield Granted("target.weight", told, "default", others)


def _tip_rating(scene: Scene) -> Iterator[Granted]:
    tooling = scene.production.tooling
    if tooling.model.tip_force_rating is not None:
        return
    low = LEAST_TIP_STRESS * tooling.model.tip_area
    limit = Limit("tip-rating", "tip force", "machine", "N", low, "at most", lambda at: at.force)
    yield Granted(
        f"{tooling.id}: tip_force_rating",
        "not stated, so no force is held against it",
        "missing",
        (Other(say(low, "N"), _limited(limit)),),
    )


def _precompression(scene: Scene) -> Iterator[Granted]:
    made = scene.production
    if made.precompression is not None or made.press.model.pre_roller is None:
        return

    def pressed(case: LabCase, asked: Question) -> Asked:
        other = replace(asked.line.production, precompression=PRECOMPRESSION)
        study = replace(case.study, production=other)
        line = replace(asked.line, production=other)
        if not precompression_counts(line.fit.powder, PRECOMPRESSION):
            line = asked.line.with_map(line)
        return replace(case, study=study), with_line(replace(asked, study=study), line)

    yield Granted(
        "production.precompression", "none", "default", (Other(percent(PRECOMPRESSION), pressed),)
    )


def _feeder(scene: Scene) -> Iterator[Granted]:
    fit, made = scene.fit, scene.production.press.model.feed
    lab = scene.study.lab.press.model.feed
    if fit is None or fit.strength is None or fit.strength.feeder_known or lab == made:
        return

    def weaker(line: Line) -> Line:
        curve = line.fit.strength
        if curve is None:
            return line
        other = replace(curve, feeder=curve.feeder * SHEARED)
        return replace(line, fit=replace(line.fit, strength=other))

    yield Granted(
        "runs on the production press",
        f"none, so the {made} feeder is taken to leave the strength of {lab}-filled tablets",
        "missing",
        (Other(f"{percent(1.0 - SHEARED)} weaker", _on_line(weaker)),),
    )


def _feeder_arc(scene: Scene) -> Iterator[Granted]:
    press = scene.production.press
    if press.model.feeder_arc is None:
        told = f"not stated, so time under the feeder ({say(SHORT_FEED, 's')}) is not watched"
        yield Granted(f"{press.id}: feeder_arc", told, "missing")


def _stiffness(scene: Scene) -> Iterator[Granted]:
    press = scene.production.press
    if press.model.stiffness is not None:
        return

    def giving(case: LabCase, asked: Question) -> Asked:
        made = asked.line.production
        model = made.press.model.model_copy(update={"stiffness": GIVING})
        other = replace(made, press=replace(made.press, model=model))
        moved = replace(case, study=replace(case.study, production=other))
        return moved, question(moved, other, asked.speed, asked.confidence)

    yield Granted(
        f"{press.id}: stiffness", "rigid", "missing", (Other(f"{GIVING / 1e3:g} kN/mm", giving),)
    )


def _ejection_limit(scene: Scene) -> Iterator[Granted]:
    press, fit = scene.production.press, scene.fit
    if press.model.ejection_limit is not None:
        return
    others: tuple[Other, ...] = ()
    if fit is not None and fit.ejection is not None:
        limit = Limit(
            "ejection-stress", "ejection stress", "machine", "MPa", EJECTION_STRESS, "at most",
            lambda at: at.ejection_stress,
        )  # fmt: skip
        others = (Other(f"{say(EJECTION_STRESS, 'MPa')} of ejection stress", _limited(limit)),)
    told = "not stated, so no ejection force is held against it"
    yield Granted(f"{press.id}: ejection_limit", told, "missing", others)


def _ejection_force(scene: Scene) -> Iterator[Granted]:
    fit = scene.fit
    if fit is None or fit.ejection is not None:
        return
    press = scene.production.press.model

    def hard_to_eject(case: LabCase, asked: Question) -> Asked:
        flat = np.zeros(asked.line.fit.powder.draws)
        line = EjectionLine(flat + np.log(EJECTION_STRESS), flat)
        other = replace(asked.line, fit=replace(asked.line.fit, ejection=line))
        return case, with_line(asked, asked.line.with_map(other))

    others = (Other(f"{say(EJECTION_STRESS, 'MPa')} of ejection stress", hard_to_eject),)
    yield Granted(
        "column ejection force",
        "too few values, so no ejection force is predicted",
        "missing",
        others if press.ejection_limit is not None else (),
    )


def _fill_depth(scene: Scene) -> Iterator[Granted]:
    if any(seen.fill_density is not None for seen in scene.case.observations):
        return

    def filled(share: float) -> Other:
        density = share * scene.study.blend.true_density
        return Other(
            f"{density:.2f} g/cm³ in the die",
            _on_line(lambda line: replace(line, filling=_filling(line, density))),
        )

    ranges = scene.production.press.model.fill
    told = "no values, so no fill depth is predicted or held against the fill cams"
    others = tuple(map(filled, LOOSE)) if ranges else ()
    yield Granted("column fill depth", told, "missing", others)


def _filling(line: Line, density: float) -> Filling:
    feed = line.production.press.model.feed
    return Filling(np.array([density]), feed, feed)


def _elastic(scene: Scene) -> Iterator[Granted]:
    fit = scene.fit
    if fit is None or fit.elastic_measured:
        return
    low, _, high = RECOVERY
    told = f"elastic recovery of {percent(low)} to {percent(high)}"
    others = _ends("recovery", lambda line: -line.fit.powder.elastic)
    yield Granted("column in-die thickness", told, "default", others)


def _rate(scene: Scene) -> Iterator[Granted]:
    fit = scene.fit
    if fit is None or fit.rate.evidence == "measured" or scene.study.blend.rate_material:
        return
    others = _ends("rate exponent", lambda line: line.fit.powder.rate_exponent)
    yield Granted("blend.rate_material", fit.rate.source, "missing", others)


def _ends(what: str, of: Callable[[Line], Array]) -> tuple[Other, ...]:
    """Return the lowest and the highest third of the draws by one of their figures."""

    def end(highest: bool) -> Callable[[LabCase, Question], Asked]:
        def some(case: LabCase, asked: Question) -> Asked:
            order = np.argsort(of(asked.line), kind="stable")
            count = max(int(END * order.size), 1)
            which = np.sort(order[-count:] if highest else order[:count])
            return case, with_line(asked, asked.line.chosen(which))

        return some

    told = f"{what} in its {{}} third"
    return (
        Other(told.format("lowest"), end(highest=False)),
        Other(told.format("highest"), end(highest=True)),
    )


def _hold(scene: Scene) -> Iterator[Granted]:
    press = scene.study.lab.press.model
    if not isinstance(press, HydraulicProfile) or press.automatic_release:
        return
    timed = _timed(scene)
    bare = sum(run.hold is None for run in timed)
    if not bare:
        return

    def held(study: Study) -> Study:
        return _runs(study, lambda run: replace(run, hold=HELD) if run.hold is None else run)

    told = f"none in {bare} of {len(timed)} lab runs, which count as not held"
    yield Granted("column hold", told, "default", (Other(say(HELD, "s"), study=held),))


def _loading_rate(scene: Scene) -> Iterator[Granted]:
    press = scene.study.lab.press.model
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

        return Other(f"{rate / 1e3:g} kN/s", study=loaded)

    told = f"the {own / 1e3:g} kN/s of the profile for {bare} of {len(timed)} lab runs"
    others = tuple(at(rate) for rate in ends if rate != own)
    yield Granted("column loading rate", told, "default", others)


def _timed(scene: Scene) -> list[Run]:
    """Return the lab runs whose pulse no log tells."""
    return [
        replace(seen.run, hold=seen.setting.hold, loading_rate=seen.setting.loading_rate)
        for seen in scene.case.observations
        if seen.run.press == "lab" and seen.logged is None
    ]


def _runs(study: Study, change: Callable[[Run], Run]) -> Study:
    """Return a study with other lab runs."""
    runs = tuple(change(run) if run.press == "lab" else run for run in study.lab.runs)
    return replace(study, lab=replace(study.lab, runs=runs))


def _true_density(scene: Scene) -> Iterator[Granted]:
    blend = scene.study.blend
    if not blend.density_from_components:
        return

    def off(share: float) -> Other:
        def denser(study: Study) -> Study:
            density = study.blend.true_density * share
            return replace(study, blend=replace(study.blend, true_density=density))

        return Other(
            f"{blend.true_density * share:.3f} g/cm³",
            study=denser,
            screen=_shifted(share - 1.0),
        )

    told = f"{blend.true_density:.3f} g/cm³, that of its components mixed"
    yield Granted(
        "blend.true_density", told, "default", (off(1.0 - DENSITY_OFF), off(1.0 + DENSITY_OFF))
    )


def _diameter(scene: Scene) -> Iterator[Granted]:
    measured = [seen.run for seen in scene.case.observations if seen.run.thickness is not None]
    if not measured or all(run.diameter is not None for run in measured):
        return
    width = tip_from(scene.study.lab.tooling.model).width

    def wider(study: Study) -> Study:
        return _runs(
            study, lambda run: run if run.diameter else replace(run, diameter=width * (1.0 + WIDER))
        )

    other = Other(f"{percent(WIDER)} wider", study=wider, screen=_shifted(2.0 * WIDER))
    yield Granted("column diameter", "that of the tips", "default", (other,))


def _shifted(share: float) -> Callable[[Question], Question]:
    """Return the question with the window of the solid fraction moved by more than a share."""

    def moved(asked: Question) -> Question:
        limits = tuple(
            replace(each, bound=each.bound * (1.0 + SCREEN * share))
            if each.code.startswith("solid-fraction")
            else each
            for each in asked.limits
        )
        return replace(asked, limits=limits)

    return moved


RULES: tuple[Rule, ...] = (
    _true_density, _rate, _hold, _loading_rate, _diameter, _elastic, _ejection_force, _fill_depth,
    _precompression, _feeder, _feeder_arc, _tip_rating, _ejection_limit, _stiffness,
    _strength, _solid_fraction, _weight, _confidence,
)  # fmt: skip
