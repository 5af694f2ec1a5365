"""Brokers that hang, are slow or away: nothing waits for them, nothing piles up."""

import asyncio
import json

from logger.publish.pending import MOST_LINES
from tests.support.mqtt_bench import ALARM, T0_S, Bench, Gate, Shelf, estimate, raised, settings_for
from tests.support.waiting import within


async def test_a_stalled_broker_is_noticed_and_only_the_newest_waits_for_it(broker, listening):
    bench = Bench(settings_for(broker))
    async with bench.running(), listening(broker) as ear:
        await bench.until_health(ok=True)
        broker.stall()
        for step in range(2000):
            bench.take([estimate(float(step))])
        assert "confirms nothing" in await bench.until_health(ok=False)
        broker.go_on()
        await ear.until(lambda _: ear.of("channel/wall") and _value(ear) == 1999.0)
        await bench.until_health(ok=True)
    assert len(ear.of("channel/wall")) <= 3


async def test_a_broker_that_hangs_for_long_gets_the_present_state_when_it_is_back(
    broker, listening
):
    bench = Bench(settings_for(broker))
    async with bench.running(), listening(broker) as ear:
        await bench.until_health(ok=True)
        broker.stall()
        bench.take([raised(), estimate(41.0)])
        await bench.until_reason("is it stuck")
        bench.take([estimate(42.0)])
        broker.go_on()
        await bench.until_health(ok=True)
        await ear.until(lambda _: ear.of("channel/wall") and _value(ear) == 42.0)
        await ear.hear(ALARM)
        await ear.hear("/phone")
        await ear.until(lambda _: ear.of("status")[-1:] == ["online"])


async def test_a_stop_does_not_wait_for_a_broker_that_hangs(broker):
    broker.stall()
    bench = Bench(settings_for(broker))
    async with within(2), bench.running():
        await asyncio.sleep(0)  # let it begin to connect
    async with within(2), bench.running():
        await bench.until_health(ok=False)  # no CONNACK came; it is trying again


async def test_last_words_are_bounded_too_and_then_the_will_speaks(broker, listening):
    bench = Bench(settings_for(broker))
    async with listening(broker) as ear:
        async with within(5), bench.running():
            await ear.hear("status", "online")
            broker.stall()
        broker.go_on()
        await ear.hear("status", "offline")


async def test_alarms_do_not_wait_for_the_disk(broker, listening):
    class StuckShelf(Shelf):
        async def waiting_events(self, limit):
            await asyncio.Event().wait()

    bench = Bench(settings_for(broker), shelf=StuckShelf())
    async with listening(broker) as ear, bench.running():
        bench.take([raised()])
        await ear.hear(ALARM)
        await ear.hear("/phone")
        await bench.until_health(ok=True)


async def test_phone_lines_are_bounded_and_the_loss_is_said(broker, listening):
    broker.stop()
    gate = Gate()
    bench = Bench(settings_for(broker), sleep=gate.sleep)
    async with bench.running():
        await bench.until_health(ok=False)
        for _ in range(MOST_LINES + 50):
            bench.take([raised()])
        broker.start()
        async with listening(broker) as ear:
            gate.open()
            await ear.until(lambda _: len(ear.of("/phone")) == MOST_LINES + 1)
            bench.take([raised("rim")])
            await ear.hear("wall-limit/rim")
            await ear.until(lambda _: len(ear.of("/phone")) == MOST_LINES + 2)
    assert ear.of("/phone")[0].startswith("50 older lines were dropped")


async def test_no_heartbeat_from_before_a_connection(broker, listening):
    broker.stop()
    gate = Gate()
    bench = Bench(settings_for(broker), sleep=gate.sleep)
    async with bench.running():
        await bench.until_health(ok=False)
        bench.publisher.take_heartbeat(T0_S)
        broker.start()
        async with listening(broker) as ear:
            gate.open()
            await bench.until_served(ear)
            bench.publisher.take_heartbeat(T0_S + 60.0)
            await ear.hear("/heartbeat")
    assert ear.of("/heartbeat") == ["2031-04-26T20:01:00Z"]


def _value(ear) -> float:
    return json.loads(ear.of("channel/wall")[-1])["value"]
