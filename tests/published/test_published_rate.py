"""Roberts & Rowe 1985: rate sensitivity of thirteen materials."""

from __future__ import annotations

import tomllib
from collections.abc import Callable
from decimal import Decimal
from pathlib import Path

import numpy as np
import pytest

from scaleup.equations import pressure_ratio, rate_exponent

TABLE = tomllib.loads(
    Path(__file__).with_name("roberts_rowe_1985.toml").read_text(encoding="utf-8"),
    parse_float=Decimal,
)
SLOW, FAST = float(TABLE["slow"]), float(TABLE["fast"])
SENSITIVITY = {row["material"]: float(row["sensitivity"]) / 100 for row in TABLE["row"]}


@pytest.mark.parametrize("row", TABLE["exponent"]["row"], ids=lambda row: row["material"])
def test_exponents_of_the_table(
    row: dict[str, Decimal], printed: Callable[[Decimal], object]
) -> None:
    computed = rate_exponent(SENSITIVITY[str(row["material"])], SLOW, FAST)
    assert computed == printed(row["rate_exponent"])


def test_mean_and_spread_of_all_materials(printed: Callable[[Decimal], object]) -> None:
    exponents = rate_exponent(np.array(list(SENSITIVITY.values())), SLOW, FAST)
    assert exponents.size == 13
    assert exponents.mean() == printed(TABLE["exponent"]["all"]["mean"])
    assert exponents.std(ddof=1) == printed(TABLE["exponent"]["all"]["standard_deviation"])


@pytest.mark.parametrize("row", TABLE["row"], ids=lambda row: row["material"])
def test_exponent_gives_back_the_printed_sensitivity(
    row: dict[str, Decimal], printed: Callable[[Decimal], object]
) -> None:
    """Yield pressures at the two speeds, made from the exponent, differ by what is printed."""
    exponent = rate_exponent(float(row["sensitivity"]) / 100, SLOW, FAST)
    slow_over_fast = pressure_ratio(dwell_from=1 / FAST, dwell_to=1 / SLOW, rate_exponent=exponent)
    assert 100 * (1 - slow_over_fast) == printed(row["sensitivity"])


def test_either_convention_tells_the_same_powder() -> None:
    """Yield pressures of 61.1 and 100 MPa: 38.9 % of the fast one, 63.7 % of the slow one."""
    fast = rate_exponent((100 - 61.1) / 100, SLOW, FAST, relative_to="fast")
    slow = rate_exponent((100 - 61.1) / 61.1, SLOW, FAST, relative_to="slow")
    assert slow == pytest.approx(fast, rel=1e-12)


def test_order_of_gain_by_dwell() -> None:
    """Rees & Rue's order, J Pharm Pharmacol 30 (1978) 601: phosphate none, lactose, cellulose,
    starch. Sodium chloride, which they put below lactose, has a higher sensitivity in this table,
    so the two sources disagree about it.
    """
    names = (
        "calcium phosphate",
        "lactose alpha-monohydrate",
        "microcrystalline cellulose, 50 µm",
        "maize starch",
    )
    exponents = [rate_exponent(SENSITIVITY[name], SLOW, FAST) for name in names]
    pay = [pressure_ratio(10.0, 0.17, exponent) for exponent in exponents]
    assert pay[0] == 1.0
    assert pay == sorted(pay)
    assert SENSITIVITY["sodium chloride"] > SENSITIVITY["lactose alpha-monohydrate"]
