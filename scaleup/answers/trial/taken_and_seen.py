"""What of a sheet the fit could not use, and what was seen that no fit speaks of."""

from __future__ import annotations

from collections.abc import Iterator

from scaleup.answers.trial.results import RunResult
from scaleup.io.trial_sheet.reading import SheetRow
from scaleup.sentence import Fact, Sentence, Words, joined


def taken_for_the_fit(told: tuple[SheetRow, ...], filled: tuple[SheetRow, ...]) -> Iterator[str]:
    """Yield what of the sheet could not be used for the fit, and what was taken for granted."""
    for row in told:
        if row not in filled:
            lacks = [name for name in ("weight", "thickness") if row.number(name) is None]
            yield (
                f"run {row.text('run')} is left out of the fit: no {' and no '.join(lacks)}; what "
                "else it says counts for the acceptance rule"
            )
    unset = [
        row.text("run")
        for row in filled
        if row.number("force") is None or row.number("speed") is None
    ]
    if unset:
        yield f"force or speed left blank in {', '.join(unset)}: taken as set as planned"
    counted = [row.text("run") for row in filled if row.number("tablets") is None]
    if counted:
        yield f"tablets left blank in {', '.join(counted)}: taken as sampled as planned"


def by_eye(results: tuple[RunResult, ...]) -> Iterator[Words]:
    """Yield what was seen on tablets, and what precompression did as far as was looked at."""
    for each in results:
        if each.seen:
            yield Sentence(
                "seen in {run} at {force} and {speed}: {defects}",
                run=each.name,
                force=Fact(each.force, "N"),
                speed=Fact(each.speed, "rpm"),
                defects=", ".join(each.seen),
            )
    levels = {each.precompression for each in results}
    looked = [each for each in results if each.friability is not None or each.looked_for]
    if len(levels) > 1 and looked:
        levelled = sorted(looked, key=lambda each: each.precompression)
        parts = [_level(each) for each in levelled if _centre(each)]
        if len(parts) > 1:
            levels_seen = joined("; ", parts)
            yield Sentence("by precompression, at the centre: {levels}", levels=levels_seen)


def _centre(result: RunResult) -> bool:
    return result.purpose in ("start-up", "precompression", "end")


def _level(result: RunResult) -> Sentence:
    """Return the precompression of a run, and what was seen of its tablets."""
    worn: Words = "friability not measured"
    if result.friability is not None:
        worn = Sentence("friability {friability:%}", friability=result.friability)
    pressed = Fact(result.precompression, "N") if result.precompression else "none"
    capped = {True: "capping", False: "no capping", None: "capping not looked for"}
    return Sentence(
        "{run} {precompression}: {worn}, {capped}",
        run=result.name,
        precompression=pressed,
        worn=worn,
        capped=capped[result.found("capping")],
    )
