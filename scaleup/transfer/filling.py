"""How deep a die is filled: the density of loose powder, and what another feeder makes of it."""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass

import numpy as np
from scipy.special import ndtri, stdtrit

from scaleup.arrays import Array
from scaleup.calibration.observations import Observation
from scaleup.model.estimate import BAND, Estimate, mean_of, unavailable
from scaleup.model.ranges import Range
from scaleup.model.study import Study
from scaleup.powder.tip import Tip
from scaleup.sentence import Sentence, Words

BY_HAND = 0.10
"""Share by which a feeder of any kind may change a fill density got by hand, or the other way
round: it holds 90 % of such changes (from memory)."""
SHOE_TO_PADDLES = 0.05
"""The same between a gravity feeder and a forced one (a judgement of this program)."""
POINTS = 4096
"""Values that a fill depth is spread over; evenly, and so the same every time."""
GOLDEN = (np.sqrt(5.0) - 1.0) / 2.0
"""Steps of this share of 1 fall evenly, and in no order that the other spread has."""
NOTHING = "no fill depth in the runs, so no fill density"


def feed_spread(known: str, asked: str) -> float:
    """Return the share by which a fill density may change from one way of feeding to another.

    >>> feed_spread("hand", "forced"), feed_spread("gravity", "forced"), feed_spread("hand", "hand")
    (0.1, 0.05, 0.0)
    """
    if known == asked:
        return 0.0
    return BY_HAND if "hand" in (known, asked) else SHOE_TO_PADDLES


@dataclass(frozen=True)
class Filling:
    """Loose powder in the dies of some runs, on its way to a press that fills them as asked."""

    density: Array
    """mg/mm³ in each die whose depth was recorded."""
    known: str
    """How those dies were fed: hand, gravity or forced."""
    asked: str
    """How the dies asked about are fed."""

    @property
    def spread(self) -> float:
        """Return the share by which the other way of feeding may change the density."""
        return feed_spread(self.known, self.asked)

    def depth(self, weight: float, tip: Tip) -> Estimate:
        """Return the depth in mm from die face to the edge of the lower tip, with its band.

        ``(m/rho - V_cup)/A``, the lower cup being filled as well. The mean of the dies has the band
        of a mean; another way of feeding widens it.
        """
        each = weight / (self.density * tip.area) - tip.cup_volume / tip.area
        if self.spread == 0.0:
            return mean_of(each, "mm")
        ends = [(1.0 - BAND) / 2.0, (1.0 + BAND) / 2.0]
        low, high = np.quantile(self.depths(weight, tip), ends)
        return Estimate(float(each.mean()), "mm", float(low), float(high))

    def depths(self, weight: float, tip: Tip) -> Array:
        """Return the depth in mm at evenly spread probabilities, shape (points,)."""
        even = (np.arange(POINTS) + 0.5) / POINTS
        apart = (np.arange(POINTS) + 0.5) * GOLDEN % 1.0
        height = weight / (self.density * tip.area)
        middle = np.full(POINTS, height.mean())
        if height.size > 1:
            error = height.std(ddof=1) / np.sqrt(height.size)
            middle = middle + error * stdtrit(height.size - 1, apart)
        factor = np.exp(self.spread * ndtri(even) / ndtri((1.0 + BAND) / 2.0))
        depths: Array = middle / factor - tip.cup_volume / tip.area
        return depths

    def within(self, ranges: Iterable[Range], weight: float, tip: Tip) -> float:
        """Return the share of depths that one range or another covers."""
        depths = self.depths(weight, tip)
        covered = [(depths >= each.min) & (depths <= each.max) for each in ranges]
        return float(np.any(covered, axis=0).mean())

    @property
    def told(self) -> Words:
        """Return why the band is wider than the runs make it, empty if it is not."""
        if self.spread == 0.0:
            return ""
        origin = "from memory" if self.spread == BY_HAND else "a judgement"
        return Sentence(
            "fill depth: dies known were filled by {known}, those asked about by {asked}, which "
            "may change the fill density by ±{spread:%} ({origin})",
            known=_way(self.known),
            asked=_way(self.asked),
            spread=self.spread,
            origin=origin,
        )


def _way(feed: str) -> str:
    return "hand" if feed == "hand" else f"a {feed} feeder"


def filling_of(
    study: Study, seen: Iterable[Observation], reference: str, asked: str
) -> Filling | None:
    """Return the loose powder of the runs that tell most of a way of feeding; None if none does.

    Runs whose press feeds most like the press asked about come first, and of those the reference.
    """
    feeds: dict[str, str] = {"lab": study.lab.press.profile.feed}
    feeds |= {maker: side.press.profile.feed for maker, side in study.makers.items()}
    known = [each for each in seen if each.fill_density is not None]
    if not known:
        return None
    least = min(feed_spread(feeds[each.run.maker], asked) for each in known)
    alike = [each for each in known if feed_spread(feeds[each.run.maker], asked) == least]
    chosen = [each for each in alike if each.run.name == reference] or alike
    density = np.array([each.fill_density for each in chosen], dtype=np.float64)
    return Filling(density, feeds[chosen[0].run.maker], asked)


def fill_depth(filling: Filling | None, weight: float, tip: Tip) -> Estimate:
    """Return the fill depth in mm, or that no run tells it."""
    return unavailable("mm", NOTHING) if filling is None else filling.depth(weight, tip)
