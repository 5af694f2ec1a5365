"""Rows that cannot be read: each is named and left out, and the rest stays readable."""

import logging
from collections.abc import Callable, Iterable, Iterator
from itertools import islice
from typing import TypeVar

from logger.errors import DataError

log = logging.getLogger(__name__)

T = TypeVar("T")

_UNREADABLE = (DataError, ValueError, TypeError, KeyError, AttributeError, OverflowError)
"""What a value of the wrong type, form or range raises; pydantic's are ValueErrors."""


_AT_ONCE = 500  # rows that are tried together: most are sound


class Damage:
    """What could not be read of a database, in words; `lines` are for people."""

    def __init__(self) -> None:
        self.lines: list[str] = []

    def note(self, table: str, row: object, lost: str, exc: Exception) -> None:
        """Name one row, once."""
        why = str(exc).splitlines()[0] if str(exc) else type(exc).__name__
        line = f"table {table}, row {row} is damaged ({why[:100]}): lost is {lost}"
        if line not in self.lines:
            self.lines.append(line)
            log.error("%s", line)

    def each(
        self, table: str, found: Iterable[tuple[object, ...]], read: Callable[..., T], lost: str
    ) -> Iterator[T]:
        """What `read` makes of each row's columns after the first, which is its number."""
        found = iter(found)
        while rows := list(islice(found, _AT_ONCE)):
            try:
                made = [read(*columns) for _, *columns in rows]
            except _UNREADABLE:
                made = list(self._one_by_one(table, rows, read, lost))
            yield from made

    def _one_by_one(
        self, table: str, found: Iterable[tuple[object, ...]], read: Callable[..., T], lost: str
    ) -> Iterator[T]:
        for row, *columns in found:
            try:
                one = read(*columns)
            except _UNREADABLE as exc:
                self.note(table, row, lost, exc)
            else:
                yield one

    def __str__(self) -> str:
        more = len(self.lines) - 3
        return "; ".join(self.lines[:3]) + (f"; and {more} more, see the log" if more > 0 else "")
