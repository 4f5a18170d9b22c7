"""Presses as data: one frozen dataclass for each kind of press, in mm, N, s, rpm and rad."""

from __future__ import annotations

from dataclasses import dataclass
from math import pi
from typing import Annotated, Any, ClassVar, Literal, Protocol, cast

from scaleup.errors import field_fault
from scaleup.model.checked import Checked
from scaleup.model.fields import Description, Name, Several, Share, Whole, between, ranged, unread
from scaleup.model.press_proportions import ECCENTRIC, EVERY_PRESS, HYDRAULIC, ROTARY
from scaleup.model.proportions import Oddity, Proportion, oddities, refuse_impossible
from scaleup.model.ranges import Range
from scaleup.short_repr import short_repr


class _Limited(Protocol):
    @property
    def force_limit(self) -> float: ...


Stiffness = Annotated[float, ranged("stiffness")]
ForceLimit = Annotated[float, ranged("force_limit")]
EjectionLimit = Annotated[float, ranged("ejection_limit")]
LoadingRate = Annotated[float, ranged("loading_rate")]
Radius = Annotated[float, ranged("roller.radius")]
RollerForce = Annotated[float, ranged("roller.force_limit")]
HeadFlat = Annotated[float, ranged("head_flat")]
TurretSpeed = Annotated[float, ranged("turret_speed")]
TurretSpeeds = Annotated[Range, between("turret_speed")]
StrokeRates = Annotated[Range, between("stroke_rate")]
LoadingRates = Annotated[Range, between("loading_rates")]
HoldRange = Annotated[Range, between("hold.min", "hold.max")]
FillRange = Annotated[Range, between("fill.min", "fill.max")]
"""The fill depths of one cam in mm."""


@dataclass(frozen=True, kw_only=True)
class PressProfile(Checked):
    """What every kind of press states."""

    kind: ClassVar[str]
    proportions: ClassVar[tuple[Proportion[Any], ...]] = EVERY_PRESS
    """Figures of several keys, each held to its range of sense."""

    name: Name
    description: Description = ""
    accepts: Annotated[
        tuple[Name, ...], Several("a list of the tooling standards that fit", ("B", "D"))
    ]
    feed: Literal["hand", "gravity", "forced"]
    stiffness: Stiffness | None = None
    """N/mm, frame and rollers in series; absent is unknown."""
    ejection_limit: EjectionLimit | None = None
    force_accuracy: Annotated[float, ranged("force_accuracy")] | None = None
    """Share by which the force may be read wrong: a half-width that holds 95 %."""
    sides: Literal["one", "two"] | None = None
    """Whether one punch presses or both do; None: both on a rotary press, else one."""
    fill: tuple[FillRange, ...] = ()
    """Ranges of the fill depth, one for each fill cam."""

    @property
    def pressed_from(self) -> Literal["one", "two"]:
        """Return from how many sides the powder is pressed."""
        return self.sides or ("two" if self.kind == "rotary" else "one")

    @property
    def greatest_force(self) -> float:
        """Return the force in N that the press may make: every kind has a ``force_limit``."""
        return cast("_Limited", self).force_limit

    def __post_init__(self) -> None:
        super().__post_init__()
        refuse_impossible(press_oddities(self))


def press_oddities(press: PressProfile) -> tuple[Oddity, ...]:
    """Return what about a press is not as it usually is, or cannot be.

    Examples
    --------
    >>> from scaleup.io.library import find_press
    >>> press_oddities(find_press("rotary-mid-19").profile)
    ()
    """
    return oddities(press, press.proportions)


@dataclass(frozen=True, kw_only=True)
class Pump(Checked):
    """Loading by hand: strokes of a pump, each adding a step of force."""

    force_per_stroke: Annotated[float, ranged("pump.force_per_stroke")]
    stroke_time: Annotated[float, ranged("pump.stroke_time")]
    pause: Annotated[float, ranged("pump.pause")]


@dataclass(frozen=True, kw_only=True)
class HydraulicProfile(PressProfile):
    """A hydraulic press: force against time.

    Examples
    --------
    >>> from scaleup import find_press
    >>> find_press("lab-hydraulic").profile.force_limit
    60000.0
    """

    kind: ClassVar[str] = "hydraulic"
    proportions: ClassVar[tuple[Proportion[Any], ...]] = (*EVERY_PRESS, *HYDRAULIC)

    force_limit: ForceLimit
    loading_rate: LoadingRate | None = None
    pump: Pump | None = None
    release_time: Annotated[float, ranged("release_time")]
    automatic_release: bool = False
    """Whether the press lets go by itself at the set force, so that it cannot hold."""
    hold: HoldRange | None = None
    loading_rates: LoadingRates | None = None

    def check(self) -> None:
        """Refuse values that do not go together."""
        self._loads_one_way()
        self._releases_or_holds()
        self._rate_in_range()

    def _loads_one_way(self) -> None:
        if (self.loading_rate is None) == (self.pump is None):
            both = "both" if self.pump else "neither"
            raise field_fault(
                f"{both} of loading_rate and pump",
                "one of the two",
                "Give loading_rate for a motor, or the table pump for a hand pump.",
            )

    def _releases_or_holds(self) -> None:
        if self.automatic_release and self.hold is not None and self.hold.max > 0:
            raise field_fault(
                f"a hold of up to {self.hold.max:g} s on a press with automatic_release",
                "no hold, since the press lets go at the set force",
                "Remove hold, or set automatic_release = false.",
                "hold",
            )

    def _rate_in_range(self) -> None:
        rate, rates = self.loading_rate, self.loading_rates
        if rate is not None and rates is not None and not rates.holds(rate):
            raise field_fault(
                f"{rate / 1e3:g} kN/s",
                f"a rate within loading_rates, {rates.min / 1e3:g} to {rates.max / 1e3:g} kN/s",
                where="loading_rate",
            )


@dataclass(frozen=True, kw_only=True)
class EccentricProfile(PressProfile):
    """An eccentric press: the upper punch hangs on a crank; speeds in strokes/min.

    Examples
    --------
    >>> from scaleup import find_press
    >>> find_press("lab-eccentric").profile.crank_radius
    20.0
    """

    kind: ClassVar[str] = "eccentric"
    proportions: ClassVar[tuple[Proportion[Any], ...]] = (*EVERY_PRESS, *ECCENTRIC)

    force_limit: ForceLimit
    crank_radius: Annotated[float, ranged("crank_radius")]
    link_length: Annotated[float, ranged("link_length")]
    speed: StrokeRates
    penetration: Annotated[float, ranged("eccentric.penetration")] | None = None

    def check(self) -> None:
        """Refuse values that do not go together."""
        self._crank_turns()

    def _crank_turns(self) -> None:
        if self.link_length <= self.crank_radius:
            raise field_fault(
                f"a link of {self.link_length:g} mm on a crank of {self.crank_radius:g} mm",
                "a link longer than the crank radius",
                where="link_length",
            )


@dataclass(frozen=True, kw_only=True)
class MainRoller(Checked):
    """The main compression roller.

    Examples
    --------
    >>> MainRoller(radius=125.0, force_limit=80e3).force_limit
    80000.0
    """

    radius: Radius | None = None
    force_limit: RollerForce


@dataclass(frozen=True, kw_only=True)
class PreRoller(Checked):
    """The precompression roller.

    Examples
    --------
    >>> PreRoller(radius=100.0, force_limit=20e3).radius
    100.0
    """

    radius: Radius
    force_limit: RollerForce


@dataclass(frozen=True, kw_only=True)
class Stated(Checked):
    """What a data sheet says of a press at one speed, with the head flat it was worked out for."""

    speed: TurretSpeed
    dwell_time: Annotated[float, ranged("stated.dwell_time")]
    head_flat: HeadFlat
    punch_velocity: Annotated[float, ranged("stated.punch_velocity")] | None = None
    at_travel: Annotated[float, ranged("stated.at_travel")] | None = None
    """Distance from the deepest point at which the velocity is stated."""

    def check(self) -> None:
        """Refuse values that do not go together."""
        self._velocity_has_its_place()
        self._dwell_within_half_a_turn()

    def _velocity_has_its_place(self) -> None:
        if (self.punch_velocity is None) != (self.at_travel is None):
            lone = "at_travel" if self.punch_velocity is None else "punch_velocity"
            other = "punch_velocity" if self.punch_velocity is None else "at_travel"
            raise field_fault(
                f"{lone} without {other}",
                "both or neither: a punch has another velocity at every distance",
                f"Add {other}, or remove {lone}.",
            )

    def _dwell_within_half_a_turn(self) -> None:
        if self.dwell_time >= 30.0 / self.speed:
            raise field_fault(
                f"{self.dwell_time * 1e3:g} ms at {self.speed:g} rpm",
                f"less than half a turn, {30e3 / self.speed:.4g} ms",
                where="dwell_time",
            )


@dataclass(frozen=True, kw_only=True)
class Feeder(Checked):
    """A forced feeder: what it holds of powder in mg, and its paddles in mm and rpm.

    Examples
    --------
    A feeder that holds 0.8 kg, at 60,000 tablets of 300 mg an hour:

    >>> round(Feeder(hold_up=0.8e6, paddle_diameter=150.0, paddle_speed=40.0).stay(5e3), 1)
    160.0
    """

    hold_up: Annotated[float, ranged("feeder.hold_up")]
    paddle_diameter: Annotated[float, ranged("feeder.paddle_diameter")]
    paddle_speed: Annotated[float, ranged("feeder.paddle_speed")]

    def stay(self, flow: float) -> float:
        """Return the mean stay in s of powder that leaves at so many mg/s."""
        return self.hold_up / flow

    def shear(self, flow: float) -> float:
        """Return the paddle diameter in dm times the turns of the paddles during the stay.

        Added to the blender's K (this project's, in the spirit of Narang et al., Int J Pharm 401
        (2010) 7).
        """
        return self.paddle_diameter / 100.0 * self.paddle_speed / 60.0 * self.stay(flow)


@short_repr
@dataclass(frozen=True, kw_only=True)
class RotaryProfile(PressProfile):
    """A rotary press, by its geometry or by a stated dwell time and punch velocity.

    Examples
    --------
    >>> from scaleup import find_press
    >>> press = find_press("rotary-mid-19").profile
    >>> press.stations, press.output(45.0)
    (19, 51300.0)
    """

    kind: ClassVar[str] = "rotary"
    proportions: ClassVar[tuple[Proportion[Any], ...]] = (*EVERY_PRESS, *ROTARY)

    stations: Annotated[int, Whole(1, 200)]
    tablets_per_station_per_turn: Literal[1, 2] = 1
    speed: TurretSpeeds
    main_roller: MainRoller
    pre_roller: PreRoller | None = None
    pitch_circle: Annotated[float, ranged("pitch_circle")] | None = None
    """Diameter of the circle of the punches."""
    roller_spacing: Annotated[float, ranged("roller_spacing")] | None = None
    """Angle on the turret between the pre and the main roller."""
    penetration: Annotated[float, ranged("rotary.penetration")] | None = None
    feeder_arc: Annotated[float, ranged("feeder_arc")] | None = None
    feeder: Feeder | None = None
    """What a forced feeder does to the blend; None is not known."""
    stated: Stated | None = None
    record: Name | None = None
    """A log beside the profile whose pulse is that of the press."""
    compression: Annotated[int, Whole(1, 9999)] | None = None
    """Which one of the log it is, where there are several."""
    record_speed: TurretSpeed | None = None
    """The turret speed at which it was logged."""
    record_head_flat: HeadFlat | None = None
    """The head flat of the tooling it was logged with."""
    record_precompression: Share | None = None
    """Precompression before it, as a share of its peak; None for none, or none known."""
    log: Any = unread()  # noqa: RUF009  a field
    """The log, opened by whoever reads it; None before that."""

    @property
    def force_limit(self) -> float:
        """Return the force in N that the main roller may carry."""
        return self.main_roller.force_limit

    def output(self, speed: float) -> float:
        """Return tablets per hour: ``stations * rpm * 60 * tablets per station and turn``."""
        return self.stations * speed * 60.0 * self.tablets_per_station_per_turn

    def check(self) -> None:
        """Refuse values that do not go together."""
        self._feeder_is_forced()
        self._geometry_known()
        self._rollers_fit_the_turret()
        self._stations_fit_the_turret()
        self._log_has_its_setting()

    def _log_has_its_setting(self) -> None:
        of_the_log = {
            "record_speed": self.record_speed,
            "record_head_flat": self.record_head_flat,
        }
        if self.record is None:
            lone = [key for key, value in of_the_log.items() if value is not None]
            beside = {
                "compression": self.compression,
                "record_precompression": self.record_precompression,
            }
            lone += [key for key, value in beside.items() if value is not None]
            if lone:
                raise field_fault(f"{lone[0]} without record", "both, or neither", where=lone[0])
            return
        for key, value in of_the_log.items():
            if value is None:
                mend = "Say at which turret speed, and with which head flat, it was logged."
                raise field_fault(f"record without {key}", "both, or neither", mend, key)
        if self.record_speed is not None and not self.speed.holds(self.record_speed):
            raise field_fault(
                f"{self.record_speed:g} rpm",
                f"a speed that the press runs at, {self.speed.min:g} to {self.speed.max:g} rpm",
                where="record_speed",
            )

    def _feeder_is_forced(self) -> None:
        if self.feeder is not None and self.feed != "forced":
            raise field_fault(
                f'the table feeder with feed = "{self.feed}"',
                'feed = "forced", the only one with paddles',
                "Remove the table, or state how the dies are fed.",
                "feeder",
            )

    def _geometry_known(self) -> None:
        by_geometry = {
            "pitch_circle": self.pitch_circle,
            "main_roller.radius": self.main_roller.radius,
        }
        velocity = None if self.stated is None else self.stated.punch_velocity
        by_data_sheet = {"stated": self.stated, "stated.punch_velocity": velocity}
        missing = [name for name, value in by_geometry.items() if value is None]
        unstated = [name for name, value in by_data_sheet.items() if value is None]
        if missing and unstated:
            raise field_fault(
                f"no {' and no '.join(missing)}, and no {' and no '.join(unstated)}",
                "pitch_circle, its diameter, and main_roller.radius, or the table stated with "
                "speed, dwell_time, head_flat, punch_velocity and at_travel",
            )

    def _rollers_fit_the_turret(self) -> None:
        rollers = {"main_roller.radius": self.main_roller.radius}
        if self.pre_roller is not None:
            rollers["pre_roller.radius"] = self.pre_roller.radius
        for where, radius in rollers.items():
            if radius and self.pitch_circle and radius > self.pitch_circle:
                raise field_fault(
                    f"a roller radius of {radius:g} mm on a pitch circle of "
                    f"{self.pitch_circle:g} mm",
                    "a roller radius not above the pitch circle diameter",
                    "pitch_circle is a diameter, the rollers are given by their radius.",
                    where,
                )

    def _stations_fit_the_turret(self) -> None:
        if self.pitch_circle is not None and self.pitch_circle * pi / self.stations < 10.0:
            raise field_fault(
                f"{self.stations} stations on a pitch circle of {self.pitch_circle:g} mm",
                "at least 10 mm of the pitch circle for each station",
                where="stations",
            )


@dataclass(frozen=True, kw_only=True)
class RecordedProfile(PressProfile):
    """A press known by a logged force: ``record`` is a log beside the profile.

    ``compression`` says which one of the log it is, where there are several.

    Examples
    --------
    >>> from scaleup import find_press
    >>> find_press("lab-recorded").profile.kind
    'recorded'
    """

    kind: ClassVar[str] = "recorded"

    force_limit: ForceLimit
    record: Name
    compression: Annotated[int, Whole(1, 9999)] | None = None
    log: Any = unread()  # noqa: RUF009  a field
    """The log, opened by whoever reads it; None before that."""


PRESS_KINDS: dict[str, type[PressProfile]] = {
    "hydraulic": HydraulicProfile,
    "eccentric": EccentricProfile,
    "rotary": RotaryProfile,
    "recorded": RecordedProfile,
}
"""Every kind of press; a new kind is one dataclass and one line here."""
