"""Risks of the production press and its tooling: ratings, ranges, fit."""

from __future__ import annotations

from collections.abc import Iterator

import numpy as np

from scaleup.presses.data_sheet import DISAGREEMENT, disagreements
from scaleup.presses.press import moves_the_tips
from scaleup.presses.profile_checks import press_oddness, tooling_oddness
from scaleup.presses.rotary import arc_time
from scaleup.sentence import Fact, Sentence, joined
from scaleup.transfer.case import TransferCase
from scaleup.transfer.limits import SHORT_FEED
from scaleup.transfer.risks.registry import Risk, Severity, risk

PRE_LOW, PRE_HIGH = 0.10, 0.30
"""Precompression as a share of main force to start with (common practice)."""
NEAR = 0.2
"""mm between what the map says of the tips and what a solved pulse may say, with room."""
PRE_ADDS = 0.8
"""A share above which precompression adds to the dwell of the main pulse."""


@risk()
def force_over_limit(case: TransferCase) -> Iterator[Risk]:
    """Main force over the roller limit or the tip rating, for a share of the draws."""
    for limit in case.limits:
        if limit.code not in ("main-roller", "tip-rating", "pre-roller"):
            continue
        for item in case.dialled:
            if item.point is None:
                continue
            value = limit.middle(item.point)
            if value <= limit.bound:
                continue
            yield Risk(
                f"force-over-{limit.code}",
                "severe",
                Sentence(
                    "The {match} match takes a {figure} of {force}, over the limit of {limit}.",
                    match=item.match,
                    figure=limit.label,
                    force=limit.fact(value),
                    limit=limit.fact(limit.bound),
                ),
                Sentence(
                    "Limit from the {part} profile.",
                    part="press" if "roller" in limit.code else "tooling",
                ),
                "Do not set it. Run slower, take tooling with a higher rating from its drawing, or "
                "change the blend.",
                value / limit.bound - 1.0,
            )


@risk(without_fit=True)
def missing_rating(case: TransferCase) -> Iterator[Risk]:
    """A tip force rating that the tooling profile does not state."""
    sides = (("lab", case.study.lab.tooling), ("production", case.study.production.tooling))
    for side, loaded in sides:
        if loaded.profile.tip_force_rating is None:
            made = side == "production"
            yield Risk(
                "tip-rating-not-checked",
                "serious" if made else "watch",
                Sentence(
                    "The tip force of the {side} tooling was not checked: {tooling} states no "
                    "rated tip force.",
                    side=side,
                    tooling=loaded.id,
                    force=Fact(case.reference.pressure * loaded.profile.tip_area, "N"),
                ),
                Sentence("No tip_force_rating in {profile}.", profile=loaded.shown),
                "Take the rated tip force from the tooling drawing and add it to the profile "
                "before anything is set.",
                1.0,
                about="tip rating" if made else "",
            )


@risk(without_fit=True)
def lab_over_rating(case: TransferCase) -> Iterator[Risk]:
    """Lab runs above what the lab press or its tooling may carry."""
    rating = case.study.lab.tooling.profile.tip_force_rating
    limit = case.study.lab.press.profile.greatest_force
    highest = max((seen.run.force for seen in case.lab_runs), default=0.0)
    for bound, what in ((rating, "tip rating of the lab tooling"), (limit, "lab press limit")):
        if bound is not None and highest > bound:
            yield Risk(
                "lab-force-over-limit",
                "severe",
                Sentence(
                    "A lab run was pressed at {force}, over the {what} of {limit}.",
                    force=Fact(highest, "N"),
                    what=what,
                    limit=Fact(bound, "N"),
                ),
                Sentence("Run table {file} and the profile.", file=case.study.lab.runs_file),
                "Check the force unit of the table and the gauge; stop using this force.",
                highest / bound - 1.0,
            )


@risk(without_fit=True)
def speed_outside_range(case: TransferCase) -> Iterator[Risk]:
    """An asked turret speed that the press does not run at."""
    limits = case.study.production.press.profile.speed
    if limits.min <= case.speed <= limits.max:
        return
    nearest = min(max(case.speed, limits.min), limits.max)
    yield Risk(
        "speed-outside-range",
        "severe",
        Sentence(
            "{speed} is outside the speed range of the press, {slowest} to {fastest}.",
            speed=Fact(case.speed, "rpm"),
            slowest=Fact(limits.min, "rpm"),
            fastest=Fact(limits.max, "rpm"),
        ),
        Sentence("Speed range of {profile}.", profile=case.study.production.press.shown),
        Sentence("Ask again at {nearest}.", nearest=Fact(nearest, "rpm")),
        abs(np.log(case.speed / nearest)),
    )


@risk(without_fit=True)
def output_below_asked(case: TransferCase) -> Iterator[Risk]:
    """Fewer tablets an hour than the study asks for."""
    production, wanted = case.study.production, case.study.target.output
    made = production.output(case.speed)
    if wanted is None or made >= wanted:
        return
    needed, fastest = case.speed * wanted / made, production.press.profile.speed.max
    within = needed <= fastest
    yield Risk(
        "output-below-asked",
        "serious" if within else "severe",
        Sentence(
            "At {speed} the press makes {output}; the study asks for {target}.",
            speed=Fact(case.speed, "rpm"),
            output=Fact(made, "1/h"),
            target=Fact(wanted, "1/h"),
        ),
        Sentence(
            "That takes {needed:up}; {profile} goes up to {fastest}.",
            needed=Fact(needed, "rpm"),
            profile=production.press.shown,
            fastest=Fact(fastest, "rpm"),
        ),
        Sentence("Ask again at {needed:up} or faster.", needed=Fact(needed, "rpm"))
        if within
        else "Take a press with more stations, or ask for less.",
        wanted / made - 1.0,
    )


@risk(without_fit=True, standing=True)
def tooling_does_not_fit(case: TransferCase) -> Iterator[Risk]:
    """Tooling of a standard that the press does not take."""
    sides = (("lab", case.study.lab), ("production", case.study.production))
    for name, side in sides:
        accepted = side.press.profile.accepts
        standard = side.tooling.profile.standard
        if standard not in accepted:
            yield Risk(
                "tooling-does-not-fit",
                "severe" if name == "production" else "serious",
                Sentence(
                    "The {side} press takes tooling {accepted}; {tooling} is {standard}.",
                    side=name,
                    accepted=", ".join(accepted),
                    tooling=side.tooling.id,
                    standard=standard,
                    standards_accepted=len(accepted),
                ),
                Sentence(
                    "accepts in {press}, standard in {tooling_profile}.",
                    press=side.press.shown,
                    tooling_profile=side.tooling.shown,
                ),
                "Choose tooling that the press accepts, or correct the profile.",
                1.0,
                effect="stops" if name == "production" else "none",
            )


@risk(without_fit=True)
def different_tips(case: TransferCase) -> Iterator[Risk]:
    """Lab and production tips of different shape or size."""
    lab, made = case.study.lab.tooling.profile, case.study.production.tooling.profile
    same = lab.shape == made.shape and abs(made.tip_area / lab.tip_area - 1.0) < 0.02
    if same and abs(lab.cup_depth - made.cup_depth) < 0.05:
        return
    yield Risk(
        "tips-differ",
        "watch",
        Sentence(
            "Lab tablets are {lab_shape}, {lab_area:.1f} mm²; production tablets are {made_shape}, "
            "{made_area:.1f} mm².",
            lab_shape=lab.shape,
            lab_area=Fact(lab.tip_area, "mm²"),
            made_shape=made.shape,
            made_area=Fact(made.tip_area, "mm²"),
        ),
        "Pressure, solid fraction and tensile strength carry over; density inside a convex or "
        "elongated tablet is less even than in a flat one, which the law leaves out.",
        "Press a few lab tablets with tips of the production shape before the trial.",
        abs(float(np.log(made.tip_area / lab.tip_area))),
    )


@risk(without_fit=True)
def stated_disagrees(case: TransferCase) -> Iterator[Risk]:
    """A stated dwell time or velocity that the geometry of the profile does not give."""
    press, tooling = case.study.production.press, case.study.production.tooling.profile
    for item in disagreements(press.profile, tooling.head_edge_radius):
        yield Risk(
            "stated-value-disagrees",
            "serious",
            Sentence(
                "The stated {figure} of {press} is {stated:.4g} {unit}; its geometry gives "
                "{from_geometry:.4g} {unit}.",
                figure=item.what,
                press=press.id,
                stated=Fact(item.stated, item.unit),
                from_geometry=Fact(item.from_geometry, item.unit),
                unit=item.unit,
            ),
            Sentence(
                "{apart:%} apart in {profile}; {allowed:%} is allowed.",
                apart=item.share,
                profile=press.shown,
                allowed=DISAGREEMENT,
            ),
            "Measure pitch circle, roller and head flat, and correct the profile.",
            item.share,
        )


@risk(without_fit=True)
def profile_doubtful(case: TransferCase) -> Iterator[Risk]:
    """Values of a profile that are unusual, on which the answer rests."""
    sides = (case.study.lab, case.study.production)
    doubts_of = {side.press.shown: press_oddness(side.press.profile) for side in sides}
    doubts_of |= {side.tooling.shown: tooling_oddness(side.tooling.profile) for side in sides}
    for shown, doubts in doubts_of.items():
        if doubts:
            yield Risk(
                "profile-doubtful",
                "watch",
                Sentence(
                    "{profile} has what is unusual: {what}.",
                    profile=shown,
                    what="; ".join(doubts).removesuffix("."),
                    unusual_values=len(doubts),
                ),
                "Ranges of sense of the profile's keys (scaleup profiles ranges).",
                "Hold the profile against the data sheet and the drawing before anything is set.",
                float(len(doubts)),
            )


@risk(standing=True)
def fill_outside_ranges(case: TransferCase) -> Iterator[Risk]:
    """A fill depth that no fill cam of the press covers, or whose band no one cam covers."""
    ranges = case.study.production.press.profile.fill
    if case.process.filling is None or not ranges:
        return
    line, filling = case.process, case.process.filling
    asked = line.charge.weight, line.side.tip
    depth = filling.depth(*asked)
    value, low, high = depth.value or 0.0, depth.low, depth.high
    allowed = joined(
        ", ",
        (
            Sentence("{low:g} to {high:g}", low=Fact(each.min, "mm"), high=Fact(each.max, "mm"))
            for each in ranges
        ),
    )
    if not any(each.min <= value <= each.max for each in ranges):
        yield Risk(
            "fill-depth-outside-ranges",
            "severe",
            Sentence(
                "The tablet takes a fill depth of {depth:.1f} mm; the press covers {allowed} mm.",
                depth=Fact(value, "mm"),
                allowed=allowed,
            ),
            "Fill depth at the tip edge, from the fill density of the runs, weight, tip area and "
            "cup.",
            "Fit a fill cam that covers it, densify the powder, or choose larger tips.",
            1.0,
            effect="needs a change",
        )
        return
    if low is None or high is None:
        return
    if any(each.min <= low and high <= each.max for each in ranges):
        return
    covered = filling.within(ranges, *asked)
    yield Risk(
        "fill-depth-near-range-end",
        "serious" if covered < case.confidence else "watch",
        Sentence(
            "The fill depth may be {lowest:.1f} to {highest:.1f} mm; no one fill cam of the press "
            "covers that: they cover {allowed} mm, {covered:%} of what is expected.",
            lowest=Fact(low, "mm"),
            highest=Fact(high, "mm"),
            allowed=allowed,
            covered=covered,
        ),
        filling.told or "Scatter of the fill depths of the runs.",
        "Measure the fill depth in a few dies on the press before the trial, and have the next "
        "fill cam at hand.",
        1.0 - covered,
    )


@risk(without_fit=True)
def short_feed(case: TransferCase) -> Iterator[Risk]:
    """A die that is under the feeder for a short time."""
    arc = case.study.production.press.profile.feeder_arc
    if arc is None:
        return
    time = arc_time(arc, case.speed)
    if time >= SHORT_FEED:
        return
    yield Risk(
        "short-feed-time",
        "serious",
        Sentence(
            "A die is under the feeder for {time} at {speed}.",
            time=Fact(time, "s"),
            speed=Fact(case.speed, "rpm"),
        ),
        Sentence(
            "Feeder arc {arc:.0f}° of the turn; below {least} dies may not fill evenly (from "
            "memory).",
            arc=Fact(float(np.degrees(arc)), "°"),
            least=Fact(SHORT_FEED, "s"),
        ),
        "Watch weight variation while the speed is raised; consider a forced feeder or a slower "
        "turret.",
        SHORT_FEED / time - 1.0,
    )


@risk(without_fit=True, standing=True)
def precompression_share(case: TransferCase) -> Iterator[Risk]:
    """Precompression that is absent, outside the usual share, or so high that it adds dwell."""
    production = case.study.production
    share = production.precompression or 0.0
    if production.press.profile.pre_roller is None:
        if share > 0.0:
            yield Risk(
                "precompression-not-possible", "severe",
                Sentence(
                    "The study asks for {share:%} precompression; {press} has no precompression "
                    "roller.",
                    share=share,
                    press=production.press.id,
                ),
                Sentence("No pre_roller in {profile}.", profile=production.press.shown),
                "Remove it from the study or choose another press.", 1.0,
                effect="needs a change",
            )  # fmt: skip
        return
    if PRE_LOW <= share <= PRE_HIGH:
        return
    severity: Severity = "serious" if share >= PRE_ADDS else "watch"
    yield Risk(
        "precompression-share",
        severity,
        Sentence(
            "Precompression is {share:%} of the main force; {low:%} to {high:%} is usual to start "
            "with.",
            share=share,
            low=PRE_LOW,
            high=PRE_HIGH,
        ),
        "Common practice. Below the main force precompression adds next to nothing to "
        "densification; near it, it adds its whole dwell, which the figures include. That it lets "
        "air out is outside this law.",
        "Start within the usual share and raise it if tablets cap.",
        abs(share - PRE_LOW),
    )


@risk()
def rim_contact(case: TransferCase) -> Iterator[Risk]:
    """Powder that is met while the roller is still on the rim of the punch head."""
    head = case.production.tooling.profile.head_diameter
    if head is None:
        return
    here, rollers = case.at_lab_pressure, case.process.press
    contacts = [rollers.main] if rollers.pre is None else [rollers.main, rollers.pre]
    least = min(contact.rim_opening(head) for contact in contacts)
    if np.median(here.most_opening) + NEAR < least:
        return
    pulse = here.pulse
    met = [("main", rollers.main, pulse.entry_opening)]
    if pulse.pre_entry_opening is not None and rollers.pre is not None:
        met.append(("precompression", rollers.pre, pulse.pre_entry_opening))
    openings = [
        (float(np.median(open_by)), contact.rim_opening(head), name)
        for name, contact, open_by in met
    ]
    opening, allowed, name = max(openings, key=lambda each: each[0] / each[1])
    if opening <= allowed:
        return
    yield Risk(
        "contact-on-head-rim",
        "watch",
        Sentence(
            "The powder is met with the tips {opening} open, while the {roller} roller is still on "
            "the rim of the punch head.",
            opening=Fact(opening, "mm"),
            roller=name,
        ),
        Sentence(
            "With a head of {head} the computed path holds up to {allowed}.",
            head=Fact(head, "mm"),
            allowed=Fact(allowed, "mm"),
        ),
        "Check head diameter and edge radius; the start of the pulse is only approximate.",
        opening / allowed - 1.0,
    )


@risk()
def tips_meet(case: TransferCase) -> Iterator[Risk]:
    """Tips set so close that their lands would touch in an empty die, or even on the powder."""
    gaps = [
        (float(np.median(item.point.pulse.separation)), item.match, item.point.pulse)
        for item in case.dialled
        if item.point is not None and np.median(item.point.tip_separation) < NEAR
    ]
    if not gaps:
        return
    gap, match, pulse = min(gaps, key=lambda each: each[0])
    if gap > 0.0:
        return
    loaded = float(np.median(pulse.in_die))
    yield Risk(
        "tips-meet",
        "severe",
        Sentence(
            "The {match} match sets the tips {gap} apart: without powder they would meet.",
            match=match,
            gap=Fact(gap, "mm"),
        ),
        Sentence(
            "So little powder fits into the cups: the computed height of the wall is {loaded} "
            "under load."
            if loaded <= 0.0
            else "Under load they stay {loaded} apart; the difference is deflection, which an "
            "empty or badly filled die does not cause.",
            loaded=Fact(loaded, "mm"),
        ),
        "Do not turn the press with dies empty at this setting; press less, raise the weight or "
        "take shallower cups, and keep to the least separation the press and tooling allow.",
        -gap,
    )


@risk()
def lab_tips_meet(case: TransferCase) -> Iterator[Risk]:
    """Lab runs on a press that moves the tips, made at a separation that cannot be."""
    first = case.reference.runs[0]
    if first.run.press != "lab":
        return
    gap = float(np.median(case.lab_pulse.pulse.separation))
    if gap >= 0.0 or not moves_the_tips(first.side.press, first.setting):
        return
    lab = case.study.lab
    yield Risk(
        "lab-tips-meet",
        "serious",
        Sentence(
            "The lab tablets would have been pressed with the tips set {into} into each other.",
            into=Fact(-gap, "mm"),
        ),
        Sentence(
            "Thickness under load less the deflection that {press} and {tooling} give.",
            press=lab.press.shown,
            tooling=lab.tooling.shown,
        ),
        "Check stiffness, force and weight, with their units.",
        -gap,
    )


@risk(without_fit=True)
def deflection_unknown(case: TransferCase) -> Iterator[Risk]:
    """Press or punches whose give under load is not stated."""
    press, tooling = case.study.production.press, case.study.production.tooling
    missing = [] if press.profile.stiffness else [f"stiffness in {press.shown}"]
    if tooling.profile.modulus is None or tooling.profile.barrel_diameter is None:
        missing.append(f"barrel_diameter, punch_length and modulus in {tooling.shown}")
    if missing:
        yield Risk(
            "deflection-not-included",
            "watch",
            "The tip separation to set leaves out deflection that no profile states.",
            Sentence(
                "Missing: {missing}.",
                missing="; ".join(missing),
                profiles_lacking_figures=len(missing),
            ),
            "Set by force, not by separation, and add the missing figures.",
            float(len(missing)),
            about="deflection",
        )
