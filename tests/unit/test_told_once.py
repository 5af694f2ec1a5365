"""Nothing is computed or worded twice for one moment, nor worded while nobody is told."""

import json

from logger.alarms.lifecycle import Alarm, AlarmEvent, Finding, Priority, Signal, Timing, step
from logger.burn.entries import Lit
from logger.conditioning import conditioner
from logger.pipeline import with_ticks
from logger.quantities import Estimate, Reading, Rule, Tick
from logger.store.codec import dump, load
from logger.words import Words
from tests.support.pipeline_bench import Live

HOT = Finding(
    rule=Rule.WALL_LIMIT,
    subject="wall",
    signal=Signal.ON,
    priority=Priority.WARNING,
    tell=lambda: "jar-a: hot. Go",
)


def lit():
    live = Live()
    live.put(Lit(at_s=live.now_s, entered_s=live.now_s, id="lit", station="jar-a", trial="cedar-6"))
    return live


def test_no_figure_becomes_words_while_nobody_is_told(monkeypatch):
    live, made = lit(), []
    written = Words.value
    monkeypatch.setattr(Words, "value", lambda *given: made.append(given) or written(*given))
    live.run(60, wall=41.0, twin=41.1, room=22.0)
    assert not live.of(AlarmEvent)
    assert made == []
    live = lit()
    live.run(60, wall=62.0, twin=61.5, room=22.0)
    assert ("raised", "wall-limit/jar-a-wall-3") in live.alarms()
    assert made


def test_a_channel_is_estimated_once_for_each_moment(monkeypatch):
    live, made = lit(), []
    monkeypatch.setattr(conditioner, "Estimate", lambda **a: made.append(a) or Estimate(**a))
    live.run(60, wall=41.0, twin=41.1, room=22.0)
    assert len(made) == 60 * (3 + 3)  # readings of three channels, ticks of three


def test_a_text_is_made_when_told_and_stays_as_it_was_told():
    alarm, (event,) = step(None, HOT, Timing(), 10.0)
    assert event.alarm.finding.text == "jar-a: hot. Go"
    stored = dump(alarm)
    assert "tell" not in json.loads(stored)["finding"]
    assert load(Alarm, stored) == alarm
    assert load(Alarm, stored).finding.told().text == "jar-a: hot. Go"
    waiting, events = step(None, HOT, Timing(on_delay_s=5.0), 10.0)
    assert (waiting.finding.text, events) == ("", ())


def test_whole_seconds_come_before_what_is_stamped_with_them():
    read = [Reading(channel="wall", value=20.0, at_s=at_s) for at_s in (10.0, 10.5, 12.0)]
    found = [(type(one) is Tick, one.at_s) for one in with_ticks(read)]
    assert found == [
        (True, 10.0),
        (False, 10.0),
        (False, 10.5),
        (True, 11.0),
        (True, 12.0),
        (False, 12.0),
    ]
    assert [one.at_s for one in with_ticks(read[:1], 8.2)] == [9.0, 10.0, 10.0]
