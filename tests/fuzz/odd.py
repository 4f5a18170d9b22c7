"""Ways to make a table or a profile odd that leave most of them readable."""

from __future__ import annotations

import csv
import io
import math
import random
import re
from collections.abc import Callable

Rows = list[list[str]]

NAMES = (
    "<script>alert(1)</script>", "<b onload=x>", "[red]x[/red]", "a & b \"c\" 'd'", "=1+1", "Ω½–²",
    "x" * 110, "]]>", "{}", "%s %d", "\\", "$a_b^c$", "-", "[/]", "名前",
)  # fmt: skip
"""Names that are text and nothing else, wherever they are shown."""

UNITS = {
    "kN": (("N", 1e3), ("kgf", 101.97), ("MN", 1e-3)), "N": (("kN", 1e-3), ("kgf", 0.10197)),
    "mg": (("g", 1e-3), ("kg", 1e-6)), "g": (("mg", 1e3),), "s": (("ms", 1e3), ("min", 1 / 60)),
    "mm": (("cm", 0.1), ("in", 1 / 25.4), ("um", 1e3)), "rpm": (("1/min", 1.0), ("Hz", 1 / 60)),
    "MPa": (("kPa", 1e3), ("bar", 10.0)),
}  # fmt: skip
"""Unit: others, and how many of each it is."""


def factor(rng: random.Random) -> float:
    """Return a factor: mostly near one, at times far from it."""
    spread = rng.choice((0.02, 0.1, 0.1, 0.5, 2.3))
    return math.exp(rng.uniform(-spread, spread))


def odd_csv(text: str, rng: random.Random) -> str:
    """Return a table with one to four odd things about it, its notes left out."""
    lines = [line for line in text.splitlines() if line and not line.startswith("#")]
    rows = list(csv.reader(lines))
    for _ in range(rng.choice((1, 1, 2, 2, 3, 4))):
        rng.choice(TABLE_WAYS)(rows, rng)
    out = io.StringIO()
    csv.writer(out, lineterminator="\n").writerows(rows)
    return out.getvalue()


def apart(text: str) -> str:
    """Return a table whose rows each have their own name; the first of a name keeps it.

    What was made odd about one row then contradicts no other row of the same name. The table has
    no notes.
    """
    rows = list(csv.reader(io.StringIO(text)))
    seen: dict[str, int] = {}
    for row in rows[1:]:
        seen[row[0]] = seen.get(row[0], 0) + 1
        row[0] += f"-{seen[row[0]]}" if seen[row[0]] > 1 else ""
    out = io.StringIO()
    csv.writer(out, lineterminator="\n").writerows(rows)
    return out.getvalue()


def numbers(rows: Rows) -> list[int]:
    """Return the columns with a unit."""
    return [place for place, name in enumerate(rows[0]) if "[" in name]


def _each(rows: Rows, place: int, change: Callable[[float], float]) -> None:
    for row in rows[1:]:
        try:
            value = change(float(row[place]))
        except (ValueError, OverflowError):
            continue
        row[place] = f"{value:.5g}"


def _scaled(rows: Rows, rng: random.Random) -> None:
    by = factor(rng)
    _each(rows, rng.choice(numbers(rows)), lambda value: value * by)


def _one_cell(rows: Rows, rng: random.Random) -> None:
    row = rng.choice(rows[1:])
    _each([rows[0], row], rng.choice(numbers(rows)), lambda value: value * factor(rng))


def _scattered(rows: Rows, rng: random.Random) -> None:
    spread = rng.choice((0.003, 0.01, 0.03, 0.1, 0.3))
    change = lambda value: value * math.exp(rng.gauss(0.0, spread))  # noqa: E731
    _each(rows, rng.choice(numbers(rows)), change)


def _few(rows: Rows, rng: random.Random) -> None:
    kept = rng.sample(rows[1:], rng.randint(1, len(rows) - 1))
    rows[1:] = kept if rng.random() < 0.3 else [row for row in rows[1:] if row in kept]


def _constant(rows: Rows, rng: random.Random) -> None:
    place, row = rng.choice(numbers(rows)), rng.choice(rows[1:])
    for each in rows[1:]:
        each[place] = row[place]


def _no_column(rows: Rows, rng: random.Random) -> None:
    places = numbers(rows)
    if len(places) > 1:
        place = rng.choice(places[1:])
        rows[:] = [row[:place] + row[place + 1 :] for row in rows]


def _blank(rows: Rows, rng: random.Random) -> None:
    place, share = rng.choice(numbers(rows)), rng.random()
    for row in rows[1:]:
        if rng.random() < share:
            row[place] = ""


def _reversed(rows: Rows, rng: random.Random) -> None:
    place = rng.choice(numbers(rows))
    for row, value in zip(rows[1:], [row[place] for row in reversed(rows[1:])], strict=True):
        row[place] = value


def _named(rows: Rows, rng: random.Random) -> None:
    old, new = rng.choice(rows[1:])[0], rng.choice((*NAMES, rng.choice(rows[1:])[0]))
    for row in rows[1:]:
        if row[0] == old:
            row[0] = new


def _all_alike(rows: Rows, rng: random.Random) -> None:
    apart = rng.random() < 0.5
    for number, row in enumerate(rows[1:]):
        row[0] = f"R{number}" if apart else rows[1][0]


def _same_row(rows: Rows, rng: random.Random) -> None:
    rows[1:] = [list(rng.choice(rows[1:])) for _ in range(rng.choice((2, 5, 40)))]


def _value(rows: Rows, rng: random.Random) -> None:
    place = rng.choice(numbers(rows))
    value = rng.choice(("0", "-1", "1e-3", "1e6", "0.5", "100", "60", "3600"))
    for row in [rng.choice(rows[1:])] if rng.random() < 0.6 else rows[1:]:
        row[place] = value


def _unit(rows: Rows, rng: random.Random) -> None:
    """Write a column in another unit, its values mostly turned into it."""
    place = rng.choice(numbers(rows))
    name, _, old = rows[0][place].removesuffix("]").partition(" [")
    new, by = rng.choice(UNITS.get(old, ((old, 1.0),)))
    rows[0][place] = f"{name} [{new}]"
    if rng.random() < 0.8:
        _each(rows, place, lambda value: value * by)


def _pushed(rows: Rows, rng: random.Random) -> None:
    """Make force, and what follows from it, far larger or smaller together."""
    by = factor(rng) ** 2
    for place in numbers(rows):
        if "force" in rows[0][place]:
            _each(rows, place, lambda value: value * by)


def _tilted(rows: Rows, rng: random.Random) -> None:
    place, by = rng.choice(numbers(rows)), rng.uniform(-0.05, 0.05)
    for number, row in enumerate(rows[1:]):
        _each([rows[0], row], place, lambda value, at=number: value * math.exp(by * at))  # type: ignore[misc]


TABLE_WAYS = (
    _scaled, _scaled, _one_cell, _scattered, _scattered, _few, _few, _constant, _no_column, _blank,
    _reversed, _named, _all_alike, _same_row, _value, _unit, _pushed, _tilted,
)  # fmt: skip

QUANTITY = re.compile(r'"(-?\d[\d.]*) ([^"\n]+)"')
SWAPS = (
    ('"lab-hydraulic"', '"lab-hand-pump"'), ('"lab-hydraulic"', '"lab-eccentric"'),
    ('"rotary-mid-19"', '"rotary-stated-17"'), ('"rotary-mid-19"', '"rotary-large-23"'),
    ('"rotary-mid-19"', '"rotary-pilot-7"'), ('"rotary-mid-19"', '"rotary-double-53"'),
    ('"rotary-single-31"', '"rotary-stated-17"'), ('"b-flat-10"', '"b-convex-10"'),
    ('"b-flat-10"', '"d-flat-16"'), ('"b-flat-10"', '"d-elongated-19"'),
    ('"lab-flat-10"', '"lab-convex-10"'), ('"forced"', '"gravity"'),
    ("[target]\n", '[target]\noutput = "50000 tablets/h"\n'),
    ("[target]\n", '[target]\noutput = "500 tablets/h"\n'),
    ("[blend]\n", '[blend]\nhardening = "heckel"\n'),
    ("[blend]\n", '[blend]\nhardening = "kuentz-leuenberger"\n'),
    ("[blend]\n", '[blend]\nhardening = "kawakita"\n'),
)  # fmt: skip
"""What a study or a profile says: what else it may say there."""


def odd_toml(text: str, rng: random.Random) -> str:
    """Return a study or a profile with one to three odd things about it."""
    for _ in range(rng.choice((1, 1, 2, 3))):
        text = rng.choice(PROFILE_WAYS)(text, rng)
    return text


def _quantity(text: str, rng: random.Random) -> str:
    found = list(QUANTITY.finditer(text))
    if not found:
        return text
    each = rng.choice(found)
    value, unit = float(each[1]) * factor(rng), each[2]
    if rng.random() < 0.1:
        unit, by = rng.choice(UNITS.get(unit, ((unit, 1.0),)))
        value *= by
    return f'{text[: each.start()]}"{value:.5g} {unit}"{text[each.end() :]}'


def _no_line(text: str, rng: random.Random) -> str:
    lines = text.splitlines(keepends=True)
    places = [place for place, line in enumerate(lines) if "=" in line]
    del lines[rng.choice(places)]
    return "".join(lines)


def _swapped(text: str, rng: random.Random) -> str:
    old, new = rng.choice([pair for pair in SWAPS if pair[0] in text] or SWAPS)
    return text.replace(old, new)


def _renamed(text: str, rng: random.Random) -> str:
    name = rng.choice(NAMES)
    key = rng.choice(("name", "description", "reference"))
    return re.sub(rf'(?m)^{key} = ".*"', lambda _: f"{key} = '''{name}'''", text, count=1)


PROFILE_WAYS = (*[_quantity] * 6, _no_line, _swapped, _swapped, _swapped, _renamed)
