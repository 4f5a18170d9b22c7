"""How often is the cause that a trial names the true one, and its verdict right?

``python tests/benchmarks/trials.py --trials 50`` plans a trial of each of so many simulated
studies, fills in its sheet from a world that the program does not know
(`tests.benchmarks.trial_worlds`), lets the program learn from it, and prints a table. Lab and plant
of every world follow another state law, with other pulses and another solver. The target strength
is set so that the forecast at the lab's own pressure has 15 to 25 % to spare.

A verdict is right if the next batch meets strength and solid fraction and does not cap: another lot
on the same plant, dosed by a balance that is right and pressed by a force gauge as little off as
usual. It is made at the lab's own pressure for ``transferable``; for ``transferable with changes``
at the recommended point of the new window, else at the strength match. Where a feeder weakens the
blend more and more, the batch has to be strong enough in the middle of the trial and at its end.
``not transferable`` is right if the batch meets the target at no force at the asked speed.
"""

from __future__ import annotations

import argparse
import sys
import time
from collections import Counter
from collections.abc import Iterable, Sequence
from concurrent.futures import ProcessPoolExecutor
from dataclasses import dataclass, replace
from functools import partial
from pathlib import Path

import numpy as np

from scaleup.answers.analysis import Analysis
from scaleup.answers.trial.learning import Learned
from scaleup.answers.trial.plan import TrialPlan
from scaleup.answers.trial.planned_rows import record_of, sheet_rows
from scaleup.errors import InputError
from scaleup.io.trial_sheet.reading import TrialSheet
from scaleup.model.study import Study

sys.path.insert(0, str(Path(__file__).parents[2]))
from tests.benchmarks.trial_worlds import (
    KINDS,
    Kind,
    Planned,
    World,
    drawn_study,
    filled_sheet,
    meets,
    next_lot,
)

DRAWS = 800
SPARE = (0.15, 0.25)
"""Ends between which the share is drawn by which the forecast is above the target strength."""
MOST_REDRAWN = 40
"""Studies drawn until one has a trial planned."""
REFUSED = "sheet refused"
WITHHELD = "not enough evidence"
TOLD = ("transferable", "transferable with changes", "not transferable")
FORCES_TRIED = 30


@dataclass(frozen=True)
class Cause:
    """What the program says of one cause of a trial's result."""

    code: str
    probability: float
    named: bool
    """Whether a screen tells it."""


def causes_of(learned: Learned) -> tuple[Cause, ...]:
    """Return the causes, most probable first."""
    return tuple(Cause(each.code, each.probability, each.named) for each in learned.causes)


@dataclass(frozen=True)
class Outcome:
    """What one trial came to."""

    kind: Kind
    seed: int
    withheld: int
    """Studies drawn before it of which the program plans no trial."""
    too_slow: int
    """Studies drawn before it whose plan has no speed above the asked one to cap at."""
    before: str
    """The verdict before the trial."""
    verdict: str
    """The one after it."""
    refusal: str = ""
    """Why the sheet was refused, if it was."""
    right: bool | None = None
    """None where nothing was told."""
    right_as_gauged: bool | None = None
    """The same if the force gauge of the next batch is as it was in the trial."""
    causes: tuple[Cause, ...] = ()
    """Most probable first; none of a sheet that was refused."""

    @property
    def named(self) -> tuple[str, ...]:
        """Return the codes of the causes named, most probable first."""
        return tuple(each.code for each in self.causes if each.named)

    @property
    def of_the_truth(self) -> float:
        """Return the probability that the program gives to the true cause."""
        return sum(each.probability for each in self.causes if each.code == self.kind.cause)


def one_trial(kind: Kind, seed: int, draws: int = DRAWS) -> Outcome:
    """Return what came of one trial of a kind; the same seed gives the same."""
    rng = np.random.default_rng([seed, KINDS.index(kind)])
    withheld = too_slow = 0
    while withheld + too_slow < MOST_REDRAWN:
        study, world = drawn_study(kind, rng)
        analysis = Analysis(_with_target(study, rng, draws), draws=draws, seed=seed)
        plan = analysis.plan_trial()
        fastest = max((run.rung.speed for run in plan.runs), default=0.0)
        caps = np.inf
        if kind.cause == "defects":
            caps = plan.speed + world.caps_between * (fastest - plan.speed)
        if not plan.runs:
            withheld += 1
            continue
        if caps <= plan.speed:
            too_slow += 1
            continue
        begun = Outcome(
            kind, seed, withheld, too_slow, analysis.translate().verdict.answer, REFUSED
        )
        return _outcome(begun, replace(world, caps_above=caps), analysis, plan, rng)
    raise AssertionError(f"{kind.name}, seed {seed}: no trial planned for {MOST_REDRAWN} studies")


def _with_target(study: Study, rng: np.random.Generator, draws: int) -> Study:
    """Return the study with a target strength that the forecast meets with some to spare."""
    forecast = Analysis(study, draws=draws).case().at_lab_pressure.strength
    assert forecast is not None
    strength = float(np.median(forecast)) / (1.0 + float(rng.uniform(*SPARE)))
    return replace(study, target=replace(study.target, strength=strength))


def _outcome(
    begun: Outcome, world: World, analysis: Analysis, plan: TrialPlan, rng: np.random.Generator
) -> Outcome:
    """Return what comes of carrying a plan out and learning from its sheet."""
    study = analysis.study
    planned = [
        Planned(row, run.rung.force, run.rung.speed, run.rung.pre_share, run.tablets, run.start)
        for row, run in zip(sheet_rows(plan), plan.runs, strict=True)
    ]
    rows = filled_sheet(world, study.production, planned, rng)
    try:
        learned = analysis.learn(TrialSheet(rows, plan=record_of(plan)))
    except InputError as error:
        return replace(begun, refusal=str(error))
    verdict, seed = str(learned.verdict.answer), int(rng.integers(2**32))
    right, as_gauged = (
        _right(learned, verdict, next_lot(world, np.random.default_rng(seed), gauge_mended=mended))
        for mended in (True, False)
    )
    return replace(
        begun, verdict=verdict, right=right, right_as_gauged=as_gauged, causes=causes_of(learned)
    )


def _right(learned: Learned, verdict: str, lot: World) -> bool | None:
    """Return whether the next batch bears the verdict out."""
    study = learned.before.study
    if verdict not in TOLD:
        return None
    if verdict == "not transferable":
        area = study.production.tooling.profile.tip_area
        most = min(
            study.production.tooling.profile.tip_force_rating or np.inf,
            study.production.press.profile.force_limit,
        )
        pressures = np.geomspace(0.1, 1.0, FORCES_TRIED) * most / area
        asked = np.full(FORCES_TRIED, study.production.speed)
        return not bool(meets(lot, study, pressures, asked).any())
    place = settings_of(learned, verdict)
    if place is None:
        return False
    return bool(meets(lot, study, np.array([place[0]]), np.array([place[1]]))[0])


def settings_of(learned: Learned, verdict: str) -> tuple[float, float] | None:
    """Return pressure in MPa and speed in rpm at which a batch is to be made; None if not told."""
    case = learned.findings.case
    if verdict == "transferable":
        return case.reference.pressure, case.speed
    recommended = learned.window.recommended
    if recommended is not None:
        point = recommended.point
        return point.set_point.pressure.value or 0.0, point.speed
    match = case.equivalent("strength")
    return (match.dialled, case.speed) if match.dialled else None


HEADINGS = (
    "what is true", "trials", "most probable named cause is true", "true cause among those named",
    "causes named, mean", "not enough evidence", "transferable, right",
    "with changes, right", "not transferable, right", "wrong",
)  # fmt: skip


def table(outcomes: Sequence[Outcome]) -> str:
    """Return the outcomes as a Markdown table, a row for each kind and one for all."""
    rows = [_row(kind.name, [each for each in outcomes if each.kind == kind]) for kind in KINDS]
    rows.append(_row("all", outcomes))
    rule = ["---"] * len(HEADINGS)
    return "\n".join("| " + " | ".join(row) + " |" for row in (HEADINGS, rule, *rows) if row)


def _row(name: str, outcomes: Sequence[Outcome]) -> tuple[str, ...]:
    if not outcomes:
        return ()
    withheld = sum(each.verdict in (WITHHELD, REFUSED) for each in outcomes)
    told = {answer: [each for each in outcomes if each.verdict == answer] for answer in TOLD}
    right = [f"{sum(each.right is True for each in told[answer])} of {len(told[answer])}"
             for answer in TOLD]  # fmt: skip
    wrong = sum(each.right is False for each in outcomes)
    return name, str(len(outcomes)), *_causes(outcomes), str(withheld), *right, str(wrong)


def _causes(outcomes: Sequence[Outcome]) -> tuple[str, str, str]:
    """Return how often the true cause comes first, and is named, and how many are named."""
    first = sum(each.named[:1] == (each.kind.cause,) for each in outcomes)
    among = sum(each.kind.cause in each.named for each in outcomes)
    mean = np.mean([len(each.named) for each in outcomes])
    return str(first), str(among), f"{mean:.1f}"


def notes(outcomes: Sequence[Outcome]) -> Iterable[str]:
    """Yield what the table has no column for."""
    withheld = sum(each.withheld for each in outcomes)
    yield f"Studies drawn anew because no trial was planned: {withheld}."
    slow = sum(each.too_slow for each in outcomes)
    yield f"Studies drawn anew because no speed above the asked one was planned: {slow}."
    refused = sum(each.verdict == REFUSED for each in outcomes)
    yield f"Sheets refused, counted as not enough evidence: {refused}."
    gauge = [
        each for each in outcomes if each.kind.cause == "force-gauge" and each.right is not None
    ]
    left = sum(each.right_as_gauged is True for each in gauge)
    yield f"With the force gauge still as far off as in the trial: {left} of {len(gauge)} right."
    before = Counter(each.before for each in outcomes)
    told = ", ".join(f"{answer} {count}" for answer, count in before.most_common())
    yield f"Verdicts before the trial: {told}."
    for each in outcomes:
        if each.refusal:
            yield f"Refused where truth is {each.kind.name}, seed {each.seed}: {each.refusal}"
        if each.right is False:
            yield f"Wrong: {each.verdict} where truth is {each.kind.name}, seed {each.seed}."
    mean = np.mean([each.of_the_truth for each in outcomes])
    yield f"Probability given to the true cause, mean: {mean:.0%}."
    named = Counter((each.kind.name, (each.named or ("none",))[0]) for each in outcomes)
    for kind in KINDS:
        parts = [f"{code} {count}" for (name, code), count in named.items() if name == kind.name]
        if parts:
            yield f"First named where truth is {kind.name}: {', '.join(parts)}."


def run_trials(trials: int, seed: int, draws: int, workers: int) -> list[Outcome]:
    """Return the outcomes of so many trials, the kinds in turn."""
    kinds = [KINDS[number % len(KINDS)] for number in range(trials)]
    seeds = [seed * 100_000 + number // len(KINDS) for number in range(trials)]
    ask = partial(one_trial, draws=draws)
    if workers == 1:
        return _watched(map(ask, kinds, seeds), trials)
    with ProcessPoolExecutor(workers) as pool:
        return _watched(pool.map(ask, kinds, seeds), trials)


def _watched(outcomes: Iterable[Outcome], trials: int) -> list[Outcome]:
    """Return the outcomes, and tell how many there are as they come."""
    done = []
    for each in outcomes:
        done.append(each)
        if sys.stderr.isatty():
            sys.stderr.write(f"\r{len(done)} of {trials} trials")
    return done


def main() -> None:
    parser = argparse.ArgumentParser(description=__doc__.splitlines()[0] if __doc__ else "")
    parser.add_argument("--trials", type=int, default=50)
    parser.add_argument("--seed", type=int, default=1)
    parser.add_argument("--draws", type=int, default=DRAWS)
    parser.add_argument("--workers", type=int, default=2)
    case = parser.parse_args()
    begin = time.perf_counter()
    outcomes = run_trials(case.trials, case.seed, case.draws, case.workers)
    print(table(outcomes))
    print()
    for note in notes(outcomes):
        print(note)
    sys.stderr.write(f"\ntook {time.perf_counter() - begin:.0f} s\n")


if __name__ == "__main__":
    main()
