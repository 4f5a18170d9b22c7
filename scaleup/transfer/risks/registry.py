"""How risks are found: a decorator, the case they look at, and the order they are told in."""

from __future__ import annotations

import pkgutil
from collections.abc import Callable, Iterable
from dataclasses import dataclass, field
from importlib import import_module
from typing import Literal

from scaleup.calibration.fit import Fit, NoFit
from scaleup.calibration.observations import Observation
from scaleup.calibration.unit_doubts import Doubt
from scaleup.model.study import Study
from scaleup.transfer.equivalent import Equivalent
from scaleup.transfer.holding import Holding
from scaleup.transfer.limits import Limit
from scaleup.transfer.line import Line
from scaleup.transfer.question import LabPulse
from scaleup.transfer.reference import Reference
from scaleup.transfer.unproven import Unproven

Severity = Literal["severe", "serious", "watch"]
ORDER: dict[Severity, int] = {"severe": 0, "serious": 1, "watch": 2}


@dataclass(frozen=True)
class Risk:
    """One finding: what may go wrong, what it rests on, and what to do."""

    code: str
    severity: Severity
    message: str
    evidence: str
    action: str
    size: float = field(default=0.0, compare=False)
    """How large it is within its severity; only orders the list."""


@dataclass(frozen=True)
class Fitted:
    """What a case has besides its inputs when the runs allowed a fit."""

    fit: Fit
    line: Line
    lab: LabPulse
    limits: tuple[Limit, ...]


@dataclass(frozen=True)
class Case:
    """Everything a risk may look at."""

    study: Study
    observations: tuple[Observation, ...]
    reference: Reference
    equivalents: tuple[Equivalent, ...]
    speed: float
    confidence: float
    fitted: Fitted | None
    no_fit: NoFit | None
    unit_doubts: tuple[Doubt, ...] = ()
    """What speaks for a slip of a unit."""
    holding_pressure: float | None = None
    """The least pressure in MPa that keeps every limit at the asked speed; None if none does."""
    fastest: Holding | None = None
    """The fastest turret speed at which a pressure keeps every limit; None if there is none."""
    unproven: Unproven | None = None
    """Where no setting keeps every limit: one that breaks only limits that are not firm."""

    @property
    def lab_runs(self) -> tuple[Observation, ...]:
        """Return the runs on the lab press."""
        return tuple(seen for seen in self.observations if seen.run.press == "lab")

    @property
    def tested(self) -> float:
        """Return the highest pressure in MPa that any run was pressed at, 0 without runs."""
        return max((seen.pressure for seen in self.observations), default=0.0)

    def equivalent(self, match: str) -> Equivalent | None:
        """Return the equivalent of a match if it has settings."""
        for item in self.equivalents:
            if item.match == match and item.point is not None:
                return item
        return None

    @property
    def dialled(self) -> tuple[Equivalent, ...]:
        """Return the equivalents at the asked speed that have settings."""
        return tuple(
            item for item in self.equivalents if item.point is not None and item.match != "dwell"
        )


Finder = Callable[[Case], Iterable[Risk]]
FINDERS: list[Finder] = []
STANDING: list[Finder] = []
"""Those whose findings can decide the answer whatever force and speed are set."""


def risk(finder: Finder) -> Finder:
    """Return the same function, registered to look at a case and yield the risks it finds."""
    FINDERS.append(finder)
    return finder


def stands(finder: Finder) -> Finder:
    """Return the same finder, marked as one whose severe findings can decide the answer."""
    STANDING.append(finder)
    return finder


def all_risks(case: Case) -> tuple[Risk, ...]:
    """Return the risks of a case, worst first."""
    _look_for_finders()
    return worst_first(item for finder in FINDERS for item in finder(case))


def standing_risks(case: Case) -> tuple[Risk, ...]:
    """Return the risks that can decide the answer, worst first; no pulse is solved for them."""
    _look_for_finders()
    return worst_first(item for finder in STANDING for item in finder(case))


def worst_first(found: Iterable[Risk]) -> tuple[Risk, ...]:
    """Return risks in the order they are told in."""
    return tuple(sorted(found, key=lambda item: (ORDER[item.severity], -item.size, item.code)))


def _look_for_finders() -> None:
    package = import_module("scaleup.transfer.risks")
    for module in sorted(info.name for info in pkgutil.iter_modules(package.__path__)):
        import_module(f"scaleup.transfer.risks.{module}")
