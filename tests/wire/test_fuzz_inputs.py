"""Whatever instruments send and people enter, in any order: no input ends the watch.

Values are those that decoders and the page let pass: any finite number from an instrument, any
text of allowed length from a person. Every input goes through engine, pipeline, hub, the broker's
side and the messages; now and then the pipeline is made anew from what was kept.
"""

import json
import math
import random
import struct
from dataclasses import replace

import pytest

from logger import messages
from logger.alarms.lifecycle import AlarmEvent
from logger.announcements import Announcer
from logger.burn import entries
from logger.burn.entries import Danger, Entry
from logger.burn.model import BurnStatus
from logger.conditioning.calibration import Correction
from logger.errors import WickbenchError
from logger.hub import Hub
from logger.intake.bodies import COLDEST_C, HIGHEST_MM, HOTTEST_C
from logger.pipeline import FOLD_BACK_S, Memory, Pipeline, stamp_of
from logger.publish.pending import Pending
from logger.publish.topics import Topics
from logger.quantities import Estimate, Health, Kind, Part, Place, Position, Quantity, Reading, Rule
from logger.service.core import bench_of
from logger.service.engine import Engine
from logger.settings.config_file import parse
from logger.store import codec
from logger.words import Words
from tests.support.web_bench import ONE_STATION, START_S

CHANNELS = """
[[instrument.channel]]
name = "jar-a-wall-ir"
station = "jar-a"
quantity = "temperature"
place = "wall"
height = "80 mm"
kind = "infrared"
emissivity = 0.92
emissivity_set = 0.95
reflected = "room"
field = 2
unit = "degF"

[[instrument.channel]]
name = "jar-a-rim"
station = "jar-a"
quantity = "temperature"
place = "rim"
kind = "contact"
transducer = "thermocouple-k"
field = 3
unit = "mV"

[[instrument.channel]]
name = "jar-a-base"
station = "jar-a"
quantity = "temperature"
place = "base"
kind = "contact"
transducer = "ntc"
ntc_beta = 3950
field = 4
unit = "ohm"

[[instrument.channel]]
name = "balance"
station = "jar-a"
quantity = "mass"
place = "support"
field = 5
unit = "g"

[[instrument.channel]]
name = "air"
quantity = "humidity"
place = "room"
field = 6
unit = "percent"

[web]"""
SETTINGS = ONE_STATION.replace("\n[web]", CHANNELS) + '\n[[station]]\nname = "tin-b"\n'
ODD = (0.0, -0.0, 1e-320, -127.0, 85.0, 1e9, -1e9, 1e155, -1e155, 1e308, -1.7e308, 65535.0)
WORDS = ("", "cedar-6", "<script>", "a\x00b\x1b[31m", "\ud800", "😀" * 60, "x" * 200, "\n\n")


class Fuzz:
    """One bench and a source of inputs for it."""

    def __init__(self, folder, seed):
        self.random = random.Random(seed)
        self.bench = bench_of(
            parse(SETTINGS.replace("{folder}", str(folder)), folder / "bench.toml")
        )
        assert any(channel.kind is Kind.INFRARED for channel in self.bench.channels)
        self.names = [channel.name for channel in self.bench.channels]
        self.typical = {
            "jar-a-wall-3": 45.0,
            "room": 22.0,
            "jar-a-wall-ir": 113.0,
            "jar-a-rim": 1.0,
            "jar-a-base": 5000.0,
            "balance": 400.0,
            "air": 50.0,
        }
        self.now_s = START_S
        self.errors = []
        self.readings = ["none"]
        self.by_hand = []
        self.calibrated = []
        self.recent = []
        self.inputs = self.restarts = self.refused = 0
        self.start(Memory())

    def start(self, memory):
        self.pipeline = Pipeline(
            self.bench, self.now_s, memory, report=lambda part, exc: self.errors.append((part, exc))
        )
        self.hub = Hub()
        self.hub.resume(self.pipeline, self.now_s)
        self.pending = Pending(Topics(bench="any"), self.pipeline.channel, lambda: 0.0)
        sinks = {"page": self.hub.publish, "broker": self._send, "record": self._record}
        self.engine = Engine(self.pipeline, self.now_s, sinks)
        self.announcer = Announcer(
            Words(), lambda: self.pipeline.burns, lambda: self.pipeline.alarms
        )

    def _send(self, item, outputs):
        self.pending.take(outputs)
        self.pending.mark_lines_sent(self.pending.next_urgent())
        self.pending.next_bulk()
        self.announcer.announce(outputs)

    def _record(self, item, outputs):
        for output in outputs:
            if isinstance(output, Estimate):
                text = messages.estimate(output, self.pipeline.channel(output.channel))
                json.dumps(text, allow_nan=False)
            elif isinstance(output, BurnStatus):
                json.dumps(messages.burn_status(output), allow_nan=False)
            elif isinstance(output, AlarmEvent):
                json.dumps(messages.event(output), allow_nan=False)
                codec.dump(output)
                codec.dump(output.alarm)
        if isinstance(item, Entry):
            codec.dump(item)

    def number(self, typical):
        draw = self.random
        kind = draw.random()
        if kind < 0.6:
            return typical * (1.0 + draw.gauss(0.0, 0.02))
        if kind < 0.75:
            return draw.choice(ODD)
        if kind < 0.9:
            return draw.choice((-1.0, 1.0)) * 10.0 ** draw.uniform(-6.0, 12.0)
        while True:  # any double there is
            value = struct.unpack("<d", draw.randbytes(8))[0]
            if math.isfinite(value):
                return value

    def entry(self):
        draw = self.random
        ago_s = draw.choice((0.0, 0.0, 0.0, 60.0, 4e4, 3e6, self.now_s))
        stamps = {
            "at_s": max(0.0, self.now_s - ago_s),
            "entered_s": self.now_s,
            "id": f"entry-{self.inputs}",
            "by": draw.choice(WORDS),
        }
        here = {**stamps, "station": draw.choice(("jar-a", "jar-a", "jar-a", "tin-b", "gone"))}
        mass = draw.choice((None, 1.0, 20_000.0, draw.uniform(1.0, 20_000.0)))
        wax = draw.choice((None, 1.0, 220.0))
        place = Place(
            position=draw.choice(list(Position)),
            height_mm=draw.choice((None, 0.0, 60.0, HIGHEST_MM, 1e-9)),
            clock=draw.choice((None, 1, 12)),
        )
        values = tuple(
            draw.choice((COLDEST_C, HOTTEST_C, draw.uniform(COLDEST_C, HOTTEST_C), 45.0))
            for _ in range(draw.randint(1, 50))
        )
        emissivity = draw.choice((None, 5e-324, 1e-3, 0.1, 0.92, 1.0))
        alarms = [alarm.key for alarm in self.pipeline.alarms] + ["none/none", ""]
        kind = draw.randrange(11)
        match kind:
            case 0:
                made = entries.Lit(
                    **here,
                    trial=draw.choice(WORDS),
                    tester=draw.choice(WORDS),
                    mass_g=mass,
                    wax_g=wax,
                )
            case 1:
                made = entries.Out(**here)
            case 2:
                made = entries.Note(**here, text=draw.choice(WORDS))
            case 3:
                made = entries.WeighIn(**here, mass_g=mass or 300.0, wax_g=wax)
            case 4:
                made = entries.ManualReading(
                    **here,
                    place=place,
                    values=values,
                    emissivity=emissivity,
                    emissivity_set=1.0 if emissivity is None else draw.choice((5e-324, 0.95, 1.0)),
                    reflected_c=draw.choice((None, 22.0, -1e308, 5000.0, self.number(22.0))),
                )
                self.readings.append(made.id)
            case 5:
                made = entries.Moved(**here, reading=draw.choice(self.readings[-20:]))
            case 6:
                made = entries.Emergency(
                    **here, what=draw.choice(list(Danger)), text=draw.choice(WORDS)
                )
            case 7:
                made = entries.InSight(**here)
            case 8:
                made = entries.Acknowledge(**stamps, alarm=draw.choice(alarms))
            case 9:
                lasts_s = draw.choice((1e-9, 300.0, 86_400.0))
                made = entries.Shelve(
                    **stamps, alarm=draw.choice(alarms), until_s=self.now_s + lasts_s
                )
            case _:
                made = entries.Calibrated(
                    **stamps,
                    channel=draw.choice([*self.names, "none"]),
                    quantity=draw.choice(list(Quantity)),
                    reference=draw.choice(WORDS),
                    method="offset",
                    correction=Correction(
                        offset=draw.uniform(-10.0, 10.0), offset_uncertainty=draw.uniform(0.0, 10.0)
                    ),
                )
        return made

    def item(self):
        draw = self.random
        kind = draw.random()
        if kind < 0.75:
            name = draw.choice([*self.names, "none"])
            value = self.number(self.typical.get(name, 1.0))
            return Reading(channel=name, value=value, at_s=self.now_s)
        if kind < 0.97:
            return self.entry()
        return Health(
            part=draw.choice(list(Part)),
            name=draw.choice(("probes", "disk", "mqtt")),
            ok=draw.random() < 0.5,
            reason=draw.choice(WORDS),
            at_s=self.now_s,
        )

    def restart(self):
        self.restarts += 1
        memory = Memory(
            burns=self.pipeline.burns,
            alarms=self.pipeline.alarms,
            readings=tuple(one for one in self.recent if one.at_s > self.now_s - FOLD_BACK_S),
            estimates=tuple(one for one in self.pipeline.estimates if one.channel in self.names),
            entries=tuple((one, None) for one in self.by_hand[-50:]),
            calibrations=tuple(self.calibrated[-50:]),
        )
        self.now_s += self.random.choice((0.5, 600.0))
        self.start(memory)

    def run(self, count):
        draw = self.random
        for self.inputs in range(count):
            if draw.random() < 0.1:  # what costs most is a second of the bench
                self.now_s += draw.choice((0.001, 0.3, 1.0, 1.0, 4.0, 7.0, 3600.0))
            if draw.random() < 0.001:
                self.restart()
            item = self.item()
            self.engine.put(replace(item))
            while not self.engine._queue.empty():
                self.engine._fold(*self.engine._queue.get_nowait())
            if isinstance(item, Reading):
                self.recent.append(item)
                del self.recent[:-1000]
            elif isinstance(item, entries.ManualReading) and item.station != "gone":
                self._kept(item)
            elif isinstance(item, entries.Calibrated) and item.channel in self.names:
                self.calibrated.append(item)
            assert stamp_of(item) <= self.now_s

    def _kept(self, item):
        try:
            messages.typed(item)  # the answer to whoever typed it
        except WickbenchError:
            self.refused += 1
        else:
            self.by_hand.append(item)


@pytest.mark.faults
async def test_no_reading_and_no_entry_ends_the_watch(tmp_path, fault_row, long):
    count = 1_000_000 if long else 10_000
    seeds = range(20) if long else (1, 2)
    failed = []
    for seed in seeds:
        fuzz = Fuzz(tmp_path, seed)
        fuzz.run(count // len(seeds))
        failed += [(seed, part, repr(exc)) for part, exc in fuzz.errors]
        alarms = [alarm.key for alarm in fuzz.pipeline.alarms]
        assert bool(fuzz.errors) == any(key.startswith(Rule.PROGRAM) for key in alarms)
    fault_row(
        "fuzzed inputs: readings and entries",
        tried=f"{count}, seeds {seeds[0]} to {seeds[-1]}",
        reached=f"0 ends of the process, {len(failed)} faults left out",
        bar="0 ends of the process",
    )
    assert not failed, f"seeds {list(seeds)}: {failed[:20]}"
