"""How a computed value is compared with a printed one."""

from __future__ import annotations

from collections.abc import Callable
from decimal import Decimal

import pytest


def _half_a_unit(value: Decimal | int) -> float:
    exponent = Decimal(value).as_tuple().exponent
    assert isinstance(exponent, int)
    return float(Decimal("0.5").scaleb(exponent))


@pytest.fixture
def printed() -> Callable[[Decimal | int], object]:
    """Return a function that equals a number within half a unit in the last digit printed."""
    return lambda value: pytest.approx(float(value), rel=1e-12, abs=_half_a_unit(value))
