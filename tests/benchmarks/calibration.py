"""Do the 90 % bands hold the truth in 90 % of studies? Simulated studies with a known powder.

Every study has a powder drawn at random, eight lab conditions (four forces, three holds) of three
tablets each, and the scatter of a usual lab: weight 1 %, force 1 %, thickness 0.6 %, breaking
force 7 %. The truth follows the law, so this tests the bands and not the law.

``python tests/benchmarks/calibration.py --studies 80 --seed 1``
"""

from __future__ import annotations

import argparse
from dataclasses import dataclass, replace
from pathlib import Path

import numpy as np

from scaleup.evidence.observations import Side, sides
from scaleup.files.run_table import Run
from scaleup.files.study import Study, read_study
from scaleup.powder.compression import Pulse, compress
from scaleup.powder.hardening import Heckel
from scaleup.powder.law import Powder
from scaleup.presses.press import Setting
from scaleup.transfer.quantity import Quantity
from scaleup.transfer.translation import translate

EXAMPLE = Path(__file__).parents[2] / "examples" / "marram"
CONDITIONS = ((6e3, 1.0), (9e3, 1.0), (12e3, 1.0), (15e3, 1.0), (9e3, 0.0), (9e3, 30.0),
              (12e3, 30.0), (6e3, 0.0))  # fmt: skip
REPLICATES = 3
SPEED = 45.0


@dataclass(frozen=True)
class Truth:
    """One powder with its strength curve."""

    powder: Powder
    strength_of_solid: float
    porosity_exponent: float

    def solid_fraction(self, pulse: Pulse) -> float:
        return float(self.powder.solid_fraction(pulse.static_pressure)[0])

    def strength(self, solid_fraction: float) -> float:
        return float(
            self.strength_of_solid * np.exp(-self.porosity_exponent * (1.0 - solid_fraction))
        )


def drawn_truth(rng: np.random.Generator) -> Truth:
    def one(value: float) -> np.ndarray:
        return np.array([value])

    powder = Powder(
        Heckel(one(np.exp(rng.uniform(np.log(80.0), np.log(250.0)))), one(rng.uniform(0.5, 0.85))),
        one(float(np.clip(abs(rng.normal(0.035, 0.025)), 0.002, 0.1))),
        one(np.exp(rng.normal(np.log(450.0), 0.3))),
        one(0.0),
        one(0.0),
    )
    return Truth(powder, float(np.exp(rng.normal(np.log(9.0), 0.3))), rng.uniform(6.0, 11.0))


def pressed(truth: Truth, side: Side, weight: float, density: float, pressure: float,
            setting: Setting) -> Pulse:  # fmt: skip
    charge = side.tip.charge(weight, density)
    return compress(side.press, truth.powder, charge, np.array([pressure]), setting)


def lab_runs(truth: Truth, lab: Side, density: float, rng: np.random.Generator) -> list[Run]:
    runs = []
    for index, (nominal, hold) in enumerate(CONDITIONS * REPLICATES):
        weight, force = 400.0 * (1 + 0.01 * rng.normal()), nominal * (1 + 0.01 * rng.normal())
        setting = Setting(hold=hold, loading_rate=5e3)
        pulse = pressed(truth, lab, weight, density, force / lab.tip.area, setting)
        solid = truth.solid_fraction(pulse)
        thickness = weight / density / lab.tip.area / solid * (1 + 0.006 * rng.normal())
        strength = truth.strength(solid) * np.exp(0.07 * rng.normal())
        runs.append(
            Run(
                f"R{index % len(CONDITIONS)}",
                force,
                hold=hold,
                loading_rate=5e3,
                weight=weight,
                thickness=float(thickness),
                breaking_force=float(strength * np.pi * lab.tip.width * thickness / 2.0),
                line=index,
            )
        )
    return runs


def needed_pressure(truth: Truth, both: dict[str, Side], density: float, pressure: float) -> float:
    """Return the production pressure that truly gives the lab's solid fraction back."""
    setting = Setting(hold=1.0, loading_rate=5e3)
    state = pressed(truth, both["lab"], 400.0, density, pressure, setting).static_pressure
    needed = pressure
    for _ in range(5):
        made = pressed(truth, both["production"], 400.0, density, needed, Setting(speed=SPEED))
        needed = float(truth.powder.peak_pressure(state, made.effective_dwell)[0])
    return needed


def one_study(base: Study, both: dict[str, Side], seed: int) -> list[tuple[str, bool, float]]:
    """Return for each predicted figure whether its band holds the truth, and its width."""
    rng = np.random.default_rng(seed)
    truth, density = drawn_truth(rng), base.blend.true_density
    runs = tuple(lab_runs(truth, both["lab"], density, rng))
    study = replace(
        base,
        lab=replace(base.lab, runs=runs, reference="R2"),
        production=replace(base.production, precompression=None, speed=SPEED),
    )
    answer = translate(study, draws=600, seed=seed)
    same = answer.equivalent("pressure")
    pressure = answer.lab.reference.pressure
    made = pressed(truth, both["production"], 400.0, density, pressure, Setting(speed=SPEED))
    solid = truth.solid_fraction(made)
    paid = answer.equivalent("solid-fraction").settings.main_pressure
    return [
        _held("solid fraction", same.tablet.solid_fraction, solid),
        _held("strength", same.tablet.tensile_strength, truth.strength(solid)),
        _held("needed pressure", paid, needed_pressure(truth, both, density, pressure)),
    ]


def _held(name: str, band: Quantity, truth: float) -> tuple[str, bool, float]:
    if band.low is None or band.high is None:
        return name, True, float("inf")
    return name, band.low <= truth <= band.high, (band.high - band.low) / truth


def main() -> None:
    parser = argparse.ArgumentParser(description=__doc__.splitlines()[0] if __doc__ else "")
    parser.add_argument("--studies", type=int, default=80)
    parser.add_argument("--seed", type=int, default=1)
    asked = parser.parse_args()
    base = read_study(EXAMPLE)
    both = sides(base)
    rows = [
        row
        for number in range(asked.studies)
        for row in one_study(base, both, asked.seed * 100_000 + number)
    ]
    for name in dict.fromkeys(name for name, _, _ in rows):
        held = [hit for each, hit, _ in rows if each == name]
        widths = [width for each, _, width in rows if each == name]
        print(
            f"{name}: {np.mean(held):.1%} of {len(held)} bands hold the truth; "
            f"median width {np.median(widths):.1%} of it"
        )


if __name__ == "__main__":
    main()
