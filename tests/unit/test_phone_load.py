"""What the phone is spared, and what it never is."""

from dataclasses import replace

import pytest

from logger.alarms.lifecycle import REMIND_EVERY_S, REMIND_FIRST_S, AlarmState
from logger.announcements import Announcer
from logger.burn.entries import Acknowledge, Danger, Emergency, InSight, Lit, ManualReading, Out
from logger.burn.model import BurnEvent
from logger.burn.safety import CHECKS
from logger.pipeline import Pipeline
from logger.quantities import Health, Part, Place, Position, Reading
from logger.words import Words
from tests.support.announced_bench import NINE, TWO_JARS, both_lit
from tests.support.pipeline_bench import START_S, Live, noisy, stamps


@pytest.fixture
def heard():
    return both_lit()


def at(value_c):
    return noisy(value_c, 0.1)


def lines_of(heard, word):
    return [line for line in heard.phone if word in line]


def state_of(heard, key):
    return next(alarm.state for alarm in heard.pipeline.alarms if alarm.key == key)


def test_the_next_place_over_the_limit_waits_for_the_repeat_of_the_first(heard):
    heard.run(50, jar_a_wall_3=at(61.5))
    assert len(lines_of(heard, "over your limit")) == 1
    heard.run(60, jar_a_wall_3=at(61.5), jar_a_wall_6=at(61.5))
    assert state_of(heard, "wall-limit/jar-a-wall-6") is AlarmState.UNACKNOWLEDGED  # on the page
    assert any("6 o'clock" in one.line for one in heard.steps if not one.phone)  # and terminal
    assert len(lines_of(heard, "limit of 60.0")) == 1
    heard.run(60, jar_a_wall_3=at(61.5), jar_a_wall_6=at(61.5))
    (repeated,) = lines_of(heard, "(repeated)")
    assert "(and 1 more place)" in repeated


def test_a_clearly_hotter_place_another_jar_and_an_emergency_are_told_at_once(heard):
    heard.run(50, jar_a_wall_3=at(61.5))
    heard.run(60, jar_a_wall_3=at(61.5), jar_a_wall_6=at(66.0))
    assert len(lines_of(heard, "over your limit")) == 2
    heard.run(60, jar_a_wall_3=at(61.5), jar_a_wall_6=at(66.0), jar_b_wall_3=at(61.5))
    assert "jar-b" in lines_of(heard, "over your limit")[2]
    entry = Emergency(**stamps(heard.live.now_s, "e"), station="jar-a", what=Danger.OTHER)
    heard.live.put(entry)
    assert heard.phone[-1].startswith("DANGER")


def test_a_next_place_is_told_at_once_where_the_first_was_acknowledged(heard):
    heard.run(50, jar_a_wall_3=at(61.5))
    heard.live.put(Acknowledge(**stamps(heard.live.now_s, "seen"), alarm="wall-limit/jar-a-wall-3"))
    heard.run(60, jar_a_wall_3=at(61.5), jar_a_wall_6=at(61.5))
    assert len(lines_of(heard, "over your limit")) == 2


def test_over_the_limit_is_over_once_no_place_of_the_jar_is(heard):
    heard.run(50, jar_a_wall_3=at(61.5))
    heard.run(150, jar_a_wall_3=at(61.5), jar_a_wall_6=at(61.5))
    heard.run(150, jar_a_wall_3=at(45.0), jar_a_wall_6=at(61.5))
    assert state_of(heard, "wall-limit/jar-a-wall-3") is AlarmState.RETURNED_UNACKNOWLEDGED
    assert lines_of(heard, "Over: limit") == []
    heard.run(150)
    assert lines_of(heard, "Over: limit") == [
        "Over: limit reached at jar-a (cedar-12, M6), 2 places"
    ]


def test_what_was_read_of_the_burn_before_is_not_said_to_be_over_in_the_next(heard):
    place, station = Place(position=Position.RIM), "jar-a"
    values = (71.0, 71.2, 70.8)
    read = stamps(heard.live.now_s, "read")
    heard.live.put(ManualReading(**read, station=station, place=place, values=values))
    assert len(lines_of(heard, "over your limit")) == 1
    heard.live.put(Out(**stamps(heard.live.now_s + 60, "out"), station=station))
    heard.live.now_s += 7200
    heard.lit(station, "oak-3", "T1")
    heard.run(90)
    assert state_of(heard, "wall-limit/jar-a-hand-rim") is AlarmState.RETURNED_UNACKNOWLEDGED
    (over,) = [one for one in heard.steps if one.line.startswith("Over: limit")]
    assert not over.phone


def test_all_that_waits_at_a_station_is_repeated_in_one_line_the_gravest_first(heard):
    def silent(seconds):
        for _ in range(seconds):
            for one in NINE:
                if one.name not in ("jar-a-wall-9", "jar-a-wall-12"):
                    value = hot(0) if one.name == "jar-a-wall-3" else 45.0
                    now_s = heard.live.now_s
                    heard.live.put(Reading(channel=one.name, value=value, at_s=now_s))
            heard.live.wait(1)

    hot = noisy(61.5, 0.1)
    silent(40)
    silent(int(REMIND_FIRST_S + 2 * REMIND_EVERY_S))
    repeats = [one for one in heard.steps if one.phone and "(repeated)" in one.line]
    assert 3 <= len(repeats) <= 4
    line = repeats[-1].line
    assert line.startswith("WARNING (repeated): jar-a (cedar-12, M6): Go to the candle: put it out")
    assert "Also not acknowledged: no reading (2 places)" in line
    assert {event.alarm.finding.rule for event in repeats[-1].events} >= {"wall-limit", "silent"}


def test_what_nobody_answers_is_repeated_less_often_on_the_phone_but_not_at_the_bench(heard):
    hot, seconds = at(61.5), int(REMIND_FIRST_S + 6 * REMIND_EVERY_S + 60)
    heard.run(60, jar_a_wall_3=hot)
    heard.run(seconds - 60, jar_a_wall_3=hot, every_s=10)
    repeats = [one for one in heard.steps if "(repeated)" in one.line]
    assert [one.calls for one in repeats] == [True] * 7
    assert [one.phone for one in repeats] == [True, True, True, False, True, False, True]
    assert [one.line.endswith("the phone repeats this every 10 min.") for one in repeats] == [
        number == 2 for number in range(7)
    ]
    heard.run(60, jar_a_wall_3=hot, jar_b_wall_3=hot)
    assert "jar-b" in heard.phone[-1]  # another jar is news
    before = len(heard.phone)
    heard.run(int(REMIND_EVERY_S), jar_a_wall_3=at(66.0), jar_b_wall_3=hot, every_s=10)
    repeats = [one for one in heard.phone[before:] if "jar-a" in one and "(repeated)" in one]
    assert "now 66" in repeats[0]  # though it was not the phone's turn yet: it is clearly hotter


def test_an_emergency_is_repeated_on_the_phone_each_time(heard):
    entry = Emergency(**stamps(heard.live.now_s, "e"), station="jar-a", what=Danger.OTHER)
    heard.live.put(entry)
    heard.run(int(REMIND_FIRST_S + 6 * REMIND_EVERY_S + 60), every_s=10)
    repeats = [one for one in heard.steps if "DANGER (repeated)" in one.line]
    assert [one.phone for one in repeats] == [True] * 7


def around_the_limit(heard, times):
    """A wall is over the limit for less than a minute and under it for two, `times`."""
    for _ in range(times):
        heard.run(45, jar_a_wall_3=at(61.5))
        heard.run(120, jar_a_wall_3=at(57.5))


def reached(heard):
    """What was announced of a limit that was reached."""
    return [
        one
        for one in heard.steps
        if any((e.alarm.finding.rule, e.what) == ("wall-limit", "raised") for e in one.events)
    ]


def test_a_wall_about_the_limit_is_told_twice_then_where_it_lasts_or_is_hotter(heard):
    around_the_limit(heard, 3)
    first, second, third = reached(heard)
    assert "comes and goes" not in first.line
    assert "It comes and goes; the next line follows when it lasts more than 2 min." in second.line
    assert [one.phone for one in (first, second, third)] == [True, True, False]
    assert third.calls  # the bell rings
    heard.run(200, jar_a_wall_3=at(61.5))
    assert [one.phone for one in reached(heard)] == [True, True, False, False]
    assert "reached your limit" in lines_of(heard, "WARNING (repeated)")[-1]
    heard.run(150, jar_a_wall_3=at(57.5))
    heard.run(60, jar_a_wall_3=at(64.5))
    assert reached(heard)[-1].phone


def test_a_wall_about_the_limit_is_news_to_whom_came(heard):
    around_the_limit(heard, 2)
    heard.run(70, jar_a_wall_3=at(61.5))
    heard.live.put(Acknowledge(**stamps(heard.live.now_s, "seen"), alarm="wall-limit/jar-a-wall-3"))
    heard.run(150, jar_a_wall_3=at(57.5))
    heard.run(70, jar_a_wall_3=at(61.5))
    assert [one.phone for one in reached(heard)] == [True, True, False, True]


def test_that_nobody_need_watch_any_more_is_not_told_besides_that_it_is_out():
    pipeline = Pipeline(replace(TWO_JARS, ask_every_s=1800.0), START_S)
    live = Live(pipeline)
    announcer = Announcer(Words(), lambda: pipeline.burns, lambda: pipeline.alarms)
    entry = Lit(**stamps(live.now_s, "lit"), station="jar-a", trial="cedar-12", watched_by="Ann")
    live.put(entry)
    live.wait(2400)
    announcer.announce(live.outputs)
    known = len(live.outputs)
    live.put(Out(**stamps(live.now_s, "out"), station="jar-a"))
    told = announcer.announce(live.outputs[known:])
    assert [one.phone for one in told if "nobody watching" in one.line] == [False]
    assert [one.line for one in told if one.phone][-1].endswith("recorded out")


def test_a_loose_plug_is_told_as_that_and_then_only_where_it_lasts(heard):
    for _ in range(5):
        heard.plug(ok=False)
        heard.live.wait(40)
        heard.plug(ok=True)
        heard.run(60)
    first, over, second, over_2 = heard.phone
    assert "comes and goes" not in first
    assert second.endswith(
        "It comes and goes; the next line follows when it lasts more than 2 min."
    )
    assert over.startswith("Over: no reading")
    assert over_2 == over
    raised = [one for one in heard.steps if len(one.events) == 9 and "WARNING" in one.line]
    assert len(raised) == 5  # the terminal has each, without its bell
    assert [one.calls for one in raised] == [True, True, False, False, False]
    heard.plug(ok=False)
    heard.live.wait(200)
    assert "(repeated)" in heard.phone[-1]
    assert "not being watched" in heard.phone[-1]
    heard.plug(ok=True)
    heard.run(3)
    assert heard.phone[-1] == over


def test_a_loose_plug_is_news_again_after_a_while_and_in_the_next_burn(heard):
    def pull():
        before = len(heard.phone)
        heard.plug(ok=False)
        heard.live.wait(40)
        heard.plug(ok=True)
        heard.run(10)
        return [line for line in heard.phone[before:] if "WARNING" in line]

    for _ in range(3):
        told = pull()
    assert told == []
    heard.run(900, every_s=10)
    (line,) = pull()
    assert "comes and goes" not in line
    pull()
    assert pull() == []
    for station in ("jar-a", "jar-b"):
        heard.live.put(Out(**stamps(heard.live.now_s, f"out-{station}"), station=station))
    heard.run(60)
    heard.lit("jar-a", "cedar-12", "M7")
    (line,) = pull()
    assert "jar-a (cedar-12, M7)" in line


def test_a_broker_that_comes_and_goes_likewise(heard):
    def broker(ok):
        heard.live.put(
            Health(part=Part.DELIVERY, name="mqtt", ok=ok, reason="gone", at_s=heard.live.now_s)
        )

    for _ in range(4):
        broker(ok=False)
        heard.run(60)
        broker(ok=True)
        heard.run(60)
    told = lines_of(heard, "do not reach the phone")
    assert len(told) == 2
    assert "comes and goes" in told[1]


def test_one_person_is_asked_once_for_all_candles_in_sight():
    pipeline = Pipeline(replace(TWO_JARS, ask_every_s=1800.0), START_S)
    live = Live(pipeline)
    announcer = Announcer(Words(), lambda: pipeline.burns, lambda: pipeline.alarms)

    def light(station, by):
        live.put(
            Lit(
                **stamps(live.now_s, f"lit-{station}"),
                station=station,
                trial="cedar-12",
                watched_by=by,
                checks=tuple(CHECKS.values()),
            )
        )

    def asked(seconds):
        found = []
        for _ in range(seconds):
            known = len(live.outputs)
            live.wait(1)
            told = announcer.announce(live.outputs[known:])
            found += [one.line for one in told if "in sight" in one.line]
        return found

    light("jar-a", "Ann")
    live.wait(600)
    light("jar-b", "Ann")
    (line,) = asked(1250)
    assert line.startswith("jar-a (cedar-12), jar-b (cedar-12): who has it in sight? Look")
    for station in ("jar-a", "jar-b"):
        live.put(InSight(**stamps(live.now_s, f"sight-{station}"), station=station))
    assert len(asked(1900)) == 1
    assert {one.station for one in live.of(BurnEvent) if one.event == "who-watches"} == {
        "jar-a",
        "jar-b",
    }
