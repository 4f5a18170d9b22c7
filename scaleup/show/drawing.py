"""How every picture looks: sizes, colours, dashes and marks, and how it is saved.

Lines differ in dashes and marks as well as in colour; the colours are two of Okabe and Ito's.
"""

from __future__ import annotations

import io
from collections.abc import Callable, Sequence
from typing import TYPE_CHECKING

if TYPE_CHECKING:
    from matplotlib.axes import Axes

SIZE = (6.4, 3.8)
WIDE = (9.6, 3.8)
COLOURS = ("#0072B2", "#D55E00")
DASHES = ("-", "--")
MARKS = ("o", "^")
METADATA: dict[str, dict[str, str | None]] = {
    "svg": {"Date": None, "Creator": "scaleup"},
    "png": {"Software": "scaleup"},
}


def drawn(
    name: str, form: str, titles: Sequence[str], draw: Callable[[Sequence[Axes]], str]
) -> tuple[bytes, str]:
    """Return a picture as SVG (its texts kept as texts) or PNG, and what `draw` returned.

    Parameters
    ----------
    name
        Makes the names inside an SVG repeatable.
    form
        "svg" or "png".
    titles
        One for each of the axes, side by side.
    draw
        Draws into the axes and returns the text for those who do not see the picture.
    """
    import matplotlib as mpl  # noqa: PLC0415  start-up stays quick
    from matplotlib.figure import Figure  # noqa: PLC0415

    with mpl.rc_context({"svg.fonttype": "none", "svg.hashsalt": name, "font.size": 9}):
        figure = Figure(figsize=SIZE if len(titles) == 1 else WIDE, layout="constrained", dpi=160)
        every = [figure.add_subplot(1, len(titles), place + 1) for place in range(len(titles))]
        told = draw(every)
        for axes, title in zip(every, titles, strict=True):
            dress(axes, title)
        out = io.BytesIO()
        figure.savefig(out, format=form, metadata=METADATA[form])
    return out.getvalue(), told


def dress(axes: Axes, title: str) -> None:
    """Give axes that are drawn their title, grid and legend."""
    axes.set_title(title, fontsize=10)
    axes.grid(visible=True, linewidth=0.3)
    if axes.get_legend_handles_labels()[0]:
        axes.legend(fontsize=8, facecolor="white", edgecolor="none", framealpha=1.0)
    for edge in ("top", "right"):
        axes.spines[edge].set_visible(False)
