"""The log of a press that is known by a logged force."""

from __future__ import annotations

from typing import TYPE_CHECKING

from scaleup.io.logs import Log, open_log
from scaleup.io.places import inside

if TYPE_CHECKING:
    from pathlib import Path

    from scaleup.io.press_profiles import RecordedProfile


def read_record(profile: RecordedProfile, folder: Path) -> Log:
    """Return the log beside a profile, read once from end to end for its faults.

    Raises
    ------
    InputError
        If the log leaves the folder, cannot be read, or a row of it cannot be true.
    """
    path = inside(folder, profile.record, profile.name, "record")
    log = open_log(path, profile.record)
    for _ in log.pieces():
        pass
    return open_log(path, profile.record)
