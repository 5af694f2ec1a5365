"""A broker that is stopped, half-open, refusing or slow while a candle is in danger.

The whole service runs; a way to the broker that fails stands between them. Each try has a new burn
with an emergency in it. What the broker's side heard is compared with what the bench has stored.
"""

import asyncio
import contextlib
import random
import time

import pytest

from logger.alarms.lifecycle import AlarmEvent
from logger.store.queries import open_read
from tests.support.broker import LASTING, EventRecord
from tests.support.mqtt_bench import IMPATIENT
from tests.support.waiting import patient
from tests.support.web_bench import ONE_STATION, WALL, serving

TRIES = 4  # a hundred in the long form
WITH_BROKER = ONE_STATION + '\n[mqtt]\nhost = "127.0.0.1"\nport = {port}\n'
SERVER_BUSY = bytes([0x20, 3, 0, 0x89, 0])  # CONNACK with that reason code: MQTT 5, section 3.2.2.2
SLOW_S = 0.1  # for each piece of each direction: half the patience of this test's publisher
RECOVERED_S = 5.0  # our choice: a retry comes within IMPATIENT.longest_retry_s


class Way:
    """A way to the broker that passes on, swallows, refuses or is slow; also in mid-connection."""

    def __init__(self, broker) -> None:
        self._broker = broker
        self.fault = ""
        self._carrying: set[asyncio.Task[None]] = set()

    async def __aenter__(self):
        self._server = await asyncio.start_server(self._take, "127.0.0.1", 0)
        self.port = self._server.sockets[0].getsockname()[1]
        return self

    async def __aexit__(self, *exc):
        self._server.close()
        await self.cut()

    async def cut(self) -> None:
        """End what is open."""
        for task in self._carrying:
            task.cancel()
        await asyncio.gather(*self._carrying, return_exceptions=True)

    async def _take(self, reader, writer):
        task = asyncio.current_task()
        self._carrying.add(task)
        task.add_done_callback(self._carrying.discard)
        with contextlib.closing(writer), contextlib.suppress(OSError, asyncio.CancelledError):
            if self.fault == "refuses":
                await reader.read(65_536)
                writer.write(SERVER_BUSY)
                await writer.drain()
                return
            there, back = await asyncio.open_connection("127.0.0.1", self._broker.port)
            with contextlib.closing(back):
                both = [
                    asyncio.create_task(self._carry(*ends))
                    for ends in ((reader, back), (there, writer))
                ]
                try:
                    await asyncio.wait(both, return_when=asyncio.FIRST_COMPLETED)
                finally:
                    for one in both:
                        one.cancel()
                    await asyncio.wait(both)

    async def _carry(self, reader, writer):
        with contextlib.suppress(OSError):
            while data := await reader.read(65_536):
                if self.fault == "slow":
                    await asyncio.sleep(SLOW_S)
                if self.fault != "swallows":
                    writer.write(data)
                    await writer.drain()


async def stopped(broker, way):
    broker.stop()


async def half_open(broker, way):
    way.fault = "swallows"


async def refusing(broker, way):
    way.fault = "refuses"
    await way.cut()


async def slow(broker, way):
    way.fault = "slow"


async def healed(broker, way):
    if way.fault == "":
        broker.start()
    way.fault = ""


async def heard(record, ids):
    """Seconds until the broker's side has all of `ids`."""
    began_s = time.monotonic()
    while missing := ids - record.texts.keys():
        assert time.monotonic() - began_s < patient(RECOVERED_S), missing
        await asyncio.sleep(0.02)
    return time.monotonic() - began_s


async def in_danger(bench, number):
    """A burn with an emergency that is acknowledged and put out; the bench knows it at once."""
    burn = await bench.light(trial=f"cedar-{number}")
    answer = await bench.post(f"/api/burns/{burn}/observations", emergency="crack")
    assert answer.status_code == 201, answer.text
    key = "emergency/jar-a"
    (alarm,) = [one for one in (await bench.now())["alarms"] if one["alarm"] == key]
    assert alarm["state"] == "unacknowledged"
    await bench.post(f"/api/alarms/{key}/acknowledge", by="Ines")
    answer = await bench.post(f"/api/burns/{burn}/out", by="Ines")
    assert answer.status_code == 201, answer.text
    await bench.seconds(2, wall=40.0 + number / 100.0, room=22.0)
    return burn


@pytest.mark.faults
@pytest.mark.parametrize("fault", [stopped, half_open, refusing, slow])
async def test_no_event_and_no_reading_is_lost_or_doubled(
    tmp_path, start_broker, monkeypatch, fault, fault_row, seed, long
):
    monkeypatch.setattr("logger.publish.mqtt.DeliveryTimes", lambda: IMPATIENT)
    chance = random.Random(seed)
    tries = 100 if long else TRIES
    broker = start_broker(*LASTING)
    burns, recovery_s = [], []

    def events():
        with open_read(tmp_path / "data") as reader:
            return [one.event for one in reader.events()]

    with EventRecord(broker, "test-bench") as record:
        async with Way(broker) as way:
            text = WITH_BROKER.replace("{port}", str(way.port))
            async with serving(tmp_path, text) as bench:
                for number in range(tries):
                    await heard(record, {one.id for one in events()})  # it is connected
                    await fault(broker, way)
                    await asyncio.sleep(chance.uniform(0.0, 0.3))
                    burns.append(await in_danger(bench, number))
                    await asyncio.sleep(chance.uniform(0.0, 0.3))
                    stored = {one.id for one in events()}
                    await healed(broker, way)
                    recovery_s.append(await heard(record, stored))
        await heard(record, {one.id for one in events()})
    found = events()
    ids = [event.id for event in found]
    raised = {
        event.burn
        for event in found
        if isinstance(event, AlarmEvent)
        and (event.alarm.finding.rule, event.what) == ("emergency", "raised")
    }
    with open_read(tmp_path / "data") as reader:
        values = [one.value for one in reader.readings(WALL)]
    lost = [n for n in range(tries) if values.count(40.0 + n / 100.0) != 2]
    doubled = len(ids) - len(set(ids)) + record.doubled
    fault_row(
        f"broker {fault.__name__}".replace("_", "-"),
        tried=tries,
        lost=len(lost),
        missed=len(set(burns) - raised),
        doubled=doubled,
        recovery_s=max(recovery_s),
    )
    assert not lost
    assert not doubled
    assert record.texts.keys() == set(ids)
    assert raised == set(burns)
