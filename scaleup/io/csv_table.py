"""Tables as CSV, in which no spreadsheet takes a text for a formula."""

from __future__ import annotations

import csv
import io
import re
from collections.abc import Iterable, Sequence

from scaleup.sentence import Words

_BEGINS = "=+\\-@＝＋－＠"
"""Characters a formula may begin with; the last four are their wide forms."""
_IN_CELL = rf"(?=[\t\r]|\s*[\"']*[{_BEGINS}])"
_PLAIN = re.compile(rf"(^|[;|\t\r\n]){_IN_CELL}")
_MARKED = re.compile(rf"(^|[;|\t\r\n])'{_IN_CELL}")
_COMMENT = re.compile(rf"(^|[,;|])(?=\s*[\"']*[{_BEGINS}])|( )(?=[\"']*[=@＝＠]\S)")


def plain_text(text: str) -> str:
    """Return text that no spreadsheet takes for a formula, whichever sign it parts cells by.

    An apostrophe goes before whatever could begin one; `original_text` takes it away again.

    >>> plain_text("=1+1"), plain_text("ran well;=1+1"), plain_text("no fill depth")
    ("'=1+1", "ran well;'=1+1", 'no fill depth')
    """
    return _PLAIN.sub(r"\1'", text)


def original_text(text: str) -> str:
    """Return a text as it was before `plain_text`.

    >>> original_text("'-5"), original_text("don't"), original_text(plain_text("'-5"))
    ('-5', "don't", "'-5")
    """
    return _MARKED.sub(r"\1", text)


def comment_line(text: str) -> str:
    r"""Return a line of comment; a spreadsheet parts it into cells too, and none is a formula.

    >>> comment_line('Marram,"=1+1"')
    '# Marram,\'"=1+1"'
    """
    line = _COMMENT.sub(lambda match: f"{match[1] or ''}{match[2] or ''}'", " ".join(text.split()))
    return f"# {line}"


def csv_table(
    headings: Sequence[str], rows: Iterable[Sequence[object]], comments: Iterable[str] = ()
) -> str:
    """Return a table as CSV under its lines of comment."""
    out = io.StringIO()
    for comment in comments:
        out.write(f"{comment_line(comment)}\n")
    writer = csv.writer(out, lineterminator="\n")
    for row in (headings, *rows):
        writer.writerow(
            [plain_text(str(cell)) if isinstance(cell, Words) else cell for cell in row]
        )
    return out.getvalue()
