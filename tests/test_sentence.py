"""A sentence is its facts: told in the units of the moment, joined, compared by what it says."""

from __future__ import annotations

import pickle

import pytest

from scaleup.answers.functions import check_speed
from scaleup.model.study import Study
from scaleup.sentence import Fact, Sentence, facts_of, joined, share_of_draws
from scaleup.units_shown import UnitShown, shown_in

KGF = {"N": [UnitShown("kgf", 1.0 / 9.80665)]}


def test_one_answer_is_told_in_the_units_of_the_moment(marram: Study) -> None:
    """Nothing is computed again: the very same reason is read in two units."""
    reason = check_speed(marram, draws=200).reasons[0]
    assert isinstance(reason, Sentence)
    usual = str(reason)
    with shown_in(KGF):
        shown = str(reason)
    force = reason.facts["force"]
    assert isinstance(force, Fact)
    assert f"{force.value / 1e3:.0f} kN" in usual
    assert f"{round(force.value / 9.80665, -1):.0f} kgf" in shown
    assert "kN" not in shown
    assert str(reason) == usual


@pytest.mark.parametrize(
    ("how", "told"),
    [
        ("", "12.3 kN"), ("2", "12 kN"), ("down", "12.3 kN"), ("up", "12.4 kN"),
        ("2 up", "13 kN"), (".1f", "12345.6"),
    ],
)  # fmt: skip
def test_the_template_says_how_a_number_is_told(how: str, told: str) -> None:
    assert Sentence(f"{{force:{how}}}", force=Fact(12345.6, "N")) == told


def test_shares_counts_and_what_is_not_known() -> None:
    half = share_of_draws(0.5, 400)
    told = Sentence("{half:capital}; {half:%}; {n} runs; {x}", half=half, n=1234, x=float("nan"))
    assert told == "50 % of the draws; 50 %; 1234 runs; not known"
    assert Sentence("{all:capital}", all=share_of_draws(1.0, 400)).startswith("All 400 draws")


def test_braces_in_words_and_joined_texts_are_only_braces() -> None:
    whole = joined("; ", ["a {b}", Sentence("{name}", name="{c}")])
    assert whole == "a {b}; {c}"
    assert whole + " {d}" == "a {b}; {c} {d}"


def test_facts_of_joined_sentences_keep_their_names_and_none_is_lost() -> None:
    low, high = (Sentence("{force}", force=Fact(each, "N")) for each in (1.0, 2.0))
    assert joined(" to ", (low, high)).facts == {"force": Fact(1.0, "N"), "force_2": Fact(2.0, "N")}
    assert facts_of(low, "no fact", low) == {"force": Fact(1.0, "N")}
    untold = Sentence("too few runs", runs=2)
    assert untold == "too few runs"
    assert untold.facts == {"runs": Fact(2)}


def test_sentences_that_say_the_same_are_one() -> None:
    first, second = (Sentence("{p}", p=Fact(value, "MPa")) for value in (150.01, 150.02))
    assert first == second == "150 MPa"
    assert len({first, second, "150 MPa"}) == 1
    assert not Sentence("{none}", none="")
    assert pickle.loads(pickle.dumps(first)) == first  # noqa: S301  its own bytes
