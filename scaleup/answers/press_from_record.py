"""A rotary press known by a log of its pulses: the profile that stands for them."""

from __future__ import annotations

from dataclasses import dataclass, field, replace
from pathlib import Path

import numpy as np

from scaleup.answers.effective_geometry import (
    Before,
    EffectiveGeometry,
    Tablet,
    effective_geometry,
)
from scaleup.answers.force_log import ForceLogAnswer, force_log_answer
from scaleup.answers.press_profile_text import profile_in, profile_text
from scaleup.arrays import Flags
from scaleup.calibration.pulse_times import LABELS, FigureOfPulse, figures_of
from scaleup.errors import Fault, InputError
from scaleup.io.logs import Log, open_log
from scaleup.model.press import RotaryProfile
from scaleup.model.profile import NamedProfile
from scaleup.model.tooling import ToolingProfile
from scaleup.presses.compliance import series_compliance
from scaleup.pulses.logged_compression import compression_of
from scaleup.short_repr import short_repr

SPEED_OFF = 0.03
"""Share by which the pulses in a minute may be off stations times speed (a judgement of this
program)."""
LEAST_PULSES = 3
"""Main compressions from which their pace is held against the speed."""


@dataclass(frozen=True)
class StatedOfPress:
    """What a log cannot tell of its press, as it is stated; None is not known.

    Examples
    --------
    >>> StatedOfPress(
    ...     stations=19, speed=45.0, slowest=10.0, fastest=75.0, force_limit=60e3
    ... ).feed
    'forced'
    """

    stations: int
    speed: float
    """rpm, at which the log was taken."""
    slowest: float
    fastest: float
    """rpm, of the press."""
    force_limit: float
    """N, of the main roller."""
    tablets_per_turn: int = 1
    """Of one station."""
    feed: str = "forced"
    stiffness: float | None = None
    """N/mm."""
    pitch_circle: float | None = None
    """mm."""
    ejection_limit: float | None = None
    """N."""
    pre_radius: float | None = None
    """mm."""
    pre_force_limit: float | None = None
    """N."""
    fill: tuple[float, float] | None = None
    """mm."""
    tablet: Tablet = field(default_factory=Tablet)


@short_repr
@dataclass(frozen=True)
class PressFromRecord:
    """A rotary press whose pulse is that of a log.

    Examples
    --------
    >>> from scaleup.io.library import find_tooling
    >>> stated = StatedOfPress(
    ...     stations=16, speed=45.0, slowest=10.0, fastest=75.0, force_limit=60e3
    ... )
    >>> tooling = find_tooling("b-flat-10")
    >>> found = press_from_record("examples/bracken/records/rotary.csv", tooling, stated)
    >>> found.text.splitlines()[0]
    '# Made from the force log rotary.csv, compression 18.'
    """

    log: Log
    id: str
    """Of the profile, which is the stem of its file."""
    tooling: NamedProfile[ToolingProfile]
    """That of the log."""
    stated: StatedOfPress
    compression: int
    """Which one of the log the profile takes, counted from 1."""
    peak: float
    """N."""
    geometry: EffectiveGeometry
    pulses: int
    """Main compressions that could be measured."""
    scatter: dict[FigureOfPulse, float]
    """Standard deviation of each time over them, as a share; nan of one."""
    pace: float | None
    """Main compressions in a minute, None where there are too few."""
    pre_share: float = 0.0
    """Precompression in the log, as a share of the main peaks; 0 where there is none."""

    @property
    def counted_share(self) -> float:
        """Return the precompression that counts: none where its roller was not stated."""
        return 0.0 if self.stated.pre_radius is None else self.pre_share

    @property
    def text(self) -> str:
        """Return its profile as TOML, to lie beside its log."""
        return profile_text(self, self.log.path.name)

    @property
    def profile(self) -> RotaryProfile:
        """Return its profile, with its log.

        Raises
        ------
        InputError
            If what was stated of the press, or what the log gives, is no press that can be.
        """
        return replace(profile_in(self.text, f"{self.id}.toml"), log=self.log)


def press_from_record(
    log: str | Path, tooling: NamedProfile[ToolingProfile], stated: StatedOfPress, *,
    name: str | None = None, compression: int | None = None,
) -> PressFromRecord:  # fmt: skip
    """Return a rotary press whose pulse is that of a log; its `profile` is ready for a study.

    Pitch circle and main roller are lengths with which the solved pulse comes closest to the
    logged one; a forecast takes what is left between the two from the log.

    Parameters
    ----------
    log
        A log of force against time, CSV or Parquet.
    tooling
        With which it was taken.
    stated
        What a log cannot tell.
    name
        Id of the press; the stem of the log's name if not given.
    compression
        Which one of the log stands for the press, counted from 1; that whose time above 90 % is the
        middle one of all main compressions if not given.

    Raises
    ------
    InputError
        If the log cannot be read or has no such compression, if its pulses do not come at the pace
        of the stations, or if the tooling has no punch head.

    Examples
    --------
    An invented log of a press that is no usual one:

    >>> from scaleup.io.library import find_tooling
    >>> stated = StatedOfPress(
    ...     stations=16, speed=45.0, slowest=10.0, fastest=75.0, force_limit=60e3
    ... )
    >>> tooling = find_tooling("b-flat-10")
    >>> found = press_from_record("examples/bracken/records/rotary.csv", tooling, stated)
    >>> found.pulses, round(found.pace or 0.0), found.profile.record, found.geometry.matches
    (19, 720, 'rotary.csv', False)
    """
    opened = open_log(Path(log), Path(log).name)
    if tooling.profile.head_flat is None or tooling.profile.head_edge_radius is None:
        allowed = "tooling with a head_flat and a head_edge_radius"
        raise InputError(Fault(tooling.shown, "head_flat", "no punch head", allowed))
    answer = force_log_answer(opened)
    main = _usable(answer)
    number = _chosen(answer, main, compression)
    pace = _pace(answer, main)
    if pace is not None:
        _check_pace(pace, stated, opened.shown)
    compliance = series_compliance(stated.stiffness, tooling.profile, punches=2)
    one = compression_of(opened, number, compliance)
    pre_share = _pre_share(answer, main)
    radius = stated.pre_radius
    before = Before(0.0 if radius is None else pre_share, radius)
    tablet = replace(stated.tablet, before=before)
    geometry = effective_geometry(
        figures_of(one.time, one.force), one.peak, stated.speed, tooling.profile, compliance,
        tablet, stated.stations, stated.pitch_circle,
    )  # fmt: skip
    id_ = Path(log).stem if name is None else name
    scatter = _scatter(answer, main)
    return PressFromRecord(
        opened,
        id_,
        tooling,
        stated,
        number,
        one.peak,
        geometry,
        int(main.sum()),
        scatter,
        pace,
        pre_share,
    )


def _usable(answer: ForceLogAnswer) -> Flags:
    """Return which compressions are main ones that could be measured."""
    pulses, pattern = answer.pulses, answer.pattern
    known = ~np.isnan(pulses.above_90) & ~np.isnan(pulses.rise) & ~np.isnan(pulses.contact)
    usable: Flags = ~pattern.precompression & ~pattern.weak & ~pattern.double & known
    if not usable.any():
        found = f"no main compression whose rise and contact time are known, of {pulses.count}"
        allowed, mend = "at least one (see scaleup record)", ""
        if pulses.joined.any():
            mend = "They run into one another: log the press at a slower speed, where they do not."
        raise InputError(Fault(answer.log.shown, "", found, allowed, mend))
    return usable


def _pre_share(answer: ForceLogAnswer, main: Flags) -> float:
    """Return the precompression as a share of the main force, 0 where there is none."""
    pre = answer.pulses.peak[answer.pattern.precompression]
    pre = pre[~np.isnan(pre)]
    return float(np.median(pre) / np.median(answer.pulses.peak[main])) if pre.size else 0.0


def _chosen(answer: ForceLogAnswer, main: Flags, asked: int | None) -> int:
    """Return the number of the compression that stands for the press, counted from 1."""
    if asked is None:
        times = np.where(main, answer.pulses.above_90, np.nan)
        return int(np.nanargmin(np.abs(times - np.nanmedian(times)))) + 1
    if 1 <= asked <= main.size and main[asked - 1]:
        return asked
    known = ", ".join(str(place + 1) for place in np.flatnonzero(main)[:8])
    more = ", ..." if main.sum() > 8 else ""
    allowed = f"a main compression that could be measured: {known}{more}"
    raise InputError(Fault(answer.log.shown, "--compression", str(asked), allowed))


def _pace(answer: ForceLogAnswer, main: Flags) -> float | None:
    """Return how many main compressions come in a minute, None where there are too few."""
    if answer.pattern.interval is not None:
        return 60.0 / answer.pattern.interval
    moments = answer.pulses.moment[main]
    return 60.0 / float(np.median(np.diff(moments))) if moments.size >= LEAST_PULSES else None


def _check_pace(pace: float, stated: StatedOfPress, shown: str) -> None:
    """Refuse a log whose compressions do not come at the pace of the stations.

    A gauge under a roller feels every station once in a turn, on a press with two compressions a
    turn perhaps twice; one in a punch, or a turret with one station filled, once.
    """
    whole = stated.stations * stated.speed
    paces = (whole, whole * stated.tablets_per_turn, stated.speed)
    if any(abs(pace / each - 1.0) <= SPEED_OFF for each in paces):
        return
    raise InputError(
        Fault(
            shown,
            "--speed, --stations",
            f"{pace:.4g} main compressions a minute",
            f"{whole:.4g} a minute, as {stated.stations} stations at {stated.speed:g} rpm give",
            f"With {stated.stations} stations the turret turned at "
            f"{pace / stated.stations:.4g} rpm; at {stated.speed:g} rpm it has "
            f"{pace / stated.speed:.3g} stations.",
        )
    )


def _scatter(answer: ForceLogAnswer, main: Flags) -> dict[FigureOfPulse, float]:
    pulses = answer.pulses
    columns = {"above_90": pulses.above_90, "rise": pulses.rise, "contact": pulses.contact}
    return {
        name: float(np.nanstd(np.log(columns[name][main]), ddof=1)) if main.sum() > 1 else np.nan
        for name in LABELS
    }
