"""Risks in the production runs: readings that cannot be right, and a trial that was not at rest."""

from __future__ import annotations

from collections.abc import Iterator

import numpy as np

from scaleup.arrays import Array
from scaleup.model.estimate import BAND
from scaleup.sentence import Fact, Sentence, Words
from scaleup.transfer.case import TransferCase
from scaleup.transfer.risks.registry import Risk, risk
from scaleup.transfer.seen_defects import DISTANCE, Seen, seen_in

BEYOND_BELIEF = 3.0
"""Standard deviations of what is believed of an offset from which a reading is in doubt (a
judgement of this program)."""
DRIFT_PRESSURE, DRIFT_STRENGTH = 0.05, 0.10
"""Change from the first run to the last from which a trial was not at rest (judgements of this
program)."""


@risk(standing=True)
def readings_beyond_belief(case: TransferCase) -> Iterator[Risk]:
    """An offset of production pressures that gauges and friction hardly make."""
    runs = case.fit.plant.runs
    if runs is None or runs.log_pressure is None:
        return
    middle, spread = runs.believed
    off = float(np.median(runs.log_pressure))
    size = abs(off - middle) / spread
    if size < BEYOND_BELIEF:
        return
    yield Risk(
        "production-readings",
        "severe",
        Sentence(
            "Production runs fit only if their pressure counts {offset:%} more than the gauge "
            "reads, {size:.1f} standard deviations beyond what gauges and friction make: weight, "
            "thickness, true density or force is read wrongly.",
            offset=float(np.expm1(off)),
            size=size,
        ),
        Sentence("Production runs on {press}.", press=runs.press),
        "Check balance, thickness gauge, true density and force gauge; correct the runs, or leave "
        "them out.",
        size,
        effect="lacks evidence",
    )


@risk(standing=True)
def trial_not_at_rest(case: TransferCase) -> Iterator[Risk]:
    """Strength or pressure that changed from the first production run to the last."""
    runs = case.fit.plant.runs
    if runs is None:
        return
    looked: tuple[tuple[str, Array | None, float], ...] = (
        ("strength at equal solid fraction", runs.strength_drift, DRIFT_STRENGTH),
        ("the pressure that densifies, at one reading,", runs.pressure_drift, DRIFT_PRESSURE),
    )
    for figure, draws, least in looked:
        if draws is None:
            continue
        low, middle, high = np.expm1(np.quantile(draws, [(1 - BAND) / 2, 0.5, (1 + BAND) / 2]))
        if abs(middle) < least or low <= 0.0 <= high:
            continue
        yield Risk(
            "production-drift",
            "severe",
            Sentence(
                "Through the production runs {figure} changed by {change:%} ({low:%} to {high:%}).",
                figure=figure,
                change=float(middle),
                low=float(low),
                high=float(high),
            ),
            "Runs of which the table says when they were made (elapsed).",
            "Find out what changed (feeder, blend, gauge, tester), and run the centre again at the "
            "start and at the end of a longer trial.",
            abs(float(middle)),
            effect="lacks evidence",
        )


@risk()
def defects_seen(case: TransferCase) -> Iterator[Risk]:
    """Capping, lamination, picking, sticking or friable tablets in any run."""
    for seen in seen_in(case.observations, "more pressure"):
        yield _bounded(seen, "or harder")
    for seen in seen_in(case.observations, "less pressure"):
        yield _bounded(seen, "or softer")


def _bounded(seen: Seen, which: str) -> Risk:
    at: Words = ""
    if seen.free:
        at = Sentence(" faster than {free}, at which it was not seen", free=Fact(seen.free, "rpm"))
    elif seen.speed:
        at = Sentence(" and {speed} or faster", speed=Fact(seen.speed, "rpm"))
    return Risk(
        "defects-seen",
        "serious",
        Sentence(
            "{defects} seen in {run}{when}: no setting at {pressure} {which}{at}.",
            defects=", ".join(seen.defects).capitalize(),
            run=seen.name,
            when=Sentence(" at {speed}", speed=Fact(seen.speed, "rpm")) if seen.speed else "",
            pressure=Fact(seen.pressure, "MPa"),
            which=which,
            at=at,
        ),
        Sentence("Settings keep {distance:%} away in pressure.", distance=DISTANCE),
        "Look at precompression, release speed, tooling and blend before going there again.",
        seen.pressure,
    )
