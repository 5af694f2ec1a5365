"""Whatever people and instruments do, in whatever order: nothing stumbles, nothing is lost.

Steps are drawn at random; each goes through pipeline, broker's side, page's stream and database,
and now and then the service is started again. What the bench refuses changes nothing.
"""

import random
from pathlib import Path

import pytest

from logger.alarms.lifecycle import AlarmEvent
from logger.announcements import Announcer
from logger.burn import entries
from logger.burn.entries import Danger
from logger.burn.model import BurnEvent
from logger.conditioning.calibration import Correction
from logger.errors import Refused
from logger.hub import Hub
from logger.pipeline import Pipeline, begun
from logger.publish.pending import Pending
from logger.publish.topics import Topics
from logger.quantities import Health, Part, Place, Position, Quantity, Reading
from logger.service import records
from logger.service.core import bench_of
from logger.service.trial_verdict import Judging
from logger.settings.config_file import parse
from logger.store.queries import open_read
from logger.store.store import Store
from logger.web.live import LiveEvents
from tests.support.described import as_described
from tests.support.web_bench import ONE_STATION, START_S

STATIONS = ("jar-a", "tin-b", "gone")  # the last is in no configuration
LIMITS = """
show = { temperature = "degF", mass = "oz" }
[limits]
cool_down = "5 min"
burn_length = "10 min"
burn_notice = "2 min"
[limits.glass]"""
SETTINGS = (
    ONE_STATION.replace("\n[limits.glass]", LIMITS)
    + """
[[station]]
name = "tin-b"
material = "metal"
"""
)


class Evening:
    """The parts of a service, called in its order; every step of one may be the last."""

    def __init__(self, folder: Path, seed: int) -> None:
        self.folder = folder
        self.random = random.Random(seed)
        self.settings = parse(SETTINGS.replace("{folder}", str(folder)), folder / "bench.toml")
        self.now_s = START_S
        self.seconds = begun(START_S)
        self.count = 0
        self.accepted: list[str] = []
        self.readings: list[str] = []  # ids of those by hand
        self.events: list[str] = []

    async def start(self) -> None:
        self.store = await Store.open(self.folder)
        await self.store.begin_run(
            settings_text=self.settings.text,
            bench=bench_of(self.settings),
            started_s=self.now_s,
            version="any",
        )
        memory = await self.store.memory(self.now_s)
        self.pipeline = Pipeline(bench_of(self.settings), self.now_s, memory)
        self.hub = Hub()
        self.hub.resume(self.pipeline, self.now_s)
        self.announcer = Announcer(
            self.settings.words, lambda: self.pipeline.burns, lambda: self.pipeline.alarms
        )
        self.pending = Pending(Topics(bench="any"), self.pipeline.channel, lambda: 0.0)
        self.live = LiveEvents(self.hub, self.pipeline.channel, lambda: "")
        self.seconds.after_s = max(self.seconds.after_s, self.now_s - 1e-6)

    def known(self):
        """What a restart must not change; an alarm's figure of this moment it may."""
        alarms = {
            alarm.key: (alarm.state, alarm.count, alarm.burn, alarm.acknowledged_by)
            for alarm in self.pipeline.alarms
            if alarm.active
        }
        return {burn.station: burn for burn in self.pipeline.burns}, alarms

    async def put(self, item) -> None:
        steps = []
        stamp_s = item.entered_s if isinstance(item, entries.Entry) else item.at_s
        for one in (*self.seconds.upto(stamp_s), item):
            before = (self.pipeline.burns, self.pipeline.alarms, self.pipeline.estimates)
            try:
                outputs = self.pipeline.step(one)
            except Refused:
                after = (self.pipeline.burns, self.pipeline.alarms, self.pipeline.estimates)
                assert before == after
                continue
            self.events += [out.id for out in outputs if isinstance(out, AlarmEvent | BurnEvent)]
            self.pending.take(outputs)
            with self.hub.follow() as follower:
                self.hub.publish(one, outputs)
                for output in follower.take_waiting():
                    self.live._message(output)  # as a page's stream makes it
            said = self.announcer.announce(outputs)
            self.pending.announce(said)
            assert all(each.line.isprintable() for each in said)
            steps.append((one, outputs))
            if isinstance(one, entries.Entry):
                self.accepted.append(one.id)
                if isinstance(one, entries.ManualReading):
                    self.readings.append(one.id)
        await self.store.append(steps)

    def entry(self) -> entries.Entry:
        draw = self.random
        self.count += 1
        at_s = self.now_s - draw.choice((0.0, 0.0, 0.0, 60.0, 900.0, 40_000.0))
        stamps = {"at_s": at_s, "entered_s": self.now_s, "id": f"entry-{self.count}", "by": "Ines"}
        station = draw.choice(STATIONS[:2] * 8 + STATIONS)
        here = {**stamps, "station": station}
        mass_g = draw.uniform(280.0, 540.0)
        place = Place(
            position=draw.choice((Position.WALL, Position.RIM, Position.MELT_POOL)),
            height_mm=draw.choice((None, 40.0, 60.5)),
        )
        values = tuple(draw.uniform(20.0, 75.0) for _ in range(draw.randint(1, 4)))
        alarms = [alarm.key for alarm in self.pipeline.alarms] or ["silent/room"]
        until_s = self.now_s + 300.0
        correction = Correction(offset=draw.uniform(-1.0, 1.0), offset_uncertainty=0.1)
        made = (
            entries.Lit(
                **here,
                trial=draw.choice(("cedar-6", "cedar-7")),
                tester=draw.choice(("", "M6")),
                mass_g=draw.choice((None, mass_g)),
                wax_g=draw.choice((None, 220.0)),
            ),
            entries.Out(**here),
            entries.Note(**here, text="flame 20 mm\n<b>steady</b>"),
            entries.WeighIn(**here, mass_g=mass_g, wax_g=draw.choice((None, 220.0))),
            entries.ManualReading(**here, place=place, values=values),
            entries.ManualReading(
                **here,
                place=place,
                values=values,
                emissivity=draw.choice((0.1, 0.92)),
                reflected_c=draw.choice((None, 22.0, 60.0)),
            ),
            entries.Moved(**here, reading=draw.choice(self.readings or ["none"])),
            entries.Emergency(**here, what=draw.choice(tuple(Danger))),
            entries.InSight(**here),
            entries.Acknowledge(**stamps, alarm=draw.choice(alarms)),
            entries.Shelve(**stamps, alarm=draw.choice(alarms), until_s=until_s),
            entries.Calibrated(
                **stamps,
                channel=draw.choice(("room", "jar-a-wall-3", "none")),
                quantity=Quantity.TEMPERATURE,
                reference="ice bath",
                method="offset",
                correction=correction,
            ),
        )
        return draw.choices(made, weights=(5, 3, 1, 3, 3, 1, 2, 0.3, 1, 2, 1, 0.5))[0]

    async def step(self) -> None:
        draw = self.random
        kind = draw.choices(("entry", "readings", "health", "restart"), weights=(6, 6, 1, 0.3))[0]
        if kind == "entry":
            await self.put(self.entry())
        elif kind == "readings":
            level_c = draw.choice((24.0, 45.0, 59.0, 62.0))
            for _ in range(draw.randint(1, 40)):
                self.now_s += 1.0
                for name, value in (("jar-a-wall-3", level_c), ("room", 22.0), ("none", 1.0)):
                    noisy = value + draw.gauss(0.0, 0.3)
                    await self.put(Reading(channel=name, value=noisy, at_s=self.now_s))
        elif kind == "health":
            name, part = draw.choice((("probes", Part.INSTRUMENT), ("disk", Part.STORAGE)))
            ok, why = draw.choice(((True, ""), (False, "it is away")))
            await self.put(Health(name=name, part=part, at_s=self.now_s, ok=ok, reason=why))
        else:
            await self.store.close()
            before = self.known()
            seen_s, self.now_s = self.now_s, self.now_s + draw.choice((2.0, 700.0))
            await self.start()
            assert self.known() == before
            stamps = {"at_s": seen_s, "entered_s": self.now_s, "id": f"back-{self.now_s:.0f}"}
            await self.put(entries.Resumed(**stamps))
        self.now_s += draw.choice((0.0, 0.25, 1.0, 30.0))


@pytest.mark.faults
async def test_no_order_of_things_stumbles_or_loses_anything(tmp_path, long):
    for seed in range(4 if long else 1):
        await live_through(tmp_path / f"seed-{seed}", seed)


async def live_through(folder, seed):
    folder.mkdir()
    bench = Evening(folder, seed)
    await bench.start()
    for _ in range(250):
        await bench.step()
    await bench.store.close()
    with open_read(folder) as reader:
        assert [stored.entry.id for stored in reader.entries()] == bench.accepted
        assert [one.event.id for one in reader.events()] == bench.events
        assert len(bench.events) == len(set(bench.events)) > 20
        burns, trials = reader.burns(), reader.trials()
    for burn in burns:
        as_described(records.burn_message(folder, burn.id), "BurnMessage")
        assert "<b>steady" not in records.record_html(folder, burn.id)
    for trial in trials:
        as_described(Judging(folder).message(trial.name), "TrialMessage")
