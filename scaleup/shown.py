"""How answers and estimates show themselves in a Python session.

This is the one place where what computes asks for what shows: `scaleup.show` is imported when a
notebook wants to see something, and not before.
"""

from __future__ import annotations

from typing import TYPE_CHECKING

if TYPE_CHECKING:
    from types import ModuleType

    from matplotlib.axes import Axes
    from pandas import DataFrame


class Shown:
    """Something that a notebook shows, and whose main table can be had as a DataFrame."""

    def _repr_html_(self) -> str:
        return str(notebook().html_of(self))

    def to_frame(self) -> DataFrame:
        """Return the main table, one row for each thing, as `--csv` writes it.

        Figures are in core units (mm, N, MPa, s, mg, rpm), the unit in the column's name or in the
        column `unit`; what is not known is missing.
        """
        frame: DataFrame = notebook().frame_of(self).pandas()
        return frame


class Drawn(Shown):
    """Something that can be drawn as well."""

    def plot(self, ax: Axes | None = None) -> Axes:
        """Return matplotlib axes with the picture: those given, or new ones."""
        axes: Axes = notebook().plotted(self, ax)
        return axes


def notebook() -> ModuleType:
    """Return what shows answers in a notebook, loaded when it is asked for."""
    import scaleup.show.notebook as shows  # noqa: PLC0415

    return shows
