"""Which settings a trial visits, and in which order.

Centre runs stand at the start, after a stop, between blocks and at the end; the other settings are
shuffled into blocks between them, so that what changes with time does not pass for what changes
with speed or force.
"""

from __future__ import annotations

from collections.abc import Callable, Sequence
from dataclasses import dataclass, replace

import numpy as np

from scaleup.answers.trial.centre import CentreSetting, settable
from scaleup.answers.trial.options import TrialOptions
from scaleup.answers.trial.worth import Worth, cost_of
from scaleup.powder.precompression import precompression_counts
from scaleup.sentence import Fact, Sentence, Words
from scaleup.transfer.case import TransferCase
from scaleup.transfer.limits import broken
from scaleup.transfer.operating_point import OperatingPoint
from scaleup.transfer.process_model import ProcessModel
from scaleup.transfer.tested import tested_pressure

FORCE_STEPS = (0.30, 0.25, 0.20, 0.15, 0.10, 0.05)
"""Shares of the centre force by which the force ladder may go up and down, the widest first."""
LEAST_STEP = 0.1
"""Share by which a speed of the ladder is at least away from the asked one."""
BEYOND = 1.02
"""Ratio of forces from which one counts as higher than another."""
SPEEDS = 7
"""How many speeds on either side of the asked one are candidates for the speed ladder."""
CLIMB = 1.10
"""Ratio by which a trial climbs beyond the highest tested pressure, a gate before each step (a
judgement of this program)."""
WORTH_RUNNING = 0.10
"""A ladder that narrows no band by this share is not worth its powder (a judgement of this
program)."""
BLOCK = 3
"""Settings between two centre runs, at most."""
START, RESTART, BETWEEN, END = "start-up", "stop and restart", "centre", "end"
AT_CENTRE = (START, RESTART, BETWEEN, END)
"""What the runs of the centre are for."""
SPEED, FORCE, PRE, CLIMBING = "speed ladder", "force ladder", "precompression", "climb"
PRE_LEVELS = (0.0, 0.15, 0.30)
"""Precompression levels as shares of the main force (common practice)."""


@dataclass(frozen=True)
class Rung:
    """One setting of a trial."""

    purpose: str
    speed: float
    """rpm."""
    force: float
    """Main force in N."""
    pre_share: float
    block: int = 0
    """Which block it is run in, counted from 1; 0 for centre runs and climbing steps."""


@dataclass(frozen=True)
class Design:
    """The settings of a trial in the order they are run, and why they were chosen."""

    rungs: tuple[Rung, ...]
    centre: Rung
    reasons: tuple[Words, ...]


@dataclass(frozen=True)
class _Ladder:
    purpose: str
    rungs: tuple[Rung, ...]
    why_none: Words = ""


def point_of(process: ProcessModel, rung: Rung) -> OperatingPoint:
    """Return the operating point of a rung, its own precompression included."""
    shares, powder = (rung.pre_share, process.pre_share), process.fit.powder
    if shares[0] != shares[1] and any(precompression_counts(powder, share) for share in shares):
        production = replace(process.production, precompression=rung.pre_share or None)
        process = replace(process, production=production)
    return process.at(rung.force / process.charge.tip_area, rung.speed)


def design_of(
    case: TransferCase, setting: CentreSetting, options: TrialOptions, tablets: int
) -> Design:
    """Return the settings of a trial around a centre, so many tablets sampled from each."""
    process = case.process
    share = process.pre_share if process.press.pre is not None else 0.0
    centre = Rung(START, case.speed, setting.force, share)
    ladders = _ladders(case, setting, centre)
    kept, reasons = _worth_running(case, setting, ladders, options, tablets)
    rng = np.random.default_rng(case.calibrated.drawing.seed)
    rungs = (*_climb(case, centre), *_in_blocks(centre, kept, rng))
    return Design(rungs, centre, (setting.reason, *reasons))


def _allowed(case: TransferCase, setting: CentreSetting) -> Callable[[Rung], bool]:
    """Return whether a rung keeps its distance from every stop and within what was tested."""
    highest = max(tested_pressure(case.process.fit), float(np.median(setting.point.pressure)))
    counted = tuple(
        each for each in case.limits if each.of != "tablet" or each.code.startswith("seen-")
    )

    def allowed(rung: Rung) -> bool:
        point = point_of(case.process, rung)
        return (
            float(np.median(point.pressure)) <= highest * (1.0 + 1e-3)
            and not setting.stops.kept(point, case.confidence)
            and not broken(counted, point, case.confidence)
        )

    return allowed


def _ladders(case: TransferCase, setting: CentreSetting, centre: Rung) -> tuple[_Ladder, ...]:
    allowed = _allowed(case, setting)
    return (
        _speed_ladder(case, centre, allowed),
        _force_ladder(centre, allowed),
        _pre_ladder(case, centre, allowed),
    )


def _speed_ladder(case: TransferCase, centre: Rung, allowed: Callable[[Rung], bool]) -> _Ladder:
    """Return the slowest and the fastest speed at the centre's force that are allowed."""
    limits = case.production.press.profile.speed
    rungs = []
    for end in (limits.min, limits.max):
        steps = np.geomspace(end, centre.speed, SPEEDS + 1)[:-1]
        speeds = [settable(min(max(step, limits.min), limits.max)) for step in steps]
        far = [each for each in speeds if abs(np.log(each / centre.speed)) > LEAST_STEP]
        tried = (replace(centre, purpose=SPEED, speed=speed) for speed in far)
        rungs += [rung for rung in tried if allowed(rung)][:1]
    why = "No other speed keeps its distance from every limit: the rate exponent is not measured."
    return _Ladder(SPEED, tuple(rungs), why)


def _force_ladder(centre: Rung, allowed: Callable[[Rung], bool]) -> _Ladder:
    """Return the widest force below and above the centre's that are allowed."""
    rungs = []
    for sign in (-1.0, 1.0):
        forces = [settable(centre.force * (1.0 + sign * step)) for step in FORCE_STEPS]
        tried = (replace(centre, purpose=FORCE, force=force) for force in forces)
        rungs += [rung for rung in tried if allowed(rung)][:1]
    why = "No other force keeps its distance from every limit: no force ladder."
    return _Ladder(FORCE, tuple(rungs), why)


def _pre_ladder(case: TransferCase, centre: Rung, allowed: Callable[[Rung], bool]) -> _Ladder:
    """Return levels of precompression, where no production run has looked at them yet."""
    seen = [each for each in case.observations if each.run.press == "production"]
    looked = len({round(each.pre_share, 2) for each in seen}) > 1
    if case.process.press.pre is None or looked:
        return _Ladder(PRE, ())
    levels = [level for level in PRE_LEVELS if abs(level - centre.pre_share) > 0.02]
    rungs = (replace(centre, purpose=PRE, pre_share=level) for level in levels)
    return _Ladder(PRE, tuple(rung for rung in rungs if allowed(rung)))


def _worth_running(
    case: TransferCase,
    setting: CentreSetting,
    ladders: Sequence[_Ladder],
    options: TrialOptions,
    tablets: int,
) -> tuple[list[Rung], list[Words]]:
    """Return the rungs of the ladders that teach enough, and what each is expected to teach."""
    worth = Worth(case, setting.point, tablets)
    points = [setting.point] * 3
    known = worth.narrowing(points)
    kept: list[Rung] = []
    reasons: list[Words] = [_confirmation(known)]
    for ladder in ladders:
        if not ladder.rungs:
            reasons += [ladder.why_none] if ladder.why_none else []
            continue
        cost = cost_of(case, [rung.speed for rung in ladder.rungs], options).told
        if ladder.purpose == PRE:
            kept += ladder.rungs
            reasons.append(f"{_runs(ladder)}, {cost}, for capping and friability: outside the law.")
            continue
        # in the middle of the trial, between centre runs
        further = [points[0], *(point_of(case.process, rung) for rung in ladder.rungs), *points[1:]]
        taught = worth.narrowing(further)
        name = max(taught, key=lambda each: taught[each] - known[each])
        teaches = taught[name] - known[name] >= WORTH_RUNNING
        reasons.append(_told(ladder, name, known[name], taught[name], cost, teaches))
        if teaches:
            kept += ladder.rungs
            points, known = further, taught
    return kept, reasons


def _runs(ladder: _Ladder) -> str:
    count = len(ladder.rungs)
    return f"{ladder.purpose.capitalize()}, {count} run{'s' if count > 1 else ''}"


def _confirmation(known: dict[str, float]) -> Sentence:
    name = max(known, key=lambda each: known[each])
    return Sentence(
        "Three runs at the centre are expected to narrow the band of {figure} by {narrowing:%}.",
        figure=name,
        narrowing=known[name],
    )


def _told(
    ladder: _Ladder, name: str, before: float, after: float, cost: str, teaches: bool
) -> Sentence:
    return Sentence(
        "{ladder} at {settings}, {cost}: the trial narrows the band of {figure} by {after:%} with "
        "it, by {before:%} without it{left_out}.",
        ladder=_runs(ladder),
        settings=_settings(ladder),
        cost=cost,
        figure=name,
        after=after,
        before=before,
        left_out="" if teaches else ": it is left out",
    )


def _settings(ladder: _Ladder) -> Sentence:
    facts = [
        Fact(rung.speed, "rpm") if ladder.purpose == SPEED else Fact(rung.force, "N")
        for rung in ladder.rungs
    ]
    if len(facts) == 1:
        return Sentence("{only}", only=facts[0])
    return Sentence("{first} and {last}", first=facts[0], last=facts[-1])


def _climb(case: TransferCase, centre: Rung) -> list[Rung]:
    """Return steps from the highest tested force up to the centre, none if that was tested."""
    force = tested_pressure(case.process.fit) * case.process.charge.tip_area
    rungs: list[Rung] = []
    if centre.force < BEYOND * force:
        return rungs
    while force < centre.force / BEYOND:
        rungs.append(replace(centre, purpose=CLIMBING, force=settable(force)))
        force *= CLIMB
    return rungs


def _in_blocks(centre: Rung, rungs: list[Rung], rng: np.random.Generator) -> list[Rung]:
    """Return the runs in order: the centre, a block, the centre, another block, the centre."""
    shuffled = [rungs[place] for place in rng.permutation(len(rungs))]
    count = max(-(-len(shuffled) // BLOCK), 1)
    blocks = [list(each) for each in np.array_split(np.arange(len(shuffled)), count)]
    order = [centre]
    for number, places in enumerate(blocks, start=1):
        order += [replace(shuffled[place], block=number) for place in places]
        order.append(replace(centre, purpose=RESTART if number == 1 else BETWEEN))
    if count == 1:
        return [*order, replace(centre, purpose=END)]
    return [*order[:-1], replace(centre, purpose=END)]
