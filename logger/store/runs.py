"""Runs of the program: what is noted of one as it begins."""

import hashlib
import sqlite3
from dataclasses import dataclass

from logger.pipeline import Bench
from logger.store import rows, zones
from logger.store.codec import dump, micros, storable
from logger.store.remembered import Remembered
from logger.store.schema import transaction


def settings_digest(text: str, bench: Bench) -> str:
    """SHA-256 of settings: their text, and what it said."""
    return hashlib.sha256(f"{text}\0{dump(bench)}".encode("utf-8", "replace")).hexdigest()


@dataclass(frozen=True, slots=True, kw_only=True)
class Run:
    """One run of the program on this database, as it begins.

    Its number `id` is part of its events' ids. It is the Unix second of its start, or one more
    than the last: so it is new also where the disk cannot be asked, and in an emptied folder.
    """

    id: int
    started_s: float  # never before what is stored, though the clock may be
    settings: str  # SHA-256 of the settings, hexadecimal
    last_seen_s: float | None  # when the watching run before it last wrote; None: there was none
    last_ended: bool  # whether that one stopped in order


@dataclass(frozen=True, slots=True, kw_only=True)
class Beginning:
    """What is noted of a run."""

    settings_text: str  # for people
    bench: Bench  # what that text said when the run began
    started_s: float
    version: str
    watching: bool
    broker: bool

    @property
    def digest(self) -> str:
        """Of the settings: their text, and what it said."""
        return settings_digest(self.settings_text, self.bench)

    def number(self, last_run: int) -> int:
        """Of the run that begins, after `last_run`."""
        return max(last_run + 1, int(self.started_s))

    def run(self, number: int, before: Remembered) -> Run:
        """The run that begins."""
        return Run(
            id=number,
            started_s=max(self.started_s, before.latest_s),
            settings=self.digest,
            last_seen_s=before.last_seen_s,
            last_ended=before.last_ended,
        )

    def note(self, con: sqlite3.Connection) -> tuple[int, int]:
        """Write it down; the run's number, and the row of its settings."""
        with transaction(con):
            started_us = max(micros(self.started_s), rows.latest_us(con))
            (last,) = con.execute("SELECT coalesce(max(id), 0) FROM run").fetchone()
            con.execute(
                "INSERT INTO settings (sha256, text, bench) VALUES (?, ?, ?)"
                " ON CONFLICT DO NOTHING",
                (self.digest, storable(self.settings_text), dump(self.bench)),
            )
            (settings,) = con.execute(
                "SELECT id FROM settings WHERE sha256 = ?", (self.digest,)
            ).fetchone()
            number = self.number(last)
            con.execute(
                "INSERT INTO run (id, version, settings, watching, started_us, last_seen_us,"
                " after_reading) VALUES (?, ?, ?, ?, ?, ?, ?)",
                (
                    number,
                    self.version,
                    settings,
                    self.watching,
                    started_us,
                    started_us,
                    zones.last_id(con, "reading"),
                ),
            )
            if not self.broker:  # a broker of a later day hears only of its own day
                con.execute("DELETE FROM phone_line")
        return number, settings
