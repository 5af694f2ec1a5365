"""What waits for a broker: bounded, the newest, in the right order."""

import json
from dataclasses import replace

import pytest

from logger.alarms.lifecycle import (
    Alarm,
    AlarmEvent,
    AlarmEventKind,
    AlarmState,
    Finding,
    Priority,
    Signal,
)
from logger.announcements import Announcer, PhoneLine
from logger.burn.model import BurnPhase, BurnStatus
from logger.publish.pending import BATCH, MOST_LINES, Pending
from logger.publish.topics import PHONE_EXPIRY_S, Topics
from logger.quantities import Forwarding, Rule
from logger.words import Words

T0_S = 1_935_000_000.0


class Clock:
    """Real time, set by hand."""

    now_s = 0.0

    def __call__(self) -> float:
        return self.now_s


@pytest.fixture
def clock():
    return Clock()


@pytest.fixture
def pending(clock):
    return Pending(Topics(bench="b"), None, clock)


def status(at_s: float, phase: BurnPhase = BurnPhase.LIT) -> BurnStatus:
    return BurnStatus(
        at_s=at_s,
        station="jar-a",
        phase=phase,
        burn="jar-a-1935000000",
        number=None,
        trial="cedar-12",
        lit_s=T0_S,
        out_s=None,
        elapsed_s=at_s - T0_S,
        remaining_s=14400.0,
        limit_c=60.0,
        alert_c=57.2,
        hottest=None,
        margin_c=None,
        automatic=True,
    )


def raised(channel: str = "wall", what: str = "raised") -> AlarmEvent:
    finding = Finding(
        rule=Rule.WALL_LIMIT,
        subject=channel,
        station="jar-a",
        channel=channel,
        signal=Signal.ON,
        priority=Priority.WARNING,
        text=f"look at {channel}",
    )
    alarm = Alarm(finding=finding, state=AlarmState.UNACKNOWLEDGED, since_s=T0_S)
    return AlarmEvent(id="x", time_s=T0_S, what=AlarmEventKind(what), alarm=alarm)


def tell(pending, outputs) -> None:
    """The outputs of one step, and what a person is told of them."""
    pending.take(outputs)
    pending.announce(Announcer(Words(), lambda: (), lambda: ()).announce(outputs))


def payloads(messages) -> list[str]:
    return [message.payload.decode() for message in messages]


def test_a_station_is_told_every_five_seconds_and_a_change_at_once(pending):
    told = []
    for second in range(12):
        phase = BurnPhase.LIT if second < 7 else BurnPhase.COOLING
        pending.take([status(T0_S + second, phase)])
        told += [(second, json.loads(text)["state"]) for text in payloads(pending.next_bulk())]
    assert told == [(0, "lit"), (5, "lit"), (7, "cooling")]


def test_hours_without_a_broker_keep_only_the_newest(pending):
    for second in range(7_200):
        tell(pending, [status(T0_S + second), raised(f"wall-{second % 3}")])
        pending.take_heartbeat(T0_S + second)
    beat, station = pending.next_bulk()
    assert beat.topic == "wickbench/b/heartbeat"
    assert json.loads(station.payload)["elapsed_s"] > 7_190
    batch = pending.next_urgent()
    assert [one.topic.rpartition("/")[2] for one in batch.messages[:3]] == [
        "wall-0",
        "wall-1",
        "wall-2",
    ]
    assert batch.lost == 7_200 - MOST_LINES
    assert pending.next_bulk() == []


def test_states_go_first_and_in_batches(pending):
    for number in range(BATCH + 2):
        tell(pending, [raised(f"wall-{number}")])
    first = pending.next_urgent()
    assert len(first.messages) == 2 * BATCH
    assert all(one.retain for one in first.messages[:BATCH])
    assert not any(one.retain for one in first.messages[BATCH:])
    pending.mark_lines_sent(first)
    assert len(pending.next_urgent().messages) == 4


def test_lines_stay_until_they_are_confirmed_and_say_how_late_they_are(pending, clock):
    tell(pending, [raised()])
    pending.next_urgent()
    clock.now_s = 1200.0
    again = pending.next_urgent()
    assert payloads(again.messages) == ["20 min ago: WARNING: jar-a: Look at wall."]
    pending.mark_lines_sent(again)
    assert pending.next_urgent().messages == []


def test_what_is_dropped_while_it_is_on_the_way_is_no_fault(pending):
    tell(pending, [raised()])
    on_the_way = pending.next_urgent()
    for _ in range(MOST_LINES):
        tell(pending, [raised()])
    pending.mark_lines_sent(on_the_way)
    assert pending.next_urgent().lost == 1


def test_before_a_stop_everything_urgent_is_said_alarm_states_first(pending):
    tell(pending, [raised(), status(T0_S)])
    words = pending.all_urgent()
    assert [one.topic.rpartition("/")[2] for one in words.messages] == ["wall", "phone"]


class Shelf:
    """What lies on the disk."""

    def __init__(self) -> None:
        self.ids = []

    def keep_line(self, line) -> None:
        self.ids.append(line.id)

    def mark_lines_done(self, ids) -> None:
        for one in ids:
            self.ids.remove(one)


@pytest.fixture
def shelf():
    return Shelf()


@pytest.fixture
def kept(clock, shelf):
    """Lines of the run 7, kept on a shelf."""
    return Pending(Topics(bench="b"), None, clock, now_s=lambda: T0_S, shelf=shelf, run=7)


def test_a_line_lies_on_the_shelf_until_it_is_confirmed(kept, shelf):
    tell(kept, [raised("wall-1")])
    tell(kept, [raised("wall-2")])
    assert shelf.ids == ["7/1", "7/2"]
    kept.mark_lines_sent(kept.next_urgent())
    assert shelf.ids == []


def test_what_memory_drops_the_shelf_need_not_hold(kept, shelf):
    for _ in range(MOST_LINES + 3):
        tell(kept, [raised()])
    assert shelf.ids == [f"7/{number}" for number in range(4, MOST_LINES + 4)]


def test_lines_of_before_a_restart_go_first_with_their_age_and_past_their_hour_are_counted(
    kept, shelf
):
    tell(kept, [raised()])
    before = [
        PhoneLine(id=f"6/{age_s}", at_s=T0_S - age_s, text=f"made {age_s} s ago")
        for age_s in (7200, PHONE_EXPIRY_S, PHONE_EXPIRY_S - 60, 600)
    ]
    shelf.ids += [line.id for line in before]
    kept.restore(before)
    batch = kept.next_urgent()
    _, *lines = payloads(batch.messages)
    assert lines == [
        "2 older lines were dropped while the broker was away: look at the page",
        f"59 min ago: made {PHONE_EXPIRY_S - 60} s ago",
        "10 min ago: made 600 s ago",
        "WARNING: jar-a: Look at wall.",
    ]
    assert batch.messages[2].expiry_s == 60  # the hour is that of the line, not of the restart
    kept.mark_lines_sent(batch)
    assert shelf.ids == []
    assert kept.next_urgent().messages == []


def test_lines_that_are_all_past_their_hour_are_counted_too(pending, clock):
    for _ in range(BATCH + 2):
        tell(pending, [raised()])
    pending.next_urgent()
    clock.now_s = PHONE_EXPIRY_S
    batch = pending.next_urgent()
    assert payloads(batch.messages) == [
        "12 older lines were dropped while the broker was away: look at the page"
    ]
    pending.mark_lines_sent(batch)
    assert pending.next_urgent().messages == []


def test_how_far_an_engine_is_behind_is_kept_for_who_connects_late(pending):
    state = Forwarding(
        engine="influx h:1",
        behind_s=840.0,
        waiting=2310,
        set_aside=1,
        refused="reading 7 of room: field type conflict",
        trouble="nothing listens there",
    )
    pending.take([replace(state, waiting=9), state])
    (message,) = pending.next_bulk()
    assert (message.topic, message.retain) == ("wickbench/b/forwarding", True)
    assert json.loads(message.payload) == {
        "engine": "influx h:1",
        "behind_s": 840.0,
        "waiting": 2310,
        "set_aside": 1,
        "refused": "reading 7 of room: field type conflict",
        "trouble": "nothing listens there",
        "text": "2310 points wait for it, the oldest for 14 min; nothing listens there; "
        "refused and set aside: 1, the latest reading 7 of room: field type conflict",
    }
    pending.renew()
    assert pending.next_bulk() == [message]
