"""What to press next: the expected narrowing against refits with runs that were simulated."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import replace

import numpy as np
import pytest

from scaleup.answers.expected_narrowing import variance_left
from scaleup.answers.functions import judge
from scaleup.answers.proposals import Proposal, Proposals, _nothing_worth, proposals
from scaleup.calibration.calibrated_study import calibrated
from scaleup.calibration.fit import Drawing, Fit
from scaleup.calibration.observations import side_of
from scaleup.model.run import Run
from scaleup.model.study import RunDefaults, Study
from scaleup.powder.compression import compress
from scaleup.transfer.case import TransferCase, transfer_case

pytestmark = pytest.mark.slow

Change = Callable[..., Study]


def asked_of(study: Study, draws: int, seed: int = 1) -> TransferCase:
    lab = calibrated(study, Drawing(draws, seed))
    assert isinstance(lab.fit, Fit)
    return transfer_case(lab, study.production.speed, study.target.confidence)


def spreads(case: TransferCase) -> tuple[float, float]:
    """Return the standard deviations of ln(strength) here and of ln(force needed)."""
    point = case.process.at(case.reference.pressure, case.speed)
    assert point.strength is not None
    return float(np.log(point.strength).std()), float(np.log(proposals(case).needed).std())


def pressed(
    case: TransferCase, study: Study, proposal: Proposal, rng: np.random.Generator
) -> list[Run]:
    """Return the proposed runs as one draw of the fit, taken for the truth, would give them."""
    fit, lab = case.process.fit, side_of(study.lab)
    assert fit.strength is not None
    weight = case.reference.weight or 0.0
    pressure = np.full(fit.powder.draws, proposal.force / lab.tip.area)
    charge = lab.tip.charge(weight, study.blend.true_density)
    pulse = compress(lab.press, fit.powder, charge, pressure, proposal.setting)
    truth = fit.powder.solid_fraction(pulse.static_pressure)
    draw = int(rng.integers(truth.size))
    strength = float(fit.strength.strength(truth)[draw])
    runs = []
    for number in range(proposal.tablets):
        solid = truth[draw] + fit.solid_fraction_scatter * rng.standard_normal()
        thickness = weight / study.blend.true_density / lab.tip.area / solid
        broken = strength * np.exp((fit.strength_scatter or 0.0) * rng.standard_normal())
        runs.append(
            Run(
                "new",
                proposal.force,
                hold=proposal.setting.hold,
                loading_rate=proposal.setting.loading_rate,
                weight=weight,
                thickness=float(thickness),
                breaking_force=float(broken * np.pi * lab.tip.width * thickness / 2.0),
                line=100 + number,
            )
        )
    return runs


def narrowed_by_refits(
    study: Study, case: TransferCase, proposal: Proposal, times: int
) -> np.ndarray:
    rng = np.random.default_rng(5)
    after = []
    for seed in range(times):
        runs = (*study.lab.runs, *pressed(case, study, proposal, rng))
        more = replace(study, lab=replace(study.lab, runs=runs))
        after.append(spreads(asked_of(more, 600, seed)))
    left: np.ndarray = np.sqrt(np.mean(np.square(after), axis=0)) / spreads(case)
    return 1.0 - left


@pytest.mark.parametrize("evidence", ["measured", "borrowed", "assumed"])
def test_the_expected_narrowing_is_what_refits_find(
    marram: Study, changed: Change, evidence: str
) -> None:
    """The best proposal, mean of eight refits; an exponent not measured yet is measured by it."""
    study, measured = marram, evidence == "measured"
    if not measured:
        study = changed(marram, runs=lambda run: run if run.hold == 1.0 else None)
    if evidence == "borrowed":
        study = changed(study, blend={"rate_material": "lactose, agglomerated"})
    study = replace(study, blend=replace(study.blend, hardening="kawakita"))
    case = asked_of(study, 1500)
    assert case.process.fit.rate.evidence == evidence
    best = proposals(case).best[0]
    narrowed = narrowed_by_refits(study, case, best, 8)
    assert best.strength is not None
    assert best.measures_rate is not measured
    assert narrowed[0] == pytest.approx(best.strength, abs=0.12)
    assert narrowed[1] == pytest.approx(best.needed_force, abs=0.12)
    assert best.needed_force > (0.1 if evidence == "borrowed" else 0.25)


def test_measuring_the_thing_itself_twice_leaves_a_third() -> None:
    """Each time with a noise as large as its own variance: ``V R/(2 V + R)``."""
    wanted = np.random.default_rng(1).normal(size=500)
    variance = float(np.var(wanted, ddof=1))
    left = variance_left(wanted, np.stack([wanted, wanted]), variance)
    assert left == pytest.approx(variance / 3.0)


def of(study: Study) -> Proposals:
    return proposals(asked_of(study, 600))


def test_without_a_spread_of_dwell_the_best_run_measures_the_rate(
    marram: Study, changed: Change
) -> None:
    what = of(changed(marram, runs=lambda run: run if run.hold == 1.0 else None))
    assert what.best[0].measures_rate
    assert what.best[0].setting.hold == 0.0
    assert what.best[0].needed_force > 0.5


def test_best_first_and_each_setting_once(marram: Study) -> None:
    what = of(marram)
    worths = [each.worth for each in what.best]
    assert worths == sorted(worths, reverse=True)
    assert len({each.setting for each in what.best}) == len(what.best)
    assert what.reason == ""


def test_only_what_the_lab_press_can_make(marram: Study, changed: Change) -> None:
    weak = changed(marram, lab_tooling={"tip_force_rating": 13e3})
    for each in of(weak).best:
        assert each.force <= 13e3
        assert 0.0 <= (each.setting.hold or 0.0) <= 60.0
        assert 500.0 <= (each.setting.loading_rate or 0.0) <= 20e3


def test_a_press_without_settings_is_proposed_forces_alone(dunlin: Study) -> None:
    what = of(dunlin)
    assert len(what.best) == 1
    assert what.best[0].setting.hold is None
    assert what.best[0].setting.loading_rate is None


SLOW = {"loading_rate": 2e3, "loading_rates": None, "hold": None}
"""A lab press that by its profile only loads at 2 kN/s."""


def slowly(run: Run) -> Run:
    return replace(run, loading_rate=2e3)


def test_after_enough_runs_only_a_shorter_pulse_is_worth_pressing(
    marram: Study, changed: Change
) -> None:
    """The same table thirty times over: what was tested says next to nothing once more. The runs
    show that the press loads at 5 kN/s, and less force there is a shorter pulse than any tested.
    """
    slow = changed(marram, lab_press=SLOW)
    runs = tuple(
        replace(run, line=run.line + 1000 * copy) for copy in range(30) for run in slow.lab.runs
    )
    what = of(replace(slow, lab=replace(slow.lab, runs=runs)))
    first, *rest = what.best
    assert (first.setting.hold, first.setting.loading_rate) == (0.0, 5e3)
    assert first.force < min(run.force for run in marram.lab.runs)
    assert rest
    assert all(each.worth < 0.5 * first.worth for each in rest)
    assert "no condition the lab press can make" in what.reason
    assert what.reason == _nothing_worth([*what.best])


def test_what_no_lab_pulse_tells_is_left_to_a_trial(marram: Study, changed: Change) -> None:
    """A press that only loads slowly leaves decades between its pulse and production's."""
    slow = of(changed(marram, lab_press=SLOW, runs=slowly)).beyond_the_lab
    assert slow > 0.04
    assert slow > 2.0 * of(marram).beyond_the_lab


def test_the_judgement_has_facts_and_what_is_missing(marram: Study, changed: Change) -> None:
    judgement = judge(marram, draws=300)
    assert judgement.verdict.answer == "transferable"
    assert 2 <= len(judgement.facts) <= 3
    assert "rate exponent is measured" in judgement.facts[0]
    assert judgement.suspicious == ()
    bare = judge(changed(marram, runs=lambda run: replace(run, breaking_force=None)), draws=300)
    assert bare.verdict.answer == "not enough evidence"
    assert "breaking force" in bare.missing[0].told
    assert bare.proposals is not None
    assert bare.proposals.best[0].strength is None


def test_a_gross_error_is_named_and_kept(marram: Study, changed: Change) -> None:
    wrong = changed(
        marram,
        runs=lambda run: replace(run, breaking_force=20.0) if run.line == 14 else run,
    )
    judgement = judge(wrong, draws=300)
    assert [row.observation.run.line for row in judgement.suspicious] == [14]
    assert isinstance(judgement.fit, Fit)
    assert len(judgement.fit.runs) == len(marram.lab.runs)


def test_a_lone_run_at_one_end_decides_for_itself(marram: Study, changed: Change) -> None:
    """Runs of one low force and a single one far above: the slope goes through it."""
    few = changed(marram, runs=lambda run: run if run.name == "M1" or run.line == 16 else None)
    few = replace(few, lab=replace(few.lab, reference=None))
    judgement = judge(replace(few, blend=replace(few.blend, hardening="heckel")), draws=300)
    assert [row.observation.run.line for row in judgement.deciding] == [16]


def test_timing_taken_for_granted_is_told(marram: Study, changed: Change) -> None:
    """Holds and loading rates that no run states; a press that lets go by itself has no hold."""
    told = [each.told for each in judge(marram, draws=300).missing]
    assert not any("hold" in text or "loading" in text for text in told)
    held = changed(marram, runs=lambda run: replace(run, hold=None, loading_rate=None))
    bare = replace(held, lab=replace(held.lab, defaults=RunDefaults()))
    missing = [each.told for each in judge(bare, draws=300).missing]
    assert "hold of 29 of 29 lab runs: they count as not held" in missing
    assert any(text.startswith("loading rate of 29 of 29 lab runs: that of") for text in missing)
