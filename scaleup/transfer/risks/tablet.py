"""Risks of the predicted tablet: density, recovery, ejection, the strength formula."""

from __future__ import annotations

from collections.abc import Iterator

import numpy as np

from scaleup.powder.tip import Tip
from scaleup.sentence import Fact, Sentence, share_of_draws
from scaleup.transfer.case import TransferCase
from scaleup.transfer.risks.registry import Risk, Severity, risk
from scaleup.transfer.settings import LOW_WALL

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
                Sentence(
                    "The {match} match gives a solid fraction of {solid_fraction:.3f}; the study "
                    "allows {side} {bound:.2f}.",
                    match=item.match,
                    solid_fraction=limit.middle(item.point),
                    side=limit.side,
                    bound=limit.bound,
                ),
                Sentence(
                    "{outside:capital} are outside.",
                    outside=share_of_draws(1.0 - kept, item.point.draws),
                ),
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
        Sentence(
            "At the lab's pressure the {figure} is {strength}; the target is at least {target}.",
            figure=limit.label,
            strength=limit.fact(middle),
            target=limit.fact(limit.bound),
        ),
        Sentence(
            "{met:capital} meet it; {confidence:%} is asked.",
            met=share_of_draws(kept, here.draws),
            confidence=case.confidence,
        )
        if known
        else f"For some draws {LOW_WALL}.",
        _stronger(case)
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
        Sentence(
            "Tablets of the {match} match grow by {recovery:%} on release.",
            match=worst.match,
            recovery=recovery,
        ),
        Sentence(
            "Elastic part from {source}; above {watched_from:%} points to capping (from memory).",
            source=source,
            watched_from=RECOVERY_WATCH,
        ),
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
            Sentence(
                "Ejection was not checked: fewer than two lab runs have an ejection force.",
                runs_with_ejection=sum(
                    seen.run.ejection_force is not None for seen in case.lab_runs
                ),
            ),
            Sentence("Column ejection force of {file}.", file=case.study.lab.runs_file),
            "Read the ejection force of the next lab runs.",
            about="ejection measured",
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
        Sentence(
            "Ejection stress is up to {stress}, under the {match} match.",
            stress=Fact(stress, "MPa"),
            match=worst,
        ),
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
                    Sentence(
                        "The {match} match takes {force} to eject; the press allows {limit}.",
                        match=item.match,
                        force=limit.fact(value),
                        limit=limit.fact(limit.bound),
                    ),
                    Sentence(
                        "ejection_limit of {profile}.", profile=case.study.production.press.shown
                    ),
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
                Sentence(
                    "The {shape} strength formula was not tested for the {side} tablet: {why}.",
                    shape=tip.shape,
                    side=where,
                    why=broken,
                ),
                "Pitt, Newton & Stanley, J Mater Sci 23 (1988) 2723; Pitt & Heasley, Powder "
                "Technol 238 (2013) 169; ranges from memory.",
                "Compare with flat tablets of the same solid fraction.",
                wall,
            )


def _outside(tip: Tip, wall: float) -> Iterator[Sentence]:
    if tip.cup_depth <= 0.0:
        return
    low, high = WALL_SHARE
    if not low <= wall <= high:
        yield Sentence(
            "wall height is {wall:.2f} of the width, tested {low:g} to {high:g}",
            wall=wall,
            low=low,
            high=high,
        )
    radius = (tip.width**2 / 4.0 + tip.cup_depth**2) / (2.0 * tip.cup_depth)
    if tip.width / radius > CURVATURE_MOST:
        yield Sentence(
            "width over cup radius is {curvature:.2f}, tested up to {most:g}",
            curvature=tip.width / radius,
            most=CURVATURE_MOST,
        )
    if tip.length > tip.width and tip.length / tip.width <= SLENDER:
        yield Sentence(
            "length over width is {slenderness:.2f}, valid above {least:g}",
            slenderness=tip.length / tip.width,
            least=SLENDER,
        )


def _stronger(case: TransferCase) -> str:
    """Return what makes stronger tablets: a slower turret only where it does."""
    slower = ", or run slower" if case.slower_is_stronger else ""
    return f"Use the strength match if the press reaches it{slower}."
