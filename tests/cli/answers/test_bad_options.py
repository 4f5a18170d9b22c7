"""Options at fault: one line for each fault, status 2, no traceback, no table written."""

from __future__ import annotations

from collections.abc import Callable
from pathlib import Path

import pytest

EXAMPLES = Path(__file__).parents[3] / "examples"
Refused = Callable[..., str]
Altered = Callable[..., Path]

MARRAM, FESCUE = EXAMPLES / "marram", EXAMPLES / "fescue"
BACK = ("translate", FESCUE, "--from-production")
VERBS = ("speed", "window", "compare", "judge")
ONE_PRESS = ("speed", "window", "judge")
Words = tuple[str | Path, ...]

COMMON: dict[str, tuple[Words, str]] = {
    "too few draws": (("--draws", "5"), "--draws: found 5; allowed: 200 to 200000"),
    "too many draws": (("--draws", "200001"), "--draws: found 200001"),
    "negative seed": (("--seed", "-1"), "--seed: found -1"),
}
CONFIDENCE: dict[str, tuple[Words, str]] = {
    "a guess": (("--confidence", "40 %"), "--confidence: found 40 %; allowed: 50 % to 99.99 %"),
    "sure as death": (("--confidence", "100 %"), "--confidence: found 100 %"),
    "confidence in kN": (("--confidence", "90 kN"), '--confidence: found the unit "kN"'),
    "confidence in words": (("--confidence", "high"), '--confidence: found "high"'),
}


@pytest.mark.parametrize("verb", [*VERBS, "back"])
@pytest.mark.parametrize("case", COMMON)
def test_draws_and_seed_out_of_range_are_told(refused: Refused, verb: str, case: str) -> None:
    words, said = COMMON[case]
    start: Words = (*BACK, "--run", "P2") if verb == "back" else (verb, MARRAM)
    assert said in refused(*start, *words)


@pytest.mark.parametrize("verb", VERBS)
@pytest.mark.parametrize("case", CONFIDENCE)
def test_a_confidence_that_is_none_is_told(refused: Refused, verb: str, case: str) -> None:
    words, said = CONFIDENCE[case]
    assert said in refused(verb, MARRAM, *words)


@pytest.mark.parametrize("verb", [*VERBS, "back"])
def test_a_study_that_is_not_there_is_told(refused: Refused, verb: str, tmp_path: Path) -> None:
    study = tmp_path / "nowhere"
    words: Words = ("translate", study, "--from-production") if verb == "back" else (verb, study)
    assert f"{study}: found no such file" in refused(*words)


@pytest.mark.parametrize("verb", VERBS)
def test_an_unknown_press_or_tooling_names_the_nearest(refused: Refused, verb: str) -> None:
    told = refused(verb, MARRAM, "--to", "rotary-mid")
    assert 'found the unknown press "rotary-mid"' in told
    assert "Did you mean rotary-mid-19" in told
    told = refused(verb, MARRAM, "--tooling", "b-flat-11")
    assert 'found the unknown tooling "b-flat-11"' in told
    assert "Did you mean b-flat-10" in told


@pytest.mark.parametrize("verb", VERBS)
def test_a_press_that_does_not_take_the_tooling_names_both_ways_out(
    refused: Refused, verb: str
) -> None:
    told = refused(verb, MARRAM, "--to", "rotary-large-23")
    assert told.startswith("scaleup: --to: found rotary-large-23, which takes tooling D")
    takers = ("rotary-double-53", "rotary-mid-19", "rotary-pilot-7", "rotary-single-31")
    for name in (*takers, "rotary-stated-17", "d-elongated-19", "d-flat-16"):
        assert name in told.split("; allowed: ")[1]


@pytest.mark.parametrize("verb", ONE_PRESS)
def test_tooling_that_does_not_fit_the_press_names_both_ways_out(
    refused: Refused, verb: str
) -> None:
    told = refused(verb, MARRAM, "--tooling", "d-flat-16")
    assert told.startswith("scaleup: --tooling: found rotary-mid-19, which takes tooling B")
    for name in ("rotary-large-23", "b-convex-10", "b-flat-10"):
        assert name in told.split("; allowed: ")[1]


def test_tooling_that_no_rotary_press_takes_is_told_to_compare(refused: Refused) -> None:
    told = refused("compare", MARRAM, "--tooling", "lab-flat-10")
    assert "--tooling: found lab-flat-10, of standard lab" in told


@pytest.mark.parametrize("verb", VERBS)
def test_a_lab_press_is_no_production_press(refused: Refused, verb: str) -> None:
    told = refused(verb, MARRAM, "--to", "lab-hydraulic")
    assert "found lab-hydraulic, of kind hydraulic" in told
    assert "rotary-mid-19" in told
    assert "study.toml" not in told  # the option is at fault, not the study


@pytest.mark.parametrize(
    ("words", "nearest"),
    [
        (("speed", MARRAM, "--at", "95 rpm"), "75 rpm, 85500 tablets/h"),
        (("speed", MARRAM, "--at", "2 rpm"), "10 rpm, 11400 tablets/h"),
        (("speed", MARRAM, "--range", "5..60 rpm"), "10 rpm, 11400 tablets/h"),
        (("speed", MARRAM, "--range", "20..76 rpm"), "75 rpm, 85500 tablets/h"),
        (("speed", MARRAM, "--to", "rotary-double-53", "--at", "71 rpm"),
         "70 rpm, 445200 tablets/h"),
        (("window", MARRAM, "--speed", "95 rpm"), "75 rpm, 85500 tablets/h"),
        (("judge", MARRAM, "--speed", "9 rpm"), "10 rpm, 11400 tablets/h"),
        (("judge", MARRAM, "--to", "rotary-pilot-7", "--speed", "61 rpm"),
         "55 rpm, 23100 tablets/h"),
    ],
)  # fmt: skip
def test_a_speed_out_of_range_names_the_nearest(
    refused: Refused, words: Words, nearest: str
) -> None:
    assert f"The nearest is {nearest}" in refused(*words)


@pytest.mark.parametrize("option", ["--at", "--speed", "--range"])
@pytest.mark.parametrize("written", ["45", "45 kN", "fast", "", "nan rpm", "45,5 rpm", "0 rpm"])
def test_what_is_no_speed_is_told(refused: Refused, option: str, written: str) -> None:
    text = f"{written}..75 rpm" if option == "--range" and written else written
    if option == "--range" and written == "45":
        text = "45..75"
    verb = "judge" if option == "--speed" else "speed"
    assert refused(verb, MARRAM, option, text).startswith(f"scaleup: {option}: found ")


@pytest.mark.parametrize("written", ["45 rpm", "0.5 rev/s", "40000 turns/h", "40 strokes/min"])
def test_an_output_that_is_a_speed_is_told_to_use_at(refused: Refused, written: str) -> None:
    told = refused("speed", MARRAM, "--output", written)
    assert told.startswith(f'scaleup: --output: found "{written}", a speed')
    assert "Use --at for it." in told


@pytest.mark.parametrize(
    ("written", "said"),
    [
        ("200000/h", "200000 tablets/h, which takes 175 rpm; allowed: 10 to 75 rpm"),
        ("100 tablets/h", "100 tablets/h, which takes 0.0877 rpm; allowed: 10 to 75 rpm"),
        ("40000", "a number without a unit"),
        ("40 kN", 'the unit "kN"'),
        ("many/h", 'found "many/h"'),
        ("", 'found ""'),
        ("0/h", "--output: found 0 "),
        ("-40000/h", "--output: found -40000 "),
    ],
)
def test_an_output_the_press_cannot_make_is_told(refused: Refused, written: str, said: str) -> None:
    told = refused("speed", MARRAM, "--output", written)
    assert told.startswith("scaleup: --output: found ")
    assert said in told
    if "takes" in said:
        nearest = "75 rpm, 85500" if written == "200000/h" else "10 rpm, 11400"
        assert f"The nearest is {nearest} tablets/h." in told


def test_an_output_out_of_range_is_told_in_tablets(refused: Refused) -> None:
    assert "0 tablets/h" in refused("speed", MARRAM, "--output", "0/h")


def test_an_output_and_a_speed_at_once_are_one_too_many(refused: Refused) -> None:
    told = refused("speed", MARRAM, "--at", "45 rpm", "--output", "40000/h")
    assert told == "scaleup: --output: found both --at and --output; allowed: one of the two\n"


@pytest.mark.parametrize(
    "written",
    ["", "10", "10 rpm", "10-75 rpm", "10.75 rpm", "..75 rpm", "10..", "..", "75..10 rpm",
     "10..10 rpm", "75 rpm..10 rpm", "10..30..75 rpm"],
)  # fmt: skip
def test_a_malformed_range_is_shown_whole(refused: Refused, written: str) -> None:
    told = refused("speed", MARRAM, "--range", written)
    assert told.startswith(f'scaleup: --range: found "{written}"; allowed: two speeds')


@pytest.mark.parametrize("count", ["1", "0", "-3", "201"])
def test_a_curve_has_from_two_to_two_hundred_points(refused: Refused, count: str) -> None:
    told = refused("speed", MARRAM, "--range", "10..75 rpm", "--points", count)
    assert told == f"scaleup: --points: found {count}; allowed: 2 to 200\n"


@pytest.mark.parametrize(
    "written", ["60", "60x", "x24", "60*24", "-6x24", "60x24x3", "6.5x24", "many", "", "٦x٦"]
)
def test_malformed_cells_are_told(refused: Refused, written: str) -> None:
    told = refused("window", MARRAM, "--cells", written)
    assert told.startswith(f'scaleup: --cells: found "{written}"; allowed: speeds by forces')


@pytest.mark.parametrize(("written", "number"), [("3x24", "3"), ("60x501", "501"), ("0x0", "0")])
def test_too_few_or_too_many_cells_are_told(refused: Refused, written: str, number: str) -> None:
    told = refused("window", MARRAM, "--cells", written)
    assert told == f"scaleup: --cells: found {number}; allowed: 4 to 500\n"


def test_a_study_without_production_runs_cannot_be_taken_back(refused: Refused) -> None:
    told = refused("translate", MARRAM, "--from-production")
    assert told.startswith("scaleup: runs.csv: press: found no run on the production press")


@pytest.fixture
def quick(altered: Altered) -> Path:
    """Return the study with production runs, with too few lab runs for the time a fit takes."""
    return altered(
        "fescue",
        runs=lambda lines: [line for line in lines if line[:2] in {"ru", "F2", "P1", "P2"}],
    )


def test_the_name_of_the_run_is_asked_for_where_there_are_several(
    refused: Refused, quick: Path
) -> None:
    told = refused("translate", quick, "--from-production")
    assert told.startswith("scaleup: --run: found no name, and 2 production runs")
    assert told.endswith("allowed: one of P1, P2\n")


@pytest.mark.parametrize("run", ["P9", "F2"])
def test_an_unknown_production_run_names_those_there_are(
    refused: Refused, quick: Path, run: str
) -> None:
    told = refused("translate", quick, "--from-production", "--run", run)
    assert told.startswith(f'scaleup: --run: found the unknown run "{run}"')
    assert "P1, P2" in told


@pytest.mark.parametrize(
    "words",
    [("--to", "rotary-mid-19"), ("--tooling", "b-flat-10"), ("--speed", "45 rpm"),
     ("--confidence", "90 %"), ("--strict",), ("--speed", "")],
)  # fmt: skip
def test_what_does_not_go_with_from_production_is_refused(
    refused: Refused, quick: Path, words: Words
) -> None:
    told = refused("translate", quick, "--from-production", "--run", "P2", *words)
    assert told.startswith(f"scaleup: {words[0]}: found it beside --from-production")


def test_each_option_that_does_not_go_with_from_production_is_told(refused: Refused) -> None:
    words = (*BACK, "--run", "P2", "--to", "rotary-mid-19", "--strict")
    told = refused(*words, faults=2).splitlines()
    assert [line.split(": ")[1] for line in told] == ["--to", "--strict"]


def test_a_run_is_named_only_with_from_production(refused: Refused) -> None:
    told = refused("translate", FESCUE, "--run", "P2")
    assert told == "scaleup: --run: found no --from-production; allowed: both, or neither\n"


def test_points_without_a_range_are_refused(refused: Refused) -> None:
    told = refused("speed", MARRAM, "--points", "7", "--draws", "200")
    assert told.startswith("scaleup: --points: found no --range")
