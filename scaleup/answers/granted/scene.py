"""What the rules look at, and the ways in which they ask a question again."""

from __future__ import annotations

from collections.abc import Callable, Iterator
from dataclasses import dataclass, replace

from scaleup.answers.assumed import Granted
from scaleup.calibration.fit import Fit
from scaleup.model.study import ProductionSide, Study
from scaleup.transfer.limits import Limit
from scaleup.transfer.line import Line
from scaleup.transfer.question import LabCase, Question, with_line


@dataclass(frozen=True)
class Scene:
    """Everything a rule looks at."""

    case: LabCase
    production: ProductionSide
    confidence_stated: bool
    """Whether study or caller state the confidence."""

    @property
    def study(self) -> Study:
        """Return the study."""
        return self.case.study

    @property
    def fit(self) -> Fit | None:
        """Return the fit, if the runs allow one."""
        return self.case.fit if isinstance(self.case.fit, Fit) else None


Rule = Callable[[Scene], Iterator[Granted]]
Asked = tuple[LabCase, Question]


def limited(*limits: Limit, without: str = "") -> Callable[[LabCase, Question], Asked]:
    """Return the question with more limits, or without those of some code."""

    def asked_again(case: LabCase, asked: Question) -> Asked:
        kept = [each for each in asked.limits if not without or not each.code.startswith(without)]
        return case, replace(asked, limits=(*kept, *limits))

    return asked_again


def on_line(change: Callable[[Line], Line]) -> Callable[[LabCase, Question], Asked]:
    """Return the question about a line that a change leaves the map of as it is."""
    return lambda case, asked: (case, with_line(asked, asked.line.with_map(change(asked.line))))
