"""The examples as a plant sees them, with all that lies between lab and plant."""

from __future__ import annotations

import pytest

from scaleup.answers.functions import plan_trial
from scaleup.answers.trial.plan import TrialPlan
from scaleup.io.study import read_study
from scaleup.model.study import Study
from tests.studies import EXAMPLES


@pytest.fixture(scope="session")
def marram() -> Study:
    return read_study(EXAMPLES / "marram")


@pytest.fixture(scope="session")
def sedge() -> Study:
    return read_study(EXAMPLES / "sedge")


@pytest.fixture(scope="session")
def plan(marram: Study) -> TrialPlan:
    return plan_trial(marram, draws=400)
