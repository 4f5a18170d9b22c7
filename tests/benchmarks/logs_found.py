"""What is put into a force log and what ``scaleup record`` finds in it: the table of the README.

``python tests/benchmarks/logs_found.py`` prints, for each fault of a log over five shapes of pulse
(three where compressions run together), how many compressions were found, of how many the peak is
told, its median error, and how often the bands of five figures hold the truth.
"""

from __future__ import annotations

import sys
import tempfile
from pathlib import Path

import numpy as np
import pyarrow as pa
import pyarrow.parquet as pq

sys.path.insert(0, str(Path(__file__).parents[2]))

from scaleup.answers.force_log import ForceLogAnswer, force_log_answer
from scaleup.io.logs import open_log
from tests.pulses.made_logs import CASES, EXPONENT, SHAPES, MadeLog

COUNT = 150
FIGURES = ("peak", "rise", "above_90", "contact", "dwell")


def found(made: MadeLog, path: Path) -> ForceLogAnswer:
    """Return what is found in a made log."""
    time, force = made.made()
    pq.write_table(pa.table({"time [s]": time, "force [N]": force}), path)
    return force_log_answer(open_log(path), exponent=EXPONENT)


def line(name: str, path: Path) -> str:
    """Return a row of the table."""
    together = "shape" in CASES[name]
    shapes = ("soft foot", "turret", "skewed") if together else tuple(SHAPES)
    there, known, errors = 0, 0, []
    inside: dict[str, list[np.ndarray]] = {figure: [] for figure in FIGURES}
    for seed, shape in enumerate(shapes):
        case = {**CASES[name], "shape": shape}
        made = MadeLog(count=COUNT, scatter=0.03, seed=seed, **case)  # type: ignore[arg-type]
        pulses = found(made, path).pulses
        there += pulses.count
        known += int((~np.isnan(pulses.peak)).sum())
        if pulses.count != COUNT:
            continue
        errors.append(np.abs(pulses.peak / made.truth["peak"] - 1.0))
        for figure in FIGURES:
            value, error = getattr(pulses, figure), getattr(pulses, f"{figure}_error")
            told = ~np.isnan(value)
            inside[figure].append((np.abs(value - made.truth[figure]) <= error + 1e-12)[told])
    held = (np.concatenate(each) if each else np.zeros(0) for each in inside.values())
    cells = [f"{100.0 * each.mean():.0f} %" if each.size else "n/a" for each in held]
    median = 100.0 * float(np.nanmedian(np.concatenate(errors))) if errors else np.nan
    of = f"{there} of {COUNT * len(shapes)}"
    return f"| {name} | {of} | {known} | {median:.2g} % | {' | '.join(cells)} |"


def main() -> None:
    """Print the table."""
    print(f"| put in | found | told | error of peak | {' | '.join(FIGURES)} |")
    with tempfile.TemporaryDirectory() as folder:
        for name in CASES:
            print(line(name, Path(folder) / "log.parquet"), flush=True)


if __name__ == "__main__":
    main()
