"""What the bands are made of, and the cheapest thing that would shrink each part."""

from __future__ import annotations

from dataclasses import dataclass

from scaleup.answers.experiments import Experiment, Shrinking, cheapest, experiments
from scaleup.answers.proposals import Proposals
from scaleup.calibration.fit import Drawing, Fit, NoFit
from scaleup.calibration.plant.term import Term
from scaleup.model.estimate import Estimate, drawn
from scaleup.model.study import Study
from scaleup.sentence import Words
from scaleup.short_repr import short_repr
from scaleup.shown import Drawn
from scaleup.transfer.budget import Budget, FigureName
from scaleup.transfer.case import TransferCase
from scaleup.transfer.verdict import CAUTION

UNITS = {"strength": "MPa", "solid fraction": "1", "needed force": "N"}


@short_repr
@dataclass(frozen=True)
class BudgetRow:
    """What one term takes of the band of one figure, and what would shrink it."""

    figure: FigureName
    term: str
    """The name it is switched off with; of the law, what is fitted."""
    label: str
    evidence: str
    told: Words
    share: float
    """Of the variance of the figure's logarithm that goes when the term is held at its middle."""
    shrink: Shrinking | None
    """The cheapest experiment that narrows the figure's band through this term, None if none."""


@short_repr
@dataclass(frozen=True)
class BudgetAnswer(Drawn):
    """What the bands of production strength, solid fraction and needed force are made of.

    Examples
    --------
    >>> import scaleup
    >>> found = scaleup.Analysis(scaleup.read_study("examples/marram"), draws=400).budget()
    >>> found.rows[0].label
    'lubricant and shear'
    """

    study: Study
    drawing: Drawing
    confidence: float
    fit: Fit | NoFit
    figures: dict[FigureName, Estimate]
    """The strength and the solid fraction at the lab's pressure, and the force needed in N."""
    rows: tuple[BudgetRow, ...]
    experiments: tuple[Experiment, ...]
    """Everything that could be measured next, the worthiest first."""
    without: tuple[Term, ...]
    """Terms that take nothing of any band: the same on both sides, or left out by the study."""
    caution: str = CAUTION

    def of(self, figure: FigureName) -> tuple[BudgetRow, ...]:
        """Return the rows of one figure, the largest share first."""
        return tuple(row for row in self.rows if row.figure == figure)

    def total(self, figure: FigureName) -> float:
        """Return the sum of the shares of a figure: 1 but for what overlaps or is left over."""
        return sum(row.share for row in self.of(figure))


def budget_of(case: TransferCase, what: Proposals | None = None) -> BudgetAnswer:
    """Return the budget of a case; one whose runs allow no fit has no figure and no row.

    Lab runs are among the experiments where `what` to press next is given.
    """
    drawing, study = case.calibrated.drawing, case.study
    if case.no_fit is not None:
        return BudgetAnswer(study, drawing, case.confidence, case.no_fit, {}, (), (), ())
    budget = Budget.of(case)
    able = experiments(budget, what)
    rows = tuple(
        BudgetRow(
            each.figure,
            each.term.name,
            each.term.label,
            each.term.grade,
            each.term.told,
            each.share,
            cheapest(budget, able, each.term.name, each.figure),
        )
        for each in budget.shares
    )
    without = tuple(term for term in case.process.plant.terms if not term.counts)
    figures = {name: drawn(values, UNITS[name]) for name, values in budget.now.items()}
    return BudgetAnswer(study, drawing, case.confidence, case.fit, figures, rows, able, without)
