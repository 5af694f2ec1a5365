"""How much room the disk has for the database, and for how long at the present rate."""

import asyncio
import logging
import os
import sqlite3
from collections import deque
from collections.abc import Awaitable, Callable
from dataclasses import dataclass
from pathlib import Path

from logger.errors import StoreError
from logger.quantities import Health, Part

log = logging.getLogger(__name__)

NAME = "disk-space"  # the subject of the alarm about it

LEAST_BYTES = 200 * 2**20  # free: less is taken up overnight by a log or a backup (our choice)
FEWEST_DAYS = 7.0  # of watching: a week in which to make room (our choice)
WELL_AGAIN = 1.5  # times as much of either, so that the alarm does not come and go (our choice)
_DAY_S = 86_400.0
_SHORTEST_S = 3600.0  # of bench time before a rate is given (our choice)
_EVERY_S = 60.0  # of real time: how often it is looked at
_APART_S = 600.0  # of bench time: between two sizes that are kept


@dataclass(frozen=True, slots=True, kw_only=True)
class Space:
    """What the database takes on its disk, and what is left for it."""

    used_bytes: int
    free_bytes: int


def space_of(con: sqlite3.Connection, path: Path) -> Space:
    """Of the database `path`; pages that it has emptied are free to it. Raises StoreError."""
    pages, emptied, page_bytes = (
        int(con.execute(f"PRAGMA {what}").fetchone()[0])
        for what in ("page_count", "freelist_count", "page_size")
    )
    try:
        disk = os.statvfs(path.parent)
    except OSError as exc:
        raise StoreError(f"{path.parent} cannot be looked at: {exc.strerror}") from exc
    return Space(
        used_bytes=(pages - emptied) * page_bytes,
        free_bytes=disk.f_bavail * disk.f_frsize + emptied * page_bytes,
    )


@dataclass(frozen=True, slots=True, kw_only=True)
class SpaceLeft:
    """The space, and how fast it is taken; None while that is not known yet."""

    space: Space
    bytes_per_day: float | None = None  # of watching

    @property
    def days_left(self) -> float | None:
        """Days of watching until the disk is full; None where no end is seen."""
        if self.bytes_per_day is None or self.bytes_per_day <= 0.0:
            return None
        return self.space.free_bytes / self.bytes_per_day

    def lasts(self, times: float = 1.0) -> bool:
        """Whether there is `times` as much room, or more, as there should be."""
        days = self.days_left
        if self.space.free_bytes < times * LEAST_BYTES:
            return False
        return days is None or days >= times * FEWEST_DAYS

    @property
    def text(self) -> str:
        """For a person."""
        held = f"the database has {in_words(self.space.used_bytes)}"
        free = f"{in_words(self.space.free_bytes)} free"
        if self.days_left is None:
            return f"{held}, {free}"
        rate = f"{in_words(self.bytes_per_day or 0.0)} a day"
        return f"{held}, {free}: {self.days_left:.0f} days of watching at today's rate of {rate}"


class Growth:
    """The database's sizes of the last day of bench time."""

    def __init__(self) -> None:
        self._seen: deque[tuple[float, int]] = deque()

    def add(self, at_s: float, used_bytes: int) -> float | None:
        """Take the present size; what is added in a day at the rate since the first one kept."""
        while self._seen and at_s - self._seen[0][0] > _DAY_S:
            self._seen.popleft()
        if not self._seen or at_s - self._seen[-1][0] >= _APART_S:
            self._seen.append((at_s, used_bytes))
        since_s, first_bytes = self._seen[0]
        if at_s - since_s < _SHORTEST_S:
            return None
        return (used_bytes - first_bytes) / (at_s - since_s) * _DAY_S


class SpaceWatch:
    """Looks at the room now and then, and warns ahead; `now` is the latest, None before."""

    def __init__(
        self,
        space: Callable[[], Awaitable[Space]],
        *,
        now_s: Callable[[], float],
        report: Callable[[Health], None],
    ) -> None:
        """`now_s` is bench time; `space` may raise StoreError, which has an alarm of its own."""
        self.now: SpaceLeft | None = None
        self._space = space
        self._now_s = now_s
        self._report = report
        self._growth = Growth()
        self._lasts = True

    async def run(self) -> None:
        """Look for ever."""
        while True:
            try:
                self.take(await self._space())
            except StoreError as exc:
                log.info("the room on the disk is not known: %s", exc)
            await asyncio.sleep(_EVERY_S)

    def take(self, space: Space) -> None:
        """Judge the present space."""
        at_s = self._now_s()
        room = SpaceLeft(space=space, bytes_per_day=self._growth.add(at_s, space.used_bytes))
        self.now = room
        lasts = room.lasts() if self._lasts else room.lasts(WELL_AGAIN)
        if lasts != self._lasts:
            self._lasts = lasts
            log.log(logging.INFO if lasts else logging.WARNING, "%s: %s", NAME, room.text)
            reason = room.text
            if not lasts:
                reason = f"the disk fills up: {reason}. Make room while readings can still be saved"
            self._report(
                Health(part=Part.STORAGE, name=NAME, ok=lasts, reason=reason, at_s=at_s, ahead=True)
            )


def in_words(count: float) -> str:
    """Bytes, to two digits or more."""
    units = ["TB", "GB", "MB", "kB"]
    unit = "bytes"
    while count >= 1000.0 and units:
        count, unit = count / 1000.0, units.pop()
    return f"{count:.1f} {unit}" if count < 10.0 and unit != "bytes" else f"{count:.0f} {unit}"
