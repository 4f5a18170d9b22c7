"""The logged pulses of a rotary press: how it presses, beside how its drawing says it does.

A logged pulse is held against the one that the geometry of the profile gives at the same force and
speed. By the kinematics every time of a pulse goes with one over the turret speed, so the ratio of
the two effective dwells is carried to other speeds, and to other forces.
"""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from dataclasses import dataclass, replace

import numpy as np

from scaleup.arrays import Array
from scaleup.calibration.force_dwell import force_pulses
from scaleup.calibration.observations import Observation, side_of
from scaleup.calibration.pulse_times import figures_of, time_factors, with_times
from scaleup.io.logs import Log
from scaleup.model.study import LabSide, ProductionSide, Study
from scaleup.model.tooling import ToolingProfile
from scaleup.powder.charge import Charge
from scaleup.powder.compression import Pulse, compress
from scaleup.powder.law import Powder
from scaleup.presses.press import Press, Setting
from scaleup.presses.pulse_shapes import ForcePulse
from scaleup.pulses.logged_compression import compression_of
from scaleup.short_repr import short_repr

ONE_LOG = 0.03
"""Standard deviation of ln(effective dwell) by which one logged compression is off the mean pulse
of its press (a judgement of this program)."""
PER_SPEED, PER_FORCE = 0.05, 0.05
"""The same that is added for each unit of ln(speed) and of ln(force) away from the log (judgements
of this program)."""
OTHER_POWDER = 0.12
"""Standard deviation of ln(effective dwell) that is added where a log may be of another powder (a
judgement of this program: the powders of the examples differ so at one force and weight)."""
BELIEF = 3.0
"""How many logs the usual spread of one is worth (a judgement of this program)."""
SAME_HEAD = 0.01
"""Share by which two head flats or edges may differ and still be one (a judgement of this
program)."""


SOLVED = 1e-3
"""Share by which the peak of a pulse solved for its dwell may miss that of the log."""
LEAST_EXPONENT = 2e-3
"""Rate exponent below which a dwell hardly matters, and that of a log is noise alone."""


@short_repr
@dataclass(frozen=True)
class LoggedPulse:
    """One logged compression of a rotary press."""

    name: str
    """The run that it belongs to, or the file beside the profile of the press."""
    speed: float
    """Turret speed in rpm."""
    pressure: float
    """Its peak in MPa on the tips it was logged with."""
    motion: ForcePulse
    pre_share: float = 0.0
    """Precompression before it, as a share of its peak."""
    other_powder: bool = False
    """Whether it may be of another powder than the study's."""

    @property
    def spread(self) -> float:
        """Return the standard deviation of ln(effective dwell) at its own speed and force."""
        return float(np.hypot(ONE_LOG, OTHER_POWDER)) if self.other_powder else ONE_LOG


@dataclass(frozen=True)
class PressLogs:
    """The logs of one press with one tooling."""

    logs: tuple[LoggedPulse, ...]
    sides: tuple[str, ...]
    """Which runs were made on it, as `Run.maker` names their press."""

    def dwell(self, m: Array) -> Array:
        """Return the effective dwells in s of the logged pulses, shape (logs, draws)."""
        dwell, m = np.empty((len(self.logs), m.size)), np.maximum(m, LEAST_EXPONENT)
        for each in force_pulses((i, log.motion) for i, log in enumerate(self.logs)):
            dwell[list(each.runs)] = each.dwell(m)
        return dwell


NO_LOGS = PressLogs((), ())


def press_logs(
    study: Study, production: ProductionSide, observations: Sequence[Observation]
) -> PressLogs:
    """Return what is logged of a press with its tooling.

    By runs of any side that were made on the same, and by its own profile.
    """
    if not study.transfer.has("pulse"):
        return NO_LOGS
    same = tuple(name for name, side in _sides(study) if _one_press(side, production))
    return PressLogs((*_of_runs(observations, same), *_of_profile(production)), same)


def _sides(study: Study) -> tuple[tuple[str, LabSide | ProductionSide], ...]:
    return ("lab", study.lab), *study.makers.items()


def _one_press(side: LabSide | ProductionSide, production: ProductionSide) -> bool:
    heads = side.tooling.profile, production.tooling.profile
    return side.press.id == production.press.id and same_head(*heads)


def same_head(one: ToolingProfile, other: ToolingProfile) -> bool:
    """Return whether rollers meet one shape of head on two toolings."""
    pairs = (
        (one.head_flat, other.head_flat),
        (one.head_edge_radius, other.head_edge_radius),
    )
    return all(a and b and abs(a / b - 1.0) <= SAME_HEAD for a, b in pairs)


def _of_runs(observations: Sequence[Observation], sides: tuple[str, ...]) -> Iterator[LoggedPulse]:
    for seen in observations:
        speed = seen.setting.speed
        if seen.logged is not None and seen.run.maker in sides and speed is not None:
            motion = ForcePulse(seen.logged.time, seen.logged.force)
            name = f"run {seen.run.name}"
            yield LoggedPulse(name, speed, seen.pressure, motion, seen.pre_share)


def _of_profile(production: ProductionSide) -> Iterator[LoggedPulse]:
    profile, tooling = production.press.profile, production.tooling.profile
    flat, speed = profile.record_head_flat, profile.record_speed
    if profile.record is None or speed is None or not flat or not tooling.head_flat:
        return
    if abs(flat / tooling.head_flat - 1.0) > SAME_HEAD:
        return  # the geometry, which was fitted to the log, speaks for another head
    if not isinstance(profile.log, Log):
        raise ValueError("the log of this profile has not been read")  # noqa: TRY004
    side = side_of(production)
    logged = compression_of(profile.log, profile.compression, side.press.compliance)
    motion = ForcePulse(logged.time, logged.force)
    pressure = logged.peak / side.tip.area
    pre_share = 0.0 if profile.pre_roller is None else profile.record_precompression or 0.0
    yield LoggedPulse(profile.record, speed, pressure, motion, pre_share, other_powder=True)


def away(logs: Sequence[LoggedPulse], pressure: Array | float, speed: float) -> Array:
    """Return the variance of ln(ratio) that the way from each log adds, shape (logs, ...).

    `pressure` in MPa has any shape.

    Examples
    --------
    >>> flat = ForcePulse(np.array([0.0, 1.0, 2.0]), np.array([0.0, 1e4, 0.0]))
    >>> log = LoggedPulse("run P1", 30.0, 150.0, flat)
    >>> float(away([log], 150.0, 30.0)[0])
    0.0
    >>> round(float(away([log], 150.0, 60.0)[0]) ** 0.5, 4)
    0.0347
    """
    shape = (-1,) + (1,) * np.ndim(pressure)
    of_speed = np.log(speed / np.array([log.speed for log in logs])).reshape(shape)
    logged = np.array([log.pressure for log in logs]).reshape(shape)
    of_force = np.log(np.asarray(pressure) / logged)
    result: Array = (PER_SPEED * of_speed) ** 2 + (PER_FORCE * of_force) ** 2
    return result


def shares_of_logs(
    logs: Sequence[LoggedPulse], pressure: Array | float, speed: float
) -> tuple[Array, Array]:
    """Return how much each log counts at a pressure in MPa and a speed in rpm, and `away` of it.

    As one over its variance there; the shares add up to 1.
    """
    far = away(logs, pressure, speed)
    own = np.array([log.spread**2 for log in logs]).reshape((-1,) + (1,) * (far.ndim - 1))
    weight = 1.0 / (own + far)
    return weight / weight.sum(axis=0), far


def pulse_of_run(
    logs: PressLogs, pulse: Pulse, seen: Observation, powder: Powder, charge: Charge
) -> Pulse:
    """Return the solved pulse of a run without a log as the logs of its press have it.

    The same pulse, if the run has a log of its own or its press has none.
    """
    if seen.run.maker not in logs.sides or seen.logged:
        return pulse
    return as_logged(logs, pulse, seen.side.press, powder, charge, seen.setting)


def as_logged(
    logs: PressLogs, pulse: Pulse, press: Press, powder: Powder, charge: Charge, setting: Setting
) -> Pulse:
    """Return a solved pulse of a press, every figure of shape (draws,), as its logs have it."""
    speed, draws = setting.speed, powder.draws
    if not logs.logs or speed is None:
        return pulse
    solved = [
        compress(
            press, powder, charge, np.full(draws, log.pressure), Setting(speed=log.speed),
            log.pre_share, SOLVED,
        )
        for log in logs.logs
    ]  # fmt: skip
    shares, _ = shares_of_logs(logs.logs, float(np.median(pulse.peak_pressure)), speed)
    apart = np.log(
        logs.dwell(powder.rate_exponent) / np.array([each.effective_dwell for each in solved])
    )
    dwell = pulse.effective_dwell * np.exp(shares @ apart)
    figures = [figures_of(log.motion.time, log.motion.force) for log in logs.logs]
    timed = with_times(pulse, time_factors(shares, figures, solved), dwell)
    state = powder.static_pressure(pulse.peak_pressure, dwell)
    return replace(timed, static_pressure=state)
