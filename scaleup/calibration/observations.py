"""Runs of a study as pressures, solid fractions and strengths: what the fit can use."""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass, replace

import numpy as np

from scaleup.errors import Fault, InputError, told_once
from scaleup.io.logs_beside import log_of_run
from scaleup.model.contradictions import contradictions
from scaleup.model.replicates import mixed_conditions
from scaleup.model.run import Run
from scaleup.model.study import LabSide, ProductionSide, Study
from scaleup.powder.tablet import ejection_stress
from scaleup.powder.tip import Tip, tip_from
from scaleup.presses.press import Press, Setting, press_from
from scaleup.presses.recorded import RecordedPress
from scaleup.pulses.logged_compression import Compression, compression_of
from scaleup.short_repr import short_repr

PEAKS_APART = 0.05
"""Share by which a run's force and the peak of its log may differ."""


@short_repr
@dataclass(frozen=True)
class Side:
    """A press with its tooling, ready to compress."""

    press: Press
    tip: Tip


@short_repr
@dataclass(frozen=True)
class Observation:
    """One run in the terms of the law; None where the lab did not measure."""

    run: Run
    side: Side
    setting: Setting
    pressure: float
    """MPa."""
    pre_share: float
    solid_fraction: float | None
    in_die_solid_fraction: float | None
    strength: float | None
    """MPa."""
    ejection_stress: float | None
    """MPa."""
    fill_density: float | None
    """mg/mm³ of loose powder in the die, its depth measured at the edge of the lower tip."""
    logged: Compression | None = None
    """What the run's force log says, if it has one; its press then is the logged pulse."""

    @property
    def weight(self) -> float:
        """Return the weight in mg; asked only of runs with a solid fraction.

        Raises
        ------
        ValueError
            If the run was not weighed.
        """
        if self.run.weight is None:
            raise ValueError(f"run {self.run.name} has no weight")
        return self.run.weight


def side_of(part: LabSide | ProductionSide) -> Side:
    """Return the press and tooling of one side of a study, ready to compress."""
    press, tooling = part.press.profile, part.tooling.profile
    return Side(press_from(press, tooling), tip_from(tooling))


def sides(study: Study) -> dict[str, Side]:
    """Return the presses of the runs by the names the run table uses for them.

    Production runs were made on the study's own production press, whichever is asked about.
    """
    return {"lab": side_of(study.lab), "production": side_of(study.own_production)}


def observe(study: Study, both: dict[str, Side]) -> tuple[Observation, ...]:
    """Return every run of a study in the terms of the law.

    Raises
    ------
    InputError
        If a run's figures cannot be true together, such as a tablet denser than its solid, if its
        press cannot have been set so, or if rows of one name were pressed differently.
    """
    made = study.own_production.press.profile
    faults = [*contradictions(study.lab, made), *mixed_conditions(study.lab)]
    seen = [_observation(study, run, both[run.press], faults) for run in study.lab.runs]
    if faults:
        raise InputError(told_once(faults))
    return tuple(item for item in seen if item is not None)


def _observation(study: Study, run: Run, side: Side, faults: list[Fault]) -> Observation | None:
    """Return a run in the terms of the law; what cannot be true of it goes to the faults."""
    logged = None
    try:
        if run.record:
            logged = _logged(study, run, side)
            side = Side(RecordedPress(logged.time, logged.force, side.press.compliance), side.tip)
            if run.in_die_thickness is None:
                run = replace(run, in_die_thickness=logged.in_die)
        tip, wall = side.tip, _wall(study, run, side.tip)
        ejected = tip.volume(np.array(run.thickness or np.nan), run.diameter or tip.width)
        squeezed = tip.volume(np.array(run.in_die_thickness or np.nan), tip.width)
        solid = _solid_fraction(study, run, float(ejected), faults, "thickness")
        in_die = _solid_fraction(study, run, float(squeezed), faults, "in-die thickness")
        strength = _strength(study, run, tip, wall)
    except InputError as error:
        faults.extend(error.faults)
        return None
    ejection = None
    if run.ejection_force is not None and wall is not None:
        ejection = float(ejection_stress(run.ejection_force, tip.perimeter, wall))
    fill = None
    if run.fill_depth is not None and run.weight is not None:
        fill = run.weight / (tip.area * run.fill_depth + tip.cup_volume)
    return Observation(
        run=run,
        side=side,
        setting=setting_of(study, run),
        pressure=run.force / tip.area,
        pre_share=0.0 if run.precompression is None else run.precompression / run.force,
        solid_fraction=solid,
        in_die_solid_fraction=in_die,
        strength=None if _broken_inside(run) else strength,
        ejection_stress=ejection,
        fill_density=fill,
        logged=logged,
    )


def _broken_inside(run: Run) -> bool:
    """Return whether the tablets capped or laminated: what they break at is no strength."""
    return any(name in run.seen for name in ("capping", "lamination"))


def _wall(study: Study, run: Run, tip: Tip) -> float | None:
    """Return the wall height in mm of the ejected tablet, None where it was not measured."""
    if run.thickness is None:
        return None
    wall = float(tip.wall(np.array(run.thickness)))
    if wall <= 0.0:
        found = f"{run.thickness:.4g} mm"
        allowed = f"more than the two cups of the tooling, {2.0 * tip.cup_depth:.4g} mm"
        raise InputError(_fault(study, run, "thickness", found, allowed))
    return wall


def _strength(study: Study, run: Run, tip: Tip, wall: float | None) -> float | None:
    """Return the tensile strength in MPa, None where force or thickness was not measured."""
    if run.breaking_force is None or run.thickness is None:
        return None
    try:
        return float(
            tip.strength(np.array(run.breaking_force), np.array(run.thickness), run.diameter)
        )
    except ValueError:
        found = f"{run.thickness:.4g} mm, a wall of {wall:.3g} mm"
        allowed = "a wall high enough for the equation of strength of this shape"
        raise InputError(_fault(study, run, "thickness", found, allowed)) from None


def _logged(study: Study, run: Run, side: Side) -> Compression:
    """Return the logged compression of a run, whose peak must be the run's force."""
    log = log_of_run(study, run)
    compression = compression_of(log, run.compression, side.press.compliance)
    if abs(compression.peak / run.force - 1.0) > PEAKS_APART:
        peak = f"{compression.peak / 1e3:.4g} kN"
        told = f"{run.force / 1e3:.4g} kN where the log {run.record} has {peak}"
        allowed = f"the same force within {PEAKS_APART * 100:g} %"
        mend = "Check the unit of the log, and which compression it is."
        raise InputError(_fault(study, run, "force", told, allowed, mend))
    return compression


def _solid_fraction(
    study: Study, run: Run, volume: float, faults: list[Fault], column: str
) -> float | None:
    """Return weight over true density and volume in mm³, None where either was not measured."""
    if run.weight is None or np.isnan(volume):
        return None
    solid = run.weight / (study.blend.true_density * max(volume, 1e-9))
    if 0.2 < solid < 0.999:
        return solid
    thickness = run.thickness if column == "thickness" else run.in_die_thickness
    faults.append(
        _fault(
            study,
            run,
            column,
            f"a solid fraction of {solid:.4g} from {run.weight:.4g} mg and {thickness:.4g} mm",
            "0.2 to 0.999",
            f"Check weight, {column}, the tooling and the true density of the blend "
            f"({study.blend.true_density:.4g} g/cm³).",
        )
    )
    return None


def _fault(study: Study, run: Run, column: str, found: str, allowed: str, mend: str = "") -> Fault:
    return Fault(study.lab.runs_file, f"line {run.line}, {column}", found, allowed, mend)


def setting_of(study: Study, run: Run) -> Setting:
    """Return the setting of a run: its own columns, else what the study says of the lab."""
    if run.press == "production":
        return Setting(speed=run.speed)
    lab = study.lab.defaults
    return Setting(
        speed=lab.speed if run.speed is None else run.speed,
        hold=lab.hold if run.hold is None else run.hold,
        loading_rate=lab.loading_rate if run.loading_rate is None else run.loading_rate,
    )


def with_solid_fraction(observations: Iterable[Observation]) -> tuple[Observation, ...]:
    """Return the observations that a densification curve can be fitted to."""
    return tuple(item for item in observations if item.solid_fraction is not None)
