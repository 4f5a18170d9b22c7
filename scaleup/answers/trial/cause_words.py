"""What each cause says, by how much, and what would tell it from the others."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from scaleup.model.estimate import Estimate, unavailable
from scaleup.sentence import Sentence, Words

Band = tuple[float, float, float]
"""Middle, lowest and highest of the amount."""


@dataclass(frozen=True)
class Told:
    """A cause in words."""

    size: Estimate
    sentence: Words
    check: Words


def told_of(code: str, amount: Band, exponent: float, run: str) -> Told:
    """Return a cause in words; `exponent` is the lab's at production dwell, `run` the one run."""
    if code == "as-predicted":
        return Told(unavailable("1", "nothing has to be explained"),
                    "All went as predicted, within what was not known before.", "")  # fmt: skip
    if code == "rate":
        middle, low, high = (exponent + each for each in amount)
        size = Estimate(middle, "1", low, high)
        return Told(size, _rate(size, exponent), CHECKS[code])
    if code == "one-run":
        size = unavailable("1", "of one run")
        told = Sentence(
            "{run} alone is off: a slip of reading, typing or setting, or a run that differed.",
            run=run,
        )
        return Told(size, told, CHECKS[code])
    middle, low, high = (float(np.expm1(each)) for each in amount)
    size = Estimate(middle, "1", low, high)
    return Told(size, Sentence(SENTENCES[code], size=middle, low=low, high=high), CHECKS[code])


def _rate(size: Estimate, exponent: float) -> Sentence:
    return Sentence(
        "The blend is {more} sensitive to speed than the lab showed: rate exponent {value:.3f} "
        "({low:.3f} to {high:.3f}) where {lab:.3f} was predicted.",
        more="more" if (size.value or 0.0) > exponent else "less",
        value=size.value or 0.0,
        low=size.low or 0.0,
        high=size.high or 0.0,
        lab=exponent,
    )


SENTENCES = {
    "solid-fraction-reading": "Solid fractions differ by {size:%} ({low:%} to {high:%}) from those "
    "predicted while strengths do not: balance, thickness gauge or true density.",
    "force-gauge": "The pressure that the powder sees differs by {size:%} ({low:%} to {high:%}) "
    "from what the production gauge reads: the gauge, or another friction at the die wall.",
    "strength-factor": "Strength at equal solid fraction differs by {size:%} ({low:%} to {high:%}) "
    "from the lab's all through the trial: shear in feeder or blender, or the tester.",
    "strength-drift": "Strength at equal solid fraction changed by {size:%} ({low:%} to {high:%}) "
    "from the first run to the last: a blend sheared for longer, segregation, or the tester.",
    "density-drift": "The pressure that the powder sees changed by {size:%} ({low:%} to {high:%}) "
    "from the first run to the last at the same reading: a gauge that warms, weight or filling "
    "that creeps.",
}
CHECKS_OF_DEFECTS = {
    "capping": "Look at precompression, air and the speed of release; cut tablets open.",
    "lamination": "Cut tablets open, and look at forces beyond the turning of strength.",
    "picking": "Look at the tip faces, engraving and moisture of the blend.",
    "sticking": "Look at the tip faces, the lubricant and the temperature of the tooling.",
    "friable": "Look at edges of tablets and at the dust in the discharge.",
}
CHECKS = {
    "rate": "Run the slowest and the fastest speed again at one force, in both orders.",
    "solid-fraction-reading": "Put a test weight on the balance and a gauge block under the "
    "thickness gauge; measure the true density of this batch.",
    "force-gauge": "Let both force gauges read one load (load cell or steel slug).",
    "strength-factor": "Press blend from the feeder on the lab press, and break tablets of one run "
    "on both testers.",
    "strength-drift": "Press blend from the feeder, taken at the start and at the end, on the lab "
    "press; break kept tablets of the first run again.",
    "density-drift": "Look at the zero of the gauge after the trial, at weights through each run, "
    "and at the powder level.",
    "one-run": "Look at the run's own page: weigh, gauge and break kept tablets again.",
}
