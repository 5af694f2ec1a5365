"""Commands below do/: obeyed when allowed, fresh and whole; always answered."""

import asyncio
import json
from contextlib import asynccontextmanager

import aiomqtt
import pytest
from paho.mqtt.packettypes import PacketTypes
from paho.mqtt.properties import Properties

from logger.burn.entries import Acknowledge
from logger.errors import Doubted, Refused
from logger.intake.entered import Entered
from logger.timestamps import rfc3339
from tests.support.mqtt_bench import BENCH, T0_S, Bench, estimate, settings_for
from tests.support.waiting import within

ANSWERS = f"wickbench/{BENCH}/answer/phone"
ACKNOWLEDGE = {"id": "phone-0001", "time": T0_S, "alarm": "wall-limit/wall", "by": "Ines"}


RECORDED = {
    "ok": True,
    "id": "phone-0001",
    "at": rfc3339(T0_S),
    "entered": rfc3339(T0_S),
    "burn": "jar-a-1",
    "text": "done",
    "new": True,
    "number": None,
    "repeated": False,
}


class Core:
    """What takes the entries."""

    def __init__(self) -> None:
        self.entries = []
        self.sure = []
        self.refusal = None
        self.saved = asyncio.Event()
        self.saved.set()

    async def enter(self, entry, sure) -> Entered:
        if self.refusal is not None:
            raise self.refusal
        fresh = entry.id not in {one.id for one in self.entries}
        self.entries.append(entry)
        self.sure.append(sure)
        await self.saved.wait()
        return Entered(entry=entry, burn="jar-a-1", text="done", new=fresh)


@pytest.fixture
def core():
    return Core()


@asynccontextmanager
async def asking(broker, ear):
    """`await ask(command, payload)`: the answer, as the one who asks gets it."""
    async with aiomqtt.Client(
        broker.host, broker.port, protocol=aiomqtt.ProtocolVersion.V5
    ) as client:
        count = 0

        async def send(command, payload, answers=ANSWERS, correlation=b"", retain=False):
            properties = Properties(PacketTypes.PUBLISH)
            properties.ResponseTopic = answers
            properties.CorrelationData = correlation
            body = payload if isinstance(payload, bytes) else json.dumps(payload)
            await client.publish(
                f"wickbench/{BENCH}/do/{command}", body, 1, retain, properties=properties
            )

        async def ask(command, payload, **options):
            nonlocal count
            count += 1
            mine = f"question {count}".encode()
            await send(command, payload, correlation=mine, **options)

            def answered(_):
                return [
                    one for one in ear.messages if _correlation(one) == mine and _is_answer(one)
                ]

            await ear.until(answered)
            return json.loads(answered(None)[0].payload)

        ask.send = send
        yield ask


def _correlation(heard):
    return getattr(heard.properties, "CorrelationData", None)


def _is_answer(heard):
    return "/do/" not in heard.topic


async def test_obeyed_and_answered(broker, listening, core):
    bench = Bench(settings_for(broker, commands=True), enter=core.enter)
    async with bench.running(), listening(broker) as ear, asking(broker, ear) as ask:
        await bench.until_health(ok=True)
        await bench.until_served(ear)
        answer = await ask("acknowledge", ACKNOWLEDGE)
        assert answer == RECORDED
        answer = await ask("acknowledge", ACKNOWLEDGE)
        assert answer == RECORDED | {"new": False, "repeated": True}
    assert core.entries[0] == Acknowledge(
        id="phone-0001",
        at_s=T0_S,
        entered_s=T0_S,
        by="Ines",
        alarm="wall-limit/wall",
        where="mqtt",
        together=True,
    )


async def test_one_that_waits_for_the_disk_holds_up_none_that_come_after_it(
    broker, listening, core
):
    bench = Bench(settings_for(broker, commands=True), enter=core.enter)
    core.saved.clear()
    async with bench.running(), listening(broker) as ear, asking(broker, ear) as ask:
        await bench.until_served(ear)
        await ask.send("acknowledge", ACKNOWLEDGE)
        await ask.send("record-out", {"id": "phone-0002", "time": T0_S, "station": "jar-a"})
        async with within(5.0):
            while len(core.entries) < 2:
                await asyncio.sleep(0.01)
        core.saved.set()
        assert (await ask("acknowledge", ACKNOWLEDGE))["repeated"]
    assert [one.id for one in core.entries[:2]] == ["phone-0001", "phone-0002"]


@pytest.mark.parametrize(
    ("command", "payload", "words"),
    [
        pytest.param("acknowledge", ACKNOWLEDGE | {"time": T0_S - 31}, "30 s apart", id="stale"),
        pytest.param("acknowledge", ACKNOWLEDGE | {"time": T0_S + 31}, "30 s apart", id="ahead"),
        pytest.param("explode", ACKNOWLEDGE, "there are acknowledge, record-lit", id="unknown"),
        pytest.param("read", b"\xff\x00[[[", "not JSON", id="garbage"),
        pytest.param("read", b"[" * 4000, "not JSON", id="deep"),
        pytest.param("read", b"0" * 5000, "longer than 4096 bytes", id="long"),
        pytest.param("record-out", {"id": "phone-0001", "time": T0_S}, "station", id="incomplete"),
    ],
)
async def test_refused_with_the_reason(broker, listening, core, command, payload, words):
    bench = Bench(settings_for(broker, commands=True), enter=core.enter)
    async with bench.running(), listening(broker) as ear, asking(broker, ear) as ask:
        await bench.until_served(ear)
        answer = await ask(command, payload)
        assert not answer["ok"]
        assert words in answer["error"]
        assert (await ask("acknowledge", ACKNOWLEDGE))["ok"]  # the next is served
    assert len(core.entries) == 1
    assert all(one.ok for one in bench.health)


async def test_a_retained_command_is_refused_also_while_connected(broker, listening, core):
    bench = Bench(settings_for(broker, commands=True), enter=core.enter)
    async with listening(broker) as ear, asking(broker, ear) as ask:
        await ask.send("acknowledge", ACKNOWLEDGE, retain=True, correlation=b"before")
        async with bench.running():
            await ear.until(lambda all_heard: any(map(_is_retained_answer, all_heard)))
            answer = await ask("acknowledge", ACKNOWLEDGE, retain=True)
            assert "not retained" in answer["error"]
    assert core.entries == []


def _is_retained_answer(heard):
    return heard.topic == ANSWERS and "not retained" in heard.payload


async def test_what_the_bench_refuses_is_the_answer(broker, listening, core):
    core.refusal = Refused("nothing to acknowledge")
    bench = Bench(settings_for(broker, commands=True), enter=core.enter)
    async with bench.running(), listening(broker) as ear, asking(broker, ear) as ask:
        await bench.until_served(ear)
        answer = await ask("acknowledge", ACKNOWLEDGE)
    assert answer == {"ok": False, "error": "nothing to acknowledge"}


async def test_what_is_improbable_is_asked_about_and_how_to_keep_it_is_said(
    broker, listening, core, caplog
):
    core.refusal = Doubted("98.7 °C is 209.7 °F; did you mean 98.7 °F?")
    bench = Bench(settings_for(broker, commands=True), enter=core.enter)
    read = {"station": "jar-a", "height": "40 mm", "values": [98.7]}  # neither time nor id
    async with bench.running(), listening(broker) as ear, asking(broker, ear) as ask:
        await bench.until_served(ear)
        asked = await ask("read", read)
        assert asked["error"].startswith("98.7 °C is 209.7 °F; did you mean 98.7 °F? ")
        assert '"sure": true' in asked["error"]
        assert "do/read refused: 98.7 °C is 209.7 °F" in caplog.text
        core.refusal = None
        assert (await ask("read", read | {"sure": True}))["ok"]
    assert core.sure == [True]


async def test_off_by_default(broker, listening, core):
    bench = Bench(settings_for(broker), enter=core.enter)
    async with bench.running(), listening(broker) as ear, asking(broker, ear) as ask:
        await bench.until_health(ok=True)
        await ask.send("acknowledge", ACKNOWLEDGE)
        await ear.hear("do/acknowledge")
        bench.take([estimate(41.0)])
        await ear.hear("channel/wall")
    assert core.entries == []
    assert ear.of("answer/phone") == []


async def test_no_one_has_the_bench_speak_for_them(broker, listening, core):
    bench = Bench(settings_for(broker, commands=True), enter=core.enter)
    async with bench.running(), listening(broker) as ear, asking(broker, ear) as ask:
        await bench.until_served(ear)
        await ask.send("acknowledge", ACKNOWLEDGE, answers=f"wickbench/{BENCH}/phone")
        assert (await ask("acknowledge", ACKNOWLEDGE))["ok"]
    assert len(core.entries) == 2
    assert ear.of(f"{BENCH}/phone") == []


async def test_an_answer_that_the_broker_refuses_does_not_end_the_connection(
    start_broker, listening, core
):
    acl = "topic readwrite #\ntopic deny elsewhere/answer\n"
    broker = start_broker("allow_anonymous true", "acl_file acl", files={"acl": acl})
    bench = Bench(settings_for(broker, commands=True), enter=core.enter)
    async with bench.running(), listening(broker) as ear, asking(broker, ear) as ask:
        await bench.until_served(ear)
        await ask.send("acknowledge", ACKNOWLEDGE, answers="elsewhere/answer")
        assert (await ask("acknowledge", ACKNOWLEDGE))["ok"]
    assert all(one.ok for one in bench.health)
    assert ear.of("status") == ["online"]
    broker.kill()


async def test_a_reading_is_answered_with_what_it_amounts_to(broker, listening, core):
    bench = Bench(settings_for(broker, commands=True), enter=core.enter)
    read = {"id": "phone-0002", "time": T0_S, "station": "jar-a", "height": "40 mm"}
    async with bench.running(), listening(broker) as ear, asking(broker, ear) as ask:
        await bench.until_served(ear)
        answer = await ask("read", {**read, "values": [56.5, 56.4, 56.6, 81.0]})
        assert answer["ok"]
        assert (answer["used"], answer["set_aside"]) == ([56.5, 56.4, 56.6], [81.0])
        assert answer["value"] == pytest.approx(56.5)
        alone = {**read, "id": "phone-0003", "values": [56.5], "emissivity_set": 0.95}
        assert "emissivity too" in (await ask("read", alone))["error"]


async def test_a_giant_message_never_comes_in(broker, listening, core):
    bench = Bench(settings_for(broker, commands=True), enter=core.enter)
    async with bench.running(), listening(broker) as ear, asking(broker, ear) as ask:
        await bench.until_served(ear)
        await ask.send("read", b"0" * 1_000_000)
        assert (await ask("acknowledge", ACKNOWLEDGE))["ok"]
    assert len(ear.of("answer/phone")) == 1
    assert ear.of("status") == ["online"]
