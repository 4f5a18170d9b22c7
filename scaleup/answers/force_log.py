"""A force log as measured: every compression, what the row of them tells, what is wrong with it."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass, replace
from functools import partial

import numpy as np

from scaleup.arrays import Array
from scaleup.io.logs import Log
from scaleup.powder.rate import dwell_of_segments
from scaleup.pulses.block import Shape
from scaleup.pulses.finder import Finder
from scaleup.pulses.hum import Hum
from scaleup.pulses.measuring import Wanted, measured
from scaleup.pulses.pattern import LEAST_REGULAR, MOSTLY, Pattern, pattern_of
from scaleup.pulses.pulse_figures import WELL_SAMPLED
from scaleup.pulses.pulses_found import Pulses
from scaleup.pulses.stations import LEAST_ROUNDS, Stations, stations_of
from scaleup.short_repr import short_repr
from scaleup.text import printable
from scaleup.wording import say

USUAL_EXPONENT = 0.032
"""Mean rate exponent of the published table (13 materials), for the effective dwell of a log."""
TOLD_DRIFT = 0.005
"""Share of the largest force from which a drift of the zero is told."""
SMOOTHED_ZEROS = 3
"""Zeros of so many compressions are averaged to tell drift from noise."""
TOLD_HUM = 0.001
"""The same for mains hum."""

WEAKEST = 300.0
"""N; a log without a higher peak is not in the unit that its heading says (a judgement of this
program: the smallest tablets take some hundred N)."""
STRONGEST, QUICKEST = 400e3, 5e-4
"""N of the usual peak and s of the usual contact beyond which a unit is doubted (a judgement of
this program: tablet presses do up to some 150 kN, and take more than 3 ms)."""


@short_repr
@dataclass(frozen=True)
class ForceLogAnswer:
    """What a force log says."""

    log: Log
    exponent: float
    """The rate exponent that effective dwells are of."""
    samples: int
    duration: float
    """s."""
    rate: float
    """Samples in a second."""
    noise: float
    """N."""
    drift: float
    """Range of the zero, N."""
    hum: Hum | None
    pulses: Pulses
    pattern: Pattern
    shapes: tuple[Shape, ...]
    """Samples of the first compressions."""
    findings: tuple[str, ...]
    """What is wrong with the log, or was left out."""
    stations: Stations | None = None
    """Peaks by station; None where the stations were not given, or cannot be told apart."""


def _dwell(exponent: float, time: Array, share: Array) -> Array:
    """Return effective dwells in s of columns of samples."""
    return dwell_of_segments(np.diff(time, axis=0), share, np.array(exponent))


def force_log_answer(
    log: Log,
    *,
    exponent: float = USUAL_EXPONENT,
    compliance: float | None = None,
    range_: float | None = None,
    stations: int | None = None,
    advance: Callable[[float], None] = lambda _: None,
) -> ForceLogAnswer:
    """Return everything that a log says, read once from end to end.

    Parameters
    ----------
    log
        As opened by `scaleup.io.logs.open_log`.
    exponent
        Rate exponent m of the effective dwell.
    compliance
        mm/N by which the press gives way, for the thickness in the die; None if not known.
    range_
        Force in N at which the gauge ends, if known.
    stations
        Of the turret; None if not known.
    advance
        Called with the share of the file read so far.

    Raises
    ------
    InputError
        If the log cannot be read, or a row of it cannot be true.
    """
    finder = Finder(log, advance)
    pulses, shapes = measured(
        finder, Wanted(partial(_dwell, exponent), exponent, compliance, range_)
    )
    pattern = pattern_of(pulses, finder.gap_times)
    by_station = None if stations is None else stations_of(pulses, pattern, stations)
    findings = _findings(finder, pulses, pattern, exponent)
    if stations is not None:
        findings += _of_the_stations(by_station, pulses)
    return ForceLogAnswer(
        log=log,
        exponent=exponent,
        samples=finder.samples,
        duration=finder.ended - finder.began,
        rate=1.0 / finder.step if finder.step > 0.0 else 0.0,
        noise=finder.noise,
        drift=_drift(pulses, finder.noise),
        hum=finder.hum,
        pulses=replace(pulses, ejection=_ejections(pulses, pattern)),
        pattern=pattern,
        shapes=tuple(shapes),
        findings=tuple(findings),
        stations=by_station,
    )


def _drift(pulses: Pulses, noise: float) -> float:
    """Return the range in N of the zero under the compressions, of means where noise moves it."""
    zero = pulses.zero[~np.isnan(pulses.zero)]
    if zero.size > SMOOTHED_ZEROS and float(np.median(np.abs(np.diff(zero)))) < noise:
        zero = np.convolve(zero, np.full(SMOOTHED_ZEROS, 1.0 / SMOOTHED_ZEROS), mode="valid")
    return float(np.ptp(zero)) if zero.size else 0.0


def _ejections(pulses: Pulses, pattern: Pattern) -> Array:
    """Return the highest ejection force in N up to the next main compression, for main ones."""
    follows = np.where(pattern.precompression, pulses.ejection, np.nan)
    own = np.where(pattern.precompression, np.nan, pulses.ejection)
    later = np.append(follows[1:], np.nan)
    highest: Array = np.where(pattern.precompression, np.nan, np.fmax(own, later))
    return highest


def _findings(finder: Finder, pulses: Pulses, pattern: Pattern, exponent: float) -> list[str]:
    told = [*finder.log.left_out.texts(), *finder.log.told]
    if finder.log.unused:
        told.append(f"columns not used: {', '.join(finder.log.unused)}")
    if pulses.count == 0:
        told.append(
            "no compression found: no force rises clearly above "
            f"{say(finder.level, 'N')} over its zero"
        )
    if finder.begins_loaded:
        told.append("the log begins under load; what was being compressed is left out")
    if finder.ends_loaded:
        told.append("the log ends under load; what was being compressed is left out")
    told += [*_of_the_unit(finder.log, pulses), *_of_the_signal(finder, pulses)]
    untold = int(np.sum(np.isnan(pulses.dwell) & ~np.isnan(pulses.above_90)))
    if untold:
        told.append(
            f"{_counted(untold)} without an effective dwell: at a rate exponent of "
            f"{exponent:g} it hangs on the peak so much that noise or a coarse peak leaves it open"
        )
    told += _of_the_row(pulses, pattern)
    return told


def _of_the_unit(log: Log, pulses: Pulses) -> list[str]:
    """Return whether forces or times are such as no press makes, as where a unit is wrong."""
    told = []
    peaks, times = (each[np.isfinite(each)] for each in (pulses.peak, pulses.contact))
    heading = printable(log.heading)
    if peaks.size and peaks.max() < WEAKEST:
        told.append(
            f'no peak is above {say(float(peaks.max()), "N")}, read by the heading "{heading}"; '
            "presses do kilonewtons: check the unit"
        )
    if peaks.size and np.median(peaks) > STRONGEST:
        told.append(
            f'peaks of {np.median(peaks) / 1e3:,.0f} kN, read by the heading "{heading}", are more '
            "than tablet presses do: check the unit"
        )
    if times.size and np.median(times) < QUICKEST:
        told.append(
            f"compressions last {np.median(times) * 1e3:.2g} ms, less than on any press: check the "
            "unit of time"
        )
    return told


def _of_the_signal(finder: Finder, pulses: Pulses) -> list[str]:
    told = []
    gaps = finder.gap_times
    if gaps.size:
        told.append(
            f"{gaps.size} gap{'s' if gaps.size > 1 else ''} in the time stamps, the first before "
            f"{gaps[0]:.6g} s; what was pressed meanwhile is not known, and figures of the "
            f"{_counted(int(pulses.gap.sum()))} with a gap are left out"
        )
    if finder.spikes:
        count = len(finder.spikes)
        told.append(
            f"{count} single sample{'s' if count > 1 else ''} out of line, as no press makes, the "
            f"first at {finder.spikes[0]:.6g} s: put in line with the next ones"
        )
    drift = _drift(pulses, finder.noise)
    if drift > max(TOLD_DRIFT * finder.largest, finder.noise):
        told.append(
            f"the zero drifts by {say(drift, 'N')}, "
            f"{100.0 * drift / finder.largest:.2g} % of the largest force; each compression "
            "is measured from the zero around it"
        )
    hum = finder.hum
    if hum is not None and hum.amplitude > TOLD_HUM * finder.largest:
        share = 200.0 * hum.amplitude / finder.largest
        told.append(
            f"mains hum of {hum.frequency:.0f} Hz and {say(hum.amplitude, 'N')}; peaks are "
            f"uncertain by twice that, {share:.2g} % of the largest"
        )
    clipped = int(pulses.clipped.sum())
    if clipped:
        told.append(
            f"{_counted(clipped)} cut off at the gauge's range; peak, dwell and decay are not "
            "available"
        )
    told += _sampling(finder, pulses)
    told += _of_the_zero(finder, pulses)
    return told


def _of_the_zero(finder: Finder, pulses: Pulses) -> list[str]:
    """Return where compressions meet, where the zero is not seen, and where it jumps."""
    told = []
    reached = int(pulses.reached.sum())
    if reached:
        told.append(
            f"{_counted(reached)} meet so high that one may reach under the peak of another: "
            "nothing of them is told, and their number may be wrong"
        )
    meet = int(pulses.joined.sum())
    if meet == 1:
        told.append(
            "1 compression without idle time before or after it: contact time and area are not "
            "available"
        )
    elif meet:
        told.append(
            f"{_counted(meet)} run into one another, the force not back to zero between them: "
            "contact time and area are not available, and the rise only where they meet low"
        )
    if finder.unparted:
        begin, length = finder.unparted[0]
        told.append(
            f"from {begin:.4g} s on the force stays up for {length:.3g} s and ripples: more than "
            "one punch is under the roller all the time, and compressions cannot be told apart"
        )
    unseen = int(np.isnan(pulses.zero).sum())
    if unseen:
        told.append(
            f"{_counted(unseen)} without a zero: the press is not idle before or after, and the "
            "log's own zero lies above its lowest forces; log some idle time with them"
        )
    jumps = finder.idle_times.jumps
    if jumps:
        when, size = jumps[0]
        told.append(
            f"the zero jumps {len(jumps)} time{'' if len(jumps) == 1 else 's'}, the "
            f"first by {say(size, 'N')} at {when:.6g} s"
        )
    return told


def _sampling(finder: Finder, pulses: Pulses) -> list[str]:
    """Return whether the log is sampled too slowly, and which rate it needs."""
    few = pulses.samples_above_90 < WELL_SAMPLED
    if not few.any() or finder.step <= 0.0:
        return []
    above = np.maximum(pulses.samples_above_90[few], 1.0) * finder.step
    wanted = WELL_SAMPLED / float(above.min())
    unknown = int(np.isnan(pulses.above_90[few & (pulses.clipped == 0.0)]).sum())
    rest = f", and {unknown} have none" if unknown else ""
    text = (
        f"{_counted(int(few.sum()))} with fewer than {WELL_SAMPLED} samples above 90 % of the "
        f"peak: {1.0 / finder.step:,.0f} samples/s are few for that, {wanted:,.0f} would do; time "
        f"above 90 % and dwell are coarse{rest}"
    )
    return [text]


def _counted(count: int) -> str:
    return f"{count} compression{'' if count == 1 else 's'}"


def _of_the_row(pulses: Pulses, pattern: Pattern) -> list[str]:
    told = []
    if pattern.missing:
        first = ", ".join(f"{each:.6g} s" for each in pattern.missing_after)
        rest = " and on" if pattern.missing > len(pattern.missing_after) else ""
        told.append(f"{_counted(pattern.missing)} missing from the row, after {first}{rest}")
    if pattern.weak.any():
        told.append(
            f"{_counted(int(pattern.weak.sum()))} next to nothing, first at "
            f"{pulses.moment[pattern.weak][0]:.4g} s: no tablet in the die"
        )
    if pattern.double.any():
        told.append(
            f"{_counted(int(pattern.double.sum()))} so soon after the one before that the tablet "
            f"was struck twice, first at {pulses.moment[pattern.double][0]:.4g} s"
        )
    return told


def _of_the_stations(found: Stations | None, pulses: Pulses) -> list[str]:
    """Return which stations stand out, and which never press."""
    if found is None:
        why = "the compressions do not come at regular times"
        if pulses.count <= LEAST_REGULAR:
            why = f"{_counted(pulses.count)}, too few to see how regularly they come"
        elif pulses.reached.mean() > MOSTLY:
            why = "the compressions run together too far to be told apart"
        return [f"stations not available: {why}"]
    told = []
    if found.rounds < LEAST_ROUNDS:
        told.append(
            f"the log holds {found.rounds:.2g} turns of the turret: a station that stands out may "
            "be one odd tablet"
        )
    for number in found.stands_out:
        share = 100.0 * (found.mean[number - 1] / float(np.nanmedian(found.mean)) - 1.0)
        told.append(
            f"station {number} stands out: its mean peak is {share:+.2g} % of the usual; measure "
            "the length of its punches"
        )
    if found.silent:
        numbers = ", ".join(str(each) for each in found.silent)
        told.append(f"no compression of station{'s' if len(found.silent) > 1 else ''} {numbers}")
    return told
