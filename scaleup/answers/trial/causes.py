"""Which causes a trial allows for what it showed, and what would tell them apart.

The draws of the lab's fit say what every run would measure, and how the runs go together: with
the scatter of the tablets that is a normal distribution ``y ~ N(mu, S)`` of all means at once. A
cause k moves them in a direction of its own, by an amount of which little is known beforehand,
``y ~ N(mu, S + tau_k^2 x_k x_k^T)``. How probable each cause is follows by Bayes' rule; its size
is the mean of the amount given the means, ``tau^2 x^T S^-1 r / (1 + tau^2 x^T S^-1 x)``. One cause
at a time: two at once are not looked for.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, replace

import numpy as np

from scaleup.answers.trial.cause_words import CHECKS_OF_DEFECTS, Told, told_of
from scaleup.answers.trial.results import RunResult
from scaleup.answers.trial.run_means import RunMeans
from scaleup.arrays import Array
from scaleup.model.defects import BOUNDING
from scaleup.model.estimate import Estimate, unavailable
from scaleup.sentence import Fact, Sentence, Words, joined
from scaleup.short_repr import short_repr

AS_PREDICTED, DEFECTS_SEEN = "as-predicted", "defects"
BEFORE = 0.6
"""Probability beforehand that a trial goes as predicted; the causes share the rest (a judgement of
this program)."""
NAMED = 0.10
"""Probability from which a cause is named."""
SHOWN = 0.05
"""ln of strength or pressure from which an effect that the fit shows is told, though it lies within
what was believed (a judgement of this program)."""
EVEN = 0.5
RATE_SHOWN = 0.15
"""The same of the rate exponent, as a share of it (a judgement of this program)."""
LEAST_RUNS = 2
NORMAL = 1.645

SPREADS = {
    "rate": 0.025,
    "solid-fraction-reading": 0.06,
    "force-gauge": 0.10,
    "strength-factor": 0.25,
    "strength-drift": 0.25,
    "density-drift": 0.10,
}
"""How large each cause may be, one standard deviation (judgements of this program): of the rate
exponent; of ln of a reading, of a force, of strength; of ln from the start to the end of the
trial, of strength and of pressure."""
ONE_RUN = "one-run"
ONE_RUN_SPREADS = (0.05, 0.4)
"""The same of one run that is wrong alone: of its solid fraction, and of ln of its strength."""


@short_repr
@dataclass(frozen=True)
class Cause:
    """One cause that a trial allows."""

    code: str
    probability: float
    size: Estimate
    """By how much, in the unit that its sentence tells; without a value where there is none."""
    told: Words
    check: Words
    """What would tell it from the others."""
    shown: bool = False
    """Whether the fit with the trial shows it clearly, within what was believed of it or not."""

    @property
    def named(self) -> bool:
        """Return whether it is told: probable enough, or clearly shown."""
        return self.probability >= NAMED or self.shown

    @property
    def of_readings(self) -> bool:
        """Return whether it says that something is read wrongly, so that nothing else is known."""
        return self.code in ("solid-fraction-reading", "force-gauge", ONE_RUN)

    @property
    def of_drift(self) -> bool:
        """Return whether it says that the trial was not at rest."""
        return self.code in ("strength-drift", "density-drift")


def causes(means: RunMeans, shown: dict[str, Array]) -> tuple[Cause, ...]:
    """Return every cause with its probability, the most probable first; none of too few runs.

    `shown` are draws of the amounts that the fit with the trial has of some causes, shape (draws,):
    ln of a factor, of the rate exponent the difference to the lab's.
    """
    if len(means.names) < LEAST_RUNS:
        return ()
    looks = [_Look(AS_PREDICTED, np.zeros(means.measured.size), 0.0, BEFORE, means)]
    share = (1.0 - BEFORE) / (len(SPREADS) + 1)
    for code, spread in SPREADS.items():
        direction = means.direction(code)
        if np.any(direction):
            looks.append(_Look(code, direction, spread, share, means))
    singles = list(_one_run(means, share))
    logs = np.array([each.log_weight for each in (*looks, *singles)])
    weights = np.exp(logs - logs.max())
    weights /= weights.sum()
    found = [_cause(look, float(weight)) for look, weight in zip(looks, weights, strict=False)]
    if singles:
        rest = weights[len(looks) :]
        best = singles[int(np.argmax(rest))]
        found.append(_cause(best, float(rest.sum())))
    readable = sum(each.probability for each in found if not (each.of_readings or each.of_drift))
    if readable >= EVEN:
        found = [_as_shown(each, shown, means.exponent) for each in found]
    return tuple(sorted(found, key=lambda each: -each.probability))


def _as_shown(cause: Cause, shown: dict[str, Array], exponent: float) -> Cause:
    """Return a cause with the whole of what the fit shows of it, where that is clear.

    What was believed of it beforehand is part of that, so that it is told within the belief too.
    """
    draws = shown.get(cause.code)
    if draws is None:
        return cause
    low, middle, high = (float(each) for each in np.quantile(draws, [0.05, 0.5, 0.95]))
    least = RATE_SHOWN * exponent if cause.code == "rate" else SHOWN
    if low <= 0.0 <= high or abs(middle) < least:
        return cause
    told = told_of(cause.code, (middle, low, high), exponent, "")
    return replace(cause, size=told.size, told=told.sentence, shown=True)


def defects_found(results: Sequence[RunResult]) -> tuple[Cause, ...]:
    """Return what was seen on tablets as a cause that needs no inference; none if nothing was."""
    parts = [
        Sentence(
            "{defects} in {run} at {force} and {speed}",
            defects=", ".join(names),
            run=each.name,
            force=Fact(each.force, "N"),
            speed=Fact(each.speed, "rpm"),
        )
        for each in results
        if (names := [name for name in BOUNDING if name in each.seen])
    ]
    if not parts:
        return ()
    told = Sentence("Seen: {runs}.", runs=joined("; ", parts))
    seen = {name for each in results for name in each.seen}
    check = " ".join(told for name, told in CHECKS_OF_DEFECTS.items() if name in seen)
    return (Cause(DEFECTS_SEEN, 1.0, unavailable("1", "seen, not measured"), told, check),)


@dataclass(frozen=True)
class _Look:
    """One cause held against the means."""

    code: str
    direction: Array
    spread: float
    before: float
    means: RunMeans
    run: str = ""

    @property
    def _solved(self) -> tuple[float, float]:
        """Return x^T S^-1 x and x^T S^-1 r."""
        solved = self.means.solve(self.direction)
        return float(self.direction @ solved), float(self.means.residual @ solved)

    @property
    def log_weight(self) -> float:
        """Return ln of prior times likelihood, but for what all causes have in common."""
        square, product = self._solved
        gain = 1.0 + self.spread**2 * square
        return float(
            np.log(self.before) - 0.5 * np.log(gain) + 0.5 * self.spread**2 * product**2 / gain
        )

    @property
    def size(self) -> tuple[float, float]:
        """Return mean and standard deviation of the amount."""
        square, product = self._solved
        gain = 1.0 + self.spread**2 * square
        return self.spread**2 * product / gain, self.spread / float(np.sqrt(gain))


def _one_run(means: RunMeans, share: float) -> Sequence[_Look]:
    count = means.measured.size
    return [
        _Look(ONE_RUN, row, ONE_RUN_SPREADS[int(means.of_strength[place])], share / count, means,
              means.name_of(place))
        for place, row in enumerate(np.eye(count))
    ]  # fmt: skip


def _cause(look: _Look, probability: float) -> Cause:
    middle, spread = look.size
    low, high = middle - NORMAL * spread, middle + NORMAL * spread
    told: Told = told_of(look.code, (middle, low, high), look.means.exponent, look.run)
    return Cause(look.code, probability, told.size, told.sentence, told.check)
