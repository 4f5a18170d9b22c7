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
    for towards in ("more pressure", "less pressure"):
        for seen in seen_in(case.observations, towards):
            yield _bounding(seen)


def _bounding(seen: Seen) -> Risk:
    run = seen.run
    at: Words = ""
    if run.speed:
        at = Sentence(" at {speed}", speed=Fact(run.speed, "rpm"))
    return Risk(
        "defects-seen",
        "serious",
        Sentence(
            "{defects} seen in {run}, {pressure}{at}: {bound}.",
            defects=", ".join(run.defects).capitalize(),
            run=run.name,
            pressure=Fact(run.pressure, "MPa"),
            at=at,
            bound=_bound(seen),
        ),
        "Seen on tablets, whatever the draws say.",
        "Look at precompression, release speed, tooling and blend before going there again.",
        run.pressure,
    )


def _bound(seen: Seen) -> Words:
    """Return what is not set any more."""
    faster: Words = ""
    if seen.free:
        faster = Sentence(
            " faster than {free}, at which it was not seen", free=Fact(seen.free, "rpm")
        )
    elif seen.run.speed:
        faster = Sentence(" at {speed} or faster", speed=Fact(seen.run.speed, "rpm"))
    if not seen.harder:
        return Sentence(
            "no setting softer than {softest}{faster}",
            softest=Fact((1.0 + DISTANCE) * seen.run.pressure, "MPa"),
            faster=faster,
        )
    if not seen.run.speed:
        hardest = Fact((1.0 - DISTANCE) * seen.run.pressure, "MPa")
        return Sentence("no setting harder than {hardest}", hardest=hardest)
    return Sentence(
        "no setting{faster}, unless a run as hard and as fast was free of it", faster=faster
    )
