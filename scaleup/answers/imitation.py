"""The other way round: a production result made again on the lab press, as far as it can be."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass

import numpy as np

from scaleup.answers.lab_bench import LAB_MATCHES, NEAR, Bench, LabMatch, same_dwell
from scaleup.calibration.arguments import shown
from scaleup.calibration.calibrated_study import CalibratedStudy
from scaleup.calibration.fit import Drawing, Fit, NoFit
from scaleup.calibration.reference import Reference
from scaleup.errors import Fault, InputError
from scaleup.model.estimate import Estimate, drawn, exactly, unavailable
from scaleup.model.study import ProductionSide, Study
from scaleup.powder.compression import Pulse
from scaleup.presses.press import Setting, moves_the_tips
from scaleup.sentence import Fact, Sentence, Words, joined
from scaleup.short_repr import short_repr
from scaleup.shown import Shown
from scaleup.text import meant
from scaleup.transfer.filling import fill_depth
from scaleup.transfer.settings import Tablet, breaking_force_of, no_tablet
from scaleup.transfer.verdict import CAUTION


@short_repr
@dataclass(frozen=True)
class LabSettings:
    """What is set on a single-station press, and what follows for the pulse."""

    main_pressure: Estimate
    main_force: Estimate
    hold: Estimate
    loading_rate: Estimate
    stroke_rate: Estimate
    fill_depth: Estimate
    effective_dwell: Estimate
    time_above_90: Estimate
    contact_time: Estimate
    strain_rate: Estimate


@short_repr
@dataclass(frozen=True)
class LabEquivalent:
    """The lab settings under one match, with the tablet they predict."""

    match: str
    reachable: bool
    reason: Words
    settings: LabSettings
    tablet: Tablet


@short_repr
@dataclass(frozen=True)
class Imitation(Shown):
    """A production result beside the lab settings that come close to it.

    Examples
    --------
    >>> import scaleup
    >>> analysis = scaleup.Analysis(scaleup.read_study("examples/fescue"), draws=200)
    >>> [item.match for item in analysis.imitate("P2").equivalents]
    ['pressure', 'solid-fraction', 'strength', 'dwell']
    """

    study: Study
    drawing: Drawing
    fit: Fit | NoFit
    reference: Reference
    """The production runs to be made again."""
    settings: LabSettings
    """Of the production runs, as far as a lab press has the same figures."""
    tablet: Tablet
    equivalents: tuple[LabEquivalent, ...]
    can: tuple[Words, ...]
    cannot: tuple[Words, ...]
    filling: Words = ""
    """What another way of filling dies does to the fill depth, empty where it is none."""
    caution: str = CAUTION

    @property
    def made_on(self) -> ProductionSide:
        """Return the press that made the production runs, with its tooling."""
        return self.study.makers[self.reference.runs[0].run.maker]


def imitation_of(known: CalibratedStudy, reference: Reference) -> Imitation:
    """Return lab settings that make production runs again, and what they cannot imitate."""
    if isinstance(known.fit, NoFit):
        return _without_fit(known, known.fit, reference)
    bench = Bench.of(known, known.fit, reference)
    return Imitation(
        study=known.study,
        drawing=known.drawing,
        fit=known.fit,
        reference=reference,
        settings=_production_settings(reference, bench.made),
        tablet=_measured_tablet(reference),
        equivalents=tuple(_equivalent(bench, *each) for each in LAB_MATCHES.items()),
        can=() if known.doubts else tuple(_can(bench)),
        cannot=(*known.doubts, *_cannot(bench)),
        filling="" if bench.filling is None else bench.filling.told,
    )


def production_runs(study: Study, name: str | None) -> str:
    """Return the name of the production runs to be made again.

    Raises
    ------
    InputError
        If there are no production runs, or several and none is named.
    """
    file = study.lab.runs_file
    names = list(dict.fromkeys(run.name for run in study.lab.runs if run.press == "production"))
    if not names:
        allowed = 'at least one row whose press is "production", with its speed'
        raise InputError(Fault(file, "press", "no run on the production press", allowed))
    known = ", ".join(names)
    if name is None and len(names) > 1:
        found = f"no name, and {len(names)} production runs in {file}"
        raise InputError(Fault("", "run", found, f"one of {known}"))
    chosen = names[0] if name is None else name
    if chosen not in names:
        raise InputError(
            Fault(
                "",
                "run",
                f"the unknown run {shown(chosen)}",
                f"a production run of {file}: {known}",
                meant(str(chosen), names),
            )
        )
    return chosen


def _equivalent(bench: Bench, name: str, match: LabMatch) -> LabEquivalent:
    matched = match(bench)
    if isinstance(matched, Sentence | str):
        return LabEquivalent(name, False, matched, _no_settings(matched), no_tablet(matched))
    pressure, setting, reason = matched
    if pressure.value is None:
        return LabEquivalent(
            name, False, pressure.reason, _no_settings(pressure.reason), no_tablet(pressure.reason)
        )
    force = pressure.value * bench.lab.tip.area
    limit = bench.study.lab.press.profile.greatest_force
    rating = bench.study.lab.tooling.profile.tip_force_rating
    pulse = bench.pulse(np.full(bench.powder.draws, pressure.value), setting)
    over: Words = ""
    if force > min(limit, rating or np.inf):
        over = Sentence(
            "it takes {force}; press and tips allow {limit}",
            force=Fact(force, "N"),
            limit=Fact(min(limit, rating or np.inf), "N"),
        )
    reasons = [why for why in (reason, over, _tips_meet(bench, setting, pulse)) if why]
    return LabEquivalent(
        name,
        not reasons,
        joined("; ", reasons),
        _settings(bench, pressure, setting, pulse),
        _tablet(bench, pulse),
    )


def _tips_meet(bench: Bench, setting: Setting, pulse: Pulse) -> Words:
    """Return why the tips of the lab press cannot be set so, empty if they can.

    A press that drives the force goes on until it is reached; only one that moves the tips along a
    path has them set without load.
    """
    loaded = float(np.median(pulse.in_die))
    if loaded <= 0.0:
        return "so little powder fits into the cups that the tips meet on it"
    gap = float(np.median(pulse.separation))
    if gap >= 0.0 or not moves_the_tips(bench.lab.press, setting):
        return ""
    return Sentence(
        "set without load the tips would be {into} into each other", into=Fact(-gap, "mm")
    )


def _settings(bench: Bench, pressure: Estimate, setting: Setting, pulse: Pulse) -> LabSettings:
    profile = bench.study.lab.press.profile
    return LabSettings(
        main_pressure=pressure,
        main_force=pressure.times(bench.lab.tip.area, "N"),
        hold=_dialled(setting.hold, "s", f"{profile.name} has no hold to set"),
        loading_rate=_dialled(setting.loading_rate, "N/s", f"{profile.name} loads in its own way"),
        stroke_rate=_dialled(setting.speed, "rpm", f"{profile.name} has no speed to set"),
        fill_depth=fill_depth(bench.filling, bench.charge.weight, bench.lab.tip),
        effective_dwell=drawn(pulse.effective_dwell, "s"),
        time_above_90=drawn(pulse.time_above_90, "s"),
        contact_time=drawn(pulse.contact_time, "s"),
        strain_rate=drawn(pulse.strain_rate, "1/s"),
    )


def _dialled(value: float | None, unit: str, reason: str) -> Estimate:
    return unavailable(unit, reason) if value is None else exactly(value, unit)


def _tablet(bench: Bench, pulse: Pulse) -> Tablet:
    fit, tip = bench.fit, bench.lab.tip
    solid = bench.powder.solid_fraction(pulse.static_pressure)
    wall = bench.charge.wall(solid)
    thickness = tip.thickness(wall)
    no_strength = "the runs have too few breaking forces for a strength curve"
    no_ejection = "fewer than two runs have an ejection force"
    strength = None if fit.strength is None else fit.strength.strength(solid)
    pushed = None if fit.ejection is None else fit.ejection.stress(pulse.peak_pressure)
    return Tablet(
        weight=exactly(bench.charge.weight, "mg"),
        solid_fraction=drawn(solid, "1"),
        thickness=drawn(thickness, "mm"),
        tensile_strength=unavailable("MPa", no_strength)
        if strength is None
        else drawn(strength, "MPa"),
        breaking_force=unavailable("N", no_strength)
        if strength is None
        else breaking_force_of(tip.breaking_force(strength, thickness)),
        ejection_force=unavailable("N", no_ejection)
        if pushed is None
        else drawn(pushed * tip.perimeter * wall, "N"),
    )


def _no_settings(reason: Words) -> LabSettings:
    units = ("MPa", "N", "s", "N/s", "rpm", "mm", "s", "s", "s", "1/s")
    return LabSettings(*[unavailable(unit, reason) for unit in units])


def _production_settings(reference: Reference, made: Pulse) -> LabSettings:
    rotary = "a rotary press has no such setting"
    speed = reference.runs[0].setting.speed
    return LabSettings(
        main_pressure=reference.mean(lambda seen: seen.pressure, "MPa", "pressure"),
        main_force=reference.mean(lambda seen: seen.run.force, "N", "force"),
        hold=unavailable("s", rotary),
        loading_rate=unavailable("N/s", rotary),
        stroke_rate=_dialled(speed, "rpm", "no speed in the production runs"),
        fill_depth=reference.mean(lambda seen: seen.run.fill_depth, "mm", "fill depth"),
        effective_dwell=drawn(made.effective_dwell, "s"),
        time_above_90=drawn(made.time_above_90, "s"),
        contact_time=drawn(made.contact_time, "s"),
        strain_rate=drawn(made.strain_rate, "1/s"),
    )


def _measured_tablet(reference: Reference) -> Tablet:
    mean = reference.mean
    return Tablet(
        weight=mean(lambda seen: seen.run.weight, "mg", "weight"),
        solid_fraction=mean(lambda seen: seen.solid_fraction, "1", "weight and thickness"),
        thickness=mean(lambda seen: seen.run.thickness, "mm", "thickness"),
        tensile_strength=mean(lambda seen: seen.strength, "MPa", "breaking force and thickness"),
        breaking_force=mean(lambda seen: seen.run.breaking_force, "N", "breaking force"),
        ejection_force=mean(lambda seen: seen.run.ejection_force, "N", "ejection force"),
    )


def _can(bench: Bench) -> Iterator[Words]:
    """Yield what the lab press imitates, each with its figure."""
    limit = min(
        bench.study.lab.press.profile.greatest_force,
        bench.study.lab.tooling.profile.tip_force_rating or np.inf,
    )
    force = bench.reference.pressure * bench.lab.tip.area
    if force <= limit:
        yield Sentence(
            "the peak pressure: {force} on the lab tips, {limit} allowed",
            force=Fact(force, "N"),
            limit=Fact(limit, "N"),
        )
    needed = np.median(bench.pressure_for(bench.made.static_pressure)) * bench.lab.tip.area
    if needed <= limit:
        yield Sentence(
            "the solid fraction, and with it the strength the law gives: {force} at the usual lab "
            "timing",
            force=Fact(float(needed), "N"),
        )
    if not same_dwell(bench)[2]:
        yield "the effective dwell, and so the whole effect of rate"


def _cannot(bench: Bench) -> Iterator[Words]:
    """Yield what the lab press does not imitate, and what to make of it."""
    reason = same_dwell(bench)[2]
    if reason:
        yield Sentence("the dwell: {why}", why=reason)
    slow = bench.pulse(bench.made.peak_pressure, bench.closest).strain_rate
    ratio = float(np.median(bench.made.strain_rate / slow))
    if ratio > NEAR:
        yield Sentence(
            "the strain rate: {slower:2} times slower in the lab, so air has longer to escape and "
            "capping by trapped air does not show",
            slower=ratio,
        )
    share = bench.reference.runs[0].pre_share
    if share > 0.0:
        yield Sentence(
            "precompression ({share:%} of the main force): the lab press has one stroke",
            share=share,
        )
    maker = bench.reference.runs[0].run.maker
    lab = bench.study.lab.press.profile.feed
    made = bench.study.makers[maker].press.profile.feed
    if made != lab:
        yield (
            f"the {made} feeder: press blend taken from the feeder to see what it does to strength"
        )
    yield "die filling, weight variation, temperature and wear at speed"


def _without_fit(known: CalibratedStudy, fit: NoFit, reference: Reference) -> Imitation:
    reason = fit.why
    nothing = _no_settings(reason)
    return Imitation(
        study=known.study,
        drawing=known.drawing,
        fit=fit,
        reference=reference,
        settings=nothing,
        tablet=_measured_tablet(reference),
        equivalents=tuple(
            LabEquivalent(name, False, reason, nothing, no_tablet(reason)) for name in LAB_MATCHES
        ),
        can=(),
        cannot=(*known.doubts, f"anything: {reason}"),
    )
