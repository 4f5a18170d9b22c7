"""Risks in the lab runs themselves: what they show, what they miss, and where they misfit."""

from __future__ import annotations

from collections.abc import Iterator
from itertools import pairwise

import numpy as np

from scaleup.arrays import Array
from scaleup.calibration.observations import Observation
from scaleup.model.estimate import BAND
from scaleup.sentence import Fact, Sentence, Words
from scaleup.transfer.case import TransferCase
from scaleup.transfer.risks.registry import Risk, risk

PRESSURE_ROOM = 1.02
SAME_PRESSURE = 1.05
"""Conditions nearer than this share are one level: between them strength tells of scatter, not of
over-compression (this project's judgement)."""
SHEARED = 0.934
"""Strength of a sheared blend over that of a fresh one at equal solid fraction (Akseli et al.,
AAPS PharmSciTech 12 (2011) 834)."""
FEEDER_SERIOUS = 0.10
"""Share by which the feeder changes strength (this project's judgement)."""


@risk()
def pressure_beyond_tested(case: TransferCase) -> Iterator[Risk]:
    """Main pressures that no run has tested."""
    tested = case.tested_pressure
    asked: list[tuple[Words, float]] = [
        (f"The {item.match} match", item.dialled) for item in case.dialled
    ]
    if case.feasible_pressure is not None:
        asked.append(("Keeping every limit", case.feasible_pressure))
    fastest = case.fastest_with_band
    if case.feasible_pressure is None and fastest is not None:
        what = Sentence("Keeping every limit at {speed}", speed=fastest.told)
        asked.append((what, fastest.pressure))
    for setting, pressure in asked:
        if pressure <= tested * PRESSURE_ROOM:
            continue
        beyond = pressure / tested - 1.0
        yield Risk(
            "pressure-beyond-tested",
            "serious" if beyond > 0.25 else "watch",
            Sentence(
                "{setting} takes {pressure}, {beyond:%} above the highest tested pressure of "
                "{tested}.",
                setting=setting,
                pressure=Fact(pressure, "MPa"),
                beyond=beyond,
                tested=Fact(tested, "MPa"),
            ),
            Sentence(
                "{runs} runs in {file}.",
                runs=len(case.observations),
                file=case.study.lab.runs_file,
            ),
            Sentence(
                "Press lab runs up to {needed} and look for over-compression.",
                needed=Fact(1.1 * pressure, "MPa"),
            ),
            beyond,
        )


@risk(without_fit=True, standing=True)
def strength_falls_with_pressure(case: TransferCase) -> Iterator[Risk]:
    """Over-compression or capping already visible in the lab."""
    for low, high in _falling(case.lab_runs):
        drop = 1.0 - _mean(high) / _mean(low)
        tops = [item.dialled for item in case.dialled]
        turning, beyond = _pressure(low), _pressure(high)
        near = max(tops, default=0.0) >= 0.9 * turning
        yield Risk(
            "strength-falls-with-pressure",
            "severe" if near else "serious",
            Sentence(
                "Lab strength falls by {drop:%} from {turning} to {beyond}: over-compression or "
                "capping.",
                drop=drop,
                turning=Fact(turning, "MPa"),
                beyond=Fact(beyond, "MPa"),
            ),
            Sentence(
                "Runs {stronger} and {weaker} at the same timing; the fall is more than twice its "
                "standard error.",
                stronger=_names(low),
                weaker=_names(high),
            ),
            "Stay below the turning pressure, look for laminations, and do not compensate for the "
            "shorter dwell with pressure."
            if near
            else "Keep the pressure below the turning point.",
            drop,
            effect="stops" if near else "none",
        )


def _falling(
    runs: tuple[Observation, ...],
) -> Iterator[tuple[list[Observation], list[Observation]]]:
    """Yield neighbouring pressures at one timing whose strength falls beyond its scatter."""
    timings: dict[object, dict[str, list[Observation]]] = {}
    for seen in runs:
        if seen.strength is not None:
            timings.setdefault(seen.setting, {}).setdefault(seen.run.name, []).append(seen)
    for groups in timings.values():
        levels = _levels(list(groups.values()))
        scatter = _pooled(levels)
        for low, high in pairwise(levels):
            error = scatter * np.sqrt(1.0 / len(low) + 1.0 / len(high))
            if np.log(_mean(low) / _mean(high)) > 2.0 * error:
                yield low, high


def _levels(groups: list[list[Observation]]) -> list[list[Observation]]:
    """Return the conditions by rising pressure, those at one pressure together."""
    levels: list[list[Observation]] = []
    lowest = 0.0
    for group in sorted(groups, key=_pressure):
        if levels and _pressure(group) < SAME_PRESSURE * lowest:
            levels[-1].extend(group)
        else:
            lowest = _pressure(group)
            levels.append(list(group))
    return levels


def _pressure(group: list[Observation]) -> float:
    return float(np.mean([seen.pressure for seen in group]))


def _names(group: list[Observation]) -> str:
    return ", ".join(dict.fromkeys(seen.run.name for seen in group))


def _mean(group: list[Observation]) -> float:
    return float(np.mean([seen.strength for seen in group if seen.strength is not None]))


def _pooled(groups: list[list[Observation]]) -> float:
    """Return the scatter of ln(strength) within conditions; 8 % where there are no replicates."""
    squares, freedom = 3.0 * 0.08**2, 3.0
    for group in groups:
        logs = np.log([seen.strength for seen in group if seen.strength is not None])
        squares += float(np.sum((logs - logs.mean()) ** 2))
        freedom += len(logs) - 1
    return float(np.sqrt(squares / freedom))


@risk()
def suspicious_runs(case: TransferCase) -> Iterator[Risk]:
    """Runs far from the fit; they are named and kept."""
    for row in case.fit.runs:
        misses = {"solid fraction": row.solid_fraction_miss, "strength": row.strength_miss}
        for what, miss in misses.items():
            if miss is None or not miss.suspicious:
                continue
            run = row.observation.run
            yield Risk(
                "suspicious-run",
                "watch",
                Sentence(
                    "The {figure} of run {run} (line {line}) is {deviations:.1f} standard "
                    "deviations {side} what the other runs suggest.",
                    figure=what,
                    run=run.name,
                    line=run.line,
                    deviations=abs(miss.deviations),
                    side="above" if miss.deviations > 0 else "below",
                ),
                Sentence(
                    "Deleted residual; chance alone gives the largest of {runs} runs such a miss "
                    "in {chance:%} of studies. The run was kept.",
                    runs=len(case.fit.runs),
                    chance=miss.chance,
                ),
                "Check force, weight, thickness and breaking force of this row, and their units; "
                "leave it out only for a reason found there, and say so in the study.",
                abs(miss.deviations),
            )


@risk()
def misfit(case: TransferCase) -> Iterator[Risk]:
    """A densification curve that bends away from the law by more than replicates scatter."""
    test = case.fit.lack_of_fit
    if test is None or test.probability >= 0.05:
        return
    yield Risk(
        "lack-of-fit",
        "watch",
        Sentence(
            "The law ({form}) misses the conditions by {misfit:.4f} of solid fraction on average, "
            "more than replicates scatter ({replicates:.4f}).",
            form=case.fit.forms[0].name,
            misfit=test.misfit,
            replicates=test.replicates,
        ),
        Sentence(
            "F test of lack of fit, p = {probability:.2g}. The bands widen with the scatter around "
            "the law.",
            probability=test.probability,
        ),
        "Trust predictions near the tested pressures more than those far from them.",
        test.misfit / max(test.replicates, 1e-6),
    )


@risk(without_fit=True)
def no_feeder_shear(case: TransferCase) -> Iterator[Risk]:
    """A lab die filled without a feed frame, while no production run says what that does."""
    lab, made = case.study.lab.press.profile.feed, case.study.production.press.profile.feed
    if lab == "forced" or made == "hand" or _feeder_factor(case) is not None or _shear_known(case):
        return
    yield Risk(
        "no-feeder-shear",
        "watch",
        Sentence(
            "The lab die is filled by {lab}; the production press has a {made} feeder. Lab "
            "strength is optimistic if the blend is sensitive to shear.",
            lab=lab,
            made=made,
        ),
        Sentence(
            "More lubricated or sheared blend is weaker at equal solid fraction (Akseli et al., "
            "AAPS PharmSciTech 12 (2011) 834: {weaker:%}; Narang et al., Int J Pharm 401 (2010) "
            "7). {counted}",
            weaker=1.0 - SHEARED,
            counted=_counted(case),
        ),
        "Press a few lab tablets from blend that has run through the feeder, or blend longer.",
        about="feeder on strength",
    )


def _counted(case: TransferCase) -> Words:
    """Return what the bands take of it."""
    terms = () if case.fitted is None else case.fitted.plant.terms
    told = [term.told for term in terms if term.name == "shear" and term.counts]
    if not told:
        return "The bands leave it out."
    return Sentence("The bands count it: {told}.", told=told[0])


def _shear_known(case: TransferCase) -> bool:
    """Return whether runs or the study say what shear does to the strength of the blend."""
    stated = case.study.transfer.shear is not None
    return stated or (case.fitted is not None and case.fit.plant.shear is not None)


def _feeder_factor(case: TransferCase) -> Array | None:
    """Return the factor of strength of the press asked about, or of the one that it borrows from.

    None where no production run says what a feeder does to strength.
    """
    if case.fitted is None or case.fit.strength is None:
        return None
    plant, curve = case.fit.plant, case.fit.strength
    shown = plant.nearest_to(case.production, "log_strength")
    if shown is None or shown.log_strength is None:
        return None
    return curve.feeder if shown is plant.runs else np.exp(shown.log_strength)


@risk()
def feeder_weakens(case: TransferCase) -> Iterator[Risk]:
    """Production tablets weaker, or stronger, than lab tablets of the same solid fraction."""
    factor = _feeder_factor(case)
    if factor is None:
        return
    low, middle, high = np.quantile(factor, [(1 - BAND) / 2, 0.5, (1 + BAND) / 2])
    if low <= 1.0 <= high:
        return
    change = abs(middle - 1.0)
    yield Risk(
        "feeder-shifts-strength",
        "serious" if change >= FEEDER_SERIOUS else "watch",
        Sentence(
            "At equal solid fraction production tablets have {share:%} of the lab's strength "
            "({low:%} to {high:%}).",
            share=middle,
            low=low,
            high=high,
        ),
        "Estimated from the production runs beside the lab runs, apart from the rate exponent; the "
        "predictions include it. Shear in the feeder, lubrication or segregation may do it.",
        "Press lab tablets from blend out of the feeder; look at feeder speed and fill level.",
        float(change),
    )


@risk()
def relaxation_conflicts(case: TransferCase) -> Iterator[Risk]:
    """Logged holds whose relaxation contradicts the fitted rate exponent."""
    holds = case.fit.relaxation
    if holds is None or not holds.conflict:
        return
    relaxed, fitted = (float(np.median(each)) for each in (holds.exponent, holds.fitted))
    yield Risk(
        "relaxation-conflicts",
        "serious",
        Sentence(
            "Held forces relax as with a rate exponent of {held:.3f}; the solid fractions say "
            "{fitted:.3f}.",
            held=relaxed,
            fitted=fitted,
        ),
        Sentence(
            "Logs of the runs {runs}; {apart:.1f} standard deviations apart. The predictions "
            "follow the solid fractions.",
            runs=", ".join(holds.runs),
            apart=abs(holds.apart),
        ),
        "Find out whether the tips stood still while the force was held; press more hold times.",
        abs(relaxed / max(fitted, 1e-3) - 1.0),
    )


@risk(without_fit=True, standing=True)
def no_fit(case: TransferCase) -> Iterator[Risk]:
    """Runs that allow no fit."""
    if case.no_fit is None:
        return
    for reason in case.no_fit.reasons:
        yield Risk(
            "not-enough-runs",
            "severe",
            Sentence(
                "Nothing about the powder can be predicted: {reason}.",
                reason=reason,
                runs=len(case.observations),
            ),
            Sentence("Run table {file}.", file=case.study.lab.runs_file),
            "Press at least three runs at two or more forces and record weight and thickness.",
            1.0,
            effect="lacks evidence",
        )


@risk(standing=True)
def no_strength(case: TransferCase) -> Iterator[Risk]:
    """Runs without a strength curve."""
    if case.fit.strength is not None:
        return
    broken = sum(seen.strength is not None for seen in case.observations)
    yield Risk(
        "strength-not-checked",
        "severe",
        Sentence(
            "Strength cannot be predicted: fewer than three runs at two pressures have a breaking "
            "force and a thickness.",
            runs_with_strength=broken,
        ),
        Sentence("Run table {file}.", file=case.study.lab.runs_file),
        "Break tablets from at least two forces.",
        0.5,
        effect="lacks evidence",
        about="strength measured",
    )
