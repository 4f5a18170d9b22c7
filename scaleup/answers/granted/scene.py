"""What the rules look at, and the ways in which they ask about a case again."""

from __future__ import annotations

from collections.abc import Callable, Iterator
from dataclasses import dataclass

from scaleup.answers.assumed import Change, Granted
from scaleup.calibration.calibrated_study import CalibratedStudy
from scaleup.calibration.fit import Fit
from scaleup.model.study import ProductionSide, Study
from scaleup.transfer.case import TransferCase
from scaleup.transfer.limits import Limit
from scaleup.transfer.process_model import ProcessModel


@dataclass(frozen=True)
class Scene:
    """Everything a rule looks at."""

    calibrated: CalibratedStudy
    confidence_stated: bool
    """Whether study or caller state the confidence."""

    @property
    def study(self) -> Study:
        """Return the study."""
        return self.calibrated.study

    @property
    def production(self) -> ProductionSide:
        """Return the press asked about."""
        return self.calibrated.study.production

    @property
    def fit(self) -> Fit | None:
        """Return the fit, if the runs allow one."""
        return self.calibrated.fit if isinstance(self.calibrated.fit, Fit) else None


Rule = Callable[[Scene], Iterator[Granted]]


def limited(*limits: Limit, without: str = "") -> Change:
    """Return what gives a case more limits, or takes those of some code away."""

    def change(case: TransferCase) -> TransferCase:
        kept = [each for each in case.limits if not without or not each.code.startswith(without)]
        return case.limited_to((*kept, *limits))

    return change


def on_process(change: Callable[[ProcessModel], ProcessModel]) -> Change:
    """Return what changes the model of a press in a way that leaves its map as it is."""
    return lambda case: case.with_process(case.process.with_map(change(case.process)))
