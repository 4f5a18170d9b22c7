"""How risks are found: a decorator that registers a finder, and the order risks are told in."""

from __future__ import annotations

import pkgutil
from collections.abc import Callable, Iterable
from dataclasses import dataclass, field
from importlib import import_module
from typing import Literal

from scaleup.sentence import Fact, Words, facts_of
from scaleup.short_repr import short_repr
from scaleup.transfer.about import About
from scaleup.transfer.case import TransferCase

Severity = Literal["severe", "serious", "watch"]
Effect = Literal["stops", "needs a change", "lacks evidence", "none"]
ORDER: dict[Severity, int] = {"severe": 0, "serious": 1, "watch": 2}


@short_repr
@dataclass(frozen=True)
class Risk:
    """One finding: what may go wrong, what it rests on, what to do, and what it decides."""

    code: str
    severity: Severity
    message: Words
    evidence: Words
    action: Words
    size: float = field(default=0.0, compare=False)
    """How large it is within its severity; only orders the list."""
    effect: Effect = "none"
    """What it does to the verdict, whatever force and speed are set: it stops the transfer, the
    press needs a change first, or there is no evidence for an answer."""
    about: About = ""
    """Which input is lacking, where a gap or a value taken for granted would tell the same."""
    in_doubt: str = ""
    """What is in doubt, in a few words, where the finding leaves no figure to be told."""

    @property
    def facts(self) -> dict[str, Fact | str]:
        """Return the numbers and names that its sentences are made of, and those behind them."""
        return facts_of(self.message, self.evidence, self.action)


Finder = Callable[[TransferCase], Iterable[Risk]]


@dataclass(frozen=True)
class _Registered:
    finder: Finder
    without_fit: bool
    standing: bool


FINDERS: list[_Registered] = []


def risk(*, without_fit: bool = False, standing: bool = False) -> Callable[[Finder], Finder]:
    """Return a decorator that registers a function which yields the risks it finds in a case.

    Parameters
    ----------
    without_fit
        Whether it is to look at cases whose runs allow no fit as well.
    standing
        Whether its findings can have an effect on the verdict. It is then asked for the answer in
        a few words too, and looks at no solved pulse.
    """

    def register(finder: Finder) -> Finder:
        FINDERS.append(_Registered(finder, without_fit, standing))
        return finder

    return register


def all_risks(case: TransferCase) -> tuple[Risk, ...]:
    """Return the risks of a case, worst first."""
    return _found(case, standing_only=False)


def standing_risks(case: TransferCase) -> tuple[Risk, ...]:
    """Return the risks that can decide the answer, worst first; no pulse is solved for them."""
    return _found(case, standing_only=True)


def _found(case: TransferCase, *, standing_only: bool) -> tuple[Risk, ...]:
    _look_for_finders()
    fitted = case.no_fit is None
    asked = [
        each.finder
        for each in FINDERS
        if (fitted or each.without_fit) and (each.standing or not standing_only)
    ]
    return worst_first(item for finder in asked for item in finder(case))


def worst_first(risks: Iterable[Risk]) -> tuple[Risk, ...]:
    """Return risks in the order they are told in."""
    return tuple(sorted(risks, key=lambda item: (ORDER[item.severity], -item.size, item.code)))


def _look_for_finders() -> None:
    package = import_module("scaleup.transfer.risks")
    for module in sorted(info.name for info in pkgutil.iter_modules(package.__path__)):
        import_module(f"scaleup.transfer.risks.{module}")
