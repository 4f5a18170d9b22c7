"""Field types: written quantities come in, plain floats in the core's units stay."""

from __future__ import annotations

from dataclasses import dataclass
from math import inf
from typing import Annotated, Any

from pydantic import AfterValidator, BaseModel, ConfigDict, GetCoreSchemaHandler, model_validator
from pydantic_core.core_schema import CoreSchema, no_info_before_validator_function

from scaleup.io.profile_ranges import RANGES
from scaleup.io.sense import Sense
from scaleup.io.text import has_control, printable, shown_number
from scaleup.io.units import EXPECTED, UnitFault, expected, to_core

NAME_LIMIT = 120
DESCRIPTION_LIMIT = 2000


class FieldFault(ValueError):  # noqa: N818  named after the fault it becomes
    """A value cannot be right; says what is allowed and how to mend it."""

    def __init__(self, found: str, allowed: str, mend: str = "", where: str = "") -> None:
        self.found = found
        self.allowed = allowed
        self.mend = mend
        self.where = where
        super().__init__(f"found {found}; allowed: {allowed}")


@dataclass(frozen=True)
class Quantity:
    """A written quantity, read into a core unit and held to be above zero, or not below it."""

    unit: str
    zero: bool = False
    least: float = 0.0
    most: float = inf
    """Bounds of sense, in the core unit."""
    sense: Sense | None = None
    """What the quantity of a profile can be, where it is one."""

    def __get_pydantic_core_schema__(
        self, source: type[float], handler: GetCoreSchemaHandler
    ) -> CoreSchema:
        """Return how pydantic reads the field."""
        return no_info_before_validator_function(self.read, handler(source))

    @property
    def wanted(self) -> str:
        """Return in words what is to be written."""
        return expected(self.unit)

    def read(self, value: object) -> float:
        """Return the quantity as a float in the core unit."""
        if not isinstance(value, str):
            raise UnitFault(_bare(value), self.wanted)
        number = to_core(value, self.unit)
        if number < 0 or (number == 0 and not self.zero):
            noun, example = EXPECTED[self.unit]
            bound = "not below zero" if self.zero else "above zero"
            raise UnitFault(f'"{value}"', f'{noun} {bound}, such as "{example}"')
        if number and not self.least <= number <= self.most:
            raise UnitFault(f'"{value}"', self._bounds())
        if self.sense is not None and not self.sense.possible(number):
            raise FieldFault(f'"{value}"', self.sense.allowed, self.sense.meant(value))
        return number

    def _bounds(self) -> str:
        noun, example = EXPECTED[self.unit]
        if self.unit == "1":
            return f'{noun} up to 100 %, such as "{example}"'
        lower = f"from {self.least:g} " if self.least else ""
        return f'{noun} {lower}up to {self.most:g} {self.unit}, such as "{example}"'


def _bare(value: object) -> str:
    if isinstance(value, bool):
        return str(value).lower()
    if isinstance(value, int | float):
        return f"{shown_number(value)}, a number without a unit"
    return {"dict": "a table", "list": "a list", "tuple": "a list"}.get(
        type(value).__name__, str(value)
    )


def ranged(key: str) -> Quantity:
    """Return the quantity of a profile's key, with its range of sense."""
    sense = RANGES[key]
    return Quantity(sense.core, zero=sense.can[0] == 0.0, sense=sense)


Length = Annotated[float, Quantity("mm", most=5000.0)]
LengthOrZero = Annotated[float, Quantity("mm", zero=True, most=5000.0)]
Area = Annotated[float, Quantity("mm^2")]
Volume = Annotated[float, Quantity("mm^3")]
Output = Annotated[float, Quantity("1/h", most=1e8)]
Force = Annotated[float, Quantity("N", most=1e7)]
Pressure = Annotated[float, Quantity("MPa")]
Time = Annotated[float, Quantity("s", most=1e5)]
TimeOrZero = Annotated[float, Quantity("s", zero=True, most=1e5)]
Mass = Annotated[float, Quantity("mg")]
Density = Annotated[float, Quantity("mg/mm^3", least=0.05, most=25.0)]
Speed = Annotated[float, Quantity("rpm", most=1e4)]
Velocity = Annotated[float, Quantity("mm/s")]
ForceRate = Annotated[float, Quantity("N/s")]
Stiffness = Annotated[float, Quantity("N/mm")]
Angle = Annotated[float, Quantity("rad")]
Share = Annotated[float, Quantity("1", most=1.0)]
ShareOrZero = Annotated[float, Quantity("1", zero=True, most=1.0)]


def clean_name(text: str) -> str:
    """Return a name without the blanks around it.

    Raises
    ------
    FieldFault
        If it is empty, longer than 120 characters, or holds control characters.
    """
    text = text.strip()
    if not text or len(text) > NAME_LIMIT or has_control(text) or text.startswith("="):
        allowed = f"a name of 1 to {NAME_LIMIT} printable characters that does not start with ="
        raise FieldFault(f'"{printable(text)}"', allowed)
    return text


def _clean_description(text: str) -> str:
    text = " ".join(text.split())
    if len(text) > DESCRIPTION_LIMIT or has_control(text):
        allowed = f"up to {DESCRIPTION_LIMIT} printable characters"
        raise FieldFault(f'"{printable(text)}"', allowed)
    return text


Name = Annotated[str, AfterValidator(clean_name)]
Description = Annotated[str, AfterValidator(_clean_description)]


def _tuples(value: Any) -> Any:
    return tuple(value) if isinstance(value, list) else value


class Part(BaseModel):
    """A table of a file: unknown keys are refused, and nothing changes after reading."""

    model_config = ConfigDict(strict=True, extra="forbid", frozen=True)

    @model_validator(mode="before")
    @classmethod
    def _lists_become_tuples(cls, data: Any) -> Any:
        if not isinstance(data, dict):
            return data
        return {key: _tuples(value) for key, value in data.items()}


class Span(Part):
    """From ``min`` to ``max``, both included; the subclasses say of what."""

    min: float
    max: float

    @model_validator(mode="after")
    def _in_order(self) -> Span:
        if self.min > self.max:
            raise FieldFault(
                f"min {self.min:g} above max {self.max:g}",
                "min not above max",
                "Exchange the two, or mend the one that is wrong.",
            )
        return self

    def holds(self, value: float) -> bool:
        """Return whether a value lies in the range."""
        return self.min <= value <= self.max


class TimeRange(Span):
    """A range of times in s."""

    min: TimeOrZero
    max: TimeOrZero


class SpeedRange(Span):
    """A range of speeds in rpm."""

    min: Speed
    max: Speed


class ForceRateRange(Span):
    """A range of loading rates in N/s."""

    min: ForceRate
    max: ForceRate


class ShareRange(Span):
    """A range of shares, 0 to 1."""

    min: Share
    max: Share
