"""Production runs of fescue with force logs, as a press of known geometry would make them."""

from __future__ import annotations

import csv
import shutil
from dataclasses import dataclass, field, replace
from functools import cache
from pathlib import Path
from typing import Any

import numpy as np

from scaleup.calibration.calibrated_study import calibrated
from scaleup.calibration.fit import Drawing
from scaleup.io.study import read_study
from scaleup.powder.compression import compress
from scaleup.powder.force_history import whole_pulse
from scaleup.powder.law import Powder
from scaleup.presses.press import Press, Setting, press_from
from scaleup.presses.pulse_shapes import ForcePulse
from scaleup.transfer.case import TransferCase, transfer_case
from tests.studies import EXAMPLES

FESCUE = EXAMPLES / "fescue"
SAMPLES = 20_000
"""In a second."""
NOISE = 5e-4
"""Of one sample, as a share of the peak."""


@dataclass(frozen=True)
class Pressed:
    """How a log was really made: by which press, and by which factor its clock is off."""

    clock: float = 1.0
    press: dict[str, Any] = field(default_factory=dict)
    tooling: dict[str, Any] = field(default_factory=dict)


@cache
def question() -> TransferCase:
    """Return fescue as it is, asked with few draws."""
    return transfer_case(calibrated(read_study(FESCUE), Drawing(300, 1)), 60.0, 0.9)


@cache
def middle_powder() -> Powder:
    """Return the draw of fescue's powder whose pulse is the middle one on the production press."""
    process = question().process
    powder, pressure = process.fit.powder, process.reference_pressure
    pulse = compress(
        process.press, powder, process.charge, np.full(powder.draws, pressure), Setting(speed=60.0)
    )
    return powder.chosen(np.argsort(pulse.effective_dwell)[[powder.draws // 2]])


def pulse_of(pressed: Pressed, force: float, speed: float, pre: float = 0.0) -> ForcePulse:
    """Return the pulse that a press made otherwise than its profile says gives fescue."""
    made, process = question().production, question().process
    press: Press = press_from(
        replace(made.press.profile, **pressed.press),
        replace(made.tooling.profile, **pressed.tooling),
    )
    pressure = force / process.charge.tip_area
    pulse = whole_pulse(press, middle_powder(), process.charge, pressure, Setting(speed=speed), pre)
    return ForcePulse(pulse.time * pressed.clock, pulse.force)


def write_log(
    path: Path,
    pulse: ForcePulse,
    *,
    times: int = 1,
    every: float = 0.2,
    noise: float = NOISE,
    samples: float = SAMPLES,
    note: str = "",
) -> None:
    """Write a pulse as a log, once or so many times, one each so many seconds, with noise."""
    peak = float(pulse.force.max())
    time = np.arange(0.0, every * times, 1.0 / samples)
    start = (every - float(pulse.time[-1])) / 2.0
    force = np.interp(time % every - start, pulse.time, pulse.force, left=0.0, right=0.0)
    force += noise * peak * np.random.default_rng(1).standard_normal(time.size)
    rows = "".join(f"{t:.6f},{f / 1e3:.5f}\n" for t, f in zip(time, force, strict=True))
    path.parent.mkdir(exist_ok=True, parents=True)
    path.write_text(f"{note}time [s],force [kN]\n{rows}", encoding="utf-8")


def with_logs(folder: Path, logged: dict[str, Pressed]) -> Path:
    """Return a copy of fescue in a folder, some of its production runs with a log."""
    shutil.copytree(FESCUE, folder)
    text = (folder / "runs.csv").read_text(encoding="utf-8").splitlines()
    notes = [line for line in text if line.startswith("#")]
    rows = list(csv.DictReader(line for line in text if not line.startswith("#")))
    for run in rows:
        run["record"] = ""
        if run["run"] in logged:
            run["record"] = f"records/{run['run']}.csv"
            force, pre = (1e3 * float(run[f"{name} [kN]"]) for name in ("force", "precompression"))
            speed = float(run["speed [rpm]"])
            write_log(
                folder / run["record"], pulse_of(logged[run["run"]], force, speed, pre / force)
            )
    lines = [",".join(rows[0]), *(",".join(run.values()) for run in rows)]
    (folder / "runs.csv").write_text("\n".join([*notes, *lines]) + "\n", encoding="utf-8")
    return folder
