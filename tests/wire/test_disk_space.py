"""The disk fills up: what is left is told, and warned of while there is time to make room."""

import asyncio
import sqlite3
from types import SimpleNamespace

import pytest

from logger import settings
from logger.quantities import Part
from logger.service import checking
from logger.store import disk_space
from logger.store.disk_space import (
    FEWEST_DAYS,
    LEAST_BYTES,
    Growth,
    Space,
    SpaceLeft,
    SpaceWatch,
    in_words,
)
from tests.support.store import AT_S
from tests.support.web_bench import serving

MB = 10**6
DAY_S = 86_400.0


class Watched:
    """A watch on a database that grows by `per_day` bytes, with bench time in the test's hand."""

    def __init__(self) -> None:
        self.at_s = AT_S
        self.news = []
        self.used = 50 * MB
        self.watch = SpaceWatch(self._never, now_s=lambda: self.at_s, report=self.news.append)

    async def _never(self):
        raise AssertionError

    def grow(self, *, hours, per_day, free):
        """Each minute, on a disk of which `free` stays free."""
        for _ in range(int(hours * 60.0)):
            self.watch.take(Space(used_bytes=int(self.used), free_bytes=free))
            self.at_s += 60.0
            self.used += per_day * 60.0 / DAY_S


def test_the_days_left_are_told_after_an_hour_and_warned_of_under_a_week():
    bench = Watched()
    bench.grow(hours=0.9, per_day=480 * MB, free=2400 * MB)
    assert bench.watch.now.days_left is None
    assert bench.news == []
    bench.grow(hours=1.5, per_day=480 * MB, free=2400 * MB)
    (news,) = bench.news
    assert (news.part, news.ok, news.ahead) == (Part.STORAGE, False, True)
    assert "5 days of watching at today's rate of 480 MB a day" in news.reason  # 2400 / 480
    assert "Make room" in news.reason


def test_a_disk_that_lasts_is_not_warned_of():
    bench = Watched()
    bench.grow(hours=3.0, per_day=100 * MB, free=1000 * MB)
    assert bench.watch.now.days_left == pytest.approx(10.0, rel=0.02)
    assert bench.news == []


def test_what_others_take_is_warned_of_whatever_the_rate_and_it_ends_once_there_is_room():
    bench = Watched()
    for free, told in [
        (LEAST_BYTES, []),
        (LEAST_BYTES - 1, [False]),
        (int(1.4 * LEAST_BYTES), [False]),  # hardly more: the alarm stays
        (2 * LEAST_BYTES, [False, True]),
    ]:
        bench.watch.take(Space(used_bytes=MB, free_bytes=free))
        assert [news.ok for news in bench.news] == told


def test_the_rate_is_that_of_the_last_day():
    growth = Growth()
    rates = [
        growth.add(AT_S + 600.0 * step, step * MB if step < 1000 else 1000 * MB)
        for step in range(1200)
    ]
    assert rates[5] is None  # not an hour yet
    assert rates[999] == pytest.approx(144 * MB)  # a megabyte in ten minutes
    assert rates[1199] == 0.0  # nothing was added for more than a day


def test_a_database_that_shrinks_has_no_end():
    assert SpaceLeft(space=Space(used_bytes=0, free_bytes=LEAST_BYTES), bytes_per_day=-1.0).lasts()
    tight = Space(used_bytes=0, free_bytes=10 * LEAST_BYTES)
    assert not SpaceLeft(space=tight, bytes_per_day=11 * LEAST_BYTES / FEWEST_DAYS).lasts()


@pytest.mark.parametrize(
    ("count", "words"),
    [(999, "999 bytes"), (4_200, "4.2 kB"), (25e6, "25 MB"), (3.2e15, "3200 TB")],
)
def test_bytes_in_words(count, words):
    assert in_words(count) == words


async def test_space_is_what_sqlite_itself_counts(opened, tmp_path):
    """Against the size of the file that SQLite's own backup writes: all pages, its log included."""
    store = await opened()
    space = await store.space()
    source, copy = sqlite3.connect(tmp_path / "bench.sqlite3"), tmp_path / "copy.sqlite3"
    target = sqlite3.connect(copy)
    source.backup(target)
    source.close()
    target.close()
    assert space.used_bytes == copy.stat().st_size


async def test_the_alarm_is_a_caution_also_while_a_candle_burns(tmp_path, monkeypatch, eventually):
    left = SimpleNamespace(f_bavail=100, f_frsize=MB)
    monkeypatch.setattr(disk_space.os, "statvfs", lambda path: left)
    async with serving(tmp_path) as bench:
        await bench.seconds(5, 41.0)
        await bench.light()
        await eventually(lambda: "storage/disk-space" in bench.service.hub.alarms)
        now = await bench.now()
        (alarm,) = (one for one in now["alarms"] if one["rule"] == "storage")
        assert (alarm["alarm"], alarm["priority"]) == ("storage/disk-space", "caution")
        assert "100 MB free" in alarm["text"]
        assert now["storage"]["ok"] is False
        assert now["storage"]["free_bytes"] == 100 * MB
        monkeypatch.setattr(checking, "LISTEN_S", 0.5)
        configured = settings.load(tmp_path / "bench.toml")
        reports = [await asyncio.to_thread(checking.check_bench, configured)]
    reports.append(await asyncio.to_thread(checking.check_bench, configured))  # without a service
    for report in reports:
        (item,) = (one for one in report.items if one.what == "data")
        assert not item.ok
        assert "100 MB free" in item.text
