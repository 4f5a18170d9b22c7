"""The next piece of a file read in a thread of its own while this one is worked on."""

from __future__ import annotations

from collections.abc import Iterator
from concurrent.futures import ThreadPoolExecutor
from typing import TypeVar

Item = TypeVar("Item")


def read_ahead(items: Iterator[Item]) -> Iterator[Item]:
    """Yield the same items, the next one made meanwhile; its error is raised in its turn.

    >>> list(read_ahead(iter([1, 2, 3])))
    [1, 2, 3]
    """
    end = object()
    with ThreadPoolExecutor(max_workers=1) as pool:
        coming = pool.submit(next, items, end)
        while (item := coming.result()) is not end:
            coming = pool.submit(next, items, end)
            yield item  # type: ignore[misc]  # not the end
