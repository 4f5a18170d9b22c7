"""Risks in the lab runs themselves: what they show, what they miss, and where they misfit."""

from __future__ import annotations

from collections.abc import Iterator
from itertools import pairwise

import numpy as np

from scaleup.calibration.observations import Observation
from scaleup.calibration.strength_curve import StrengthCurve
from scaleup.model.estimate import BAND
from scaleup.transfer.case import TransferCase
from scaleup.transfer.risks.registry import Risk, risk
from scaleup.wording import percent, say

PRESSURE_ROOM = 1.02
SAME_PRESSURE = 1.05
"""Conditions nearer than this share are one level: between them strength tells of scatter, not of
over-compression (this project's judgement)."""
FEEDER_SERIOUS = 0.10
"""Share by which the feeder changes strength (this project's judgement)."""


@risk()
def pressure_beyond_tested(case: TransferCase) -> Iterator[Risk]:
    """Main pressures that no run has tested."""
    tested = case.tested_pressure
    asked = [(f"The {item.match} match", item.dialled) for item in case.dialled]
    if case.feasible_pressure is not None:
        asked.append(("Keeping every limit", case.feasible_pressure))
    fastest = case.fastest_with_band
    if case.feasible_pressure is None and fastest is not None:
        asked.append((f"Keeping every limit at {fastest.told}", fastest.pressure))
    for what, pressure in asked:
        if pressure <= tested * PRESSURE_ROOM:
            continue
        beyond = pressure / tested - 1.0
        yield Risk(
            "pressure-beyond-tested",
            "serious" if beyond > 0.25 else "watch",
            f"{what} takes {say(pressure, 'MPa')}, {percent(beyond)} above the highest tested "
            f"pressure of {say(tested, 'MPa')}.",
            f"{len(case.observations)} runs in {case.study.lab.runs_file}.",
            f"Press lab runs up to {say(1.1 * pressure, 'MPa')} and look for over-compression.",
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
            f"Lab strength falls by {percent(drop)} from {say(turning, 'MPa')} to "
            f"{say(beyond, 'MPa')}: over-compression or capping.",
            f"Runs {_names(low)} and {_names(high)} at the same timing; the fall is more than "
            "twice its standard error.",
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
                f"The {what} of run {run.name} (line {run.line}) is {abs(miss.deviations):.1f} "
                f"standard deviations {'above' if miss.deviations > 0 else 'below'} what the other "
                "runs suggest.",
                f"Deleted residual; chance alone gives the largest of {len(case.fit.runs)} "
                f"runs such a miss in {percent(miss.chance)} of studies. The run was kept.",
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
        f"The law ({case.fit.forms[0].name}) misses the conditions by {test.misfit:.4f} of "
        f"solid fraction on average, more than replicates scatter ({test.replicates:.4f}).",
        f"F test of lack of fit, p = {test.probability:.2g}. The bands widen with the scatter "
        "around the law.",
        "Trust predictions near the tested pressures more than those far from them.",
        test.misfit / max(test.replicates, 1e-6),
    )


@risk(without_fit=True)
def no_feeder_shear(case: TransferCase) -> Iterator[Risk]:
    """A lab die filled without a feed frame, while no production run says what that does."""
    lab, made = case.study.lab.press.model.feed, case.study.production.press.model.feed
    if lab == "forced" or made == "hand" or _feeder(case) is not None:
        return
    yield Risk(
        "no-feeder-shear",
        "watch",
        f"The lab die is filled by {lab}; the production press has a {made} feeder. Lab strength "
        "is optimistic if the blend is sensitive to shear.",
        "More lubricated or sheared blend is weaker at equal solid fraction (Akseli et al., AAPS "
        "PharmSciTech 12 (2011) 834: 6.6 %; Narang et al., Int J Pharm 401 (2010) 7).",
        "Press a few lab tablets from blend that has run through the feeder, or blend longer.",
    )


def _feeder(case: TransferCase) -> StrengthCurve | None:
    """Return the strength curve if production runs say what the feeder does to it."""
    curve = None if case.fitted is None else case.fitted.fit.strength
    return curve if curve is not None and curve.feeder_known else None


@risk()
def feeder_weakens(case: TransferCase) -> Iterator[Risk]:
    """Production tablets weaker, or stronger, than lab tablets of the same solid fraction."""
    curve = _feeder(case)
    if curve is None:
        return
    low, middle, high = np.quantile(curve.feeder, [(1 - BAND) / 2, 0.5, (1 + BAND) / 2])
    if low <= 1.0 <= high:
        return
    change = abs(middle - 1.0)
    yield Risk(
        "feeder-shifts-strength",
        "serious" if change >= FEEDER_SERIOUS else "watch",
        f"At equal solid fraction production tablets have {percent(middle)} of the lab's strength "
        f"({percent(low)} to {percent(high)}).",
        "Estimated from the production runs beside the lab runs, apart from the rate exponent; the "
        "predictions include it. Shear in the feeder, lubrication or segregation may do it.",
        "Press lab tablets from blend out of the feeder; look at feeder speed and fill level.",
        float(change),
    )


@risk()
def relaxation_conflicts(case: TransferCase) -> Iterator[Risk]:
    """Logged holds that relax otherwise than the fitted rate exponent has it."""
    witness = case.fit.relaxation
    if witness is None or not witness.conflict:
        return
    held, fitted = (float(np.median(each)) for each in (witness.exponent, witness.fitted))
    yield Risk(
        "relaxation-conflicts",
        "serious",
        f"Held forces relax as with a rate exponent of {held:.3f}; the solid fractions say "
        f"{fitted:.3f}.",
        f"Logs of the runs {', '.join(witness.runs)}; {abs(witness.apart):.1f} standard "
        "deviations apart. The predictions follow the solid fractions.",
        "Find out whether the tips stood still while the force was held; press more hold times.",
        abs(held / max(fitted, 1e-3) - 1.0),
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
            f"Nothing about the powder can be predicted: {reason}.",
            f"Run table {case.study.lab.runs_file}.",
            "Press at least three runs at two or more forces and record weight and thickness.",
            1.0,
            effect="lacks evidence",
        )


@risk(standing=True)
def no_strength(case: TransferCase) -> Iterator[Risk]:
    """Runs without a strength curve."""
    if case.fit.strength is not None:
        return
    yield Risk(
        "strength-not-checked",
        "severe",
        "Strength cannot be predicted: fewer than three runs at two pressures have a breaking "
        "force and a thickness.",
        f"Run table {case.study.lab.runs_file}.",
        "Break tablets from at least two forces.",
        0.5,
        effect="lacks evidence",
    )
