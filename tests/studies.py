"""The example studies, read once, a question about one, and small changes to them."""

from __future__ import annotations

from collections.abc import Callable
from copy import copy
from dataclasses import replace
from pathlib import Path
from typing import Any

import pytest

from scaleup.calibration.calibrated_study import calibrated
from scaleup.calibration.fit import Drawing
from scaleup.io.study import read_study
from scaleup.model.profile import NamedProfile
from scaleup.model.study import Study
from scaleup.model.transfer_terms import TERMS, TransferTerms
from scaleup.transfer.case import TransferCase, transfer_case

EXAMPLES = Path(__file__).parents[1] / "examples"
LAW_ALONE = TransferTerms(off=tuple(each for each in TERMS if each != "curvature"))
"""Nothing between lab and plant but the law, for tests of what follows from it."""
ONE_EXPONENT = TransferTerms(off=TERMS)
"""The same with a rate exponent that does not change with the dwell."""


def of_the_law(name: str, **other: str) -> Study:
    """Return an example study with nothing between lab and plant but the law."""
    return replace(read_study(EXAMPLES / name, **other), transfer=LAW_ALONE)


@pytest.fixture(scope="session")
def marram() -> Study:
    return of_the_law("marram")


@pytest.fixture(scope="session")
def dunlin() -> Study:
    return of_the_law("dunlin")


@pytest.fixture(scope="session")
def sedge() -> Study:
    return of_the_law("sedge")


@pytest.fixture(scope="session")
def case(marram: Study) -> TransferCase:
    """Return a question of few draws about marram at 45 rpm."""
    found = transfer_case(calibrated(marram, Drawing(160, 1)), 45.0, 0.9)
    assert found.process.map.floor > 0.0
    return found


@pytest.fixture
def with_limits() -> Callable[..., TransferCase]:
    """Return a question with other bounds: ``with_limits(case, main_roller=12e3)``."""

    def changed(case: TransferCase, **bounds: float) -> TransferCase:
        limits = tuple(
            replace(each, bound=bounds.get(each.code.replace("-", "_"), each.bound))
            for each in case.limits
        )
        return replace(case, limits=limits)

    return changed


Change = Callable[..., Study]


@pytest.fixture
def changed() -> Change:
    """Return a study with other values: ``changed(study, press={...}, tooling={...}, ...)``."""
    return change


def change(
    study: Study,
    *,
    press: dict[str, Any] | None = None,
    tooling: dict[str, Any] | None = None,
    lab_tooling: dict[str, Any] | None = None,
    lab_press: dict[str, Any] | None = None,
    target: dict[str, Any] | None = None,
    production: dict[str, Any] | None = None,
    blend: dict[str, Any] | None = None,
    runs: Callable[[Any], Any] | None = None,
) -> Study:
    made, lab = study.production, study.lab
    made = replace(
        made,
        press=_with(made.press, press),
        tooling=_with(made.tooling, tooling),
        **(production or {}),
    )
    lab = replace(lab, tooling=_with(lab.tooling, lab_tooling), press=_with(lab.press, lab_press))
    if runs is not None:
        lab = replace(lab, runs=tuple(run for run in map(runs, lab.runs) if run is not None))
    return replace(
        study,
        production=made,
        lab=lab,
        target=replace(study.target, **(target or {})),
        blend=replace(study.blend, **(blend or {})),
    )


def unchecked(whole: Any, **update: object) -> Any:
    """Return an object as its own checks let nobody make it, for what stands behind them."""
    made = copy(whole)
    for name, value in update.items():
        object.__setattr__(made, name, value)
    return made


def _with(loaded: NamedProfile[Any], update: dict[str, Any] | None) -> NamedProfile[Any]:
    return replace(loaded, profile=replace(loaded.profile, **(update or {})))
