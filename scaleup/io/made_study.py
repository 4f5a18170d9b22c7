"""A study made in Python: of runs in a DataFrame, a blend and two presses, without a file."""

from __future__ import annotations

from collections.abc import Callable, Mapping, Sequence
from dataclasses import dataclass, replace
from functools import partial
from typing import TYPE_CHECKING, TypeVar

from scaleup.errors import Fault, InputError
from scaleup.io.frames import is_frame, sheet_of
from scaleup.io.given import Number
from scaleup.io.library import require_fit
from scaleup.io.places import Near, as_folder
from scaleup.io.run_table import runs_from
from scaleup.io.schema import describe, read_as
from scaleup.io.study_parts import NO_TARGET, StudyParts
from scaleup.model.blend import Blend
from scaleup.model.checked import Checked
from scaleup.model.fields import Name, Share, Speed
from scaleup.model.press import PressProfile, RotaryProfile
from scaleup.model.profile import NamedProfile
from scaleup.model.run import Run
from scaleup.model.study import LabSide, ProductionSide, Study
from scaleup.model.target import Target
from scaleup.model.tooling import ToolingProfile
from scaleup.model.transfer_terms import NOTHING_STATED, TransferTerms

if TYPE_CHECKING:
    from pandas import DataFrame

Press = str | PressProfile | NamedProfile[PressProfile] | NamedProfile[RotaryProfile]
Tooling = str | ToolingProfile | NamedProfile[ToolingProfile]
Profile = TypeVar("Profile", PressProfile, ToolingProfile)
Reader = Callable[[str, str, str], NamedProfile[Profile] | None]
RUNS = "runs"


@dataclass(frozen=True, kw_only=True)
class _Speed(Checked):
    speed: Speed
    precompression: Share | None = None


@dataclass(frozen=True, kw_only=True)
class _Given(Checked):
    """What is given beside runs, presses and tooling."""

    name: Name
    blend: Blend
    production: _Speed
    target: Target
    transfer: TransferTerms


def study_from(  # noqa: PLR0913  a study has so many parts
    runs: DataFrame | Sequence[Run],
    *,
    blend: Number | Blend | Mapping[str, object],
    lab: tuple[Press, Tooling],
    production: tuple[Press, Tooling, Number] | tuple[Press, Tooling, Number, Number],
    target: Target | Mapping[str, object] | None = None,
    transfer: TransferTerms | Mapping[str, object] | None = None,
    reference: str | None = None,
    name: str = "Study",
    folder: Near = None,
    made_elsewhere: Sequence[tuple[Press, Tooling]] = (),
) -> Study:
    """Return a study without a file, checked as one from a folder is.

    A number is a plain one in the core unit (mm, N, MPa, s, mg, mg/mm³, rpm, a share), a text with
    its unit, or a quantity of a units library.

    Parameters
    ----------
    runs
        One row for each tablet, with the headings of a run table, such as ``force [kN]``; or
        columns of quantities; or `Run` objects.
    blend
        The true density, a `Blend`, or the keys of the table ``[blend]`` of a study's file.
    lab
        Press and tooling: ids, profiles, or what `scaleup.find_press` returns.
    production
        Press, tooling, turret speed, and the share of precompression where there is one.
    target
        A `Target`, or the keys of the table ``[target]``.
    transfer
        A `TransferTerms`, or the keys of the table ``[transfer]``.
    reference
        The run that is to be made again; chosen by the program if absent.
    name
        As results show it.
    folder
        Where logs of the runs, and profiles of one's own, lie; needed for these only.
    made_elsewhere
        Press and tooling of runs whose ``made on`` names profiles that are not found by their ids.

    Raises
    ------
    InputError
        With every fault found, each naming the argument; of runs, the row and the column.

    Examples
    --------
    >>> import pandas as pd
    >>> runs = pd.DataFrame(
    ...     {"run": ["A", "B"], "force [kN]": [8.0, 16.0], "hold [s]": 1.0, "weight [mg]": 400.0,
    ...      "thickness [mm]": [4.2, 3.8], "breaking force [N]": [120.0, 200.0]}
    ... )
    >>> study = study_from(
    ...     runs, blend=1.54, lab=("lab-hydraulic", "lab-flat-10"),
    ...     production=("rotary-mid-19", "b-flat-10", "45 rpm"), target={"strength": "2 MPa"},
    ... )
    >>> study.lab.runs[1].force, study.production.speed
    (16000.0, 45.0)
    """
    maker = _Maker(as_folder(folder), "")
    _check_sides(lab, production)
    table = {
        "name": name,
        "blend": blend if isinstance(blend, Mapping | Blend) else {"true_density": blend},
        "production": dict(zip(("speed", "precompression"), production[2:], strict=False)),
        "target": NO_TARGET if target is None else target,
        "transfer": NOTHING_STATED if transfer is None else transfer,
    }
    given = maker.taken(lambda: read_as(_Given, table, "", bare=True))
    sides = [
        (maker.given_press(side[0], where), maker.given_tooling(side[1], where))
        for where, side in (("lab", lab), ("production", production))
    ]
    made = maker.rotary(sides[1][0], "", "production")
    read = maker.taken(lambda: maker.runs(runs))
    if given is None or read is None:
        raise InputError(maker.faults)
    (press, tooling), (_, made_tooling) = sides
    bench = plant = None
    if press is not None and tooling is not None:
        bench = LabSide(press, tooling, read, reference, runs_file=RUNS, counted="row")
    if made is not None and made_tooling is not None:
        set_to = given.production
        plant = ProductionSide(made, made_tooling, set_to.speed, set_to.precompression)
    maker.take_others(made_elsewhere)
    return maker.study(given.name, "", given.blend, bench, plant, given.target, given.transfer)


def _check_sides(lab: object, production: object) -> None:
    """Refuse sides that are no press with its tooling."""
    faults = []
    if not isinstance(lab, tuple | list) or len(lab) != 2:
        faults.append(Fault("", "lab", describe(lab), "a press and its tooling"))
    if not isinstance(production, tuple | list) or len(production) not in (3, 4):
        allowed = "a press, its tooling and a turret speed, and a precompression if there is one"
        faults.append(Fault("", "production", describe(production), allowed))
    if faults:
        raise InputError(faults)


class _Maker(StudyParts):
    """Takes ids and profiles alike."""

    def given_press(self, press: object, where: str) -> NamedProfile[PressProfile] | None:
        """Return a press by its id or as it is."""
        return self._given(press, PressProfile, self.press, "a press", where)

    def given_tooling(self, tooling: object, where: str) -> NamedProfile[ToolingProfile] | None:
        """Return tooling by its id or as it is."""
        return self._given(tooling, ToolingProfile, self.tooling, "tooling", where)

    def take_others(self, sides: Sequence[object]) -> None:
        """Take further presses with their tooling, which runs may say that they were made on."""
        where = "made_elsewhere"
        for side in sides:
            if not isinstance(side, tuple | list) or len(side) != 2:
                self.faults.append(Fault("", where, describe(side), "a press and its tooling"))
                continue
            press = self.rotary(self.given_press(side[0], where), "", where)
            tooling = self.given_tooling(side[1], where)
            if press is not None and tooling is not None:
                self.taken(partial(require_fit, press, tooling, self.folder, where))
                other = ProductionSide(press, tooling, press.profile.speed.min)
                self.made_elsewhere[other.ids] = other

    def _given(
        self, given: object, kind: type[Profile], read: Reader[Profile], noun: str, where: str
    ) -> NamedProfile[Profile] | None:
        if isinstance(given, str):
            return read(given, where, "")
        if isinstance(given, kind):
            return NamedProfile(given.name, given)
        if isinstance(given, NamedProfile) and isinstance(given.profile, kind):
            return given
        allowed = f"the id of {noun}, or its profile"
        self.faults.append(Fault("", where, describe(given), allowed))
        return None

    def runs(self, runs: DataFrame | Sequence[Run]) -> tuple[Run, ...]:
        """Return the runs of a frame, or runs as they are."""
        if is_frame(runs):
            read = runs_from(sheet_of(runs, RUNS), RUNS)
        elif isinstance(runs, Sequence) and runs and {type(run) for run in runs} == {Run}:
            read = tuple(replace(run, line=row) for row, run in enumerate(runs, start=1))
        else:
            raise InputError(Fault("", RUNS, describe(runs), "a DataFrame of runs, or runs"))
        self.check_records(read, RUNS, "row")
        return read
