"""The publisher against a real broker: what is heard, also when broker or service fails."""

import asyncio
import json
import signal
import subprocess
import sys
import textwrap

import pytest

from logger.publish.broker_link import BrokerLink
from logger.publish.credentials import Credentials
from logger.publish.topics import Message
from tests.support.mqtt_bench import (
    ALARM,
    T0_S,
    Bench,
    Gate,
    ended,
    estimate,
    raised,
    settings_for,
    status,
)
from tests.support.waiting import patient


async def test_says_online_and_at_a_stop_its_own_offline(broker, listening):
    async with listening(broker) as ear:
        async with Bench(settings_for(broker)).running():
            await ear.hear("status", "online")
        await ear.hear("status", "offline")
    assert "Sending DISCONNECT" not in broker.log
    assert ear.of("status") == ["online", "offline"]
    assert ear.of("event") == []  # nothing was lit


async def test_a_message_is_on_its_way_before_the_loop_turns(broker):
    settings = settings_for(broker)
    link = BrokerLink(settings, Credentials.read(settings), "wickbench-at-once")
    await link.open(5.0)
    sending = asyncio.create_task(link.send(Message(topic="a", payload=b"b")))
    await asyncio.sleep(0)
    assert not link._client.want_write()
    assert await sending == {}
    # Whoever still watched whether it may write would turn the loop without end.
    assert not asyncio.get_running_loop().remove_writer(link._client.socket())
    await link.leave(5.0)


async def test_a_late_subscriber_sees_the_present_state(broker, listening):
    bench = Bench(settings_for(broker))
    async with bench.running():
        async with listening(broker) as early:
            bench.take([estimate(41.0), estimate(42.0), status(), raised()])
            for topic in ("channel/wall", "burn/jar-a", "wall-limit/wall", "phone"):
                await early.hear(topic)
            bench.take([estimate(43.5)])
            await early.until(lambda _: len(early.of("channel/wall")) > 1)
        async with listening(broker) as late:
            for topic in ("status", "channel/wall", "burn/jar-a", "wall-limit/wall"):
                assert (await late.hear(topic)).retained
    assert json.loads(late.of("channel/wall")[0])["value"] == 43.5
    assert json.loads(late.of("burn/jar-a")[0])["state"] == "lit"
    assert json.loads(late.of(ALARM)[0])["state"] == "unacknowledged"
    assert late.of("status") == ["online"]
    assert late.of("phone") == []


async def test_an_alarm_that_is_normal_is_emptied(broker, listening):
    bench = Bench(settings_for(broker))
    async with listening(broker) as ear, bench.running():
        event = raised()
        bench.take([event])
        await ear.hear(ALARM)
        bench.take([ended(event)])
        await ear.hear(ALARM, "")
        async with listening(broker) as late:
            await late.hear("status")
            assert late.of(ALARM) == []


async def test_phone_lines_and_heartbeat(broker, listening):
    bench = Bench(settings_for(broker))
    async with listening(broker) as ear, bench.running():
        await bench.until_health(ok=True)
        bench.take([raised()])
        bench.publisher.take_heartbeat(T0_S + 5.0)
        phone = await ear.hear("/phone")
        beat = await ear.hear("/heartbeat")
        bench.take([raised("rim")])
        await ear.until(lambda _: len(ear.of("/phone")) > 1)
        await ear.hear("wall-limit/rim")
        assert len(ear.of("/phone")) == 2  # each once
    assert phone.payload == "WARNING: jar-a: Go to the candle. At your limit."
    assert (phone.qos, phone.retained) == (1, False)
    assert 3590 < phone.properties.MessageExpiryInterval <= 3600
    assert beat.payload == "2031-04-26T20:00:05Z"
    assert not beat.retained


async def test_a_stop_says_what_waits_and_the_last_events_before_offline(broker, listening):
    async with listening(broker) as ear:
        bench = Bench(settings_for(broker))
        async with bench.running():
            await bench.until_health(ok=True)
            bench.take([raised()])
            bench.shelf.add(1)
        await ear.hear("status", "offline")
    assert ear.of(ALARM)
    assert ear.of("phone")
    assert "note/-/0" in ear.of("event")[-1]
    assert ear.messages[-1].payload == "offline"


async def test_events_go_out_in_order_and_are_marked_once_confirmed(broker, listening):
    bench = Bench(settings_for(broker))
    bench.shelf.add(120)
    async with listening(broker) as ear, bench.running():
        await bench.shelf.until_marked(120)
        bench.shelf.add(3)
        bench.publisher.wake()
        await bench.shelf.until_marked(123)
        await ear.until(lambda _: len(ear.of("event")) == 123)
    assert ear.of("event") == [event.payload for event in bench.shelf.events]


async def test_an_event_that_the_store_cannot_mark_goes_out_once(broker, listening):
    bench = Bench(settings_for(broker))
    bench.shelf.full = True
    bench.shelf.add(2)
    async with listening(broker) as ear, bench.running():
        await ear.until(lambda _: len(ear.of("event")) == 2)
        bench.shelf.add(1)
        bench.publisher.wake()
        await ear.until(lambda _: len(ear.of("event")) == 3)
        bench.shelf.full = False
        bench.shelf.add(1)
        bench.publisher.wake()
        await bench.shelf.until_marked(4)
    assert ear.of("event") == [event.payload for event in bench.shelf.events]


SERVICE = """
    import asyncio, json, sys
    from logger.publish.mqtt import Publisher
    from logger.settings import MqttSettings

    class Nothing:
        async def waiting_events(self, limit):
            return []

    settings = MqttSettings(host="127.0.0.1", port=int(sys.argv[1]))
    publisher = Publisher(
        settings, "back-room", Nothing(), channel_of=None, report=lambda _: None, now=lambda: 0.0
    )
    asyncio.run(publisher.run())
"""


@pytest.fixture
def service(broker):
    """A publisher in a process of its own, to be killed."""
    process = subprocess.Popen([sys.executable, "-c", textwrap.dedent(SERVICE), str(broker.port)])
    yield process
    process.kill()
    process.wait(patient(10))


async def test_after_a_kill_the_will_says_offline(broker, listening, service):
    async with listening(broker) as ear:
        await ear.hear("status", "online")
        service.send_signal(signal.SIGKILL)
        await ear.hear("status", "offline")
        async with Bench(settings_for(broker)).running():
            await ear.until(lambda _: ear.of("status")[-1] == "online")


async def test_a_half_open_connection_cannot_overwrite_online(broker, listening, service):
    """The old connection is still open at the broker when the service comes back."""
    async with listening(broker) as ear:
        await ear.hear("status", "online")
        service.send_signal(signal.SIGSTOP)  # it says nothing, its socket stays open
        async with Bench(settings_for(broker)).running():
            await ear.until(lambda _: ear.of("status") == ["online", "offline", "online"])
            async with listening(broker) as late:
                await late.hear("status", "online")


async def test_broker_killed_and_back_nothing_is_missing(broker, listening):
    gate = Gate()
    bench = Bench(settings_for(broker), sleep=gate.sleep)
    async with bench.running():
        async with listening(broker) as before:
            bench.shelf.add(500)
            bench.publisher.wake()
            await before.until(lambda _: len(before.of("event")) >= 30)
            broker.kill()
            await before.until_gone()
        assert len(before.of("event")) < 500, "the broker was killed too late for this test"
        await bench.until_health(ok=False)
        bench.take([raised(), estimate(50.0), status()])
        broker.start()
        async with listening(broker) as after:
            gate.open()
            await bench.shelf.until_marked(500)
            for topic in ("/phone", "channel/wall", "burn/jar-a", ALARM):
                await after.hear(topic)
            await after.hear("event", bench.shelf.events[-1].payload)
    heard = [*before.of("event"), *after.of("event")]
    in_order = [event.payload for event in bench.shelf.events]
    assert list(dict.fromkeys(heard)) == in_order


async def test_a_broker_that_forgot_is_told_the_whole_present_state(broker, listening):
    bench = Bench(settings_for(broker))
    async with bench.running():
        async with listening(broker) as before:
            bench.take([raised(), estimate(50.0), status()])
            for topic in ("channel/wall", "burn/jar-a", ALARM, "/phone"):
                await before.hear(topic)
            broker.kill()
            await before.until_gone()
        broker.start()
        async with listening(broker) as after:
            for topic in ("channel/wall", "burn/jar-a", ALARM):
                await after.hear(topic)


async def test_present_alarms_come_before_waiting_events(broker, listening):
    broker.stop()
    gate = Gate()
    bench = Bench(settings_for(broker), sleep=gate.sleep)
    bench.shelf.add(5)
    async with bench.running():
        await bench.until_health(ok=False)
        bench.take([raised(f"wall-{i}") for i in range(40)])
        broker.start()
        async with listening(broker) as ear:
            gate.open()
            await ear.until(lambda _: len(ear.of("event")) == 5)
    topics = [heard.topic.rpartition("/")[2] for heard in ear.messages]
    first_event = topics.index("event")
    assert {f"wall-{i}" for i in range(40)} <= set(topics[:first_event])


async def test_an_alarm_that_ended_while_the_broker_was_away_is_emptied(start_broker, listening):
    broker = start_broker("allow_anonymous true", "persistence true", "persistence_location ./")
    gate = Gate()
    bench = Bench(settings_for(broker), sleep=gate.sleep)
    event = raised()
    async with bench.running():
        async with listening(broker) as ear:
            bench.take([event])
            await ear.hear(ALARM)
        broker.stop()
        await bench.until_health(ok=False)
        bench.take([ended(event)])
        broker.start()
        async with listening(broker) as ear:
            assert (await ear.hear(ALARM)).retained
            gate.open()
            await ear.hear(ALARM, "")
    broker.kill()


async def test_a_station_that_left_the_configuration_is_emptied(broker, listening):
    first = Bench(settings_for(broker))
    async with listening(broker) as ear:
        async with first.running():
            first.take([status()])
            await ear.hear("burn/jar-a")
        second = Bench(settings_for(broker))
        second.publisher.remember([], ["jar-a"])
        async with second.running():
            await ear.hear("burn/jar-a", "")


async def test_an_alarm_that_ended_before_a_restart_is_emptied(broker, listening):
    event = raised()
    first = Bench(settings_for(broker))
    async with listening(broker) as ear:
        async with first.running():
            first.take([event])
            await ear.hear(ALARM)
        second = Bench(settings_for(broker))
        second.publisher.remember([ended(event).alarm])
        async with second.running():
            await ear.hear(ALARM, "")
