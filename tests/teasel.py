"""The example teasel, written from the law itself: ``python -m tests.teasel``.

A powder pressed on the lab press of the examples, and in two production runs whose press turns 18 %
slower than it shows, which their force logs give away.
"""

from __future__ import annotations

import numpy as np

from scaleup.calibration.observations import side_of
from scaleup.powder.rate import effective_dwell
from scaleup.powder.tip import Tip
from scaleup.presses.press import Setting
from scaleup.presses.pulse_shapes import ForcePulse
from tests.logged_production import Pressed, middle_powder, pulse_of, question, write_log
from tests.studies import EXAMPLES

FOLDER = EXAMPLES / "teasel"
SLOWER = Pressed(clock=1.18)
DENSITY, WEIGHT = 1.51, 380.0
STRENGTH, SLOPE, MIDDLE = 1.6, 8.0, 0.74
"""Strength in MPa at a solid fraction, and the slope of its logarithm."""
SCATTER = {"solid": 0.0015, "strength": 0.03, "weight": 1.0}
"""Standard deviations of a tablet: solid fraction, ln(strength), weight in mg."""
HEAD = (
    "# Invented for demonstration, from the law used here: bench runs at 5 kN/s, then two logged\n"
    "# production runs, each the mean of ten tablets, on a press that turns slower than it shows.\n"
    "run,press,force [kN],hold [s],speed [rpm],weight [mg],thickness [mm],breaking force [N],"
    "tablets,record\n"
)


def measured(rng: np.random.Generator, tip: Tip, force: float, pulse: ForcePulse, of: int) -> str:
    """Return weight, thickness and breaking force of a row that is the mean of so many tablets."""
    powder = middle_powder()
    dwell = np.asarray(effective_dwell(pulse.time, pulse.share(), powder.rate_exponent))
    state = powder.static_pressure(np.array([force / tip.area]), dwell)
    off = {name: spread * rng.standard_normal() / of**0.5 for name, spread in SCATTER.items()}
    solid = float(powder.solid_fraction(state)[0]) + off["solid"]
    weight = WEIGHT + off["weight"]
    thickness = weight / (solid * DENSITY * tip.area)
    strength = STRENGTH * np.exp(SLOPE * (solid - MIDDLE) + off["strength"])
    breaking = strength * np.pi * tip.width * thickness / 2.0
    return f"{weight:.1f},{thickness:.3f},{breaking:.1f},{of}"


def main() -> None:
    """Write run table and logs."""
    rng, tip = np.random.default_rng(7), question().process.side.tip
    lab, rows = side_of(question().study.lab), []
    for index, force in enumerate((6e3, 8e3, 10e3, 12e3, 14e3), 1):
        for hold in (0.0, 1.0, 30.0):
            pulse = lab.press.motion(force, Setting(hold=hold, loading_rate=5e3))
            assert isinstance(pulse, ForcePulse)
            cells = measured(rng, lab.tip, force, pulse, 1)
            rows.append(f"T{index}-{hold:g}s,lab,{force / 1e3:.2f},{hold:g},,{cells},")
    for name, force, speed in (("P1", 10.2e3, 30.0), ("P2", 10.4e3, 55.0)):
        pulse = pulse_of(SLOWER, force, speed)
        cells = measured(rng, tip, force, pulse, 10)
        rows.append(f"{name},production,{force / 1e3:.2f},,{speed:g},{cells},records/{name}.csv")
        note = f"Invented for demonstration: main roller, {speed:g} rpm, run {name}\n"
        log, every = FOLDER / "records" / f"{name}.csv", 5.0 / speed
        write_log(log, pulse, every=every, samples=10_000, note=note)
    (FOLDER / "runs.csv").write_text(HEAD + "\n".join(rows) + "\n", encoding="utf-8")


if __name__ == "__main__":
    main()
