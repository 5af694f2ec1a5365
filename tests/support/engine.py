"""A real time-series engine on loopback, a proxy before it that fails, and one that refuses.

The engine is victoria-metrics (Debian's package), which takes the InfluxDB v2 write protocol. It
keeps numbers only, to the millisecond; `Refusing` shows what a line was to the nanosecond.
"""

import asyncio
import json
import math
import shutil
import subprocess
import time
import urllib.parse
import urllib.request
from collections import Counter
from collections.abc import Callable, Iterable, Iterator
from contextlib import suppress
from pathlib import Path

import pytest

from logger.alarms.lifecycle import AlarmEvent
from logger.quantities import Channel
from logger.store.queries import open_read
from tests.support.broker import DEADLINE_S, free_port
from tests.support.waiting import patient

Samples = dict[tuple[tuple[str, str], ...], list[tuple[int, float]]]


class Engine:
    """One victoria-metrics; the same port and folder through all its starts."""

    def __init__(self, folder: Path) -> None:
        self.folder = folder
        self.port = free_port()
        self._process: subprocess.Popen[bytes] | None = None

    @property
    def url(self) -> str:
        return f"http://127.0.0.1:{self.port}"

    def start(self) -> None:
        """Start it and wait until it answers."""
        binary = shutil.which("victoria-metrics")
        assert binary, (
            "victoria-metrics is needed; on Debian: sudo apt-get install victoria-metrics"
        )
        with (self.folder / "log").open("ab") as log:
            self._process = subprocess.Popen(
                [
                    binary,
                    f"-httpListenAddr=127.0.0.1:{self.port}",
                    f"-storageDataPath={self.folder / 'data'}",
                    "-retentionPeriod=10y",
                    "-dedup.minScrapeInterval=1ms",  # a sample written twice is one
                ],
                stdout=log,
                stderr=log,
            )
        end_s = time.monotonic() + patient(DEADLINE_S)
        while True:
            with suppress(OSError):
                self._get("/health")
                return
            said = (self.folder / "log").read_text()
            assert self._process.poll() is None, f"victoria-metrics ended:\n{said}"
            assert time.monotonic() < end_s, f"victoria-metrics does not listen:\n{said}"
            time.sleep(0.02)

    def stop(self) -> None:
        """End it in order."""
        process, self._process = self._process, None
        if process is not None:
            process.terminate()
            process.wait(patient(DEADLINE_S))

    def export(self, measurement: str = ".+") -> Samples:
        """All samples, by labels; a metric is called measurement_field."""
        self._get("/internal/force_flush")
        found: Samples = {}
        match = urllib.parse.quote(f'{{__name__=~"{measurement}"}}')
        for line in self._get(f"/api/v1/export?match[]={match}").splitlines():
            series = json.loads(line)
            labels = tuple(sorted(series["metric"].items()))
            samples = zip(series["timestamps"], series["values"], strict=True)
            found.setdefault(labels, []).extend(samples)
        return {labels: sorted(samples) for labels, samples in found.items()}

    def _get(self, path: str) -> str:
        with urllib.request.urlopen(f"{self.url}{path}", timeout=patient(DEADLINE_S)) as answer:
            return answer.read().decode()


class Proxy:
    """Between a bench and its engine: passes on, or swallows what comes (half-open)."""

    def __init__(self, engine: Engine) -> None:
        self._engine = engine
        self.swallows = False
        self.taken = 0  # bytes from the bench
        self._tasks: set[asyncio.Task[None]] = set()
        self._server: asyncio.Server | None = None

    @property
    def url(self) -> str:
        assert self._server is not None
        return f"http://127.0.0.1:{self._server.sockets[0].getsockname()[1]}"

    async def __aenter__(self) -> "Proxy":
        self._server = await asyncio.start_server(self._pass_on, "127.0.0.1", 0)
        return self

    async def __aexit__(self, *exc: object) -> None:
        assert self._server is not None
        self._server.close()
        for task in self._tasks:
            task.cancel()
        await asyncio.gather(*self._tasks, return_exceptions=True)

    async def _pass_on(self, reader: asyncio.StreamReader, writer: asyncio.StreamWriter) -> None:
        task = asyncio.current_task()
        assert task is not None
        self._tasks.add(task)
        task.add_done_callback(self._tasks.discard)
        there, back = await asyncio.open_connection("127.0.0.1", self._engine.port)
        answers = asyncio.create_task(self._copy(there, writer))
        try:
            await self._copy(reader, back, count=True)
        finally:
            answers.cancel()
            await asyncio.gather(answers, return_exceptions=True)
            for one in (writer, back):
                one.close()

    async def _copy(
        self, source: asyncio.StreamReader, to: asyncio.StreamWriter, *, count: bool = False
    ) -> None:
        with suppress(OSError):
            while data := await source.read(65_536):
                self.taken += len(data) if count else 0
                if not self.swallows:
                    to.write(data)
                    await to.drain()


class Refusing:
    """An engine in memory that answers each write as `answer` says: a status, after a wait.

    It keeps a point by measurement, tags and time, as the protocol has it: written twice it is
    one. `answer` gets the lines of a request.
    """

    def __init__(self) -> None:
        self.answer: Callable[[list[str]], int] = lambda lines: 204
        self.wait_of: Callable[[list[str]], float] = lambda lines: 0.0
        self.points: dict[tuple[str, int], str] = {}
        self.requests: list[tuple[int, int]] = []  # lines and status of each
        self.headers: list[dict[str, str]] = []
        self._server: asyncio.Server | None = None
        self._tasks: set[asyncio.Task[None]] = set()

    @property
    def url(self) -> str:
        assert self._server is not None
        return f"http://127.0.0.1:{self._server.sockets[0].getsockname()[1]}"

    def of(self, measurement: str) -> dict[tuple[str, int], str]:
        """Its points: tags and time to fields."""
        return {
            key: fields
            for key, fields in self.points.items()
            if key[0].split(",")[0] == measurement
        }

    async def __aenter__(self) -> "Refusing":
        self._server = await asyncio.start_server(self._serve, "127.0.0.1", 0)
        return self

    async def __aexit__(self, *exc: object) -> None:
        assert self._server is not None
        self._server.close()
        for task in self._tasks:
            task.cancel()
        await asyncio.gather(*self._tasks, return_exceptions=True)

    async def _serve(self, reader: asyncio.StreamReader, writer: asyncio.StreamWriter) -> None:
        task = asyncio.current_task()
        assert task is not None
        self._tasks.add(task)
        task.add_done_callback(self._tasks.discard)
        try:
            with suppress(OSError, asyncio.IncompleteReadError):
                while True:
                    head = (await reader.readuntil(b"\r\n\r\n")).decode()
                    pairs = (one.partition(": ") for one in head.split("\r\n")[1:] if one)
                    headers = {name.lower(): value for name, _, value in pairs}
                    self.headers.append(headers)
                    body = await reader.readexactly(int(headers["content-length"]))
                    lines = body.decode().splitlines()
                    await asyncio.sleep(self.wait_of(lines))
                    status = self.answer(lines)
                    self.requests.append((len(lines), status))
                    if status == 204:
                        for line in lines:
                            key, fields, at_ns = _parts(line)
                            self.points[key, at_ns] = fields
                    reason = b'{"code":"invalid","message":"field type conflict"}'
                    said = b"" if status == 204 else reason
                    writer.write(
                        f"HTTP/1.1 {status} X\r\ncontent-length: {len(said)}\r\n\r\n".encode()
                        + said
                    )
                    await writer.drain()
        finally:
            writer.close()


def _parts(line: str) -> tuple[str, str, int]:
    """Measurement with tags, fields, time; of lines without escaped spaces before the fields."""
    key, _, rest = line.partition(" ")
    fields, _, at_ns = rest.rpartition(" ")
    return key, fields, int(at_ns)


def compare(engine: Engine, expected: Samples, until_ms: float = math.inf) -> int:
    """Hold the engine's whole export against what is stored; how many samples that were.

    Of several in one millisecond the engine keeps one, and of a value some 12 digits. They are
    compared by their distance: rounded to fewer digits, two that are nearly one may part. What is
    later than `until_ms` may be missing.
    """
    found = engine.export("(reading|estimate|event)_.*")
    kept: dict[tuple[object, int], list[float]] = {}
    for labels, samples in expected.items():
        for at_ms, value in samples:
            kept.setdefault((labels, at_ms), []).append(value)
    there = [(labels, *sample) for labels, samples in found.items() for sample in samples]
    wrong = [one for one in there if not any(_same(one[2], v) for v in kept.get(one[:2], ()))]
    times = Counter(one[:2] for one in there)
    missing = sorted(one for one in kept.keys() - times.keys() if one[1] <= until_ms)
    doubled = sorted(key for key, count in times.items() if count > 1)
    assert (wrong[:5], missing[:5], doubled[:5]) == ([], [], [])
    return len(kept)


def _same(found: float, stored: float) -> bool:
    """Ten times as far apart as the engine was seen to round: 1e-12 of the value."""
    return math.isclose(found, stored, rel_tol=1e-11)


def stored_samples(data: Path, bench: str, channels: Iterable[Channel]) -> Samples:
    """What is in a database, as the engine should give it out: of a text it keeps a 0, of a truth

    1 or 0, and stamps to the millisecond, which it cuts off.
    """
    found: Samples = {}
    known = {channel.name: channel for channel in channels}

    def put(measurement: str, at_s: float, fields: dict, labels: dict) -> None:
        for field, value in fields.items():
            if value is None:
                continue
            named = {**labels, "__name__": f"{measurement}_{field}", "bench": bench}
            key = tuple(sorted((k, v) for k, v in named.items() if v is not None))
            number = 0.0 if isinstance(value, str) else float(value)
            found.setdefault(key, []).append((round(at_s * 1e6) // 1000, number))

    def tags(name: str) -> dict:
        one = known[name]
        place, quantity = one.place.position.value, one.quantity.value
        return {"channel": name, "station": one.station, "place": place, "quantity": quantity}

    with open_read(data) as reader:
        for one in reader.readings():
            unit = {"unit": known[one.channel].unit.name}
            put("reading", one.at_s, {"value": one.value}, tags(one.channel) | unit)
        for one in reader.estimates():
            fields = {
                "value": one.value,
                "standard_uncertainty": one.standard_uncertainty,
                "used": one.used,
                "rejected": one.rejected,
                "quality": one.quality.value,
                "good": one.quality.value == "good",
            }
            put("estimate", one.at_s, fields, tags(one.channel))
        for event in (one.event for one in reader.events()):
            fields = {"id": event.id, "burn": event.burn, "text": ""}
            if isinstance(event, AlarmEvent):
                finding = event.alarm.finding
                fields |= {"priority": "", "state": ""}
                labels = {
                    "kind": "alarm",
                    "event": event.what,
                    "rule": finding.rule,
                    "station": finding.station,
                    "channel": finding.channel,
                }
            else:
                labels = {"kind": "burn", "event": event.event, "station": event.station}
            put("event", event.time_s, fields, labels)
    return found


@pytest.fixture
def engine(tmp_path_factory) -> Iterator[Engine]:
    """A fresh engine."""
    one = Engine(tmp_path_factory.mktemp("engine"))
    one.start()
    yield one
    one.stop()


@pytest.fixture
async def proxy(engine):
    """Before the engine, and passing on at first."""
    async with Proxy(engine) as one:
        yield one


@pytest.fixture
async def refusing():
    """An engine that refuses what it is told to."""
    async with Refusing() as one:
        yield one
