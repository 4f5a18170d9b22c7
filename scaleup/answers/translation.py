"""A lab result translated to a production press: the whole path in one call."""

from __future__ import annotations

from dataclasses import dataclass, replace

from scaleup.answers.assumed import Assumed
from scaleup.answers.findings import findings, findings_without_fit, verdict_word
from scaleup.answers.granted import taken_for_granted
from scaleup.calibration.arguments import check_answer, one_of
from scaleup.calibration.fit import Drawing, Fit, NoFit
from scaleup.model.estimate import Estimate, drawn, exactly
from scaleup.model.study import Study
from scaleup.short_repr import short_repr
from scaleup.transfer.equivalent import Equivalent
from scaleup.transfer.holding import Fastest
from scaleup.transfer.question import LabCase, Question, lab_case, question
from scaleup.transfer.reference import Reference
from scaleup.transfer.risks import Risk
from scaleup.transfer.settings import Settings, Tablet, no_settings
from scaleup.transfer.verdict import CAUTION, Verdict


@short_repr
@dataclass(frozen=True)
class LabResult:
    """The lab result as measured, beside what the fit makes of its pulse."""

    reference: Reference
    settings: Settings
    tablet: Tablet


@short_repr
@dataclass(frozen=True)
class Translation:
    """The answer to one study; what a notebook holds and the command prints.

    Examples
    --------
    >>> from scaleup import read_study
    >>> study = read_study("examples/marram")
    >>> found = translate(study, draws=300)
    >>> [item.match for item in found.equivalents], found.severe
    (['pressure', 'solid-fraction', 'strength', 'dwell'], False)
    """

    study: Study
    speed: float
    confidence: float
    drawing: Drawing
    lab: LabResult
    fit: Fit | NoFit
    equivalents: tuple[Equivalent, ...]
    fastest: Fastest
    risks: tuple[Risk, ...]
    verdict: Verdict
    assumed: tuple[Assumed, ...] = ()
    """What no input states and the program supplied."""
    caution: str = CAUTION

    @property
    def severe(self) -> bool:
        """Return whether any risk is severe."""
        return any(item.severity == "severe" for item in self.risks)

    def equivalent(self, match: str) -> Equivalent:
        """Return the equivalent of a match.

        Raises
        ------
        InputError
            If there is no match of this name.
        """
        one_of("match", match, [item.match for item in self.equivalents])
        return next(item for item in self.equivalents if item.match == match)

    def _repr_html_(self) -> str:
        from scaleup.show.html import translation_html  # noqa: PLC0415  shown on demand

        return translation_html(self)


def translate(
    study: Study,
    *,
    speed: float | None = None,
    confidence: float | None = None,
    draws: int = 4000,
    seed: int = 1,
    as_given: bool = False,
) -> Translation:
    """Return the production settings that make a lab tablet again, and what could go wrong.

    Parameters
    ----------
    study
        As read by `scaleup.read_study`.
    speed
        Turret speed in rpm, the study's if absent.
    confidence
        With which limits and target must hold, between 0.5 and 1, the study's if absent.
    draws, seed
        How many parameter sets are drawn, and the seed that repeats them.
    as_given
        Whether the user confirms figures that no published material has.

    Raises
    ------
    InputError
        If an argument is out of range, runs contradict each other, or the tooling cannot work on
        the press.

    Examples
    --------
    >>> from scaleup import read_study
    >>> study = read_study("examples/marram")
    >>> found = translate(study, draws=300)
    >>> found.verdict.answer
    'transferable'
    >>> round(found.equivalent("pressure").settings.main_force.value)
    12028
    """
    check_answer(study, confidence=confidence, draws=draws, seed=seed, speed=speed)
    study = study.confirmed(as_given)
    asked_speed = study.production.speed if speed is None else speed
    asked_confidence = study.target.confidence if confidence is None else confidence
    case = lab_case(study, Drawing(draws, seed))
    if isinstance(case.fit, NoFit):
        bare = _without_fit(case, case.fit, asked_speed, asked_confidence)
        told = taken_for_granted(case, None, verdict_word, confidence_given=confidence is not None)
        return replace(bare, assumed=told)
    asked = question(case, study.production, asked_speed, asked_confidence)
    found = findings(case, asked)
    return Translation(
        study=study,
        speed=asked_speed,
        confidence=asked_confidence,
        drawing=case.drawing,
        lab=_lab_result(case.reference, asked),
        fit=case.fit,
        equivalents=found.equivalents,
        fastest=found.fastest,
        risks=found.risks,
        verdict=found.verdict,
        assumed=taken_for_granted(
            case, asked, verdict_word, confidence_given=confidence is not None
        ),
    )


def _lab_settings(reference: Reference) -> dict[str, Estimate]:
    return {
        "main_pressure": reference.mean(lambda seen: seen.pressure, "MPa", "pressure"),
        "main_force": reference.mean(lambda seen: seen.run.force, "N", "force"),
        "fill_depth": reference.mean(lambda seen: seen.run.fill_depth, "mm", "fill depth"),
    }


def _lab_tablet(reference: Reference) -> Tablet:
    mean = reference.mean
    return Tablet(
        weight=mean(lambda seen: seen.run.weight, "mg", "weight"),
        solid_fraction=mean(lambda seen: seen.solid_fraction, "1", "weight and thickness"),
        thickness=mean(lambda seen: seen.run.thickness, "mm", "thickness"),
        tensile_strength=mean(lambda seen: seen.strength, "MPa", "breaking force and thickness"),
        breaking_force=mean(lambda seen: seen.run.breaking_force, "N", "breaking force"),
        ejection_force=mean(lambda seen: seen.run.ejection_force, "N", "ejection force"),
    )


NOT_IN_THE_LAB = "a single-station lab press has no such setting"


def _lab_result(reference: Reference, asked: Question) -> LabResult:
    pulse = asked.lab.pulse
    speed = reference.runs[0].setting.speed
    known = _lab_settings(reference) | {
        "effective_dwell": drawn(pulse.effective_dwell, "s"),
        "time_above_90": drawn(pulse.time_above_90, "s"),
        "contact_time": drawn(pulse.contact_time, "s"),
        "strain_rate": drawn(pulse.strain_rate, "1/s"),
    }
    if speed is not None:
        known["turret_speed"] = exactly(speed, "rpm")
    return LabResult(reference, no_settings(NOT_IN_THE_LAB, **known), _lab_tablet(reference))


def _without_fit(case: LabCase, no_fit: NoFit, speed: float, confidence: float) -> Translation:
    """Return what geometry alone can say where the runs allow no fit."""
    study, reference = case.study, case.reference
    reason = "; ".join(no_fit.reasons)
    found = findings_without_fit(case, no_fit, speed, confidence)
    return Translation(
        study=study,
        speed=speed,
        confidence=confidence,
        drawing=case.drawing,
        lab=LabResult(
            reference, no_settings(reason, **_lab_settings(reference)), _lab_tablet(reference)
        ),
        fit=no_fit,
        equivalents=found.equivalents,
        fastest=found.fastest,
        risks=found.risks,
        verdict=found.verdict,
    )
