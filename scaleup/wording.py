"""Numbers in sentences: the unit people read, and as many digits as they need."""

from __future__ import annotations

from collections.abc import Callable
from math import ceil, floor, isclose, log10

from scaleup.units_shown import unit_of

OUTPUT_DIGITS = 4
SURE = 0.95
"""Confidence of the exact binomial bound on what none of the draws showed (common practice)."""


def say(value: float, unit: str, digits: int = 3) -> str:
    """Return a value in the unit it is read in, with so many significant digits.

    >>> say(12345.0, "N"), say(95.0, "N")
    ('12.3 kN', '95 N')
    >>> say(0.0064, "s"), say(12.0, "s"), say(0.85, "1")
    ('6.4 ms', '12 s', '0.85')
    """
    name, factor = unit_of(value, unit)
    number = significant(value * factor, max(digits, OUTPUT_DIGITS) if unit == "1/h" else digits)
    return f"{number} {name}".rstrip()


def at_most(value: float, unit: str, digits: int = 3) -> str:
    """Return a value not to be exceeded, rounded down where `say` would round it up.

    >>> say(25.776, "rpm"), at_most(25.776, "rpm"), at_most(75.0, "rpm")
    ('25.8 rpm', '25.7 rpm', '75 rpm')
    """
    return say(_cut(value, digits, floor), unit, digits)


def at_least(value: float, unit: str, digits: int = 3) -> str:
    """Return a value to be reached, rounded up where `say` would round it down.

    >>> say(62.53, "rpm"), at_least(62.53, "rpm"), at_least(60.0, "rpm")
    ('62.5 rpm', '62.6 rpm', '60 rpm')
    """
    return say(_cut(value, digits, ceil), unit, digits)


def _cut(value: float, digits: int, towards: Callable[[float], int]) -> float:
    """Return a value above 0 with so many significant digits, cut towards one side."""
    step = 10.0 ** (floor(log10(value)) - digits + 1)
    places = value / step
    nearest = round(places)
    return step * (nearest if isclose(places, nearest) else towards(places))


def significant(value: float, digits: int) -> str:
    """Return a number with so many significant digits, never in powers of ten.

    >>> significant(1234.5, 3), significant(0.012345, 3), significant(0.0, 3)
    ('1230', '0.0123', '0')
    """
    if value == 0.0:
        return "0"
    places = digits - 1 - floor(log10(abs(value)))
    if places <= 0:
        return f"{round(value, places):.0f}"
    return f"{value:.{places}f}".rstrip("0").rstrip(".")


def percent_of_draws(share: float, draws: int) -> str:
    """Return how many of a number of draws keep a limit, for a cell of a table.

    It is not rounded up to a confidence they fall short of. All or none of the draws is no
    certainty: what is told is the bound of `least_share`.

    >>> percent(0.8975), percent_of_draws(0.8975, 400), percent_of_draws(0.9, 400)
    ('90 %', '89 %', '90 %')
    >>> percent_of_draws(1.0, 4000), percent_of_draws(0.0, 4000), percent_of_draws(1.0, 200)
    ('above 99.9 %', 'below 0.1 %', 'above 98.5 %')
    >>> percent_of_draws(3999 / 4000, 4000)
    '99.9 %'
    """
    sure = floor(least_share(draws) * 1000.0) / 10.0
    if share >= 1.0:
        return f"above {sure:.1f} %"
    if share <= 0.0:
        return f"below {100.0 - sure:.1f} %"
    if share >= 0.995:
        return f"{floor(share * 1000.0 + 1e-9) / 10.0:.1f} %"
    return percent(floor(share * 100.0 + 1e-9) / 100.0 if share >= 0.1 else share)


def of_draws(share: float, draws: int) -> str:
    """Return how many of a number of draws do something, for a sentence.

    >>> of_draws(0.8975, 400), of_draws(1.0, 4000)
    ('89 % of the draws', 'all 4,000 draws (above 99.9 %)')
    >>> of_draws(0.0, 4000)
    'none of 4,000 draws (below 0.1 %)'
    """
    told = percent_of_draws(share, draws)
    if 0.0 < share < 1.0:
        return f"{told} of the draws"
    return f"{'all' if share >= 1.0 else 'none of'} {draws:,} draws ({told})"


def capital(text: str) -> str:
    """Return a text that begins with a capital letter.

    >>> capital("none of 400 draws")
    'None of 400 draws'
    """
    return text[:1].upper() + text[1:]


def asked_alone(within: float, confidence: float) -> str:
    """Return why all limits together may be kept by fewer draws than asked, if they are.

    >>> asked_alone(0.97, 0.9), asked_alone(0.89, 0.9)
    ('', ', since each limit is asked by itself')
    """
    return "" if within >= confidence else ", since each limit is asked by itself"


def percent(share: float) -> str:
    """Return a share as a percentage with two digits or, from 10 % on, as a whole number.

    Only nothing is 0 %, and only the whole is 100 %.

    >>> percent(0.123), percent(0.0123), percent(1.0)
    ('12 %', '1.2 %', '100 %')
    >>> percent(0.9999), percent(0.0002), percent(0.0), percent(-0.0002)
    ('99.99 %', 'below 0.05 %', '0 %', 'above -0.05 %')
    """
    if 0.0 < abs(share) < 0.0005:
        return "below 0.05 %" if share > 0.0 else "above -0.05 %"
    if 0.995 <= share < 1.0:
        return f"{min(share * 100, 99.99):.4g} %"
    return f"{share * 100:.1f} %" if 0.0005 <= abs(share) < 0.0995 else f"{share * 100:.0f} %"


def least_share(draws: int) -> float:
    """Return the share that is exceeded with 95 % confidence where every one of the draws agrees.

    Exact binomial bound ``0.05^(1/n)`` (Clopper & Pearson, Biometrika 26 (1934) 404, from memory),
    about ``1 - 3/n``.

    >>> round(least_share(4000), 5), round(least_share(200), 4)
    (0.99925, 0.9851)
    """
    return float((1.0 - SURE) ** (1.0 / draws))
