"""The last digit of an answer does not depend on where an array lies in memory."""

from __future__ import annotations

from collections.abc import Callable
from pathlib import Path

import numpy as np
import pytest

from scaleup import imitate, operating_window, read_study, translate
from scaleup.arrays import Array

pytestmark = pytest.mark.slow

EXAMPLES = Path(__file__).parents[2] / "examples"
ROUNDED = ("exp", "expm1", "log", "log1p", "power")
"""Functions that are not exact to the last bit, and that have more than one way in numpy."""


@pytest.fixture
def gaps(monkeypatch: pytest.MonkeyPatch) -> list[str]:
    """Return the names of functions that were given an array with gaps, filled as they are."""
    found: list[str] = []

    def watched(name: str) -> Callable[..., Array]:
        plain: Callable[..., Array] = getattr(np, name)

        def watch(*arrays: Array, **words: Array) -> Array:
            found.extend(
                f"{name} of {each.shape} in steps of {each.strides}"
                for each in map(np.asarray, arrays)
                if not (each.flags.c_contiguous or each.flags.f_contiguous)
            )
            return plain(*arrays, **words)

        return watch

    for name in ROUNDED:
        monkeypatch.setattr(np, name, watched(name))
    return found


def test_exponentials_and_logarithms_are_taken_of_arrays_without_gaps(gaps: list[str]) -> None:
    """Of one with gaps, numpy 2.0 takes another way where the result lies just behind it."""
    for example in ("marram", "fescue"):
        study = read_study(EXAMPLES / example)
        translate(study, draws=200)
        operating_window(study, cells=(4, 4), draws=200)
    imitate(read_study(EXAMPLES / "fescue"), run="P2", draws=200)
    assert gaps == []


def test_the_watch_sees_a_column_with_gaps(gaps: list[str]) -> None:
    np.exp(np.ones((4, 3))[:, 2])
    assert len(gaps) == 1
