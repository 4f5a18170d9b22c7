"""Pulses carried between solved ones, against pulses solved at the same pressure and speed."""

from __future__ import annotations

from dataclasses import replace

import numpy as np
import pytest

from scaleup.answers.functions import translate
from scaleup.arrays import Array
from scaleup.model.study import Study
from scaleup.powder.compression import Pulse, compress
from scaleup.powder.hardening import Heckel
from scaleup.powder.law import Powder
from scaleup.powder.stroke_solver import Squeeze, Trajectory, integrate
from scaleup.presses.press import Press, Setting
from scaleup.transfer import operating_point, pulse_map
from scaleup.transfer.process_model import ProcessModel


def line_of(study: Study) -> ProcessModel:
    point = translate(study, draws=200).equivalent("pressure").point
    assert point is not None
    return point.process


@pytest.fixture(scope="module", params=["marram", "dunlin", "sedge"])
def line(request: pytest.FixtureRequest) -> ProcessModel:
    return line_of(request.getfixturevalue(request.param))


def solved(line: ProcessModel, pressure: Array, speed: float) -> Pulse:
    setting = Setting(speed=speed)
    return compress(line.press, line.fit.powder, line.charge, pressure, setting, line.pre_share)


@pytest.mark.parametrize(("pressure", "speed"), [(60.0, 15.0), (95.0, 28.0), (210.0, 66.0)])
def test_between_nodes(line: ProcessModel, pressure: float, speed: float) -> None:
    """One pressure for all draws takes one product of matrices, one for each draw a sum."""
    draws = np.full(line.fit.powder.draws, pressure)
    direct = solved(line, draws, speed)
    for asked in (draws, np.array(pressure)):
        carried = line.map.effective_dwell(asked, speed)
        off = np.abs(carried / direct.effective_dwell - 1.0)
        assert np.median(off) < 0.01
        assert off.max() < 0.015
    point = line.at(pressure, speed)
    assert point.static_pressure == pytest.approx(direct.static_pressure, rel=1e-3)
    assert point.pulse.separation == pytest.approx(direct.separation, abs=1e-3)


def test_at_the_lab_pressure_and_the_exact_speed_it_is_the_solved_pulse(line: ProcessModel) -> None:
    draws = np.full(line.fit.powder.draws, line.reference_pressure)
    carried = line.map.effective_dwell(draws, line.exact_speed)
    direct = solved(line, draws, line.exact_speed)
    off, m = np.abs(np.log(carried / direct.effective_dwell)), line.fit.powder.rate_exponent
    assert np.max(off[m > 0.002]) < 2e-3
    assert np.max(off * m) < 2e-4  # of the pressure; at a tiny exponent the dwell hardly matters


def test_every_draw_may_have_a_pressure_of_its_own(line: ProcessModel) -> None:
    pressure = np.geomspace(70.0, 180.0, line.fit.powder.draws)
    point, direct = line.at(pressure, 33.0), solved(line, pressure, 33.0)
    assert point.pressure == pytest.approx(pressure)
    assert point.static_pressure == pytest.approx(direct.static_pressure, rel=1e-3)


def test_the_map_reaches_past_every_limit(line: ProcessModel) -> None:
    """Up to the limits of press and tips, unless the powder has no pore left before."""
    limit = line.force_limit / line.charge.tip_area
    solid = line.fit.powder.solid_fraction(
        line.fit.powder.static_pressure(
            np.full(line.fit.powder.draws, line.map.ceiling), np.array(1.0)
        )
    )
    assert line.map.ceiling > limit or solid.max() > 0.99
    assert line.map.floor < 0.2 * line.reference_pressure
    speeds = line.production.press.profile.speed
    assert line.map.speeds[0] <= speeds.min * (1.0 + 1e-12)
    assert line.map.speeds[1] >= speeds.max * (1.0 - 1e-12)


def test_faster_means_less_dwell_on_every_draw(line: ProcessModel) -> None:
    dwells = [line.at(140.0, speed).pulse.effective_dwell for speed in (12.0, 25.0, 40.0, 70.0)]
    assert np.all(np.diff(dwells, axis=0) < 0.0)


def test_a_slightly_other_weight_has_the_same_dwell(line: ProcessModel) -> None:
    """One and a half per cent heavier, as a mean of tablets may be: solved anew for comparison."""
    heavier = line.of_weight(1.015 * line.charge.weight)
    pressure = np.full(line.fit.powder.draws, line.reference_pressure)
    direct = solved(heavier, pressure, line.exact_speed)
    point = heavier.at(pressure, line.exact_speed)
    assert point.static_pressure == pytest.approx(direct.static_pressure, rel=1e-3)
    cup = line.charge.cup_height
    lighter = line.at(pressure, line.exact_speed)
    assert point.wall + cup == pytest.approx(1.015 * (lighter.wall + cup), rel=1e-9)


def test_every_speed_of_a_map_is_met_at_the_first_try(
    line: ProcessModel, monkeypatch: pytest.MonkeyPatch
) -> None:
    """The dwell sought at one speed and three pressures tells the search where to begin."""
    calls: list[int] = []

    def counted(squeeze: Squeeze, *rest: Array) -> Trajectory:
        calls.append(squeeze.powder.draws)
        return integrate(squeeze, *rest)

    monkeypatch.setattr("scaleup.powder.compression.integrate", counted)
    found = replace(line).map
    nodes, draws = found.log_pressures.size, line.fit.powder.draws
    assert sum(calls) <= (found.log_speeds.size * nodes + 2 * 3) * draws


@pytest.mark.slow
@pytest.mark.parametrize("name", ["marram", "sedge", "dunlin"])
def test_carried_draws_are_those_solved(
    name: str, request: pytest.FixtureRequest, monkeypatch: pytest.MonkeyPatch
) -> None:
    """Of many draws some are solved; the rest must be as if they had been."""
    study = request.getfixturevalue(name)
    found = translate(study, draws=3000).equivalent("pressure").point
    assert found is not None
    powder = found.process.fit.powder
    calls: list[int] = []

    def counted(press: Press, powder: Powder, *rest: object) -> Pulse:
        calls.append(powder.draws)
        return compress(press, powder, *rest)  # type: ignore[arg-type]

    monkeypatch.setattr("scaleup.transfer.pulse_map.compress", counted)
    line = replace(found.process)
    quick = line.map.log_dwell
    assert sum(calls) < 3 * 6 * 0.4 * powder.draws
    monkeypatch.setattr(pulse_map, "SOLVED", powder.draws)
    whole = replace(found.process).map.log_dwell
    off = np.abs(quick - whole) * powder.rate_exponent
    assert off.max() < 1e-3
    assert np.sqrt(np.mean(off**2)) < 3e-5


def test_what_does_not_follow_from_the_parameters_is_solved() -> None:
    """A value that jumps between the draws is not carried."""
    rng = np.random.default_rng(1)
    form = Heckel(100.0 * np.exp(0.1 * rng.normal(size=2000)), 0.5 + 0.05 * rng.normal(size=2000))
    powder = Powder(
        form, np.full(2000, 0.04), 800.0 * np.exp(0.1 * rng.normal(size=2000)),
        np.ones(2000), np.zeros(2000),
    )  # fmt: skip
    places = np.arange(0, 2000, 6)
    smooth = np.log(form.yield_pressure) * 0.3 + np.log(powder.elastic) ** 2
    found = pulse_map.carried(powder, smooth[places][None], places)
    assert found is not None
    np.testing.assert_allclose(found[0], smooth, rtol=1e-4)
    jumping = smooth + np.where(form.yield_pressure > 100.0, 0.3, 0.0)
    assert pulse_map.carried(powder, jumping[places][None], places) is None


def test_the_pulse_shown_is_that_of_some_of_the_draws(marram: Study) -> None:
    point = translate(marram, draws=2500).equivalent("pressure").point
    assert point is not None
    assert point.pulse.in_die.size == operating_point.SHOWN_DRAWS == point.recovery.size
    there = point.effective_dwell[point.shown]
    np.testing.assert_allclose(point.pulse.effective_dwell, there, rtol=0.02)
