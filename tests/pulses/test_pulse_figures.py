"""Figures of logged pulses against closed forms, with noise, offset, hum, clipping, few samples.

The closed forms are elementary: a trapezoid and a half sine. The third pulse is the rotary press's
own, solved by the law, whose figures the solver reports from its own samples.
"""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass
from pathlib import Path

import numpy as np
import pytest
from scipy.integrate import trapezoid as trapezoid_rule
from scipy.signal import find_peaks

from scaleup.answers.curves import pulses
from scaleup.answers.force_log import ForceLogAnswer, force_log_answer
from scaleup.arrays import Array
from scaleup.calibration.calibrated_study import calibrated
from scaleup.calibration.fit import Drawing
from scaleup.io.logs import open_log
from scaleup.io.study import read_study
from scaleup.pulses.flanks import falls_to, rises_to
from scaleup.pulses.pulse_figures import hold_of, strokes_of, tops_of
from scaleup.transfer.case import transfer_case

M = 0.04
EXAMPLES = Path(__file__).parents[2] / "examples"
Answer = Callable[..., ForceLogAnswer]


@pytest.fixture
def answer(tmp_path: Path) -> Answer:
    """Return what a log of given times in s and forces in N says, written to CSV on the way."""

    def measure(time: Array, force: Array, **case: float) -> ForceLogAnswer:
        path = tmp_path / "log.csv"
        rows = np.column_stack([time, force])
        np.savetxt(path, rows, delimiter=",", fmt="%.9g", header="time [s],force [N]", comments="")
        return force_log_answer(open_log(path), exponent=M, **case)  # type: ignore[arg-type]

    return measure


@dataclass(frozen=True)
class Known:
    """A pulse whose figures are known."""

    shape: Callable[[Array], Array]
    """Force in N at times in s from the beginning of the pulse."""
    length: float
    peak: float
    rise: float
    above_90: float
    area: float
    dwell: float


def trapezoid(up: float, hold: float, down: float, peak: float) -> Known:
    corners = np.cumsum([0.0, up, hold, down])
    return Known(
        lambda t: np.interp(t, corners, [0.0, peak, peak, 0.0], left=0.0, right=0.0),
        up + hold + down, peak, 0.8 * up, hold + 0.1 * (up + down),
        peak * (hold + 0.5 * (up + down)), hold + (up + down) * M / (1.0 + M),
    )  # fmt: skip


def half_sine(length: float, peak: float) -> Known:
    def shape(t: Array) -> Array:
        return np.where((t > 0) & (t < length), peak * np.sin(np.pi * t / length), 0.0)

    angle = np.linspace(0.0, np.pi, 200_001)
    return Known(
        shape, length, peak, length / np.pi * (np.arcsin(0.9) - np.arcsin(0.1)),
        length * (1.0 - 2.0 * np.arcsin(0.9) / np.pi), 2.0 * peak * length / np.pi,
        length * float(trapezoid_rule(np.sin(angle) ** (1.0 / M), angle)) / np.pi,
    )  # fmt: skip


PULSES = {
    "trapezoid": trapezoid(0.02, 0.03, 0.015, 12e3),
    "slow trapezoid": trapezoid(2.4, 1.0, 0.05, 12e3),
    "half sine": half_sine(0.05, 15e3),
}


def sampled(known: Known, count: int, samples: int = 2000) -> tuple[Array, Array]:
    """Return a log of so many pulses, so many samples each, idle for as long between them."""
    step = known.length / samples
    time = np.asarray(np.arange(int(count * 2.2 * samples)) * step, dtype=np.float64)
    force = np.zeros(time.size)
    for number in range(count):
        force = force + known.shape(time - (0.4 + 2.0 * number) * known.length)
    return time, force


@pytest.mark.parametrize("name", PULSES)
def test_clean_pulses_have_their_closed_form(answer: Answer, name: str) -> None:
    known = PULSES[name]
    found = answer(*sampled(known, 3)).pulses
    assert found.count == 3
    for figure, tolerance in (
        ("peak", 1e-4), ("rise", 2e-3), ("above_90", 2e-3), ("area", 1e-3), ("dwell", 3e-3),
    ):  # fmt: skip
        wanted = getattr(known, figure)
        np.testing.assert_allclose(getattr(found, figure), wanted, rtol=tolerance, err_msg=figure)
    np.testing.assert_allclose(found.contact, known.length, rtol=5e-3)


@pytest.mark.parametrize("name", PULSES)
@pytest.mark.parametrize(
    ("ratio", "peak", "above_90", "dwell"),
    [(1000.0, 0.002, 0.01, 0.03), (300.0, 0.004, 0.03, 0.06), (100.0, 0.012, 0.08, 0.15)],
)
def test_noise_costs_no_more_than_stated(
    answer: Answer, name: str, ratio: float, peak: float, above_90: float, dwell: float
) -> None:
    """Peak over the noise of one sample: the tolerances of the README, offset and all."""
    known = PULSES[name]
    time, force = sampled(known, 8)
    noisy = force + np.random.default_rng(3).normal(0.0, known.peak / ratio, force.size) - 700.0
    found = answer(time, noisy).pulses
    assert found.count == 8
    np.testing.assert_allclose(found.peak, known.peak, rtol=peak)
    np.testing.assert_allclose(found.above_90, known.above_90, rtol=above_90)
    np.testing.assert_allclose(found.dwell, known.dwell, rtol=dwell)
    np.testing.assert_allclose(found.zero, -700.0, atol=5.0 * known.peak / ratio)


@pytest.mark.parametrize("name", PULSES)
@pytest.mark.parametrize("ratio", [1000.0, 200.0, 60.0])
def test_the_band_holds_the_truth(answer: Answer, name: str, ratio: float) -> None:
    known = PULSES[name]
    time, force = sampled(known, 25, 1000)
    noisy = force + np.random.default_rng(8).normal(0.0, known.peak / ratio, force.size)
    found = answer(time, noisy).pulses
    for figure, error in (("peak", found.peak_error), ("above_90", found.above_90_error)):
        inside = np.abs(getattr(found, figure) - getattr(known, figure)) <= error
        assert inside.mean() >= 0.85, figure


def test_what_cannot_be_measured_is_not(answer: Answer) -> None:
    known = PULSES["half sine"]
    time, force = sampled(known, 4)
    rng = np.random.default_rng(1)
    buried = answer(time, force + rng.normal(0.0, known.peak, force.size))
    assert buried.pulses.count == 0
    assert any("no compression found" in text for text in buried.findings)
    noisy = answer(time[::60], (force + rng.normal(0.0, known.peak / 12.0, force.size))[::60])
    assert np.isnan(noisy.pulses.peak).all()


def test_the_law_s_own_rotary_pulse(answer: Answer) -> None:
    study = read_study(EXAMPLES / "marram")
    lab = calibrated(study, Drawing(200, 1))
    case = transfer_case(lab, study.production.speed, 0.9)
    _, time, pressure = pulses(case)[1]
    area = case.process.charge.tip_area
    step = 2e-5
    grid = np.arange(-0.03, float(time[-1]) + 0.03, step)
    force = np.interp(grid, time, pressure, left=0.0, right=0.0) * area
    peak = float(pressure.max()) * area
    top = time[pressure >= 0.9 * pressure.max()]
    share = pressure / pressure.max()
    middle = 0.5 * (share[1:] + share[:-1])
    dwell = float(np.sum(np.diff(time) * middle ** (1.0 / M)))
    rng = np.random.default_rng(4)
    for noise in (0.0, 10.0):
        found = answer(grid, force + rng.normal(0.0, noise, grid.size) if noise else force).pulses
        main = int(np.nanargmax(found.peak))
        assert found.peak[main] == pytest.approx(peak, rel=2e-3)
        assert found.above_90[main] == pytest.approx(float(top[-1] - top[0]), rel=0.03)
        assert found.dwell[main] == pytest.approx(dwell, rel=0.05)


def test_smoothing_neither_moves_the_peak_nor_widens_the_pulse(answer: Answer) -> None:
    """The same noise at two levels: the smoother works at one of them only."""
    known = PULSES["half sine"]
    time, force = sampled(known, 20)
    noise = np.random.default_rng(6).normal(0.0, 1.0, force.size)
    quiet = answer(time, force + 0.0005 * known.peak * noise).pulses
    loud = answer(time, force + 0.01 * known.peak * noise).pulses
    assert np.mean(loud.above_90) == pytest.approx(np.mean(quiet.above_90), rel=0.01)
    assert np.mean(loud.peak) == pytest.approx(np.mean(quiet.peak), rel=0.002)
    assert np.mean(loud.moment - quiet.moment) == pytest.approx(0.0, abs=0.06 * known.above_90)
    assert np.all(loud.added < 0.005)


def test_peaks_are_where_scipy_finds_them(answer: Answer) -> None:
    rng = np.random.default_rng(9)
    time = np.arange(0.0, 4.0, 2e-4)
    force = np.zeros_like(time)
    for begin in np.cumsum(rng.uniform(0.08, 0.3, 15)):
        force = force + half_sine(rng.uniform(0.02, 0.05), rng.uniform(4e3, 20e3)).shape(
            time - begin
        )
    record = answer(time, force)
    places, _ = find_peaks(force, prominence=500.0)
    np.testing.assert_allclose(record.pulses.moment, time[places], atol=2.1e-4)
    np.testing.assert_allclose(record.pulses.peak, force[places], rtol=1e-3)


def test_hum_is_told_and_widens_the_band(answer: Answer) -> None:
    known = half_sine(0.012, 15e3)
    time = np.arange(0.0, 3.0, 1e-4)
    force = sum((known.shape(time - begin) for begin in np.arange(0.05, 2.9, 0.083)), 0.0 * time)
    rng = np.random.default_rng(2)
    for frequency in (50.0, 60.0):
        hum = 150.0 * np.sin(2.0 * np.pi * frequency * time + 0.4)
        record = answer(time, force + hum + rng.normal(0.0, 10.0, time.size))
        assert record.hum is not None
        assert record.hum.frequency == frequency
        assert record.hum.amplitude == pytest.approx(150.0, rel=0.1)
        assert any(f"mains hum of {frequency:.0f} Hz" in text for text in record.findings)
        assert np.all(np.abs(record.pulses.peak - 15e3) < record.pulses.peak_error)
    assert answer(time, force + rng.normal(0.0, 10.0, time.size)).hum is None


def test_a_top_cut_off_has_no_peak(answer: Answer) -> None:
    known = half_sine(0.05, 15e3)
    time, force = sampled(known, 4)
    noisy = force + np.random.default_rng(7).normal(0.0, 15.0, force.size)
    record = answer(time, np.minimum(noisy, 14e3))
    assert record.pulses.clipped.all()
    assert np.isnan(record.pulses.peak).all()
    assert np.isnan(record.pulses.dwell).all()
    assert any("cut off at the gauge's range" in text for text in record.findings)
    told = answer(time, np.minimum(force, 14e3), range_=14e3)
    assert told.pulses.clipped.all()
    assert not answer(time, noisy).pulses.clipped.any()


def test_a_quiet_hold_on_a_coarse_converter_is_not_clipped(answer: Answer) -> None:
    time, force = sampled(trapezoid(0.02, 0.3, 0.02, 12e3), 3)
    noisy = force + np.random.default_rng(5).normal(0.0, 2.0, force.size)
    assert not answer(time, np.round(noisy / 20.0) * 20.0).pulses.clipped.any()


def test_too_few_samples_are_told_with_the_rate_that_would_do(answer: Answer) -> None:
    known = half_sine(0.05, 15e3)
    time, force = sampled(known, 6)
    record = answer(time[::150], force[::150])
    assert np.isnan(record.pulses.above_90).all()
    text = next(text for text in record.findings if "samples above 90 %" in text)
    needed = float(text.split(" are few for that, ")[1].split(" ")[0].replace(",", ""))
    assert needed >= 20.0 / known.above_90
    assert answer(time[::2], force[::2]).pulses.above_90 == pytest.approx(known.above_90, rel=0.01)
    np.testing.assert_allclose(
        record.pulses.peak, known.peak, atol=float(record.pulses.peak_error.max())
    )


def test_a_hold_has_its_length_and_its_decay(answer: Answer) -> None:
    time = np.arange(0.0, 14.0, 1e-3)
    held = (time - 3.0) * (time > 3.0)
    fallen = 12e3 * (1.0 + held / 0.05) ** -0.02
    force = np.where(time < 1.0, 0.0, np.interp(time, [1.0, 3.0], [0.0, 12e3]))
    force = np.where(time > 3.0, fallen, force)
    end = float(fallen[time >= 11.0][0])
    force = np.where(time > 11.0, np.interp(time, [11.0, 11.1], [end, 0.0]), force)
    found = answer(time, force).pulses
    assert found.hold[0] == pytest.approx(8.0, rel=0.01)
    assert found.decay[0] == pytest.approx(1.0 - end / 12e3, rel=0.02)
    sine = answer(*sampled(half_sine(0.05, 15e3), 3)).pulses
    assert np.isnan(sine.hold).all()


def test_a_hold_that_falls_by_a_fifth_and_is_let_go_slowly() -> None:
    time = np.arange(0.0, 3.0, 1e-3)[None, :]
    force = np.interp(time, [0.0, 0.5, 1.5, 2.5], [0.0, 10e3, 8e3, 0.0])
    hold, decay = hold_of(time, force, np.array([10e3]), np.array([500]))
    assert hold[0] == pytest.approx(1.0, abs=2e-3)
    assert decay[0] == pytest.approx(0.2, abs=2e-3)


@pytest.mark.parametrize("shift", [-0.45, -0.2, 0.0, 0.3, 0.45])
def test_the_top_of_a_parabola_of_few_samples(shift: float) -> None:
    force = 9e3 - 500.0 * (np.arange(-3.0, 4.0) - shift)[None, :] ** 2
    found = tops_of(force, 0.0, 0)
    assert found.peak[0] == pytest.approx(9e3)
    assert found.added[0] == pytest.approx(500.0 * shift**2)


def test_a_row_that_ends_while_it_rises_gains_a_quarter_of_a_step_at_most() -> None:
    assert tops_of(np.array([[0.0, 80.0, 90.0, 99.0]]), 0.0, 0).added[0] == pytest.approx(2.5)


def test_noise_does_not_raise_the_peak_of_a_flat_top() -> None:
    """The highest of 25 normal values lies 1.97 standard deviations above their mean."""
    flat = np.where((np.arange(45) >= 10) & (np.arange(45) < 35), 1000.0, 0.0)
    force = flat + np.random.default_rng(2).normal(0.0, 1.0, (4000, flat.size))
    assert np.mean(tops_of(force, 1.0, 0).peak) == pytest.approx(1000.0, abs=0.13)


def test_a_level_crossed_in_the_first_or_the_last_step() -> None:
    time, level = np.array([[0.0, 1.0, 2.0, 3.0]]), np.array([50.0])
    assert rises_to(time, np.array([[0.0, 100.0, 100.0, 100.0]]), level)[0] == 0.5
    assert rises_to(time, np.array([[0.0, 0.0, 0.0, 100.0]]), level)[0] == 2.5
    assert falls_to(time, np.array([[100.0, 0.0, 0.0, 0.0]]), level)[0] == 0.5
    assert falls_to(time, np.array([[100.0, 100.0, 100.0, 0.0]]), level)[0] == 2.5


@pytest.mark.parametrize("strokes", [3, 6])
def test_pump_strokes_are_counted(answer: Answer, strokes: int) -> None:
    corners, levels = [0.0, 0.5], [0.0, 0.0]
    for number in range(1, strokes + 1):
        corners += [corners[-1] + 0.4, corners[-1] + 1.0]
        levels += [12e3 * number / strokes] * 2
    corners += [corners[-1] + 0.1, corners[-1] + 1.0]
    levels += [0.0, 0.0]
    time = np.arange(0.0, corners[-1], 2e-3)
    noisy = np.interp(time, corners, levels) + np.random.default_rng(1).normal(0.0, 4.0, time.size)
    assert answer(time, noisy).pulses.strokes[0] == strokes
    slow = answer(*sampled(PULSES["slow trapezoid"], 2)).pulses
    assert not slow.strokes.any()


@pytest.mark.parametrize(("rise", "rest", "strokes"), [(4, 6, 3), (6, 12, 3), (2, 2, 0)])
def test_strokes_of_few_samples(rise: int, rest: int, strokes: int) -> None:
    """Three strokes of so many samples, rests between them; a rise of a dozen is needed."""
    corners = np.cumsum([30, rise, rest, rise, rest, rise, 5])
    levels = [0.0, 4e3, 4e3, 8e3, 8e3, 12e3, 12e3]
    time = np.arange(0.0, float(corners[-1]))
    force = np.interp(time, corners, levels)
    assert strokes_of(0.1 * time, force, 12e3) == strokes


def test_the_stated_error_of_a_peak_is_that_of_the_mean_it_is_taken_over() -> None:
    """A long flat top allows means of 33 samples; a sharp one none, and keeps its parabola."""
    rng = np.random.default_rng(12)
    flat = tops_of(1000.0 + rng.standard_normal((400, 300)), 1.0, 16)
    assert np.median(flat.error) == pytest.approx(1.0 / np.sqrt(33.0))
    assert np.mean(flat.error < 0.2) > 0.7  # by chance a shorter mean stands out in some rows
    assert abs(np.mean(flat.peak) - 1000.0) < 2.0 * np.median(flat.error)  # bands are three wide
    assert np.std(flat.peak) < 2.5 * np.median(flat.error)
    assert np.all(flat.added[flat.error < 0.2] == 0.0)
    time = np.linspace(-1.0, 1.0, 21)
    sharp = tops_of(1000.0 * (1.0 - (time - 0.03) ** 2)[None, :], 0.5, 4)
    assert sharp.error[0] == 0.5
    assert sharp.peak[0] == pytest.approx(1000.0, abs=1.0)
    assert sharp.added[0] > 0.3
    # Means of three samples still lie within the noise here, those of five do not.
    blunt = tops_of(1000.0 * (1.0 - (time - 0.03) ** 2)[None, :], 6.0, 8)
    assert blunt.error[0] == pytest.approx(6.0 / np.sqrt(3.0))


@pytest.mark.parametrize("length", [0.2, 2.0, 20.0])
def test_a_hold_has_its_length_at_any_scale_of_time(length: float) -> None:
    """A rise of a tenth, a hold that falls by a tenth, a release: as shares of the whole."""
    time = length * np.linspace(-0.1, 1.3, 1401)
    share = time / length
    force = 10e3 * np.interp(share, [0.0, 0.1, 0.9, 1.0], [0.0, 1.0, 0.9, 0.0])
    hold, decay = hold_of(
        time[None, :], force[None, :], np.array([10e3]), np.array([int(force.argmax())])
    )
    assert hold[0] == pytest.approx(0.8 * length, rel=0.01)
    assert decay[0] == pytest.approx(0.1, abs=0.005)
    peaked = 10e3 * np.interp(share, [0.0, 0.5, 1.0], [0.0, 1.0, 0.0])
    none = hold_of(
        time[None, :], peaked[None, :], np.array([10e3]), np.array([int(peaked.argmax())])
    )
    assert all(np.isnan(each[0]) for each in none)
