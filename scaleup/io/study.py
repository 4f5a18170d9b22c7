"""A study read from its folder: its file, its run table and its profiles."""

from __future__ import annotations

from dataclasses import dataclass, replace
from os import PathLike
from pathlib import Path

from scaleup.io.places import inside, is_folder
from scaleup.io.reading_gate import sha256
from scaleup.io.run_table import read_runs
from scaleup.io.schema import read_as
from scaleup.io.study_parts import NO_TARGET, StudyParts
from scaleup.io.toml import read_toml
from scaleup.model.blend import Blend
from scaleup.model.checked import Checked
from scaleup.model.contradictions import STUDY_FILE
from scaleup.model.experiments import NO_COSTS, Experiments
from scaleup.model.fields import Description, Duration, LoadingRate, Name, Share, Speed
from scaleup.model.run import Run
from scaleup.model.study import LabSide, ProductionSide, RunDefaults, Study
from scaleup.model.study_checks import with_defaults
from scaleup.model.target import Target
from scaleup.model.transfer_terms import NOTHING_STATED, TransferTerms


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
    return _Reader(Path(path), press, tooling).read()


@dataclass(frozen=True, kw_only=True)
class LabTable(Checked):
    """The lab press, its tooling and its runs."""

    press: Name
    tooling: Name
    runs: Name
    reference: Name | None = None
    loading_rate: LoadingRate | None = None
    hold: Duration | None = None
    speed: Speed | None = None


@dataclass(frozen=True, kw_only=True)
class ProductionTable(Checked):
    """The production press asked about."""

    press: Name
    tooling: Name
    speed: Speed
    precompression: Share | None = None


@dataclass(frozen=True, kw_only=True)
class StudyTable(Checked):
    """The whole of ``study.toml``."""

    name: Name
    description: Description = ""
    blend: Blend
    lab: LabTable
    production: ProductionTable
    target: Target = NO_TARGET
    transfer: TransferTerms = NOTHING_STATED
    experiments: Experiments = NO_COSTS


class _Reader(StudyParts):
    """Reads one study and keeps the faults of all its parts."""

    folder: Path

    def __init__(self, path: Path, press: str | None, tooling: str | None) -> None:
        file = path / STUDY_FILE if is_folder(path) else path
        super().__init__(file.parent, file.name)
        data = read_toml(file, str(file))
        self.table = read_as(StudyTable, data, self.shown, format="scaleup study 1")
        self.inputs[self.shown] = sha256(file)
        self.asked_press, self.asked_tooling = press, tooling

    def read(self) -> Study:
        """Return the study.

        Raises
        ------
        InputError
            With every fault found.
        """
        table = self.table
        lab = self._lab()
        production = self._production(self.asked_press, self.asked_tooling)
        own = self._own_production(production, lab)
        study = self.study(
            table.name, table.description, table.blend, lab, production, table.target,
            table.transfer, own,
        )  # fmt: skip
        return replace(study, experiments=table.experiments)

    def _lab(self) -> LabSide | None:
        table = self.table.lab
        press = self.press(table.press, "lab.press", STUDY_FILE)
        tooling = self.tooling(table.tooling, "lab.tooling", STUDY_FILE)
        runs = self.taken(self._runs)
        if press is None or tooling is None or runs is None:
            return None
        defaults = RunDefaults(table.loading_rate, table.hold, table.speed)
        kept = with_defaults(runs, defaults)
        return LabSide(press, tooling, kept, table.reference, defaults, table.runs)

    def _runs(self) -> tuple[Run, ...]:
        name = self.table.lab.runs
        path = inside(self.folder, name, self.shown, "lab.runs")
        runs = read_runs(path, name)
        self.inputs[name] = sha256(path)
        self.check_records(runs, name)
        return runs

    def _own_production(
        self, asked: ProductionSide | None, lab: LabSide | None
    ) -> ProductionSide | None:
        """Return the file's own production side, which is read only where it has runs."""
        other = self.asked_press is not None or self.asked_tooling is not None
        if other and lab is not None and len(lab.lab_runs) < len(lab.runs):
            return self._production(None, None)
        return asked

    def _production(self, press: str | None, tooling: str | None) -> ProductionSide | None:
        table = self.table.production
        if press is None:
            file, where = self.shown, "production.press"
            given = self.press(table.press, where, STUDY_FILE)
        else:
            file, where = "", "the press asked for"
            given = self.press(press, where, file)
        if tooling is None:
            tools = self.tooling(table.tooling, "production.tooling", STUDY_FILE)
        else:
            tools = self.tooling(tooling, "the tooling asked for", "")
        rotary = None if tools is None else self.rotary(given, file, where)
        if rotary is None or tools is None:
            return None
        return ProductionSide(rotary, tools, table.speed, table.precompression)
