"""What the pulses of runs are as a function of the fitted parameters.

The effective dwell of every run, and of those with an in-die thickness how much of the elastic
part acts where the tips are closest (`scaleup.powder.in_die`).

The dwell of a prescribed force follows from the rate exponent alone (`force_dwell`). A run on a
press that prescribes the tip separation needs the solver, and so does an elastic share: they are
carried between solved parameter sets (`dwell_surface`).
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np

from scaleup.arrays import Array
from scaleup.calibration.dwell_surface import Carried, Surface, Terms, fit_surface
from scaleup.calibration.force_dwell import LongPulses, Pulses, force_pulses
from scaleup.calibration.logged_pulses import NO_LOGS, PressLogs, shares_of_logs
from scaleup.calibration.observations import Observation
from scaleup.errors import Fault, InputError
from scaleup.powder.charge import Charge
from scaleup.powder.compression import CONVERGED, compress
from scaleup.powder.in_die import elastic_share, grown_states
from scaleup.powder.law import Powder
from scaleup.powder.precompression import precompression_counts
from scaleup.powder.rate import effective_dwell
from scaleup.presses.press import Setting
from scaleup.presses.pulse_shapes import ForcePulse

NEAR = 0.1
"""Share by which a solved pulse may miss its pressure: the surface is told the one it has."""


@dataclass(frozen=True)
class MeasuredPress:
    """What logs say of the pulse of their press, for its runs without a log."""

    runs: tuple[int, ...]
    """Places of those runs."""
    shares: Array
    """How much each log counts for each of them, shape (runs, logs)."""
    logs: PressLogs
    by_geometry: Carried
    """ln(effective dwell/s) of the geometry at the settings of the logs."""

    def ratio(self, terms: Array, m: Array) -> Array:
        """Return the dwells over those of the geometry, shape (runs, sets)."""
        apart = np.log(self.logs.dwell(m)) - self.by_geometry.at(terms)
        ratio: Array = np.exp(self.shares @ apart)
        return ratio


@dataclass(frozen=True)
class DwellOfRuns:
    """Effective dwell of every run, for columns (form parameters, m, ln K)."""

    observations: tuple[Observation, ...]
    pulses: tuple[Pulses | LongPulses, ...]
    """Of the runs whose press prescribes the force."""
    terms: Terms
    log_dwell: Carried
    """Of the runs whose press moves the tips."""
    share: Carried
    """Elastic shares, of the runs with an in-die thickness."""
    measured: MeasuredPress | None = None
    """Of a press of which some runs are logged and others are not."""

    @property
    def solved(self) -> bool:
        """Return whether the dwell of any run took the solver."""
        return bool(self.log_dwell.runs)

    @property
    def error(self) -> float:
        """Return the largest error of any surface in ln(t_eff), 0 if all runs are closed form."""
        return self.log_dwell.error

    def at(self, columns: Array) -> Array:
        """Return effective dwells in s, shape (runs, sets)."""
        dwell = np.empty((len(self.observations), len(columns)))
        for each in self.pulses:
            dwell[list(each.runs)] = each.dwell(columns[:, -2])
        if not self.solved:
            return dwell
        terms = self.terms.of(columns)
        dwell[list(self.log_dwell.runs)] = np.exp(self.log_dwell.at(terms))
        if self.measured is not None:
            dwell[list(self.measured.runs)] *= self.measured.ratio(terms, columns[:, -2])
        return dwell

    def elastic_share(self, columns: Array, runs: Sequence[int]) -> Array:
        """Return the share of ``P/K`` that acts where the tips are closest, shape (runs, sets).

        `runs` are places of runs with an in-die thickness.
        """
        return self.share.at(self.terms.of(columns), runs)


@dataclass(frozen=True)
class _Solved:
    """Runs that were pressed alike, solved for parameter sets."""

    runs: tuple[int, ...]
    pressure: Array
    """MPa, shape (sets,), and so on."""
    log_dwell: Array | None
    share: Array | None


@dataclass(frozen=True)
class PressedRuns:
    """Runs sorted by how they were pressed."""

    observations: tuple[Observation, ...]
    pulses: tuple[Pulses | LongPulses, ...]
    """Of the runs whose press prescribes the force."""
    moved: tuple[tuple[int, ...], ...]
    """Places of the runs whose press moves the tips, those pressed alike together."""
    driven: tuple[tuple[int, ...], ...]
    """Places of the runs of a prescribed force that have an in-die thickness, likewise."""
    logs: PressLogs = NO_LOGS
    """What is logged of the press of the production runs."""

    @classmethod
    def of(cls, observations: tuple[Observation, ...], logs: PressLogs = NO_LOGS) -> PressedRuns:
        """Return the runs sorted."""
        forces: list[tuple[int, ForcePulse]] = []
        moved: dict[object, list[int]] = {}
        driven: dict[object, list[int]] = {}
        for index, seen in enumerate(observations):
            motion = seen.side.press.motion(seen.run.force, seen.setting)
            where = (seen.run.maker, seen.setting)
            if not isinstance(motion, ForcePulse):
                moved.setdefault((*where, round(seen.pre_share, 3)), []).append(index)
                continue
            forces.append((index, motion))
            if seen.in_die_solid_fraction is not None:
                log = (seen.run.record, seen.run.compression)
                driven.setdefault((*where, log), []).append(index)
        together, forced = (tuple(map(tuple, each.values())) for each in (moved, driven))
        return cls(observations, force_pulses(forces), together, forced, logs)

    @property
    def unlogged(self) -> tuple[int, ...]:
        """Return the places of runs without a log on a press of which there are logs."""
        if not self.logs.logs:
            return ()
        places = (run for group in self.moved for run in group)
        return tuple(run for run in places if self.observations[run].run.maker in self.logs.sides)

    def dwells(
        self, designs: Sequence[Array], powder: Powder, true_density: float
    ) -> list[DwellOfRuns]:
        """Return what the runs are around each design of equally many parameter sets.

        `powder` has the sets of all designs, one after another: they are solved together, which
        takes hardly longer than one of them.
        """
        sets = len(designs[0])
        solved = [self._moved(group, powder, sets, true_density) for group in self.moved]
        solved += [self._driven(group, powder, sets, true_density) for group in self.driven]
        logged = self._by_geometry(powder, sets, true_density) if self.unlogged else []
        parts = [slice(i * sets, (i + 1) * sets) for i in range(len(designs))]
        return [self._carried(*each, solved, logged) for each in zip(designs, parts, strict=True)]

    def _carried(
        self, design: Array, part: slice, solved: list[_Solved], logged: list[_Solved]
    ) -> DwellOfRuns:
        terms = Terms.around(design)
        dwells: dict[int, Surface] = {}
        shares: dict[int, Surface] = {}
        for each in solved:
            pressure = each.pressure[part]
            if each.log_dwell is not None:
                surface = fit_surface(terms, design, pressure, each.log_dwell[part])
                dwells.update(dict.fromkeys(each.runs, surface))
            if each.share is not None:
                surface = fit_surface(terms, design, pressure, each.share[part])
                shares.update(dict.fromkeys(each.runs, surface))
        pressures = [seen.pressure for seen in self.observations]
        dwell, share = (Carried.of(each, pressures) for each in (dwells, shares))
        measured = self._measured(terms, design, part, logged)
        return DwellOfRuns(self.observations, self.pulses, terms, dwell, share, measured)

    def _measured(
        self, terms: Terms, design: Array, part: slice, logged: list[_Solved]
    ) -> MeasuredPress | None:
        if not logged:
            return None
        surfaces = {
            place: fit_surface(terms, design, each.pressure[part], each.log_dwell[part])
            for place, each in enumerate(logged)
            if each.log_dwell is not None
        }
        logs, unlogged = self.logs.logs, [self.observations[run] for run in self.unlogged]
        shares = [
            shares_of_logs(logs, seen.pressure, seen.setting.speed or logs[0].speed)[0]
            for seen in unlogged
        ]
        by_geometry = Carried.of(surfaces, self._pressures_of_logs)
        return MeasuredPress(self.unlogged, np.array(shares), self.logs, by_geometry)

    @property
    def _pressures_of_logs(self) -> list[float]:
        """Return the pressures of the logs in MPa, within those of the runs.

        A log may be of another powder, and no powder of these runs could be pressed as hard; its
        dwell hardly goes with the pressure.
        """
        runs = [seen.pressure for seen in self.observations]
        return [float(np.clip(log.pressure, min(runs), max(runs))) for log in self.logs.logs]

    def _by_geometry(self, powder: Powder, sets: int, true_density: float) -> list[_Solved]:
        """Return the pulse that the geometry gives at the settings of the logs."""
        first = self.observations[self.unlogged[0]]
        charge = _charge([first], true_density)
        solved = []
        for log, pressure in zip(self.logs.logs, self._pressures_of_logs, strict=True):
            asked = np.resize(_between(pressure, pressure, sets), powder.draws)
            pulse = compress(
                first.side.press, powder, charge, asked, Setting(speed=log.speed), tolerance=NEAR
            )
            solved.append(_Solved((), pulse.peak_pressure, np.log(pulse.effective_dwell), None))
        return solved

    def _moved(
        self, runs: tuple[int, ...], powder: Powder, sets: int, true_density: float
    ) -> _Solved:
        """Return runs whose press moves the tips, solved near pressures over their range."""
        group = [self.observations[run] for run in runs]
        first, charge = group[0], _charge(group, true_density)
        counts = precompression_counts(powder, first.pre_share)
        share = first.pre_share if counts else 0.0
        near = CONVERGED if counts else NEAR
        asked = np.resize(_pressures(group, sets), powder.draws)
        try:
            with np.errstate(over="raise", divide="raise", invalid="raise"):
                pulse = compress(
                    first.side.press, powder, charge, asked, first.setting, share, near
                )
        except (ArithmeticError, ValueError):
            raise InputError(_unsolvable(first)) from None
        peak, state = pulse.peak_pressure, pulse.static_pressure
        read = any(seen.in_die_solid_fraction is not None for seen in group)
        elastic = elastic_share(powder, charge, pulse.in_die, state, peak) if read else None
        return _Solved(runs, peak, np.log(pulse.effective_dwell), elastic)

    def _driven(
        self, runs: tuple[int, ...], powder: Powder, sets: int, true_density: float
    ) -> _Solved:
        """Return the elastic share of runs whose press prescribes the force."""
        group = [self.observations[run] for run in runs]
        first, charge = group[0], _charge(group, true_density)
        pressure = np.resize(_pressures(group, sets), powder.draws)
        force = float(np.median(pressure)) * charge.tip_area
        motion = first.side.press.motion(force, first.setting)
        if not isinstance(motion, ForcePulse):
            raise TypeError(f"run {first.run.name} has no prescribed force")
        # The designs have the same exponents, and a log has many moments.
        m, each = np.unique(powder.rate_exponent, return_inverse=True)
        dwell = np.asarray(effective_dwell(motion.time, motion.share(), m))
        force_share, grown = grown_states(motion, m, dwell)
        state = powder.static_pressure(pressure, dwell[each])
        level = powder.hardening.densification
        rise = level(state * grown[:, each]) - level(state)
        share = (rise * powder.elastic / pressure + force_share).max(axis=0)
        return _Solved(runs, pressure, None, share)


def _charge(group: Sequence[Observation], true_density: float) -> Charge:
    weight = float(np.mean([seen.run.weight for seen in group if seen.run.weight is not None]))
    return group[0].side.tip.charge(weight, true_density)


def _pressures(group: Sequence[Observation], sets: int) -> Array:
    """Return pressures in MPa over the range of some runs, in no order, shape (sets,)."""
    pressures = [seen.pressure for seen in group]
    return _between(min(pressures), max(pressures), sets)


def _between(least: float, most: float, sets: int) -> Array:
    """Return pressures in MPa over a range and a little beyond, in no order, shape (sets,)."""
    low, high = 0.95 * least, 1.05 * most
    spread = np.linspace(0.0, 1.0, sets) * 97.0 % 1.0
    pressures: Array = low * (high / low) ** spread
    return pressures


def _unsolvable(seen: Observation) -> Fault:
    """Return that no powder near what all runs suggest could be pressed as these runs were."""
    return Fault(
        "the run table",
        f"{seen.run.maker} runs such as {seen.run.name}",
        "figures that do not go with the other runs, so that their pulse cannot be solved",
        "runs of one powder",
        "Check weight, thickness, force and the tooling of these runs.",
    )
