"""Many studies by many presses, on as many workers as the caller has."""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from dataclasses import dataclass
from os import PathLike
from pathlib import Path
from typing import Any, Protocol

from scaleup.answers.comparison import Candidate
from scaleup.answers.functions import compare
from scaleup.calibration.arguments import drawing_faults, shown
from scaleup.errors import Fault, InputError
from scaleup.io.study import read_study


class Executor(Protocol):
    """What hands out work: an executor of `concurrent.futures`, or a client of the same manners."""

    def submit(self, function: Any, /, *arguments: Any) -> Any:
        """Return a future, whose ``result()`` is what the function returns."""
        ...


@dataclass(frozen=True)
class ManyRow:
    """One study on one press: the fastest speed that keeps every limit, or why there is none."""

    study: Path
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


def compare_many(
    studies: Sequence[str | PathLike[str]],
    presses: Sequence[str] = (),
    *,
    executor: Executor | None = None,
    confidence: float | None = None,
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
        Folders of studies.
    presses
        Ids of rotary presses; every press that takes the study's tooling if empty.
    executor
        Anything with ``submit(function, *arguments)`` that returns a future; the caller's own
        process, one study after the other, if absent. So that cores add up, let the linear algebra
        of each worker have one thread (``OPENBLAS_NUM_THREADS=1`` in its environment).
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
    _check_lists(studies, presses)
    faults = drawing_faults(confidence, draws, seed)
    if faults:
        raise InputError(faults)
    work = [(Path(path), tuple(presses), confidence, draws, seed, as_given) for path in studies]
    return _asked_of_all(work, executor)


def _check_lists(studies: object, presses: object) -> None:
    for name, given in (("studies", studies), ("presses", presses)):
        if isinstance(given, str) or not isinstance(given, Sequence):
            raise InputError(Fault("", name, shown(given), f"a list of {name}"))


Work = tuple[Path, tuple[str, ...], float | None, int, int, bool]


def _asked_of_all(work: list[Work], executor: Executor | None) -> Iterator[ManyRow]:
    if executor is None:
        for each in work:
            yield from _rows(*each)
        return
    futures = [executor.submit(_rows, *each) for each in work]
    for future in futures:
        yield from future.result()


def _rows(
    path: Path,
    presses: tuple[str, ...],
    confidence: float | None,
    draws: int,
    seed: int,
    as_given: bool,
) -> tuple[ManyRow, ...]:
    """Return the rows of one study."""
    try:
        study = read_study(path).confirmed(as_given)
        found = compare(study, presses, confidence=confidence, draws=draws, seed=seed)
    except InputError as error:
        return (ManyRow(path, "", False, None, None, None, str(error)),)
    return (
        *[_row(path, each) for each in found.candidates],
        *[ManyRow(path, each.id, False, None, None, None, each.reason) for each in found.at_fault],
    )


def _row(path: Path, found: Candidate) -> ManyRow:
    force = None if found.held is None else found.held.force.value
    press = found.production.press.id
    return ManyRow(
        path, press, found.holds, found.speed.value, force, found.output.value, str(found.reason)
    )
