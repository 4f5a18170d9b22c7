"""Rows of a force log that are not used, counted by why."""

from __future__ import annotations

from dataclasses import dataclass, field


@dataclass
class LeftOut:
    """Rows of a log that were not used, and why."""

    blank: int = 0
    repeated: int = 0
    cut: int = 0
    first: dict[str, int] = field(default_factory=dict)
    """Kind: the row, counted from 1 under the headings, of its first."""

    def texts(self) -> list[str]:
        """Return what was left out, in words; empty if nothing was."""
        kinds = {
            "blank": "without a number in time or force",
            "repeated": "with the time stamp of the row before",
            "cut": "at the end, whose line is not finished",
        }
        counts = {name: getattr(self, name) for name in kinds}
        return [
            f"{count} row{'' if count == 1 else 's'} {kinds[name]} left out, first row "
            f"{self.first[name]} under the headings"
            for name, count in counts.items()
            if count
        ]

    def add(self, kind: str, count: int, row: int) -> None:
        """Count rows of one kind, the first of them at a row."""
        setattr(self, kind, getattr(self, kind) + count)
        self.first.setdefault(kind, row)
