"""What the database remembers for a start: read by the writer, or read-only from a failing disk."""

import asyncio
import logging
import sqlite3
from collections.abc import Iterable, Iterator
from concurrent.futures import ThreadPoolExecutor
from contextlib import closing
from dataclasses import dataclass, field
from pathlib import Path

from logger.alarms.lifecycle import Alarm
from logger.announcements import PhoneLine
from logger.burn.forecast import SPACING_S
from logger.burn.model import LONGEST_AGO_S, Burn
from logger.errors import StoreEmpty, StoreError
from logger.pipeline import FOLD_BACK_S, Memory
from logger.quantities import Estimate
from logger.store import rows
from logger.store.codec import load, micros, seconds
from logger.store.damage import Damage
from logger.store.meaning import ChangedSince, Meaning, nothing_changed
from logger.store.opening import open_to_read
from logger.store.sqlite_errors import in_plain_words

log = logging.getLogger(__name__)

LONGEST_FOLLOWED_S = 12 * 3600.0  # three times what is usual (common practice: 4 h)
CHANGEABLE_S = LONGEST_AGO_S  # as long as a burn may be entered late, its entries may be put right
_TRIALS = f"SELECT DISTINCT trial FROM burn WHERE {rows.COUNTS} ORDER BY trial"
_ENTRY_IDS = 50_000  # some years of entries, 5 MB; our choice


@dataclass(frozen=True, slots=True, kw_only=True)
class Remembered:
    """What is known from before."""

    memory: Memory = field(default_factory=Memory)
    entry_ids: tuple[str, ...] = ()  # the latest, in order
    last_run: int = 0
    last_seen_s: float | None = None  # when the watching run before last wrote; None: none was
    last_ended: bool = True  # whether that one stopped in order
    lines: tuple[PhoneLine, ...] = ()  # for the phone, that did not get out
    latest_s: float = 0.0  # the latest bench time that anything was stored at
    damage: str = ""  # rows that could not be read


def remembered(
    con: sqlite3.Connection,
    now_s: float,
    before_run: int | None = None,
    changed_since: ChangedSince = nothing_changed,
) -> Remembered:
    """What the pipeline needs to go on where the bench stopped before the run `before_run`.

    What was stored of channels that changed since means something else, and is left out.
    """
    damage = Damage()
    latest_s = seconds(rows.latest_us(con))
    now_s = max(now_s, latest_s)  # a clock that is behind is put forward
    meaning = Meaning(con, changed_since)
    readings = rows.readings(con, damage, None, now_s - FOLD_BACK_S, None)
    burns = list(_latest_burns(con, damage))
    since_s = now_s - CHANGEABLE_S
    earlier = list(_earlier(con, damage, since_s, burns))
    known = [*earlier, *burns]
    counts = {
        burn.id: con.execute(
            "SELECT count(*) FROM event WHERE burn = ? AND kind = 'burn'", (burn.id,)
        ).fetchone()[0]
        for burn in known
    }
    alarms = con.execute("SELECT key, body FROM alarm ORDER BY rowid")
    last_run, last_seen_s, last_ended = _last_run(con, before_run, damage)
    memory = Memory(
        burns=tuple(burns),
        earlier=tuple(earlier),
        alarms=tuple(damage.each("alarm", alarms, _alarm, "the state of this alarm")),
        readings=tuple(filter(meaning.is_of_today, readings)),
        estimates=tuple(filter(meaning.is_of_today, _of_lit(con, damage, burns, now_s))),
        entries=tuple(rows.entries_since(con, damage, since_s, known)),
        trials=tuple(name for (name,) in con.execute(_TRIALS)),
        calibrations=tuple(rows.calibrations(con, damage)),
        burn_events=counts,
        candles=tuple(_candles(con, damage)),
        last_number=con.execute("SELECT coalesce(max(number), 0) FROM burn").fetchone()[0],
    )
    ids = con.execute("SELECT id FROM entry ORDER BY seq DESC LIMIT ?", (_ENTRY_IDS,)).fetchall()
    lines = con.execute("SELECT seq, id, at_us, text FROM phone_line ORDER BY seq")
    lines_read = damage.each("phone_line", lines, _line, "a line for the phone")
    return Remembered(
        memory=memory,
        lines=tuple(lines_read),
        entry_ids=tuple(str(id_) for (id_,) in reversed(ids)),
        last_run=last_run,
        last_seen_s=last_seen_s,
        last_ended=last_ended,
        latest_s=latest_s,
        damage=str(damage),
    )


async def only_read(
    path: Path, now_s: float, changed_since: ChangedSince, *, within_s: float
) -> Remembered | None:
    """What a disk that takes nothing holds; None where it does not give it in that time."""

    def work() -> Remembered:
        with in_plain_words(path), closing(open_to_read(path)) as con:
            return remembered(con, now_s, changed_since=changed_since)

    thread = ThreadPoolExecutor(max_workers=1, thread_name_prefix="read")
    reading = asyncio.get_running_loop().run_in_executor(thread, work)
    await asyncio.wait({reading}, timeout=within_s)
    thread.shutdown(wait=False)
    if not reading.done():
        reading.add_done_callback(lambda late: late.cancelled() or late.exception())  # is heard
        return None
    try:
        return reading.result()
    except StoreEmpty:
        return Remembered()
    except (StoreError, OSError) as exc:
        log.error("what was recorded before cannot be read: %s", exc)
        return None


def _line(id_: str, at_us: int, text: str) -> PhoneLine:
    return PhoneLine(id=id_, at_s=seconds(at_us), text=text)


def _alarm(body: str) -> Alarm:
    return load(Alarm, body)


def _latest_burns(con: sqlite3.Connection, damage: Damage) -> Iterator[Burn]:
    """The latest of each station; a damaged row does not bring back the one before it."""
    stations = con.execute("SELECT DISTINCT station FROM burn ORDER BY station").fetchall()
    for (station,) in stations:
        found = con.execute(
            f"SELECT id, body FROM burn WHERE station = ? AND {rows.COUNTS}"
            " ORDER BY lit_us DESC LIMIT 1",
            (station,),
        )
        lost = f"the latest burn at {station}: look whether its candle burns, and record it again"
        yield from damage.each("burn", found, lambda body: load(Burn, body), lost)


def _earlier(
    con: sqlite3.Connection, damage: Damage, from_s: float, latest: Iterable[Burn]
) -> Iterator[Burn]:
    """Burns lit since `from_s` before these, whose entries can still be corrected."""
    for burn in latest:
        found = con.execute(
            "SELECT id, body FROM burn WHERE station = ? AND lit_us >= ? AND id <> ?"
            " ORDER BY lit_us",
            (burn.station, micros(from_s), burn.id),
        )
        yield from damage.each("burn", found, lambda body: load(Burn, body), "this burn")


def _candles(con: sqlite3.Connection, damage: Damage) -> Iterator[Burn]:
    """The latest burn of each candle that is out, in order of time."""
    found = con.execute(
        "SELECT id, body FROM (SELECT id, body, max(lit_us) AS lit_us FROM burn"
        " WHERE CASE WHEN json_valid(body) THEN body ->> 'out_s' IS NOT NULL"
        " AND NOT coalesce(body ->> 'withdrawn', 0) END"
        " GROUP BY trial, coalesce(nullif(trim(lower(body ->> 'tester')), ''), station))"
        " ORDER BY lit_us"
    )
    lost = "what this candle's last burn says of its next"
    yield from damage.each("burn", found, lambda body: load(Burn, body), lost)


def _last_run(
    con: sqlite3.Connection, before: int | None, damage: Damage
) -> tuple[int, float | None, bool]:
    last = con.execute(
        "SELECT max(id) FROM run WHERE id < coalesce(?1, id + 1)", (before,)
    ).fetchone()[0]
    found = con.execute(
        "SELECT id, last_seen_us, ended_us, after_reading FROM run"
        " WHERE watching AND id < coalesce(?1, id + 1) ORDER BY id DESC LIMIT 1",
        (before,),
    )

    def seen(last_seen_us: int, ended_us: int | None, after_reading: int) -> tuple[float, bool]:
        reading_us = rows.last_reading_us(con, after_reading)
        latest_us = max(last_seen_us, ended_us or 0, reading_us or 0)
        return seconds(latest_us), ended_us is not None

    for seen_s, ended in damage.each("run", found, seen, "when the run before was last seen"):
        return last or 0, seen_s, ended
    return last or 0, None, True


def _of_lit(
    con: sqlite3.Connection, damage: Damage, burns: Iterable[Burn], now_s: float
) -> Iterator[Estimate]:
    """Estimates since the first of the burns that are lit was, as far apart as a fit takes them.

    A burn is forecast to its end: one past it, as a candle that was left lit for days, needs none.
    """
    lit_s = [
        burn.lit_s
        for burn in burns
        if burn.lit
        and now_s - burn.lit_s < LONGEST_FOLLOWED_S
        and (burn.limits is None or now_s - burn.lit_s < burn.limits.burn_length_s)
    ]
    if lit_s:
        yield from rows.spaced_estimates(con, damage, min(lit_s), SPACING_S)
