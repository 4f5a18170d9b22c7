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
from scaleup.errors import InputError
from scaleup.model.study import Study
from scaleup.show.trial_plan import sheet_rows

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


def causes_of(learned: Learned) -> tuple[Cause, ...] | None:
    """Return the causes, most probable first; None if the program tells none."""
    told = getattr(learned, "causes", None)
    if told is None:
        return None
    return tuple(Cause(each.code, each.probability, each.named) for each in told)


def verdict_of(learned: Learned) -> str:
    """Return the answer after the trial."""
    verdict = getattr(learned, "verdict", learned.findings.verdict)
    return str(verdict.answer)


@dataclass(frozen=True)
class Outcome:
    """What one trial came to."""

    kind: Kind
    named: tuple[str, ...] | None
    """Codes of the causes named, most probable first; None if the program tells no causes."""
    verdict: str
    right: bool | None
    """None where nothing was told."""
    right_as_gauged: bool | None
    """The same if the force gauge of the next batch is as it was in the trial."""
    before: str
    """The verdict before the trial."""
    redrawn: int
    """Studies drawn before it that had no trial planned."""


def one_trial(kind: Kind, seed: int, draws: int = DRAWS) -> Outcome:
    """Return what came of one trial of a kind; the same seed gives the same."""
    rng = np.random.default_rng([seed, KINDS.index(kind)])
    for redrawn in range(MOST_REDRAWN):
        study, world = drawn_study(kind, rng)
        analysis = Analysis(_with_target(study, rng, draws), draws=draws, seed=seed)
        plan = _plan(analysis)
        fastest = max((run.rung.speed for run in plan.runs), default=0.0) if plan else 0.0
        if plan is None or (kind.cause == "defects" and fastest <= 1.02 * plan.speed):
            continue
        caps = plan.speed + world.caps_between * (fastest - plan.speed)
        world = replace(world, caps_above=caps if kind.cause == "defects" else np.inf)
        return _outcome(world, analysis, plan, rng, redrawn)
    raise AssertionError(f"{kind.name}, seed {seed}: no trial planned for {MOST_REDRAWN} studies")


def _with_target(study: Study, rng: np.random.Generator, draws: int) -> Study:
    """Return the study with a target strength that the forecast meets with some to spare."""
    forecast = Analysis(study, draws=draws).case().at_lab_pressure.strength
    assert forecast is not None
    strength = float(np.median(forecast)) / (1.0 + float(rng.uniform(*SPARE)))
    return replace(study, target=replace(study.target, strength=strength))


def _plan(analysis: Analysis) -> TrialPlan | None:
    """Return the plan, None if it is withheld or the study allows none."""
    try:
        plan = analysis.plan_trial()
    except InputError:
        return None
    return plan if plan.runs else None


def _outcome(
    world: World, analysis: Analysis, plan: TrialPlan, rng: np.random.Generator, redrawn: int
) -> Outcome:
    study = analysis.study
    planned = [
        Planned(row, run.rung.force, run.rung.speed, run.rung.pre_share, run.tablets)
        for row, run in zip(sheet_rows(plan), plan.runs, strict=True)
    ]
    rows = filled_sheet(world, study.production, planned, rng)
    before = analysis.translate().verdict.answer
    lots = np.random.default_rng(rng.integers(2**32))
    try:
        learned = analysis.learn(rows)
    except InputError:
        return Outcome(world.kind, None, REFUSED, None, None, before, redrawn)
    causes, verdict = causes_of(learned), verdict_of(learned)
    state = lots.bit_generator.state
    right = _right(learned, verdict, next_lot(world, lots), study)
    lots.bit_generator.state = state
    as_gauged = _right(learned, verdict, next_lot(world, lots, gauge_mended=False), study)
    named = None if causes is None else tuple(each.code for each in causes if each.named)
    return Outcome(world.kind, named, verdict, right, as_gauged, before, redrawn)


def _right(learned: Learned, verdict: str, lot: World, study: Study) -> bool | None:
    """Return whether the next batch bears the verdict out."""
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
    told = [(each.kind.cause, each.named) for each in outcomes if each.named is not None]
    if not told:
        return "not told", "not told", "not told"
    first = sum(named[:1] == (cause,) for cause, named in told)
    among = sum(cause in named for cause, named in told)
    mean = np.mean([len(named) for _, named in told])
    return f"{first} of {len(told)}", f"{among} of {len(told)}", f"{mean:.1f}"


def notes(outcomes: Sequence[Outcome]) -> Iterable[str]:
    """Yield what the table has no column for."""
    redrawn = sum(each.redrawn for each in outcomes)
    yield f"Studies drawn anew because no trial was planned: {redrawn}."
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
    if any(each.named is not None for each in outcomes):
        named = Counter((each.kind.name, (each.named or ("none",))[0]) for each in outcomes)
        for kind in KINDS:
            parts = [
                f"{code} {count}" for (name, code), count in named.items() if name == kind.name
            ]
            yield f"First named where truth is {kind.name}: {', '.join(parts)}."


def run_trials(trials: int, seed: int, draws: int, workers: int) -> list[Outcome]:
    """Return the outcomes of so many trials, the kinds in turn."""
    kinds = [KINDS[number % len(KINDS)] for number in range(trials)]
    seeds = [seed * 100_000 + number // len(KINDS) for number in range(trials)]
    outcomes = []
    with ProcessPoolExecutor(workers) as pool:
        for each in pool.map(partial(one_trial, draws=draws), kinds, seeds):
            outcomes.append(each)
            if sys.stderr.isatty():
                sys.stderr.write(f"\r{len(outcomes)} of {trials} trials")
    return outcomes


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
