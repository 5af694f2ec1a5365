"""A prediction about a burn ends with it, whatever became of the prediction meanwhile."""

import pytest

from logger.alarms.lifecycle import Alarm, AlarmEvent, AlarmState, Finding, Priority, Signal
from logger.pipeline import Memory, Pipeline
from logger.quantities import Rule
from tests.support.pipeline_bench import START_S, TWIN, WALL, Live, bench, lit, noisy, out


def standing(channel, burn, state=AlarmState.UNACKNOWLEDGED):
    finding = Finding(
        rule=Rule.WALL_FORECAST,
        subject=channel,
        station="jar-a",
        channel=channel,
        signal=Signal.ON,
        priority=Priority.CAUTION,
        text="jar-a: it will likely pass. Stay near",
    )
    return Alarm(finding=finding, state=state, since_s=START_S, burn=burn)


@pytest.mark.parametrize(
    "state", [AlarmState.UNACKNOWLEDGED, AlarmState.ACKNOWLEDGED, AlarmState.SHELVED]
)
def test_it_ends_when_the_candle_is_recorded_out_also_one_that_is_made_no_more(state):
    first = Live()
    first.put(lit())
    (burn,) = first.pipeline.burns
    memory = Memory(burns=(burn,), alarms=(standing(TWIN, burn.id, state),))
    live = Live(Pipeline(bench(), START_S, memory))  # nothing is heard of this place any more
    live.run(60, wall=noisy(45.0))
    assert live.alarms("wall-forecast") == []
    outputs = live.put(out(live.now_s))
    ended = [one for one in outputs if isinstance(one, AlarmEvent)]
    assert [(one.what, one.alarm.key) for one in ended] == [("cleared", f"wall-forecast/{TWIN}")]
    assert ended[0].alarm.state is AlarmState.NORMAL
    assert "has ended" in ended[0].alarm.finding.text


def test_one_of_an_earlier_burn_does_not_stand_in_the_next():
    first = Live()
    first.put(lit())
    (burn,) = first.pipeline.burns
    memory = Memory(burns=(burn,), alarms=(standing(WALL, "jar-a-1"),))
    live = Live(Pipeline(bench(), START_S, memory))
    live.run(3, wall=noisy(45.0))
    assert live.alarms("wall-forecast") == [("cleared", f"wall-forecast/{WALL}")]
