"""Die-wall friction: less of the tip's pressure reaches the powder where one punch presses."""

from __future__ import annotations

from collections.abc import Iterable
from math import exp, log

import numpy as np

from scaleup.arrays import Array
from scaleup.calibration.observations import Observation
from scaleup.calibration.plant.scores import Scores
from scaleup.calibration.plant.sides import BothSides
from scaleup.calibration.plant.term import Grade, Term, cancelling, switched_off
from scaleup.model.study import LabSide, ProductionSide
from scaleup.model.transfer_terms import FRICTION, FRICTION_LUBRICATED
from scaleup.powder.wall_friction import mean_pressure_share, wall_friction
from scaleup.sentence import Sentence

NAME, LABEL = "friction", "die-wall friction"
SCATTER = 0.1
"""Least standard deviation of ln(mu kappa) of one run (a judgement of this program)."""


def friction(
    sides: BothSides, lubricated: bool, seen: Iterable[Observation], scores: Scores
) -> Term:
    """Return what pressing from one side or from two does to the pressure that densifies."""
    if not sides.study.transfer.has("friction"):
        return switched_off(NAME, LABEL)
    middle, spread, grade, source = _believed(sides, lubricated, seen)
    drawn = np.exp(log(middle) + spread * scores.of("wall friction"))
    lab, made = sides.study.lab, sides.production
    of_lab = _share(drawn, sides, lab, sides.lab_weight)
    of_made = _share(drawn, sides, made, sides.production_weight)
    if np.array_equal(of_lab, of_made):
        return cancelling(NAME, LABEL, "one way of pressing one tablet")
    told = Sentence(
        "friction coefficient times pressure ratio {middle:.3f} ×/÷ {factor:.2f} ({source}); "
        "{lab_sides} on {lab}, {made_sides} on {made}",
        middle=middle,
        factor=exp(spread),
        source=source,
        lab=lab.press.id,
        lab_sides=_sides(lab.press.profile.pressed_from),
        made=made.press.id,
        made_sides=_sides(made.press.profile.pressed_from),
    )
    return Term(NAME, LABEL, grade, told, np.log(of_made / of_lab))


def _sides(sides: str) -> str:
    return "one punch moves" if sides == "one" else "both punches move"


def _share(drawn: Array, sides: BothSides, side: LabSide | ProductionSide, weight: float) -> Array:
    """Return the mean pressure over the tip's, at the height of the lab's solid fraction."""
    tip = sides.tip(side)
    height = weight / (sides.study.blend.true_density * sides.solid_fraction * tip.area)
    width = 4.0 * tip.area / tip.perimeter
    return np.asarray(
        mean_pressure_share(drawn, height, width, side.press.profile.pressed_from), dtype=np.float64
    )


def _believed(
    sides: BothSides, lubricated: bool, seen: Iterable[Observation]
) -> tuple[float, float, Grade, str]:
    """Return the middle of mu kappa, the standard deviation of its logarithm, and on what."""
    terms = sides.study.transfer
    spread = log(terms.wall_friction_factor)
    if terms.wall_friction is not None:
        return terms.wall_friction, spread, "measured", "as the study states"
    middle = FRICTION_LUBRICATED if lubricated else FRICTION
    read = [value for value in map(_of_run, seen) if value is not None]
    if not read:
        blend = "a lubricated blend" if lubricated else "a blend without a lubricant"
        return middle, spread, "assumed", f"usual of {blend}, from memory"
    logs = np.log(read)
    scatter = max(float(logs.std(ddof=1)) if len(read) > 1 else SCATTER, SCATTER)
    known, prior = len(read) / scatter**2, 1.0 / spread**2
    mean = (known * float(logs.mean()) + prior * log(middle)) / (known + prior)
    told = f"{len(read)} runs with a lower punch force"
    return exp(mean), float((known + prior) ** -0.5), "measured", told


def _of_run(seen: Observation) -> float | None:
    """Return mu kappa of a run on the lab press whose lower punch force was read."""
    run, tip = seen.run, seen.side.tip
    thickness = run.in_die_thickness or run.thickness
    if run.lower_punch_force is None or thickness is None or run.press != "lab":
        return None
    height = float(tip.volume(np.array(thickness), tip.width)) / tip.area
    ratio = float(
        wall_friction(run.force, run.lower_punch_force, height, 4.0 * tip.area / tip.perimeter)
    )
    return max(ratio, 1e-3)
