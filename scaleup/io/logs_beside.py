"""The logs of runs, and of a press that is known by a logged force."""

from __future__ import annotations

from pathlib import Path
from typing import TYPE_CHECKING

from scaleup.io.logs import Log, open_log
from scaleup.io.places import inside

if TYPE_CHECKING:
    from scaleup.model.press import RecordedProfile, RotaryProfile
    from scaleup.model.run import Run
    from scaleup.model.study import Study


def log_of_run(study: Study, run: Run) -> Log:
    """Return the log of a run, which lies beside its study.

    Raises
    ------
    InputError
        If it is missing, or has not the headings of a log.
    """
    return open_log(Path(study.folder) / run.record, run.record)


def log_of_press(profile: RecordedProfile | RotaryProfile, folder: Path) -> Log:
    """Return the log beside a profile that has one, read once from end to end for its faults.

    Raises
    ------
    InputError
        If the log leaves the folder, cannot be read, or a row of it cannot be true.
    """
    record = profile.record
    if record is None:
        raise ValueError("the profile has no log")
    path = inside(folder, record, profile.name, "record")
    log = open_log(path, record)
    for _ in log.pieces():
        pass
    return open_log(path, record)
