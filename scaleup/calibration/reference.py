"""The lab result that is to be made again: its runs, their means, and the state of its powder."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass

import numpy as np

from scaleup.calibration.observations import Observation
from scaleup.errors import Fault, InputError
from scaleup.model.estimate import Estimate, mean_of, unavailable
from scaleup.model.study import Study
from scaleup.short_repr import short_repr


@short_repr
@dataclass(frozen=True)
class Reference:
    """The replicates of one lab condition."""

    name: str
    runs: tuple[Observation, ...]
    why: str
    """Why this condition is the one to be made again."""

    @property
    def pressure(self) -> float:
        """Return the mean peak pressure in MPa."""
        return float(np.mean([seen.pressure for seen in self.runs]))

    def mean(self, of: Callable[[Observation], float | None], unit: str, what: str) -> Estimate:
        """Return the mean of a measured figure, or that the runs do not have it."""
        values = [value for value in map(of, self.runs) if value is not None]
        if not values:
            return unavailable(unit, f"no {what} in the runs {self.name}")
        return mean_of(np.array(values), unit)

    @property
    def weight(self) -> float | None:
        """Return the mean weight in mg, if any replicate was weighed."""
        return self.mean(lambda seen: seen.run.weight, "mg", "weight").value


def choose_reference(study: Study, observations: tuple[Observation, ...]) -> Reference:
    """Return the condition the study names, else the gentlest that meets the strength target.

    Where none meets it, or there is no target, the condition with the strongest tablets; without
    any strength, the middle pressure. Production runs are looked at only if there are no others.
    """
    lab = [seen for seen in observations if seen.run.press == "lab"]
    groups: dict[str, list[Observation]] = {}
    for seen in lab or observations:
        groups.setdefault(seen.run.name, []).append(seen)
    if not groups:
        raise InputError(
            Fault(study.lab.runs_file, "", "no run", "at least one row of lab or production")
        )
    named = study.lab.reference
    if named is not None:
        return Reference(named, tuple(groups[named]), "named in the study")
    name, why = _gentlest_enough(study, {key: tuple(group) for key, group in groups.items()})
    return Reference(name, tuple(groups[name]), why)


def _gentlest_enough(study: Study, groups: dict[str, tuple[Observation, ...]]) -> tuple[str, str]:
    pressures = {name: group[0].pressure for name, group in groups.items()}
    strengths = {name: _mean([seen.strength for seen in group]) for name, group in groups.items()}
    strong = {name: value for name, value in strengths.items() if value is not None}
    if not strong:
        ordered = sorted(groups, key=lambda name: pressures[name])
        return ordered[len(ordered) // 2], "the middle pressure; no strength was measured"
    enough = [name for name in strong if _meets(study, groups[name])]
    if enough:
        gentlest = min(enough, key=lambda name: pressures[name])
        return gentlest, "the lowest pressure whose tablets meet the strength target"
    return max(strong, key=lambda name: strong[name]), "the strongest tablets of the lab"


def _meets(study: Study, group: tuple[Observation, ...]) -> bool:
    target = study.target
    if target.breaking_force is not None:
        force = _mean([seen.run.breaking_force for seen in group])
        return force is not None and force >= target.breaking_force
    strength = _mean([seen.strength for seen in group])
    return target.strength is not None and strength is not None and strength >= target.strength


def _mean(values: list[float | None]) -> float | None:
    known = [value for value in values if value is not None]
    return float(np.mean(known)) if known else None
