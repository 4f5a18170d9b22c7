"""A filled sheet held against its plan and its study, its rows as production runs."""

from __future__ import annotations

from dataclasses import dataclass

from scaleup.answers.trial.acceptance_rule import FRIABLE
from scaleup.answers.trial.results import check_rows, planned_speed, run_of, said, usable
from scaleup.answers.trial.sheet_checks import check_sheet, check_study
from scaleup.answers.trial.tablet_means import with_means
from scaleup.errors import Fault, InputError
from scaleup.io.trial_sheet.reading import SheetRow, TrialSheet
from scaleup.model.run import Run
from scaleup.model.study import Study
from scaleup.sentence import Words


@dataclass(frozen=True)
class FilledSheet:
    """What a sheet says, ready to be learned from."""

    rows: tuple[SheetRow, ...]
    """Every run, means of its tablets and samples filled in."""
    runs: tuple[Run, ...]
    """Those that were weighed and gauged."""
    speed: float
    """rpm, which the trial was planned for."""
    friable: float
    """Share of weight lost in the drum above which tablets are friable."""
    changed: tuple[Words, ...]
    """What of the study is another than when the trial was planned."""

    @property
    def told(self) -> tuple[SheetRow, ...]:
        """Return the rows of which anything was measured or seen."""
        return tuple(row for row in self.rows if said(row))

    @property
    def usable(self) -> tuple[SheetRow, ...]:
        """Return the rows that a fit can use."""
        return usable(self.rows)

    @property
    def left_blank(self) -> tuple[str, ...]:
        """Return the planned runs of which nothing was filled in."""
        return tuple(row.text("run") for row in self.rows if not said(row))


def filled_sheet(study: Study, sheet: TrialSheet) -> FilledSheet:
    """Return a sheet as it can be learned from.

    Raises
    ------
    InputError
        If it is not that of its plan, the study is not the one planned for, or no row has a
        measured tablet.
    """
    shown = sheet.shown
    check_sheet(sheet)
    changed = check_study(study, sheet)
    rows = with_means(sheet)
    check_rows(study, rows, shown)
    if not usable(rows):
        allowed = "at least one run with both weight and thickness filled in"
        raise InputError(Fault(shown, "", "no run with weight and thickness", allowed))
    friable = FRIABLE if sheet.plan is None else sheet.plan.friability
    runs = tuple(run_of(row, shown, friable) for row in usable(rows))
    speed = planned_speed(rows, shown) or study.production.speed
    return FilledSheet(rows, runs, speed, friable, changed)
