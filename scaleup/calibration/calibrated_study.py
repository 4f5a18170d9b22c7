"""A study with its runs read and its powder fitted: the same for every press asked about."""

from __future__ import annotations

from dataclasses import dataclass, field, replace
from functools import cached_property

from scaleup.calibration.fit import Drawing, Fit, NoFit, fit_study
from scaleup.calibration.observations import Observation, observe, sides
from scaleup.calibration.reference import Reference, choose_reference
from scaleup.calibration.run_fit import RunFit
from scaleup.calibration.unit_doubts import Doubt, doubts
from scaleup.errors import Fault, InputError
from scaleup.model.estimate import Estimate, exactly
from scaleup.model.study import ProductionSide, Study
from scaleup.sentence import Sentence
from scaleup.short_repr import short_repr


@short_repr
@dataclass(frozen=True)
class CalibratedStudy:
    """A study, its runs as observations, the lab result to be made again, and the fit."""

    study: Study
    observations: tuple[Observation, ...]
    reference: Reference
    fit: Fit | NoFit
    drawing: Drawing
    elsewhere: CalibratedStudy | None = field(default=None, repr=False, compare=False)
    """The same with the production press that it was fitted with; None if that is this one."""

    @property
    def doubts(self) -> tuple[Sentence, ...]:
        """Return why the units are doubtful, none where the study's figures are taken as given."""
        if self.study.as_given:
            return ()
        return tuple(each.message for each in self.unit_doubts)

    @cached_property
    def unit_doubts(self) -> tuple[Doubt, ...]:
        """Return what speaks for a slip of a unit, taken as given or not."""
        return doubts(self.study, self.observations, self.reference.name)

    @property
    def weight(self) -> Estimate:
        """Return the weight of a production tablet in mg: the target's, else the reference's."""
        if self.study.target.weight is not None:
            return exactly(self.study.target.weight, "mg")
        return self.reference.mean(lambda seen: seen.run.weight, "mg", "weight")

    @property
    def suspicious(self) -> tuple[RunFit, ...]:
        """Return the runs that chance hardly explains; none where there is no fit."""
        if isinstance(self.fit, NoFit):
            return ()
        return tuple(row for row in self.fit.runs if row.suspicious)

    @cached_property
    def without_suspicious(self) -> CalibratedStudy | None:
        """Return the same fitted without its suspicious runs; None if it has none."""
        if self.elsewhere is not None:
            without = self.elsewhere.without_suspicious
            return None if without is None else without.on(self.study.production)
        lines = {row.observation.run.line for row in self.suspicious}
        kept = tuple(seen for seen in self.observations if seen.run.line not in lines)
        if not lines or not kept:
            return None
        fit = fit_study(self.study, kept, self.drawing)
        return replace(self, observations=kept, reference=self._reference_among(kept), fit=fit)

    def _reference_among(self, kept: tuple[Observation, ...]) -> Reference:
        """Return the lab result to be made again; one named in the study stays it."""
        if self.study.lab.reference is None:
            return choose_reference(self.study, kept)
        lines = {seen.run.line for seen in kept}
        runs = tuple(seen for seen in self.reference.runs if seen.run.line in lines)
        return replace(self.reference, runs=runs or self.reference.runs)

    def on(self, production: ProductionSide) -> CalibratedStudy:
        """Return the same with another production press; the fit stays as it is."""
        study = replace(self.study, production=production)
        return replace(self, study=study, elsewhere=self.elsewhere or self)

    def refuse_doubts(self) -> None:
        """Refuse figures in doubt, where an answer has no place of its own to say so.

        Raises
        ------
        InputError
            With every doubt.
        """
        allowed = "figures that a powder can have"
        mend = "Mend the unit, or confirm the figures with --as-given."
        told = map(str, self.doubts)
        texts = [f"{each[:1].lower()}{each[1:].rstrip('.')}" for each in told]
        if texts:
            file = self.study.lab.runs_file
            raise InputError(Fault(file, "", each, allowed, mend) for each in texts)


def calibrated(study: Study, drawing: Drawing) -> CalibratedStudy:
    """Return a study with its fit.

    Raises
    ------
    InputError
        If runs contradict each other, or the tooling cannot work on the press.
    """
    observations = observe(study, sides(study))
    reference = choose_reference(study, observations)
    fit = fit_study(study, observations, drawing)
    return CalibratedStudy(study, observations, reference, fit, drawing)
