"""Simulated labs and plants for trials: what is true there, what the lab sees, what a sheet says.

Nothing here computes with the program's powder or presses: the powder is that of
`tests.benchmarks.trial_powder`, pulses come from loading rates and roller geometry by code of their
own, and what lies between lab and plant is `tests.benchmarks.plant_worlds`. What a kind of world
changes comes on top of a plant drawn with the usual spreads, so that it may lie within what is
believed of any plant.
"""

from __future__ import annotations

from dataclasses import dataclass, replace

import numpy as np
import numpy.typing as npt

from scaleup.arrays import Array
from scaleup.io.trial_sheet.columns import Value
from scaleup.io.trial_sheet.reading import SheetRow
from scaleup.model.defects import ON_TABLETS
from scaleup.model.press import HydraulicProfile, RotaryProfile
from scaleup.model.ranges import Range
from scaleup.model.run import Run
from scaleup.model.study import LabSide, ProductionSide, Study
from scaleup.model.tooling import ToolingProfile
from scaleup.model.transfer_terms import LOT_PRESSURE, LOT_STRENGTH, TransferTerms
from tests.benchmarks.calibration import (
    DENSITY,
    MEASURED,
    PRODUCTION,
    WEIGHT,
    Condition,
    Design,
    Scatter,
    example,
    lab_side,
    production_side,
)
from tests.benchmarks.plant_worlds import Between, drawn_between
from tests.benchmarks.trial_powder import (
    LOOSE,
    Flow,
    Powder,
    Rollers,
    between_rollers,
    drifting,
    under_force,
)

Flags = npt.NDArray[np.bool_]


@dataclass(frozen=True)
class Kind:
    """One way in which a trial may turn out, and the code of its cause."""

    name: str
    cause: str


KINDS = (
    Kind("as predicted", "as-predicted"),
    Kind("feeder weakens by a constant factor", "strength-factor"),
    Kind("feeder weakens more and more", "strength-drift"),
    Kind("balance off", "solid-fraction-reading"),
    Kind("production force gauge off", "force-gauge"),
    Kind("exponent higher at production dwell", "rate"),
    Kind("capping above a speed", "defects"),
)
FEEDER, BALANCE_OFF, GAUGE_OFF = (0.75, 0.85), (0.05, 0.09), (0.08, 0.15)
EXPONENT, EXPONENT_RATIO, CAPPED_LOSS = (0.02, 0.040), (1.6, 2.2), (0.30, 0.60)
"""Ends between which are drawn the factor of a feeder, the shares by which readings are off, the
rate exponent, that at production dwell over the lab's, and the strength that capping costs."""
WEIGHT_SCATTER, THICKNESS_SCATTER, STRENGTH_SCATTER = 0.01, 0.005, 0.07
"""Of one production tablet."""
SAMPLED = 400.0
"""s from the start of a run's setting to its sample."""


def _held(*pairs: tuple[float, float]) -> tuple[Condition, ...]:
    return tuple(Condition(force * 1e3, hold, 5e3) for force, hold in pairs)


HELD = (
    Design("lab-hydraulic", _held((6, 1), (9, 1), (12, 1), (15, 1), (9, 10), (9, 30), (12, 30)), 3,
           2),
    Design("lab-hydraulic", _held((5, 1), (8, 1), (12, 1), (8, 20), (12, 20), (5, 20)), 3, 1),
)  # fmt: skip
"""Lab designs without a dwell as short as production's."""


@dataclass(frozen=True)
class World:
    """One powder, its lab and its plant, as they truly are."""

    kind: Kind
    powder: Powder
    strength_of_solid: float
    slope: float
    least: float | None
    """SF_c of ``s_0 ((SF - SF_c)/(1 - SF_c))^slope``; None for ``s_0 e^(-slope (1 - SF))``."""
    between: Between
    feeder: float = 1.0
    """Factor on strength, at the end of the trial if it drifts."""
    drifts: bool = False
    balance: float = 1.0
    """Weight that the production balance reads over the true one."""
    gauge: float = 1.0
    """True production force over that read, beyond what the gauge is usually off."""
    caps_between: float = np.inf
    """Share of the way from the asked to the fastest planned speed above which tablets cap."""
    caps_above: float = np.inf
    """rpm."""
    capped_loss: float = 0.0

    def strength(self, solid_fraction: Array) -> Array:
        """Return the strength in MPa of a lab tablet."""
        if self.least is None:
            share: Array = np.exp(-self.slope * (1.0 - solid_fraction))
        else:
            left = np.maximum((solid_fraction - self.least) / (1.0 - self.least), 0.0)
            share = left**self.slope
        return self.strength_of_solid * share

    def acting(self, tooling: ToolingProfile, read: Array, *, plant: bool) -> Array:
        """Return the mean pressure in the powder in MPa at a pressure that the gauge reads."""
        between, area = self.between, tooling.tip_area
        height = WEIGHT / (DENSITY * between.density * 0.85 * area)
        share = between.share(height, tooling.short_axis, 2 if plant else 1)
        gauge = between.plant_gauge * self.gauge if plant else between.lab_gauge
        return read * gauge * share * (between.lot_pressure if plant else 1.0)

    def solid_height(self, tooling: ToolingProfile, weight: Array) -> Array:
        """Return the thickness in mm of the tablet without its pores."""
        return weight / (DENSITY * self.between.density * tooling.tip_area)

    def feeder_at(self, share: Array) -> Array:
        """Return the feeder's factor on strength when that share of the trial is over."""
        done = share if self.drifts else np.ones_like(share)
        result: Array = 1.0 - (1.0 - self.feeder) * done
        return result

    def in_lab(self, lab: LabSide, forces: Array, runs: list[Condition]) -> Array:
        """Return the solid fractions of lab tablets, at forces in N as the gauge reads them."""
        profile, tooling = lab.press.profile, lab.tooling.profile
        assert isinstance(profile, HydraulicProfile)
        peak = self.acting(tooling, forces / tooling.tip_area, plant=False)
        loading = np.array([run.loading_rate for run in runs], dtype=float)
        hold = np.array([run.hold for run in runs], dtype=float)
        times, shares = _held_pulse(forces / loading, hold, profile.release_time)
        state = under_force(self.powder, np.full_like(peak, np.log(LOOSE)), times, shares * peak)
        return self.powder.solid_fraction(state)

    def in_plant(
        self, made: ProductionSide, read: Array, speed: Array, pre_share: Array, weight: Array
    ) -> Array:
        """Return the solid fractions of production tablets at what is dialled, in MPa and rpm."""
        tooling = made.tooling.profile
        peak, height = self.acting(tooling, read, plant=True), self.solid_height(tooling, weight)
        begin = np.full_like(peak, np.log(LOOSE))
        main, pre = rollers(made)
        pressed = pre_share > 0.0
        if pre is not None and pressed.any():
            begin[pressed] = between_rollers(
                self.powder, pre, begin[pressed], speed[pressed], (peak * pre_share)[pressed],
                height[pressed],
            )  # fmt: skip
        state = between_rollers(self.powder, main, begin, speed, peak, height)
        return self.powder.solid_fraction(state)

    def made(self, solid_fraction: Array, speed: Array, feeder: Array | float) -> Array:
        """Return the strength in MPa of production tablets, as the plant's tester reads it."""
        between = self.between
        factor = between.plant_factor(1.0) * between.lot_strength * between.plant_tester
        capped = np.where(speed > self.caps_above, 1.0 - self.capped_loss, 1.0)
        result: Array = self.strength(solid_fraction) * factor * feeder * capped
        return result


NEAR = np.geomspace(1e-5, 1.0, 300)
RAMP = np.concatenate([np.geomspace(1e-3, 0.5, 60), 1.0 - 0.5 * NEAR[-2::-1], [1.0]])
HOLD = np.concatenate([[0.0], NEAR])
RELEASE = NEAR
"""Shares of rise, hold and release, close together where the pressure is near its peak."""


def _held_pulse(rise: Array, hold: Array, release: float) -> tuple[Array, Array]:
    """Return times in s and shares of the peak: a steady rise, a hold, a steady release."""
    least = np.maximum(hold, 1e-6)  # a hold of no time is one too short to matter
    parts = [rise * RAMP[:, None], rise + least * HOLD[1:, None]]
    times = np.vstack([*parts, rise + least + release * RELEASE[:, None]])
    shares = np.concatenate([RAMP, np.ones(HOLD.size - 1), 1.0 - RELEASE])
    return times, np.repeat(shares[:, None], rise.size, axis=1)


def rollers(made: ProductionSide) -> tuple[Rollers, Rollers | None]:
    """Return main rollers and precompression rollers of a press with its tooling."""
    profile, tooling = made.press.profile, made.tooling.profile
    assert isinstance(profile, RotaryProfile)
    assert profile.pitch_circle and profile.main_roller.radius and profile.stiffness
    assert tooling.head_edge_radius and tooling.head_flat
    main = Rollers(
        profile.pitch_circle / 2.0, profile.main_roller.radius, tooling.head_edge_radius,
        tooling.head_flat, tooling.tip_area / profile.stiffness,
    )  # fmt: skip
    pre = profile.pre_roller
    return main, None if pre is None else replace(main, roller_radius=pre.radius)


def _even(rng: np.random.Generator, ends: tuple[float, float]) -> float:
    return float(rng.uniform(*ends))


def _off(rng: np.random.Generator, ends: tuple[float, float]) -> float:
    """Return a factor that is off by a share, up or down."""
    return 1.0 + _even(rng, ends) * float(rng.choice([-1.0, 1.0]))


def drawn_world(
    kind: Kind, design: Design, made: ProductionSide, rng: np.random.Generator
) -> World:
    """Return a world of a kind, for the dwell of a lab design and of a production press."""
    slow = float(np.exp(rng.uniform(*np.log(EXPONENT))))
    ratio, flow = _even(rng, EXPONENT_RATIO), Flow(slow)
    if kind.cause == "rate":
        flow = drifting(slow, ratio, _usual_hold(design), _flat_time(made))
    powder = _drawn_powder(flow, design, rng)
    least = float(rng.uniform(0.35, 0.5)) if rng.random() < 0.5 else None
    slope = float(rng.uniform(6.0, 11.0) if least is None else rng.uniform(2.0, 3.5))
    strength = float(np.exp(rng.normal(np.log(9.0), 0.3)))
    plain = World(kind, powder, strength, slope, least, drawn_between(rng))
    return _as_its_kind(plain, rng)


def _as_its_kind(world: World, rng: np.random.Generator) -> World:
    cause = world.kind.cause
    if cause in ("strength-factor", "strength-drift"):
        feeder = _even(rng, FEEDER)
        return replace(world, feeder=feeder, drifts=cause == "strength-drift")
    if cause == "solid-fraction-reading":
        return replace(world, balance=_off(rng, BALANCE_OFF))
    if cause == "force-gauge":
        return replace(world, gauge=_off(rng, GAUGE_OFF))
    if cause == "defects":
        between = _even(rng, (0.1, 0.9))
        return replace(world, caps_between=between, capped_loss=_even(rng, CAPPED_LOSS))
    return world


def _drawn_powder(flow: Flow, design: Design, rng: np.random.Generator) -> Powder:
    """Return a powder that gives a usual tablet at the lab's reference."""
    reference = design.conditions[design.reference]
    pressure = reference.force / lab_side(design.press).tooling.profile.tip_area
    loose, dense, power = rng.uniform(0.5, 0.65), rng.uniform(0.82, 0.87), rng.uniform(0.8, 1.1)
    closing = pressure / float((loose / (1.0 - dense) - 1.0) ** (1.0 / power))
    modulus = float(np.exp(rng.normal(np.log(4000.0), 0.25)))
    return Powder(flow, float(loose), closing, float(power), modulus)


def _usual_hold(design: Design) -> float:
    return float(np.exp(np.mean([np.log(each.hold or 0.05) for each in design.conditions])))


def _flat_time(made: ProductionSide) -> float:
    """Return for how many s the head flat is under the roller."""
    main, _ = rollers(made)
    return main.flat_angle / np.pi * 60.0 / made.speed


def drawn_study(kind: Kind, rng: np.random.Generator) -> tuple[Study, World]:
    """Return a study with the runs of its lab, without a target strength, and the world behind it.

    Where the exponent drifts from the lab's dwell to production's, no lab run is as short as those.
    """
    designs = HELD if kind.cause == "rate" else (*HELD, *MEASURED)
    design = designs[rng.integers(len(designs))]
    made = production_side(*PRODUCTION[rng.integers(len(PRODUCTION))])
    world, lab = drawn_world(kind, design, made, rng), lab_side(design.press)
    runs = lab_runs(world, lab, design, rng)
    seen = [run for run in runs if run.name == f"R{design.reference}"]
    middle = float(np.mean([_as_read(run, lab) for run in seen]))
    window = Range(middle - 0.05, min(middle + 0.04, 0.98))
    base = example()
    return replace(
        base,
        blend=replace(base.blend, stated_true_density=DENSITY, components=(), rate_material=None),
        lab=replace(lab, runs=runs, reference=f"R{design.reference}"),
        production=made,
        own_production=made,
        target=replace(base.target, weight=WEIGHT, strength=None, solid_fraction=window),
        transfer=TransferTerms(lubricated=True),
    ), world


def _as_read(run: Run, lab: LabSide) -> float:
    area = lab.tooling.profile.tip_area
    return (run.weight or 0.0) / (DENSITY * area * (run.thickness or np.inf))


def lab_runs(
    world: World, lab: LabSide, design: Design, rng: np.random.Generator
) -> tuple[Run, ...]:
    """Return the runs of a lab as it reads them, a line for each tablet."""
    order = [index for index in range(len(design.conditions)) for _ in range(design.replicates)]
    conditions, scatter = [design.conditions[index] for index in order], Scatter.of_a_lab(rng)
    between, tooling = world.between, lab.tooling.profile

    def scattered(spread: float) -> Array:
        return 1.0 + spread * rng.standard_normal(len(order))

    weight = WEIGHT * scattered(scatter.weight)
    force = np.array([each.force for each in conditions]) * scattered(scatter.force)
    solid = world.in_lab(lab, force, conditions)
    height = world.solid_height(tooling, weight) / solid
    read = height * scattered(scatter.thickness) + between.thickness_off
    strength = world.strength(solid) * scattered(scatter.breaking_force) * between.lab_tester
    breaking = strength * np.pi * tooling.short_axis * height / 2.0
    return tuple(
        Run(
            f"R{index}", float(force[row]), hold=conditions[row].hold,
            loading_rate=conditions[row].loading_rate,
            weight=float(weight[row]) + between.weight_off, thickness=float(read[row]),
            breaking_force=float(breaking[row]), line=row,
        )
        for row, index in enumerate(order)
    )  # fmt: skip


@dataclass(frozen=True)
class Planned:
    """What a run of the trial is set to."""

    row: dict[str, Value]
    force: float
    speed: float
    pre_share: float
    tablets: int
    start: float
    """s after the start of the trial."""


def filled_sheet(
    world: World, made: ProductionSide, planned: list[Planned], rng: np.random.Generator
) -> tuple[SheetRow, ...]:
    """Return the sheet of a trial as the plant fills it in: means of the tablets sampled."""
    tooling, runs = made.tooling.profile, len(planned)
    speed, tablets = (np.array([getattr(run, name) for run in planned], dtype=float)
                      for name in ("speed", "tablets"))  # fmt: skip
    read = np.array([run.force for run in planned]) / tooling.tip_area
    pre = np.array([run.pre_share for run in planned])

    def scattered(spread: float) -> Array:
        result: Array = 1.0 + spread / np.sqrt(tablets) * rng.standard_normal(runs)
        return result

    weight = WEIGHT * scattered(WEIGHT_SCATTER)
    solid = world.in_plant(made, read, speed, pre, weight)
    height = world.solid_height(tooling, weight) / solid
    elapsed = SAMPLED + np.array([run.start for run in planned])
    feeder = world.feeder_at(elapsed / elapsed[-1])
    strength = world.made(solid, speed, feeder) * scattered(STRENGTH_SCATTER)
    breaking = strength * np.pi * tooling.short_axis * height / 2.0
    thickness, weighed = height * scattered(THICKNESS_SCATTER), weight * world.balance
    return tuple(
        SheetRow(
            line,
            {
                **run.row,
                "weight": float(weighed[row]),
                "thickness": float(thickness[row]),
                "breaking force": float(breaking[row]),
                "tablets": float(run.tablets),
                "friability": 0.003,
                "elapsed": float(elapsed[row]),
                **looked_for(capped=bool(speed[row] > world.caps_above)),
            },
        )
        for row, (line, run) in enumerate(enumerate(planned, start=2))
    )


def looked_for(*, capped: bool) -> dict[str, Value]:
    """Return what the observer ticks, who looks for everything."""
    return {name: "yes" if capped and name == "capping" else "no" for name in ON_TABLETS}


def next_lot(world: World, rng: np.random.Generator, *, gauge_mended: bool = True) -> World:
    """Return the same plant with another lot of the blend, and readings that are not off."""
    between = replace(
        world.between,
        lot_strength=float(np.exp(LOT_STRENGTH * rng.standard_normal())),
        lot_pressure=float(np.exp(LOT_PRESSURE * rng.standard_normal())),
    )
    gauge = 1.0 if gauge_mended else world.gauge
    return replace(world, between=between, balance=1.0, gauge=gauge)


def meets(world: World, study: Study, pressure: Array, speed: Array) -> Flags:
    """Return at which dialled pressures in MPa and speeds in rpm a batch is as asked for.

    Where the feeder drifts, strength is asked for in the middle of the trial and at its end.
    """
    made, none = study.production, np.zeros_like(pressure)
    solid = world.in_plant(made, pressure, speed, none, np.full_like(pressure, WEIGHT))
    worst = float(world.feeder_at(np.array([0.5, 1.0])).min())
    strong = world.made(solid, speed, worst) >= (study.target.strength or 0.0)
    window = study.target.solid_fraction
    dense = (solid >= window.min) & (solid <= window.max)
    result: Flags = strong & dense & (speed <= world.caps_above)
    return result
