"""A bench whose evening is to be stored, and its recorder: fixtures that conftest.py hands on."""

import asyncio
import random
from pathlib import Path

import pytest

from logger.burn.entries import Acknowledge, Lit, ManualReading, Note
from logger.burn.limits import Limits, Material, Station, WallLimits
from logger.pipeline import Bench, Pipeline
from logger.quantities import (
    Channel,
    Health,
    Part,
    Place,
    Position,
    Quantity,
    Reading,
    Tick,
)
from logger.service.core import bench_of
from logger.settings.config_file import parse
from logger.store.queries import open_read
from logger.store.recorder import Recorder, RecorderTimes
from logger.store.store import Store
from tests.support.waiting import patient

AT_S = 1_940_000_000.0
WALL = Place(position=Position.WALL, height_mm=60.0, clock=3)

SETTINGS = """
[bench]
name = "back-room"
show = { temperature = "degF" }
[limits.glass]
wall_alert = "57 degC"
wall_limit = "60 degC"
[[station]]
name = "jar-a"
material = "glass"
[[station]]
name = "jar-b"
[[instrument]]
name = "probes-a"
driver = "serial-lines"
port = "/dev/null"
[[instrument.channel]]
name = "jar-a-wall-3"
station = "jar-a"
place = "wall"
height = "60 mm"
clock = 3
quantity = "temperature"
field = 0
unit = "degC"
kind = "contact"
coupling = "0.1 delta_degC"
accuracy = "0.5 delta_degC"
[[instrument.channel]]
name = "jar-b-wall"
station = "jar-b"
place = "wall"
height = "50 mm"
clock = 3
quantity = "temperature"
field = 2
unit = "degC"
kind = "contact"
coupling = "0.1 delta_degC"
accuracy = "0.1 delta_degC"
[[instrument.channel]]
name = "room"
place = "room"
quantity = "temperature"
field = 1
unit = "degC"
"""


class Evening:
    """A bench in a real pipeline; `until` gives the steps of one second after another."""

    bench = Bench(
        channels=(
            Channel(
                name="jar-a-wall-3",
                instrument="probes-a",
                station="jar-a",
                quantity=Quantity.TEMPERATURE,
                place=WALL,
            ),
            Channel(
                name="room",
                instrument="probes-a",
                quantity=Quantity.TEMPERATURE,
                place=Place(position=Position.ROOM),
            ),
        ),
        stations=(Station(name="jar-a", material=Material.GLASS), Station(name="jar-b")),
        limits=Limits(
            burn_length_s=14_400.0,
            burn_notice_s=900.0,
            cool_down_s=14_400.0,
            room_low_c=20.0,
            room_high_c=27.0,
            wall={Material.GLASS: WallLimits(alert_c=57.0, limit_c=60.0)},
        ),
    )

    def __init__(self, seed=1, memory=None, at_s=AT_S) -> None:
        self.random = random.Random(seed)
        self.pipeline = Pipeline(self.bench, at_s, memory)
        self.steps = []

    def step(self, item):
        """One input through the pipeline; what is to be stored of it."""
        taken = (item, self.pipeline.step(item))
        self.steps.append(taken)
        return taken

    def second(self, second, wall_c):
        """A tick, and both channels in one read: the same stamp."""
        first = len(self.steps)
        self.step(Tick(at_s=AT_S + second))
        at_s = round(AT_S + second + self.random.uniform(0.2, 0.8), 6)
        for name, mean_c in (("jar-a-wall-3", wall_c), ("room", 22.0)):
            value = round(self.random.gauss(mean_c, 0.2), 2)
            self.step(Reading(channel=name, value=value, at_s=at_s))
        return self.steps[first:]

    def lit(self, second=0.5, station="jar-a", trial="cotton 3, soy"):
        at_s = AT_S + second
        entry = Lit(
            at_s=at_s, entered_s=at_s, id=f"lit-{station}-{second}", station=station, trial=trial
        )
        return self.step(entry)

    def note(self, second, text="a tall flame", id=None):
        at_s = AT_S + second
        id = id or f"note-{second}"
        return self.step(Note(at_s=at_s, entered_s=at_s, id=id, station="jar-a", text=text))

    def hot(self, upto=90):
        """Lit, rising over the alert and the limit; noted, read by hand and acknowledged."""
        self.lit()
        for second in range(1, upto):
            self.second(second, 40.0 + 0.4 * second)
            if second == 30:
                self.step(
                    ManualReading(
                        at_s=AT_S + 20.0,
                        entered_s=AT_S + 30.9,
                        id="hand-1",
                        by="Ada",
                        station="jar-a",
                        place=Place(position=Position.RIM),
                        values=(41.5, 42.0, 41.0),
                    )
                )
            if second == 75:
                self.note(75.9)
                self.step(
                    Acknowledge(
                        at_s=AT_S + 75.95,
                        entered_s=AT_S + 75.95,
                        id="ack-1",
                        by="Ada",
                        where="page",
                        alarm="wall-limit/jar-a-wall-3",
                    )
                )
                self.step(
                    Health(
                        part=Part.INSTRUMENT,
                        name="probes-a",
                        ok=True,
                        reason="reading",
                        at_s=AT_S + 75.96,
                    )
                )
        return self


def reading(number):
    return Reading(channel="a", value=float(number), at_s=AT_S + number / 16.0)


def numbers(data):
    with open_read(data) as reader:
        return [int(reading.value) for reading in reader.readings()]


def slowed(store, monkeypatch, *, begun, go_on):
    """Each commit tells `begun` and waits for `go_on`, in the writer's thread."""
    append = store.append

    async def slow(batch, **more):
        def wait():
            begun.set()
            go_on.wait(patient(5.0))

        await store._on_thread(wait)
        return await append(batch, **more)

    monkeypatch.setattr(store, "append", slow)


def configured(text):
    """What a run notes of a configuration."""
    return {"settings_text": text, "bench": bench_of(parse(text, Path("bench.toml")))}


@pytest.fixture
def evening():
    """Makes a bench; its arguments are those of Evening."""
    return Evening


@pytest.fixture
async def opened(tmp_path):
    """Opens the store in `tmp_path` and begins a run; closed after the test."""
    stores = []

    async def open_(
        data=tmp_path, *, settings_text="[bench]\n", bench=Evening.bench, started_s=AT_S, **more
    ):
        store = await Store.open(data)
        stores.append(store)
        store.run = await store.begin_run(
            settings_text=settings_text, bench=bench, started_s=started_s, version="0.1.0", **more
        )
        return store

    yield open_
    for store in stores:
        await store.close()


class Recording:
    """A recorder at work, and what it told."""

    def __init__(self, store, **more) -> None:
        self.news = []
        self.woken = []
        pace = {"retry_first_s": 0.01, "retry_last_s": 0.02, "flush_within_s": 0.1}
        pace.update(more.pop("pace", {}))
        self.recorder = Recorder(
            store,
            now_s=lambda: AT_S,
            report=self.news.append,
            on_events=self.woken.append,
            pace=RecorderTimes(**pace),
            **more,
        )
        self.task = asyncio.create_task(self.recorder.run())

    def take(self, steps) -> None:
        for item, outputs in steps:
            self.recorder.take(item, outputs)

    async def stop(self, within_s=10.0) -> None:
        self.task.cancel()
        done, _ = await asyncio.wait({self.task}, timeout=patient(within_s))
        assert done, "the recorder does not stop"
        if not self.task.cancelled():
            self.task.result()


@pytest.fixture
async def recording():
    """Starts a recorder on a store; stopped after the test."""
    started = []

    def start(store, **more):
        started.append(Recording(store, **more))
        return started[-1]

    yield start
    for one in started:
        await one.stop()
