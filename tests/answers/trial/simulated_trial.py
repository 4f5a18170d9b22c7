"""A trial carried out on a simulated powder: one draw of the fit, but for what is put in."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, replace

import numpy as np

from scaleup.answers.trial.plan import TrialPlan
from scaleup.answers.trial.planned_rows import record_of, sheet_rows
from scaleup.calibration.fit import Fit
from scaleup.calibration.observations import Side, side_of
from scaleup.io.trial_sheet.columns import Value
from scaleup.io.trial_sheet.reading import SheetRow, TrialSheet
from scaleup.model.defects import ON_TABLETS
from scaleup.model.study import Study
from scaleup.powder.compression import compress
from scaleup.powder.law import Powder
from scaleup.presses.press import Setting


@dataclass(frozen=True)
class Put:
    """What is put into a trial."""

    feeder: float = 1.0
    """Strength at equal solid fraction over the lab's, throughout."""
    rate: float = 1.0
    """Rate exponent over the fit's."""
    balance: float = 1.0
    """Weight read over the true one."""
    gauge: float = 1.0
    """True force over that read."""
    drift: float = 0.0
    """ln of strength at the end over that at the start."""
    caps_above: float = 1e9
    """rpm."""
    seed: int = 3


AS_FITTED = Put()
NOISE = 0.02
"""Standard deviation of ln of a run's mean strength."""


def sheet(study: Study, plan: TrialPlan, put: Put = AS_FITTED) -> TrialSheet:
    """Return the filled sheet of a plan, with the record of the plan."""
    found = plan.calibrated.fit
    assert isinstance(found, Fit)
    rng = np.random.default_rng(put.seed)
    powder = _middle(found, put)
    side, rows = side_of(study.production), []
    planned = sheet_rows(plan)
    for place, row in enumerate(planned):
        solid = _solid_fraction(study, side, powder, row, plan.weight, put.gauge)
        solid += found.solid_fraction_scatter / np.sqrt(10) * rng.standard_normal()
        drift = put.drift * (place / (len(planned) - 1) - 0.5)
        strength = _strength(found, solid) * put.feeder
        strength *= np.exp(drift + NOISE * rng.standard_normal())
        rows.append(SheetRow(place + 2, {**row, **_filled(row, side, study, plan.weight, solid,
                                                          strength, put)}))  # fmt: skip
    return TrialSheet(tuple(rows), plan=record_of(plan))


def _middle(found: Fit, put: Put) -> Powder:
    """Return the draw nearest to the middle of the exponent, with the exponent put in."""
    exponents = found.powder.rate_exponent
    draw = int(np.argsort(exponents)[exponents.size // 2])
    powder = found.powder.chosen(np.array([draw]))
    flat = np.zeros(1)
    return replace(powder, rate_exponent=powder.rate_exponent * put.rate, curvature=flat)


def _solid_fraction(
    study: Study, side: Side, powder: Powder, row: dict[str, Value], weight: float, gauge: float
) -> float:
    force, speed = row["planned force"], row["planned speed"]
    assert isinstance(force, float)
    assert isinstance(speed, float)
    charge = side.tip.charge(weight, study.blend.true_density)
    pressure = np.array([gauge * force / side.tip.area])
    pulse = compress(side.press, powder, charge, pressure, Setting(speed=speed))
    return float(powder.solid_fraction(pulse.static_pressure)[0])


def _strength(found: Fit, solid: float) -> float:
    assert found.strength is not None
    return float(np.median(found.strength.strength(np.full(found.powder.draws, solid))))


def _filled(
    row: dict[str, Value],
    side: Side,
    study: Study,
    weight: float,
    solid: float,
    strength: float,
    put: Put,
) -> dict[str, Value]:
    thickness = weight / study.blend.true_density / side.tip.area / solid
    speed = row["planned speed"]
    assert isinstance(speed, float)
    capped = speed > put.caps_above
    breaking = strength * np.pi * side.tip.width * thickness / 2.0 * (0.5 if capped else 1.0)
    looked: dict[str, Value] = dict.fromkeys(ON_TABLETS, "no")
    return {
        "weight": weight * put.balance,
        "thickness": thickness,
        "breaking force": float(breaking),
        "tablets": 10.0,
        "friability": 0.003,
        **looked,
        "capping": "yes" if capped else "no",
    }


def filled(row: SheetRow, **values: Value) -> SheetRow:
    """Return a row with other values, names written with underscores."""
    changed = {name.replace("_", " "): value for name, value in values.items()}
    return SheetRow(row.line, {**row.values, **changed})


def with_rows(of: TrialSheet, **changes: Mapping[str, Value]) -> TrialSheet:
    """Return a sheet with other values in some runs, by their names."""
    rows = tuple(filled(row, **changes.get(row.text("run"), {})) for row in of.rows)
    return replace(of, rows=rows)
