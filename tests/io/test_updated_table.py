"""A run table written anew keeps every column of the runs."""

from __future__ import annotations

from dataclasses import replace
from pathlib import Path

from scaleup.io.run_table import read_runs
from scaleup.io.study import read_study
from scaleup.io.updated_study import run_table_text

EXAMPLES = Path(__file__).parents[2] / "examples"


def test_runs_written_anew_keep_batch_turns_and_the_force_on_the_lower_punch(
    tmp_path: Path,
) -> None:
    runs = read_study(EXAMPLES / "plover").lab.runs
    assert {run.batch for run in runs} == {"A", "B", "C"}
    (tmp_path / "runs.csv").write_text(run_table_text(runs, "written anew"))
    again = read_runs(tmp_path / "runs.csv")
    assert [replace(run, line=0) for run in again] == [replace(run, line=0) for run in runs]
