"""What must not change an answer does not, and what must change it one way does so.

Every case writes a study on disk as another lab would have written it, and asks the same question.
"""

from __future__ import annotations

import csv
import io
import re
import shutil
from collections.abc import Callable
from dataclasses import replace
from pathlib import Path
from typing import Any

import numpy as np
import pytest

from scaleup.answers.functions import translate
from scaleup.answers.translation import Translation
from scaleup.io.study import read_study
from scaleup.io.units import factor, split_heading
from scaleup.model.study import Study
from tests.studies import LAW_ALONE

pytestmark = pytest.mark.slow

ROOT = Path(__file__).parents[2]
EXAMPLES = ("marram", "dunlin")
DRAWS = 240
EXACT = 1e-9
"""Share by which arithmetic in another order may move a figure."""
SETTLED = 1e-3
"""The same for a figure that a search ends at, such as a peak of the fit."""
Table = tuple[list[str], list[list[str]]]
RANK = {
    "transferable": 2,
    "transferable with changes": 1,
    "not enough evidence": 0,
    "not transferable": 0,
}


def copied(tmp_path: Path, name: str) -> Path:
    return Path(shutil.copytree(ROOT / "examples" / name, tmp_path / name))


def table(folder: Path) -> Table:
    lines = (folder / "runs.csv").read_text().splitlines()
    rows = list(csv.reader(line for line in lines if not line.startswith("#")))
    return rows[0], rows[1:]


def write(folder: Path, headings: list[str], rows: list[list[str]]) -> Study:
    out = io.StringIO()
    csv.writer(out, lineterminator="\n").writerows([headings, *rows])
    (folder / "runs.csv").write_text(out.getvalue())
    return read_study(folder)


def figures(translation: Translation) -> dict[str, float]:
    """Return every number of the equivalents, by its place."""
    numbers = {}
    for item in translation.equivalents:
        for part in (item.settings, item.tablet):
            for name, quantity in vars(part).items():
                for end in ("value", "low", "high"):
                    number = getattr(quantity, end)
                    if number is not None:
                        numbers[f"{item.match}.{name}.{end}"] = number
    return numbers


def same(one: Translation, other: Translation, share: float) -> None:
    assert one.verdict.answer == other.verdict.answer
    assert [(risk.code, risk.severity) for risk in one.risks] == [
        (risk.code, risk.severity) for risk in other.risks
    ]
    before, after = figures(one), figures(other)
    assert before.keys() == after.keys()
    assert len(before) > 100
    off = {
        name: (before[name], after[name])
        for name in before
        if not np.isclose(before[name], after[name], rtol=share, atol=0.0)
    }
    assert off == {}


@pytest.fixture(scope="module")
def answers() -> dict[str, Translation]:
    """Return the answers of the shipped studies, found once."""
    return {name: translate(read_study(ROOT / "examples" / name), draws=DRAWS) for name in EXAMPLES}


OTHER = {"kN": "lbf", "N": "kgf", "mg": "g", "mm": "in", "s": "min", "rpm": "turns/s"}


@pytest.mark.parametrize("name", EXAMPLES)
def test_other_units_give_the_same_answer(
    tmp_path: Path, name: str, answers: dict[str, Translation]
) -> None:
    folder = copied(tmp_path, name)
    headings, rows = table(folder)
    for place, heading in enumerate(headings):
        word, unit = split_heading(heading)
        if unit in OTHER:
            times = _ratio(unit, OTHER[unit])
            headings[place] = f"{word} [{OTHER[unit]}]"
            for row in rows:
                row[place] = repr(float(row[place]) * times) if row[place] else ""
    assert headings != table(folder)[0]
    same(answers[name], translate(write(folder, headings, rows), draws=DRAWS), SETTLED)


def _ratio(unit: str, other: str) -> float:
    core = {"kN": "N", "N": "N", "mg": "mg", "mm": "mm", "s": "s", "rpm": "rpm"}[unit]
    return factor(unit, core) / factor(other, core)


@pytest.mark.parametrize("name", EXAMPLES)
def test_the_order_of_rows_and_columns_does_not_matter(
    tmp_path: Path, name: str, answers: dict[str, Translation]
) -> None:
    folder = copied(tmp_path, name)
    headings, rows = table(folder)
    order = np.random.default_rng(3).permutation(len(headings))
    shuffled = [[row[place] for place in order] for row in reversed(rows)]
    study = write(folder, [headings[place] for place in order], shuffled)
    same(answers[name], translate(study, draws=DRAWS), SETTLED)


@pytest.mark.parametrize("name", EXAMPLES)
def test_a_comment_column_does_not_matter(
    tmp_path: Path, name: str, answers: dict[str, Translation]
) -> None:
    folder = copied(tmp_path, name)
    headings, rows = table(folder)
    noted = [[*row, f"tablet {place}, a little dusty"] for place, row in enumerate(rows)]
    same(answers[name], translate(write(folder, [*headings, "note"], noted), draws=DRAWS), EXACT)


def test_a_duplicate_row_moves_nothing_out_of_its_band(
    tmp_path: Path, answers: dict[str, Translation]
) -> None:
    folder = copied(tmp_path, "marram")
    headings, rows = table(folder)
    translation = translate(write(folder, headings, [*rows, rows[5]]), draws=DRAWS)
    before = answers["marram"]
    assert translation.verdict.answer == before.verdict.answer
    for match in ("pressure", "solid-fraction", "strength"):
        for name in ("solid_fraction", "tensile_strength", "thickness"):
            was = getattr(before.equivalent(match).tablet, name)
            now = getattr(translation.equivalent(match).tablet, name)
            assert was.low < now.value < was.high


def scaled(study: Study, times: float) -> Study:
    """Return the study with tips of so many times the area at the same pressures.

    Areas, forces, weights and stiffnesses grow alike, so pressures, thicknesses and times stay. A
    flat tablet breaks at ``sigma pi D t/2`` and is ejected over ``pi D W``: both go with D.
    """
    across = np.sqrt(times)

    def larger(profile: Any, **powers: int) -> Any:
        return replace(
            profile,
            **{
                name: getattr(profile, name) * across**power
                for name, power in powers.items()
                if getattr(profile, name) is not None
            },
        )

    def tips(loaded: Any) -> Any:
        powers = {"diameter": 1, "barrel_diameter": 1, "tip_force_rating": 2}
        return replace(loaded, profile=larger(loaded.profile, **powers))

    lab: Any = study.lab.press.profile
    rates = lab.loading_rates
    lab = larger(lab, force_limit=2, stiffness=2, loading_rate=2, ejection_limit=1)
    if rates is not None:
        lab = replace(
            lab, loading_rates=replace(rates, min=rates.min * times, max=rates.max * times)
        )
    rate, made = study.lab.defaults.loading_rate, study.production.press.profile
    rollers = {
        name: larger(roller, force_limit=2)
        for name, roller in (("main_roller", made.main_roller), ("pre_roller", made.pre_roller))
        if roller is not None
    }
    made = replace(larger(made, stiffness=2, ejection_limit=1), **rollers)
    runs = tuple(
        replace(
            run,
            force=run.force * times,
            weight=None if run.weight is None else run.weight * times,
            breaking_force=None if run.breaking_force is None else run.breaking_force * across,
            ejection_force=None if run.ejection_force is None else run.ejection_force * across,
            loading_rate=None if run.loading_rate is None else run.loading_rate * times,
        )
        for run in study.lab.runs
    )
    return replace(
        study,
        lab=replace(
            study.lab,
            press=replace(study.lab.press, profile=lab),
            tooling=tips(study.lab.tooling),
            runs=runs,
            defaults=replace(study.lab.defaults, loading_rate=(rate or 0.0) * times or None),
        ),
        production=replace(
            study.production,
            press=replace(study.production.press, profile=made),
            tooling=tips(study.production.tooling),
        ),
    )


def test_four_times_the_area_force_weight_and_stiffness_is_the_same_tablet_but_wider(
    marram: Study,
) -> None:
    """By the law: wall friction goes with the height over the width, which changes."""
    alone = replace(marram, transfer=LAW_ALONE)
    translation = translate(scaled(alone, 4.0), draws=DRAWS)
    before = translate(alone, draws=DRAWS)
    assert translation.verdict.answer == before.verdict.answer
    powers = {"force": 2.0, "weight": 2.0, "breaking_force": 1.0, "ejection_force": 1.0}
    powers |= {"main_force": 2.0, "precompression_force": 2.0}
    one, other = figures(before), figures(translation)
    assert one.keys() == other.keys()
    off = {
        name: (one[name], other[name])
        for name in one
        if not np.isclose(
            other[name], one[name] * 2.0 ** powers.get(name.split(".")[1], 0.0), rtol=SETTLED
        )
    }
    assert off == {}


Stricter = Callable[[Study, float], Study]


def _target(study: Study, **update: Any) -> Study:
    return replace(study, target=replace(study.target, **update))


def _stronger(study: Study, step: float) -> Study:
    target = study.target
    if target.strength is not None:
        return _target(study, strength=target.strength * (1.0 + 0.2 * step))
    return _target(study, breaking_force=(target.breaking_force or 0.0) * (1.0 + 0.2 * step))


def _surer(study: Study, step: float) -> Study:
    return _target(study, confidence=study.target.confidence + 0.011 * step)


def _denser(study: Study, step: float) -> Study:
    window = study.target.solid_fraction
    width = window.max - window.min
    narrow = replace(window, min=window.min + 0.1 * step * width)
    return _target(study, solid_fraction=narrow)


def _weaker_tips(study: Study, step: float) -> Study:
    tooling = study.production.tooling
    rating = (tooling.profile.tip_force_rating or 0.0) * (1.0 - 0.15 * step)
    profile = replace(tooling.profile, tip_force_rating=rating)
    return replace(
        study, production=replace(study.production, tooling=replace(tooling, profile=profile))
    )


@pytest.mark.parametrize("stricter", [_stronger, _surer, _denser, _weaker_tips])
@pytest.mark.parametrize("name", ["marram", "dunlin"])
def test_a_stricter_limit_never_betters_a_verdict(name: str, stricter: Stricter) -> None:
    study = read_study(ROOT / "examples" / name)
    ranks = [
        RANK[translate(stricter(study, float(step)), draws=DRAWS).verdict.answer]
        for step in (0, 2, 5)
    ]
    assert ranks == sorted(ranks, reverse=True), ranks


def test_the_ladders_of_limits_reach_a_verdict_that_is_worse() -> None:
    """A ladder on which nothing changes would hold whatever the verdict did."""
    study = read_study(ROOT / "examples" / "marram")
    strict = _weaker_tips(_stronger(study, 5.0), 5.0)
    assert RANK[translate(strict, draws=DRAWS).verdict.answer] == 0
    assert re.fullmatch("transferable.*", translate(study, draws=DRAWS).verdict.answer)
