"""Hum is found beside compressions, and never made of them."""

from __future__ import annotations

import numpy as np
import pytest

from scaleup.arrays import Array
from scaleup.pulses.hum import hum_of

PEAK, LEVEL = 12e3, 600.0


def row_of(
    rate: float, *, shape: str = "sine", fade: float = 0.0, duty: float = 0.3, samples: float = 5e3
) -> tuple[Array, Array]:
    """Return times in s and forces in N of so many compressions a second.

    Behind each of them 3 % of the peak is left and fades away with a time constant in s.
    """
    time = np.arange(0.0, 2.2, 1.0 / samples)
    phase = (time * rate) % 1.0
    share = np.clip(phase / duty, 0.0, 1.0)
    pulse = np.sin(np.pi * share) if shape == "sine" else np.sin(np.pi * share) ** 2
    force = np.where(phase < duty, PEAK * pulse, 0.0)
    if fade:
        after = (phase - duty) / rate
        force += np.where((after >= 0.0), 0.03 * PEAK * np.exp(-np.maximum(after, 0.0) / fade), 0.0)
    return time, force


def sine(time: Array, frequency: float, amplitude: float = 0.005 * PEAK) -> Array:
    return amplitude * np.sin(2.0 * np.pi * frequency * time + 1.0)


def noise(size: int, of: float = 6.0) -> Array:
    return np.random.default_rng(4).normal(0.0, of, size)


FEW = (7.1, 10.0, 25.0, 200.0)
MANY = (
    1.0,
    2.0,
    12.5,
    20.0,
    3.0,
    4.0,
    5.0,
    6.0,
    8.0,
    12.0,
    15.0,
    16.667,
    24.0,
    30.0,
    50.0,
    60.0,
    100.0,
)


@pytest.mark.parametrize("fade", [0.0, 0.002, 0.01, 0.05])
@pytest.mark.parametrize("shape", ["sine", "squared sine"])
@pytest.mark.parametrize("rates", [FEW, pytest.param(MANY, marks=pytest.mark.slow)])
def test_no_row_of_compressions_hums(rates: tuple[float, ...], shape: str, fade: float) -> None:
    """Rates whose harmonics are the mains' or near them, with and without noise and drift."""
    for rate in rates:
        for duty in (0.1, 0.4) if rate < 30 else (0.3,):
            time, force = row_of(rate, shape=shape, fade=fade, duty=duty)
            wander = 200.0 * time + 60.0 * np.sin(2.0 * np.pi * 0.7 * time)
            for added in (0.0, wander + noise(time.size, 2.0)):
                assert hum_of(time, force + added, LEVEL) is None, (rate, duty)


@pytest.mark.parametrize("frequency", [50.0, 60.0])
@pytest.mark.parametrize("rate", [0.2, 1.0, 3.0, 5.0, 7.0, 10.0, 12.0])
@pytest.mark.parametrize("fade", [0.0, 0.003, 0.01])
def test_hum_is_found_between_compressions(rate: float, frequency: float, fade: float) -> None:
    """Half a per cent of the peak, the mains three hundredths of a Hz off, as they are."""
    for shape in ("sine", "squared sine"):
        time, force = row_of(rate, shape=shape, fade=fade)
        added = sine(time, frequency + 0.03) + 200.0 * time + noise(time.size)
        found = hum_of(time, force + added, LEVEL)
        assert found is not None
        assert found.frequency == frequency
        assert found.amplitude == pytest.approx(60.0, rel=0.1)


@pytest.mark.parametrize("samples", [300.0, 1e3, 5e4])
def test_any_rate_of_samples_that_shows_it(samples: float) -> None:
    time, force = row_of(5.0, samples=samples)
    found = hum_of(time, force + sine(time, 50.0) + noise(time.size), LEVEL)
    assert (found is None) == (samples < 400.0)
    if found is not None:
        assert found.amplitude == pytest.approx(60.0, rel=0.1)


@pytest.mark.parametrize("frequency", [44.0, 47.0, 53.0, 57.0, 63.0, 100.0])
def test_another_frequency_is_no_mains_hum(frequency: float) -> None:
    for rate in (1.0, 5.0, 10.0):
        time, force = row_of(rate)
        assert hum_of(time, force + sine(time, frequency) + noise(time.size), LEVEL) is None


def test_noise_of_a_slow_gauge_is_no_hum() -> None:
    """Noise through a low pass of 100 Hz, and noise alone."""
    rng = np.random.default_rng(8)
    for _ in range(8):
        time, force = row_of(5.0)
        slow = np.convolve(rng.normal(0.0, 30.0, time.size), np.exp(-np.arange(60.0) / 8.0), "same")
        assert hum_of(time, force + slow, LEVEL) is None


def test_too_little_to_tell() -> None:
    time = np.arange(0.0, 2.0, 1e-3)
    assert hum_of(time[:50], sine(time[:50], 50.0), LEVEL) is None
    assert hum_of(time[:2], time[:2], LEVEL) is None
    assert hum_of(time, sine(time, 50.0) + 2.0 * LEVEL, LEVEL) is None
    assert hum_of(time, np.zeros(time.size), LEVEL) is None
    found = hum_of(time, sine(time, 50.0), LEVEL)
    assert found is not None
    assert found.amplitude == pytest.approx(60.0, rel=1e-3)
