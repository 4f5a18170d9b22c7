"""A study read from its folder."""

from __future__ import annotations

from os import PathLike
from pathlib import Path

from scaleup.model.study import Study


def read_study(
    path: str | PathLike[str], press: str | None = None, tooling: str | None = None
) -> Study:
    """Return the study of a folder, or of its ``study.toml``.

    ``press`` and ``tooling`` take the place of the production side's own, by id or by a path
    inside the study's folder.

    Raises
    ------
    InputError
        With every fault found in the study, its run table and its profiles.

    Examples
    --------
    >>> study = read_study("examples/marram")
    >>> study.production.press.id, len(study.lab.runs)
    ('rotary-mid-19', 29)
    """
    from scaleup.io.study_reading import StudyReader  # noqa: PLC0415  start-up stays quick

    return StudyReader(Path(path), press, tooling).read()
