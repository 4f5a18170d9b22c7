"""What a notebook shows of each answer: its HTML, its main table, its picture."""

from __future__ import annotations

from collections.abc import Callable
from typing import TYPE_CHECKING, Any

from scaleup.answers.budget import BudgetAnswer
from scaleup.answers.comparison import Comparison
from scaleup.answers.imitation import Imitation
from scaleup.answers.judgement import Judgement
from scaleup.answers.speed import SpeedCheck
from scaleup.answers.translation import Translation
from scaleup.answers.trial.learning import Learned
from scaleup.answers.trial.plan import TrialPlan
from scaleup.answers.window import Window
from scaleup.calibration.fit import Fit
from scaleup.model.study import Study
from scaleup.show import html
from scaleup.show.budget import budget_drawn, budget_frame
from scaleup.show.comparison import comparison_frame
from scaleup.show.drawing import SIZE
from scaleup.show.estimates import estimate_html, estimate_text, quantity_of
from scaleup.show.frames import Frame
from scaleup.show.imitation import imitation_frame
from scaleup.show.judgement import judgement_frame
from scaleup.show.speed import speed_frame
from scaleup.show.study_tables import fit_frame, study_frame
from scaleup.show.terminal import translation_frame
from scaleup.show.trial_form import plan_frame
from scaleup.show.trial_learned import learned_frame
from scaleup.show.window import window_frame

if TYPE_CHECKING:
    from matplotlib.axes import Axes

__all__ = ["estimate_html", "estimate_text", "frame_of", "html_of", "plotted", "quantity_of"]


ANSWERS: dict[type, tuple[Callable[[Any], Frame], Callable[[Any], str]]] = {
    Translation: (translation_frame, html.translation_html),
    Judgement: (judgement_frame, html.judgement_html),
    BudgetAnswer: (budget_frame, html.budget_html),
    SpeedCheck: (speed_frame, html.speed_html),
    Comparison: (comparison_frame, html.comparison_html),
    Window: (window_frame, html.window_html),
    Imitation: (imitation_frame, html.imitation_html),
    TrialPlan: (plan_frame, html.plan_html),
    Learned: (learned_frame, html.learned_html),
    Fit: (fit_frame, html.fit_html),
    Study: (study_frame, html.study_html),
}
"""How each is shown: its table, its HTML."""


def frame_of(answer: object) -> Frame:
    """Return the main table of an answer."""
    return ANSWERS[type(answer)][0](answer)


def html_of(answer: object) -> str:
    """Return an answer as HTML."""
    return ANSWERS[type(answer)][1](answer)


def plotted(answer: Any, axes: Axes | None) -> Axes:
    """Return axes with the picture of an answer, new ones if none are given."""
    from scaleup.show import answer_pictures as pictures  # noqa: PLC0415  matplotlib is slow

    draw: dict[type, Any] = {
        Translation: pictures.translation_drawn,
        Judgement: pictures.judgement_drawn,
        BudgetAnswer: budget_drawn,
        SpeedCheck: pictures.speed_drawn,
        Comparison: pictures.comparison_drawn,
        Window: pictures.window_of_answer_drawn,
        Fit: pictures.fit_drawn,
    }
    if axes is None:
        from matplotlib import pyplot as plt  # noqa: PLC0415

        axes = plt.subplots(figsize=SIZE, layout="constrained")[1]
    draw[type(answer)](axes, answer)
    return axes
