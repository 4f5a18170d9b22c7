"""Many studies by many presses: the same rows on any executor."""

from __future__ import annotations

from collections.abc import Callable
from concurrent.futures import Future, ProcessPoolExecutor, ThreadPoolExecutor
from multiprocessing import get_context
from pathlib import Path
from typing import Any

import pytest
from distributed import Client, LocalCluster

from scaleup.answers.functions import compare
from scaleup.answers.many import ManyRow, compare_many
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
