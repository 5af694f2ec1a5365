"""What a hanging disk gives only after the start: the lit candle is known again."""

import pytest
from store_fixtures import AT_S, Evening

from logger.burn.entries import Acknowledge
from logger.burn.model import Burn, BurnEvent
from logger.errors import Refused
from logger.pipeline import Memory, Recalled


def remembered():
    """As a database holds it after an evening over the limit."""
    before = Evening().hot()
    return Memory(
        burns=before.pipeline.burns,
        alarms=before.pipeline.alarms,
        entries=tuple(
            (item, None) for item, _ in before.steps if type(item).__name__ == "ManualReading"
        ),
        burn_events={before.pipeline.burns[0].id: 2},
    )


def acknowledge(alarm):
    at_s = AT_S + 205.0
    return Acknowledge(at_s=at_s, entered_s=at_s, id="ack-2", alarm=alarm)


def test_the_lit_candle_and_its_alarms_are_known_again_and_it_is_said():
    memory = remembered()
    late = Evening(at_s=AT_S + 200.0)
    with pytest.raises(Refused):
        late.note(201.0)
    _, outputs = late.step(Recalled(at_s=AT_S + 202.0, memory=memory))
    (event,) = [one for one in outputs if isinstance(one, BurnEvent)]
    assert event.id.endswith("/watch-resumed/-/3")  # it counts on
    assert "Go and look" in event.text
    assert late.pipeline.burns == memory.burns
    assert {alarm.key for alarm in late.pipeline.alarms} == {a.key for a in memory.alarms}
    late.step(acknowledge("wall-alert/jar-a-wall-3"))
    _, outputs = late.note(206.0)
    assert any(isinstance(one, Burn) for one in outputs)


def test_what_was_entered_meanwhile_stands_above_it():
    late = Evening(at_s=AT_S + 200.0)
    late.lit(201.0)
    (burn,) = late.pipeline.burns
    _, outputs = late.step(Recalled(at_s=AT_S + 202.0, memory=remembered()))
    assert late.pipeline.burns == (burn,)
    assert not [one for one in outputs if isinstance(one, BurnEvent)]
