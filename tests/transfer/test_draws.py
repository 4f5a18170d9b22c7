"""A sample of draws is no certainty: what it can tell, and what is refused."""

from __future__ import annotations

from collections.abc import Callable

import pytest

from scaleup import compare, judge, translate
from scaleup.answers.functions import check_speed, operating_window, plan_trial
from scaleup.errors import InputError
from scaleup.io.library import find_press, rotary_profile
from scaleup.model.study import Study
from scaleup.transfer.draws import draws_needed, require_draws
from scaleup.wording import least_share, of_draws, percent_of_draws

Change = Callable[..., Study]


@pytest.mark.parametrize(
    ("confidence", "draws"), [(0.9, 100), (0.95, 200), (0.99, 1000), (0.9999, 100_000)]
)
def test_ten_draws_lie_beyond_a_confidence(confidence: float, draws: int) -> None:
    assert draws_needed(confidence) == draws
    require_draws(confidence, draws)
    with pytest.raises(InputError, match=f"It takes {draws:,} draws"):
        require_draws(confidence, draws - 1)


@pytest.mark.parametrize("draws", [200, 300, 4000, 200_000])
def test_the_bound_is_where_no_draw_fails_once_in_twenty_times(draws: int) -> None:
    bound = least_share(draws)
    assert bound**draws == pytest.approx(0.05)
    assert 1.0 - bound == pytest.approx(3.0 / draws, rel=0.02)


ANSWERS: dict[str, Callable[[Study], object]] = {
    "translate": lambda study: translate(study, confidence=0.9999, draws=200),
    "judge": lambda study: judge(study, confidence=0.9999, draws=200),
    "speed": lambda study: check_speed(study, confidence=0.9999, draws=200),
    "window": lambda study: operating_window(study, confidence=0.9999, draws=200, cells=(4, 4)),
    "compare": lambda study: compare(
        study, [rotary_profile(find_press("rotary-mid-19"))], confidence=0.9999, draws=200
    ),
    "plan": lambda study: plan_trial(study, confidence=0.9999, draws=200),
}


@pytest.mark.parametrize("answer", ANSWERS.values(), ids=ANSWERS)
def test_every_answer_refuses_a_confidence_its_draws_cannot_tell(
    answer: Callable[[Study], object], marram: Study
) -> None:
    with pytest.raises(InputError, match=r"99\.99 % with 200 draws.*at most 95 %.*100,000 draws"):
        answer(marram)


def test_a_confidence_of_the_study_is_held_against_the_draws(
    marram: Study, changed: Change
) -> None:
    sure = changed(marram, target={"confidence": 0.97})
    with pytest.raises(InputError, match="It takes 334 draws"):
        translate(sure, draws=300)
    assert translate(sure, draws=334).confidence == 0.97


def test_all_of_the_draws_are_a_bound_and_more_draws_a_higher_one() -> None:
    told = [percent_of_draws(1.0, draws) for draws in (200, 1000, 4000)]
    assert told == ["above 98.5 %", "above 99.7 %", "above 99.9 %"]
    assert of_draws(1.0, 4000) == "all 4,000 draws (above 99.9 %)"
    assert of_draws(0.0, 4000) == "none of 4,000 draws (below 0.1 %)"


@pytest.mark.parametrize("draws", [200, 777, 4000, 200_000])
def test_no_share_of_draws_is_told_as_all_or_nothing(draws: int) -> None:
    for kept in {0, 1, 2, draws // 2, draws - 2, draws - 1, draws}:
        told = percent_of_draws(kept / draws, draws)
        assert told not in {"100 %", "100.0 %", "0 %", "0.0 %"}
        assert not told.startswith("above 100")


def test_a_figure_that_is_set_is_not_counted_in_draws(marram: Study) -> None:
    point = check_speed(marram, draws=200).point
    assert point is not None
    cells = {each.limit.code: each.kept_by for each in point.at_lab_pressure.margins}
    assert cells["main-roller"] == "always"
    assert cells["solid-fraction-low"] == "above 98.5 %"
