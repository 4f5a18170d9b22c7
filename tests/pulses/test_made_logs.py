"""Logs whose every figure is known: what is put in is found again, and bands hold it.

The logs are made by formulas of their own (`made_logs`), which take nothing from the package.
"""

from __future__ import annotations

from dataclasses import replace
from pathlib import Path

import numpy as np
import pyarrow as pa
import pyarrow.parquet as pq
import pytest

from scaleup.answers.force_log import ForceLogAnswer, force_log_answer
from scaleup.errors import InputError
from scaleup.io import logs
from scaleup.io.logs import open_log
from tests.pulses.made_logs import (
    BIT,
    CASES,
    EXPONENT,
    LARGE,
    SHAPES,
    Array,
    MadeLog,
    decay,
    ramp,
    wave,
)


def written(path: Path, time: Array, force: Array) -> ForceLogAnswer:
    pq.write_table(pa.table({"time [s]": time, "force [N]": force}), path)
    return force_log_answer(open_log(path), exponent=EXPONENT)


def answer(folder: Path, made: MadeLog) -> ForceLogAnswer:
    return written(folder / "log.parquet", *made.made())


def main(found: ForceLogAnswer, figure: str) -> Array:
    pattern = found.pattern
    values: Array = getattr(found.pulses, figure)[~pattern.precompression & ~pattern.double]
    return values


DRIFTS = {
    "0.4 kN in 5 s": ramp(400.0, 5.3),
    "0.8 kN in 5 s": ramp(800.0, 5.3),
    "falls by 1.5 kN in ten pulses": ramp(-1500.0, 0.83, 1.0),
    "a wave of 1.5 kN": wave(1500.0, 1.7),
    "a decaying offset": decay(1500.0, 2.0),
    "a decaying offset below": decay(-1500.0, 0.9),
    "1 kN in 53 s": ramp(1000.0, 53.0),
}


@pytest.mark.parametrize("name", DRIFTS)
def test_no_tablet_is_lost_to_a_zero_that_drifts(tmp_path: Path, name: str) -> None:
    count = 640 if "53" in name else 64
    rate = 20e3 if "53" in name else 50e3
    made = MadeLog(count=count, rate=rate, drift=DRIFTS[name], noise=15.0)
    found = answer(tmp_path, made)
    assert found.pulses.count == count
    assert found.pattern.missing == 0
    np.testing.assert_allclose(found.pulses.peak, made.truth["peak"], rtol=3e-3)
    np.testing.assert_allclose(found.pulses.contact, made.contact, rtol=0.02)
    drift = DRIFTS[name](found.pulses.moment)
    assert found.drift == pytest.approx(float(np.ptp(drift)), rel=0.4)
    assert any("the zero drifts" in text for text in found.findings)


def test_a_quiet_zero_is_no_drift(tmp_path: Path) -> None:
    found = answer(tmp_path, MadeLog(noise=15.0))
    assert found.drift < 15.0
    assert not found.findings


def test_a_zero_that_moves_faster_is_still_followed_and_is_no_jump(tmp_path: Path) -> None:
    made = MadeLog(drift=wave(1500.0, 0.8), noise=15.0)
    found = answer(tmp_path, made)
    inside = np.abs(found.pulses.peak - made.truth["peak"]) <= found.pulses.peak_error
    assert inside.mean() >= 0.9
    assert found.drift > 1000.0
    assert not any("jumps" in text for text in found.findings)


def test_a_zero_that_cannot_be_followed_is_refused(tmp_path: Path) -> None:
    with pytest.raises(
        InputError, match=r"column force: found a zero that moves by \d.* under each"
    ):
        answer(tmp_path, MadeLog(drift=wave(1500.0, 0.09), noise=15.0))


def test_a_zero_that_is_set_anew_is_told(tmp_path: Path) -> None:
    """An amplifier that is reset between two tablets: every tablet is found all the same."""
    made = MadeLog(drift=lambda time: np.where(time > 2.6, 2500.0, 0.0), noise=10.0)
    found = answer(tmp_path, made)
    assert found.pulses.count == made.count
    np.testing.assert_allclose(found.pulses.peak, made.truth["peak"], rtol=3e-3)
    assert any("the zero jumps 1 time, the first by 2.5 kN" in text for text in found.findings)


@pytest.mark.parametrize(
    ("shape", "cut", "stations", "speed", "contact"),
    [
        (shape, cut, *of_turret)
        for of_turret in ((55, 70.0, 0.0215), (61, 60.0, 0.022))
        for shape in ("half sine", "soft foot", "skewed", "turret")
        for cut in (False, True)
        # At its end the slow rise of the last hides where the one before it ends; and half sines
        # that overlap by a quarter have a bump between them as high as they.
        if not (cut and shape == "skewed") and not (shape == "half sine" and of_turret[0] == 55)
    ],
)
def test_compressions_of_a_large_turret_are_parted(
    tmp_path: Path, shape: str, cut: bool, stations: int, speed: float, contact: float
) -> None:
    """More than one punch is under the roller; the force is never back to zero."""
    made = MadeLog(
        shape=shape, count=2 * stations, contact=contact, pitch=60 / stations / speed,
        stations=stations, noise=20.0, cut=cut,
    )  # fmt: skip
    found = answer(tmp_path, made)
    assert found.pulses.count == made.truth["peak"].size
    assert found.pattern.missing == 0
    assert not found.pattern.double.any()
    peak, error = found.pulses.peak, found.pulses.peak_error
    told = ~np.isnan(peak)
    # The slow rise of a skewed pulse begins before the peak of the one before; where the log begins
    # and ends in the row, no flank is seen whole, and high valleys may hide as much.
    if shape == "soft foot" or (not cut and shape != "skewed"):
        assert told.mean() > 0.9
    if told.any():
        assert (np.abs(peak - made.truth["peak"]) <= error)[told].mean() >= 0.9
    assert np.isnan(found.pulses.contact).all()
    assert np.isnan(found.pulses.area).all()
    assert any("run into one another" in text for text in found.findings)


@pytest.mark.parametrize("cut", [False, True])
@pytest.mark.parametrize("shape", ["turret", "soft foot", "skewed", "half sine"])
@pytest.mark.parametrize(
    "overlap", [0.86, 1.04, 1.1, 1.22, 1.34, 1.46, 1.59, 1.71, 1.83, 1.95, 2.07, 2.2, 2.44]
)
def test_however_far_they_overlap_nothing_wrong_is_told(
    tmp_path: Path, overlap: float, shape: str, cut: bool
) -> None:
    """Contact over the time from punch to punch: peaks are in their bands, or are not told.

    Nor is a row ever one compression; a number that is off is told with what may be wrong.
    """
    pitch = 1.0 / 61.0
    made = MadeLog(
        shape=shape, count=122, contact=overlap * pitch, pitch=pitch, stations=61, noise=20.0,
        step=BIT, scatter=0.008, rate=1e4, lead=0.4, peak=25e3, cut=cut,
    )  # fmt: skip
    found = answer(tmp_path, made)
    pulses, truth = found.pulses, made.truth["peak"]
    told = ~np.isnan(pulses.peak)
    assert not (pulses.contact > 2.0 * made.contact).any()
    assert not found.pattern.double.any()
    if pulses.count == truth.size:
        inside = np.abs(pulses.peak - truth) <= pulses.peak_error
    else:  # one more or less at an end
        inside = np.abs(pulses.peak - np.median(truth)) <= pulses.peak_error + 0.02 * 25e3
    assert not told.any() or inside[told].mean() >= 0.88
    warned = any(
        each in text
        for text in found.findings
        for each in ("their number may be wrong", "cannot be told apart", "begins under load")
    )
    # Of a skewed pulse that begins before the log does, the peak is in it all the same.
    more = 1 if cut and shape == "skewed" else 0
    assert 0 <= pulses.count - truth.size <= more or warned
    if overlap < 1.4 and not cut and shape != "skewed":
        assert told.mean() > 0.95
        assert pulses.count == truth.size


def test_a_never_idle_log_with_an_offset_has_no_peaks(tmp_path: Path) -> None:
    """Its lowest forces lie below its own zero, which cannot be the zero of the gauge."""
    found = answer(tmp_path, MadeLog(**LARGE, count=110, cut=True, zero=-6e3))  # type: ignore[arg-type]
    assert found.pulses.count == 108
    assert np.isnan(found.pulses.peak).all()
    assert any("without a zero" in text for text in found.findings)


@pytest.mark.parametrize("rows", [700, 1024, 5000])
def test_pieces_may_end_in_a_row_that_runs_together(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch, rows: int
) -> None:
    made = MadeLog(**LARGE, count=60, rate=10e3)  # type: ignore[arg-type]
    whole = answer(tmp_path, made).pulses
    monkeypatch.setattr(logs, "PIECE_ROWS", rows)
    parts = answer(tmp_path, made).pulses
    assert parts.count == whole.count == 60
    np.testing.assert_allclose(parts.moment, whole.moment, atol=2e-4)
    both = parts.peak_error + whole.peak_error
    assert (np.abs(parts.peak - whole.peak) <= both).mean() > 0.9


@pytest.mark.parametrize("share", [0.1, 0.5, 0.8, 0.95])
def test_precompression_is_told_from_main_up_to_nearly_its_height(
    tmp_path: Path, share: float
) -> None:
    made = MadeLog(pre_share=share, scatter=0.01)
    found = answer(tmp_path, made)
    assert found.pulses.count == 128
    assert int(found.pattern.precompression.sum()) == 64
    np.testing.assert_allclose(main(found, "peak"), made.truth["peak"], rtol=1e-5)


def test_steps_as_coarse_as_the_noise_cut_nothing_off(tmp_path: Path) -> None:
    """Equal samples at the top of a small precompression are no end of the gauge's range."""
    for seed in range(4):
        made = MadeLog(
            count=200, pre_share=0.15, contact=0.016, noise=6.0, step=BIT, rate=10e3, seed=seed
        )
        found = answer(tmp_path, made)
        assert not found.pulses.clipped.any()
        assert int(found.pattern.precompression.sum()) == 200
        assert not found.pattern.double.any()


@pytest.mark.parametrize("noise", [0.0, 6.0, 60.0])
def test_a_range_that_ends_is_told_with_any_noise(tmp_path: Path, noise: float) -> None:
    time, force = MadeLog(noise=noise, pre_share=0.15, scatter=0.01).made()
    steps = np.rint(np.minimum(force, 13e3) / BIT) * BIT
    found = written(tmp_path / "a.parquet", time, steps)
    assert int(found.pulses.clipped.sum()) == 64
    assert int(found.pattern.precompression.sum()) == 64
    assert np.isnan(main(found, "peak")).all()


def test_precompression_that_runs_into_main(tmp_path: Path) -> None:
    made = MadeLog(pre_share=0.3, pitch=0.020, pre_after=0.5)
    found = answer(tmp_path, made)
    assert found.pulses.count == 128
    assert int(found.pattern.precompression.sum()) == 64
    np.testing.assert_allclose(main(found, "peak"), made.truth["peak"], rtol=1e-3)
    assert np.isnan(main(found, "contact")).all()


def test_stations_that_differ_by_turns_are_no_precompression(tmp_path: Path) -> None:
    made = MadeLog(by_station=(1.0, 0.9), stations=2, scatter=0.005)
    assert not answer(tmp_path, made).pattern.precompression.any()


FIGURES = ("peak", "rise", "above_90", "contact", "area", "dwell")


@pytest.mark.parametrize("name", CASES)
def test_bands_hold_the_truth_nine_times_of_ten(tmp_path: Path, name: str) -> None:
    """Over all shapes together, for each figure that is told."""
    within: dict[str, list[Array]] = {figure: [] for figure in FIGURES}
    own = CASES[name].get("shape")
    for seed, shape in enumerate(("soft foot", "skewed") if own else SHAPES):
        case = {**CASES[name], "shape": shape}
        made = MadeLog(count=60, scatter=0.03, seed=seed, **case)  # type: ignore[arg-type]
        found = answer(tmp_path, made)
        assert found.pulses.count == 60
        for figure in FIGURES:
            value, error = getattr(found.pulses, figure), getattr(found.pulses, f"{figure}_error")
            told = ~np.isnan(value)
            assert not np.isnan(error[told]).any()
            inside = np.abs(value - made.truth[figure]) <= error + 1e-12
            within[figure].append(inside[told])
    for figure, parts in within.items():
        whole = np.concatenate(parts)
        assert whole.size == 0 or whole.mean() >= 0.88, (figure, whole.mean())


def test_clean_bands_are_narrow(tmp_path: Path) -> None:
    """A band that holds the truth because it is wide would be worth nothing."""
    found = answer(tmp_path, MadeLog(step=BIT)).pulses
    for figure, share in (("peak", 0.001), ("rise", 0.005), ("above_90", 0.01), ("dwell", 0.03)):
        width = getattr(found, f"{figure}_error") / getattr(found, figure)
        assert np.median(width) < share, figure


# What may change when a log is changed.


@pytest.fixture
def plain() -> MadeLog:
    return MadeLog(count=40, noise=8.0, seed=5)


def test_twice_the_force_is_twice_the_force(tmp_path: Path, plain: MadeLog) -> None:
    time, force = plain.made()
    one, two = (written(tmp_path / "a.parquet", time, each).pulses for each in (force, 2.0 * force))
    np.testing.assert_allclose(two.peak, 2.0 * one.peak, rtol=1e-9)
    np.testing.assert_allclose(two.area, 2.0 * one.area, rtol=1e-9)
    for figure in ("rise", "above_90", "contact", "dwell"):
        np.testing.assert_allclose(getattr(two, figure), getattr(one, figure), rtol=1e-9)


def test_drift_moves_no_figure_by_more_than_its_band(tmp_path: Path, plain: MadeLog) -> None:
    time, force = plain.made()
    one = written(tmp_path / "a.parquet", time, force).pulses
    two = written(tmp_path / "a.parquet", time, force + wave(1500.0, 1.4)(time)).pulses
    for figure in FIGURES:
        apart = np.abs(getattr(two, figure) - getattr(one, figure))
        assert (apart <= getattr(two, f"{figure}_error")).mean() >= 0.9, figure


def test_a_force_logged_negative_is_the_same_force(tmp_path: Path, plain: MadeLog) -> None:
    time, force = plain.made()
    one = written(tmp_path / "a.parquet", time, force).pulses
    two = written(tmp_path / "a.parquet", time, -force)
    for figure in FIGURES:
        np.testing.assert_allclose(getattr(two.pulses, figure), getattr(one, figure), rtol=1e-9)
    assert any("sign" in text for text in two.findings)


def test_every_fifth_sample_tells_the_same_with_wider_bands(tmp_path: Path, plain: MadeLog) -> None:
    time, force = plain.made()
    one = written(tmp_path / "a.parquet", time, force).pulses
    two = written(tmp_path / "a.parquet", time[::5], force[::5]).pulses
    for figure in FIGURES:
        apart = np.abs(getattr(two, figure) - getattr(one, figure))
        assert (apart <= getattr(two, f"{figure}_error")).mean() >= 0.9, figure
    assert np.median(two.peak_error) >= np.median(one.peak_error)


def test_a_second_copy_repeats_every_figure(tmp_path: Path, plain: MadeLog) -> None:
    time, force = plain.made()
    one = written(tmp_path / "a.parquet", time, force).pulses
    step = time[1] - time[0]
    twice = np.append(time, time + time[-1] + step), np.append(force, force)
    two = written(tmp_path / "a.parquet", *twice).pulses
    assert two.count == 2 * one.count
    for figure in ("peak", "rise", "above_90", "area"):
        both = getattr(two, figure).reshape(2, -1)
        np.testing.assert_allclose(both[1], both[0], rtol=1e-3)
        np.testing.assert_allclose(both[0], getattr(one, figure), rtol=1e-3)


# Stations.


def test_the_punch_that_stands_out_and_the_station_without_a_tablet(tmp_path: Path) -> None:
    factors = [1.0 + 0.01 * ((7 * k) % 5 - 2) for k in range(16)]
    factors[6] = 1.08
    made = MadeLog(
        count=160, by_station=tuple(factors), missing=frozenset(range(11, 160, 16)), noise=10.0,
        scatter=0.01,
    )  # fmt: skip
    pq.write_table(
        pa.table(dict(zip(("time [s]", "force [N]"), made.made(), strict=True))),
        tmp_path / "log.parquet",
    )
    found = force_log_answer(open_log(tmp_path / "log.parquet"), stations=16).stations
    assert found is not None
    assert found.stands_out == (7,)
    assert found.silent == (12,)
    assert found.speed == pytest.approx(60.0 / (16 * made.pitch), rel=1e-3)
    assert found.within == pytest.approx(0.01, rel=0.25)
    told = np.arange(16) != 11
    mean = 15e3 * np.array(factors)
    inside = np.abs(found.mean - mean)[told] <= found.error[told]
    assert inside.mean() >= 0.85
    assert np.isnan(found.mean[11])


def test_a_slowly_changing_speed_moves_no_station(tmp_path: Path) -> None:
    made = MadeLog(count=128, by_station=(1.1, *[1.0] * 7), stations=8, scatter=0.005)
    time, force = made.made()
    stretched = time * (1.0 + 0.02 * time / time[-1])
    pq.write_table(pa.table({"time [s]": stretched, "force [N]": force}), tmp_path / "a.parquet")
    found = force_log_answer(open_log(tmp_path / "a.parquet"), stations=8).stations
    assert found is not None
    assert found.stands_out == (1,)


def test_like_stations_have_none_that_stands_out(tmp_path: Path) -> None:
    odd = 0
    for seed in range(12):
        made = MadeLog(count=96, seed=seed, rate=10e3)
        path = tmp_path / "a.parquet"
        pq.write_table(
            pa.table(dict(zip(("time [s]", "force [N]"), made.made(), strict=True))), path
        )
        found = force_log_answer(open_log(path), stations=16).stations
        assert found is not None
        odd += bool(found.stands_out)
    assert odd <= 2


def test_stations_of_a_press_by_hand_are_not_available(tmp_path: Path) -> None:
    rng = np.random.default_rng(3)
    time = np.arange(0.0, 20.0, 1e-3)
    force = np.zeros(time.size)
    for begin in np.cumsum(rng.uniform(0.8, 3.0, 9)):
        inside = (time > begin) & (time < begin + 0.4)
        force[inside] += 12e3 * np.sin(np.pi * (time[inside] - begin) / 0.4)
    pq.write_table(pa.table({"time [s]": time, "force [N]": force}), tmp_path / "a.parquet")
    found = force_log_answer(open_log(tmp_path / "a.parquet"), stations=16)
    assert found.stations is None
    assert "stations not available: the compressions do not come at regular times" in found.findings


def test_a_long_weak_hold_beside_short_strong_ones_is_a_compression(tmp_path: Path) -> None:
    """2 kN held for 30 s is neither a zero nor lost beside 40 kN for half a second."""
    time = np.arange(0.0, 60.0, 1e-3)
    force = np.random.default_rng(1).normal(0.0, 5.0, time.size)
    for begin in (2.0, 4.0, 6.0):
        inside = (time > begin) & (time < begin + 0.5)
        force[inside] += 40e3 * np.sin(np.pi * (time[inside] - begin) / 0.5)
    force += np.interp(time, [12.0, 13.0, 43.0, 43.5], [0.0, 2e3, 1.95e3, 0.0], left=0.0, right=0.0)
    found = written(tmp_path / "a.parquet", time, force).pulses
    assert found.count == 4
    assert found.peak[3] == pytest.approx(2e3, rel=0.01)
    assert found.hold[3] == pytest.approx(30.0, rel=0.02)


def test_changed_fields_change_the_made_log() -> None:
    """The generator: a cut log has the first and the last compression off."""
    whole, cut = MadeLog(count=6), replace(MadeLog(count=6), cut=True)
    assert whole.truth["peak"].size == 6
    assert cut.truth["peak"].size == 4


# What else a log may have.


def test_a_gap_makes_no_missing_tablet_and_no_empty_die(tmp_path: Path) -> None:
    made = MadeLog(pre_share=0.15, noise=10.0, rate=10e3)
    time, force = made.made()
    kept = (time < 2.003) | (time > 2.25)
    found = written(tmp_path / "a.parquet", time[kept], force[kept])
    assert found.pattern.missing == 0
    assert not found.pattern.weak.any()
    assert not found.pattern.double.any()
    assert any("what was pressed meanwhile is not known" in text for text in found.findings)


@pytest.mark.parametrize("size", [40e3, -5e3])
def test_one_bad_sample_is_told_and_is_nothing_on_the_press(tmp_path: Path, size: float) -> None:
    made = MadeLog(noise=10.0)
    time, force = made.made()
    plain = written(tmp_path / "a.parquet", time, force).pulses
    force = force.copy()
    force[int(np.searchsorted(time, 1.30))] = size  # while the press is idle
    found = written(tmp_path / "a.parquet", time, force)
    assert any("1 single sample out of line" in text for text in found.findings)
    assert found.pulses.count == plain.count
    np.testing.assert_allclose(found.pulses.peak, plain.peak, rtol=1e-3)
    assert not found.pattern.double.any()
    assert not any("jumps" in text for text in found.findings)


def test_pulses_of_three_samples_are_no_bad_samples(tmp_path: Path) -> None:
    found = answer(tmp_path, MadeLog(rate=250.0, contact=0.016, noise=10.0))
    assert found.pulses.count == 64
    assert not any("out of line" in text for text in found.findings)


@pytest.mark.parametrize(
    ("seconds", "newtons", "said"),
    [
        (1.0, 1e3, "more than tablet presses do: check the unit"),
        (1.0, 1e-2, "presses do kilonewtons: check the unit"),
        (1e-3, 1.0, "less than on any press: check the unit of time"),
    ],
)
def test_what_no_press_does_is_told_as_a_doubt_of_the_unit(
    tmp_path: Path, seconds: float, newtons: float, said: str
) -> None:
    peak = 1.5e3 if newtons > 1.0 else 15e3
    time, force = MadeLog(peak=peak).made()
    found = written(tmp_path / "a.parquet", seconds * time, newtons * force)
    assert any(said in text for text in found.findings)


def test_a_station_that_is_cut_off_is_not_empty(tmp_path: Path) -> None:
    """Its tablets count; their peaks are not told."""
    factors = tuple(1.1 if k == 4 else 1.0 for k in range(16))
    made = MadeLog(count=96, by_station=factors, scatter=0.003, noise=10.0)
    time, force = made.made()
    path = tmp_path / "a.parquet"
    pq.write_table(pa.table({"time [s]": time, "force [N]": np.minimum(force, 16e3)}), path)
    found = force_log_answer(open_log(path), stations=16, range_=16e3).stations
    assert found is not None
    assert found.silent == ()
    assert (found.count[4], found.told[4]) == (6, 0)
    assert np.isnan(found.mean[4])


def test_means_of_a_log_that_is_never_idle_leave_its_zero_open(tmp_path: Path) -> None:
    made = MadeLog(**LARGE, count=168, cut=True, zero=400.0)  # type: ignore[arg-type]
    time, force = made.made()
    path = tmp_path / "a.parquet"
    pq.write_table(pa.table({"time [s]": time, "force [N]": force}), path)
    found = force_log_answer(open_log(path), stations=55).stations
    assert found is not None
    known = ~np.isnan(found.mean)
    assert known.any()
    assert (np.abs(found.mean - 15e3) <= found.error)[known].mean() > 0.9
    assert np.median(found.error[known]) > 400.0


def test_the_pace_is_that_of_the_whole_row(tmp_path: Path) -> None:
    """Twenty samples from one to the next: the mean is told far within one of them."""
    found = answer(tmp_path, MadeLog(rate=250.0, contact=0.016, noise=10.0))
    assert found.pattern.interval == pytest.approx(0.083, rel=1e-3)
