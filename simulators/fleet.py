"""Many benches at once, as a broker and a time-series engine see them.

`python -m simulators.fleet --broker HOST:PORT --engine URL --benches 200 --seconds 60` connects so
many, each with a connection of its own: a will, retained estimates of its channels each second, a
heartbeat each 5 s, its points as lines over HTTP each 5 s, and now and then an alarm. A subscriber
of its own counts what arrives. It ends with one line of JSON: what was sent, lost, and how late
the alarms were.

Packets and lines are written by hand: MQTT 5.0 (OASIS standard, 2019) and the line protocol.
"""

import argparse
import asyncio
import json
import sys
import time
from collections.abc import AsyncIterator, Sequence
from contextlib import asynccontextmanager, suppress
from dataclasses import dataclass, field
from urllib.parse import urlsplit

CHANNELS = 8
EVERY_S = 5.0  # heartbeat, and a batch of points
ALARM_EVERY_S = 20.0  # of each bench
CONNECT_S = 30.0
LINGERS_S = 5.0  # after the last was sent
KEEP_ALIVE_S = 60

_CONNECT, _PUBLISH, _SUBSCRIBE = 0x10, 0x30, 0x82  # first bytes (section 2.1.2)
_RETAIN, _QOS_1 = 0x01, 0x02  # flags of PUBLISH (3.3.1)


def _text(text: str) -> bytes:
    data = text.encode()
    return len(data).to_bytes(2, "big") + data


def _packet(first: int, body: bytes) -> bytes:
    """With the length as a variable byte integer (1.5.5)."""
    left, length = len(body), bytearray()
    while True:
        left, low = divmod(left, 128)
        length.append(low | (0x80 if left else 0))
        if not left:
            return bytes([first]) + bytes(length) + body


def connect(name: str, will_topic: str) -> bytes:
    """CONNECT with a clean start and a retained will (3.1)."""
    clean_will_retained = 0x02 | 0x04 | 0x20
    head = _text("MQTT") + bytes([5, clean_will_retained]) + KEEP_ALIVE_S.to_bytes(2, "big")
    will = b"\x00" + _text(will_topic) + _text("offline")
    return _packet(_CONNECT, head + b"\x00" + _text(name) + will)


def publish(topic: str, payload: bytes, number: int = 0, *, retain: bool = True) -> bytes:
    """PUBLISH (3.3); with a packet number it is QoS 1."""
    flags = (_RETAIN if retain else 0) | (_QOS_1 if number else 0)
    id_ = number.to_bytes(2, "big") if number else b""
    return _packet(_PUBLISH | flags, _text(topic) + id_ + b"\x00" + payload)


def subscribe(*topics: str) -> bytes:
    """SUBSCRIBE with QoS 1 (3.8); what was retained before is not sent."""
    no_retained = 0x20 | 0x01
    asked = b"".join(_text(topic) + bytes([no_retained]) for topic in topics)
    return _packet(_SUBSCRIBE, b"\x00\x01\x00" + asked)


@asynccontextmanager
async def connected(
    host: str | None, port: int | None
) -> AsyncIterator[tuple[asyncio.StreamReader, asyncio.StreamWriter]]:
    """A connection, closed on every way out."""
    reader, writer = await asyncio.open_connection(host, port, limit=2**22)
    try:
        yield reader, writer
    finally:
        writer.close()
        with suppress(OSError):
            await writer.wait_closed()


async def packet(reader: asyncio.StreamReader) -> tuple[int, bytes]:
    """The next packet: first byte and body."""
    (first,) = await reader.readexactly(1)
    length = shift = 0
    while True:
        (low,) = await reader.readexactly(1)
        length |= (low & 0x7F) << shift
        shift += 7
        if not low & 0x80:
            return first, await reader.readexactly(length)


@dataclass
class Tally:
    """What happened so far."""

    sent: int = 0
    arrived: int = 0
    confirmed: int = 0  # by the broker, of those with QoS 1
    points: int = 0  # that the engine took
    points_refused: int = 0
    batches_late_s: list[float] = field(default_factory=list)  # answers of the engine
    alarms_sent: int = 0
    alarms_late_s: list[float] = field(default_factory=list)
    late_s: list[float] = field(default_factory=list)  # a bench's second begun so late
    disconnected: int = 0


class FleetBench:
    """One bench: 8 channels of one station."""

    def __init__(self, number: int, broker: tuple[str, int], engine: str, tally: Tally) -> None:
        self._name = f"bench-{number:04d}"
        self._prefix = f"wickbench/{self._name}"
        self._broker = broker
        self._engine = urlsplit(engine)
        self._tally = tally
        self._number = number
        self._packet = 0
        self._points: list[str] = []

    async def run(self, begin_s: float, seconds: int) -> None:
        """Connect, and send for so many seconds from `begin_s` of the monotonic clock on."""
        # Benches are not started together: each has its own moment of the second.
        begin_s += self._number * 0.618 % 1.0
        try:
            async with connected(*self._broker) as (reader, writer):
                writer.write(connect(self._name, f"{self._prefix}/status"))
                await packet(reader)
                confirmations = asyncio.create_task(self._confirmed(reader))
                await self._send(writer, begin_s, seconds)
                confirmations.cancel()
        except (OSError, asyncio.IncompleteReadError):
            self._tally.disconnected += 1

    async def _send(self, writer: asyncio.StreamWriter, begin_s: float, seconds: int) -> None:
        async with asyncio.TaskGroup() as forwarding:
            for second in range(seconds):
                await asyncio.sleep(begin_s + second - time.monotonic())
                self._tally.late_s.append(time.monotonic() - begin_s - second)
                writer.write(self._second(second))
                await writer.drain()
                if (second + self._number) % int(EVERY_S) == 0 and self._points:
                    points, self._points = self._points, []
                    forwarding.create_task(self._forward(points))
            await asyncio.sleep(LINGERS_S)

    def _second(self, second: int) -> bytes:
        """What it publishes in one second."""
        at_s, sent = time.time(), []
        for channel in range(CHANNELS):
            name, value = f"jar-a-wall-{channel}", 40.0 + channel + 0.01 * second
            estimate = {
                "kind": "estimate",
                "time": at_s,
                "channel": name,
                "value": round(value, 3),
                "unit": "degC",
                "standard_uncertainty": 0.31,
                "repeatability": 0.05,
                "used": 30,
                "rejected": 0,
                "quality": "good",
            }
            payload = json.dumps(estimate, separators=(",", ":")).encode()
            sent.append(self._confirmable(f"channel/{name}", payload))
            self._points.append(
                f"estimate,bench={self._name},channel={name},station=jar-a value={value:.3f},"
                f"standard_uncertainty=0.31 {int(at_s * 1e9)}"
            )
        if (second + self._number) % int(EVERY_S) == 0:
            self._tally.sent += 1
            beat = publish(f"{self._prefix}/heartbeat", str(at_s).encode(), retain=False)
            sent.append(beat)
        if (second + self._number) % int(ALARM_EVERY_S) == 0:
            alarm = json.dumps({"kind": "alarm", "sent": time.monotonic()}).encode()
            sent.append(self._confirmable("alarm/jar-a/wall-limit/jar-a-wall-3", alarm))
            self._tally.alarms_sent += 1
        return b"".join(sent)

    def _confirmable(self, topic: str, payload: bytes) -> bytes:
        self._packet = self._packet % 65_535 + 1
        self._tally.sent += 1
        return publish(f"{self._prefix}/{topic}", payload, self._packet)

    async def _confirmed(self, reader: asyncio.StreamReader) -> None:
        with suppress(asyncio.IncompleteReadError, OSError):
            while True:
                await packet(reader)
                self._tally.confirmed += 1

    async def _forward(self, points: Sequence[str]) -> None:
        """One batch in one request, as a bench sends it."""
        begun_s, engine = time.monotonic(), self._engine
        body = "\n".join(points).encode()
        head = (
            f"POST /api/v2/write?bucket=wickbench&precision=ns HTTP/1.1\r\nHost: {engine.netloc}"
            f"\r\nContent-Length: {len(body)}\r\nConnection: close\r\n\r\n"
        )
        answer = b""
        with suppress(OSError):
            async with connected(engine.hostname, engine.port) as (reader, writer):
                writer.write(head.encode() + body)
                answer = await reader.readline()
        if b" 204 " in answer:
            self._tally.points += len(points)
            self._tally.batches_late_s.append(time.monotonic() - begun_s)
        else:
            self._tally.points_refused += len(points)


async def listen(broker: tuple[str, int], tally: Tally, ready: asyncio.Event) -> None:
    """Subscribe to everything and count it."""
    async with connected(*broker) as (reader, writer):
        writer.write(connect("fleet-ear", "fleet/ear"))
        await packet(reader)
        writer.write(subscribe("wickbench/#"))
        await packet(reader)
        ready.set()
        while True:
            first, body = await packet(reader)
            if first & 0xF0 != _PUBLISH:
                continue
            length = int.from_bytes(body[:2], "big")
            topic, rest = body[2 : 2 + length], body[2 + length :]
            if first & _QOS_1:
                writer.write(b"\x40\x02" + rest[:2])  # PUBACK (3.4)
                rest = rest[2:]
            if topic.endswith(b"/status"):
                continue  # a will
            tally.arrived += 1
            if b"/alarm/" in topic:
                properties = rest[0]
                sent_s = json.loads(rest[1 + properties :])["sent"]
                tally.alarms_late_s.append(time.monotonic() - sent_s)


async def run(benches: int, seconds: int, broker: tuple[str, int], engine: str) -> Tally:
    """So many benches for so long; what came of it."""
    tally, ready = Tally(), asyncio.Event()
    ear = asyncio.create_task(listen(broker, tally, ready))
    await asyncio.wait_for(ready.wait(), CONNECT_S)
    begin_s = time.monotonic() + 1.0 + benches / 200.0
    fleet = [FleetBench(number, broker, engine, tally) for number in range(benches)]
    await asyncio.gather(*(one.run(begin_s, seconds) for one in fleet))
    ear.cancel()
    await asyncio.wait({ear})
    return tally


def quantile(values: Sequence[float], share: float) -> float | None:
    """The value that `share` of them do not exceed."""
    return sorted(values)[min(len(values) - 1, int(share * len(values)))] if values else None


def summary(tally: Tally) -> dict[str, float | None]:
    """What a run came to; times in milliseconds."""
    late = {
        "alarm_p99_ms": quantile(tally.alarms_late_s, 0.99),
        "alarm_p50_ms": quantile(tally.alarms_late_s, 0.5),
        "engine_p99_ms": quantile(tally.batches_late_s, 0.99),
        "bench_late_p99_ms": quantile(tally.late_s, 0.99),
    }
    return {
        "sent": tally.sent,
        "lost": tally.sent - tally.arrived,
        "alarms": tally.alarms_sent,
        "alarms_lost": tally.alarms_sent - len(tally.alarms_late_s),
        "points": tally.points,
        "points_refused": tally.points_refused,
        "disconnected": tally.disconnected,
    } | {name: None if one is None else round(1e3 * one, 1) for name, one in late.items()}


def main(arguments: Sequence[str] | None = None) -> int:
    """Run the fleet; returns 1 where anything was lost."""
    parser = argparse.ArgumentParser(description=__doc__)
    parser.add_argument("--broker", required=True, help="HOST:PORT")
    parser.add_argument("--engine", required=True, help="http://HOST:PORT")
    parser.add_argument("--benches", type=int, default=200)
    parser.add_argument("--seconds", type=int, default=60)
    asked = parser.parse_args(arguments)
    host, _, port = asked.broker.rpartition(":")
    broker = host, int(port)
    found = summary(asyncio.run(run(asked.benches, asked.seconds, broker, asked.engine)))
    sys.stdout.write(json.dumps(found) + "\n")
    return int(bool(found["lost"] or found["points_refused"]))


if __name__ == "__main__":
    sys.exit(main())
