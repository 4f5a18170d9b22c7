"""What a finding, a gap or a value taken for granted is about, so that a screen tells it once."""

from __future__ import annotations

from typing import Literal

About = Literal[
    "",
    "tip rating",
    "ejection limit",
    "ejection measured",
    "feeder arc",
    "feeder on strength",
    "deflection",
    "hold",
    "loading rate",
    "rate exponent",
    "strength measured",
    "strength target",
    "fill depth",
    "elastic part",
]
"""One word for each input that may be lacking; empty for what nothing else tells."""
