"""One study analysed: the fit and all that follows from it, made once, and the answers it gives."""

from __future__ import annotations

from collections.abc import Callable, Sequence
from dataclasses import replace
from functools import cached_property
from typing import TYPE_CHECKING

from scaleup.answers.assumed import Assumed, Kept
from scaleup.answers.granted import taken_for_granted
from scaleup.calibration.arguments import check_answer, check_cells
from scaleup.calibration.calibrated_study import CalibratedStudy, calibrated
from scaleup.calibration.fit import Drawing, Fit, NoFit
from scaleup.calibration.reference import Reference
from scaleup.conversion import HasUnits
from scaleup.io.given import Number, each_in_unit, in_unit
from scaleup.model.press import RotaryProfile
from scaleup.model.profile import NamedProfile
from scaleup.model.study import ProductionSide, Study
from scaleup.transfer.case import TransferCase, transfer_case
from scaleup.transfer.findings import Findings
from scaleup.transfer.outcomes import Outcome, press_word, speed_word, verdict_word

if TYPE_CHECKING:
    from scaleup.answers.budget import BudgetAnswer
    from scaleup.answers.comparison import Comparison, Press
    from scaleup.answers.imitation import Imitation
    from scaleup.answers.judgement import Judgement
    from scaleup.answers.speed import SpeedCheck
    from scaleup.answers.translation import Translation
    from scaleup.answers.trial.learning import Learned
    from scaleup.answers.trial.options import TrialOptions
    from scaleup.answers.trial.plan import TrialPlan
    from scaleup.answers.window import Window
    from scaleup.io.trial_sheet.reading import TrialSheet

Advance = Callable[[], None]


def no_sign() -> None:
    """Show no sign of progress."""


class Analysis:
    """A study with its fit, and the answers to what may be asked of it.

    The runs are read and fitted when first needed, the production press is solved once for all
    speeds, and what was found about a speed is kept: a second question costs only what is new in
    it. Two answers of one analysis rest on the same draws, and so never contradict each other.

    Parameters
    ----------
    study
        As `scaleup.read_study` or `scaleup.study_from` returns it.
    confidence
        With which limits and target must hold, between 0.5 and 1; the study's if absent.
    draws, seed
        How many parameter sets are drawn, and the seed that repeats them.
    as_given
        Whether the user confirms figures that no published material has.

    Raises
    ------
    InputError
        If an argument is out of range. The first answer raises it if runs contradict each other,
        the tooling cannot work on the press, or the draws are too few for the confidence.

    Examples
    --------
    >>> import scaleup
    >>> analysis = scaleup.Analysis(scaleup.read_study("examples/marram"), draws=300)
    >>> analysis.translate().verdict.answer
    'transferable with changes'
    >>> analysis.speed(at=60.0).answer
    'yes with changes'
    """

    def __init__(
        self,
        study: Study,
        *,
        confidence: Number | None = None,
        draws: int = 4000,
        seed: int = 1,
        as_given: bool = False,
    ) -> None:
        check_answer(study, confidence=confidence, draws=draws, seed=seed)
        share: float | None = in_unit("confidence", confidence, "1")
        self.study = study.confirmed(as_given)
        self.confidence = study.target.confidence if share is None else share
        self.drawing = Drawing(draws, seed)
        self._confidence_stated = confidence is not None or study.target.states_confidence
        self._cases: dict[tuple[ProductionSide, float], TransferCase] = {}
        self._findings: dict[tuple[ProductionSide, float, Outcome], Findings] = {}
        self._again: Kept = {}
        self._assumed: dict[tuple[ProductionSide, float, Outcome], tuple[Assumed, ...]] = {}

    def __repr__(self) -> str:
        return (
            f"Analysis({self.study.name!r}, confidence={self.confidence:g}, "
            f"draws={self.drawing.draws}, seed={self.drawing.seed})"
        )

    @cached_property
    def calibrated(self) -> CalibratedStudy:
        """Return the study with its runs read and its powder fitted."""
        return calibrated(self.study, self.drawing)

    @property
    def fit(self) -> Fit | NoFit:
        """Return the fitted powder, or why the runs allow no fit."""
        return self.calibrated.fit

    def case(
        self, speed: float | None = None, press: NamedProfile[RotaryProfile] | None = None
    ) -> TransferCase:
        """Return the case of a production press at a turret speed in rpm, the study's if absent.

        Of another press it is the study's speed, or the nearest that press runs at.
        """
        production = self._production(press)
        limits = production.press.profile.speed
        own = production.speed
        if press is not None:
            own = min(max(own, limits.min), limits.max)
        if (production, own) not in self._cases:
            lab = self.calibrated if press is None else self.calibrated.on(production)
            self._cases[production, own] = transfer_case(lab, own, self.confidence)
        asked = own if speed is None else speed
        if (production, asked) not in self._cases:
            self._cases[production, asked] = self._cases[production, own].at(asked)
        return self._cases[production, asked]

    def _production(self, press: NamedProfile[RotaryProfile] | None) -> ProductionSide:
        made = self.study.production
        return made if press is None else replace(made, press=press)

    def findings(self, case: TransferCase, outcome: Outcome) -> Findings:
        """Return what is found about a case under one kind of answer."""
        key = case.production, case.speed, outcome
        return self._findings.setdefault(key, Findings(case, outcome))

    def assumed(self, findings: Findings) -> tuple[Assumed, ...]:
        """Return what an answer takes for granted, and what of it decides."""
        key = findings.case.production, findings.case.speed, findings.outcome
        if key not in self._assumed:
            self._assumed[key] = taken_for_granted(
                findings.case,
                findings.outcome,
                confidence_given=self._confidence_stated,
                kept=self._again,
            )
        return self._assumed[key]

    def translate(self, *, speed: Number | None = None) -> Translation:
        """Return the production settings that make the lab tablet again, and what could go wrong.

        `speed` is the turret speed in rpm, the study's if absent.
        """
        from scaleup.answers.translation import translation_of  # noqa: PLC0415  what is asked for

        check_answer(self.study, speed=speed)
        findings = self.findings(self.case(in_unit("speed", speed, "rpm")), verdict_word)
        return translation_of(findings, self.assumed(findings))

    def judge(self, *, advance: Advance = no_sign) -> Judgement:
        """Return whether the lab result may be transferred, and what to press next.

        `advance` is called after each of three stages, for a sign of progress.
        """
        from scaleup.answers.judgement import judgement_of  # noqa: PLC0415

        findings = self.findings(self.case(), verdict_word)
        advance()
        return judgement_of(findings, self.assumed(findings), advance)

    def budget(self) -> BudgetAnswer:
        """Return what the bands are made of, and the cheapest thing that would shrink each part.

        Raises
        ------
        InputError
            If units are in doubt: no figure of such runs is told.
        """
        from scaleup.answers.budget import budget_of  # noqa: PLC0415
        from scaleup.answers.proposals import proposals  # noqa: PLC0415

        case = self.case()
        self.calibrated.refuse_doubts()
        return budget_of(case, None if case.no_fit is not None else proposals(case))

    def speed(
        self,
        *,
        at: Number | None = None,
        speeds: Sequence[Number] | HasUnits = (),
        advance: Advance = no_sign,
    ) -> SpeedCheck:
        """Return whether a turret speed in rpm is all right, and a curve over other speeds.

        `at` is the study's speed if absent; `advance` is called after each of `speeds`.
        """
        from scaleup.answers.speed import speed_check_of  # noqa: PLC0415

        check_answer(self.study, speed=at, speeds=speeds)
        findings = self.findings(self.case(in_unit("speed", at, "rpm")), speed_word)
        others = each_in_unit("speeds", speeds, "rpm")
        return speed_check_of(findings, others, self.assumed(findings), advance)

    def compare(
        self,
        presses: Sequence[str | Press] = (),
        *,
        advance: Advance = no_sign,
    ) -> Comparison:
        """Return production presses ranked by the output at which they keep every limit.

        `presses` are rotary presses that take the study's tooling, by id or as profiles; every
        known one that does if there are none. Those at fault are told with their reason beside the
        others. `advance` is called after each press.
        """
        from scaleup.answers.comparison import candidate_presses, comparison_of  # noqa: PLC0415

        candidates = candidate_presses(self.study, presses)
        return comparison_of(
            lambda press: self.findings(self.case(press=press), press_word),
            self.assumed,
            self.calibrated,
            self.confidence,
            candidates,
            advance,
        )

    def window(
        self,
        cells: tuple[int, int] = (48, 24),
        *,
        margin: Number | None = None,
        advance: Advance = no_sign,
    ) -> Window:
        """Return the window over the press's speeds and forces in which every limit holds.

        `cells` are how many speeds and how many forces are mapped. `margin` is the share by which
        force and speed may both be off at the recommended point, above 0 and up to 0.5; the study's
        if absent. `advance` is called after each speed.
        """
        from scaleup.answers.window import check_margin, window_of  # noqa: PLC0415

        check_cells(cells)
        wanted = self.study.target.margin if margin is None else check_margin(margin)
        findings = self.findings(self.case(), press_word)
        return window_of(findings, cells, self.assumed(findings), wanted, advance)

    def imitate(self, run: str | None = None) -> Imitation:
        """Return lab settings that make a production result again, and what they cannot imitate.

        `run` names the production runs; it is needed if there are several.
        """
        from scaleup.answers.imitation import imitation_of, production_runs  # noqa: PLC0415

        name = production_runs(self.study, run)
        runs = [
            seen
            for seen in self.calibrated.observations
            if seen.run.press == "production" and seen.run.name == name
        ]
        why = "the only production run" if run is None else "named"
        return imitation_of(self.calibrated, Reference(name, tuple(runs), why))

    def plan_trial(self, options: TrialOptions | None = None) -> TrialPlan:
        """Return the plan of a production trial at the study's press and speed.

        Raises
        ------
        InputError
            If the runs allow no fit, the speed is not one of the press, or units are in doubt.
        """
        from scaleup.answers.trial.options import TrialOptions  # noqa: PLC0415
        from scaleup.answers.trial.plan import plan_of  # noqa: PLC0415

        findings = self.findings(self.case(), verdict_word)
        return plan_of(findings, options or TrialOptions(), self.assumed(findings))

    def learn(self, sheet: TrialSheet) -> Learned:
        """Return what a filled trial sheet teaches.

        They are judged at the speed the trial was planned for.

        `sheet` is as `scaleup.read_trial_sheet` returns it; partly filled is fine.

        Raises
        ------
        InputError
            If no row has a measured tablet, or the runs allow no fit.
        """
        from scaleup.answers.trial.learning import learned_from  # noqa: PLC0415

        return learned_from(self.calibrated, sheet, self.confidence)
