"""A lab result translated to a production press: settings, tablet, risks and verdict."""

from __future__ import annotations

from dataclasses import dataclass, field
from functools import cached_property

from scaleup.answers.assumed import Assumed
from scaleup.answers.budget import BudgetAnswer, budget_of
from scaleup.calibration.arguments import one_of
from scaleup.calibration.fit import Drawing, Fit, NoFit
from scaleup.calibration.reference import Reference
from scaleup.model.estimate import Estimate, drawn, exactly
from scaleup.model.study import Study
from scaleup.short_repr import short_repr
from scaleup.shown import Drawn
from scaleup.transfer.case import TransferCase
from scaleup.transfer.equivalent import Equivalent
from scaleup.transfer.fastest_speed import Fastest
from scaleup.transfer.findings import Findings
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
class Translation(Drawn):
    """The answer to one study; what a notebook holds and the command prints.

    Examples
    --------
    >>> import scaleup
    >>> study = scaleup.read_study("examples/marram")
    >>> found = scaleup.Analysis(study, draws=300).translate()
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
    case: TransferCase = field(repr=False, compare=False)
    """What the answer is about; pictures are drawn of it."""
    assumed: tuple[Assumed, ...] = ()
    """What no input states and the program supplied."""
    caution: str = CAUTION

    @property
    def severe(self) -> bool:
        """Return whether any risk is severe."""
        return any(item.severity == "severe" for item in self.risks)

    @cached_property
    def budget(self) -> BudgetAnswer:
        """Return what the bands are made of, worked out when first asked for."""
        return budget_of(self.case)

    def equivalent(self, match: str) -> Equivalent:
        """Return the equivalent of a match.

        Raises
        ------
        InputError
            If there is no match of this name.
        """
        one_of("match", match, [item.match for item in self.equivalents])
        return next(item for item in self.equivalents if item.match == match)


def translation_of(findings: Findings, assumed: tuple[Assumed, ...]) -> Translation:
    """Return what is found about a case as the answer that translates it."""
    case = findings.case
    return Translation(
        study=case.study,
        speed=case.speed,
        confidence=case.confidence,
        drawing=case.calibrated.drawing,
        lab=_lab_result(case),
        fit=case.calibrated.fit,
        equivalents=case.equivalents,
        fastest=findings.fastest,
        risks=findings.risks,
        verdict=findings.verdict,
        case=case,
        assumed=assumed,
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


def _lab_result(case: TransferCase) -> LabResult:
    reference, known, reason = case.reference, _lab_settings(case.reference), NOT_IN_THE_LAB
    if case.no_fit is not None:
        reason = case.no_fit.why
    else:
        known |= _pulse_settings(case)
    return LabResult(reference, no_settings(reason, **known), _lab_tablet(reference))


def _pulse_settings(case: TransferCase) -> dict[str, Estimate]:
    pulse, speed = case.lab_pulse.pulse, case.reference.runs[0].setting.speed
    known = {
        "effective_dwell": drawn(pulse.effective_dwell, "s"),
        "time_above_90": drawn(pulse.time_above_90, "s"),
        "contact_time": drawn(pulse.contact_time, "s"),
        "strain_rate": drawn(pulse.strain_rate, "1/s"),
    }
    return known if speed is None else known | {"turret_speed": exactly(speed, "rpm")}
