"""How much is announced in an evening: ten simulated ones, healthy, failing, unplugged, noisy.

    python tests/benchmarks/bench_alarms.py [--hours 4] [--every 5]

The pipeline is folded over what the instruments of a simulated candle say; announcements are made
as the service makes them. A person answers within a minute, or nobody is there. Ends with 1 where
a figure is missed.

The aim is half of what a process plant aims at, at most one alarm in ten minutes on average over a
long time (EEMUA 191 and ISA-18.2, from memory; both are paid). What is chattering and stale is the
project's own choice.
"""

import argparse
import sys
from collections import Counter, deque
from collections.abc import Callable, Iterable, Sequence
from dataclasses import dataclass, field, replace
from functools import partial
from multiprocessing import get_context

from logger.alarms.lifecycle import AlarmEvent, Priority
from logger.announcements import Announcement, Announcer
from logger.burn.entries import Acknowledge, Entry, InSight, Lit, Out
from logger.burn.limits import Limits, Material, Station, WallLimits
from logger.burn.model import BurnEvent
from logger.burn.safety import CHECKS
from logger.errors import Refused
from logger.pipeline import Bench, Input, Output, Pipeline
from logger.quantities import Channel, Health, Part, Place, Position, Quantity, Reading, Tick
from logger.words import Words
from simulators.candle import Candle
from simulators.jar import WICKS
from simulators.room import Room
from simulators.scenarios import SCENARIOS, Scenario

START_S = 1_935_651_600.0
EVERY_S = 1  # seconds from reading to reading
COOLING_S = 3600.0
ANSWERS_S = 60.0  # until a person is there
TEN_MIN_S = 600.0
CHATTER, CHATTER_S = 3, 60.0  # one alarm so often in so long
STALE_S = 4 * 3600.0
LIMITS = Limits(
    burn_length_s=4 * 3600.0,
    burn_notice_s=900.0,
    cool_down_s=4 * 3600.0,
    room_low_c=20.0,
    room_high_c=27.0,
    wall={Material.GLASS: WallLimits(alert_c=57.2, limit_c=60.0)},
)
MOST_ON_PHONE = 5  # lines in the worst ten minutes
MOST_IN_TEN_MIN = 0.5  # calls on average


@dataclass(frozen=True, kw_only=True)
class Evening:
    """What happens, and who is there."""

    name: str
    jars: Callable[[], tuple[Scenario, ...]]
    answers: bool = True  # somebody acknowledges and says who watches
    puts_out: bool = True  # ... and puts a candle out that is over the limit
    limits: Limits = LIMITS
    pulled: Callable[[float], bool] = lambda _: False  # the plug, by the time since lighting
    stuck_s: float | None = None  # from when on one wall place repeats its value
    broker: Callable[[float], bool] = lambda _: True
    every_s: int = EVERY_S
    cooling_s: float = COOLING_S
    healthy: bool = False


@dataclass
class Load:
    """What an evening brought."""

    name: str
    healthy: bool
    burn_s: float = 0.0
    raised: list[AlarmEvent] = field(default_factory=list)
    calls: list[float] = field(default_factory=list)  # on the phone, for somebody to go
    phone: list[float] = field(default_factory=list)  # these, and what is told besides
    stale: int = 0

    @property
    def by_priority(self) -> Counter[Priority]:
        """Alarms by their signal word."""
        return Counter(one.alarm.finding.priority for one in self.raised)

    @property
    def chattering(self) -> int:
        """Times that one alarm was raised CHATTER times in CHATTER_S."""
        recent: dict[str, deque[float]] = {}
        found = 0
        for event in self.raised:
            times = recent.setdefault(event.alarm.key, deque())
            times.append(event.time_s)
            while times[0] < event.time_s - CHATTER_S:
                times.popleft()
            found += len(times) >= CHATTER
        return found

    @property
    def calls_in_ten_min(self) -> float:
        """On average over the burn and the cooling that was watched."""
        return len(self.calls) / ((self.burn_s + COOLING_S) / TEN_MIN_S)

    @property
    def worst_on_phone(self) -> int:
        """Lines in the worst ten minutes."""
        return most_within(self.phone, TEN_MIN_S)

    def missed(self) -> list[str]:
        """The figures that it misses."""
        found = []
        if self.worst_on_phone > MOST_ON_PHONE:
            found.append(f"{self.worst_on_phone} lines on the phone in the worst ten minutes")
        if self.healthy and set(self.by_priority) - {Priority.NOTICE}:
            found.append("more than notices in a healthy evening")
        if self.chattering:
            found.append(f"{self.chattering} times chattering")
        return [f"{self.name}: {one}" for one in found]


def most_within(times_s: Sequence[float], span_s: float) -> int:
    """Most of `times_s`, in order, that lie within `span_s`."""
    first, most = 0, 0
    for last, at_s in enumerate(times_s):
        while times_s[first] < at_s - span_s:
            first += 1
        most = max(most, last - first + 1)
    return most


def jar(station: str, seed: int, wick: str = "wick-5") -> Scenario:
    """A candle on `station`."""
    candle = Candle(WICKS[wick], Room(start_c=22.5), seed=seed)
    return Scenario("load", candle=candle, station=station, seed=seed)


def one(name: str, seed: int) -> Callable[[], tuple[Scenario, ...]]:
    """A named scenario alone."""
    return lambda: (SCENARIOS[name](seed),)


def two() -> tuple[Scenario, ...]:
    """Two jars whose probes hang on one plug."""
    return jar("jar-a", 5), jar("jar-b", 6)


def _at(alert_c: float, limit_c: float) -> Limits:
    return replace(LIMITS, wall={Material.GLASS: WallLimits(alert_c=alert_c, limit_c=limit_c)})


EVENINGS = (
    Evening(name="healthy", jars=one("passing", 1), healthy=True),
    Evening(name="healthy, two jars", jars=two, healthy=True),
    Evening(name="a window opened", jars=one("aired-room", 2)),
    Evening(name="too hot, put out", jars=one("first-light", 3)),
    Evening(name="too hot, nobody answers", jars=one("first-light", 4), answers=False),
    Evening(name="unplugged for 10 min", jars=two, pulled=lambda t: 3600.0 <= t < 4200.0),
    Evening(
        name="a loose plug",
        jars=one("passing", 7),
        pulled=lambda t: 3600.0 <= t < 7200.0 and t % 300.0 < 40.0,
    ),
    Evening(
        name="at the noise limit", jars=one("passing", 8), limits=_at(43.0, 46.0), puts_out=False
    ),
    Evening(name="a sensor stuck", jars=one("passing", 9), stuck_s=5000.0),
    Evening(
        name="a broker that comes and goes",
        jars=one("passing", 10),
        broker=lambda t: not (3600.0 <= t < 7200.0 and t % 240.0 < 60.0),
    ),
)


class _Run:
    """One evening, folded."""

    def __init__(self, evening: Evening, hours: float) -> None:
        self._evening = evening
        self._burn_s = hours * 3600.0
        self._jars = evening.jars()
        self._channels: dict[str, Channel] = {}
        self._sources = [
            [None if spot.name in self._channels else self._channel(spot) for spot in one.channels]
            for one in self._jars
        ]
        stations = tuple(Station(name=one.station, material=Material.GLASS) for one in self._jars)
        limits = replace(evening.limits, burn_length_s=self._burn_s)
        self._pipeline = Pipeline(
            Bench(
                channels=tuple(self._channels.values()),
                stations=stations,
                limits=limits,
                ask_every_s=1800.0,
                delivery_routes=("mqtt",),
            ),
            START_S,
        )
        self._announcer = Announcer(
            Words(), lambda: self._pipeline.burns, lambda: self._pipeline.alarms
        )
        self._agenda: list[tuple[float, Entry]] = []
        self._stuck: float | None = None
        self._plugged = self._broker = True
        self._standing: dict[str, float] = {}
        self.load = Load(evening.name, evening.healthy)

    def _channel(self, spot: object) -> Channel:
        made = Channel(
            name=spot.name,
            instrument="probes",
            station=spot.station,
            quantity=Quantity.TEMPERATURE,
            place=Place(
                position=Position(spot.position), height_mm=spot.height_mm, clock=spot.clock
            ),
            emissivity=spot.emissivity,
            emissivity_set=spot.emissivity_set or 1.0,
            reflected=spot.reflected,
            resolution=spot.resolution,
        )
        self._channels[made.name] = made
        return made

    def run(self) -> Load:
        """The whole evening."""
        self._now_s = START_S
        for scenario in self._jars:
            scenario.light()
            names = {"station": scenario.station, "trial": "cedar-12", "tester": "M6"}
            checks = tuple(CHECKS.values())
            self._put(Lit(**self._stamps("lit"), **names, watched_by="Ines", checks=checks))
        end_s = START_S + self._burn_s
        while self._now_s < end_s + self._evening.cooling_s:
            self._second()
            if self._now_s == end_s:
                for scenario in self._jars:
                    self._out(scenario)
        ends = [self._now_s - raised_s > STALE_S for raised_s in self._standing.values()]
        self.load.stale += sum(ends)
        return self.load

    def _second(self) -> None:
        since_s = self._now_s - START_S
        self._links(since_s)
        if since_s % self._evening.every_s == 0.0 and self._plugged:
            for scenario, channels in zip(self._jars, self._sources, strict=True):
                self._read(scenario, channels, since_s)
        for scenario in self._jars:
            scenario.advance(1.0)
            self.load.burn_s += scenario.lit / len(self._jars)
        self._now_s += 1.0
        self._put(Tick(at_s=self._now_s))
        for at_s, entry in [due for due in self._agenda if due[0] <= self._now_s]:
            self._agenda.remove((at_s, entry))
            if isinstance(entry, Out):
                self._out(next(jar for jar in self._jars if jar.station == entry.station))
            else:
                self._put(replace(entry, at_s=self._now_s, entered_s=self._now_s))

    def _read(self, scenario: Scenario, channels: Sequence[Channel | None], since_s: float) -> None:
        stuck_s = self._evening.stuck_s
        for number, (channel, value) in enumerate(zip(channels, scenario.sample(), strict=True)):
            if channel is None or value is None:
                continue
            if number == 1 and stuck_s is not None and since_s >= stuck_s:
                self._stuck = value if self._stuck is None else self._stuck
            shown = value if self._stuck is None or number != 1 else self._stuck
            self._put(Reading(channel=channel.name, value=shown, at_s=self._now_s))

    def _links(self, since_s: float) -> None:
        plugged, broker = not self._evening.pulled(since_s), self._evening.broker(since_s)
        for part, name, was, now in (
            (Part.INSTRUMENT, "probes", self._plugged, plugged),
            (Part.DELIVERY, "mqtt", self._broker, broker),
        ):
            if was is not now:
                self._put(Health(part=part, name=name, ok=now, reason="gone", at_s=self._now_s))
        self._plugged, self._broker = plugged, broker

    def _out(self, scenario: Scenario) -> None:
        if scenario.lit:
            scenario.extinguish()
            self._put(Out(**self._stamps(f"out-{scenario.station}"), station=scenario.station))

    def _put(self, item: Input) -> None:
        try:
            outputs = self._pipeline.step(item)
        except Refused:  # it is over by now
            return
        for output in outputs:
            if isinstance(output, AlarmEvent):
                self._count(output)
        for announcement in self._announcer.announce(outputs):
            if announcement.calls and announcement.phone:
                self.load.calls.append(self._now_s)
            if announcement.phone:
                self.load.phone.append(self._now_s)
            self._obey(announcement)
        self._answer(outputs)

    def _count(self, event: AlarmEvent) -> None:
        if event.what in ("raised", "raised-again"):
            self.load.raised.append(event)
            self._standing.setdefault(event.alarm.key, event.time_s)
        elif event.what in ("returned", "cleared"):
            since_s = self._standing.pop(event.alarm.key, event.time_s)
            self.load.stale += event.time_s - since_s > STALE_S

    def _obey(self, announcement: Announcement) -> None:
        """All that a line names is acknowledged; at the limit the candle is put out."""
        if not (self._evening.answers and announcement.calls):
            return
        finding, there_s = announcement.events[0].alarm.finding, self._now_s + ANSWERS_S
        for event in announcement.events if announcement.priority is not Priority.NOTICE else ():
            seen = Acknowledge(**self._stamps(f"seen-{event.id}"), alarm=event.alarm.key)
            self._agenda.append((there_s, seen))
        if finding.rule == "wall-limit" and self._evening.puts_out and finding.station:
            entry = Out(**self._stamps("out"), station=finding.station)
            self._agenda.append((there_s, entry))

    def _answer(self, outputs: Iterable[Output]) -> None:
        for output in outputs:
            asked = isinstance(output, BurnEvent) and output.event == "who-watches"
            if asked and self._evening.answers:
                entry = InSight(**self._stamps(f"sight-{output.id}"), station=output.station)
                self._agenda.append((self._now_s + ANSWERS_S, entry))

    def _stamps(self, name: str) -> dict[str, object]:
        return {"at_s": self._now_s, "entered_s": self._now_s, "id": name, "by": "Ines"}


def evening(found: Evening, hours: float = 4.0) -> Load:
    """What `found` brought, with a burn of `hours` and an hour of cooling."""
    return _Run(found, hours).run()


def average(loads: Sequence[Load]) -> float:
    """Calls in ten minutes over all evenings."""
    watched_s = sum(one.burn_s + COOLING_S for one in loads)
    return sum(len(one.calls) for one in loads) / (watched_s / TEN_MIN_S)


def row(load: Load) -> str:
    """A line of the table."""
    per_hour = len(load.raised) / (load.burn_s / 3600.0)
    shares = "/".join(str(load.by_priority[one]) for one in Priority)
    return (
        f"{load.name:30} {len(load.raised):6} {per_hour:8.2f} {load.calls_in_ten_min:12.2f}"
        f" {load.worst_on_phone:12} {shares:>30} {load.chattering:10} {load.stale:5}"
    )


HEADING = (
    f"{'evening':30} {'alarms':>6} {'a burn-h':>8} {'calls/10 min':>12} {'phone, worst':>12}"
    f" {'notice/caution/warning/danger':>30} {'chattering':>10} {'stale':>5}"
)


def main() -> int:
    """Print the table; 1 where a figure is missed."""
    parser = argparse.ArgumentParser(description=__doc__.splitlines()[0])
    parser.add_argument("--hours", type=float, default=4.0)
    parser.add_argument("--every", type=int, default=EVERY_S, help="seconds between readings")
    asked = parser.parse_args()
    loads, lines = [], [HEADING]
    with get_context("fork").Pool(2) as pool:
        fold = partial(_numbered, hours=asked.hours, every_s=asked.every)
        for load in pool.imap(fold, range(len(EVENINGS))):
            loads.append(load)
            lines.append(row(load))
    total: Counter[Priority] = sum((load.by_priority for load in loads), Counter())
    shares = ", ".join(f"{one} {total[one] / max(1, total.total()):.0%}" for one in Priority)
    mean = average(loads)
    lines += [
        f"share by priority: {shares}",
        f"calls in ten minutes, all evenings: {mean:.2f}; aim: at most {MOST_IN_TEN_MIN}",
    ]
    missed = [figure for load in loads for figure in load.missed()]
    if mean > MOST_IN_TEN_MIN:
        missed.append(f"{mean:.2f} calls in ten minutes on average")
    lines += [f"MISSED {figure}" for figure in missed]
    sys.stdout.write("\n".join([*lines, ""]))
    return 1 if missed else 0


def _numbered(number: int, hours: float, every_s: int) -> Load:
    return evening(replace(EVENINGS[number], every_s=every_s), hours)


if __name__ == "__main__":
    sys.exit(main())
