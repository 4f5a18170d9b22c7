"""Many studies by many presses, on as many workers as the caller has."""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from dataclasses import dataclass, replace
from hashlib import sha256
from os import PathLike
from pathlib import Path
from queue import SimpleQueue
from typing import Any, Protocol

import numpy as np

from scaleup.answers.comparison import Candidate, Press
from scaleup.answers.functions import compare
from scaleup.calibration.arguments import drawing_faults, shown
from scaleup.errors import Fault, InputError
from scaleup.io.given import Number, in_unit
from scaleup.io.study import read_study
from scaleup.model.profile import NamedProfile
from scaleup.model.study import Study


class Executor(Protocol):
    """What hands out work: an executor of `concurrent.futures`, or a client of the same manners."""

    def submit(self, function: Any, /, *arguments: Any) -> Any:
        """Return a future, whose ``result()`` is what the function returns."""
        ...


@dataclass(frozen=True)
class ManyRow:
    """One study on one press: the fastest speed that keeps every limit, or why there is none.

    Examples
    --------
    >>> from scaleup import compare_many
    >>> row = next(compare_many(["examples/marram"], ["rotary-mid-19"], draws=200))
    >>> row.answer, row.output, row.rank, row.of
    ('yes', 85500.0, 1, 1)
    """

    study: Path | str
    """Its folder, or the name of a study that was given as an object."""
    press: str
    """Id of the press; "" where the study itself is at fault."""
    holds: bool
    speed: float | None
    """rpm; None where nothing can be computed."""
    force: float | None
    """Main force in N that holds there, or comes closest."""
    output: float | None
    """Tablets per hour."""
    reason: str
    """Why not, or why not first."""
    answer: str = "at fault"
    """`yes`, `yes with changes`, `no` or `not enough evidence`; of no profile or study at fault."""
    rank: int | None = None
    """Place of the press, 1 the best; None if it or the study is at fault."""
    of: int = 1
    """How many rows the study has."""
    inputs: str = ""
    """Digest of all that was read of the study; "" where the study is at fault."""


AnyStudy = str | PathLike[str] | Study


@dataclass(frozen=True)
class Work:
    """What is asked of one study."""

    study: Path | Study
    presses: tuple[str | Press, ...]
    tooling: str | None
    confidence: float | None
    draws: int
    seed: int
    as_given: bool

    @property
    def name(self) -> Path | str:
        """Return what the rows call the study."""
        return self.study.name if isinstance(self.study, Study) else self.study

    def read(self) -> Study:
        """Return the study.

        Raises
        ------
        InputError
            If it is at fault.
        """
        if isinstance(self.study, Study):
            return self.study.confirmed(self.as_given)
        return read_study(self.study, None, self.tooling).confirmed(self.as_given)


def compare_many(
    studies: Sequence[AnyStudy],
    presses: Sequence[str | Press] = (),
    *,
    executor: Executor | None = None,
    tooling: str | None = None,
    confidence: Number | None = None,
    draws: int = 4000,
    seed: int = 1,
    as_given: bool = False,
) -> Iterator[ManyRow]:
    """Yield every study on every press, study after study, best press first.

    A study is one piece of work: its runs are fitted once for all presses. A study at fault gives
    one row that says so, and the others go on; so does a press at fault beside others.

    Parameters
    ----------
    studies
        Folders of studies, or studies.
    presses
        Rotary presses by id or as profiles; every press that takes the study's tooling if empty.
    executor
        Anything with ``submit(function, *arguments)`` that returns a future; the caller's own
        process, one study after the other, if absent. So that cores add up, let the linear algebra
        of each worker have one thread (``OPENBLAS_NUM_THREADS=1`` in its environment).
    tooling
        Id of other production tooling, for studies given by their folder.
    confidence, draws, seed, as_given
        As in `scaleup.compare`.

    Raises
    ------
    InputError
        At once, if an argument is out of range.

    Examples
    --------
    >>> rows = list(compare_many(["examples/marram"], ["rotary-mid-19"], draws=300))
    >>> rows[0].press, rows[0].holds
    ('rotary-mid-19', True)
    """
    work = work_of(
        studies, presses, tooling=tooling, confidence=confidence, draws=draws, seed=seed,
        as_given=as_given,
    )  # fmt: skip
    return (row for rows in _in_order(work, executor) for row in rows)


def work_of(
    studies: Sequence[AnyStudy],
    presses: Sequence[str | Press] = (),
    *,
    tooling: str | None = None,
    confidence: Number | None = None,
    draws: int = 4000,
    seed: int = 1,
    as_given: bool = False,
) -> list[Work]:
    """Return what is asked of each study.

    Raises
    ------
    InputError
        If an argument is out of range.
    """
    faults = [*_list_faults(studies, presses), *drawing_faults(confidence, draws, seed)]
    if faults:
        raise InputError(faults)
    share = in_unit("confidence", confidence, "1")
    return [
        Work(
            each if isinstance(each, Study) else Path(each), tuple(presses), tooling, share, draws,
            seed, as_given,
        )
        for each in studies
    ]  # fmt: skip


def _list_faults(studies: object, presses: object) -> Iterator[Fault]:
    kinds: dict[str, tuple[object, Any, str]] = {
        "studies": (studies, str | PathLike | Study, "a folder or a study"),
        "presses": (presses, str | NamedProfile, "an id or a profile"),
    }
    for name, (given, kind, one) in kinds.items():
        if isinstance(given, str) or not isinstance(given, Sequence):
            yield Fault("", name, shown(given), f"a list of {name}")
        else:
            wrong = [each for each in given if not isinstance(each, kind)]
            yield from (Fault("", name, shown(each), one) for each in wrong)


def _in_order(work: list[Work], executor: Executor | None) -> Iterator[tuple[ManyRow, ...]]:
    if executor is None:
        yield from map(rows_of, work)
        return
    futures = [executor.submit(rows_of, each) for each in work]
    for future in futures:
        yield future.result()


def as_they_come(work: list[Work], executor: Executor | None) -> Iterator[tuple[ManyRow, ...]]:
    """Yield the rows of each study as they come; a future has ``add_done_callback`` too."""
    if executor is None:
        yield from map(rows_of, work)
        return
    done: SimpleQueue[Any] = SimpleQueue()
    futures = [executor.submit(rows_of, each) for each in work]
    for future in futures:
        future.add_done_callback(done.put)
    for _ in futures:
        yield done.get().result()


def rows_of(work: Work) -> tuple[ManyRow, ...]:
    """Return the rows of one study; where it is at fault, the one row that says why."""
    try:
        study = work.read()
        comparison = compare(
            study, work.presses, confidence=work.confidence, draws=work.draws, seed=work.seed
        )
    except (InputError, ArithmeticError, np.linalg.LinAlgError, OSError) as error:
        told = f"the calculation failed: {error}"
        if isinstance(error, InputError):
            told = "; ".join(map(str, error.faults))
        return (_at_fault(work.name, "", told),)
    rows = [_row(work.name, rank, each) for rank, each in enumerate(comparison.candidates, start=1)]
    rows += [_at_fault(work.name, each.id, str(each.reason)) for each in comparison.at_fault]
    digest = inputs_digest(study)
    return tuple(replace(row, of=len(rows), inputs=digest) for row in rows)


def inputs_digest(study: Study) -> str:
    """Return one digest of every file a study was read from."""
    told = "\n".join(f"{file} {digest}" for file, digest in study.inputs)
    return sha256(told.encode()).hexdigest()[:16]


def _at_fault(name: Path | str, press: str, reason: str) -> ManyRow:
    return ManyRow(name, press, False, None, None, None, reason)


def _row(name: Path | str, rank: int, candidate: Candidate) -> ManyRow:
    force = None if candidate.set_point is None else candidate.set_point.force.value
    return ManyRow(
        name, candidate.production.press.id, candidate.holds, candidate.speed.value, force,
        candidate.output.value, str(candidate.reason), candidate.answer, rank,
    )  # fmt: skip
