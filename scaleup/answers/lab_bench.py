"""The lab press with the production's powder in its die, and the matches it can be set by."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass, replace

import numpy as np

from scaleup.arrays import Array
from scaleup.calibration.calibrated_study import CalibratedStudy
from scaleup.calibration.fit import Fit
from scaleup.calibration.logged_pulses import (
    NO_LOGS,
    PressLogs,
    as_logged,
    press_logs,
    pulse_of_run,
)
from scaleup.calibration.observations import Side, side_of
from scaleup.calibration.reference import Reference
from scaleup.model.estimate import Estimate, drawn, exactly
from scaleup.model.study import Study
from scaleup.powder.charge import Charge
from scaleup.powder.compression import Pulse, compress
from scaleup.powder.law import Powder
from scaleup.presses.press import Setting, settings_of
from scaleup.sentence import Fact, Sentence, Words
from scaleup.transfer.filling import Filling, filling_of

ROUNDS = 6
NEAR = 1.1
"""Two dwells this close, as a ratio, count as the same."""
STRICT = 1e-4


@dataclass(frozen=True)
class Bench:
    """The lab press with the production's powder in its die."""

    study: Study
    fit: Fit
    reference: Reference
    made: Pulse
    """The pulse of the production runs, its pressures as the lab reads them."""
    lab: Side
    charge: Charge
    usual: Setting
    """How the lab usually presses."""
    closest: Setting
    """The lab setting whose effective dwell is nearest to production's."""
    filling: Filling | None = None
    """Loose powder as the lab fills it; None if no depth was recorded."""
    logs: PressLogs = NO_LOGS
    """What is logged of the production press; the lab's may be the same."""

    @classmethod
    def of(cls, known: CalibratedStudy, fit: Fit, reference: Reference) -> Bench:
        """Return the bench of a study, its production runs pressed for every draw."""
        first = reference.runs[0]
        weights = [seen.weight for seen in known.observations if seen.run.weight is not None]
        weight = reference.weight or float(np.mean(weights))
        density = known.study.blend.true_density
        pressure = np.full(fit.powder.draws, reference.pressure)
        maker = first.run.maker
        runs = next((each for each in fit.plant.every_press if each.maker == maker), None)
        if runs is not None and runs.log_pressure is not None:
            pressure = pressure * np.exp(runs.log_pressure)
        own = first.side.tip.charge(weight, density)
        made = compress(
            first.side.press, fit.powder, own, pressure, first.setting, first.pre_share, STRICT
        )
        logs = press_logs(known.study, known.study.makers[maker], known.observations)
        made = pulse_of_run(logs, made, first, fit.powder, own)
        lab = side_of(known.study.lab)
        charge = lab.tip.charge(weight, density)
        bench = cls(
            known.study, fit, reference, made, lab, charge, known.reference.runs[0].setting,
            Setting(),
            filling_of(
                known.study, known.observations, reference.name, known.study.lab.press.profile.feed
            ),
            logs,
        )  # fmt: skip
        return bench.with_closest(pressure)

    @property
    def powder(self) -> Powder:
        """Return the fitted powder."""
        return self.fit.powder

    def with_closest(self, pressure: Array) -> Bench:
        """Return the same with the nearest of the settings the lab press can make."""

        def away(setting: Setting) -> float:
            dwell = self.pulse(pressure, setting).effective_dwell
            return float(np.median(np.abs(np.log(dwell / self.made.effective_dwell))))

        settings = (self.usual, *settings_of(self.study.lab.press.profile))
        closest = min(settings, key=away)
        return replace(self, closest=closest)

    def pulse(self, pressure: Array, setting: Setting) -> Pulse:
        """Return the pulse of the lab press at a pressure in MPa, shape (draws,)."""
        pulse = compress(
            self.lab.press, self.powder, self.charge, pressure, setting, tolerance=STRICT
        )
        if "lab" not in self.logs.sides:
            return pulse
        return as_logged(self.logs, pulse, self.lab.press, self.powder, self.charge, setting)

    def pressure_for(self, state: Array) -> Array:
        """Return for each draw the lab pressure in MPa that leaves a state, usually timed."""
        needed = self.made.peak_pressure
        for _ in range(ROUNDS):
            dwell = self.pulse(needed, self.usual).effective_dwell
            needed = self.powder.peak_pressure(state, dwell)
        return needed


LabMatch = Callable[[Bench], tuple[Estimate, Setting, Words] | Words]
"""Pressure, setting and why the match cannot be met; or why there is no setting at all."""


def _same_pressure(bench: Bench) -> tuple[Estimate, Setting, str]:
    return exactly(bench.reference.pressure, "MPa"), bench.usual, ""


def _same_solid_fraction(bench: Bench) -> tuple[Estimate, Setting, str]:
    needed = bench.pressure_for(bench.made.static_pressure)
    return drawn(needed, "MPa"), bench.usual, ""


def _same_strength(bench: Bench) -> tuple[Estimate, Setting, str] | Words:
    """Return the lab pressure whose tablets are as strong as the production tablets were."""
    curve = bench.fit.strength
    strength = bench.reference.mean(lambda seen: seen.strength, "MPa", "breaking force").value
    if strength is None or curve is None:
        return "no strength was measured on both sides"
    solid = curve.solid_fraction(strength)
    if np.mean(solid < 0.995) < 0.95 or np.min(solid) <= 0.0:
        return Sentence(
            "no solid fraction gives the {strength} of the production tablets",
            strength=Fact(strength, "MPa"),
        )
    level = -np.log1p(-np.minimum(solid, 0.995))
    state = bench.powder.hardening.static_pressure(level)
    if np.any(state <= 0.0):
        return Sentence(
            "{strength} is less than loose powder in this law gives",
            strength=Fact(strength, "MPa"),
        )
    return drawn(bench.pressure_for(state), "MPa"), bench.usual, ""


def same_dwell(bench: Bench) -> tuple[Estimate, Setting, Words]:
    """Return the setting whose dwell is nearest to production's, and why it is not the same."""
    pressure = exactly(bench.reference.pressure, "MPa")
    here = bench.pulse(bench.made.peak_pressure, bench.closest).effective_dwell
    ratio = float(np.median(here / bench.made.effective_dwell))
    reason: Words = ""
    if not 1.0 / NEAR <= ratio <= NEAR:
        reason = Sentence(
            "the nearest dwell the lab press makes is {nearest}, {ratio:2} times production's "
            "{production}; that is what is shown",
            nearest=Fact(float(np.median(here)), "s"),
            ratio=ratio,
            production=Fact(float(np.median(bench.made.effective_dwell)), "s"),
        )
    return pressure, bench.closest, reason


LAB_MATCHES: dict[str, LabMatch] = {
    "pressure": _same_pressure,
    "solid-fraction": _same_solid_fraction,
    "strength": _same_strength,
    "dwell": same_dwell,
}
