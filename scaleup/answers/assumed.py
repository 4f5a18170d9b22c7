"""What an answer takes for granted, and whether another sensible value would change it.

Every value that no input states is asked about again with another sensible one: on the same draws
where the fit stays as it is, else with the runs fitted again in fewer draws, of which the answer
with the value taken is worked out as well, so that like is compared with like.
"""

from __future__ import annotations

from collections.abc import Callable, Iterable
from dataclasses import dataclass, replace
from functools import cached_property
from typing import Literal

import numpy as np

from scaleup.calibration.calibrated_study import calibrated
from scaleup.calibration.fit import Drawing, NoFit
from scaleup.errors import InputError
from scaleup.model.study import ProductionSide, Study
from scaleup.sentence import Words, joined
from scaleup.transfer.about import About
from scaleup.transfer.case import TransferCase, transfer_case
from scaleup.transfer.draws import draws_needed
from scaleup.transfer.outcomes import NO_EVIDENCE, Outcome

Origin = Literal["default", "missing"]
Change = Callable[[TransferCase], TransferCase]
FEWER_DRAWS = 200
"""Draws with which the runs are fitted, or pulses solved, again for a value that they rest on."""


@dataclass(frozen=True)
class Assumed:
    """One value that no input states and the program supplied.

    Examples
    --------
    >>> Assumed("target.confidence", "90 %", "default", decides=False, instead="80 %, 95 %").key
    'target.confidence'
    """

    key: str
    """The key of study or profile, or the column of the run table, that would state it."""
    value: Words
    origin: Origin
    """`default`: the program has a value; `missing`: there is none, and what it would tell is left
    out."""
    decides: bool
    """Whether another sensible value would change the answer."""
    instead: Words
    """With what the answer was asked again; empty where nothing hangs on it."""
    about: About = ""
    """Which input is lacking, where a risk or a gap would tell the same."""


@dataclass(frozen=True)
class Other:
    """Another sensible value: the same case with it, or the study with it, to be refitted."""

    told: Words
    change: Change | None = None
    """The case with it, on the same draws."""
    solves: bool = False
    """Whether the change takes pulses solved anew: it is then asked about with fewer draws."""
    study: Callable[[Study], Study] | None = None
    """The study with it, whose runs are fitted again."""
    screen: Change | None = None
    """More than what it moves, on the same draws: where that changes nothing, the runs need not be
    fitted again."""


@dataclass(frozen=True)
class Granted:
    """One value taken for granted, with other sensible ones."""

    key: str
    value: Words
    origin: Origin
    others: tuple[Other, ...] = ()
    about: About = ""


Kept = dict[tuple[ProductionSide, str, str], TransferCase | None]
"""Cases with runs fitted or pulses solved again, by press, key and value; None without a fit."""


@dataclass(frozen=True)
class _Asking:
    """A case with its answer, to be asked again."""

    case: TransferCase
    outcome: Outcome
    kept: Kept

    @cached_property
    def answer(self) -> str:
        """Return the answer with what was taken for granted."""
        return self.outcome(self.case)

    @cached_property
    def refitted_answer(self) -> str:
        """Return the same with the runs fitted in fewer draws."""
        return self._of(self._again("", "", lambda: self._refitted(self.case.study)))

    def changed_by(self, key: str, other: Other) -> bool:
        """Return whether another value of a key changes the answer."""
        change, study = other.change, other.study
        if change is not None and other.solves:
            solved = self._again(key, str(other.told), lambda: change(self._thinned))
            return self._of(solved) != self._thinned_answer
        if change is not None:
            return self.outcome(change(self.case)) != self.answer
        if study is None:
            return False
        if other.screen is not None and self.outcome(other.screen(self.case)) == self.answer:
            return False
        try:
            refitted = self._again(
                key, str(other.told), lambda: self._refitted(study(self.case.study))
            )
        except InputError:  # a value that the runs cannot have is not a sensible one
            return False
        return self._of(refitted) != self.refitted_answer

    def _again(
        self, key: str, told: str, made: Callable[[], TransferCase | None]
    ) -> TransferCase | None:
        """Return a case that was fitted or solved again, at the asked speed; None without a fit."""
        place = self.case.production, key, told
        if place not in self.kept:
            self.kept[place] = made()
        case = self.kept[place]
        return None if case is None else case.at(self.case.speed, self.case.confidence)

    def _of(self, case: TransferCase | None) -> str:
        return NO_EVIDENCE if case is None else self.outcome(case)

    @property
    def _fewer(self) -> int:
        """Return the number of draws that is enough to ask again."""
        enough = max(FEWER_DRAWS, draws_needed(self.case.confidence))
        return min(self.case.calibrated.drawing.draws, enough)

    @cached_property
    def _thinned(self) -> TransferCase:
        """Return the case with evenly many of its draws."""
        every = np.linspace(0, self.case.calibrated.drawing.draws - 1, self._fewer)
        return self.case.with_process(self.case.process.chosen(every.astype(np.intp)))

    @cached_property
    def _thinned_answer(self) -> str:
        return self.outcome(self._thinned)

    def _refitted(self, study: Study) -> TransferCase | None:
        """Return the case with the runs of a study fitted in fewer draws; None without a fit."""
        lab = calibrated(study, Drawing(self._fewer, self.case.calibrated.drawing.seed))
        if isinstance(lab.fit, NoFit):
            return None
        return transfer_case(lab, self.case.speed, self.case.confidence)


def assumed(
    granted: Iterable[Granted], case: TransferCase, outcome: Outcome, kept: Kept | None = None
) -> tuple[Assumed, ...]:
    """Return what was taken for granted, what decides first.

    Where the runs allow no fit, nothing that is taken for granted decides. `kept` is filled with
    what was fitted or solved again, for the next question.
    """
    asking = None if case.fitted is None else _Asking(case, outcome, {} if kept is None else kept)
    taken = [
        Assumed(
            each.key,
            each.value,
            each.origin,
            asking is not None and any(asking.changed_by(each.key, other) for other in each.others),
            joined(", ", (other.told for other in each.others)),
            each.about,
        )
        for each in granted
    ]
    return tuple(sorted(taken, key=lambda each: not each.decides))


def merged(answers: Iterable[tuple[Assumed, ...]]) -> tuple[Assumed, ...]:
    """Return what several answers take for granted, each once; it decides if it does for any."""
    every: dict[tuple[str, str], Assumed] = {}
    for one in answers:
        for each in one:
            what = each.key, str(each.value)
            known = every.setdefault(what, each)
            if each.decides and not known.decides:
                every[what] = replace(known, decides=True)
    return tuple(
        every[what] for what in sorted(every, key=lambda key: (not every[key].decides, key))
    )
