"""What a person is told: one cause, one line, and what it says."""

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
from logger.alarms.timings import TIMINGS
from logger.announcements import NAMES, Announcer
from logger.burn.entries import Acknowledge, Danger, Emergency, Lit
from logger.burn.model import Burn, BurnEvent, BurnEventKind
from logger.burn.safety import GET_OUT
from logger.errors import Refused
from logger.messages import LONGEST_LINE
from logger.quantities import Reading, Rule
from logger.timestamps import clock
from logger.words import Words
from tests.support.announced_bench import NINE, both_lit
from tests.support.pipeline_bench import START_S, Live, noisy, out, stamps


@pytest.fixture
def heard():
    return both_lit()


def test_a_plug_with_nine_places_is_one_line_that_names_every_station(heard):
    heard.plug(ok=False)
    heard.live.wait(30)
    (line,) = heard.phone
    assert line.startswith("WARNING: jar-a (cedar-12, M6), jar-b (oak-3, T1): Look at the candle")
    assert "4 places of jar-a, 4 places of jar-b, room: not being watched" in line
    assert "(the port is gone)" in line
    assert [len(one.events) for one in heard.steps] == [9]
    heard.plug(ok=True)
    heard.run(3)
    assert heard.phone[1:] == [
        "Over: no reading at jar-a (cedar-12, M6), 4 places; jar-b (oak-3, T1), 4 places; room"
    ]


def test_places_polled_one_after_the_other_fall_silent_together(heard):
    for one in NINE:  # each half a second after the one before
        heard.live.now_s += 0.5
        heard.live.put(Reading(channel=one.name, value=45.0, at_s=heard.live.now_s))
    heard.plug(ok=False)
    heard.live.wait(40)
    assert len(heard.phone) == 1
    assert len(heard.steps[0].events) == 9


def test_a_channel_that_is_still_heard_is_not_lost_with_its_instrument(heard):
    heard.plug(ok=False)  # of one device on a bus: the others answer
    for _ in range(40):
        heard.live.put(Reading(channel="jar-b-wall-3", value=45.0, at_s=heard.live.now_s))
        heard.live.wait(1)
    assert len(heard.steps[0].events) == 8


def test_over_waits_for_the_last_of_the_line(heard):
    heard.plug(ok=False)
    heard.live.wait(30)
    heard.plug(ok=True)
    for second in range(3):
        for one in NINE[: 1 + 4 * second]:
            heard.live.put(Reading(channel=one.name, value=45.0, at_s=heard.live.now_s))
        heard.live.wait(1)
        assert len(heard.phone) == (2 if second >= 2 else 1)


def test_one_acknowledgement_is_for_the_line_and_on_the_page_for_what_it_names(heard):
    heard.plug(ok=False)
    heard.live.wait(30)
    entry = Acknowledge(**stamps(heard.live.now_s, "seen-1"), alarm="silent/jar-b-wall-6")
    assert len(heard.live.put(entry)) == 1
    entry = Acknowledge(
        **stamps(heard.live.now_s, "seen-2"), alarm="silent/jar-a-wall-3", together=True
    )
    assert len(heard.live.put(entry)) == 8
    assert heard.steps[-1].line == (
        "Acknowledged by Ann: no reading at jar-a (cedar-12, M6), 4 places; "
        "jar-b (oak-3, T1), 3 places; room"
    )
    heard.live.wait(300)
    assert len(heard.phone) == 1  # nothing is left to be repeated
    with pytest.raises(Refused, match="nothing to acknowledge"):
        heard.live.put(replace(entry, id="seen-3"))


def test_caution_and_warning_of_one_reading_are_one_line(heard):
    heard.run(120, jar_a_wall_3=70.0)
    walls = [line for line in heard.phone if "your limit" in line]
    assert len(walls) == 1
    assert walls[0].startswith(
        "WARNING: jar-a (cedar-12, M6): Go to the candle: put it out with a snuffer"
    )
    assert walls[0].endswith("over your limit of 60.0 °C.")


def test_a_repeated_warning_says_what_was_and_what_is(heard):
    warm = noisy(61.5, 0.1)
    heard.run(120, jar_a_wall_3=lambda _: warm(0))
    raised_s = heard.live.now_s
    heard.live.put(out(heard.live.now_s))
    held = noisy(59.6, 0.1)
    heard.run(120, jar_a_wall_3=lambda _: held(0))
    (line,) = [line for line in heard.phone if "(repeated)" in line]
    (alarm,) = [one for one in heard.pipeline.alarms if one.finding.rule == "wall-limit"]
    first = f"{alarm.raised_value:.1f} °C"
    assert line.startswith("WARNING (repeated): jar-a (cedar-12, M6): Go to the candle: put it out")
    assert f"reached your limit of 60.0 °C at {clock(alarm.since_s)} ({first}), now 5" in line
    assert line.endswith(f"; recorded out at {clock(raised_s)}; not acknowledged.")


def alarm_event(rule, what="raised", **changes):
    changes = {"station": "jar-a", "priority": Priority.WARNING} | changes
    finding = Finding(rule=Rule(rule), subject="x", signal=Signal.ON, **changes)
    alarm = Alarm(
        finding=finding, state=AlarmState.UNACKNOWLEDGED, since_s=START_S, raised_s=START_S
    )
    return AlarmEvent(id="x/1", time_s=START_S, what=AlarmEventKind(what), alarm=alarm)


def announced(*outputs, **burn):
    burns = [Burn(id="b", station="jar-a", lit_s=START_S, **burn)] if burn else []
    return Announcer(Words(), lambda: burns, lambda: ()).announce(outputs)


def test_the_countdown_of_a_prediction_is_that_of_the_moment():
    event = alarm_event(
        "wall-forecast",
        priority=Priority.CAUTION,
        text="jar-a: wall will likely pass. Stay near",
        expected_s=START_S + 1200.0,
    )
    (one,) = announced(event)
    assert one.line == (
        "CAUTION: jar-a: Stay near. Wall will likely pass; it reaches the limit in 20 min."
    )
    (later,) = announced(replace(event, time_s=START_S + 600.0))
    assert "in 10 min" in later.line


def test_what_to_do_in_the_worst_emergency_is_not_cut_off():
    live = Live()
    long = "a trial with a name of a hundred letters" * 3
    live.put(Lit(**stamps(START_S), station="jar-a", trial=long[:100], tester=long))
    for danger in Danger:
        entry = Emergency(
            **stamps(live.now_s, f"e-{danger}"), station="jar-a", what=danger, text="help"
        )
        outputs = live.put(entry)
        made = Announcer(
            Words(), lambda: live.pipeline.burns, lambda: live.pipeline.alarms
        ).announce(outputs)
        for one in made:
            assert len(one.line) <= LONGEST_LINE
        if danger is Danger.FLAME_TOO_HIGH:
            assert made[0].line.startswith("DANGER: jar-a (a trial with")
            assert made[0].line.endswith(f"{GET_OUT}.")


def test_words_of_others_stay_one_plain_line():
    words = "jar-a: \x1b[2Jhot\r\nWARNING: \u202efake\u2028\x00 \ud800end"
    event = BurnEvent(
        id="b/1",
        time_s=0.0,
        since_s=0.0,
        station="jar-a",
        burn="b",
        event=BurnEventKind.LIT,
        text=words,
    )
    (one,) = announced(event, trial="<b>\x07", tester="\n")
    assert one.line == "jar-a (<b>):  [2Jhot WARNING:  fake   end"


@pytest.mark.parametrize(
    ("event", "phone"),
    [("lit", True), ("watch-resumed", True), ("note", False), ("emergency", False)],
)
def test_which_events_of_a_burn_are_for_the_phone(event, phone):
    found = BurnEvent(
        id="b/1",
        time_s=0.0,
        since_s=0.0,
        station="jar-a",
        burn="b",
        event=BurnEventKind(event),
        text="jar-a: so",
    )
    (one,) = announced(found, trial="cedar-12", tester="M6")
    assert (one.line, one.phone, one.calls) == ("jar-a (cedar-12, M6): so", phone, False)


def test_over_is_for_the_phone_only_where_it_heard_a_warning():
    warned = replace(alarm_event("silent", "returned", text="jar-a: x"), over=True)
    for event, phone in ((warned, True), (replace(warned, over=False), False)):
        (one,) = announced(event)
        assert (one.phone, one.calls) == (phone, False)


def test_every_rule_has_a_name():
    assert set(NAMES) >= set(TIMINGS)
