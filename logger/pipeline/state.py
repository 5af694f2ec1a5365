"""What is known of a bench: one object, which the parts of the pipeline share."""

from collections.abc import Iterable

from logger.alarms import sensor_faults
from logger.alarms.guard import Guard, Report
from logger.alarms.instrument_health import Instruments
from logger.alarms.lifecycle import AlarmEvent, Finding, Signal
from logger.alarms.watch import Watch
from logger.burn import safety, trials
from logger.burn.book import Book
from logger.burn.entries import Lit
from logger.burn.ledger import Ledger
from logger.burn.limits import Station
from logger.burn.model import BurnStatus
from logger.burn.places import Places
from logger.burn.prospects import Prospects
from logger.burn.status import status
from logger.errors import Refused
from logger.pipeline.bench import Bench, Memory
from logger.quantities import Channel, Estimate, Health, Reading


class BenchState:
    """The parts of a bench, with what is asked of several of them at once."""

    def __init__(
        self,
        bench: Bench,
        started_s: float,
        memory: Memory,
        report: Report,
    ) -> None:
        self.guard = Guard(report, memory.alarms, started_s)
        self.bench = bench
        self.started_s = started_s  # of the watch; it begins anew after a sleep
        self.stations = {station.name: station for station in bench.stations}
        for burn in memory.burns:
            if burn.lit:  # its station may have left the configuration; the candle has not
                left = Station(name=burn.station, material=burn.material)
                self.stations.setdefault(burn.station, left)
        self.places = Places(bench.channels, memory.calibrations)
        self.ledger = Ledger(memory.entries)
        self.trials = set(memory.trials)
        self.book = Book(
            (*memory.earlier, *memory.burns),
            memory.burn_events,
            bench.limits.cool_down_s,
            memory.candles,
            run=memory.run,
            last_number=memory.last_number,
        )
        self.links: dict[str, Health] = {}  # instruments, the way out, the disk
        self.instruments = Instruments(bench.channels)
        self.watch = Watch(memory.alarms, run=memory.run)
        self.sensors = sensor_faults.Sensors(bench.channels, bench.words, bench.limits.cool_down_s)
        self.prospects = Prospects(bench.channels, bench.limits)
        self.stored: dict[str, tuple[Estimate, ...]] = {}  # for a correction, by its id
        self.gone: dict[str, str] = {}  # alarms that nothing judges here: why, by key

    def add(self, reading: Reading) -> bool:
        """Take a reading. False where no channel has it, or its channel began afresh at it."""
        channel = self.places.channels.get(reading.channel)
        if channel is None:
            return False
        with self.guard.over(channel.name, reading.at_s, channel=channel):
            self.places.add(reading)
            self.sensors.read(reading)
            return True
        self.places.begin_afresh(channel.name)
        return False

    def estimate(self, channel: Channel, now_s: float) -> Estimate | None:
        """The channel at `now_s`; None where its state could not be used, and began afresh."""
        with self.guard.over(channel.name, now_s, channel=channel):
            return self.places.estimate(channel.name, now_s)
        self.places.begin_afresh(channel.name)
        return None

    def alarm(self, findings: Iterable[Finding], now_s: float) -> list[AlarmEvent]:
        """What these findings, each by itself, do to the alarms."""
        events: list[AlarmEvent] = []
        for one in findings:
            if one.signal is not Signal.ON and (one.rule, one.subject) not in self.watch.raised:
                continue  # most findings say that nothing is wrong
            with self.guard.over(one.key, now_s, station=one.station):
                events += self.watch.judge((one,), now_s, self.book.id_of)
        return events

    def repeat_alarms(self, now_s: float) -> list[AlarmEvent]:
        """What is due to be told once more, station by station, then what belongs to none."""
        events: list[AlarmEvent] = []
        for station in (*{one.finding.station: None for one in self.watch.alarms},):
            with self.guard.over(f"reminders of {station or 'the bench'}", now_s, station=station):
                events += self.watch.repeat(station, now_s, self.book.id_of)
        return events

    def statuses(self, now_s: float) -> list[BurnStatus]:
        """Every station now."""
        found: list[BurnStatus] = []
        for station in self.stations.values():
            with self.guard.over(station.name, now_s, station=station.name):
                found.append(self._status(station, now_s))
        return found

    def _status(self, station: Station, now_s: float) -> BurnStatus:
        burn, places = self.book.of(station.name), self.places.on_vessel(station.name)
        return status(station, burn, self.bench.limits, places, now_s)

    def station(self, name: str) -> Station:
        """Raises Refused where there is none of this name."""
        station = self.stations.get(name)
        if station is None:
            known = ", ".join(self.stations)
            raise Refused(f"no station {name}; the configuration has: {known}")
        return station

    def check_trial(self, entry: Lit, besides: str = "") -> None:
        """Raises Refused, once, for the name of a new trial that is nearly a known one's."""
        alike = trials.nearly(entry.trial, self.trials - {besides})
        if alike is not None and not entry.new_trial:
            raise Refused(
                f"there is a trial {alike}: take that name, or send it again with new_trial=true "
                f"if {entry.trial} is another{'' if besides else f'. {safety.NOT_WATCHED}'}"
            )
