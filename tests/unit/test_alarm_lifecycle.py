"""The life of an alarm: states of IEC 62682 (from memory), delays and reminders of our own."""

from dataclasses import replace

import pytest
from hypothesis import given
from hypothesis import strategies as st

from logger.alarms import lifecycle
from logger.alarms.lifecycle import Alarm, AlarmState, Finding, Priority, Signal, Timing
from logger.errors import Refused

AT_ONCE = Timing()


def finding(signal: Signal, priority: Priority = Priority.CAUTION) -> Finding:
    return Finding(
        rule="wall-alert", subject="jar-a-wall", signal=signal, priority=priority, text="hot"
    )


def run(steps, timing=AT_ONCE, alarm=None):
    """Fold (at_s, signal[, priority]) steps; returns the alarm and what happened when."""
    happened = []
    for at_s, *what in steps:
        alarm, events = lifecycle.step(alarm, finding(*what), timing, at_s)
        happened.extend((at_s, event.what) for event in events)
        due_s = lifecycle.repeats_s(alarm, finding(*what), timing)
        if due_s is not None and due_s <= at_s:
            alarm, events = lifecycle.repeat(alarm, finding(*what), at_s)
            happened.extend((at_s, event.what) for event in events)
    return alarm, happened


def test_raised_returned_and_acknowledged_ends_in_normal():
    alarm, happened = run([(0, Signal.ON), (5, Signal.OFF)])
    assert happened == [(0, "raised"), (5, "returned")]
    assert alarm.state is AlarmState.RETURNED_UNACKNOWLEDGED
    alarm, events = lifecycle.acknowledge(alarm, 9.0, by="Ann", where="page")
    assert [event.what for event in events] == ["acknowledged"]
    assert (alarm.state, alarm.acknowledged_by) == (AlarmState.NORMAL, "Ann")


def test_acknowledged_then_returned_ends_in_normal():
    alarm, _ = run([(0, Signal.ON)])
    alarm, _ = lifecycle.acknowledge(alarm, 1.0, by="", where="page")
    assert alarm.state is AlarmState.ACKNOWLEDGED
    alarm, happened = run([(4, Signal.OFF)], alarm=alarm)
    assert (alarm.state, happened) == (AlarmState.NORMAL, [(4, "cleared")])


def test_an_alarm_that_comes_back_before_it_is_acknowledged_is_raised_again_as_itself():
    alarm, happened = run([(0, Signal.ON), (5, Signal.OFF), (9, Signal.ON)])
    assert happened == [(0, "raised"), (5, "returned"), (9, "raised")]
    assert alarm.count == 3


def test_the_deadband_neither_raises_nor_returns():
    _, happened = run([(0, Signal.HOLD), (1, Signal.ON), (2, Signal.HOLD), (99, Signal.HOLD)])
    assert happened == [(1, "raised")]


def test_on_delay_starts_anew_when_interrupted():
    steps = [(0, Signal.ON), (9, Signal.HOLD), (10, Signal.ON), (19, Signal.ON), (20, Signal.ON)]
    alarm, happened = run(steps, Timing(on_delay_s=10.0))
    assert happened == [(20, "raised")]
    assert alarm.since_s == 10


def test_off_delay_holds_the_alarm():
    _, happened = run(
        [(0, Signal.ON), (5, Signal.OFF), (14, Signal.OFF), (15, Signal.OFF)],
        Timing(off_delay_s=10.0),
    )
    assert happened == [(0, "raised"), (15, "returned")]


def test_still_on_after_acknowledging_is_raised_again_once_per_wait():
    timing = Timing(raise_again_s=600.0)
    alarm, _ = run([(0, Signal.ON)], timing)
    alarm, _ = lifecycle.acknowledge(alarm, 10.0, by="", where="page")
    alarm, happened = run([(t, Signal.ON) for t in range(11, 1500)], timing, alarm)
    assert happened == [(610, "raised-again")]
    assert (alarm.state, alarm.since_s) == (AlarmState.UNACKNOWLEDGED, 0)


def test_an_unacknowledged_warning_is_told_again_after_two_minutes_then_every_five():
    _, happened = run([(t, Signal.ON, Priority.WARNING) for t in range(1000)])
    assert happened == [(0, "raised"), (120, "reminded"), (420, "reminded"), (720, "reminded")]
    _, happened = run([(t, Signal.ON, Priority.CAUTION) for t in range(1000)])
    assert happened == [(0, "raised")]


def test_a_graver_finding_is_raised_again_though_acknowledged():
    alarm, _ = run([(0, Signal.ON, Priority.CAUTION)])
    alarm, _ = lifecycle.acknowledge(alarm, 1.0, by="", where="page")
    alarm, happened = run([(2, Signal.ON, Priority.WARNING)], alarm=alarm)
    assert happened == [(2, "raised-again")]
    assert alarm.finding.priority is Priority.WARNING


def test_a_notice_that_ends_leaves_nothing_to_acknowledge():
    alarm, happened = run([(0, Signal.ON, Priority.NOTICE), (1, Signal.OFF, Priority.NOTICE)])
    assert (alarm.state, happened) == (AlarmState.NORMAL, [(0, "raised"), (1, "cleared")])


def test_shelved_is_silent_until_its_time_is_up():
    alarm, _ = run([(0, Signal.ON)])
    alarm, _ = lifecycle.shelve(alarm, 1.0, 100.0)
    alarm, happened = run([(t, Signal.ON) for t in range(2, 150)], alarm=alarm)
    assert happened == [(100, "raised")]
    assert alarm.state is AlarmState.UNACKNOWLEDGED


def test_shelved_as_a_caution_and_then_a_warning_is_raised_at_once():
    alarm, _ = run([(0, Signal.ON)])
    alarm, _ = lifecycle.shelve(alarm, 1.0, 1000.0)
    alarm, happened = run(
        [(2, Signal.ON), (3, Signal.ON, Priority.WARNING), (123, Signal.ON, Priority.WARNING)],
        alarm=alarm,
    )
    assert happened == [(3, "raised"), (123, "reminded")]
    assert alarm.shelved_until_s is None


def test_what_is_raised_when_its_shelf_time_is_up_says_what_is_so_then():
    alarm, _ = run([(0, Signal.ON)])
    alarm, _ = lifecycle.shelve(alarm, 1.0, 100.0)
    later = replace(finding(Signal.ON), text="hotter")
    alarm, events = lifecycle.step(alarm, later, AT_ONCE, 100.0)
    assert [event.what for event in events] == ["raised"]
    assert (alarm.finding.text, alarm.shelved_until_s) == ("hotter", None)


def test_acknowledged_and_no_longer_over_the_line_is_not_raised_again():
    timing = Timing(raise_again_s=600.0)
    alarm, _ = run([(0, Signal.ON)], timing)
    alarm, _ = lifecycle.acknowledge(alarm, 10.0, by="", where="page")
    alarm, happened = run([(t, Signal.HOLD) for t in range(11, 1500)], timing, alarm)
    assert happened == []
    _, happened = run([(1500, Signal.ON)], timing, alarm)
    assert happened == [(1500, "raised-again")]


@pytest.mark.parametrize("priority", [Priority.WARNING, Priority.DANGER])
def test_what_is_grave_cannot_be_shelved(priority):
    alarm, _ = run([(0, Signal.ON, priority)])
    with pytest.raises(Refused, match="cannot be shelved"):
        lifecycle.shelve(alarm, 1.0, 100.0)


def test_shelving_needs_an_end():
    alarm, _ = run([(0, Signal.ON)])
    with pytest.raises(Refused, match="until when"):
        lifecycle.shelve(alarm, 5.0, 5.0)


def test_acknowledging_a_normal_alarm_is_refused():
    alarm, _ = run([(0, Signal.ON, Priority.NOTICE), (1, Signal.OFF, Priority.NOTICE)])
    with pytest.raises(Refused, match="nothing to acknowledge"):
        lifecycle.acknowledge(alarm, 2.0, by="", where="page")


@given(st.lists(st.sampled_from([*Signal, "acknowledge", "shelve"]), max_size=60), st.booleans())
def test_event_ids_never_repeat_and_raised_alternates_with_its_end(actions, delayed):
    timing = Timing(on_delay_s=2.0, off_delay_s=3.0) if delayed else Timing()
    alarm: Alarm | None = None
    ids, standing = set(), False
    for at_s, action in enumerate(actions):
        try:
            if action == "acknowledge" and alarm is not None:
                alarm, events = lifecycle.acknowledge(alarm, at_s, by="", where="")
            elif action == "shelve" and alarm is not None:
                alarm, events = lifecycle.shelve(alarm, at_s, at_s + 5.0)
            elif isinstance(action, Signal):
                alarm, events = lifecycle.step(alarm, finding(action), timing, at_s)
            else:
                continue
        except Refused:
            continue
        for event in events:
            assert event.id not in ids
            ids.add(event.id)
            if event.what == "raised":
                assert not standing
            standing = event.alarm.state in (AlarmState.UNACKNOWLEDGED, AlarmState.ACKNOWLEDGED)
