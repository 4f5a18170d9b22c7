"""Risks of the predicted tablet: density, recovery, ejection, the strength formula."""

from __future__ import annotations

from collections.abc import Iterator

import numpy as np

from scaleup.powder.tip import Tip
from scaleup.transfer.case import TransferCase
from scaleup.transfer.risks.registry import Risk, Severity, risk
from scaleup.transfer.settings import LOW_WALL
from scaleup.wording import of_draws, percent, say, sentence

RECOVERY_WATCH, RECOVERY_SERIOUS = 0.08, 0.10
"""Axial elastic recovery that points to capping (from memory)."""
EJECTION_WATCH, EJECTION_SERIOUS = 3.0, 5.0
"""Ejection stress in MPa: above 5 linked with problems (common practice), 3 to 5 watch (from
memory)."""
WALL_SHARE = (0.1, 0.3)
"""Wall height over diameter for which the convex strength formula was tested (from memory)."""
CURVATURE_MOST = 1.43
"""Diameter over cup radius up to which it was tested (from memory)."""
OUT_OF_WINDOW = {
    "at most": "Expect slow disintegration and capping: press less, lower the strength target, or "
    "change the blend.",
    "at least": "Expect soft edges and friability: press harder (the solid-fraction match says "
    "how hard), or widen the window knowingly.",
}
SLENDER = 1.7
"""Length over width above which the elongated formula holds (Pitt & Heasley 2013)."""


@risk()
def solid_fraction_out_of_window(case: TransferCase) -> Iterator[Risk]:
    """A predicted solid fraction outside the study's window."""
    for limit in case.limits:
        if not limit.code.startswith("solid-fraction"):
            continue
        for item in case.dialled:
            if item.point is None:
                continue
            kept = float(limit.holds(item.point).mean())
            if kept >= case.confidence:
                continue
            severity: Severity = "serious" if kept < 0.5 else "watch"
            yield Risk(
                "solid-fraction-out-of-window",
                severity,
                f"The {item.match} match gives a solid fraction of {limit.middle(item.point):.3f}; "
                f"the study allows {limit.side} {limit.bound:.2f}.",
                f"{sentence(of_draws(1.0 - kept, item.point.draws))} are outside.",
                OUT_OF_WINDOW[limit.side],
                1.0 - kept,
            )


@risk()
def strength_below_target(case: TransferCase) -> Iterator[Risk]:
    """The lab's pressure not meeting the strength target at speed."""
    here, limit = case.at_lab_pressure, case.target
    if case.fit.strength is None or limit is None:
        return
    kept = float(limit.holds(here).mean())
    if kept >= case.confidence:
        return
    middle = limit.middle(here)
    known = not np.isnan(middle)
    yield Risk(
        "strength-below-target",
        "severe" if kept < 0.1 else "serious",
        f"At the lab's pressure the {limit.label} is {limit.shown(middle)}; "
        f"the target is at least {limit.shown(limit.bound)}.",
        f"{sentence(of_draws(kept, here.draws))} meet it; {percent(case.confidence)} is asked."
        if known
        else f"For some draws {LOW_WALL}.",
        "Use the strength match if the press reaches it, or run slower."
        if known
        else "State the target as a strength, raise the weight, or take shallower cups.",
        1.0 - kept,
    )


@risk()
def elastic_recovery(case: TransferCase) -> Iterator[Risk]:
    """Elastic recovery of the kind that goes with capping."""
    worst = max(case.dialled, key=lambda item: item.dialled, default=None)
    if worst is None or worst.point is None:
        return
    if np.median(worst.point.most_recovery) < RECOVERY_WATCH:
        return
    recovery = float(np.median(worst.point.recovery))
    if recovery < RECOVERY_WATCH:
        return
    measured = case.fit.elastic_measured
    source = "in-die thickness of the runs" if measured else "a usual range, 2 to 8 % (from memory)"
    yield Risk(
        "elastic-recovery",
        "serious" if recovery >= RECOVERY_SERIOUS and measured else "watch",
        f"Tablets of the {worst.match} match grow by {percent(recovery)} on release.",
        f"Elastic part from {source}; above {percent(RECOVERY_WATCH)} points to capping (from "
        "memory).",
        "Look for lamination, try more precompression and a slower turret.",
        recovery,
    )


@risk()
def ejection_stress(case: TransferCase) -> Iterator[Risk]:
    """Ejection stress that is linked with sticking, wear and capping."""
    if case.fit.ejection is None:
        yield Risk(
            "ejection-not-checked",
            "watch",
            "Ejection was not checked: fewer than two lab runs have an ejection force.",
            f"Column ejection force of {case.study.lab.runs_file}.",
            "Read the ejection force of the next lab runs.",
        )
        return
    stresses = {
        item.match: float(np.median(item.point.ejection_stress))
        for item in case.dialled
        if item.point is not None and item.point.ejection_stress is not None
    }
    worst = max(stresses, key=lambda match: stresses[match], default="")
    stress = stresses.get(worst, 0.0)
    if stress < EJECTION_WATCH:
        return
    yield Risk(
        "ejection-stress",
        "serious" if stress >= EJECTION_SERIOUS else "watch",
        f"Ejection stress is up to {say(stress, 'MPa')}, under the {worst} match.",
        "Lab ejection force over the die wall area, carried along the lab's pressures; "
        "above 5 MPa linked with problems (common practice), 3 to 5 watch (from memory).",
        "Look at lubrication and die condition; expect more at speed and with worn dies.",
        stress,
    )


@risk()
def ejection_over_limit(case: TransferCase) -> Iterator[Risk]:
    """Ejection force over what the press allows."""
    for limit in case.limits:
        for item in case.dialled:
            if limit.code != "ejection-force" or item.point is None:
                continue
            value = limit.middle(item.point)
            if value > limit.bound:
                yield Risk(
                    "ejection-over-limit", "severe",
                    f"The {item.match} match takes {limit.shown(value)} to eject; the press "
                    f"allows {limit.shown(limit.bound)}.",
                    f"ejection_limit of {case.study.production.press.shown}.",
                    "Lubricate more or press less; do not run against the limit.",
                    value / limit.bound - 1.0,
                )  # fmt: skip


@risk(without_fit=True)
def strength_formula_range(case: TransferCase) -> Iterator[Risk]:
    """A strength formula used for a tablet unlike those it was tested on, of either press."""
    lab = case.reference.mean(lambda seen: seen.run.thickness, "mm", "thickness").value
    tablets = [("lab", case.reference.runs[0].side.tip, lab)]
    if case.fitted is not None:
        made = float(np.median(case.at_lab_pressure.thickness))
        tablets.append(("production", case.process.side.tip, made))
    for where, tip, thickness in tablets:
        if thickness is None:
            continue
        wall = float(tip.wall(np.array(thickness))) / tip.width
        for broken in _outside(tip, wall):
            yield Risk(
                "strength-formula-range",
                "watch",
                f"The {tip.shape} strength formula was not tested for the {where} tablet: "
                f"{broken}.",
                "Pitt, Newton & Stanley, J Mater Sci 23 (1988) 2723; Pitt & Heasley, Powder "
                "Technol 238 (2013) 169; ranges from memory.",
                "Compare with flat tablets of the same solid fraction.",
                wall,
            )


def _outside(tip: Tip, wall: float) -> Iterator[str]:
    if tip.cup_depth <= 0.0:
        return
    low, high = WALL_SHARE
    if not low <= wall <= high:
        yield f"wall height is {wall:.2f} of the width, tested {low:g} to {high:g}"
    radius = (tip.width**2 / 4.0 + tip.cup_depth**2) / (2.0 * tip.cup_depth)
    if tip.width / radius > CURVATURE_MOST:
        yield f"width over cup radius is {tip.width / radius:.2f}, tested up to {CURVATURE_MOST}"
    if tip.length > tip.width and tip.length / tip.width <= SLENDER:
        yield f"length over width is {tip.length / tip.width:.2f}, valid above {SLENDER}"
