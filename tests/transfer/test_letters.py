"""Every limit has a letter of its own, whatever the study."""

from __future__ import annotations

import ast
from pathlib import Path

from scaleup.transfer import limits
from scaleup.transfer.limits import LETTERS


def codes_in_source() -> set[str]:
    """Return every code in the module: the text that begins a limit or a row of limits."""
    tree = ast.parse(Path(limits.__file__).read_text(encoding="utf-8"))
    found = set()
    for node in ast.walk(tree):
        first: ast.expr | None = None
        if isinstance(node, ast.Call) and getattr(node.func, "id", "") == "Limit":
            first = node.args[0]
        elif isinstance(node, ast.Tuple) and len(node.elts) == 4:
            first = node.elts[0]
        if isinstance(first, ast.Constant) and isinstance(first.value, str):
            found.add(first.value)
    return found


def test_every_limit_of_the_module_has_a_letter() -> None:
    codes = codes_in_source()
    assert {"main-roller", "ejection-force", "strength", "feed-time", "output"} <= codes
    assert codes <= set(LETTERS)


def test_no_letter_stands_for_two_limits_or_for_a_mark() -> None:
    assert len(set(LETTERS.values())) == len(LETTERS)
    assert all(len(each) == 1 and each.isalpha() and each.isupper() for each in LETTERS.values())
    assert "X" not in LETTERS.values()
