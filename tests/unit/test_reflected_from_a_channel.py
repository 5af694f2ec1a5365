"""What an infrared channel reflects is told by another channel: only while that is believable."""

import random
from dataclasses import replace

import pytest

from logger.alarms.lifecycle import AlarmEvent
from logger.pipeline import Memory, Pipeline
from logger.quantities import Estimate, Kind, Quality, Reading
from tests.support.pipeline_bench import ROOM, START_S, TWIN, WALL, Live, bench


def infrared_bench():
    plain = bench()
    channels = tuple(
        replace(one, kind=Kind.INFRARED, emissivity=0.92, reflected=ROOM)
        if one.name == WALL
        else one
        for one in plain.channels
    )
    return replace(plain, channels=channels)


def wall_of(live):
    return [one for one in live.of(Estimate) if one.channel == WALL][-1]


@pytest.mark.parametrize("said", [-127.0, 5000.0, -1e300], ids=["disconnected", "hot", "huge"])
def test_a_room_that_cannot_be_ends_nothing_and_is_not_believed(said):
    live = Live(Pipeline(infrared_bench(), START_S))
    live.run(60, wall=45.0, twin=45.0, room=22.0)
    assert wall_of(live).quality is Quality.GOOD
    before = wall_of(live).value
    live.run(120, wall=45.0, twin=45.0, room=said)
    after = wall_of(live)
    assert after.quality is Quality.DOUBTFUL
    assert after.value == pytest.approx(before, abs=0.3)  # 8 % of what the room may differ from 22
    live.run(120, wall=45.0, twin=45.0, room=22.0)
    assert wall_of(live).quality is Quality.GOOD


def test_a_restart_takes_such_readings_in_again():
    noise = random.Random(1)
    readings = [
        Reading(channel=name, value=value + noise.gauss(0.0, 0.2), at_s=START_S + second)
        for second in range(120)
        for name, value in ((WALL, 45.0), (TWIN, 45.0), (ROOM, -127.0))
    ]
    memory = Memory(readings=tuple(readings))
    live = Live(Pipeline(infrared_bench(), START_S + 120.0, memory), START_S + 120.0)
    live.run(30, wall=45.0, twin=45.0, room=-127.0)
    assert wall_of(live).quality is Quality.DOUBTFUL
    assert wall_of(live).value == pytest.approx(46.9, abs=0.5)


def test_a_wall_that_is_doubtful_only_for_the_room_is_warned_of_all_the_same():
    live = Live(Pipeline(infrared_bench(), START_S))
    live.run(60, wall=45.0, twin=45.0, room=22.0)
    live.run(400, wall=lambda s: min(66.0, 45.0 + (s - 60) * 0.08), twin=45.0)  # no room any more
    assert wall_of(live).quality is Quality.DOUBTFUL
    raised = [event.alarm.key for event in live.of(AlarmEvent) if event.what == "raised"]
    assert f"wall-limit/{WALL}" in raised
