"""One connection to a broker: bounded in time, certainly closed, every answer of it heeded."""

import asyncio
import socket
import ssl
from dataclasses import dataclass, field
from typing import Any

import aiomqtt
from paho.mqtt.client import MQTT_ERR_SUCCESS, DisconnectFlags
from paho.mqtt.client import Client as PahoClient
from paho.mqtt.packettypes import PacketTypes
from paho.mqtt.properties import Properties
from paho.mqtt.reasoncodes import ReasonCode
from paho.mqtt.subscribeoptions import SubscribeOptions

from logger.errors import SettingsError
from logger.publish.topics import Message
from logger.settings import MqttSettings, TlsSettings

KEEP_ALIVE_S = 10
CONNECT_S = 4.0  # for the TCP connection, and again for the TLS handshake
LARGEST_PACKET = 16 * 1024  # bytes; a broker must not send us a longer one (MQTT 5, 3.1.2.11.4)
MOST_AT_ONCE = 20  # commands that a broker may send ahead of our confirming them


class BrokerRefuses(aiomqtt.MqttError):
    """The broker took a message and said that it will not pass it on."""

    def __init__(self, topic: str, code: ReasonCode) -> None:
        super().__init__(f"{topic}: {code}")
        self.topic = topic
        self.code = code


class TurnedAway(aiomqtt.MqttError):
    """The broker closed the connection without a word, before it had let us in."""


class Unanswered(aiomqtt.MqttError):
    """The broker took the connection but did not answer in time."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Credentials:
    """What opens a connection, read anew for each: passwords change, certificates are renewed."""

    password: str | None = field(repr=False)
    tls: ssl.SSLContext | None

    @classmethod
    def read(cls, settings: MqttSettings) -> "Credentials":
        """From their files; blocks. Raises SettingsError where one cannot be used."""
        return cls(
            password=None if settings.password is None else settings.password.read(),
            tls=None if settings.tls is None else _tls_context(settings.tls),
        )


class Link(aiomqtt.Client):
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

    async def open(self, answer_s: float) -> None:
        """Connect. Raises MqttError, OSError or UnicodeError (a host name that cannot be)."""
        loop = asyncio.get_running_loop()
        connecting = loop.run_in_executor(None, self._client_connect)
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

    async def send(self, *messages: Message) -> None:
        """Hand over `messages` in order; return once the broker has confirmed each with QoS 1.

        Raises BrokerRefuses, or MqttError when the connection is lost by now. One that is lost
        while waiting is seen by whoever reads `messages`.
        """
        confirmations = [(message, self._hand_over(message)) for message in messages]
        for message, confirmation in confirmations:
            code = await confirmation
            if code is not None and code.is_failure:
                raise BrokerRefuses(message.topic, code)

    async def obey(self, topic: str) -> None:
        """Ask for what is published to `topic`. Raises BrokerRefuses, MqttError."""
        # As published: else only the second delivery of a retained command shows that it is one.
        options = SubscribeOptions(qos=1, retainAsPublished=True)
        for code in await self.subscribe(topic, options=options):
            if isinstance(code, ReasonCode) and code.is_failure:
                raise BrokerRefuses(topic, code)

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


class _ClosingSocket(ssl.SSLSocket):
    """paho leaves a socket open whose handshake fails."""

    def do_handshake(self, block: bool = False) -> None:
        try:
            super().do_handshake(block)
        except BaseException:
            self.close()
            raise


def _tls_context(tls: TlsSettings) -> ssl.SSLContext:
    try:
        context = ssl.create_default_context(cafile=tls.ca)
    except OSError as exc:  # SSLError is one
        reason = "holds no certificate" if isinstance(exc, ssl.SSLError) else exc.strerror
        raise SettingsError(
            [f"mqtt.tls: ca: {tls.ca}: {reason}; name a PEM file with the authority to trust"]
        ) from exc
    context.sslsocket_class = _ClosingSocket
    if tls.cert is not None:
        try:
            context.load_cert_chain(tls.cert, tls.key, password=_no_password)
        except OSError as exc:
            reason = "do not fit" if isinstance(exc, ssl.SSLError) else exc.strerror
            raise SettingsError(
                [
                    f"mqtt.tls: cert, key: {tls.cert}, {tls.key}: {reason}; "
                    "name two PEM files, a certificate and its key"
                ]
            ) from exc
    return context


def _no_password() -> str:
    """OpenSSL would ask at the terminal and wait."""
    raise SettingsError(["mqtt.tls: key: it needs a password; take the password off the file"])
