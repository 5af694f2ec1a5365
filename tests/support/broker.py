"""A real mosquitto on loopback that can be stopped, killed, stalled and started again."""

import asyncio
import getpass
import json
import shutil
import signal
import socket
import ssl
import subprocess
import threading
import time
from collections.abc import AsyncIterator, Callable, Iterator
from contextlib import asynccontextmanager, suppress
from dataclasses import dataclass
from pathlib import Path

import aiomqtt
import pytest
from paho.mqtt.client import Client, MQTTv5
from paho.mqtt.enums import CallbackAPIVersion
from paho.mqtt.packettypes import PacketTypes
from paho.mqtt.properties import Properties

from tests.support.waiting import patient, within

DEADLINE_S = 10.0
SBIN = "/usr/sbin:/usr/local/sbin"  # not in everybody's PATH


def _tool(name: str) -> str:
    found = shutil.which(name) or shutil.which(name, path=SBIN)
    assert found, f"{name} is needed; on Debian: sudo apt-get install mosquitto openssl"
    return found


def free_port() -> int:
    """A port that nobody listens on now."""
    with socket.socket() as sock:
        sock.bind(("127.0.0.1", 0))
        return sock.getsockname()[1]


@dataclass(frozen=True)
class Certificates:
    """Files of one authority, a broker's certificate for loopback, and a client's."""

    ca: Path
    broker: Path
    broker_key: Path
    client: Path
    client_key: Path


class Broker:
    """One mosquitto; the same port and folder through all its starts."""

    host = "127.0.0.1"

    def __init__(self, folder: Path, lines: tuple[str, ...]) -> None:
        self.folder = folder
        self.port = free_port()
        self._lines = lines
        self._process: subprocess.Popen[bytes] | None = None

    @property
    def log(self) -> str:
        """What it has written so far."""
        return (self.folder / "log").read_text()

    def start(self) -> None:
        """Start it and wait until it listens."""
        user = f"user {getpass.getuser()}"  # else root's becomes one that cannot read the folder
        config = [f"listener {self.port} {self.host}", user, "log_type all", *self._lines]
        (self.folder / "mosquitto.conf").write_text("\n".join(config) + "\n")
        with (self.folder / "log").open("ab") as log:
            self._process = subprocess.Popen(
                [_tool("mosquitto"), "-c", "mosquitto.conf"],
                cwd=self.folder,
                stdout=log,
                stderr=log,
            )
        end_s = time.monotonic() + patient(DEADLINE_S)
        while not self._listens():
            assert self._process.poll() is None, f"mosquitto ended:\n{self.log}"
            assert time.monotonic() < end_s, f"mosquitto does not listen:\n{self.log}"
            time.sleep(0.01)

    def _listens(self) -> bool:
        with socket.socket() as sock:
            return sock.connect_ex((self.host, self.port)) == 0

    def stop(self) -> None:
        """End it in order: what it keeps is written."""
        self._end(signal.SIGTERM)

    def kill(self) -> None:
        """End it at once."""
        self._end(signal.SIGKILL)

    def stall(self) -> None:
        """Let it stand still: connections stay open, nothing is answered."""
        assert self._process is not None
        self._process.send_signal(signal.SIGSTOP)

    def go_on(self) -> None:
        """Let it run after a stall."""
        assert self._process is not None
        self._process.send_signal(signal.SIGCONT)

    def reload(self) -> None:
        """Have it read its files again."""
        assert self._process is not None
        self._process.send_signal(signal.SIGHUP)

    def _end(self, how: signal.Signals) -> None:
        process, self._process = self._process, None
        if process is not None and process.poll() is None:
            process.send_signal(signal.SIGCONT)
            end_s = time.monotonic() + patient(DEADLINE_S)
            while process.poll() is None:  # it forgets a signal of before its loop began
                assert time.monotonic() < end_s, f"mosquitto does not end:\n{self.log}"
                process.send_signal(how)
                with suppress(subprocess.TimeoutExpired):
                    process.wait(0.5)


@dataclass(frozen=True)
class Heard:
    """A message as a subscriber got it."""

    topic: str
    payload: str
    retained: bool
    qos: int
    properties: object
    at_s: float  # on the monotonic clock


class Ear:
    """Everything a subscriber has heard, in order."""

    def __init__(self) -> None:
        self.messages: list[Heard] = []
        self._news = asyncio.Event()
        self.gone = asyncio.Event()

    async def until_gone(self) -> None:
        """Wait until the broker has closed the connection."""
        async with within(DEADLINE_S):
            await self.gone.wait()

    def add(self, message: aiomqtt.Message) -> None:
        """One more."""
        heard = Heard(
            message.topic.value,
            bytes(message.payload).decode(errors="replace"),
            bool(message.retain),
            message.qos,
            message.properties,
            time.monotonic(),
        )
        self.messages.append(heard)
        self._news.set()

    def of(self, topic: str) -> list[str]:
        """Payloads that came to topics ending in `topic`."""
        return [heard.payload for heard in self.messages if heard.topic.endswith(topic)]

    async def until(
        self, seen: Callable[[list[Heard]], object], within_s: float = DEADLINE_S
    ) -> None:
        """Wait until `seen` is true of all that was heard."""
        try:
            async with within(within_s):
                while not seen(self.messages):
                    self._news.clear()
                    await self._news.wait()
        except TimeoutError:
            heard = "\n".join(f"{one.topic}: {one.payload}" for one in self.messages)
            pytest.fail(f"not heard within {within_s} s; heard were:\n{heard}")

    async def hear(self, topic: str, payload: str | None = None) -> Heard:
        """The first message to a topic ending in `topic` (with `payload`, if given)."""

        def fits(one: Heard) -> bool:
            return one.topic.endswith(topic) and payload in (None, one.payload)

        await self.until(lambda heard: any(map(fits, heard)))
        return next(filter(fits, self.messages))


LASTING = ("allow_anonymous true", "persistence true", "max_queued_messages 0")  # mosquitto.conf


class EventRecord:
    """Every event of a bench that a broker with `LASTING` was given: the session outlives both
    connections and orderly restarts of the broker, so what is missing here was never sent."""

    def __init__(self, broker: Broker, bench: str) -> None:
        self.texts: dict[str, set[str]] = {}  # by the event's id
        self._topic = f"wickbench/{bench}/event"
        self._ready = threading.Event()
        self._client = Client(CallbackAPIVersion.VERSION2, "record", protocol=MQTTv5)
        self._client.reconnect_delay_set(0.05, 0.1)
        self._client.on_connect = lambda client, *_: client.subscribe(self._topic, qos=1)
        self._client.on_subscribe = lambda *_: self._ready.set()
        self._client.on_message = self._take
        session = Properties(PacketTypes.CONNECT)
        session.SessionExpiryInterval = 3600
        self._client.connect(broker.host, broker.port, clean_start=False, properties=session)

    def __enter__(self) -> "EventRecord":
        self._client.loop_start()
        assert self._ready.wait(DEADLINE_S)
        return self

    def __exit__(self, *exc: object) -> None:
        self._client.disconnect()
        self._client.loop_stop()

    def _take(self, _client: object, _data: object, message: object) -> None:
        text = message.payload.decode()
        self.texts.setdefault(json.loads(text)["id"], set()).add(text)

    @property
    def doubled(self) -> int:
        """Ids under which more than one event came."""
        return sum(len(texts) > 1 for texts in list(self.texts.values()))


def _write_passwords(path: Path, passwords: dict[str, str]) -> None:
    path.write_text("".join(f"{user}:{word}\n" for user, word in passwords.items()))
    path.chmod(0o600)
    subprocess.run([_tool("mosquitto_passwd"), "-U", path], check=True)


@asynccontextmanager
async def _listening(broker: Broker, topic: str = "#", **options: object) -> AsyncIterator[Ear]:
    ear = Ear()

    async def collect(client: aiomqtt.Client) -> None:
        with suppress(aiomqtt.MqttError):
            async for message in client.messages:
                ear.add(message)
        ear.gone.set()

    async with aiomqtt.Client(
        broker.host, broker.port, protocol=aiomqtt.ProtocolVersion.V5, **options
    ) as client:
        await client.subscribe(topic, qos=1)
        collecting = asyncio.create_task(collect(client))
        try:
            yield ear
        finally:
            collecting.cancel()
            await asyncio.wait({collecting})


@pytest.fixture(scope="session")
def listening():
    """`async with listening(broker, "wickbench/#") as ear`: a subscriber, MQTT 5, QoS 1."""
    return _listening


@pytest.fixture(scope="session")
def start_broker(tmp_path_factory) -> Iterator[Callable[..., Broker]]:
    """Start brokers: `start_broker(*lines of mosquitto.conf)`.

    `files` are texts by name, `passwords` those of users, kept in mosquitto.passwd; both stand
    beside mosquitto.conf.
    """
    brokers = []

    def start(
        *lines: str,
        files: dict[str, str] | None = None,
        passwords: dict[str, str] | None = None,
    ) -> Broker:
        folder = tmp_path_factory.mktemp("broker")
        for name, text in (files or {}).items():
            (folder / name).write_text(text)
        if passwords:
            _write_passwords(folder / "mosquitto.passwd", passwords)
        broker = Broker(folder, lines)
        brokers.append(broker)
        broker.start()
        return broker

    yield start
    for broker in brokers:
        broker.kill()


@pytest.fixture
def broker(start_broker) -> Iterator[Broker]:
    """A fresh broker without passwords, which keeps nothing through a restart."""
    broker = start_broker("allow_anonymous true")
    yield broker
    broker.kill()


@pytest.fixture(scope="session")
def session_broker(start_broker) -> Broker:
    """A broker for all tests that use names of their own."""
    return start_broker("allow_anonymous true")


@pytest.fixture(scope="session")
def certificates(tmp_path_factory) -> Certificates:
    """An authority of our own and what it has signed, good for a day."""
    folder = tmp_path_factory.mktemp("certificates")

    def openssl(*words: str) -> None:
        done = subprocess.run(
            [_tool("openssl"), *words], cwd=folder, capture_output=True, text=True, check=False
        )
        assert done.returncode == 0, done.stderr

    key = ("-newkey", "ec", "-pkeyopt", "ec_paramgen_curve:P-256", "-nodes", "-days", "1")
    openssl("req", "-x509", *key, "-keyout", "ca.key", "-out", "ca.pem", "-subj", "/CN=authority")
    for name, subject, more in (
        ("broker", "/CN=127.0.0.1", "subjectAltName=IP:127.0.0.1"),
        ("client", "/CN=bench", "extendedKeyUsage=clientAuth"),
    ):
        (folder / f"{name}.ext").write_text(more + "\n")
        openssl("req", *key[:-2], "-keyout", f"{name}.key", "-out", f"{name}.csr", "-subj", subject)
        openssl(
            *("x509", "-req", "-in", f"{name}.csr", "-out", f"{name}.pem", "-days", "1"),
            *("-CA", "ca.pem", "-CAkey", "ca.key", "-CAcreateserial", "-extfile", f"{name}.ext"),
        )
    return Certificates(
        ca=folder / "ca.pem",
        broker=folder / "broker.pem",
        broker_key=folder / "broker.key",
        client=folder / "client.pem",
        client_key=folder / "client.key",
    )


@pytest.fixture
def tls_broker(start_broker, certificates) -> Iterator[Broker]:
    """A broker that speaks TLS only, and only with those who show a certificate."""
    broker = start_broker(
        "allow_anonymous true",
        f"cafile {certificates.ca}",
        f"certfile {certificates.broker}",
        f"keyfile {certificates.broker_key}",
        "require_certificate true",
    )
    yield broker
    broker.kill()


def tls_client(certificates: Certificates) -> ssl.SSLContext:
    """What a subscriber of `tls_broker` needs."""
    context = ssl.create_default_context(cafile=certificates.ca)
    context.load_cert_chain(certificates.client, certificates.client_key)
    return context
