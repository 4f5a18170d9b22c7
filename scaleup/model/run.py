"""One run: a compressed tablet, or the mean of a few."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Annotated, Literal

from scaleup.model.fields import Measure
from scaleup.short_repr import short_repr

PressName = Literal["lab", "production"]

Force = Annotated[float, Measure("N", least=10.0, most=1e6, example="kN")]
Height = Annotated[float, Measure("mm", least=0.1, most=50.0, example="mm")]


@short_repr
@dataclass(frozen=True)
class Run:
    """One row of a run table in mm, N, s, mg and rpm; what is blank in the table is None.

    The bounds are those of sense, beyond which a unit or a digit slipped: readers of tables and
    `scaleup.study_from` hold runs to them.

    Examples
    --------
    >>> Run("M4", force=12090.0, hold=1.0, weight=397.7, thickness=3.94).press
    'lab'
    """

    name: str
    force: Force
    press: PressName = "lab"
    hold: Annotated[
        float | None, Measure("s", zero=True, least=1e-4, most=36000.0, example="s")
    ] = None
    loading_rate: Annotated[float | None, Measure("N/s", least=1.0, most=1e8, example="kN/s")] = (
        None
    )
    speed: Annotated[float | None, Measure("rpm", least=1e-3, most=1e3, example="rpm")] = None
    precompression: Annotated[
        float | None, Measure("N", zero=True, least=10.0, most=1e6, example="kN")
    ] = None
    lower_punch_force: Annotated[float | None, Measure("N", least=10.0, most=1e6, example="kN")] = (
        None
    )
    """What reaches the lower punch where only the upper one moves."""
    weight: Annotated[float | None, Measure("mg", least=1.0, most=50e3, example="mg")] = None
    thickness: Height | None = None
    in_die_thickness: Height | None = None
    diameter: Annotated[float | None, Measure("mm", least=0.5, most=60.0, example="mm")] = None
    breaking_force: Annotated[float | None, Measure("N", least=0.1, most=5e3, example="N")] = None
    ejection_force: Annotated[float | None, Measure("N", least=0.1, most=1e5, example="N")] = None
    fill_depth: Annotated[float | None, Measure("mm", least=0.1, most=150.0, example="mm")] = None
    elapsed: Annotated[
        float | None, Measure("s", zero=True, least=1e-3, most=1e7, example="min")
    ] = None
    """How long after the start of its trial a production run was made."""
    weight_standard_deviation: Annotated[
        float | None, Measure("mg", zero=True, least=1e-3, most=5e3, example="mg")
    ] = None
    """Standard deviation of the tablets that the row is the mean of, here and below."""
    thickness_standard_deviation: Annotated[
        float | None, Measure("mm", zero=True, least=1e-5, most=5.0, example="mm")
    ] = None
    breaking_force_standard_deviation: Annotated[
        float | None, Measure("N", zero=True, least=1e-3, most=1e3, example="N")
    ] = None
    force_standard_deviation: Annotated[
        float | None, Measure("N", zero=True, least=0.1, most=1e5, example="kN")
    ] = None
    tablets: int = 1
    """How many tablets the row is the mean of."""
    revolutions: int | None = None
    """Turns of the blender with the lubricant; None where the study says it once for all."""
    made_on: str = ""
    """Press and tooling of a production run by their ids, "curlew-27 b-flat-10"; empty where they
    are those of the study."""
    trial: str = ""
    """The trial that a production run is of, by any name; `elapsed` counts from its start."""
    batch: str = ""
    """The batch of blend pressed; empty where all runs are of one."""
    seen: tuple[str, ...] = ()
    """What was found on its tablets, by the names of `scaleup.model.defects.DEFECTS`."""
    note: str = ""
    record: str = ""
    """File of a force log beside the study; empty if none was logged."""
    compression: int | None = None
    """Which compression of the log, counted from 1; None if it has only one."""
    line: int = 0
    """Line of the file, or row of the table, counted from 1."""

    @property
    def maker(self) -> str:
        """Return what made it: ``lab``, ``production``, or another press with its tooling."""
        return self.made_on or self.press
