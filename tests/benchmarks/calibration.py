"""Do the 90 % bands hold the truth in 90 % of studies? Simulated studies with a known powder.

``python tests/benchmarks/calibration.py`` runs the whole: 400 studies for each grade of evidence
with truths that follow the law, then 400 for each way in which truth may not follow it. Lab
designs, materials, presses and the scatter of the lab differ from study to study:

- rate exponents of the 13 published materials, each study's within 25 %, or 0.004 (standard
  deviation), of one of them; the material is named to the fit only where evidence is borrowed;
- any of the three hardening forms, which the fit is not told;
- designs with holds or loading rates decades apart (measured), or with one dwell (borrowed and
  assumed); scatter of weight 0.5 to 1.5 %, breaking force 5 to 10 %, thickness 0.3 to 0.9 %.

Where the truth is of the law alone, the studies switch everything else off. In the plant's worlds
(`tests.benchmarks.plant_worlds`) gauges, friction, shear, lots, testers and readings are drawn, and
the truth is the mean of the next production batch.
"""

from __future__ import annotations

import argparse
import sys
import time
from collections.abc import Callable, Iterator
from concurrent.futures import ProcessPoolExecutor
from dataclasses import dataclass, replace
from functools import cache, partial
from pathlib import Path
from typing import Literal, TypeVar

import numpy as np

from scaleup.answers.analysis import Analysis
from scaleup.arrays import Array, Places
from scaleup.calibration.calibrated_study import calibrated
from scaleup.calibration.fit import Drawing, Fit
from scaleup.calibration.observations import Side, side_of
from scaleup.calibration.prior import exponent_of
from scaleup.io.library import find_press, find_tooling
from scaleup.io.materials import materials
from scaleup.io.study import read_study
from scaleup.model.estimate import Estimate, drawn
from scaleup.model.press import Feeder, RotaryProfile
from scaleup.model.ranges import Range
from scaleup.model.run import Run
from scaleup.model.study import LabSide, ProductionSide, Study
from scaleup.model.transfer_terms import SPREAD_OF_CURVATURE, TERMS, Blending, TransferTerms
from scaleup.powder.compression import Pulse, compress
from scaleup.powder.hardening import Hardening, Heckel, Kawakita, KuentzLeuenberger
from scaleup.powder.law import Powder
from scaleup.presses.press import Setting
from scaleup.transfer.case import transfer_case
from scaleup.transfer.matches import same_solid_fraction

sys.path.insert(0, str(Path(__file__).parents[2]))
from tests.benchmarks.plant_worlds import (
    CERTIFICATE,
    HOLD_UP,
    LAB_SHEAR,
    LAW_ALONE,
    STEADY_PRESSURE,
    STEADY_STRENGTH,
    Between,
    drawn_between,
    measured_between,
)

EXAMPLE = Path(__file__).parents[2] / "examples" / "marram"
WEIGHT, DENSITY = 400.0, 1.54
DRAWS = 800
MATERIAL_SPREAD, LEAST_SPREAD = 0.25, 0.004
DENSEST_TABLET = 0.97
GROWTH = 1e-4
"""Share by which a tablet of the other powder grows after ejection, for each MPa of pressure."""
PRODUCTION = (("rotary-mid-19", 45.0), ("rotary-single-31", 60.0), ("rotary-pilot-7", 30.0))


@dataclass(frozen=True)
class Condition:
    """What one lab condition is set to, N, s, N/s and strokes/min."""

    force: float
    hold: float | None = None
    loading_rate: float | None = None
    speed: float | None = None


@dataclass(frozen=True)
class Design:
    """The lab press of a study and its conditions; `reference` is the one to make again."""

    press: str
    conditions: tuple[Condition, ...]
    replicates: int
    reference: int


def _holds(*pairs: tuple[float, float]) -> tuple[Condition, ...]:
    return tuple(Condition(force * 1e3, hold, 5e3) for force, hold in pairs)


def _loaded(*pairs: tuple[float, float]) -> tuple[Condition, ...]:
    return tuple(Condition(force * 1e3, 0.0, rate * 1e3) for force, rate in pairs)


MEASURED = (
    Design("lab-hydraulic", _holds((6, 1), (9, 1), (12, 1), (15, 1), (9, 0), (9, 30), (12, 30),
                                   (6, 0)), 3, 2),
    Design("lab-hydraulic", _holds((5, 0), (8, 0), (12, 0), (8, 20), (12, 20)), 3, 1),
    Design("lab-hydraulic", _loaded((5, 0.5), (9, 0.5), (14, 0.5), (5, 20), (9, 20), (14, 20)), 2,
           4),
    Design("lab-hydraulic", _holds((7, 0), (11, 0), (16, 0), (11, 60)), 4, 1),
)  # fmt: skip
ONE_DWELL = (
    Design("lab-hydraulic", _holds((5, 1), (8, 1), (11, 1), (14, 1)), 3, 2),
    Design("lab-hand-pump", tuple(Condition(force * 1e3) for force in (5, 7.5, 10, 15)), 3, 2),
    Design(
        "lab-eccentric", tuple(Condition(force * 1e3, speed=60.0) for force in (6, 9, 13)), 4, 1
    ),
)
DESIGNS = {"measured": MEASURED, "borrowed": ONE_DWELL, "assumed": ONE_DWELL}


@dataclass(frozen=True)
class CooperEaton:
    """A hardening form the fit does not have: two kinds of pores, filled one after the other.

    ``V = V_0 - (V_0 - 1) (a e^(-k_1/P) + (1 - a) e^(-k_2/P))``, V the volume over that of the solid
    (Cooper & Eaton, J Am Ceram Soc 45 (1962) 97, from memory).
    """

    volume: Array
    share: Array
    first: Array
    second: Array

    @property
    def scale(self) -> Array:
        return self.second

    def _filled(self, pressure: Array) -> tuple[Array, Array]:
        pressure = np.maximum(pressure, 1e-3)
        parts = ((self.share, self.first), (1.0 - self.share, self.second))
        values = [weight * np.exp(-k / pressure) for weight, k in parts]
        slopes = [value * k / pressure**2 for value, (_, k) in zip(values, parts, strict=True)]
        return sum(values, np.zeros(1)), sum(slopes, np.zeros(1))

    def densification(self, static_pressure: Array) -> Array:
        filled, _ = self._filled(static_pressure)
        left: Array = (self.volume - 1.0) * (1.0 - filled)
        return np.log1p(left) - np.log(left)

    def slope(self, static_pressure: Array) -> Array:
        filled, growth = self._filled(static_pressure)
        left = (self.volume - 1.0) * (1.0 - filled)
        result: Array = (self.volume - 1.0) * growth / (left * (1.0 + left))
        return result

    def densification_and_slope(self, static_pressure: Array) -> tuple[Array, Array]:
        return self.densification(static_pressure), self.slope(static_pressure)

    def static_pressure(self, densification: Array) -> Array:
        low, high = np.full_like(densification, 1e-3), np.full_like(densification, 1e5)
        for _ in range(80):
            middle = np.sqrt(low * high)
            loose = self.densification(middle) < densification
            low, high = np.where(loose, middle, low), np.where(loose, high, middle)
        return low

    def chosen(self, which: Places) -> CooperEaton:
        return CooperEaton(
            self.volume[which], self.share[which], self.first[which], self.second[which]
        )

    def named(self) -> tuple[tuple[str, Array, str], ...]:
        return (("V_0", self.volume, "1"),)


def _one(value: float) -> Array:
    return np.array([value])


def _between(rng: np.random.Generator, low: float, high: float) -> Array:
    """Return one value whose logarithm is even between two ends."""
    return _one(float(np.exp(rng.uniform(np.log(low), np.log(high)))))


def _lawful(rng: np.random.Generator) -> Hardening:
    kinds: tuple[Callable[[], Hardening], ...] = (
        lambda: Heckel(_between(rng, 80.0, 300.0), _one(rng.uniform(0.4, 0.9))),
        lambda: KuentzLeuenberger(_between(rng, 80.0, 300.0), _one(rng.uniform(0.35, 0.8))),
        lambda: Kawakita(_between(rng, 25.0, 150.0), _one(rng.uniform(0.3, 0.8))),
    )
    return kinds[rng.integers(len(kinds))]()


def _cooper_eaton(rng: np.random.Generator) -> Hardening:
    return CooperEaton(
        _one(rng.uniform(1.8, 3.0)),
        _one(rng.uniform(0.5, 0.7)),
        _between(rng, 4.0, 15.0),
        _between(rng, 60.0, 250.0),
    )


@dataclass(frozen=True)
class World:
    """How truths and runs come about."""

    name: str
    hardening: Callable[[np.random.Generator], Hardening] = _lawful
    change: float = 0.0
    """Share by which the rate exponent changes for each decade of dwell, up or down."""
    gross: float = 0.0
    """Share of runs with a gross error."""
    plant: Callable[[np.random.Generator], Between] | None = None
    """What lies between lab and plant; None for the law alone."""
    times: float = 1.0
    """How many times its spread the change of the exponent is drawn with, in a plant's world."""
    thickness_off: float = 0.0
    """mm by which the lab's thickness gauge is off, up or down."""
    powder: Literal["exponential", "power"] = "exponential"
    """How strength follows solid fraction, and whether tablets grow more after more pressure."""
    measured: bool = False
    """Whether the study states what its site measured."""


LAW = World("the law")
STRANGE = (
    World("another hardening form", hardening=_cooper_eaton),
    World("an exponent that changes by a quarter per decade", change=0.25),
    World("one run in 25 grossly wrong", gross=0.04),
    World("all three together", hardening=_cooper_eaton, change=0.25, gross=0.04),
)
PLANTS = (
    World("a plant as believed", plant=drawn_between),
    World("a plant whose terms were measured", plant=measured_between, measured=True),
    World("a plant with another powder", hardening=_cooper_eaton, plant=drawn_between,
          powder="power"),
    World("a plant, the lab's thickness gauge off by 0.03 mm", plant=drawn_between,
          thickness_off=0.03),
    World("a plant, one run in 25 grossly wrong", plant=drawn_between, gross=0.04),
    World("a plant with twice the spread", plant=partial(drawn_between, times=2.0), times=2.0),
)  # fmt: skip


@dataclass(frozen=True)
class Truth:
    """One powder with its strength curve."""

    powder: Powder
    material: str
    strength_of_solid: float
    porosity_exponent: float
    between: Between = LAW_ALONE
    power: tuple[float, float] | None = None
    """SF_c and n of ``sigma_0 ((SF - SF_c)/(1 - SF_c))^n``; None for an exponential."""

    def solid_fraction(self, pulse: Pulse) -> float:
        whole = float(self.powder.solid_fraction(pulse.static_pressure)[0])
        if self.power is None:
            return whole
        return whole / (1.0 + GROWTH * float(pulse.peak_pressure[0]))

    def strength(self, solid_fraction: float) -> float:
        if self.power is not None:
            least, power = self.power
            return float(
                self.strength_of_solid * max((solid_fraction - least) / (1.0 - least), 0.0) ** power
            )
        return float(
            self.strength_of_solid * np.exp(-self.porosity_exponent * (1.0 - solid_fraction))
        )

    def acting(self, side: Side, read: float, weight: float, *, plant: bool) -> float:
        """Return the mean pressure in the powder in MPa at a pressure that the gauge reads."""
        area = side.tip.area
        height = weight / (DENSITY * self.between.density * 0.85 * area)
        share = self.between.share(height, 4.0 * area / side.tip.perimeter, 2 if plant else 1)
        gauge = self.between.plant_gauge if plant else self.between.lab_gauge
        lot = self.between.lot_pressure if plant else 1.0
        return read * gauge * share * lot

    def pressed(
        self, side: Side, read: float, setting: Setting, weight: float, *, plant: bool = False
    ) -> Pulse:
        charge = side.tip.charge(weight, DENSITY * self.between.density)
        pressure = self.acting(side, read, weight, plant=plant)
        return compress(side.press, self.powder, charge, np.array([pressure]), setting)

    def in_production(self, solid_fraction: float, flow: float) -> float:
        """Return the strength in MPa of the next batch, as the plant's tester reads it."""
        between = self.between
        whole = between.plant_factor(flow) * between.lot_strength * between.plant_tester
        return self.strength(solid_fraction) * whole


def drawn_truth(world: World, rng: np.random.Generator) -> Truth:
    table = materials()
    material = table[rng.integers(len(table))]
    published = exponent_of(material)
    spread = max(MATERIAL_SPREAD * published, LEAST_SPREAD)
    exponent = abs(published + spread * rng.standard_normal())
    powder = Powder(
        world.hardening(rng),
        _one(float(np.clip(exponent, 0.0005, 0.12))),
        _one(float(np.exp(rng.normal(np.log(600.0), 0.4)))),
        tested_dwell=_one(1.0),
        curvature=_one(world.change * float(rng.choice([-1.0, 1.0]))),
    )
    truth = Truth(
        powder, material.name, float(np.exp(rng.normal(np.log(9.0), 0.3))), rng.uniform(6.0, 11.0)
    )
    if world.plant is None:
        return truth
    change = world.times * SPREAD_OF_CURVATURE * float(rng.standard_normal())
    between = world.plant(rng)
    off = between.thickness_off + world.thickness_off * float(rng.choice([-1.0, 1.0]))
    return replace(
        truth,
        powder=replace(powder, curvature=_one(change)),
        between=replace(between, thickness_off=off),
        power=(rng.uniform(0.35, 0.5), rng.uniform(2.0, 3.5)) if world.powder == "power" else None,
    )


@dataclass(frozen=True)
class Scatter:
    """Standard deviations of one lab, as shares."""

    weight: float
    force: float
    thickness: float
    breaking_force: float

    @classmethod
    def of_a_lab(cls, rng: np.random.Generator) -> Scatter:
        return cls(
            rng.uniform(0.005, 0.015),
            rng.uniform(0.003, 0.010),
            rng.uniform(0.003, 0.009),
            rng.uniform(0.05, 0.10),
        )


def lab_runs(
    truth: Truth, lab: Side, design: Design, world: World, rng: np.random.Generator
) -> Iterator[Run]:
    """Yield the runs of a study; breaking forces are those of a flat tablet."""
    scatter, between = Scatter.of_a_lab(rng), truth.between
    order = [index for index in range(len(design.conditions)) for _ in range(design.replicates)]
    turned = [1] * len(order)
    if world.measured:
        order += [design.reference] * 6
        turned += [4] * 3 + [16] * 3
    for line, (index, times) in enumerate(zip(order, turned, strict=True)):
        wanted = design.conditions[index]
        weight = WEIGHT * (1 + scatter.weight * rng.standard_normal())
        force = wanted.force * (1 + scatter.force * rng.standard_normal())
        setting = Setting(wanted.speed, wanted.hold, wanted.loading_rate)
        solid = truth.solid_fraction(truth.pressed(lab, force / lab.tip.area, setting, weight))
        height = weight / (DENSITY * between.density) / lab.tip.area / solid
        thickness = height * (1 + scatter.thickness * rng.standard_normal())
        strength = truth.strength(solid) * np.exp(scatter.breaking_force * rng.standard_normal())
        strength *= between.lab_tester * between.sheared(times * LAB_SHEAR)
        if rng.random() < world.gross:
            thickness, strength = thickness * rng.choice([0.97, 1.03]), strength * 0.6
        yield Run(
            f"R{index}" if times == 1 else f"R{index}, turned {times} times",
            force,
            hold=wanted.hold,
            loading_rate=wanted.loading_rate,
            speed=wanted.speed,
            weight=weight + between.weight_off,
            thickness=float(thickness) + between.thickness_off,
            revolutions=100 * times if world.measured else None,
            breaking_force=float(strength * np.pi * lab.tip.width * height / 2.0),
            line=line,
        )


@cache
def example() -> Study:
    return read_study(EXAMPLE)


@cache
def lab_side(press: str) -> LabSide:
    tooling = find_tooling("lab-flat-10", EXAMPLE)
    return LabSide(find_press(press, EXAMPLE), tooling, ())


@cache
def production_side(press: str, speed: float) -> ProductionSide:
    found = find_press(press, EXAMPLE)
    assert isinstance(found.profile, RotaryProfile)
    return replace(example().production, press=found, speed=speed, precompression=None)  # type: ignore[arg-type]


def simulated(grade: str, world: World, rng: np.random.Generator) -> tuple[Study, Truth]:
    """Return a study and the truth behind it; truths too dense to be tablets are drawn again."""
    designs = DESIGNS[grade]
    design = designs[rng.integers(len(designs))]
    lab = lab_side(design.press)
    side = side_of(lab)
    hardest = max(design.conditions, key=lambda each: (each.force, each.hold or 0.0))
    setting = Setting(hardest.speed, hardest.hold, hardest.loading_rate)
    while True:
        truth = _about_the_tested(drawn_truth(world, rng), side, design)
        pulse = truth.pressed(side, hardest.force / side.tip.area, setting, WEIGHT)
        if 0.75 < truth.solid_fraction(pulse) < DENSEST_TABLET:
            break
    runs = tuple(lab_runs(truth, side, design, world, rng))
    base = example()
    production = production_side(*PRODUCTION[rng.integers(len(PRODUCTION))])
    blend = replace(
        base.blend,
        stated_true_density=DENSITY,
        components=(),
        rate_material=truth.material if grade == "borrowed" else None,
    )
    if world.measured:
        lab, production = _certified(lab), _with_feeder(_certified(production))
    study = replace(
        base,
        blend=blend,
        lab=replace(lab, runs=runs, reference=f"R{design.reference}"),
        production=production,
        own_production=production,
        target=replace(base.target, weight=WEIGHT),
        transfer=_stated(world),
    )
    return study, truth


def _about_the_tested(truth: Truth, side: Side, design: Design) -> Truth:
    """Return a truth whose exponent is as drawn at the middle of the tested dwells."""
    still = replace(truth, powder=replace(truth.powder, curvature=_one(0.0)))
    logs = []
    for each in design.conditions:
        setting = Setting(each.speed, each.hold, each.loading_rate)
        pulse = still.pressed(side, each.force / side.tip.area, setting, WEIGHT)
        logs.append(np.log(pulse.effective_dwell[0]))
    middle = _one(1.0 if truth.between == LAW_ALONE else float(np.exp(np.mean(logs))))
    return replace(truth, powder=replace(truth.powder, middle_dwell=middle))


def _stated(world: World) -> TransferTerms:
    """Return what a study states of the way to the plant."""
    if world.plant is None:
        return TransferTerms(off=tuple(each for each in TERMS if each != "curvature"))
    if not world.measured:
        return TransferTerms(lubricated=True)
    return TransferTerms(
        lubricated=True,
        same_tester=True,
        lot_strength=STEADY_STRENGTH,
        lot_pressure=STEADY_PRESSURE,
        lab_blender=Blending(volume=2e6, headspace=0.5, revolutions=100),
        production_blender=Blending(volume=30e6, headspace=0.5, revolutions=150),
    )


Part = TypeVar("Part", LabSide, ProductionSide)


def _certified(side: Part) -> Part:
    profile = replace(side.press.profile, force_accuracy=CERTIFICATE)
    return replace(side, press=replace(side.press, profile=profile))


def _with_feeder(side: ProductionSide) -> ProductionSide:
    feeder = Feeder(hold_up=HOLD_UP, paddle_diameter=150.0, paddle_speed=40.0)
    profile = replace(side.press.profile, feeder=feeder, feed="forced")
    return replace(side, press=replace(side.press, profile=profile))


def needed_pressure(truth: Truth, study: Study, pressure: float, setting: Setting) -> float:
    """Return the production pressure that truly gives the lab's solid fraction back."""
    production = side_of(study.production)
    state = truth.pressed(side_of(study.lab), pressure, setting, WEIGHT).static_pressure
    needed = pressure
    for _ in range(5):
        at_speed = Setting(speed=study.production.speed)
        made = truth.pressed(production, needed, at_speed, WEIGHT, plant=True)
        wanted = float(truth.powder.peak_pressure(state, made.effective_dwell)[0])
        needed *= wanted / truth.acting(production, needed, WEIGHT, plant=True)
    return needed


Row = tuple[str, bool, float]


def one_study(grade: str, world: World, seed: int) -> list[Row]:
    """Return for each predicted figure whether its band holds the truth, and its width."""
    rng = np.random.default_rng(seed)
    study, truth = simulated(grade, world, rng)
    lab = calibrated(study, Drawing(DRAWS, seed))
    if not isinstance(lab.fit, Fit) or lab.fit.rate.evidence != grade:
        raise AssertionError(f"study {seed} was meant to be {grade}")
    case = transfer_case(lab, study.production.speed, 0.9)
    pressure = case.reference.pressure
    point = case.process.at(pressure, case.speed)
    assert point.strength is not None
    at_speed = Setting(speed=case.speed)
    made = truth.pressed(case.process.side, pressure, at_speed, WEIGHT, plant=True)
    solid = truth.solid_fraction(made)
    flow = study.production.output(case.speed) / 3600.0 * WEIGHT
    setting = case.reference.runs[0].setting
    needed = needed_pressure(truth, study, pressure, setting)
    return [
        _row("solid fraction", drawn(point.solid_fraction, "1"), solid),
        _row("strength", drawn(point.strength, "MPa"), truth.in_production(solid, flow)),
        _row("needed force", same_solid_fraction(case).pressure, needed),
    ]


def _row(name: str, band: Estimate, truth: float) -> Row:
    assert band.low is not None
    assert band.high is not None
    return name, band.low <= truth <= band.high, (band.high - band.low) / truth


def report(grade: str, world: World, studies: int, seed: int, workers: int) -> None:
    """Print coverage and width of the bands of one grade in one world."""
    begin = time.perf_counter()
    ask = partial(one_study, grade, world)
    seeds = range(seed * 100_000, seed * 100_000 + studies)
    with ProcessPoolExecutor(workers) as pool:
        rows = []
        for number, found in enumerate(pool.map(ask, seeds, chunksize=4), start=1):
            rows += found
            if sys.stderr.isatty():
                sys.stderr.write(f"\r{world.name}, {grade}: {number} of {studies}")
    print(f"truth follows {world.name}; evidence {grade}; {studies} studies")
    for name in dict.fromkeys(name for name, _, _ in rows):
        share = np.mean([hit for each, hit, _ in rows if each == name])
        widths = [width for each, _, width in rows if each == name]
        low, high = np.quantile(widths, [0.1, 0.9])
        print(
            f"  {name:15s} {share:6.1%} of the bands hold the truth; width, median "
            f"{np.median(widths):5.1%} of it ({low:.1%} to {high:.1%})"
        )
    sys.stderr.write(f"  took {time.perf_counter() - begin:.0f} s\n")


Met = tuple[str, bool]


def one_verdict(world: World, seed: int) -> Met:
    """Return the answer to a study, and whether its next batch meets every limit as it is told.

    The target is a share of the lab's strength, the window about the lab's solid fraction.
    """
    rng = np.random.default_rng(seed)
    study, truth = simulated("measured", world, rng)
    lab = calibrated(study, Drawing(200, seed)).reference
    strength = lab.mean(lambda seen: seen.strength, "MPa", "strength").value or 1.0
    solid = lab.mean(lambda seen: seen.solid_fraction, "1", "solid fraction").value or 0.85
    window = Range(solid - 0.05, min(solid + 0.04, 0.98))
    target = replace(
        study.target,
        strength=strength * float(rng.uniform(0.55, 0.95)),
        solid_fraction=window,
        confidence=0.9,
    )
    study = replace(study, target=target)
    answer = Analysis(study, draws=DRAWS, seed=seed).translate()
    match = "pressure" if answer.verdict.answer == "transferable" else "strength"
    point = answer.equivalent(match).point
    if answer.verdict.answer not in TOLD or point is None:
        return answer.verdict.answer, False
    pressure, speed = float(np.median(point.dialled)), answer.speed
    side = side_of(study.production)
    made = truth.pressed(side, pressure, Setting(speed=speed), WEIGHT, plant=True)
    there = truth.solid_fraction(made)
    flow = study.production.output(speed) / 3600.0 * WEIGHT
    strong = truth.in_production(there, flow) >= (target.strength or 0.0)
    return answer.verdict.answer, strong and window.holds(there)


TOLD = ("transferable", "transferable with changes")


def report_verdicts(world: World, studies: int, seed: int, workers: int) -> None:
    """Print how many next batches meet every limit where the answer is a yes."""
    seeds = range(seed * 200_000, seed * 200_000 + studies)
    with ProcessPoolExecutor(workers) as pool:
        rows = list(pool.map(partial(one_verdict, world), seeds, chunksize=4))
    print(f"verdicts in {world.name}; {studies} studies, each limit asked with 90 %")
    for answer in TOLD:
        met = [good for told, good in rows if told == answer]
        if met:
            print(f"  {answer:25s} {np.mean(met):6.1%} of {len(met)} next batches meet every limit")


def main() -> None:
    parser = argparse.ArgumentParser(description=__doc__.splitlines()[0] if __doc__ else "")
    parser.add_argument("--studies", type=int, default=400, help="of each grade and world")
    parser.add_argument("--seed", type=int, default=1)
    parser.add_argument("--workers", type=int, default=2)
    parser.add_argument("--grade", choices=sorted(DESIGNS), help="only this grade, law only")
    parser.add_argument("--plant", action="store_true", help="only the worlds of a plant")
    case = parser.parse_args()
    if not case.plant:
        for grade in [case.grade] if case.grade else DESIGNS:
            report(grade, LAW, case.studies, case.seed, case.workers)
    for world in () if case.grade or case.plant else STRANGE:
        report("measured", world, case.studies, case.seed, case.workers)
    for world in () if case.grade else PLANTS:
        report("measured", world, case.studies, case.seed, case.workers)
    for world in () if case.grade else PLANTS[:2]:
        report_verdicts(world, case.studies, case.seed, case.workers)


if __name__ == "__main__":
    main()
