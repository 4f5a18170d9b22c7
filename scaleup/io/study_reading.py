"""A study put together from its file, its run table and its profiles."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import replace
from functools import partial
from pathlib import Path
from typing import Any, TypeVar

from scaleup.errors import Fault, InputError, told_once
from scaleup.io.library import find_press, find_tooling, rotary_profile
from scaleup.io.logs import open_log
from scaleup.io.materials import Material, material
from scaleup.io.places import inside, is_folder
from scaleup.io.reading_gate import sha256
from scaleup.io.run_table import read_runs
from scaleup.io.schema import read_as
from scaleup.io.study_tables import StudyTable
from scaleup.io.toml import read_toml
from scaleup.model.contradictions import STUDY_FILE
from scaleup.model.press import PressProfile
from scaleup.model.profile import NamedProfile
from scaleup.model.run import Run
from scaleup.model.study import LabSide, ProductionSide, RunDefaults, Study
from scaleup.model.study_checks import study_faults, with_defaults
from scaleup.model.tooling import ToolingProfile

Result = TypeVar("Result")


class StudyReader:
    """Reads one study and keeps the faults of all its parts."""

    def __init__(self, path: Path, press: str | None, tooling: str | None) -> None:
        file = path / STUDY_FILE if is_folder(path) else path
        self.folder = file.parent
        self.shown = file.name
        data = read_toml(file, str(file))
        self.table = read_as(StudyTable, data, self.shown, format="scaleup study 1")
        self.faults: list[Fault] = []
        self.inputs: dict[str, str] = {self.shown: sha256(file)}
        self.press = press
        self.tooling = tooling

    def study(self) -> Study:
        """Return the study.

        Raises
        ------
        InputError
            With every fault found.
        """
        lab = self._lab()
        production = self._production(self.press, self.tooling)
        own = self._own_production(production, lab)
        rate_material = self._materials()
        if lab is not None:
            made = None if own is None else own.press.model
            self.faults += study_faults(lab, made, self.shown)
        if self.faults or lab is None or production is None or own is None:
            raise InputError(told_once(dict.fromkeys(self.faults)))
        table = self.table
        return Study(
            name=table.name,
            description=table.description,
            folder=str(self.folder),
            blend=replace(table.blend, rate_material=rate_material),
            lab=lab,
            production=production,
            own_production=own,
            target=table.target,
            inputs=tuple(self.inputs.items()),
        )

    def _taken(self, read: Callable[[], Result]) -> Result | None:
        try:
            return read()
        except InputError as error:
            self.faults.extend(error.faults)
            return None

    def _lab(self) -> LabSide | None:
        table = self.table.lab
        press = self._press(table.press, "lab.press")
        tooling = self._tooling(table.tooling, "lab.tooling")
        runs = self._taken(self._runs)
        if press is None or tooling is None or runs is None:
            return None
        defaults = RunDefaults(table.loading_rate, table.hold, table.speed)
        runs = with_defaults(runs, defaults)
        return LabSide(press, tooling, runs, table.reference, defaults, table.runs)

    def _runs(self) -> tuple[Run, ...]:
        name = self.table.lab.runs
        path = inside(self.folder, name, self.shown, "lab.runs")
        runs = read_runs(path, name)
        self.inputs[name] = sha256(path)
        for run in runs:
            if run.record:
                self._record(run, name)
        return runs

    def _record(self, run: Run, table: str) -> None:
        """Check that the log of a run lies beside the study and has its headings."""
        log = self._taken(
            lambda: inside(self.folder, run.record, table, f"line {run.line}, column record")
        )
        if log is not None and self._taken(partial(open_log, log, run.record)) is not None:
            self.inputs[run.record] = sha256(log)

    def _own_production(
        self, asked: ProductionSide | None, lab: LabSide | None
    ) -> ProductionSide | None:
        """Return the file's own production side, which is read only where it has runs."""
        other = self.press is not None or self.tooling is not None
        if other and lab is not None and len(lab.lab_runs) < len(lab.runs):
            return self._production(None, None)
        return asked

    def _production(self, asked_press: str | None, tool: str | None) -> ProductionSide | None:
        table = self.table.production
        press = (
            self._press(table.press, "production.press")
            if asked_press is None
            else self._press(asked_press, "the press asked for", file="")
        )
        tooling = (
            self._tooling(table.tooling, "production.tooling")
            if tool is None
            else self._tooling(tool, "the tooling asked for", file="")
        )
        if press is None or tooling is None:
            return None
        asked = asked_press is not None
        file, where = ("", "the press asked for") if asked else (self.shown, "production.press")
        at = partial(rotary_profile, press, file=file, where=where)
        rotary = self._taken(at)
        if rotary is None:
            return None
        return ProductionSide(rotary, tooling, table.speed, table.precompression)

    def _press(
        self, reference: str, where: str, file: str = STUDY_FILE
    ) -> NamedProfile[PressProfile] | None:
        find = partial(find_press, reference, self.folder, file=file, where=where)
        return self._noted(self._taken(find))

    def _tooling(
        self, reference: str, where: str, file: str = STUDY_FILE
    ) -> NamedProfile[ToolingProfile] | None:
        find = partial(find_tooling, reference, self.folder, file=file, where=where)
        return self._noted(self._taken(find))

    def _noted(self, loaded: NamedProfile[Any] | None) -> NamedProfile[Any] | None:
        if loaded is not None:
            self.inputs[loaded.shown] = loaded.sha256
            self.inputs.update(loaded.beside)
        return loaded

    def _materials(self) -> str | None:
        """Return the name of the blend's rate material, and check those of the components."""
        blend = self.table.blend
        for index, component in enumerate(blend.components, start=1):
            if component.material is not None:
                self._material(component.material, f"blend.component[{index}].material")
        if blend.rate_material is None:
            return None
        found = self._material(blend.rate_material, "blend.rate_material")
        return None if found is None else found.name

    def _material(self, name: str, where: str) -> Material | None:
        found = self._taken(lambda: material(name, self.shown, where))
        if found is not None:
            self.inputs[found.file] = found.sha256
        return found
