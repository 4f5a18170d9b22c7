"""A thin elongated tablet: more pressure takes its wall, and with it the breaking force."""

from __future__ import annotations

from dataclasses import replace
from pathlib import Path

import numpy as np
import pytest

from scaleup.files.study import Study, read_study
from scaleup.transfer.translation import translate

EXAMPLES = Path(__file__).parents[2] / "examples"


@pytest.fixture(scope="module")
def thin() -> Study:
    study = read_study(EXAMPLES / "marram", press="rotary-large-26", tooling="d-elongated-19")
    target = study.target.model_copy(
        update={"weight": 360.0, "strength": None, "breaking_force": 15.0}
    )
    return replace(study, target=target)


def test_the_least_pressure_is_found_below_where_the_wall_is_lost(thin: Study) -> None:
    found = {item.match: item for item in translate(thin, draws=200).equivalents}
    force = found["strength"].tablet.breaking_force
    assert found["strength"].point is not None
    assert force.low is not None
    assert force.low >= 14.0
    assert found["pressure"].tablet.breaking_force.value is None
    assert "wall is too low" in found["pressure"].tablet.breaking_force.reason


def test_recovery_is_of_the_whole_tablet_not_of_its_thin_wall(thin: Study) -> None:
    point = {item.match: item for item in translate(thin, draws=200).equivalents}["pressure"].point
    assert point is not None
    assert 0.0 < np.median(point.recovery) < 0.08
