"""What the watch builds on in MQTT 5.0, shown by a real broker; and the states of an alarm.

Sections are of the OASIS standard MQTT Version 5.0; those marked so are quoted from memory. Most of
it is also why the topics are as they are: an event is no retained message, a state is one.
"""

import asyncio
import socket
import time
from contextlib import suppress

import aiomqtt
import pytest
from paho.mqtt.packettypes import PacketTypes
from paho.mqtt.properties import Properties

from logger.alarms import lifecycle
from logger.alarms.lifecycle import AlarmState, Finding, Priority, Signal, Timing
from logger.burn.model import BurnEvent, BurnEventKind
from logger.publish.topics import Topics
from logger.quantities import Averaging, Rule
from tests.support.waiting import within

V5 = aiomqtt.ProtocolVersion.V5
TOPICS = Topics(bench="b")
EVENT = TOPICS.event(
    BurnEvent(
        id="1", time_s=0.0, since_s=0.0, station="jar-a", burn="jar-a-0", event=BurnEventKind.NOTE
    )
)


def client(broker, name=None, *, keep_s=None, **more):
    """A connection; with `keep_s` its session is kept so long and gone on with."""
    if keep_s is not None:
        session = Properties(PacketTypes.CONNECT)
        session.SessionExpiryInterval = keep_s
        more |= {"properties": session, "clean_start": False}
    return aiomqtt.Client(broker.host, broker.port, identifier=name, protocol=V5, **more)


async def heard(who, count, within_s=5.0):
    """The next `count` messages."""
    found = []
    async with within(within_s):
        async for message in who.messages:
            found.append(message)
            if len(found) == count:
                return found
    raise AssertionError


async def waiting(who):
    """What has come by the time that a message sent after it is heard."""
    await who.subscribe("end", qos=1)
    await who.publish("end", b"", 1)
    found = []
    async with within(5.0):
        async for message in who.messages:
            if message.topic.value == "end":
                return found
            found.append(message)
    raise AssertionError


async def cut(who):
    """End the connection as a pulled plug does, without a DISCONNECT."""
    who._client.socket().shutdown(socket.SHUT_RDWR)
    with suppress(aiomqtt.MqttError):
        await heard(who, 1)


async def send(who, message):
    properties = Properties(PacketTypes.PUBLISH)
    if message.expiry_s is not None:
        properties.MessageExpiryInterval = message.expiry_s
    await who.publish(
        message.topic, message.payload, message.qos, message.retain, properties=properties
    )


async def test_who_connects_late_sees_a_retained_state_and_no_event(broker):
    """Section 3.3.1.3: retained is the last message of a topic; an empty one clears it."""
    state, gone = TOPICS.status(online=True), TOPICS.no_burn("jar-a")
    async with client(broker) as bench:
        await send(bench, EVENT)
        await send(bench, TOPICS.status(online=False))
        await send(bench, state)
        await bench.publish(gone.topic, b"{}", 1, True)
        await send(bench, gone)
        async with client(broker) as late:
            await late.subscribe("wickbench/#", qos=1)
            found = await waiting(late)
    assert [(one.topic.value, one.payload, one.retain) for one in found] == [
        (state.topic, b"online", True)
    ]


async def test_a_session_made_before_the_alarm_keeps_the_event_for_a_sleeping_phone(broker):
    """Sections 3.1.2.11.2 and 4.1: the session lives on past the connection, QoS 1 is queued."""
    async with client(broker, "pocket", keep_s=3600) as phone:
        await phone.subscribe("wickbench/#", qos=1)
    async with client(broker) as bench:
        await send(bench, EVENT)
        async with client(broker, "pocket", keep_s=3600) as phone:
            (event,) = await heard(phone, 1)
    assert (event.payload, event.qos, bool(event.retain)) == (EVENT.payload, 1, False)


async def test_without_a_session_expiry_the_session_ends_with_the_connection(broker):
    """Section 3.1.2.11.2: absent is 0."""
    async with client(broker, "pocket", clean_start=False) as phone:
        await phone.subscribe("wickbench/#", qos=1)
    async with client(broker) as bench:
        await send(bench, EVENT)
        async with client(broker, "pocket", clean_start=False) as phone:
            assert await waiting(phone) == []


async def test_an_event_that_was_not_confirmed_comes_again_at_the_next_connection(broker):
    """MQTT-4.4.0-1: resent on reconnecting, and only then; so an event needs an id."""
    first = client(broker, "pocket", keep_s=3600)
    async with first as phone:
        phone._client.manual_ack_set(True)  # takes it, and dies before it says so
        await phone.subscribe("wickbench/#", qos=1)
        async with client(broker) as bench:
            await send(bench, EVENT)
        (once,) = await heard(phone, 1)
        await cut(phone)
    async with client(broker, "pocket", keep_s=3600) as phone:
        (again,) = await heard(phone, 1)
    assert (again.payload, again.mid) == (once.payload, once.mid)


async def test_the_broker_tells_how_long_a_message_still_holds_and_then_drops_it(broker):
    """Section 3.3.2.3.3 (from memory): in seconds, less the time that it waited at the broker."""
    line, short = TOPICS.phone("look"), TOPICS.phone("look", age_s=3599.0)
    assert (line.expiry_s, short.expiry_s) == (3600, 1)
    async with client(broker, "pocket", keep_s=3600) as phone:
        await phone.subscribe("wickbench/#", qos=1)
    async with client(broker) as bench:
        await send(bench, line)
        await send(bench, short)
    end_s = time.monotonic() + 2.2
    while time.monotonic() < end_s:  # the broker counts in real seconds
        await asyncio.sleep(0.1)
    async with client(broker, "pocket", keep_s=3600) as phone:
        (left,) = await waiting(phone)
    assert 3590 <= left.properties.MessageExpiryInterval < 3600


@pytest.mark.parametrize("clean", [False, True], ids=["lost", "said goodbye"])
async def test_a_will_is_for_an_abnormal_loss_only(broker, clean):
    """Section 3.1.2.5 (from memory: not after a DISCONNECT), so a stop says `offline` itself."""
    offline = TOPICS.status(online=False)
    will = aiomqtt.Will(offline.topic, offline.payload, offline.qos, offline.retain)
    async with client(broker) as ear:
        await ear.subscribe("wickbench/#", qos=1)
        async with client(broker, will=will) as bench:
            await send(bench, TOPICS.status(online=True))
            if not clean:
                await cut(bench)
        if clean:
            said = await waiting(ear)
        else:
            said = await heard(ear, 2)
    assert [one.payload for one in said] == [b"online"] + ([] if clean else [b"offline"])


def test_what_no_longer_holds_expires_and_what_must_not_be_missed_does_not():
    """The design that follows: events and states for as long as they are true."""
    assert EVENT.expiry_s is None
    assert not EVENT.retain
    assert TOPICS.status(online=False).expiry_s is None
    assert TOPICS.heartbeat(0.0).expiry_s is not None
    assert not TOPICS.heartbeat(0.0).retain
    assert Averaging().every_s * 3 < 900  # an estimate is renewed long before it expires


# The states of an alarm after IEC 62682. A paid standard, which could not be read: its states and
# the names of what leads from one to the other are from memory.
NORMAL, UNACK, ACKED = AlarmState.NORMAL, AlarmState.UNACKNOWLEDGED, AlarmState.ACKNOWLEDGED
RTN_UNACK, SHELVED = AlarmState.RETURNED_UNACKNOWLEDGED, AlarmState.SHELVED
WALK = {
    (NORMAL, "occurs"): UNACK,
    (NORMAL, "returns"): NORMAL,
    (UNACK, "occurs"): UNACK,
    (UNACK, "acknowledge"): ACKED,
    (UNACK, "returns"): RTN_UNACK,
    (UNACK, "shelve"): SHELVED,
    (ACKED, "occurs"): ACKED,
    (ACKED, "returns"): NORMAL,
    (ACKED, "shelve"): SHELVED,
    (RTN_UNACK, "returns"): RTN_UNACK,
    (RTN_UNACK, "occurs"): UNACK,
    (RTN_UNACK, "acknowledge"): NORMAL,
    (RTN_UNACK, "shelve"): SHELVED,
    (SHELVED, "occurs"): SHELVED,
    (SHELVED, "returns"): SHELVED,
    (SHELVED, "time is up, on"): UNACK,
    (SHELVED, "time is up, off"): NORMAL,
}
WAY_TO = {
    NORMAL: ("occurs", "acknowledge", "returns"),
    UNACK: ("occurs",),
    ACKED: ("occurs", "acknowledge"),
    RTN_UNACK: ("occurs", "returns"),
    SHELVED: ("occurs", "shelve"),
}


def after(alarm, action):
    """The alarm after what happens to it at its next second."""
    now_s = 0.0 if alarm is None else alarm.count + 1.0
    off = action in ("returns", "time is up, off")
    found = Finding(
        rule=Rule.WALL_ALERT,
        subject="wall",
        signal=Signal.OFF if off else Signal.ON,
        priority=Priority.CAUTION,
        text="hot",
    )
    if action == "acknowledge":
        return lifecycle.acknowledge(alarm, now_s, by="Ines", where="page")[0]
    if action == "shelve":
        return lifecycle.shelve(alarm, now_s, 1000.0)[0]
    if action.startswith("time is up"):
        now_s = 1000.0
    return lifecycle.step(alarm, found, Timing(), now_s)[0]


@pytest.mark.parametrize(("state", "action"), WALK)
def test_the_states_of_an_alarm(state, action):
    alarm = None
    for step in WAY_TO[state]:
        alarm = after(alarm, step)
    assert alarm.state is state
    assert after(alarm, action).state is WALK[state, action]
