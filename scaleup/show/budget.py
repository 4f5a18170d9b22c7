"""What the bands are made of: on a terminal, as JSON, as a table and as a picture."""

from __future__ import annotations

from typing import TYPE_CHECKING, Any

from rich.console import Console
from rich.text import Text

from scaleup.answers.budget import BudgetAnswer, BudgetRow
from scaleup.answers.experiments import Experiment, ruled_out
from scaleup.show.drawing import COLOURS, dress
from scaleup.show.frames import Frame
from scaleup.show.json_form import budget_rows, header, quantity_form
from scaleup.show.listing import Listing, figures, words
from scaleup.show.parts import caution, confidence_line, fit_line, press_line, title, told
from scaleup.transfer.budget import FigureName
from scaleup.wording import percent, say

if TYPE_CHECKING:
    from matplotlib.axes import Axes

BUDGET_FORMAT = "scaleup budget 1"
HEADINGS = (
    "figure", "term", "evidence", "share", "shrink_by", "shrink_narrower", "shrink_time [s]",
)  # fmt: skip
TOLD = 0.005
"""Share below which a term is told together with the others that take next to nothing."""
NAMES: dict[FigureName, str] = {
    "strength": "strength in production at the lab's pressure",
    "solid fraction": "solid fraction in production at the lab's pressure",
    "needed force": "force needed in production",
}
EXPLAINED = (
    "share: how much of the variance of the figure's logarithm would go if this term alone were "
    "known; shares overlap, so that their sum may differ from 100 %"
)


def show_budget(console: Console, budget: BudgetAnswer) -> None:
    """Print what each band is made of, and everything that could be measured next."""
    lab, production = budget.study.lab, budget.study.production
    console.print(
        title(
            budget.study,
            f"from {lab.press.profile.name} ({lab.press.id}, {lab.tooling.id})",
            f"to {press_line(production)} at {say(production.speed, 'rpm')}; "
            f"{confidence_line(budget.confidence)}",
        )
    )
    console.print(fit_line(budget.fit))
    for figure in budget.figures:
        console.print()
        console.print(figure_listing(budget, figure).rich())
        console.print(Text(_rest(budget, figure), style="dim"))
    if budget.rows:
        console.print()
        console.print(terms_listing(budget).rich())
    if budget.experiments:
        console.print()
        console.print(experiments_listing(budget.experiments).rich())
    for each in ruled_out(budget.study):
        console.print(Text(f"not possible here, as the study states: {each}", style="dim"))
    if budget.rows:
        console.print()
        console.print(Text(EXPLAINED, style="dim"))
    console.print(caution(budget.caution))


def figure_listing(budget: BudgetAnswer, figure: FigureName) -> Listing:
    """Return what the band of one figure is made of, the largest share first."""
    rows = [_cells(row) for row in budget.of(figure) if row.share >= TOLD]
    heading = f"{NAMES[figure]}: {told(budget.figures[figure])}"
    heads = (
        *words("term", "evidence"), *figures("share"), *words("cheapest thing that shrinks it"),
        *figures("band"),
    )  # fmt: skip
    return Listing(heads, rows, heading)


def _cells(row: BudgetRow) -> tuple[str, ...]:
    if row.shrink is None:
        return row.label, row.evidence, percent(row.share), NOTHING.get(row.term, "none"), ""
    what = row.shrink.experiment
    return (
        row.label,
        row.evidence,
        percent(row.share),
        f"{what.told} ({what.cost.told})",
        f"{percent(row.shrink.narrower)} narrower",
    )


BARS = ((COLOURS[0], COLOURS[0]), (COLOURS[1], COLOURS[1]), ("white", "black"))
"""Fill and edge of the bars of each figure; the third is told apart without a colour."""
NOTHING = {
    "lot": "none: it is the spread of the batches themselves",
    "exponent": "lab runs, if any does: see scaleup judge",
    "curvature": "lab runs, if any does: see scaleup judge",
}
"""What is said where no experiment shrinks a term."""


def terms_listing(budget: BudgetAnswer) -> Listing:
    """Return what every term is taken to be, and on what grounds."""
    told_once = {row.label: str(row.told) for row in budget.rows}
    told_once |= {term.label: str(term.told) for term in budget.without}
    heads = words("term", "taken to be, and why")
    return Listing(heads, list(told_once.items()), "what each term rests on")


def _rest(budget: BudgetAnswer, figure: FigureName) -> str:
    small = [row.label for row in budget.of(figure) if row.share < TOLD]
    rest = f"; below {percent(TOLD)} each: {', '.join(small)}" if small else ""
    return f"sum {100.0 * budget.total(figure):.0f} %{rest}"


def experiments_listing(experiments: tuple[Experiment, ...]) -> Listing:
    """Return everything that could be measured next, the worthiest first."""
    rows = [
        (
            str(each.told),
            each.cost.told,
            *(_narrower(each, name) for name in ("strength", "solid fraction", "needed force")),
        )
        for each in experiments
    ]
    heads = (*words("experiment", "cost"), *figures("strength", "solid fraction", "force"))
    return Listing(heads, rows, "what could be measured next, and by how much each band narrows")


def _narrower(each: Experiment, figure: FigureName) -> str:
    share = each.narrower.get(figure)
    if share is None:
        return "not predicted"
    return percent(share) if share >= TOLD else "no narrower"


def budget_form(budget: BudgetAnswer) -> dict[str, Any]:
    """Return the budget as plain lists and dictionaries."""
    return header(budget.study, BUDGET_FORMAT, budget.drawing.seed) | {
        "draws": budget.drawing.draws,
        "confidence": budget.confidence,
        "figures": {name: quantity_form(each) for name, each in budget.figures.items()},
        "budget": budget_rows(budget),
        "experiments": [experiment_form(each) for each in budget.experiments],
        "off": [term.name for term in budget.without if term.grade == "off"],
        "cancels": [term.name for term in budget.without if term.grade == "cancels"],
        "caution": budget.caution,
    }


def experiment_form(each: Experiment) -> dict[str, Any]:
    """Return one experiment with what it costs and narrows."""
    cost = each.cost
    return {
        "name": each.name,
        "told": each.told,
        "terms": list(each.left),
        "narrower": dict(each.narrower),
        "tablets": cost.tablets,
        "powder_mg": cost.powder,
        "time_s": cost.time,
    }


def budget_frame(budget: BudgetAnswer) -> Frame:
    """Return one line for each term of each figure."""
    rows = [
        (
            row.figure,
            row.term,
            row.evidence,
            row.share,
            None if row.shrink is None else row.shrink.experiment.name,
            None if row.shrink is None else row.shrink.narrower,
            None if row.shrink is None else row.shrink.experiment.time,
        )
        for row in budget.rows
    ]
    return Frame.of(HEADINGS, rows)


def bars_drawn(axes: Axes, budget: BudgetAnswer) -> str:
    """Draw the share of every term, one bar for each figure, and return what is seen."""
    order = list(dict.fromkeys(row.label for row in budget.rows if row.share >= TOLD))[::-1]
    height = 0.8 / max(len(budget.figures), 1)
    for number, figure in enumerate(budget.figures):
        shares = {row.label: row.share for row in budget.of(figure)}
        places = [at + height * (1 - number) for at in range(len(order))]
        widths = [max(shares.get(label, 0.0), 0.0) * 100.0 for label in order]
        fill, edge = BARS[number]
        axes.barh(places, widths, 0.9 * height, color=fill, edgecolor=edge, label=figure)
    axes.set_yticks(range(len(order)), order)
    axes.set_xlabel("share of the variance of the band, %")
    largest = [budget.of(figure)[0] for figure in budget.figures]
    told = (f"{row.label} takes {percent(row.share)} of that of {row.figure}" for row in largest)
    return f"What takes most of each band: {'; '.join(told)}."


def budget_drawn(axes: Axes, budget: BudgetAnswer) -> None:
    """Draw the same with its title, for a notebook."""
    bars_drawn(axes, budget)
    dress(axes, f"{budget.study.name}: what the bands are made of")
