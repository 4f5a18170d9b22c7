"""Tooling as data: the tip that shapes the tablet and the head that rides under the roller."""

from __future__ import annotations

from dataclasses import dataclass
from math import pi
from typing import Annotated, Any, Literal

from scaleup.errors import field_fault
from scaleup.model.checked import Checked
from scaleup.model.fields import Description, Name, keyed, ranged
from scaleup.model.proportions import Oddity, oddities, refuse_impossible
from scaleup.model.tooling_proportions import PROPORTIONS

Shape = Literal["round flat", "round convex", "elongated"]


def cap_volume(depth: Any, radius: Any) -> Any:
    """Return the volume of a spherical cap, ``pi h (3 a^2 + h^2) / 6``, of depth h and radius a.

    >>> round(cap_volume(3.0, 3.0) / pi, 9)
    18.0
    """
    return pi * depth * (3.0 * radius**2 + depth**2) / 6.0


@dataclass(frozen=True, kw_only=True)
class ToolingProfile(Checked):
    """One set of punches and die, in mm, N and MPa.

    Examples
    --------
    >>> made = ToolingProfile(name="Own", shape="round flat", standard="B", diameter=10.0)
    >>> made.diameter
    10.0
    """

    name: Name
    description: Description = ""
    shape: Shape
    standard: Name
    """The tooling standard a press must accept."""
    diameter: Annotated[float, ranged("diameter")] | None = None
    width: Annotated[float, ranged("width")] | None = None
    """Short axis of an elongated tip."""
    length: Annotated[float, ranged("length")] | None = None
    """Long axis of an elongated tip."""
    stated_cup_depth: Annotated[float, ranged("cup_depth")] | None = keyed("cup_depth")
    stated_cup_volume: Annotated[float, ranged("cup_volume")] | None = keyed("cup_volume")
    stated_area: Annotated[float, ranged("tip_area")] | None = keyed("tip_area")
    stated_perimeter: Annotated[float, ranged("perimeter")] | None = keyed("perimeter")
    head_flat: Annotated[float, ranged("head_flat")] | None = None
    head_edge_radius: Annotated[float, ranged("head_edge_radius")] | None = None
    head_diameter: Annotated[float, ranged("head_diameter")] | None = None
    barrel_diameter: Annotated[float, ranged("barrel_diameter")] | None = None
    punch_length: Annotated[float, ranged("punch_length")] | None = None
    modulus: Annotated[float, ranged("modulus")] | None = None
    tip_force_rating: Annotated[float, ranged("tip_force_rating")] | None = None
    """From the tooling drawing; absent is unknown."""

    @property
    def elongated(self) -> bool:
        """Return whether the tip has two axes."""
        return self.shape == "elongated"

    @property
    def short_axis(self) -> float:
        """Return the diameter of a round tip, the width of an elongated one, in mm."""
        return _known(self.width if self.elongated else self.diameter)

    @property
    def long_axis(self) -> float:
        """Return the diameter of a round tip, the length of an elongated one, in mm."""
        return _known(self.length if self.elongated else self.diameter)

    @property
    def tip_area(self) -> float:
        """Return the projected area in mm²; an elongated tip is ``w (l - w) + pi w^2 / 4``."""
        if self.stated_area is not None:
            return self.stated_area
        short, long = self.short_axis, self.long_axis
        return short * (long - short) + pi * short**2 / 4.0

    @property
    def perimeter(self) -> float:
        """Return the length around the tip in mm; elongated ``2 (l - w) + pi w``."""
        if self.stated_perimeter is not None:
            return self.stated_perimeter
        return 2.0 * (self.long_axis - self.short_axis) + pi * self.short_axis

    @property
    def cup_depth(self) -> float:
        """Return the depth of one cup in mm, 0 of a flat tip."""
        return self.stated_cup_depth or 0.0

    @property
    def cup_volume(self) -> float:
        """Return the volume of one cup in mm³, stated or that of a round cup."""
        if self.stated_cup_volume is not None:
            return self.stated_cup_volume
        return float(cap_volume(self.cup_depth, self.short_axis / 2.0))

    def __post_init__(self) -> None:
        super().__post_init__()
        refuse_impossible(tooling_oddities(self))

    def check(self) -> None:
        """Refuse values that do not go together."""
        self._sizes_of_the_shape()
        self._cup_of_the_shape()
        self._cup_within_a_sphere()
        self._head_is_whole()

    def _sizes_of_the_shape(self) -> None:
        wanted = ("width", "length") if self.elongated else ("diameter",)
        other = ("diameter",) if self.elongated else ("width", "length")
        _want(self, wanted, f'for the shape "{self.shape}"')
        _refuse(self, other, f'for the shape "{self.shape}"')
        if self.elongated and self.short_axis >= self.long_axis:
            raise field_fault(
                f"a width of {self.width:g} mm and a length of {self.length:g} mm",
                "a width below the length",
                where="width",
            )

    def _cup_of_the_shape(self) -> None:
        depth, volume = self.stated_cup_depth, self.stated_cup_volume
        if self.shape == "round flat" and (depth or volume):
            raise field_fault(
                "a cup on a flat tip",
                "no cup_depth and no cup_volume",
                'Remove them, or write shape = "round convex".',
                "shape",
            )
        if self.shape == "round convex" and depth is None:
            raise field_fault("no cup_depth", "the depth of one cup", where="cup_depth")
        if self.elongated and (depth is None) != (volume is None):
            raise field_fault(
                "one of cup_depth and cup_volume",
                "both for an elongated cup, neither for a flat end",
                "The volume of an elongated cup comes from the tooling drawing.",
                "cup_volume" if volume is None else "cup_depth",
            )

    def _cup_within_a_sphere(self) -> None:
        radius = self.short_axis / 2.0
        if self.cup_depth > radius:
            raise field_fault(
                f"{self.cup_depth:g} mm",
                f"not above half the short axis, {radius:g} mm",
                where="cup_depth",
            )
        if self.cup_volume > self.tip_area * self.cup_depth:
            raise field_fault(
                f"{self.cup_volume:g} mm^3",
                f"below tip area times cup depth, {self.tip_area * self.cup_depth:g} mm^3",
                "Give the volume of one cup.",
                "cup_volume",
            )

    def _head_is_whole(self) -> None:
        _together(self, ("head_flat", "head_edge_radius"))
        _together(self, ("barrel_diameter", "punch_length", "modulus"))
        if self.head_flat and self.head_diameter and self.head_flat >= self.head_diameter:
            raise field_fault(
                f"a head flat of {self.head_flat:g} mm on a head of {self.head_diameter:g} mm",
                "a head flat below the head diameter",
                where="head_flat",
            )


def tooling_oddities(tooling: ToolingProfile) -> tuple[Oddity, ...]:
    """Return what about tooling is not as it usually is, or cannot be.

    Examples
    --------
    >>> from scaleup.io.library import find_tooling
    >>> tooling_oddities(find_tooling("b-flat-10").profile)
    ()
    """
    return oddities(tooling, PROPORTIONS)


def _known(size: float | None) -> float:
    if size is None:
        raise ValueError("the tip has no size")
    return size


def _want(tooling: ToolingProfile, keys: tuple[str, ...], why: str) -> None:
    missing = [key for key in keys if getattr(tooling, key) is None]
    if missing:
        raise field_fault(f"no {' and no '.join(missing)}", f"{' and '.join(keys)} {why}")


def _refuse(tooling: ToolingProfile, keys: tuple[str, ...], why: str) -> None:
    given = [key for key in keys if getattr(tooling, key) is not None]
    if given:
        raise field_fault(
            " and ".join(given),
            f"neither {' nor '.join(keys)} {why}" if len(keys) > 1 else f"no {keys[0]} {why}",
        )


def _together(tooling: ToolingProfile, keys: tuple[str, ...]) -> None:
    missing = [key for key in keys if getattr(tooling, key) is None]
    if missing and len(missing) < len(keys):
        raise field_fault(
            f"no {' and no '.join(missing)}",
            f"all of {', '.join(keys)}, or none of them",
            where=missing[0],
        )
