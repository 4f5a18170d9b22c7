"""Translates a tablet made on a single-station lab press into settings of a rotary press.

>>> import scaleup
>>> scaleup.__version__
'0.4.0'
"""

from __future__ import annotations

from importlib import import_module
from typing import TYPE_CHECKING, Any

if TYPE_CHECKING:
    from scaleup import equations
    from scaleup.answers.analysis import Analysis
    from scaleup.answers.budget import BudgetAnswer
    from scaleup.answers.comparison import Comparison
    from scaleup.answers.functions import (
        check_speed,
        compare,
        imitate,
        judge,
        learn,
        operating_window,
        plan_trial,
        translate,
    )
    from scaleup.answers.imitation import Imitation
    from scaleup.answers.judgement import Judgement
    from scaleup.answers.many import ManyRow, compare_many
    from scaleup.answers.press_from_record import (
        PressFromRecord,
        StatedOfPress,
        press_from_record,
    )
    from scaleup.answers.speed import SpeedCheck
    from scaleup.answers.translation import Translation
    from scaleup.answers.trial.learning import Learned
    from scaleup.answers.trial.options import TrialOptions
    from scaleup.answers.trial.plan import TrialPlan
    from scaleup.answers.window import Window
    from scaleup.calibration.fit import Fit, NoFit, fit
    from scaleup.errors import Fault, InputError
    from scaleup.io.library import find_press, find_tooling
    from scaleup.io.made_study import study_from
    from scaleup.io.study import read_study
    from scaleup.io.trial_sheet.reading import read_trial_sheet
    from scaleup.model.blend import Blend, Component
    from scaleup.model.estimate import Estimate
    from scaleup.model.press import (
        EccentricProfile,
        HydraulicProfile,
        MainRoller,
        PreRoller,
        RecordedProfile,
        RotaryProfile,
    )
    from scaleup.model.ranges import Range
    from scaleup.model.run import Run
    from scaleup.model.study import Study
    from scaleup.model.target import Target
    from scaleup.model.tooling import ToolingProfile
    from scaleup.model.transfer_terms import Blending, TransferTerms
    from scaleup.presses.press import Press, Setting, press_from

__version__ = "0.4.0"

_HOMES = {
    "answers.analysis": ("Analysis",),
    "answers.budget": ("BudgetAnswer",),
    "answers.comparison": ("Comparison",),
    "answers.functions": (
        "check_speed",
        "compare",
        "imitate",
        "judge",
        "learn",
        "operating_window",
        "plan_trial",
        "translate",
    ),
    "answers.imitation": ("Imitation",),
    "answers.judgement": ("Judgement",),
    "answers.many": ("ManyRow", "compare_many"),
    "answers.press_from_record": ("PressFromRecord", "StatedOfPress", "press_from_record"),
    "answers.speed": ("SpeedCheck",),
    "answers.translation": ("Translation",),
    "answers.trial.learning": ("Learned",),
    "answers.trial.options": ("TrialOptions",),
    "answers.trial.plan": ("TrialPlan",),
    "answers.window": ("Window",),
    "calibration.fit": ("Fit", "NoFit", "fit"),
    "errors": ("Fault", "InputError"),
    "io.library": ("find_press", "find_tooling"),
    "io.made_study": ("study_from",),
    "io.study": ("read_study",),
    "io.trial_sheet.reading": ("read_trial_sheet",),
    "model.estimate": ("Estimate",),
    "model.blend": ("Blend", "Component"),
    "model.press": (
        "EccentricProfile",
        "HydraulicProfile",
        "MainRoller",
        "PreRoller",
        "RecordedProfile",
        "RotaryProfile",
    ),
    "model.ranges": ("Range",),
    "model.run": ("Run",),
    "model.study": ("Study",),
    "model.target": ("Target",),
    "model.tooling": ("ToolingProfile",),
    "model.transfer_terms": ("Blending", "TransferTerms"),
    "presses.press": ("Press", "Setting", "press_from"),
}
_HOME = {name: f"scaleup.{home}" for home, names in _HOMES.items() for name in names}
"""Where each public name lives; it is loaded when first asked for, so that start-up stays quick."""

__all__ = [
    "Analysis",
    "Blend",
    "Blending",
    "BudgetAnswer",
    "Comparison",
    "Component",
    "EccentricProfile",
    "Estimate",
    "Fault",
    "Fit",
    "HydraulicProfile",
    "Imitation",
    "InputError",
    "Judgement",
    "Learned",
    "MainRoller",
    "ManyRow",
    "NoFit",
    "PreRoller",
    "Press",
    "PressFromRecord",
    "Range",
    "RecordedProfile",
    "RotaryProfile",
    "Run",
    "Setting",
    "SpeedCheck",
    "StatedOfPress",
    "Study",
    "Target",
    "ToolingProfile",
    "TransferTerms",
    "Translation",
    "TrialOptions",
    "TrialPlan",
    "Window",
    "__version__",
    "check_speed",
    "compare",
    "compare_many",
    "equations",
    "find_press",
    "find_tooling",
    "fit",
    "imitate",
    "judge",
    "learn",
    "operating_window",
    "plan_trial",
    "press_from",
    "press_from_record",
    "read_study",
    "read_trial_sheet",
    "study_from",
    "translate",
]


def __getattr__(name: str) -> Any:
    if name == "equations":
        return import_module("scaleup.equations")
    if name in _HOME:
        return getattr(import_module(_HOME[name]), name)
    raise AttributeError(f"module 'scaleup' has no attribute {name!r}")


def __dir__() -> list[str]:
    return __all__
