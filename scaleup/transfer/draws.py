"""How many draws a confidence takes."""

from __future__ import annotations

from math import ceil

from scaleup.errors import Fault, InputError

LEAST_BEYOND = 10
"""Draws that must lie beyond an asked confidence (a judgement of this program)."""


def draws_needed(confidence: float) -> int:
    """Return how many draws a confidence takes, so that 10 of them lie beyond it.

    >>> draws_needed(0.9), draws_needed(0.95), draws_needed(0.9999)
    (100, 200, 100000)
    """
    return ceil(round(LEAST_BEYOND / (1.0 - confidence), 6))


def require_draws(confidence: float, draws: int, where: str = "confidence") -> None:
    """Refuse a confidence that so many draws cannot tell from a higher one.

    Parameters
    ----------
    confidence
        Asked of every limit, between 0.5 and 1.
    draws
        How many parameter sets are drawn.
    where
        What the confidence is called where it was asked for.

    Raises
    ------
    InputError
        If fewer than 10 draws lie beyond the confidence, naming the draws it takes.

    Examples
    --------
    >>> require_draws(0.95, 200)
    """
    needed = draws_needed(confidence)
    if draws >= needed:
        return
    most = f"at most {100.0 * (1.0 - LEAST_BEYOND / max(draws, LEAST_BEYOND)):.4g} %"
    raise InputError(
        Fault(
            "", where, f"{100.0 * confidence:.6g} % with {draws:,} draws",
            f"{most}, so that {LEAST_BEYOND} of them lie beyond it",
            f"It takes {needed:,} draws.",
        )
    )  # fmt: skip
