"""Profiles on a terminal: what matters to choose one, and what one press gives."""

from __future__ import annotations

from typing import TYPE_CHECKING, Any

from rich.box import SIMPLE_HEAD
from rich.console import Console
from rich.table import Table
from rich.text import Text

if TYPE_CHECKING:
    from scaleup.io.profile_files import ProfileRow
    from scaleup.model.press import PressProfile
    from scaleup.model.profile import NamedProfile
    from scaleup.model.tooling import ToolingProfile


WIDE = 110
"""Columns from which the names of profiles find room."""


def press_table(rows: tuple[ProfileRow, ...], width: int) -> Table:
    """Return the presses as their files have them, for a terminal so many columns wide."""
    headings = ("press", "kind", "tooling", "stations", "speed", "force", "pre", "name")
    return _table(*_fitted(headings, [_press_cells(row) for row in rows], width))


def tooling_table(rows: tuple[ProfileRow, ...], width: int) -> Table:
    """Return the tooling as its files have it, for a terminal so many columns wide."""
    headings = ("tooling", "shape", "standard", "size", "cup", "head flat", "tip rating", "name")
    return _table(*_fitted(headings, [_tooling_cells(row) for row in rows], width))


def _fitted(
    headings: tuple[str, ...], rows: list[list[str]], width: int
) -> tuple[tuple[str, ...], list[list[str]]]:
    """Return the table without its last column where there is no room, reasons kept."""
    if width >= WIDE:
        return headings, rows
    damaged = any(row[1] == "" for row in rows)
    return (headings, rows) if damaged else (headings[:-1], [row[:-1] for row in rows])


def _table(headings: tuple[str, ...], rows: list[list[str]]) -> Table:
    table = Table(box=SIMPLE_HEAD, padding=(0, 1, 0, 0), pad_edge=False, show_edge=False)
    for position, heading in enumerate(headings):
        table.add_column(heading, overflow="fold", no_wrap=position == 0)
    for row in rows:
        table.add_row(*[Text(cell) for cell in row])
    return table


def _press_cells(row: ProfileRow) -> list[str]:
    if row.reason:
        return [row.id, "", "", "", "", "", "", f"at fault: {row.reason}"]
    data = row.values
    speed = data.get("speed") or data.get("loading_rates") or {}
    rate = data.get("loading_rate") or _part(data, "pump", "force_per_stroke")
    turns = data.get("tablets_per_station_per_turn", 1)
    stations = str(data.get("stations", "")) + (f" ×{turns}" if turns != 1 else "")
    return [
        row.id,
        row.kind,
        _listed(data.get("accepts")),
        stations,
        _range(speed) or str(rate or ""),
        str(data.get("force_limit") or _part(data, "main_roller", "force_limit")),
        _part(data, "pre_roller", "force_limit") or "–",
        row.name,
    ]


def _tooling_cells(row: ProfileRow) -> list[str]:
    if row.reason:
        return [row.id, "", "", "", "", "", "", f"at fault: {row.reason}"]
    data = row.values
    size = str(data.get("diameter") or f"{data.get('length', '')} × {data.get('width', '')}")
    return [
        row.id,
        row.kind,
        str(data.get("standard", "")),
        size,
        str(data.get("cup_depth", "–")),
        str(data.get("head_flat", "–")),
        str(data.get("tip_force_rating", "not stated")),
        row.name,
    ]


def _listed(names: Any) -> str:
    return ", ".join(map(str, names)) if isinstance(names, list) else str(names or "")


def _part(data: dict[str, Any], table: str, key: str) -> str:
    part = data.get(table)
    return str(part.get(key, "")) if isinstance(part, dict) else ""


def _range(ends: Any) -> str:
    if not isinstance(ends, dict) or "min" not in ends:
        return ""
    low, _, unit = str(ends["min"]).partition(" ")
    high, _, other = str(ends.get("max", "")).partition(" ")
    return f"{low}–{high} {unit}" if unit == other else f"{ends['min']} to {ends.get('max')}"


def show_press(
    console: Console,
    press: NamedProfile[PressProfile],
    tooling: NamedProfile[ToolingProfile],
    speed: float | None,
    force: float,
) -> None:
    """Print what a press gives with tooling at a speed; the fastest if none is asked."""
    from scaleup.presses.profile_checks import press_doubts  # noqa: PLC0415
    from scaleup.presses.profile_figures import Asked, press_figures  # noqa: PLC0415
    from scaleup.wording import say  # noqa: PLC0415

    limits = getattr(press.profile, "speed", None)
    turret = speed if speed is not None else (limits.max if limits is not None else 1.0)
    figures = press_figures(press.profile, tooling.profile, Asked(turret, force))
    console.print(Text(f"{press.profile.name} ({press.id}, {press.profile.kind})", style="bold"))
    console.print(Text(press.profile.description))
    at = f" at {say(turret, 'rpm')}" if limits is not None else ""
    console.print(Text(f"with {tooling.profile.name} ({tooling.id}){at}"))
    table = _table(("figure", "value", "of"), [])
    for figure in figures:
        table.add_row(figure.label, say(figure.value, figure.unit, 4), Text(figure.note, "dim"))
    console.print(table)
    if limits is not None and not limits.min <= turret <= limits.max:
        allowed = f"{say(limits.min, 'rpm')} to {say(limits.max, 'rpm')}"
        console.print(Text(f"outside the speed range of the press, {allowed}", style="bold"))
    highest = getattr(press.profile, "force_limit", None)
    if limits is None and highest is not None and force > highest:
        console.print(Text(f"above the force limit of the press, {say(highest, 'N')}", "bold"))
    for doubt in press_doubts(press.profile, tooling.profile.head_edge_radius):
        console.print(Text(f"doubtful: {doubt}"))


def show_tooling(console: Console, tooling: NamedProfile[ToolingProfile]) -> None:
    """Print what a tip measures, as stated or derived, and what it may carry."""
    from scaleup.presses.profile_checks import tooling_doubts  # noqa: PLC0415
    from scaleup.wording import say  # noqa: PLC0415

    profile = tooling.profile
    console.print(Text(f"{profile.name} ({tooling.id}, {profile.shape})", style="bold"))
    console.print(Text(profile.description))
    axes = (
        [("width", profile.width, "mm"), ("length", profile.length, "mm")]
        if profile.elongated
        else [("diameter", profile.diameter, "mm")]
    )
    rating = profile.tip_force_rating
    most = None if rating is None else rating / profile.tip_area
    measures = [
        *axes,
        ("cup depth", profile.cup_depth, "mm"),
        ("cup volume", profile.cup_volume, "mm³"),
        ("tip area", profile.tip_area, "mm²"),
        ("perimeter", profile.perimeter, "mm"),
        ("rated tip force", rating, "N"),
        ("pressure at the rated force", most, "MPa"),
        ("head flat", profile.head_flat, "mm"),
        ("head edge radius", profile.head_edge_radius, "mm"),
        ("head diameter", profile.head_diameter, "mm"),
    ]
    table = _table(("figure", "value"), [])
    for label, value, unit in measures:
        table.add_row(label, "not stated" if value is None else say(value, unit, 4))
    console.print(table)
    for doubt in tooling_doubts(profile):
        console.print(Text(f"doubtful: {doubt}"))
