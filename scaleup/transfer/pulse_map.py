"""The effective dwell of a press at any pressure and speed, for every draw, from a few pulses.

With tips that have cups it knows as well how much of the elastic part acts where the tips are
closest (`scaleup.powder.in_die`), since in thin tablets the tips may meet.

The logarithm of the effective dwell is smooth in the logarithms of pressure and speed, so a
polynomial through a few solved pulses carries it in between; the law then gives the state, and so
the tablet, exactly for that dwell.
"""

from __future__ import annotations

from dataclasses import dataclass
from itertools import combinations_with_replacement

import numpy as np

from scaleup.arrays import Array, Places
from scaleup.powder.charge import Charge
from scaleup.powder.compression import compress
from scaleup.powder.hardening import Hardening
from scaleup.powder.in_die import elastic_share
from scaleup.powder.law import Powder
from scaleup.powder.mixture import stretches_of
from scaleup.powder.precompression import precompression_counts
from scaleup.presses.press import Press, Setting

NODES_BELOW, NODES_ABOVE = 4, 3
SOLVED = 300
"""Draws of each hardening form that are solved; the rest follows from their parameters."""
FURTHEST = 40
"""Draws of each form, those furthest from the middle, that nothing is carried to."""
WORTH_IT = 0.5
"""Share of the draws above which all of them are solved."""
CARRIED_TOLERANCE = 1e-3
"""Share of a pressure that an error of a carried dwell may make in the worst draw checked; and how
much of D an error of a carried elastic share may."""
SMALLEST_EXPONENT = 1e-4
"""Added to m before its logarithm is taken; below it the dwell hardly matters."""
HIGHER_POWERS = (4, 5)
"""Powers of ln m beside the cubic, where they help: near 0 the dwell bends most in m."""
NODE_TOLERANCE = 0.1
"""A node need not lie on a round pressure; it must know the one it has."""
AFTER_ANOTHER = 0.02
"""The same where a precompression counts, which is a share of the pressure asked for."""


@dataclass(frozen=True)
class PulseMap:
    """The dwell of one powder on a press at every pressure and speed of a range."""

    log_speeds: Array
    """ln(rpm) of the nodes, rising."""
    log_pressures: Array
    """ln(MPa) of the nodes, rising."""
    log_dwell: Array
    """ln(effective dwell/s) at the nodes, shape (speeds, pressures, draws)."""
    share: Array | None = None
    """`elastic_share` at the nodes, of the same shape; None for flat tips, which never meet."""

    @property
    def floor(self) -> float:
        """Return the lowest pressure in MPa the map holds for."""
        return float(np.exp(self.log_pressures[0]))

    @property
    def ceiling(self) -> float:
        """Return the highest pressure in MPa the map holds for."""
        return float(np.exp(self.log_pressures[-1]))

    @property
    def speeds(self) -> tuple[float, float]:
        """Return the slowest and the fastest speed in rpm the map holds for."""
        return float(np.exp(self.log_speeds[0])), float(np.exp(self.log_speeds[-1]))

    def chosen(self, which: Places) -> PulseMap:
        """Return the map of some of the draws."""
        share = None if self.share is None else self.share[..., which]
        return PulseMap(self.log_speeds, self.log_pressures, self.log_dwell[..., which], share)

    def effective_dwell(self, pressure: Array, speed: float) -> Array:
        """Return the effective dwell in s at a speed in rpm.

        The pressure in MPa has shape () or (draws,), or (pressures, 1) for a column of pressures
        that every draw sees; the result has shape (draws,) or (pressures, draws).
        """
        return np.exp(self._between(self.log_dwell, pressure, speed))

    def elastic_share(self, pressure: Array, speed: float) -> Array:
        """Return the share of ``P/K`` that acts where the tips are closest, shaped as the dwell.

        Raises
        ------
        ValueError
            If the tips are flat.
        """
        if self.share is None:
            raise ValueError("the map of flat tips has no elastic share")
        return self._between(self.share, pressure, speed)

    def _between(self, values: Array, pressure: Array, speed: float) -> Array:
        across = lagrange(self.log_speeds, np.asarray(np.log(speed)))
        along = lagrange(self.log_pressures, np.log(pressure))
        at_speed = np.tensordot(across, values, axes=1)
        if along.shape[-1] == 1 or along.ndim == 1:
            shared: Array = along.reshape(len(along), -1).T @ at_speed
            return shared if along.ndim == 3 else shared[0]
        each: Array = np.einsum("nd,nd->d", along, at_speed)
        return each


def lagrange(nodes: Array, target: Array) -> Array:
    """Return the weight of every node at targets of any shape, shape (nodes, *target)."""
    weights = np.ones((nodes.size, *np.shape(target)))
    for i, node in enumerate(nodes):
        for j, other in enumerate(nodes):
            if i != j:
                weights[i] *= (target - other) / (node - other)
    return weights


@dataclass(frozen=True)
class Domain:
    """Pressures in MPa and speeds in rpm over which a map is to hold."""

    low_pressure: float
    middle_pressure: float
    """Where the map is to be exact."""
    high_pressure: float
    speeds: tuple[float, ...]

    @property
    def pressures(self) -> Array:
        """Return the pressures in MPa to solve at, even in their logarithm on either side."""
        below = np.geomspace(self.low_pressure, self.middle_pressure, NODES_BELOW)
        above = np.geomspace(self.middle_pressure, self.high_pressure, NODES_ABOVE)
        return np.concatenate([below, above[1:]])


def pulse_map(
    press: Press, powder: Powder, charge: Charge, pre_share: float, domain: Domain
) -> PulseMap:
    """Return the map of a press over a domain, `pre_share` being the precompression's share.

    A share that adds nothing to the state leaves the dwell as it is, and is not solved.

    Of many draws some are solved, and the rest follow from their parameters (`carried`), but for
    those furthest from the middle; if that does not hold for draws solved as a check, all are
    solved.
    """
    share = pre_share if precompression_counts(powder, pre_share) else 0.0

    def solved(part: Powder) -> Array:
        return _solved(press, part, charge, share, domain)

    places, moves = _places(powder), powder.rate_exponent
    effects = [moves, domain.high_pressure / powder.elastic] if charge.cup_volume > 0.0 else [moves]
    parts: list[Array | None] = [None]
    if places.size < WORTH_IT * powder.draws:
        some = solved(powder.chosen(places))
        parts = [carried(powder, part, places, by) for part, by in zip(some, effects, strict=True)]
    whole = [part for part in parts if part is not None]
    if len(whole) == len(effects):
        furthest = _furthest(powder)
        for part, exact in zip(whole, solved(powder.chosen(furthest)), strict=True):
            part[..., furthest] = exact
    figures = whole if len(whole) == len(effects) else list(solved(powder))
    return PulseMap(np.log(domain.speeds), np.log(domain.pressures), *figures)


def _solved(
    press: Press, powder: Powder, charge: Charge, pre_share: float, domain: Domain
) -> Array:
    """Return the figures at all nodes, shape (figures, speeds, pressures, draws).

    A pulse at another speed is nearly the same but for its duration: told of the dwell at three
    of the pressures and one speed, the solver meets nearly every node at its first try.
    """
    three, first = domain.pressures[[0, NODES_BELOW - 1, -1]], domain.speeds[0]
    at_three = _row(press, powder, charge, pre_share, three, first)[0]
    between = lagrange(np.log(three), np.log(domain.pressures))
    turns = first * np.exp(between.T @ at_three)
    rows = [
        _row(press, powder, charge, pre_share, domain.pressures, speed, turns / speed)
        for speed in domain.speeds
    ]
    return np.stack(rows, axis=1)


def _row(
    press: Press,
    powder: Powder,
    charge: Charge,
    pre_share: float,
    pressures: Array,
    speed: float,
    guess: Array | None = None,
) -> Array:
    """Return the figures at the pressures in MPa of one speed, shape (figures, pressures, draws).

    They are ln(effective dwell/s) and, of tips with cups, the elastic share. `guess` is about the
    dwell in s, shape (pressures, draws).
    """
    count = pressures.size
    # All pressures at once: every draw stands beside itself, once for each pressure.
    beside = powder.chosen(np.repeat(np.arange(powder.draws), count))
    asked = np.tile(pressures, powder.draws)
    near = AFTER_ANOTHER if pre_share > 0.0 else NODE_TOLERANCE
    about = None if guess is None else guess.T.ravel()
    pulse = compress(press, beside, charge, asked, Setting(speed=speed), pre_share, near, about)
    reached = np.log(pulse.peak_pressure).reshape(-1, count).T
    figures = [np.log(pulse.effective_dwell)]
    if charge.cup_volume > 0.0:
        state, peak = pulse.static_pressure, pulse.peak_pressure
        figures.append(elastic_share(beside, charge, pulse.in_die, state, peak))
    solved = np.stack([each.reshape(-1, count).T for each in figures])
    shift = _onto_nodes(reached, np.log(pressures))
    on_nodes: Array = np.einsum("ijd,fjd->fid", shift, solved)
    return on_nodes


def _places(powder: Powder) -> Places:
    """Return which draws are solved: evenly many of each hardening form, all of a small one."""
    parts = []
    for _, part in stretches_of(powder.hardening):
        size = part.stop - part.start
        parts.append(
            part.start + np.unique(np.linspace(0, size - 1, min(size, SOLVED)).astype(int))
        )
    return np.concatenate(parts)


def _furthest(powder: Powder) -> Places:
    """Return the draws of each form whose parameters are furthest from the middle.

    All together, and the exponent alone, which moves the dwell most.
    """
    parts = []
    for form, part in stretches_of(powder.hardening):
        exponent, *_ = columns = _parameters(form, powder, part)
        off = np.sum([each**2 for each in _standardised(columns)] or [0.0 * exponent], axis=0)
        by_exponent = np.argsort(exponent)
        few = (np.argsort(off)[-FURTHEST:], by_exponent[: FURTHEST // 4], by_exponent[-FURTHEST:])
        parts.append(part.start + np.unique(np.concatenate(few)))
    return np.concatenate(parts)


def _parameters(form: Hardening, powder: Powder, part: slice) -> list[Array]:
    """Return the parameters of the draws of one form, ln m first."""
    own = [np.log(np.maximum(draws, 1e-12)) for _, draws, _ in form.named()]
    log_exponent = np.log(powder.rate_exponent[part] + SMALLEST_EXPONENT)
    return [log_exponent, *own, np.log(powder.elastic[part]), powder.curvature[part]]


def carried(
    powder: Powder, some: Array, places: Places, effect: Array | None = None
) -> Array | None:
    """Return what was solved for some draws carried to all of them by their parameters.

    For each hardening form a polynomial of the third degree in the (standardised) parameters of
    the draws, with higher powers of ln m or without, is fitted to two in three of the solved ones;
    the third is the check. None where an error there, times its effect, is more than
    `CARRIED_TOLERANCE`. A form with all its draws solved is left as it is.

    Parameters
    ----------
    powder
        All draws.
    some
        Solved values, shape (..., solved).
    places
        Which draws were solved, rising.
    effect
        By how much an error of 1 counts, shape (draws,); as in ln(effective dwell), by the share
        of a pressure that it makes, if absent.
    """
    effect = powder.rate_exponent if effect is None else effect
    flat = some.reshape(-1, some.shape[-1])
    result = np.empty((len(flat), powder.draws))
    for form, part in stretches_of(powder.hardening):
        inside = (places >= part.start) & (places < part.stop)
        values = flat[:, inside]
        if values.shape[1] == part.stop - part.start:
            result[:, part] = values
            continue
        terms, counts = _terms(form, powder, part), effect[places[inside]]
        plain = terms[:, : -len(HIGHER_POWERS)]
        solved = places[inside] - part.start
        tried = [_followed(each, each[solved], values, counts) for each in (plain, terms)]
        error, best = min(tried, key=lambda each: each[0])
        if error > CARRIED_TOLERANCE:
            return None
        result[:, part] = best
    return result.reshape(*some.shape[:-1], powder.draws)


def _followed(terms: Array, own: Array, values: Array, effect: Array) -> tuple[float, Array]:
    """Return the largest error, times its effect, and values (values, draws) from those solved.

    `terms` are those of the draws, `own` of the solved ones; `values` is what was solved, shape
    (values, solved). A third of them is the check.
    """
    check = np.arange(len(own)) % 3 == 2
    coefficients, *_ = np.linalg.lstsq(own[~check], values[:, ~check].T, rcond=None)
    off = own[check] @ coefficients - values[:, check].T
    return float(np.max(np.abs(off) * effect[check][:, None])), (terms @ coefficients).T


def _terms(form: Hardening, powder: Powder, part: slice) -> Array:
    """Return every product of up to three standardised parameters, shape (draws, terms).

    The last are higher powers of ln m.
    """
    log_exponent, *rest = _parameters(form, powder, part)
    (exponent,) = _standardised([log_exponent]) or [np.zeros(log_exponent.size)]
    others = _standardised(rest)
    terms = [np.ones(exponent.size)]
    for degree in (1, 2, 3):
        products = combinations_with_replacement([exponent, *others], degree)
        terms += [np.prod(chosen, axis=0) for chosen in products]
    terms += [exponent**power for power in HIGHER_POWERS]
    return np.column_stack(terms)


def _standardised(columns: list[Array]) -> list[Array]:
    """Return the columns that vary, each with mean 0 and standard deviation 1."""
    varied = [each for each in columns if np.ptp(each) > 1e-12]
    return [(each - each.mean()) / each.std() for each in varied]


def _onto_nodes(reached: Array, nodes: Array) -> Array:
    """Return what carries values from where each draw was solved to the nodes all draws share.

    `reached` has shape (nodes, draws); the result (to, from, draws) keeps the polynomial.
    """
    shift = np.ones((nodes.size, *reached.shape))
    for i in range(nodes.size):
        for j in range(nodes.size):
            if i != j:
                shift[:, i] *= (nodes[:, None] - reached[j]) / (reached[i] - reached[j])
    return shift
