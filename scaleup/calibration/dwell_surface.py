"""What the pulses of runs are as a function of the fitted parameters.

The effective dwell of every run, and of those with an in-die thickness how much of the elastic
part acts where the tips are closest (`scaleup.powder.in_die`).

A hydraulic run's dwell is closed form. A run on a press that prescribes the tip separation needs
the solver; the fit asks for tens of thousands of parameter sets, so the logarithm of the dwell is
solved on a design of parameter sets and carried between them by a quadratic surface. The surface
reports its own error.
"""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass

import numpy as np

from scaleup.arrays import Array
from scaleup.calibration.observations import Observation
from scaleup.errors import Fault, InputError
from scaleup.powder.compression import compress
from scaleup.powder.in_die import elastic_share
from scaleup.powder.law import Powder
from scaleup.powder.precompression import precompression_counts
from scaleup.powder.rate import mean_power
from scaleup.presses.pulse_shapes import ForcePulse

SMALLEST_EXPONENT = 2e-3
"""Added to m before its logarithm is taken; below it the dwell hardly matters."""


@dataclass(frozen=True)
class Surface:
    """A quadratic in standardised features."""

    centre: Array
    scale: Array
    coefficients: Array
    error: float
    """Root mean square of the residual in ln(t_eff)."""

    def at(self, features: Array) -> Array:
        """Return the fitted value for features of shape (n, k)."""
        value: Array = _quadratic((features - self.centre) / self.scale) @ self.coefficients
        return value


def fit_surface(features: Array, values: Array) -> Surface:
    """Return the least-squares quadratic through values of shape (n,)."""
    centre, scale = features.mean(axis=0), np.maximum(features.std(axis=0), 1e-9)
    terms = _quadratic((features - centre) / scale)
    coefficients = np.asarray(np.linalg.lstsq(terms, values, rcond=None)[0], dtype=np.float64)
    error = float(np.sqrt(np.mean((terms @ coefficients - values) ** 2)))
    return Surface(centre, scale, coefficients, error)


def _quadratic(z: Array) -> Array:
    count = z.shape[1]
    first, second = np.triu_indices(count)
    return np.column_stack([np.ones(len(z)), z, z[:, first] * z[:, second]])


def _features(columns: Array, pressure: Array) -> Array:
    """Return shape parameters, ln m, ln K and ln P side by side."""
    shaped = columns.copy()
    exponent = columns.shape[1] - 2
    shaped[:, exponent] = np.log(columns[:, exponent] + SMALLEST_EXPONENT)
    return np.column_stack([shaped, np.log(pressure)])


@dataclass(frozen=True)
class Pulses:
    """Prescribed forces of one shape: straight between samples, only the times differ.

    The hydraulic runs of a study are all of them one shape (up, hold, down), so that the power of
    the shares is taken once for every exponent, not once for every run.
    """

    runs: tuple[int, ...]
    step: Array
    """Durations in s, shape (runs, times - 1)."""
    share: Array
    """Force over its peak, shape (times, 1)."""

    def dwell(self, m: Array) -> Array:
        """Return effective dwells in s, shape (runs, sets)."""
        dwell: Array = self.step @ mean_power(self.share, m)
        return dwell


@dataclass(frozen=True)
class DwellOfRuns:
    """Effective dwell of every run, for columns (form parameters, m, ln K)."""

    observations: tuple[Observation, ...]
    surfaces: dict[int, Surface]
    """Of the runs whose press moves the tips."""
    pulses: tuple[Pulses, ...]
    """Of the runs whose press prescribes the force."""
    shares: tuple[tuple[Surface, tuple[int, ...]], ...]
    """Elastic shares, each with the runs with an in-die thickness that it is of."""

    def at(self, columns: Array) -> Array:
        """Return effective dwells in s, shape (runs, sets)."""
        dwell = np.empty((len(self.observations), len(columns)))
        for each in self.pulses:
            dwell[list(each.runs)] = each.dwell(columns[:, -2])
        for index, surface in self.surfaces.items():
            pressure = np.full(len(columns), self.observations[index].pressure)
            dwell[index] = np.exp(surface.at(_features(columns, pressure)))
        return dwell

    def elastic_share(self, columns: Array) -> Array:
        """Return the share of ``P/K`` that acts where the tips are closest, shape (runs, sets).

        1 for runs without an in-die thickness, of which nobody asks.
        """
        share = np.ones((len(self.observations), len(columns)))
        for surface, runs in self.shares:
            log_pressure = np.log([self.observations[index].pressure for index in runs])
            nodes = log_pressure.mean() + np.array([-0.5, 0.0, 0.5])
            at_nodes = surface.at(
                _features(np.tile(columns, (nodes.size, 1)), np.repeat(np.exp(nodes), len(columns)))
            )
            share[list(runs)] = _parabola(nodes, log_pressure) @ at_nodes.reshape(nodes.size, -1)
        return share

    @property
    def error(self) -> float:
        """Return the largest error of any surface in ln(t_eff), 0 if all runs are closed form."""
        return max((surface.error for surface in self.surfaces.values()), default=0.0)


def dwell_of_runs(
    observations: tuple[Observation, ...],
    design: Array,
    powder_of: Callable[[Array], Powder],
    true_density: float,
) -> DwellOfRuns:
    """Return the pulses of runs, with surfaces solved on a design of shape (sets, columns).

    Solved are the runs whose press moves the tips, and any with an in-die thickness.
    """
    groups: dict[tuple[bool, tuple[object, ...]], list[int]] = {}
    shapes: dict[bytes, list[tuple[int, ForcePulse]]] = {}
    for index, seen in enumerate(observations):
        motion = seen.side.press.motion(seen.run.force, seen.setting)
        driven = isinstance(motion, ForcePulse)
        if isinstance(motion, ForcePulse):
            shapes.setdefault(motion.share().tobytes(), []).append((index, motion))
        if not driven or seen.in_die_solid_fraction is not None:
            pulse = (seen.run.record, seen.run.compression) if driven else round(seen.pre_share, 3)
            alike = (seen.run.press, seen.setting, pulse)
            groups.setdefault((driven, alike), []).append(index)
    surfaces, shares = {}, []
    for (driven, _), members in groups.items():
        dwell, share = _solved([observations[i] for i in members], design, powder_of, true_density)
        surfaces.update({} if driven else dict.fromkeys(members, dwell))
        read = tuple(i for i in members if observations[i].in_die_solid_fraction is not None)
        shares += [(share, read)] if read else []
    return DwellOfRuns(observations, surfaces, tuple(map(_pulses, shapes.values())), tuple(shares))


def _parabola(nodes: Array, targets: Array) -> Array:
    """Return the weights of three nodes at targets, shape (targets, 3); a quadratic is carried."""
    others = [np.delete(nodes, i) for i in range(nodes.size)]
    return np.column_stack(
        [
            np.prod((targets[:, None] - other) / (node - other), axis=1)
            for node, other in zip(nodes, others, strict=True)
        ]
    )


def _pulses(alike: list[tuple[int, ForcePulse]]) -> Pulses:
    """Return runs whose force has one shape."""
    steps = np.stack([np.diff(motion.time) for _, motion in alike])
    return Pulses(tuple(index for index, _ in alike), steps, alike[0][1].share()[:, None])


def _solved(
    group: list[Observation],
    design: Array,
    powder_of: Callable[[Array], Powder],
    true_density: float,
) -> tuple[Surface, Surface]:
    """Return ln(effective dwell) and the elastic share of runs that are pressed alike."""
    first = group[0]
    low = min(seen.pressure for seen in group) * 0.95
    high = max(seen.pressure for seen in group) * 1.05
    spread = np.linspace(0.0, 1.0, len(design)) * 97.0 % 1.0
    pressure = low * (high / low) ** spread
    weight = float(np.mean([seen.run.weight for seen in group if seen.run.weight is not None]))
    powder, charge = powder_of(design), first.side.tip.charge(weight, true_density)
    try:
        with np.errstate(over="raise", divide="raise", invalid="raise"):
            pulse = compress(
                first.side.press,
                powder,
                charge,
                pressure,
                first.setting,
                first.pre_share if precompression_counts(powder, first.pre_share) else 0.0,
            )
    except (ArithmeticError, ValueError):
        raise InputError(_unsolvable(first)) from None
    features = _features(design, pressure)
    share = elastic_share(powder, charge, pulse.in_die, pulse.static_pressure, pulse.peak_pressure)
    return fit_surface(features, np.log(pulse.effective_dwell)), fit_surface(features, share)


def _unsolvable(seen: Observation) -> Fault:
    """Return that no powder near what all runs suggest could be pressed as these runs were."""
    return Fault(
        "the run table",
        f"{seen.run.press} runs such as {seen.run.name}",
        "figures that do not go with the other runs, so that their pulse cannot be solved",
        "runs of one powder",
        "Check weight, thickness, force and the tooling of these runs.",
    )
