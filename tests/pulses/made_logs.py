"""Force logs made with every figure known: drift, decay, hum, overlap, noise, steps of a converter.

Nothing here is taken from the package: a shape is a formula, its figures are read from that formula
on a fine grid, and a log is the sum of such shapes with what a gauge and its amplifier add.
"""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass, field

import numpy as np
from numpy.typing import NDArray

Array = NDArray[np.float64]
Shape = Callable[[Array], Array]
"""Share of the peak at places from 0 to 1 of the contact."""
EXPONENT = 0.032
FINE = 400_001


def half_sine(place: Array) -> Array:
    return np.sin(np.pi * np.clip(place, 0.0, 1.0))


def soft_foot(place: Array) -> Array:
    """Rise and fall of powder: force grows steeply only near the top."""
    result: Array = np.sin(np.pi * np.clip(place, 0.0, 1.0)) ** 2.5
    return result


def skewed(place: Array) -> Array:
    """A slow rise, and a release of a third of its time."""
    place = np.clip(place, 0.0, 1.0)
    result: Array = np.where(
        place < 0.75,
        np.sin(0.5 * np.pi * place / 0.75) ** 2,
        np.sin(0.5 * np.pi * (1.0 - place) / 0.25) ** 2,
    )
    return result


def flat_top(place: Array) -> Array:
    """Flanks of a fifth each, and a hold that falls by 3 % after its beginning."""
    place = np.clip(place, 0.0, 1.0)
    hold = 1.0 - 0.03 * (place - 0.2) / 0.6
    result: Array = np.minimum(np.minimum(place / 0.2, hold), np.minimum((1.0 - place) / 0.2, 1.0))
    return result


def turret(place: Array) -> Array:
    """Steep flanks and a short flat top, as of a roller on a flat head."""
    away = np.abs(2.0 * np.clip(place, 0.0, 1.0) - 1.0)
    flank = np.clip((away - 0.08) / 0.92, 0.0, 1.0)
    result: Array = (1.0 - flank**2) ** 1.7
    return result


SHAPES: dict[str, Shape] = {
    "half sine": half_sine,
    "soft foot": soft_foot,
    "skewed": skewed,
    "flat top": flat_top,
    "turret": turret,
}


@dataclass(frozen=True)
class Figures:
    """Of one shape of unit peak and unit contact."""

    rise: float
    above_90: float
    area: float
    dwell: float

    @classmethod
    def of(cls, shape: Shape) -> Figures:
        place = np.linspace(0.0, 1.0, FINE)
        share = shape(place)
        step = place[1]
        up = [float(place[int((share >= level).argmax())]) for level in (0.1, 0.9)]
        return cls(
            rise=up[1] - up[0],
            above_90=float((share >= 0.9).sum() * step),
            area=float(share.sum() * step),
            dwell=float((share ** (1.0 / EXPONENT)).sum() * step),
        )


@dataclass(frozen=True)
class MadeLog:
    """What is put into a log; times in s, forces in N."""

    shape: str = "half sine"
    count: int = 64
    contact: float = 0.012
    pitch: float = 0.083
    peak: float = 15e3
    scatter: float = 0.02
    """Relative, from compression to compression."""
    stations: int = 16
    by_station: tuple[float, ...] = ()
    """Factor of the peak of each station; 1 where there is none."""
    pre_share: float = 0.0
    pre_after: float = 0.45
    """Of the pitch, after which the precompression of another punch follows."""
    missing: frozenset[int] = frozenset()
    double: frozenset[int] = frozenset()
    """Compressions that are struck again a fifth of the pitch later."""
    rate: float = 50e3
    lead: float = 0.05
    """Idle time before the first and after the last."""
    cut: bool = False
    """The log begins and ends in the middle of the run."""
    noise: float = 0.0
    zero: float = 0.0
    drift: Callable[[Array], Array] | None = None
    hum: float = 0.0
    step: float = 0.0
    """Of the converter, N."""
    jitter: float = 0.0
    """Of the time stamps, as a share of their step."""
    gain: float = 1.0
    seed: int = 0
    figures: dict[str, Array] = field(default_factory=dict, compare=False, repr=False)

    def made(self) -> tuple[Array, Array]:
        """Return time and force; `truth` is known afterwards."""
        rng = np.random.default_rng(self.seed)
        places = np.array([k for k in range(self.count) if k not in self.missing])
        factor = 1.0 + self.scatter * rng.standard_normal(self.count)
        if self.by_station:
            factor *= np.array([self.by_station[k % self.stations] for k in range(self.count)])
        begins = self.lead + self.pitch * places
        strikes = [(begin, self.peak * factor[k]) for begin, k in zip(begins, places, strict=True)]
        again = [
            (self.lead + self.pitch * (k + 0.2), 0.8 * self.peak * factor[k]) for k in self.double
        ]
        pre = [
            (begin + self.pre_after * self.pitch, self.pre_share * top)
            for begin, top in strikes
            if self.pre_share
        ]
        end = self.lead * 2.0 + self.pitch * (self.count - 1) + self.contact
        time = np.arange(0.0, end, 1.0 / self.rate)
        stamps = time + self.jitter / self.rate * rng.uniform(-0.5, 0.5, time.size)
        force = np.zeros(time.size)
        shape = SHAPES[self.shape]
        for begin, top in [*strikes, *again, *pre]:
            some = slice(*np.searchsorted(stamps, [begin, begin + self.contact]))
            force[some] += top * shape((stamps[some] - begin) / self.contact)
        force *= self.gain
        force += self.zero + self.noise * rng.standard_normal(time.size)
        if self.drift is not None:
            force += self.drift(time)
        force += self.hum * np.sin(2.0 * np.pi * 50.0 * time + 0.7)
        if self.step:
            force = np.rint(force / self.step) * self.step
        if self.cut:
            inside = (stamps > self.lead + 0.3 * self.contact) & (
                stamps < end - self.lead - 0.7 * self.contact
            )
            stamps, force = stamps[inside] - stamps[inside][0], force[inside]
            strikes = strikes[1:-1]
        known = Figures.of(shape)
        tops = self.gain * np.array([top for _, top in strikes])
        self.figures.update(
            peak=tops,
            rise=np.full(tops.size, known.rise * self.contact),
            above_90=np.full(tops.size, known.above_90 * self.contact),
            contact=np.full(tops.size, self.contact),
            dwell=np.full(tops.size, known.dwell * self.contact),
            area=tops * known.area * self.contact,
        )
        return stamps, force

    @property
    def truth(self) -> dict[str, Array]:
        """Return the figures of the main compressions, in the order of time."""
        if not self.figures:
            self.made()
        return self.figures


def ramp(size: float, seconds: float, begin: float = 0.0) -> Callable[[Array], Array]:
    """Return a zero that rises by so much over so many seconds, and stays."""
    return lambda time: size * np.clip((time - begin) / seconds, 0.0, 1.0)


def wave(size: float, period: float) -> Callable[[Array], Array]:
    return lambda time: 0.5 * size * np.sin(2.0 * np.pi * time / period)


def decay(size: float, constant: float) -> Callable[[Array], Array]:
    """Return the offset of a charge amplifier that decays."""
    return lambda time: size * np.exp(-time / constant)


BIT = 40e3 / 4096
"""A step of a 12-bit converter over 40 kN."""
LARGE: dict[str, object] = {
    "contact": 0.0215, "pitch": 60 / 55 / 70, "stations": 55, "shape": "soft foot",
}  # fmt: skip
"""55 stations at 70 rpm: the next punch is under the roller before this one has left it."""
CASES: dict[str, dict[str, object]] = {
    "clean, 50,000 samples/s": {},
    "converter of 12 bits": {"step": BIT},
    "12 bits and noise of half a step": {"step": BIT, "noise": 5.0},
    "noise of 0.1 % of the peak": {"noise": 15.0},
    "noise of 1 %": {"noise": 150.0},
    "2,000 samples/s": {"rate": 2e3},
    "2,000 samples/s, 12 bits, noise": {"rate": 2e3, "step": BIT, "noise": 10.0},
    "1,000 samples/s": {"rate": 1e3},
    "a zero that drifts by 10 % in ten pulses": {"drift": wave(1500.0, 1.7), "noise": 20.0},
    "an offset that decays from 10 %": {"drift": decay(1500.0, 2.0), "noise": 20.0},
    "mains hum of 0.5 %": {"hum": 75.0, "noise": 10.0},
    "time stamps that jitter by half a step": {"jitter": 0.5, "noise": 5.0, "rate": 1e4},
    "two punches under the roller": {**LARGE, "noise": 20.0, "step": BIT},
    "the same, drifting": {**LARGE, "noise": 20.0, "drift": wave(1500.0, 0.8)},
    "all of these at once": {
        **LARGE, "noise": 20.0, "drift": wave(1500.0, 0.8), "hum": 40.0, "step": BIT,
        "jitter": 0.3, "rate": 1e4,
    },
}  # fmt: skip
"""What is put into a log, in words and as fields of it."""
