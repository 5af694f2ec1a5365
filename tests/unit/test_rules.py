"""What alarms are about and what happens to them, by their names of the outer surface."""

import json

import pytest
from pydantic import ValidationError

from logger import messages
from logger.alarms.lifecycle import AlarmEventKind
from logger.alarms.timings import TIMINGS
from logger.announcements import NAMES
from logger.burn.model import BurnEvent, BurnEventKind
from logger.quantities import Channel, Estimate, Place, Position, Quality, Quantity, Rule
from logger.store.codec import dump, load_event
from tests.support.pipeline_bench import WALL

# As a database holds them: text of these names, also of earlier versions.
ALARM = {
    "id": "bench/wall-limit/jar-a-wall-3/1",
    "time_s": 1_935_651_600.0,
    "what": "raised-again",
    "alarm": {
        "finding": {
            "rule": "wall-limit",
            "subject": WALL,
            "signal": "on",
            "priority": "warning",
            "text": "jar-a: wall is at 61.0 °C",
        },
        "state": "unacknowledged",
    },
}
BURN = {
    "id": "jar-a-1935651600/who-watches/-/2",
    "time_s": 1_935_653_400.0,
    "since_s": 1_935_653_400.0,
    "station": "jar-a",
    "burn": "jar-a-1935651600",
    "event": "who-watches",
}


def test_every_rule_has_its_timing_and_its_name_in_words():
    rules = set(Rule) - {Rule.CHECK}  # which is no alarm
    assert set(TIMINGS) == rules
    assert set(NAMES) == rules


def test_a_stored_alarm_event_is_of_a_known_rule_and_kind():
    event = load_event("alarm", json.dumps(ALARM))
    assert type(event.what) is AlarmEventKind
    assert type(event.alarm.finding.rule) is Rule
    again = json.loads(dump(event))
    assert (again["what"], again["alarm"]["finding"]["rule"]) == ("raised-again", "wall-limit")
    message = json.loads(json.dumps(messages.event(event)))
    assert (message["event"], message["rule"]) == ("raised-again", "wall-limit")


def test_a_stored_burn_event_is_of_a_known_kind():
    event = load_event("burn", json.dumps(BURN))
    assert isinstance(event, BurnEvent)
    assert event.event is BurnEventKind.WHO_WATCHES
    assert json.loads(dump(event))["event"] == "who-watches"


def test_a_stored_rule_that_nobody_knows_is_not_taken_for_one():
    wrong = {**ALARM["alarm"], "finding": {**ALARM["alarm"]["finding"], "rule": "wall-limits"}}
    with pytest.raises(ValidationError):
        load_event("alarm", json.dumps({**ALARM, "alarm": wrong}))


def test_a_channel_of_typed_readings_is_by_hand():
    place = Place(position=Position.RIM)
    typed = Channel(name="r", instrument="by-hand", quantity=Quantity.TEMPERATURE, place=place)
    assert typed.by_hand
    wired = Channel(name="r", instrument="board", quantity=Quantity.TEMPERATURE, place=place)
    assert not wired.by_hand


def test_expanded_uncertainty_is_twice_the_standard_one():  # k = 2, GUM 6.2.1
    sure = Estimate(
        channel="r",
        at_s=0.0,
        value=50.0,
        standard_uncertainty=0.3,
        repeatability=0.1,
        used=5,
        rejected=0,
        quality=Quality.GOOD,
    )
    assert (sure.expanded, sure.lower, sure.upper) == pytest.approx((0.6, 49.4, 50.6))
