"""One step of the pipeline after another as rows of the database, inside one transaction."""

import logging
import sqlite3
from collections.abc import Collection, Iterable, Sequence
from dataclasses import dataclass, replace

from logger.alarms.lifecycle import AlarmEvent
from logger.announcements import PhoneLine
from logger.burn.entries import Acknowledge, Calibrated, Entry, ManualReading, Shelve
from logger.burn.model import Burn, BurnEvent
from logger.intake.entered import text_of
from logger.pipeline import Event, Input, Output
from logger.quantities import Estimate, Health, Reading, Tick
from logger.store import codec, shelf_rows, zones
from logger.store.codec import micros, storable

log = logging.getLogger(__name__)


@dataclass(frozen=True, slots=True, kw_only=True)
class LineChanges:
    """Lines for the phone to keep until they are done, and ids of those that are."""

    new: tuple[PhoneLine, ...] = ()
    done: frozenset[str] = frozenset()

    def __bool__(self) -> bool:
        """Whether there is anything to write."""
        return bool(self.new or self.done)


NO_LINES = LineChanges()


class Writing:
    """What one transaction adds. `settings` is the row of the settings now in force.

    Without a `broker` events wait for nobody.
    """

    def __init__(self, con: sqlite3.Connection, settings: int, *, broker: bool) -> None:
        self._delivered = not broker
        self._con = con
        self._settings = settings
        self._channels: dict[str, int] = dict(con.execute("SELECT name, id FROM channel"))
        self._last_reading = zones.last_id(con, "reading")
        self._last_estimate = zones.last_id(con, "estimate")
        self._readings: list[tuple[int, int, int, float]] = []
        self._estimates: list[tuple[object, ...]] = []
        self.events = 0  # new ones

    def add(self, item: Input, outputs: Sequence[Output]) -> None:
        """One input, and what came of it."""
        burns: dict[str, Burn] = {}  # each as it is at the last: every hotter place changes it
        for output in outputs:
            match output:
                case Estimate():
                    self._add_estimate(output)
                case AlarmEvent():
                    self._put_alarm(output)
                    self.add_event(output)
                case BurnEvent():
                    self.add_event(output)
                case Burn():
                    burns[output.id] = output
        for burn in burns.values():
            self._put_burn(burn, seen_s(item))
        match item:
            case Reading():
                self._last_reading += 1
                at_us = micros(item.at_s)
                row = (self._last_reading, self._channel(item.channel), at_us, item.value)
                self._readings.append(row)
            case Entry():
                self.add_entry(item, self._burn_of(item, outputs), text_of(item, outputs))
            case Health():
                self._con.execute(
                    "INSERT INTO health (at_us, after_reading, body) VALUES (?, ?, ?)",
                    (micros(item.at_s), self._last_reading, codec.dump(item)),
                )

    def mark(self, delivered: Collection[str], lines: LineChanges) -> None:
        """Events that need not be sent any more, and what became of phone lines."""
        self._con.executemany(
            "UPDATE event SET delivered = 1 WHERE id = ?", [(id_,) for id_ in delivered]
        )
        self._con.executemany(
            "INSERT INTO phone_line (id, at_us, text) VALUES (?, ?, ?) ON CONFLICT DO NOTHING",
            [(line.id, micros(line.at_s), storable(line.text)) for line in lines.new],
        )
        self._con.executemany("DELETE FROM phone_line WHERE id = ?", [(id_,) for id_ in lines.done])

    def finish(self) -> None:
        """Write the rows that were gathered: in one go they take a third of the time."""
        self._con.executemany("INSERT INTO reading VALUES (?, ?, ?, ?)", self._readings)
        self._con.executemany(
            "INSERT INTO estimate (id, channel, at_us, value, standard_uncertainty,"
            " repeatability, used, rejected, quality) VALUES (?, ?, ?, ?, ?, ?, ?, ?, ?)",
            self._estimates,
        )
        self._readings.clear()
        self._estimates.clear()
        zones.close(self._con, "reading")
        zones.close(self._con, "estimate")

    def _channel(self, name: str) -> int:
        return channel_row(self._con, self._channels, name)

    def _add_estimate(self, estimate: Estimate) -> None:
        self._last_estimate += 1
        self._estimates.append(
            (
                self._last_estimate,
                self._channel(estimate.channel),
                micros(estimate.at_s),
                estimate.value,
                estimate.standard_uncertainty,
                estimate.repeatability,
                estimate.used,
                estimate.rejected,
                estimate.quality.value,
            )
        )

    def _put_alarm(self, event: AlarmEvent) -> None:
        self._con.execute(
            "INSERT INTO alarm VALUES (?, ?) ON CONFLICT (key) DO UPDATE SET body = excluded.body",
            (event.alarm.key, codec.dump(event.alarm)),
        )

    def add_event(self, event: Event) -> None:
        """What happened, with no change to how alarms stand."""
        kind = "alarm" if isinstance(event, AlarmEvent) else "burn"
        body = codec.dump(event)
        held = self._con.execute("SELECT body FROM event WHERE id = ?", (event.id,)).fetchone()
        if held == (body,):
            log.info("event %s was already stored", event.id)
            return
        if held is not None:
            free_id = self._free_id("SELECT 1 FROM event WHERE id = ?", event.id)
            log.error("a second event has the id %s: stored as %s", event.id, free_id)
            event = replace(event, id=free_id)
            body = codec.dump(event)
        self._con.execute(
            "INSERT INTO event (id, kind, burn, time_us, body, delivered)"
            " VALUES (?, ?, ?, ?, ?, ?)",
            (event.id, kind, event.burn, micros(event.time_s), body, self._delivered),
        )
        self.events += 1

    def _put_burn(self, burn: Burn, now_s: float) -> None:
        trial, body = storable(burn.trial), codec.dump(burn)
        same = (burn.id, trial, micros(burn.lit_s), burn.number)
        known = self._con.execute(  # most change the body alone: three indexes need no writing
            "UPDATE burn SET body = ? WHERE id = ? AND trial = ? AND lit_us = ? AND number IS ?",
            (body, *same),
        )
        if known.rowcount:
            return
        added = self._con.execute(
            "INSERT INTO trial VALUES (?, ?) ON CONFLICT DO NOTHING", (trial, micros(now_s))
        )
        if added.rowcount:
            shelf_rows.add_trial(self._con, trial, micros(now_s))
        self._con.execute(  # the settings stay those it was lit under
            "INSERT INTO burn (id, station, trial, lit_us, settings, body, number)"
            " VALUES (?, ?, ?, ?, ?, ?, ?)"
            " ON CONFLICT (id) DO UPDATE SET trial = excluded.trial, lit_us = excluded.lit_us,"
            " body = excluded.body, number = excluded.number",
            (
                burn.id,
                burn.station,
                trial,
                micros(burn.lit_s),
                self._settings,
                body,
                burn.number,
            ),
        )

    def add_entry(self, entry: Entry, burn: str | None, text: str) -> None:
        """What a person entered at `burn`, and what was answered."""
        entry_id, body = storable(entry.id), codec.dump(entry)
        held = self._con.execute("SELECT body FROM entry WHERE id = ?", (entry_id,)).fetchone()
        if held == (body,):
            log.info("entry %s was already stored", ascii(entry_id))
            return
        if held is not None:
            entry_id = self._free_id("SELECT 1 FROM entry WHERE id = ?", entry_id)
            log.error(
                "a second entry has the id %s: stored as %s", ascii(entry.id), ascii(entry_id)
            )
        cursor = self._con.execute(
            "INSERT INTO entry (id, kind, burn, at_us, entered_us, after_reading, body, text)"
            " VALUES (?, ?, ?, ?, ?, ?, ?, ?)",
            (
                entry_id,
                type(entry).__name__,
                burn,
                micros(entry.at_s),
                micros(entry.entered_s),
                self._last_reading,
                body,
                storable(text),
            ),
        )
        if isinstance(entry, Calibrated):
            self._con.execute(
                "INSERT INTO calibration VALUES (?, ?, ?)",
                (cursor.lastrowid, entry.channel, micros(entry.at_s)),
            )

    def _free_id(self, look: str, taken: str) -> str:
        number = 2
        while self._con.execute(look, (f"{taken}~{number}",)).fetchone() is not None:
            number += 1
        return f"{taken}~{number}"

    def _burn_of(self, entry: Entry, outputs: Iterable[Output]) -> str | None:
        """The burn that `entry` concerns, if any."""
        for output in outputs:
            if isinstance(output, BurnEvent):
                return output.burn
            if isinstance(output, AlarmEvent) and isinstance(entry, Acknowledge | Shelve):
                return output.alarm.burn
        if isinstance(entry, ManualReading):  # where it was typed
            row = self._con.execute(
                "SELECT id FROM burn WHERE station = ? AND lit_us <= ?"
                " ORDER BY lit_us DESC LIMIT 1",
                (entry.station, micros(entry.at_s)),
            ).fetchone()
            return None if row is None else str(row[0])
        return None


def channel_row(con: sqlite3.Connection, known: dict[str, int], name: str) -> int:
    """The row of the channel `name`, made where it is missing; `known` are those so far."""
    if name not in known:
        cursor = con.execute("INSERT INTO channel (name) VALUES (?)", (name,))
        assert cursor.lastrowid is not None
        known[name] = cursor.lastrowid
    return known[name]


def seen_s(item: Input) -> float:
    """The bench time at which `item` came."""
    return item.entered_s if isinstance(item, Entry) else item.at_s


def is_idle(item: Input, outputs: Sequence[Output]) -> bool:
    """Whether nothing of it is stored, but that this time was seen."""
    stored = (Estimate, AlarmEvent, BurnEvent, Burn)
    return isinstance(item, Tick) and not any(isinstance(output, stored) for output in outputs)
