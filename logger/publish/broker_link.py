"""One connection to a broker: bounded in time, certainly closed, every answer of it heeded."""

import asyncio
import socket
import ssl
from collections.abc import Callable, Coroutine
from concurrent.futures import Executor
from typing import Any

import aiomqtt
from paho.mqtt.client import MQTT_ERR_SUCCESS, ConnectFlags, DisconnectFlags
from paho.mqtt.client import Client as PahoClient
from paho.mqtt.packettypes import PacketTypes
from paho.mqtt.properties import Properties
from paho.mqtt.reasoncodes import ReasonCode
from paho.mqtt.subscribeoptions import SubscribeOptions

from logger.publish.credentials import Credentials
from logger.publish.topics import Message
from logger.settings import MqttSettings

KEEP_ALIVE_S = 10
CONNECT_S = 4.0  # for the TCP connection, and again for the TLS handshake
LONGEST_TOPIC = 1024  # bytes; MQTT takes 65,535, brokers fewer; ours have 200 (our choice)
_HEADER_BYTES = 64  # of a PUBLISH, beside topic and payload, with the properties that we set
_OF_ONE_MESSAGE = (0x95, 0x99)  # packet too large, payload format invalid (MQTT 5, 2.4)
LARGEST_PACKET = 16 * 1024  # bytes; a broker must not send us a longer one (MQTT 5, 3.1.2.11.4)
MOST_AT_ONCE = 20  # commands that a broker may send ahead of our confirming them


class BrokerRefuses(aiomqtt.MqttError):
    """The broker said that it will not pass a message on, or give us what goes to a topic."""

    def __init__(self, topic: str, why: str) -> None:
        super().__init__(f"{topic}: {why}")
        self.topic = topic
        self.why = why


class CannotBeSent(BrokerRefuses):
    """One message that this broker cannot take, whoever sends it; the next may be well."""


class TurnedAway(aiomqtt.MqttError):
    """The broker closed the connection without a word, before it had let us in."""


class Unanswered(aiomqtt.MqttError):
    """The broker took the connection but did not answer in time."""


class BrokerLink(aiomqtt.Client):
    """aiomqtt's connection, with what we need beyond it.

    aiomqtt takes every PUBACK for a success, though in MQTT 5 it may say "not authorised"; waits
    its whole time for a connection that is already lost; and leaves socket and task behind when
    connecting fails or is cancelled.
    """

    def __init__(
        self,
        settings: MqttSettings,
        credentials: Credentials,
        identifier: str,
        will: Message | None = None,
    ) -> None:
        super().__init__(
            settings.host,
            settings.port,
            username=settings.username,
            password=credentials.password,
            # Always the same: when we come back, the broker ends the old connection first, and
            # its Will cannot overwrite the new `online`.
            identifier=identifier,
            protocol=aiomqtt.ProtocolVersion.V5,
            will=None
            if will is None
            else aiomqtt.Will(will.topic, will.payload, will.qos, will.retain),
            keepalive=KEEP_ALIVE_S,
            max_queued_incoming_messages=2 * MOST_AT_ONCE,
            properties=_properties(
                PacketTypes.CONNECT, MaximumPacketSize=LARGEST_PACKET, ReceiveMaximum=MOST_AT_ONCE
            ),
            tls_context=credentials.tls,
        )
        self._client.connect_timeout = CONNECT_S
        self._unconfirmed: dict[int, asyncio.Future[ReasonCode | None]] = {}
        self._largest: int | None = None  # packet that the broker takes, in bytes

    async def open(self, answer_s: float, executor: Executor | None = None) -> None:
        """Connect, on a thread of `executor`.

        Raises MqttError, OSError or UnicodeError (a host name that cannot be).
        """
        loop = asyncio.get_running_loop()
        connecting = loop.run_in_executor(executor, self._client_connect)
        try:
            await asyncio.shield(connecting)
            sock = self._client.socket()
            if isinstance(sock, socket.socket):  # no waiting for a fuller packet
                sock.setsockopt(socket.IPPROTO_TCP, socket.TCP_NODELAY, 1)
            async with asyncio.timeout(answer_s):
                await self._connected
        except TimeoutError:
            await self.drop()
            if connecting.done() and connecting.exception() is None:
                raise Unanswered("no CONNACK") from None
            raise
        except BaseException:
            # A thread cannot be cancelled; what it has opened must not stay open.
            await asyncio.wait({connecting})
            await self.drop()
            raise

    async def send(self, *messages: Message) -> dict[str, BrokerRefuses]:
        """Hand over `messages` in order; return once the broker has answered each with QoS 1.

        The answer: what it refuses, by topic. Raises MqttError when the connection is lost by now.
        One that is lost while waiting is seen by whoever reads `messages`.
        """
        refused: dict[str, BrokerRefuses] = {}
        confirmations = []
        for message in messages:
            why = self._why_not(message)
            if why is None:
                confirmations.append((message, self._hand_over(message)))
            else:
                refused[message.topic] = CannotBeSent(message.topic, why)
        self._step(self._client.loop_write)  # not some turns later, behind all that is due in them
        for message, confirmation in confirmations:
            code = await confirmation
            if code is not None and code.is_failure:
                kind = CannotBeSent if code.value in _OF_ONE_MESSAGE else BrokerRefuses
                refused[message.topic] = kind(message.topic, str(code))
        return refused

    def _why_not(self, message: Message) -> str | None:
        """Why `message` would end the connection, or cannot even be written; None for most."""
        topic = message.topic.encode("utf-8", "replace")
        if len(topic) > LONGEST_TOPIC:
            return "its topic is too long"
        if not topic or any(sign in message.topic for sign in "+#\0"):
            return "its topic is none"  # MQTT 5, 3.3.2.1 and 1.5.4
        size = len(topic) + len(message.payload) + _HEADER_BYTES + len(message.correlation or b"")
        if self._largest is not None and size > self._largest:
            return f"the broker takes {self._largest} bytes at most"
        return None

    async def subscribe_to(self, topic: str) -> None:
        """Ask for what is published to `topic`. Raises BrokerRefuses, MqttError."""
        # As published: else only the second delivery of a retained command shows that it is one.
        options = SubscribeOptions(qos=1, retainAsPublished=True)
        for code in await self.subscribe(topic, options=options):
            if isinstance(code, ReasonCode) and code.is_failure:
                raise BrokerRefuses(topic, str(code))

    def _hand_over(self, message: Message) -> asyncio.Future[ReasonCode | None]:
        properties = _properties(
            PacketTypes.PUBLISH,
            MessageExpiryInterval=message.expiry_s,
            CorrelationData=message.correlation,
        )
        info = self._client.publish(
            message.topic, message.payload, message.qos, message.retain, properties
        )
        if info.rc != MQTT_ERR_SUCCESS:
            raise aiomqtt.MqttCodeError(info.rc)
        confirmation: asyncio.Future[ReasonCode | None] = asyncio.Future()
        self._unconfirmed[info.mid] = confirmation
        return confirmation

    def _on_connect(
        self,
        client: PahoClient,
        userdata: Any,
        flags: ConnectFlags,
        reason_code: ReasonCode,
        properties: Properties | None = None,
    ) -> None:
        self._largest = getattr(properties, "MaximumPacketSize", None)
        super()._on_connect(client, userdata, flags, reason_code, properties)

    # aiomqtt would hand the loop a number that may be closed, or another's, by the time it looks.

    def _on_socket_open(self, client: PahoClient, userdata: Any, sock: socket.socket) -> None:
        def watch() -> None:
            if sock.fileno() >= 0:
                self._loop.add_reader(sock, self._step, self._read)
                self._misc_task = self._loop.create_task(self._misc_loop())

        self._loop.call_soon_threadsafe(watch)

    def _on_socket_register_write(
        self, client: PahoClient, userdata: Any, sock: socket.socket
    ) -> None:
        def watch() -> None:
            if sock.fileno() >= 0 and self._client.want_write():
                self._loop.add_writer(sock, self._step, self._client.loop_write)

        self._loop.call_soon_threadsafe(watch)

    def _on_socket_unregister_write(
        self, client: PahoClient, userdata: Any, sock: socket.socket
    ) -> None:
        if sock.fileno() >= 0:
            self._loop.remove_writer(sock)

    def _read(self) -> None:
        """All that has come; of a TLS connection also what is decrypted already."""
        self._client.loop_read()
        while isinstance(sock := self._client.socket(), ssl.SSLSocket) and sock.pending() > 0:
            self._client.loop_read()

    def _step(self, step: Callable[[], object]) -> None:
        """One step of paho's; what it raises means that the connection is broken."""
        try:
            step()
        except Exception as exc:  # noqa: BLE001 - handed on to whoever waits for the link
            if not self._disconnected.done():
                self._disconnected.set_exception(exc)

    def _on_publish(
        self, client: PahoClient, userdata: Any, mid: int, reason_code: ReasonCode, properties: Any
    ) -> None:
        confirmation = self._unconfirmed.pop(mid, None)
        if confirmation is not None and not confirmation.done():
            confirmation.set_result(reason_code)

    def _on_disconnect(
        self,
        client: PahoClient,
        userdata: Any,
        flags: DisconnectFlags,
        reason_code: ReasonCode,
        properties: Properties | None = None,
    ) -> None:
        if self._connected.done():
            super()._on_disconnect(client, userdata, flags, reason_code, properties)
        else:
            self._connected.set_exception(TurnedAway(str(reason_code)))

    async def leave(self, within_s: float) -> None:
        """Say goodbye, which takes the Will back; a broker that does not take that is dropped."""
        if not self._disconnected.done() and self._client.disconnect() == MQTT_ERR_SUCCESS:
            await asyncio.wait({self._disconnected}, timeout=within_s)
        await self.drop()

    async def drop(self) -> None:
        """Close without a word: the broker publishes the Will."""
        self._client._sock_close()  # paho has no public way to close at once
        if self._disconnected.done() and not self._disconnected.cancelled():
            self._disconnected.exception()  # seen: asyncio need not complain of it
        if self._misc_task is not None:
            await asyncio.wait({self._misc_task}, timeout=1.0)


def _properties(packet: int, **values: int | bytes | None) -> Properties | None:
    given = {name: value for name, value in values.items() if value is not None}
    if not given:
        return None  # building an empty one would be the larger part of publishing
    properties = Properties(packet)  # type: ignore[no-untyped-call] # paho leaves it untyped
    for name, value in given.items():
        setattr(properties, name, value)
    return properties


async def until_one_ends(*lanes: Coroutine[Any, Any, None]) -> None:
    """Run `lanes` side by side until the first ends, and raise what ended it."""
    tasks = [asyncio.create_task(lane) for lane in lanes]
    try:
        done, _ = await asyncio.wait(tasks, return_when=asyncio.FIRST_COMPLETED)
    finally:
        for task in tasks:
            task.cancel()
        await asyncio.gather(*tasks, return_exceptions=True)
    for task in done:
        task.result()
