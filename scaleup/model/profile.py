"""A press or tooling by its id, with where it is from."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Generic, TypeVar

from scaleup.short_repr import short_repr

Profile_co = TypeVar("Profile_co", covariant=True)


@short_repr
@dataclass(frozen=True)
class NamedProfile(Generic[Profile_co]):
    """A profile with its id, and the file it is from, if any.

    Examples
    --------
    >>> NamedProfile("mine", "any profile").shown
    'mine'
    """

    id: str
    profile: Profile_co
    shown: str = ""
    """The file as named in results: beside the study, or ``profiles/...`` where it is shipped; the
    id where there is none."""
    sha256: str = ""
    """Of the file; empty where there is none."""
    beside: tuple[tuple[str, str], ...] = ()
    """File and SHA-256 of what was read along with it, such as a log."""

    def __post_init__(self) -> None:
        if not self.shown:
            object.__setattr__(self, "shown", self.id)
