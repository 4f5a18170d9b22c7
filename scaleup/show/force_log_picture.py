"""The compressions of a force log as one picture: laid over each other, and peak after peak."""

from __future__ import annotations

from collections.abc import Sequence
from typing import TYPE_CHECKING

import numpy as np

from scaleup.answers.force_log import ForceLogAnswer
from scaleup.show.drawing import COLOURS, DASHES, MARKS, drawn

if TYPE_CHECKING:
    from matplotlib.axes import Axes


def record_picture(record: ForceLogAnswer, form: str) -> bytes:
    """Return the picture of a log as SVG or PNG."""
    titles = (f"the first {len(record.shapes)} compressions", "every peak")
    return drawn("record", form, titles, lambda every: _draw(every, record))[0]


def _draw(every: Sequence[Axes], record: ForceLogAnswer) -> str:
    left, right = every
    for shape in record.shapes:
        begin = shape.time[int((shape.force > 0.05 * shape.force.max()).argmax())]
        left.plot((shape.time - begin) * 1e3, shape.force / 1e3, DASHES[0], color=COLOURS[0],
                  alpha=0.5, linewidth=0.8)  # fmt: skip
    left.set_xlabel("time from 5 % of the peak, ms")
    left.set_ylabel("force, kN")
    small, pulses = record.pattern.precompression, record.pulses
    for number, (name, chosen) in enumerate((("main", ~small), ("precompression", small))):
        known = chosen & ~np.isnan(pulses.peak)
        if known.any():
            right.plot(pulses.moment[known], pulses.peak[known] / 1e3, MARKS[number],
                       color=COLOURS[number], markersize=3, label=name)  # fmt: skip
    right.set_xlabel("time, s")
    right.set_ylabel("peak force, kN")
    right.set_ylim(bottom=0.0)
    return f"{pulses.count} compressions"
