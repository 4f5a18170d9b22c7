"""Runs that scatter more than they rise: an open curve, and no fault of the figures."""

from __future__ import annotations

import numpy as np
import pytest

import scaleup
from scaleup.calibration.fit import Fit

pd = pytest.importorskip("pandas")

THICKNESS = (3.48, 3.72, 3.58, 3.44, 3.66, 3.75, 3.49, 3.70)
"""mm, rounded and scattered so that it does not fall with the force."""
STEEP = tuple(sorted(THICKNESS, reverse=True))
"""The same, by chance falling so fast that the curve would begin below nothing."""
PRESSES = (("lab-eccentric", 40.0), ("rotary-pilot-7", 30.0))


def fitted(press: str, speed: float, thickness: tuple[float, ...]) -> Fit:
    runs = pd.DataFrame(
        {
            "run": [f"R{i}" for i in range(len(THICKNESS))],
            "force [kN]": np.linspace(11.0, 12.3, len(THICKNESS)),
            "weight [mg]": 400.0,
            "thickness [mm]": thickness,
            "breaking force [N]": 150.0,
            "speed [rpm]": speed,
        }
    )
    study = scaleup.study_from(
        runs,
        blend=1.54,
        lab=(press, "b-flat-10"),
        production=("rotary-mid-19", "b-flat-10", 45.0),
    )
    found = scaleup.fit(study, draws=200)
    assert isinstance(found, Fit)
    return found


@pytest.mark.parametrize("thickness", [THICKNESS, STEEP], ids=["scattered", "steep"])
@pytest.mark.parametrize(("press", "speed"), PRESSES)
def test_a_press_that_moves_the_tips_is_fitted_all_the_same(
    press: str, speed: float, thickness: tuple[float, ...]
) -> None:
    """The middle of the runs is met, and their scatter is told for what it is."""
    found = fitted(press, speed, thickness)
    solid = 400.0 / (1.54 * np.pi * 25.0 * np.array(thickness))
    told = float(np.median([row.solid_fraction for row in found.runs]))
    assert told == pytest.approx(float(np.median(solid)), abs=0.015)
    assert 0.2 * solid.std() < found.solid_fraction_scatter < 1.5 * solid.std()
