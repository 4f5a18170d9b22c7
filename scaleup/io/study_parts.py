"""The parts of a study found and checked, with every fault kept, wherever the study is from."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import replace
from functools import partial
from pathlib import Path
from typing import Any, TypeVar

from scaleup.errors import Fault, InputError, told_once
from scaleup.io.library import find_press, find_tooling, rotary_profile
from scaleup.io.logs import open_log
from scaleup.io.made_on import with_makers
from scaleup.io.materials import Material, material
from scaleup.io.places import inside
from scaleup.io.reading_gate import sha256
from scaleup.model.blend import Blend
from scaleup.model.press import PressProfile, RotaryProfile
from scaleup.model.profile import NamedProfile
from scaleup.model.run import Run
from scaleup.model.study import LabSide, ProductionSide, Study
from scaleup.model.study_checks import study_faults
from scaleup.model.target import Target
from scaleup.model.tooling import ToolingProfile
from scaleup.model.transfer_terms import TransferTerms

Result = TypeVar("Result")

NO_TARGET = Target()
"""What is asked of a tablet where a study says nothing."""


class StudyParts:
    """Finds what a study names, and keeps the faults of all its parts.

    ``folder`` is where its files lie, if it has any; ``shown`` its own name in a fault.
    """

    def __init__(self, folder: Path | None, shown: str) -> None:
        self.folder = folder
        self.shown = shown
        self.faults: list[Fault] = []
        self.inputs: dict[str, str] = {}
        self.made_elsewhere: dict[str, ProductionSide] = {}
        """Sides given as they are, by what runs say that they were made on."""

    def taken(self, read: Callable[[], Result]) -> Result | None:
        """Return what was read; None if it is at fault, which is kept."""
        try:
            return read()
        except InputError as error:
            self.faults.extend(error.faults)
            return None

    def press(self, reference: str, where: str, file: str) -> NamedProfile[PressProfile] | None:
        """Return a press by its id, or by a path inside the folder."""
        find = partial(find_press, reference, self.folder, file=file, where=where)
        return self._noted(self.taken(find))

    def tooling(self, reference: str, where: str, file: str) -> NamedProfile[ToolingProfile] | None:
        """Return tooling by its id, or by a path inside the folder."""
        find = partial(find_tooling, reference, self.folder, file=file, where=where)
        return self._noted(self.taken(find))

    def rotary(
        self, press: NamedProfile[PressProfile] | None, file: str, where: str
    ) -> NamedProfile[RotaryProfile] | None:
        """Return a press that must be a rotary one."""
        if press is None:
            return None
        return self.taken(partial(rotary_profile, press, file=file, where=where))

    def _noted(self, named: NamedProfile[Any] | None) -> NamedProfile[Any] | None:
        if named is not None:
            self.inputs[named.shown] = named.sha256
            self.inputs.update(named.beside)
        return named

    def check_records(self, runs: tuple[Run, ...], table: str, counted: str = "line") -> None:
        """Check that the logs of runs lie in the folder and have their headings."""
        for run in runs:
            if run.record:
                self._check_record(run, table, f"{counted} {run.line}, column record")

    def _check_record(self, run: Run, table: str, where: str) -> None:
        folder = self.folder
        if folder is None:
            found, allowed = f"the log {run.record}", "logs only of a study with a folder"
            self.faults.append(Fault(table, where, found, allowed, "Give the argument folder."))
            return
        log = self.taken(lambda: inside(folder, run.record, table, where))
        if log is not None and self.taken(partial(open_log, log, run.record)) is not None:
            self.inputs[run.record] = sha256(log)

    def named_material(self, blend: Blend) -> Blend:
        """Return a blend with its rate material as its table names it, components checked."""
        for index, component in enumerate(blend.components, start=1):
            if component.material is not None:
                self._material(component.material, f"blend.component[{index}].material")
        if blend.rate_material is None:
            return blend
        named = self._material(blend.rate_material, "blend.rate_material")
        return blend if named is None else replace(blend, rate_material=named.name)

    def _material(self, name: str, where: str) -> Material | None:
        named = self.taken(lambda: material(name, self.shown, where))
        if named is not None:
            self.inputs[named.file] = named.sha256
        return named

    def study(
        self,
        name: str,
        description: str,
        blend: Blend,
        lab: LabSide | None,
        production: ProductionSide | None,
        target: Target,
        transfer: TransferTerms,
        own: ProductionSide | None = None,
    ) -> Study:
        """Return the study of its parts, what they say of each other checked.

        ``own`` is the production side that its production runs were made on, where it is not the
        one asked about.

        Raises
        ------
        InputError
            With every fault found.
        """
        own = own or production
        blend = self.named_material(blend)
        elsewhere: tuple[ProductionSide, ...] = ()
        if lab is not None and own is not None:
            lab, elsewhere = with_makers(lab, own, self)
        if lab is not None:
            self.faults += study_faults(lab, _presses(own, elsewhere), self.shown)
        if self.faults or lab is None or production is None or own is None:
            raise InputError(told_once(dict.fromkeys(self.faults)))
        folder = "" if self.folder is None else str(self.folder)
        inputs = tuple(self.inputs.items())
        return Study(
            name, description, folder, blend, lab, production, own, target, inputs, transfer,
            made_elsewhere=elsewhere,
        )  # fmt: skip


def _presses(
    own: ProductionSide | None, elsewhere: tuple[ProductionSide, ...]
) -> dict[str, PressProfile] | None:
    """Return the presses of production runs as runs name them; None if the own one is at fault."""
    if own is None:
        return None
    made = {"production": own} | {each.ids: each for each in elsewhere}
    return {maker: side.press.profile for maker, side in made.items()}
