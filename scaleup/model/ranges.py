"""From one value to another, both included."""

from __future__ import annotations

from dataclasses import dataclass

from scaleup.errors import field_fault


@dataclass(frozen=True)
class Range:
    """From ``min`` to ``max``, both included; the field that has it says of what.

    Raises
    ------
    FieldFault
        If ``min`` is above ``max``.

    Examples
    --------
    >>> Range(10.0, 75.0).holds(45.0)
    True
    """

    min: float
    max: float

    def __post_init__(self) -> None:
        if self.min > self.max:
            raise field_fault(
                f"min {self.min:g} above max {self.max:g}",
                "min not above max",
                "Exchange the two, or mend the one that is wrong.",
            )

    def holds(self, value: float) -> bool:
        """Return whether a value lies in the range."""
        return self.min <= value <= self.max
