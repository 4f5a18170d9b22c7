"""The dwell of logged pulses carried over the rate exponent, against the pulses themselves."""

from __future__ import annotations

from pathlib import Path

import numpy as np
import pytest

from scaleup.arrays import Array
from scaleup.calibration import force_dwell
from scaleup.calibration.fit import Fit, fit
from scaleup.calibration.force_dwell import LongPulses, Pulses, force_pulses
from scaleup.calibration.observations import observe, sides
from scaleup.io.study import read_study
from scaleup.powder.rate import effective_dwell, mean_power
from scaleup.presses.pulse_shapes import ForcePulse

BRACKEN = Path(__file__).parents[2] / "examples" / "bracken"
EXPONENTS = np.concatenate([np.array([0.0, 1e-6, 9e-5]), np.geomspace(1e-4, 0.2, 500), [0.25]])


def logged() -> list[ForcePulse]:
    study = read_study(BRACKEN)
    motions = [
        seen.side.press.motion(seen.run.force, seen.setting)
        for seen in observe(study, sides(study))
    ]
    return [each for each in motions if isinstance(each, ForcePulse)]


def awkward() -> list[ForcePulse]:
    """Return a staircase, a spike on a long shoulder, a plateau with noise, and two humps."""
    time = np.linspace(0.0, 3.0, 121)
    rng = np.random.default_rng(5)
    shapes: list[Array] = [
        np.floor(8.0 * np.sin(np.pi * time / 3.0)) + 1.0,
        np.where(np.arange(121) == 40, 10.0, 9.0 * (time < 2.9)),
        np.clip(10.0 * np.minimum(time, 3.0 - time), 0.0, 8.0)
        * (1.0 + 0.01 * rng.standard_normal(121)),
        np.sin(np.pi * time / 3.0) ** 2 + 0.98 * (np.abs(time - 2.5) < 0.1),
    ]
    return [ForcePulse(time, 1e3 * np.maximum(shape, 0.0)) for shape in shapes]


def test_a_long_pulse_has_the_dwell_of_every_sample() -> None:
    motions = [*logged(), *awkward()]
    (pulses,) = force_pulses(enumerate(motions))
    assert isinstance(pulses, LongPulses)
    assert pulses.runs == tuple(range(len(motions)))
    carried = pulses.dwell(EXPONENTS)
    real = len(logged())
    for index, (row, motion) in enumerate(zip(carried, motions, strict=True)):
        direct = effective_dwell(motion.time, motion.share(), EXPONENTS)
        np.testing.assert_allclose(row, direct, rtol=1e-11 if index < real else 1e-9)


def test_a_pulse_of_few_pieces_is_taken_as_it_is() -> None:
    steady = [
        ForcePulse(np.array([0.0, 1.0, 1.0 + hold, 1.2 + hold]), np.array([0.0, 9e3, 9e3, 0.0]))
        for hold in (1.0, 5.0)
    ]
    alike, long = force_pulses([(2, steady[0]), (0, logged()[0]), (1, steady[1])])
    assert isinstance(alike, Pulses)
    assert alike.runs == (2, 1)
    assert long.runs == (0,)
    np.testing.assert_allclose(alike.dwell(np.array([0.25])), [[1.24], [5.24]], rtol=1e-14)


def test_logs_are_not_gone_through_for_every_parameter_set(monkeypatch: pytest.MonkeyPatch) -> None:
    """The work on samples is that of the nodes and the designs, whatever the number of draws."""
    worked: list[int] = []

    def counted(share: Array, m: Array) -> Array:
        worked.append(share.size * m.size)
        return mean_power(share, m)

    for module in ("scaleup.powder.rate", "scaleup.calibration.force_dwell"):
        monkeypatch.setattr(f"{module}.mean_power", counted)
    study = read_study(BRACKEN)
    samples = sum(motion.time.size for motion in logged())
    assert isinstance(fit(study, draws=1000), Fit)
    per_sample = sum(worked) / samples
    assert per_sample < 2.0 * force_dwell.NODES + 3 * 240
