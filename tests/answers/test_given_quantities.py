"""Quantities a user gives: of a units library, or as a text with its unit."""

from __future__ import annotations

from collections.abc import Callable
from typing import Any

import pint
import pytest

import scaleup
from scaleup.model.study import Study

ureg: pint.UnitRegistry[float] = pint.UnitRegistry()
Q = ureg.Quantity


@pytest.mark.parametrize("speed", ["60 rpm", "1 Hz", ureg("60 rpm"), Q(1.0, "hertz")])
def test_a_speed_is_a_quantity_or_a_text(marram: Study, speed: Any) -> None:
    analysis = scaleup.Analysis(marram, draws=200)
    assert analysis.translate(speed=speed).speed == pytest.approx(60.0)
    assert analysis.speed(at=speed).speed == pytest.approx(60.0)
    assert scaleup.check_speed(marram, speed=speed, draws=200).speed == pytest.approx(60.0)


@pytest.mark.parametrize(
    "speeds", [["20 rpm", 40.0], [ureg("20 rpm"), "40 rpm"], Q([20.0, 40.0], "rpm")]
)
def test_the_speeds_of_a_curve_are_too(marram: Study, speeds: Any) -> None:
    check = scaleup.check_speed(marram, speeds=speeds, draws=200)
    assert [point.speed for point in check.curve] == pytest.approx([20.0, 40.0])


@pytest.mark.parametrize("confidence", ["95 %", Q("95 %"), 0.95])
def test_a_confidence_is_too(marram: Study, confidence: Any) -> None:
    assert scaleup.Analysis(marram, confidence=confidence).confidence == pytest.approx(0.95)


@pytest.mark.parametrize("margin", ["20 %", Q("20 percent"), 0.2])
def test_a_margin_is_too(marram: Study, margin: Any) -> None:
    found = scaleup.Analysis(marram, draws=200).window((4, 4), margin=margin).recommended
    assert found is not None
    assert found.asked_margin == pytest.approx(0.2)


WRONG: dict[str, tuple[Callable[[scaleup.Analysis], object], str]] = {
    "a length": (
        lambda of: of.translate(speed=Q("60 mm")),
        'speed: found 60 millimeter; allowed: a speed with its unit, such as "25 rpm"',
    ),
    "a length as text": (lambda of: of.speed(at="60 mm"), 'speed: found the unit "mm"'),
    "no unit": (lambda of: of.speed(at="60"), 'speed: found "60", a number without a unit'),
    "too fast": (lambda of: of.speed(at="2 Hz"), "speed: found 120 rpm; allowed: 10 to 75 rpm"),
    "several speeds": (lambda of: of.translate(speed=Q([20.0, 30.0], "rpm")), "speed: found"),
    "one of a curve": (
        lambda of: of.speed(speeds=["20 rpm", Q("3 s")]),
        "speeds: found 3 second; allowed: a speed",
    ),
    "one speed as a curve": (lambda of: of.speed(speeds=Q("20 rpm")), "speeds: found 20"),
    "a margin in mm": (lambda of: of.window(margin=Q("3 mm")), "margin: found 3 millimeter"),
    "a large margin": (lambda of: of.window(margin="80 %"), "margin: found 80 %; allowed: above 0"),
    "a margin true": (lambda of: of.window(margin=True), "margin: found True"),
}


@pytest.mark.parametrize("name", WRONG)
def test_what_does_not_convert_is_told_by_the_argument(marram: Study, name: str) -> None:
    ask, told = WRONG[name]
    analysis = scaleup.Analysis(marram, draws=200)
    with pytest.raises(scaleup.InputError) as error:
        ask(analysis)
    assert str(error.value).startswith(told)


def test_a_confidence_that_is_no_share_is_told(marram: Study) -> None:
    with pytest.raises(scaleup.InputError, match="confidence: found 95 rev"):
        scaleup.Analysis(marram, confidence=Q("95 rpm"))
    with pytest.raises(scaleup.InputError, match=r"95 % is written 0\.95"):
        scaleup.Analysis(marram, confidence=95)
