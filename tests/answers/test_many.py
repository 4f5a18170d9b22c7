"""Many studies by many presses: the same rows on any executor."""

from __future__ import annotations

from collections.abc import Callable
from concurrent.futures import Future, ProcessPoolExecutor, ThreadPoolExecutor
from dataclasses import replace
from multiprocessing import get_context
from pathlib import Path
from typing import Any

import pytest
from distributed import Client, LocalCluster

from scaleup.answers.functions import compare
from scaleup.answers.many import ManyRow, as_they_come, compare_many, rows_of, work_of
from scaleup.errors import InputError
from scaleup.io.library import presses_taking
from scaleup.io.study import read_study

pytestmark = pytest.mark.slow

EXAMPLES = Path(__file__).parents[2] / "examples"
STUDIES = [EXAMPLES / "marram", EXAMPLES / "sedge"]
PRESSES = ["rotary-mid-19", "rotary-single-31"]


class OneAfterTheOther:
    """The manners of an executor, and nothing else."""

    def submit(self, function: Callable[..., Any], /, *arguments: Any) -> Future[Any]:
        future: Future[Any] = Future()
        future.set_result(function(*arguments))
        return future


@pytest.fixture(scope="module")
def rows() -> list[ManyRow]:
    return list(compare_many(STUDIES, PRESSES, draws=300))


def test_rows_are_those_of_comparing_one_by_one(rows: list[ManyRow]) -> None:
    assert [row.study for row in rows] == [study for study in STUDIES for _ in PRESSES]
    study = read_study(STUDIES[0])
    presses = [each for each in presses_taking("B") if each.id in PRESSES]
    alone = compare(study, presses, draws=300)
    for row, found in zip(rows[:2], alone.candidates, strict=True):
        assert row.press == found.production.press.id
        assert row.holds == found.holds
        assert row.speed == found.speed.value
        assert row.output == found.output.value
    assert not any(row.holds for row in rows[2:])


def test_any_executor_gives_the_same(rows: list[ManyRow]) -> None:
    assert list(compare_many(STUDIES, PRESSES, draws=300, executor=OneAfterTheOther())) == rows
    with ThreadPoolExecutor(2) as pool:
        assert list(compare_many(STUDIES, PRESSES, draws=300, executor=pool)) == rows
    with ProcessPoolExecutor(2, mp_context=get_context("spawn")) as pool:
        assert list(compare_many(STUDIES, PRESSES, draws=300, executor=pool)) == rows


def test_a_cluster_gives_the_same(rows: list[ManyRow]) -> None:
    with (
        LocalCluster(  # type: ignore[no-untyped-call]
            n_workers=2, threads_per_worker=1, dashboard_address=None
        ) as cluster,
        Client(cluster) as client,  # type: ignore[no-untyped-call]
    ):
        assert list(compare_many(STUDIES, PRESSES, draws=300, executor=client)) == rows


def test_a_study_at_fault_is_a_row_and_the_others_go_on(tmp_path: Path) -> None:
    found = list(compare_many([tmp_path, STUDIES[0]], PRESSES[:1], draws=300))
    assert [row.press for row in found] == ["", "rotary-mid-19"]
    assert "no such file" in found[0].reason
    unknown = list(compare_many(STUDIES[:1], ["rotary-none"], draws=300))
    assert len(unknown) == 1
    assert "rotary-none" in unknown[0].reason


def test_without_presses_it_is_all_that_take_the_tooling() -> None:
    found = list(compare_many(STUDIES[:1], draws=300))
    assert {row.press for row in found} == {each.id for each in presses_taking("B")}


def test_studies_and_presses_are_given_as_objects_too(rows: list[ManyRow]) -> None:
    studies = [read_study(path) for path in STUDIES]
    presses = [each for each in presses_taking("B") if each.id in PRESSES]
    found = list(compare_many(studies, presses, draws=300))
    assert [row.study for row in found] == [study.name for study in studies for _ in PRESSES]
    assert [replace(row, study="") for row in found] == [replace(row, study="") for row in rows]
    with ProcessPoolExecutor(1, mp_context=get_context("spawn")) as pool:
        assert list(compare_many(studies, presses, draws=300, executor=pool)) == found


def test_rows_come_as_studies_are_done() -> None:
    work = work_of(STUDIES, PRESSES[:1], draws=200)
    late: Future[tuple[ManyRow, ...]] = Future()

    class Backwards:
        """Ends the first study last."""

        def submit(self, function: Callable[..., Any], /, *arguments: Any) -> Future[Any]:
            if arguments[0] is work[0]:
                return late
            future: Future[Any] = Future()
            future.set_result(function(*arguments))
            return future

    coming = as_they_come(work, Backwards())
    assert next(coming)[0].study == STUDIES[1]
    late.set_result(rows_of(work[0]))
    assert next(coming)[0].study == STUDIES[0]


@pytest.mark.parametrize(
    ("asked", "told"),
    [
        ((["examples/marram"], [3]), "presses: found 3; allowed: an id or a profile"),
        (([3], []), "studies: found 3; allowed: a folder or a study"),
        (("examples/marram", []), "studies: found"),
    ],
)
def test_what_is_neither_is_refused_at_once(asked: Any, told: str) -> None:
    with pytest.raises(InputError, match=told):
        compare_many(*asked)
