"""Translates a tablet made on a single-station lab press into settings of a rotary press.

>>> import scaleup
>>> scaleup.__version__
'0.1.0'
"""

from __future__ import annotations

from importlib import import_module
from typing import TYPE_CHECKING, Any

if TYPE_CHECKING:
    from scaleup.errors import Fault, InputError
    from scaleup.evidence.fit import Fit, NoFit, fit
    from scaleup.files.library import find_press, find_tooling
    from scaleup.files.study import Study, read_study
    from scaleup.presses.press import Press, Setting, press_from
    from scaleup.transfer.comparison import compare
    from scaleup.transfer.imitation import imitate
    from scaleup.transfer.judgement import judge
    from scaleup.transfer.many import compare_many
    from scaleup.transfer.speed import check_speed
    from scaleup.transfer.translation import Translation, translate
    from scaleup.transfer.window import operating_window

__version__ = "0.1.0"

_HOMES = {
    "Fault": "scaleup.errors",
    "InputError": "scaleup.errors",
    "Fit": "scaleup.evidence.fit",
    "NoFit": "scaleup.evidence.fit",
    "fit": "scaleup.evidence.fit",
    "find_press": "scaleup.files.library",
    "find_tooling": "scaleup.files.library",
    "Study": "scaleup.files.study",
    "read_study": "scaleup.files.study",
    "Press": "scaleup.presses.press",
    "Setting": "scaleup.presses.press",
    "press_from": "scaleup.presses.press",
    "check_speed": "scaleup.transfer.speed",
    "compare": "scaleup.transfer.comparison",
    "compare_many": "scaleup.transfer.many",
    "imitate": "scaleup.transfer.imitation",
    "judge": "scaleup.transfer.judgement",
    "operating_window": "scaleup.transfer.window",
    "Translation": "scaleup.transfer.translation",
    "translate": "scaleup.transfer.translation",
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
