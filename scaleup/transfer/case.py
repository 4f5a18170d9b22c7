"""A lab result on its way to one production press: what is asked, and all that follows from it."""

from __future__ import annotations

from dataclasses import dataclass, field, replace
from functools import cached_property

import numpy as np

from scaleup.arrays import Array, Places
from scaleup.calibration.calibrated_study import CalibratedStudy
from scaleup.calibration.fit import Fit, NoFit
from scaleup.calibration.logged_pulses import press_logs, pulse_of_run
from scaleup.calibration.observations import Observation, side_of
from scaleup.calibration.plant.plant import plant_of
from scaleup.calibration.reference import Reference
from scaleup.model.study import ProductionSide, Study
from scaleup.powder.compression import Pulse, compress
from scaleup.sentence import Words
from scaleup.short_repr import short_repr
from scaleup.transfer.draws import require_draws
from scaleup.transfer.equivalent import Equivalent, equivalent_under
from scaleup.transfer.fastest_speed import (
    Fastest,
    FeasibleSpeed,
    fastest_speed,
    slowest_speed,
    with_band,
)
from scaleup.transfer.feasible import feasible_pressure
from scaleup.transfer.filling import filling_of
from scaleup.transfer.limits import Limit, limits_of
from scaleup.transfer.matches import MATCHES
from scaleup.transfer.operating_point import OperatingPoint
from scaleup.transfer.process_model import ProcessModel, production_charge
from scaleup.transfer.seen_defects import seen_limits
from scaleup.transfer.tested import tested_limits
from scaleup.transfer.unproven import Unproven, unproven


@short_repr
@dataclass(frozen=True)
class LabPulse:
    """The pulse of the reference runs on the lab press, every figure of shape (draws,)."""

    pulse: Pulse
    solid_fraction: Array


@short_repr
@dataclass(frozen=True)
class TransferCase:
    """A lab result, the press that is to make it again, and the speed and confidence wanted.

    What follows is worked out when first asked for and then kept. Where the runs allow no fit, the
    case has no process, no limits and no feasible setting, and its equivalents say why.
    """

    calibrated: CalibratedStudy
    speed: float
    """rpm."""
    confidence: float
    fitted: ProcessModel | None
    """The production press with the fitted powder; None where the runs allow no fit."""
    limits: tuple[Limit, ...]
    first: TransferCase | None = field(default=None, repr=False, compare=False)
    """The case at another speed that this one follows from, and shares with it what no speed
    changes; None if it follows from none."""

    @property
    def study(self) -> Study:
        """Return the study; its production side is the press asked about."""
        return self.calibrated.study

    @property
    def production(self) -> ProductionSide:
        """Return the press asked about, with its tooling."""
        return self.calibrated.study.production

    @property
    def reference(self) -> Reference:
        """Return the lab result to be made again."""
        return self.calibrated.reference

    @property
    def observations(self) -> tuple[Observation, ...]:
        """Return every run, read."""
        return self.calibrated.observations

    @property
    def lab_runs(self) -> tuple[Observation, ...]:
        """Return the runs on the lab press."""
        return tuple(seen for seen in self.observations if seen.run.press == "lab")

    @property
    def tested_pressure(self) -> float:
        """Return the highest pressure in MPa that any run was pressed at, 0 without runs."""
        return max((seen.pressure for seen in self.observations), default=0.0)

    @property
    def process(self) -> ProcessModel:
        """Return the production press with the fitted powder.

        Raises
        ------
        TypeError
            If the runs allow no fit.
        """
        if self.fitted is None:
            raise TypeError("the runs allow no fit")
        return self.fitted

    @property
    def fit(self) -> Fit:
        """Return the fit; raises as `process` does where there is none."""
        return self.process.fit

    @property
    def no_fit(self) -> NoFit | None:
        """Return why the runs allow no fit, None if they do."""
        return self.calibrated.fit if isinstance(self.calibrated.fit, NoFit) else None

    @property
    def target(self) -> Limit | None:
        """Return the strength or breaking force asked for, if the study asks for one."""
        return next((limit for limit in self.limits if limit.code == "strength"), None)

    @cached_property
    def lab_pulse(self) -> LabPulse:
        """Return the pulse of the reference runs, on the press that made them, for every draw."""
        if self.first is not None:
            return self.first.lab_pulse
        powder, reference = self.fit.powder, self.reference
        weight = reference.weight or self.process.charge.weight
        first = reference.runs[0]
        charge = first.side.tip.charge(weight, self.study.blend.true_density)
        pressure = np.full(powder.draws, reference.pressure)
        pulse = compress(first.side.press, powder, charge, pressure, first.setting, first.pre_share)
        logs = press_logs(self.study, self.study.own_production, self.observations)
        pulse = pulse_of_run(logs, pulse, first, powder, charge)
        return LabPulse(pulse, powder.solid_fraction(pulse.static_pressure))

    @cached_property
    def _known(self) -> dict[str, Equivalent]:
        return {}

    def equivalent(self, match: str) -> Equivalent:
        """Return the production settings under a match, by its name in `MATCHES`."""
        if match not in self._known:
            self._known[match] = equivalent_under(match, self)
        return self._known[match]

    @property
    def at_lab_pressure(self) -> OperatingPoint:
        """Return the lab's own pressure at the asked speed; there is none without a fit."""
        return self.process.at(self.reference.pressure, self.speed)

    @property
    def at_lab_pressure_by_the_law(self) -> OperatingPoint:
        """Return the same with nothing between lab and plant but the law: what the dwell does."""
        return self.process.by_the_law.at(self.reference.pressure, self.speed)

    @property
    def logged_pulse(self) -> Words:
        """Return whether logs of the press agree with its geometry; empty where there are none."""
        figures = None if self.fitted is None else self.fitted.logged_figures
        return "" if figures is None else figures.told

    @cached_property
    def slower_is_stronger(self) -> bool:
        """Return whether tablets at the lab's pressure get stronger on a slower turret.

        A longer pulse densifies more, and a longer stay in the feeder shears the blend more.
        """
        slower = max(self.production.press.profile.speed.min, 0.5 * self.speed)
        here = self.at_lab_pressure.strength
        there = self.process.at(self.reference.pressure, slower).strength
        if here is None or there is None:
            return True
        return float(np.median(there)) >= float(np.median(here))

    @property
    def equivalents(self) -> tuple[Equivalent, ...]:
        """Return the settings under every match, in the order of the comparison."""
        return tuple(map(self.equivalent, MATCHES))

    @property
    def dialled(self) -> tuple[Equivalent, ...]:
        """Return the equivalents at the asked speed that have settings."""
        return tuple(
            item for item in self.equivalents if item.point is not None and item.match != "dwell"
        )

    @cached_property
    def feasible_pressure(self) -> float | None:
        """Return the least pressure in MPa that keeps every limit at the asked speed."""
        return None if self.fitted is None else feasible_pressure(self, self.speed)

    @cached_property
    def fastest(self) -> FeasibleSpeed | None:
        """Return the fastest speed that keeps every limit, without its band; None if none does."""
        if self.first is not None:
            return self.first.fastest
        return None if self.fitted is None else fastest_speed(self)

    @cached_property
    def slowest(self) -> float | None:
        """Return the slowest speed in rpm that keeps every limit; None if none does."""
        if self.first is not None:
            return self.first.slowest
        slowest = None if self.fitted is None else slowest_speed(self)
        return None if slowest is None else slowest.speed

    @cached_property
    def fastest_with_band(self) -> FeasibleSpeed | None:
        """Return the fastest speed with what the finite number of draws leaves open of it."""
        if self.first is not None:
            return self.first.fastest_with_band
        return None if self.fastest is None else with_band(self, self.fastest)

    @property
    def fastest_told(self) -> Fastest:
        """Return the fastest speed as it is told, or why there is none."""
        if self.no_fit is not None:
            return Fastest.unknown(self.no_fit.why)
        return Fastest.of(self, self.fastest_with_band)

    @cached_property
    def unproven(self) -> Unproven | None:
        """Return, where no setting keeps every limit, one that breaks only what is not firm."""
        if self.fitted is None or self.feasible_pressure is not None or self.fastest is not None:
            return None
        return unproven(self, self.speed, elsewhere=True)

    @cached_property
    def without_suspicious(self) -> TransferCase | None:
        """Return the case fitted without its suspicious runs; None if it has none."""
        if self.first is not None:
            known = self.first.without_suspicious
            return None if known is None else known.at(self.speed)
        without = self.calibrated.without_suspicious
        return None if without is None else transfer_case(without, self.speed, self.confidence)

    def at(self, speed: float | None = None, confidence: float | None = None) -> TransferCase:
        """Return the case at another turret speed in rpm or another confidence, the fit kept."""
        speed = self.speed if speed is None else speed
        confidence = self.confidence if confidence is None else confidence
        if self.fitted is not None:
            low, high = self.fitted.speeds_covered
            if not low <= speed <= high:
                return transfer_case(self.calibrated, speed, confidence)
            require_draws(confidence, self.calibrated.drawing.draws)
        if confidence != self.confidence:
            return replace(self, speed=speed, confidence=confidence, first=None)
        return replace(self, speed=speed, first=self.first or self)

    def with_draws(self, which: Places) -> TransferCase:
        """Return the case with some of its draws, their places rising; the lab's pulse is kept."""
        other = self.with_process(self.process.chosen(which))
        pulse = self.lab_pulse
        other.__dict__["lab_pulse"] = LabPulse(
            pulse.pulse.chosen(which), pulse.solid_fraction[which]
        )
        return other

    def limited_to(self, limits: tuple[Limit, ...]) -> TransferCase:
        """Return the case with other limits."""
        return self._keeping_the_pulse(replace(self, limits=limits, first=None))

    def _keeping_the_pulse(self, other: TransferCase) -> TransferCase:
        """Return another case of the same powder with the lab's pulse, if it is known here."""
        known = (self.first or self).__dict__.get("lab_pulse")
        if known is not None:
            other.__dict__["lab_pulse"] = known
        return other

    def with_process(self, process: ProcessModel) -> TransferCase:
        """Return the case with another model of the press, under the limits that go with it."""
        study = self.study
        limits = every_limit(study, process, self.observations)
        other = replace(self, fitted=process, limits=limits, first=None)
        same = self.fitted is not None and process.fit.powder is self.fitted.fit.powder
        return self._keeping_the_pulse(other) if same else other


def transfer_case(lab: CalibratedStudy, speed: float, confidence: float) -> TransferCase:
    """Return the case of a study's production press at a turret speed in rpm.

    Raises
    ------
    InputError
        If the draws are too few for the confidence.
    """
    if isinstance(lab.fit, NoFit):
        return TransferCase(lab, speed, confidence, None, ())
    require_draws(confidence, lab.drawing.draws)
    process = _process(lab, lab.fit, speed)
    limits = every_limit(lab.study, process, lab.observations)
    return TransferCase(lab, speed, confidence, process, limits)


def every_limit(
    study: Study, process: ProcessModel, observations: tuple[Observation, ...]
) -> tuple[Limit, ...]:
    """Return the limits of press and tablet, of what was seen, and of the evidence."""
    return (
        *limits_of(study, process), *seen_limits(observations), *tested_limits(study, process)
    )  # fmt: skip


def _process(lab: CalibratedStudy, fit: Fit, speed: float) -> ProcessModel:
    study, production = lab.study, lab.study.production
    side = side_of(production)
    weights = [seen.weight for seen in lab.observations if seen.run.weight is not None]
    weight = lab.reference.weight or float(np.mean(weights))
    range_ = production.press.profile.speed
    inside = range_.min <= speed <= range_.max
    charge = production_charge(study, side, weight)
    process = ProcessModel(
        production=production,
        side=side,
        charge=charge,
        fit=fit,
        plant=plant_of(study, production, fit.plant, charge.weight),
        filling=filling_of(
            study, lab.observations, lab.reference.name, production.press.profile.feed
        ),
        reference_pressure=lab.reference.pressure,
        exact_speed=min(max(production.speed, range_.min), range_.max) if inside else speed,
        logs=press_logs(study, production, lab.observations),
    )
    return process.with_measured_pulse()
