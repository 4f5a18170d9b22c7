"""The runs of a study, and the runs beside their fit, as tables."""

from __future__ import annotations

from scaleup.calibration.fit import Fit
from scaleup.calibration.run_fit import Miss, RunFit
from scaleup.io.run_columns import MEASURED
from scaleup.model.study import Study
from scaleup.show.frames import Frame, headed

FIT_HEADINGS = (
    "run", "line", "press", "pressure [MPa]", "effective_dwell [s]", "solid_fraction",
    "solid_fraction_fitted", "solid_fraction_miss", "strength [MPa]", "strength_fitted [MPa]",
    "strength_miss", "suspicious",
)  # fmt: skip
"""A miss is a deleted residual in standard deviations."""


def study_frame(study: Study) -> Frame:
    """Return the run table in core units, as the headings of a run table have it."""
    said = ("made on",) if study.made_elsewhere else ()
    heads = ["run", "press", *said, *(headed(name, each.unit) for name, each in MEASURED.items())]
    rows = [
        [
            run.name, run.press, *(run.made_on for _ in said),
            *(getattr(run, each.field) for each in MEASURED.values()), run.tablets, run.note,
        ]
        for run in study.lab.runs
    ]  # fmt: skip
    return Frame.of([*heads, "tablets", "note"], rows)


def fit_frame(fit: Fit) -> Frame:
    """Return every run beside what the fit says of it."""
    return Frame.of(FIT_HEADINGS, [_row(row) for row in fit.runs])


def _row(row: RunFit) -> tuple[object, ...]:
    seen = row.observation
    return (
        seen.run.name, seen.run.line, seen.run.maker, float(seen.pressure), row.effective_dwell,
        seen.solid_fraction, row.solid_fraction, _deviations(row.solid_fraction_miss),
        seen.strength, row.strength, _deviations(row.strength_miss), bool(row.suspicious),
    )  # fmt: skip


def _deviations(miss: Miss | None) -> float | None:
    return None if miss is None else float(miss.deviations)
