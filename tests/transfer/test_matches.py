"""Each match by itself, held against the law."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import replace

import numpy as np
import pytest

from scaleup.transfer.case import TransferCase
from scaleup.transfer.feasible import needed_pressure
from scaleup.transfer.matches import (
    Dialled,
    NoSetting,
    compensating_pressure,
    same_dwell,
    same_pressure,
    same_solid_fraction,
    target_strength,
)

WithLimits = Callable[..., TransferCase]


def with_speeds(case: TransferCase, low: float, high: float) -> TransferCase:
    """Return the question on a press of another range of speeds, its map as it was."""
    made = case.process.production
    speed = replace(made.press.profile.speed, min=low, max=high)
    press = replace(made.press, profile=replace(made.press.profile, speed=speed))
    line = replace(case.process, production=replace(made, press=press))
    line.__dict__["map"] = case.process.map
    study = replace(case.study, production=line.production)
    other = replace(case, calibrated=replace(case.calibrated, study=study), fitted=line)
    other.__dict__["lab_pulse"] = case.lab_pulse
    return other


def with_lab_dwell(case: TransferCase, dwell: np.ndarray) -> TransferCase:
    """Return the case with another effective dwell of the lab's pulse."""
    other = replace(case)
    pulse = replace(case.lab_pulse.pulse, effective_dwell=dwell)
    other.__dict__["lab_pulse"] = replace(case.lab_pulse, pulse=pulse)
    return other


def test_the_pressure_match_dials_the_labs_own(case: TransferCase) -> None:
    match = same_pressure(case)
    assert match.pressure.value == case.reference.pressure
    assert match.speed.value == 45.0
    assert (match.speed.unit, match.pressure.unit) == ("rpm", "MPa")
    assert match.pressure.exact
    assert match.reason == ""


def test_the_solid_fraction_match_gives_every_draw_its_solid_fraction_back(
    case: TransferCase,
) -> None:
    needed = compensating_pressure(case)
    made = case.process.at(needed, 45.0).solid_fraction
    assert made == pytest.approx(case.lab_pulse.solid_fraction, abs=1e-7)
    assert np.all(needed > case.lab_pulse.pulse.peak_pressure)
    match = same_solid_fraction(case)
    assert match.pressure.value == pytest.approx(np.median(needed))
    assert match.pressure.low == pytest.approx(np.quantile(needed, 0.05))
    assert match.speed.value == 45.0
    assert (match.speed.unit, match.pressure.unit) == ("rpm", "MPa")


def test_the_strength_match_dials_the_quantile_at_the_confidence(case: TransferCase) -> None:
    target = case.target
    assert target is not None
    needed = needed_pressure(case.process, 45.0, target)
    for confidence in (0.5, 0.9, 0.975):
        match = target_strength(replace(case, confidence=confidence))
        assert isinstance(match, Dialled)
        assert match.speed.value == 45.0
        value = match.pressure.value
        assert value is not None
        assert value in needed
        assert np.mean(needed <= value) >= confidence
        assert np.mean(needed < value) <= confidence
        assert match.pressure.low == pytest.approx(np.quantile(needed, 0.05))
        assert (match.speed.unit, match.pressure.unit) == ("rpm", "MPa")


def test_the_strength_match_says_why_it_dials_nothing(
    case: TransferCase, with_limits: WithLimits
) -> None:
    strongest = case.process.at(case.process.map.ceiling, 45.0).strength
    assert strongest is not None
    bound = float(np.quantile(strongest, 0.3, method="nearest"))
    none = target_strength(with_limits(case, strength=bound))
    assert isinstance(none, NoSetting)
    share = np.mean(strongest >= bound)
    assert none.reason == (
        f"only {share * 100:.0f} % of the draws meet the target at any pressure up to "
        f"{case.process.map.ceiling:.0f} MPa; 90 % is asked"
    )
    easy = target_strength(with_limits(case, strength=1e-6))
    assert isinstance(easy, NoSetting)
    assert easy.reason == (
        f"the target is met already at {case.process.map.floor:.0f} MPa, the lowest pressure "
        "looked at"
    )
    limits = tuple(each for each in case.limits if each.code != "strength")
    without = target_strength(replace(case, limits=limits))
    assert isinstance(without, NoSetting)
    assert "states no strength" in without.reason
    unbroken = replace(case.process, fit=replace(case.process.fit, strength=None))
    unbroken.__dict__["map"] = case.process.map
    untested = target_strength(replace(case, fitted=unbroken))
    assert isinstance(untested, NoSetting)
    assert untested.reason


def test_the_dwell_match_gives_the_labs_effective_dwell_back(case: TransferCase) -> None:
    """The lab's dwell is so long that no turret is that slow; on a slow one it is met."""
    reference = case.process.map.effective_dwell(case.lab_pulse.pulse.peak_pressure, 20.0)
    match = same_dwell(with_lab_dwell(case, reference))
    assert match.reason == ""
    assert match.speed.value == pytest.approx(20.0, rel=1e-4)
    assert match.speed.high == pytest.approx(20.0, rel=1e-3)
    assert match.pressure.value == case.reference.pressure
    assert (match.speed.unit, match.pressure.unit) == ("rpm", "MPa")


@pytest.mark.parametrize(
    ("range_", "shown", "end"), [((30.0, 75.0), 30.0, "slowest"), ((10.0, 15.0), 15.0, "fastest")]
)
def test_a_speed_out_of_range_is_shown_at_the_nearest_and_told(
    case: TransferCase, range_: tuple[float, float], shown: float, end: str
) -> None:
    """Twenty rpm are asked, of a press that begins at 30 and of one that ends at 15."""
    reference = case.process.map.effective_dwell(case.lab_pulse.pulse.peak_pressure, 20.0)
    match = same_dwell(with_lab_dwell(with_speeds(case, *range_), reference))
    assert match.speed.value == shown
    assert match.speed.exact
    assert match.speed.unit == "rpm"
    assert match.reason.startswith(
        "matching the lab's effective dwell would need 20 (20 to 20) rpm; "
    )
    assert f"the {end} of the press is {shown:g} rpm" in match.reason
    just = same_dwell(with_lab_dwell(with_speeds(case, 20.0 * 0.999, 20.0 * 1.001), reference))
    assert just.reason == ""
