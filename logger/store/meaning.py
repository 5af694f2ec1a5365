"""Whether what was stored of a channel means what it would mean today."""

import sqlite3
from bisect import bisect_right
from collections.abc import Callable, Collection

from logger.quantities import Estimate, Reading
from logger.store.codec import micros, seconds

ChangedSince = Callable[[str], Collection[str]]
"""Names the channels that have other settings now than in an earlier run's text."""


def nothing_changed(settings_text: str) -> Collection[str]:
    """For who does not fold readings in again."""
    return ()


class Meaning:
    """Where what was stored came from, and the settings of then compared with those of now."""

    def __init__(self, con: sqlite3.Connection, changed_since: ChangedSince) -> None:
        self._con = con
        self._changed_since = changed_since
        runs = con.execute(
            "SELECT started_us, settings FROM run"
            " WHERE watching AND typeof(started_us) = 'integer' ORDER BY started_us"
        )
        self._runs = [(seconds(started_us), settings) for started_us, settings in runs]
        self._imported = con.execute("SELECT from_us, to_us FROM imported").fetchall()
        self._changed: dict[object, Collection[str]] = {}  # by row of the settings

    def is_of_today(self, one: Reading | Estimate) -> bool:
        """Whether it was measured here, and its channel had then the settings that it has now."""
        at_us = micros(one.at_s)
        if any(from_us <= at_us <= to_us for from_us, to_us in self._imported):
            return False
        index = bisect_right(self._runs, one.at_s, key=lambda run: run[0]) - 1
        return index < 0 or one.channel not in self._changed_in(self._runs[index][1])

    def _changed_in(self, settings: object) -> Collection[str]:
        if settings not in self._changed:
            found = self._con.execute("SELECT text FROM settings WHERE id = ?", (settings,))
            row = found.fetchone()
            self._changed[settings] = self._changed_since(str(row[0]) if row else "")
        return self._changed[settings]
