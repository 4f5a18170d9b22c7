"""Translates a tablet made on a single-station lab press into settings of a rotary press.

>>> import scaleup
>>> scaleup.__version__
'0.1.0'
"""

from __future__ import annotations

from importlib import import_module
from typing import TYPE_CHECKING, Any

if TYPE_CHECKING:
    from scaleup.answers.comparison import compare
    from scaleup.answers.imitation import imitate
    from scaleup.answers.judgement import judge
    from scaleup.answers.many import compare_many
    from scaleup.answers.speed import check_speed
    from scaleup.answers.translation import Translation, translate
    from scaleup.answers.window import operating_window
    from scaleup.calibration.fit import Fit, NoFit, fit
    from scaleup.errors import Fault, InputError
    from scaleup.io.library import find_press, find_tooling
    from scaleup.io.study import read_study
    from scaleup.model.study import Study
    from scaleup.presses.press import Press, Setting, press_from

__version__ = "0.1.0"

_HOMES = {
    "Fault": "scaleup.errors",
    "InputError": "scaleup.errors",
    "Fit": "scaleup.calibration.fit",
    "NoFit": "scaleup.calibration.fit",
    "fit": "scaleup.calibration.fit",
    "find_press": "scaleup.io.library",
    "find_tooling": "scaleup.io.library",
    "Study": "scaleup.io.study",
    "read_study": "scaleup.io.study",
    "Press": "scaleup.presses.press",
    "Setting": "scaleup.presses.press",
    "press_from": "scaleup.presses.press",
    "check_speed": "scaleup.answers.speed",
    "compare": "scaleup.answers.comparison",
    "compare_many": "scaleup.answers.many",
    "imitate": "scaleup.answers.imitation",
    "judge": "scaleup.answers.judgement",
    "operating_window": "scaleup.answers.window",
    "Translation": "scaleup.answers.translation",
    "translate": "scaleup.answers.translation",
}
"""Where each public name lives; it is loaded when first asked for, so that start-up stays quick."""

__all__ = [
    "Fault",
    "Fit",
    "InputError",
    "NoFit",
    "Press",
    "Setting",
    "Study",
    "Translation",
    "__version__",
    "check_speed",
    "compare",
    "compare_many",
    "find_press",
    "find_tooling",
    "fit",
    "imitate",
    "judge",
    "operating_window",
    "press_from",
    "read_study",
    "translate",
]


def __getattr__(name: str) -> Any:
    if name in _HOMES:
        return getattr(import_module(_HOMES[name]), name)
    raise AttributeError(f"module 'scaleup' has no attribute {name!r}")
