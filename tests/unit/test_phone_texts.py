"""On the phone: what to do first, at most two sentences, and nothing essential left out."""

import re
from dataclasses import replace

import pytest

from logger.alarms import burn_rules, links, unlit
from logger.alarms import wall as wall_rules
from logger.alarms.battery import battery_low
from logger.alarms.foresight import wall_forecast
from logger.alarms.guard import Guard
from logger.alarms.lifecycle import Alarm, AlarmEvent, AlarmEventKind, AlarmState, Priority
from logger.alarms.sensor_faults import Sensors
from logger.announcements import Announcer
from logger.burn.entries import Danger
from logger.burn.forecast import Forecast
from logger.burn.model import Burn, BurnEvent, BurnEventKind
from logger.burn.safety import PUT_OUT, emergency_advice, shortened
from logger.burn.trace import Trace
from logger.conditioning.fault_context import FaultKind, SensorFault
from logger.quantities import BY_HAND, Estimate, Health, Part, Position, Quality, Rule
from logger.service import clock_health
from logger.timestamps import clock
from logger.words import Words
from tests.support.pipeline_bench import LIMITS, START_S, channel

NOW_S = START_S + 5 * 3600.0
WALL = channel("jar-a-wall-3")
ROOM = channel("room", Position.ROOM, station=None)
BURN = Burn(
    id="b", station="jar-a", trial="cedar-12", tester="M6", lit_s=START_S, checks=(), rested_s=60.0
)
WORDS = Words()


def estimate(value_c):
    return Estimate(
        channel=WALL.name,
        at_s=NOW_S,
        value=value_c,
        standard_uncertainty=0.2,
        repeatability=0.1,
        used=30,
        rejected=0,
        quality=Quality.GOOD,
    )


def trace():
    found = Trace()
    for second in range(0, 300, 5):
        found.add(NOW_S - 300.0 + second, 55.0 + second / 60.0)
    return found


def walls():
    limits = LIMITS.of(None)
    yield from wall_rules.wall(WALL, estimate(limits.limit_c + 0.5), limits, WORDS)
    yield from wall_rules.wall(WALL, estimate(limits.limit_c - 0.1), limits, WORDS)
    yield wall_rules.rise_rate(WALL, BURN, trace(), estimate(60.0), WORDS)
    yield wall_rules.flame_out(BURN, [])
    yield wall_rules.still_hot(BURN, 58.0, NOW_S, WORDS)
    yield unlit.hotter_after_out(BURN, [], 58.0, NOW_S, WORDS)
    yield unlit.warming_unlit("jar-a", None, [], 58.0, WORDS)
    forecast = Forecast(
        channel=WALL.name,
        at_s=NOW_S,
        target_s=NOW_S + 900.0,
        value_c=61.0,
        low_c=60.0,
        high_c=62.0,
        level=0.9,
        limit_c=60.0,
        over=0.9,
        crosses_s=NOW_S + 600.0,
        early=False,
    )
    yield wall_forecast(WALL, forecast, WORDS)


def burns():
    yield from burn_rules.burn_length(BURN, LIMITS, NOW_S)
    yield burn_rules.relit_too_soon(BURN, LIMITS)
    yield burn_rules.unchecked(BURN)
    yield burn_rules.mark(BURN, (NOW_S + 60.0 - BURN.lit_s,), NOW_S)
    yield burn_rules.unwatched(BURN, 1800.0, NOW_S)
    yield burn_rules.overdue_by_hand(BURN, START_S, NOW_S)
    for danger in Danger:
        yield burn_rules.emergency(Burn(id="b", station="jar-a", trial="c", lit_s=0, danger=danger))


def bench():
    for where in (WALL, ROOM):
        for lit in (True, False):
            yield links.silent(
                where, age_s=20, allowed_s=15, heard=True, lost=True, lit=lit, reason="unplugged"
            )
            for hot in (True, False):
                fault = SensorFault(
                    kind=FaultKind.STUCK, reason="it sends nothing but 41", remedy="unplug it"
                )
                yield Sensors([where], WORDS, 0.0)._finding(where, fault, lit=lit, hot=hot)
    yield links.room(ROOM, estimate(31.0), LIMITS, WORDS, lit=True)
    battery = Health(
        part=Part.INSTRUMENT, name="probe", ok=True, reason="", at_s=NOW_S, battery_percent=12
    )
    for lit in (True, False):
        yield battery_low(WALL, battery, lit=lit)
    for part in (Part.DELIVERY, Part.FORWARDING, Part.STORAGE):
        news = Health(part=part, name="it", ok=False, reason="no such host; look", at_s=NOW_S)
        yield links.health(news, lit=True)
    yield links.health(clock_health.clock_set(NOW_S, 3600.0), lit=True)
    guard = Guard(lambda *_: None, (), NOW_S)
    guard.note_failure("rules", NOW_S, ValueError(), None, None)
    guard.note_failure("estimate", NOW_S, ValueError(), WALL, "jar-a")
    yield from guard.findings(NOW_S, lambda _: True)


FINDINGS = [one.told() for one in (*walls(), *burns(), *bench())]


def announced(finding, what=AlarmEventKind.RAISED):
    alarm = Alarm(
        finding=finding,
        state=AlarmState.UNACKNOWLEDGED,
        since_s=NOW_S,
        raised_s=NOW_S,
        raised_value=finding.value,
    )
    event = AlarmEvent(id="x/1", time_s=NOW_S, what=what, alarm=alarm)
    (one,) = Announcer(WORDS, lambda: [BURN], lambda: []).announce([event])
    return one


def sentences(line):
    return re.split(r"(?<=[.?!]) ", line)


def test_every_rule_is_looked_at():
    assert {one.rule for one in FINDINGS} == set(Rule) - {Rule.CHECK}  # a trial, not an alarm


@pytest.mark.parametrize("what", [AlarmEventKind.RAISED, AlarmEventKind.REMINDED])
@pytest.mark.parametrize("finding", FINDINGS, ids=lambda one: one.rule)
def test_a_line_on_the_phone_has_two_sentences_at_most(finding, what):
    one = announced(finding, what)
    assert len(sentences(one.short)) <= 2, one.short
    assert one.short.split(":")[0] == one.line.split(":")[0]  # the signal word
    if finding.priority in (Priority.WARNING, Priority.DANGER):
        act = finding.text.partition(". ")[2]
        assert shortened(act)[1:20] in sentences(one.short)[0], one.short
        assert len(one.short) < 420, one.short


@pytest.mark.parametrize("danger", Danger)
def test_the_short_form_of_an_emergency_keeps_what_is_essential(danger):
    whole = ". ".join(emergency_advice(danger))
    text = shortened(whole)
    assert len(text) < len(whole)
    assert ". " not in text
    assert "if it is not out at once: everybody out, call the fire service" in text
    essential = {
        Danger.FLASH_OVER: (
            "Slide",
            "metal lid or tray",
            "from the side",
            "never lift",
            "no water",
        ),
        Danger.CRACK: ("Keep away", "do not touch the vessel", "only if you can reach it safely"),
    }.get(danger, ("snuffer or a flat metal lid", "from the side", "no water", "leave it covered"))
    for words in essential:
        assert words in text


def test_putting_out_stays_safe_in_short():
    (limit,) = (
        one for one in FINDINGS if one.rule == Rule.WALL_LIMIT and "over your limit" in one.text
    )
    line = announced(limit).short
    for words in ("snuffer or a flat metal lid", "no water", "do not blow, lift or move it"):
        assert words in sentences(line)[0]
    assert sentences(line)[0].startswith("WARNING: jar-a (cedar-12, M6): Go to the candle")


def test_hands_stay_away_from_a_sensor_beside_a_flame():
    of_sensors = [
        one
        for one in FINDINGS
        if one.rule in (Rule.SILENT, Rule.SENSOR_FAULT) and one.priority is Priority.WARNING
        if one.channel and one.station and "hand" in one.text
    ]
    assert len(of_sensors) == 2
    for one in of_sensors:
        assert "leave the sensor alone" in announced(one).short


def test_page_terminal_and_record_keep_the_whole_text():
    one = announced(next(one for one in FINDINGS if one.rule == Rule.EMERGENCY))
    assert "fire service from outside" in one.line
    assert one.events[0].alarm.finding.text.endswith("fire service from outside")


def test_the_end_of_the_watch_is_two_sentences_and_no_water():
    text = f"jar-a: the watch has ended. Nothing warns you any more: stay with it, or {PUT_OUT}"
    event = BurnEvent(
        id="b/1",
        time_s=NOW_S,
        since_s=NOW_S,
        station="jar-a",
        burn="b",
        event=BurnEventKind.WATCH_ENDED,
        text=text,
    )
    (one,) = Announcer(WORDS, lambda: [BURN], lambda: []).announce([event])
    assert len(sentences(one.short)) == 2
    assert "no water" in one.short


def test_a_repeated_line_says_when_the_alarm_was_raised():
    (unwatched,) = (one for one in FINDINGS if one.rule == Rule.UNWATCHED)
    one = announced(unwatched, AlarmEventKind.REMINDED)
    assert "; since " not in one.line
    assert re.search(r"has confirmed for 5 h .*; raised at \d\d:\d\d; not acknowledged", one.line)


def test_a_repeated_line_says_when_a_person_read_the_place():
    limits = LIMITS.of(None)
    by_hand = replace(WALL, instrument=BY_HAND)
    limit, _ = wall_rules.wall(by_hand, estimate(limits.limit_c + 5.5), limits, WORDS)
    one = announced(limit, AlarmEventKind.REMINDED)
    assert f"last read at {clock(NOW_S)} as 56.5 °C" in one.line
    assert "now 56.5" not in one.line
