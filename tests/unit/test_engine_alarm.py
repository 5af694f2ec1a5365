"""An engine that is behind: an alarm `delivery` by its name, graver than nothing, and no more."""

from dataclasses import replace

from logger.alarms.lifecycle import AlarmEvent, Priority
from logger.announcements import Announcer
from logger.quantities import Health, Part
from logger.service.alarm_program import AlarmProgram
from logger.words import Words
from tests.support.pipeline_bench import BROKER, Live, bench, lit, restarted

ENGINE = "influx 127.0.0.1:8086"


def news(ok, at_s, part=Part.FORWARDING, name=ENGINE):
    return Health(part=part, name=name, ok=ok, reason="nothing listens there", at_s=at_s)


def engine_alarms(live):
    return [
        event
        for event in live.of(AlarmEvent)
        if (event.alarm.finding.rule, event.alarm.finding.subject) == ("delivery", ENGINE)
    ]


def test_it_is_a_notice_even_beside_a_flame_and_ends_by_itself():
    live = Live()
    live.put(lit())
    live.put(news(False, live.now_s))
    live.wait(60)
    (raised,) = engine_alarms(live)
    assert raised.alarm.finding.priority is Priority.NOTICE
    assert raised.alarm.finding.text == (
        f"{ENGINE}: nothing listens there. Nothing is lost, and alarms go out all the same: "
        "what the engine does not have stays stored here"
    )
    live.put(news(True, live.now_s))
    live.wait(5)
    assert [one.what for one in engine_alarms(live)] == ["raised", "cleared"]


def test_it_is_told_on_the_phone_but_rings_no_bell_and_starts_no_program():
    live = Live()
    live.put(news(False, live.now_s))
    live.wait(60)
    (raised,) = engine_alarms(live)
    (line,) = Announcer(Words(), lambda: (), lambda: ()).announce([raised])
    assert line.line.startswith(f"NOTICE: {ENGINE}: nothing listens there.")
    assert (line.phone, line.calls) == (True, False)


def test_the_alarm_program_does_not_take_it_for_a_broken_broker():
    resort = AlarmProgram(["horn"])
    resort.take(news(False, 1.0))
    assert not resort._broken
    resort.take(news(False, 1.0, part=Part.DELIVERY, name=BROKER))
    assert resort._broken == {BROKER}


def test_its_alarm_is_closed_when_it_leaves_the_configuration():
    live = Live()
    live.put(news(False, live.now_s))
    live.wait(60)
    here = restarted(live, replace(bench(), delivery_routes=(BROKER, ENGINE)))
    assert not engine_alarms(here)
    gone = restarted(live, replace(bench(), delivery_routes=(BROKER,)))
    (closed,) = engine_alarms(gone)
    assert "no longer in the configuration" in closed.alarm.finding.text
