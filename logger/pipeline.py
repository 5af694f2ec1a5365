"""The one way of a reading: conditioning, burn and alarms as a single `step`.

The live service, replay, the demonstration and the tests all fold this over their inputs. It does
no I/O and reads no clock: every input carries its time, and inputs come in order of time.
"""

from collections.abc import Iterable, Mapping
from contextlib import suppress
from dataclasses import dataclass, field, replace

from logger.alarms import burns, foresight, links, sensors, unlit, wall
from logger.alarms.guard import Guard, Report
from logger.alarms.instruments import Instruments
from logger.alarms.lifecycle import Alarm, AlarmEvent, Finding, Signal
from logger.alarms.scope import Scope
from logger.alarms.watch import Watch
from logger.alarms.words import Words, duration
from logger.burn import consumption, model, plausible, refold, trials
from logger.burn.book import Book
from logger.burn.entries import (
    BY_HAND,
    Acknowledge,
    Calibrated,
    Change,
    Corrected,
    Emergency,
    Entry,
    InSight,
    Lit,
    ManualReading,
    Moved,
    Note,
    Out,
    Resumed,
    Shelve,
    Stopped,
    WeighIn,
    Withdrawn,
)
from logger.burn.entry_words import contents, difference, named
from logger.burn.forecast import Forecast
from logger.burn.ledger import Ledger, Line
from logger.burn.limits import Limits, Station
from logger.burn.model import Burn, BurnEvent, BurnStatus
from logger.burn.places import Places, estimate_by_hand, no_estimate
from logger.burn.prospects import Prospects
from logger.burn.safety import PUT_OUT
from logger.burn.status import status
from logger.errors import DataError, Refused
from logger.quantities import (
    Channel,
    Estimate,
    Health,
    Part,
    Position,
    Quality,
    Quantity,
    Reading,
    Tick,
)

Event = AlarmEvent | BurnEvent

Output = Forecast | Estimate | Event | BurnStatus | Burn | ManualReading
"""`Burn`: it changed; `ManualReading`: it belongs here. Of a channel the last estimate holds."""


TOGETHER_S = 5.0  # sooner a channel is silent where another of its instrument is (our choice)
FOLD_BACK_S = 600.0  # a running estimate remembers nothing older that matters


@dataclass(frozen=True, slots=True, kw_only=True)
class Bench:
    """What the core must know of a bench: settings in the core's own terms."""

    channels: tuple[Channel, ...]
    stations: tuple[Station, ...]
    limits: Limits
    words: Words = Words()
    ask_every_s: float | None = None  # how often a burn asks who watches; None: nobody is there
    ways_out: tuple[str, ...] | None = None  # as their health names them; None: not known here
    name: str = ""


@dataclass(frozen=True, slots=True, kw_only=True)
class Memory:
    """What a restarted service must be told to go on where it stopped."""

    burns: tuple[Burn, ...] = ()  # the latest of each station
    earlier: tuple[Burn, ...] = ()  # those before, as far as their entries may still be corrected
    alarms: tuple[Alarm, ...] = ()
    readings: tuple[Reading, ...] = ()  # of the last FOLD_BACK_S, in order
    estimates: tuple[Estimate, ...] = ()  # of the burns that are lit, about two a minute
    entries: tuple[tuple[Entry, str | None], ...] = ()  # of these burns, with the burn's id
    trials: tuple[str, ...] = ()  # names of all
    calibrations: tuple[Calibrated, ...] = ()  # all, in the order of their entry
    burn_events: Mapping[str, int] = field(default_factory=dict)  # how many each burn had
    candles: tuple[Burn, ...] = ()  # the latest burn of each that is out, in order of time
    run: int | None = None  # the present run's number, a part of its events' ids


@dataclass(frozen=True, slots=True, kw_only=True)
class Recalled:
    """What a restarted service should have been told, and a failing disk gave only at `at_s`."""

    at_s: float
    memory: Memory


Input = Reading | Tick | Health | Entry | Recalled


def stamp_of(item: Input) -> float:
    """When an input was known: what a person enters counts from its entry, not its `at`."""
    return item.entered_s if isinstance(item, Entry) else item.at_s


class Pipeline:
    """State of a bench; `step` takes one input and returns what came of it."""

    def __init__(
        self,
        bench: Bench,
        started_s: float,
        memory: Memory | None = None,
        report: Report = lambda part, exc: None,
    ) -> None:
        """`report` hears of each part of the program that fails, for a log."""
        memory = memory or Memory()
        self.guard = Guard(report, memory.alarms, started_s)
        self._bench = bench
        self._started_s = started_s
        self._stations = {station.name: station for station in bench.stations}
        for burn in memory.burns:
            if burn.lit:  # its station may have left the configuration; the candle has not
                left = Station(name=burn.station, material=burn.material)
                self._stations.setdefault(burn.station, left)
        self._places = Places(bench.channels, memory.calibrations)
        self._ledger = Ledger(memory.entries)
        self._trials = set(memory.trials)
        self._book = Book(
            (*memory.earlier, *memory.burns),
            memory.burn_events,
            bench.limits.cool_down_s,
            memory.candles,
            run=memory.run,
        )
        self._links: dict[str, Health] = {}  # instruments, the way out, the disk
        self._instruments = Instruments(bench.channels)
        self._watch = Watch(memory.alarms, run=memory.run)
        self._sensors = sensors.Sensors(bench.channels, bench.words, bench.limits.cool_down_s)
        self._prospects = Prospects(bench.channels, bench.limits)
        self._recall(memory)
        self._gone = self._find_gone(memory.alarms)  # why, by key; ended at the first tick

    @property
    def burns(self) -> tuple[Burn, ...]:
        """The latest burn of each station, lit or out."""
        return self._book.all()

    @property
    def alarms(self) -> tuple[Alarm, ...]:
        """Every alarm that was ever raised."""
        return self._watch.alarms

    @property
    def places_by_hand(self) -> tuple[Channel, ...]:
        """The channels that a person's readings made up."""
        return self._places.by_hand

    def channel(self, name: str) -> Channel:
        """The channel of any estimate that was ever given out: configured, or read by hand."""
        return self._places.channel(name)

    @property
    def estimates(self) -> tuple[Estimate, ...]:
        """The latest of every channel that was ever heard."""
        return self._places.estimates

    def step(self, item: Input) -> list[Output]:
        """Take one input. Raises Refused, and changes nothing, for an entry that cannot be.

        Any other error within is caught, and told by the alarm `program`. Only one in telling it
        comes out: then there is no relying on the watch any more.
        """
        now_s, outputs = stamp_of(item), None
        with self.guard.over(_words_of(item), now_s):
            outputs = self._take(item)
        if isinstance(item, Tick):
            findings = self.guard.findings(now_s, self._book.is_lit)
            return [*(outputs or ()), *self._watch.judge(findings, now_s, self._book.id_of)]
        if outputs is None and isinstance(item, Entry):
            raise Refused("the program failed at this entry, see its log: it does not count")
        return outputs or []

    def _take(self, item: Input) -> list[Output]:
        match item:
            case Reading():
                return self._read(item)
            case Tick():
                return self._tick(item.at_s)
            case Health():
                return self._hear(item)
            case Recalled():
                return self._recall_late(item.memory, item.at_s)
            case Acknowledge() | Shelve():
                return list(self._watch.answer(item))
            case Lit():
                return self._light(item)
            case ManualReading():
                return self._read_by_hand(item)
            case Moved() | Corrected() | Withdrawn():
                return self._change(item)
            case Calibrated():
                return self._calibrate(item)
            case Resumed() | Stopped():
                return self._pause(item)
            case Out() | Note() | WeighIn() | Emergency() | InSight():
                return self._see(item)
            case _:
                raise TypeError(f"the pipeline knows no {type(item).__name__}")

    def doubt(self, entry: Entry) -> str | None:
        """The question that `entry` raises before it is taken; None where it is plausible."""
        match entry:
            case ManualReading() if entry.station in self._stations:
                with suppress(DataError):  # `step` refuses it
                    return plausible.reading(
                        entry,
                        self._book.of(entry.station),
                        self._places.around(entry.station),
                        self._bench.limits,
                        words_in=lambda unit: replace(self._bench.words, temperature=unit),
                    )
            case Lit():
                return plausible.wax(entry.mass_g, entry.wax_g, self._bench.words)
            case WeighIn():
                burn = self._book.of(entry.station)
                before_g = entry.mass_g if burn is None else burn.mass_before_g
                candle_g = max(entry.mass_g, before_g or 0.0)
                return plausible.wax(candle_g, entry.wax_g, self._bench.words)
        return None

    # readings

    def _recall(self, memory: Memory) -> None:
        """Running estimates, traces and prospects as they were when the service stopped."""
        now_s = self._started_s
        for burn in self._book.all():
            with self.guard.over(f"forecast of {burn.station}", now_s, station=burn.station):
                if burn.lit:
                    self._prospects.follow(burn, memory.estimates)
        for entry in sorted(self._ledger.readings, key=lambda one: one.at_s):
            with self.guard.over("readings by hand", now_s, station=entry.station):
                self._places.set_by_hand(entry)
        ticked_s = memory.readings[0].at_s if memory.readings else 0.0
        for reading in memory.readings:
            for tick in ticks(ticked_s, reading.at_s):
                ticked_s = tick.at_s
                for channel, _ in self._places.heard():
                    if _due(tick.at_s, channel.averaging.every_s):
                        estimate = self._estimate(channel, tick.at_s)
                        if estimate is not None:
                            self._places.trace(channel, estimate)
                if sensors.due(tick.at_s):
                    self._sample_sensors(tick.at_s)
            self._add(reading)

    def _recall_late(self, memory: Memory, now_s: float) -> list[Output]:
        """Burns, alarms and calibrations of before; what is known since then stands above them."""
        outputs: list[Output] = []
        for entry in memory.calibrations:
            if entry.channel in self._places.channels:
                self._places.calibrate(entry)
        adopted = self._book.adopt(
            (*memory.earlier, *memory.burns), memory.burn_events, memory.candles
        )
        for burn in adopted:
            self._stations.setdefault(
                burn.station, Station(name=burn.station, material=burn.material)
            )
            if burn.lit:
                self._prospects.follow(burn, memory.estimates)
                text = (
                    f"{burn.station}: it was recorded lit before this start, which was not known "
                    "until the disk answered. Go and look at the candle"
                )
                outputs.append(
                    self._book.event(burn, "watch-resumed", text, now_s=now_s, since_s=burn.lit_s)
                )
        self._trials |= set(memory.trials)
        since = self._ledger
        self._ledger = Ledger(memory.entries)
        for line in since.lines:
            self._ledger.put(line)
        for reading in sorted(self._ledger.readings, key=lambda one: one.at_s):
            self._places.set_by_hand(reading)
        self._gone |= self._find_gone(self._watch.adopt(memory.alarms))
        return [*outputs, *self.statuses(now_s)]

    def _add(self, reading: Reading) -> bool:
        channel = self._places.channels.get(reading.channel)
        if channel is None:
            return False
        with self.guard.over(channel.name, reading.at_s, channel=channel):
            self._places.add(reading)
            self._sensors.read(reading)
            return True
        self._places.begin_afresh(channel.name)
        return False

    def _estimate(self, channel: Channel, now_s: float) -> Estimate | None:
        """The channel at `now_s`; None where its state could not be used, and began afresh."""
        with self.guard.over(channel.name, now_s, channel=channel):
            return self._places.estimate(channel.name, now_s)
        self._places.begin_afresh(channel.name)
        return None

    def _read(self, reading: Reading) -> list[Output]:
        if not self._add(reading):
            return []
        channel = self._places.channels[reading.channel]
        estimate = self._estimate(channel, reading.at_s)
        if estimate is None:
            return []
        return list(self._alarm(self._judge_wall(channel, estimate), reading.at_s))

    def _calibrate(self, entry: Calibrated) -> list[Output]:
        """A channel corrected anew from now on; what was judged before stays as it was."""
        channel = self._places.channels.get(entry.channel)
        if channel is None:
            known = ", ".join(self._places.channels)
            raise Refused(f"no channel {entry.channel}; the configuration has: {known}")
        if channel.quantity is not entry.quantity:
            raise Refused(f"{channel.name} measures {channel.quantity}, not {entry.quantity}")
        self._places.calibrate(entry)
        text = f"{channel.name} ({channel.place}) calibrated against {entry.reference}"
        return [
            self._book.entered(burn, entry, "calibrated", f"{burn.station}: {text}")
            for burn in self._book.all()
            if burn.lit and channel.station in (None, burn.station)
        ]

    def _read_by_hand(self, entry: ManualReading) -> list[Output]:
        self._check_reading(entry)
        self._ledger.take(entry, None)
        outputs = [
            *self._renew_place(entry.channel, entry.entered_s),
            *self._renew_burns(entry),
        ]
        if self._ledger.latest(entry.channel.name) is entry:
            return outputs
        return [estimate_by_hand(entry), *outputs]  # typed late: it is stored, and not what is now

    def _check_reading(self, entry: ManualReading) -> None:
        """Raises Refused, before anything is changed, where no surface could be so."""
        self._check_station(entry.station)
        try:
            estimate_by_hand(entry)
        except DataError as exc:
            raise Refused(str(exc)) from None

    def _renew_place(self, channel: Channel, now_s: float) -> list[Output]:
        """A place by its readings, after one was read, changed or taken back."""
        latest = self._ledger.latest(channel.name)
        if latest is None:
            self._places.forget(channel.name)
            return [no_estimate(channel, now_s)]
        estimate = self._places.set_by_hand(latest)
        return [estimate, *self._alarm(self._judge_wall(channel, estimate), now_s)]

    def _renew_burns(self, *readings: ManualReading) -> Iterable[Burn]:
        """The burns that these readings are of, or were, where that changes them."""
        at = (self._book.at(one.station, one.at_s) for one in readings)
        for burn in {burn.id: burn for burn in at if burn is not None}.values():
            cool_down_s = self._bench.limits.cool_down_s
            after = refold.with_readings(burn, self._readings_of(burn), cool_down_s)
            if after != burn:
                yield self._book.put(after)

    def _readings_of(self, burn: Burn) -> list[ManualReading]:
        return [
            one
            for one in self._ledger.readings
            if (at := self._book.at(one.station, one.at_s)) is not None and at.id == burn.id
        ]

    # corrections

    def resolved(self, entry: Entry) -> Entry:
        """A change with the whole id of the entry it changes. Raises Refused."""
        match entry:
            case Moved():
                return replace(entry, reading=self._ledger.find(entry.reading).first.id)
            case Corrected() | Withdrawn():
                return replace(entry, entry=self._ledger.find(entry.entry).first.id)
            case _:
                return entry

    def entered_at(self, station: str) -> tuple[Line, ...]:
        """What was entered at the latest burn of `station`, in order of entry."""
        burn = self._book.of(station)
        if burn is None:
            return ()
        return tuple(line for line in self._ledger.lines if self._is_of(line, burn))

    def burn_of(self, entry: Entry, outputs: Iterable[Output]) -> str | None:
        """The burn that an entry concerns, by what came of it."""
        for output in outputs:
            if isinstance(output, BurnEvent):
                return output.burn
            if isinstance(output, AlarmEvent) and isinstance(entry, Acknowledge | Shelve):
                return output.alarm.burn
        if isinstance(entry, ManualReading):
            burn = self._book.at(entry.station, entry.at_s)
            return None if burn is None else burn.id
        return None

    def short_id(self, id: str) -> str:
        """As much of an entry's id as a person must type."""
        return self._ledger.short_id(id)

    def _is_of(self, line: Line, burn: Burn) -> bool:
        if not isinstance(line.first, ManualReading):
            return line.burn == burn.id
        places = [one for one in (line.first, line.now) if isinstance(one, ManualReading)]
        at = (self._book.at(one.station, one.at_s) for one in places)
        return any(one is not None and one.id == burn.id for one in at)

    def _change(self, entry: Change) -> list[Output]:
        """An earlier entry corrected, moved or withdrawn: all that follows as if it had been so."""
        before, after = self._ledger.find(entry.entry), self._ledger.changed(entry)
        if isinstance(before.now, ManualReading):
            outputs = self._change_reading(entry, before.now, after)
        else:
            outputs = self._change_burn(entry, before, after)
        return [*outputs, *self.statuses(entry.entered_s)]

    def _change_reading(self, entry: Change, before: ManualReading, after: Line) -> list[Output]:
        now, now_s = after.now, entry.entered_s
        if isinstance(now, ManualReading):
            self._check_reading(now)
        self._ledger.put(after)
        outputs: list[Output] = []
        if isinstance(now, ManualReading):
            outputs.append(now)
        outputs += self._renew_place(before.channel, now_s)
        if isinstance(now, ManualReading) and now.channel.name != before.channel.name:
            outputs += self._renew_place(now.channel, now_s)
        outputs += self._end_mistaken(before, entry)
        outputs += self._renew_burns(
            *(one for one in (before, now) if isinstance(one, ManualReading))
        )
        words = self._bench.words
        texts = {before.station: self._change_text(entry, before, now)}
        if isinstance(now, ManualReading) and now.station != before.station:
            other = difference(replace(before, station=now.station), now, words)
            other = f"; {other}" if other else ""
            texts = {
                before.station: f"{contents(before, words)}; typed here by mistake, it is of "
                f"{now.station}",
                now.station: f"{contents(now, words)}; it is of this one, it had been typed at "
                f"{before.station}{other}",
            }
        event = "withdrawn" if now is None else "moved" if len(texts) > 1 else "corrected"
        for station, text in texts.items():
            burn = self._book.at(station, before.at_s) or self._book.of(station)
            if burn is not None:
                outputs.append(
                    self._book.entered(burn, entry, event, f"{station}: {text}{_why(entry)}")
                )
        return outputs

    def _end_mistaken(self, before: ManualReading, entry: Change) -> list[AlarmEvent]:
        """Alarms of a place that only a reading raised which is otherwise now, or is none."""
        channel, latest = before.channel, self._ledger.latest(before.channel.name)
        mistaken = self._judge_wall(channel, estimate_by_hand(before))
        still: set[str] = set()
        if latest is not None:
            found = self._judge_wall(channel, estimate_by_hand(latest))
            still = {one.key for one in found if one.signal is Signal.ON}
        text = f"{before.station}: {before.place} was read wrongly, this was no alarm{_why(entry)}"
        keys = {one.key for one in mistaken} - still
        return self._close(keys, text, entry.entered_s)

    def _close(self, keys: Iterable[str], why: str, now_s: float) -> list[AlarmEvent]:
        standing = {alarm.key for alarm in self._watch.alarms if alarm.active}
        return self._watch.close({key: why for key in sorted(standing & {*keys})}, now_s)

    def _change_burn(self, entry: Change, before: Line, after: Line) -> list[Output]:
        first, now, words = before.now, after.now, self._bench.words
        burn = self._book.known(before.burn)
        if first is None or burn is None:
            raise Refused("the burn of this entry is not known any more")
        if isinstance(now, Lit) and isinstance(first, Lit) and now.trial != first.trial:
            self._check_trial(now, besides=first.trial)
        entries = self._ledger.of_burn(burn.id, after)
        earlier, later = self._book.before(burn), self._book.after(burn)
        renewed = refold.refolded(burn, entries, self._bench.limits, words, earlier)
        if later is not None and (renewed.out_s is None or renewed.out_s > later.lit_s - 1.0):
            raise Refused(f"{burn.station} was lit again after that: correct the later burn first")
        # nothing above changes anything
        self._ledger.put(after)
        if renewed.candle != burn.candle:
            renewed = self._book.expecting(replace(renewed, expected={}))
        if renewed.lit_s != burn.lit_s and not renewed.withdrawn:
            recent = [(self._places.channel(e.channel), e) for e in self._prospects.recent()]
            renewed = refold.sensed_since(renewed, recent)
        renewed = self._book.replaced(renewed)
        renewed = self._book.put(
            refold.with_readings(
                renewed, self._readings_of(renewed), self._bench.limits.cool_down_s
            )
        )
        text = f"{burn.station}: {self._change_text(entry, first, now)}{_why(entry)}"
        event = "withdrawn" if now is None else "corrected"
        outputs: list[Output] = [renewed, self._book.entered(renewed, entry, event, text)]
        if isinstance(now, Lit):
            self._trials.add(now.trial)
        if later is not None:
            earlier = self._book.before(later)
            rested_s = None if earlier is None else later.lit_s - (earlier.out_s or later.lit_s)
            outputs.append(self._book.put(replace(later, rested_s=rested_s)))
        return [*outputs, *self._after_change(renewed, burn, entry)]

    def _after_change(self, renewed: Burn, burn: Burn, entry: Change) -> list[Output]:
        """Forecasts and alarms of the station's latest burn, after one there was changed."""
        now_s, latest = entry.entered_s, self._book.of(burn.station)
        outputs: list[Output] = []
        if burn.danger is not None and (renewed.danger is None or not renewed.in_danger):
            text = f"{burn.station}: the report of an emergency was withdrawn{_why(entry)}"
            outputs += self._close([f"emergency/{burn.station}"], text, now_s)
        if renewed.withdrawn:
            outputs += self._alarm(self._judge_burn(renewed, now_s), now_s)
            outputs += [] if latest is None else [latest]
        if latest is not None:
            if latest.lit and (latest.id != burn.id or renewed.lit_s != burn.lit_s):
                self._prospects.follow(latest)
            outputs += self._alarm(self._judge_burn(latest, now_s), now_s)
        return outputs

    def _change_text(self, entry: Change, before: Entry, now: Entry | None) -> str:
        words = self._bench.words
        if now is None:
            return f"withdrawn: {contents(before, words)}"
        return f"{named(before)} corrected: {difference(before, now, words)}"

    # time

    def _tick(self, now_s: float) -> list[Output]:
        outputs: list[Output] = [*self._watch.close(self._gone, now_s)]
        self._gone = {}
        outputs.extend(self._end_forecasts(now_s))
        findings: list[Finding] = [*self._silences(now_s)]
        published: list[Estimate] = []
        for name, channel in self._places.channels.items():
            if self._places.last_s(name) is None:
                continue
            estimate = self._estimate(channel, now_s)
            if estimate is None:
                continue
            findings.extend(self._judge_wall(channel, estimate))
            if _due(now_s, channel.averaging.every_s):
                published.append(estimate)
                outputs.extend(self._book.remember(channel, estimate))
                with self.guard.over(channel.name, now_s, channel=channel):
                    findings.extend(self._judge_course(channel, estimate))
        outputs.extend(published)
        with self.guard.over("forecasts", now_s):
            self._prospects.see(published)
        if sensors.due(now_s):
            with self.guard.over("check of the sensors", now_s):
                self._sample_sensors(now_s)
                alarms = {alarm.key: alarm for alarm in self._watch.alarms}
                findings.extend(self._sensors.judge(now_s, self._book.by_station, alarms))
                outputs.extend(self._tell_sides(now_s, alarms))
        for burn in self._book.all():
            with self.guard.over(burn.station, now_s, station=burn.station):
                outputs.extend(self._cool(burn))
                outputs.extend(self._ask(burn, now_s))
        for burn in self._book.all():
            if burn.lit:
                with self.guard.over(f"forecast of {burn.station}", now_s, station=burn.station):
                    outputs.extend(self._prospects.forecasts(burn, now_s))
            findings.extend(self._judge_burn(burn, now_s))
            if burn.lit:
                findings.extend(self._judge_by_hand(burn.station))
        for station in self._stations:
            with self.guard.over(station, now_s, station=station):
                findings.append(self._judge_unlit(station))
        findings.extend(
            links.health(news, lit=self._book.is_lit())
            for news in self._links.values()
            if news.part is not Part.INSTRUMENT
        )
        outputs.extend(self._alarm(findings, now_s))
        outputs.extend(self.statuses(now_s))
        return outputs

    def _hear(self, news: Health) -> list[Output]:
        self._links[news.name] = news
        if news.part is Part.INSTRUMENT:  # its channels fall silent by themselves, with the reason
            changed = self._instruments.hear(news, self._book.all())
            findings = self._instruments.battery(news, self._book.is_lit)
            return [*map(self._book.put, changed), *self._alarm(findings, news.at_s)]
        return list(self._alarm([links.health(news, lit=self._book.is_lit())], news.at_s))

    # burns

    def _light(self, entry: Lit) -> list[Output]:
        station = self._check_station(entry.station)
        before, words = self._book.of(entry.station), self._bench.words
        self._check_trial(entry)
        burn = consumption.checked(
            model.light(entry, station.material, self._bench.limits, before), words
        )
        burn = self._book.begin(self._instruments.begun(burn))
        self._ledger.take(entry, burn.id)
        self._prospects.follow(burn)
        new = "" if entry.trial in self._trials else ", a new trial"
        self._trials.add(entry.trial)
        text = f"{entry.station}: recorded lit, a burn of {entry.trial}{new}"
        if entry.mass_g is not None:
            text += f", weighed {words.mass(entry.mass_g)} before"
        batteries = self._instruments.batteries_anew(entry.station, self._book.is_lit)
        return [
            burn,
            self._book.entered(burn, entry, "lit", text),
            *self._alarm(batteries, entry.entered_s),
            *self.statuses(entry.entered_s),
        ]

    def _check_trial(self, entry: Lit, besides: str = "") -> None:
        """Raises Refused, once, for the name of a new trial that is nearly a known one's."""
        alike = trials.nearly(entry.trial, self._trials - {besides})
        if alike is not None and not entry.new_trial:
            raise Refused(
                f"there is a trial {alike}: take that name, or send it again with new_trial=true "
                f"if {entry.trial} is another"
            )

    def _see(self, entry: Out | Note | WeighIn | Emergency | InSight) -> list[Output]:
        self._check_station(entry.station)
        burn = self._book.of(entry.station)
        if burn is None:
            raise Refused(f"{entry.station} has no burn yet: record it lit first")
        if isinstance(entry, WeighIn):
            event = "weighed"
            burn, text = consumption.weigh(burn, entry, self._bench.limits, self._bench.words)
        else:
            burn, event, text = model.see(burn, entry)
        if isinstance(entry, Out):
            burn = self._prospects.learn(burn, entry.entered_s)
        burn = self._with_wall(burn)
        self._book.put(burn)
        findings = [*self._judge_burn(burn, entry.entered_s)]
        if isinstance(entry, Out):
            findings += self._instruments.batteries_anew(entry.station, self._book.is_lit)
        self._ledger.take(entry, burn.id)
        return [
            burn,
            self._book.entered(burn, entry, event, text),
            *self._end_forecasts(entry.entered_s),
            *self._alarm(findings, entry.entered_s),
            *self.statuses(entry.entered_s),
        ]

    def _pause(self, entry: Resumed | Stopped) -> list[Output]:
        if isinstance(entry, Stopped):
            event = "watch-ended"
            text = f"the watch has ended. Nothing warns you any more: stay with it, or {PUT_OUT}"
        else:
            self._started_s = entry.entered_s  # a silence that nobody listened to is none
            event, away = "watch-resumed", duration(entry.entered_s - entry.at_s)
            if not entry.length_known:
                away = "a time that is not known: the clock was behind"
            text = f"nothing watched it for {away}. Go and look at the candle"
        return [
            self._book.entered(burn, entry, event, f"{burn.station}: {text}")
            for burn in self._book.all()
            if burn.lit
        ]

    def _cool(self, burn: Burn) -> Iterable[Burn]:
        """After out: the burn, when the wall has fallen and it is out indeed."""
        after = self._with_wall(burn)
        if after is not burn:
            self._book.put(after)
            yield after

    def _with_wall(self, burn: Burn) -> Burn:
        watched = self._places.is_watched(burn.station)
        return burn.with_wall(self._places.hottest_c(burn.station), watched=watched)

    def _ask(self, burn: Burn, now_s: float) -> Iterable[Burn | BurnEvent]:
        """The question who watches, once each time it is due."""
        every_s, since_s = self._bench.ask_every_s, burn.in_sight_s or burn.lit_s
        if every_s is None or not burn.lit or now_s - since_s < every_s:
            return
        if burn.asked_s is None or burn.asked_s < since_s:
            burn = self._book.put(replace(burn, asked_s=now_s))
            text = (
                f"{burn.station}: who has it in sight? Look, then answer on the page or with "
                f"`wickbench burn in-sight {burn.station}`"
            )
            yield burn
            yield self._book.event(burn, "who-watches", text, now_s=now_s, since_s=now_s)

    def _tell_sides(self, now_s: float, alarms: Mapping[str, Alarm]) -> Iterable[Burn | BurnEvent]:
        """That the sides of a vessel differ, once a burn."""
        for burn in self._book.all():
            if burn.sides_told_s is None and (found := self._sensors.sides(burn, now_s, alarms)):
                told = self._book.put(replace(burn, sides_told_s=now_s))
                yield told
                yield self._book.event(
                    told, "sides-differ", found.text, now_s=now_s, since_s=found.since_s
                )

    def _judge_burn(self, burn: Burn, now_s: float) -> list[Finding]:
        found: list[Finding] = []
        with self.guard.over(burn.station, now_s, station=burn.station):
            found.extend(self._find_of_burn(burn, now_s))  # what it finds before it fails stands
        return found

    def _find_of_burn(self, burn: Burn, now_s: float) -> Iterable[Finding]:
        bench, station = self._bench, burn.station
        hottest_c = self._places.hottest_c(station)
        yield from burns.burn_length(burn, bench.limits, now_s, hottest_c=hottest_c)
        yield burns.emergency(burn)
        yield burns.unchecked(burn)
        yield burns.relit_too_soon(burn, bench.limits)
        if bench.ask_every_s is not None:
            yield burns.unwatched(burn, bench.ask_every_s, now_s)
        yield wall.flame_out(burn, self._places.traces(station))
        for channel, forecast in self._prospects.latest(burn) if burn.lit else ():
            yield foresight.wall_forecast(channel, forecast, bench.words)
        yield wall.still_hot(burn, hottest_c, now_s, bench.words)
        traces = self._places.traces(station)
        yield unlit.hotter_after_out(burn, traces, hottest_c, now_s, bench.words)
        if not self._places.is_watched(station):
            by_hand_s = [estimate.at_s for _, estimate in self._places.on_vessel(station)]
            yield burns.overdue_by_hand(burn, max([burn.lit_s, *by_hand_s]), now_s)

    def _judge_unlit(self, station: str) -> Finding:
        return unlit.warming_unlit(
            station,
            self._book.of(station),
            self._places.traces(station),
            self._places.hottest_c(station),
            self._bench.words,
        )

    def statuses(self, now_s: float) -> list[BurnStatus]:
        """Every station now."""
        found: list[BurnStatus] = []
        for station in self._stations.values():
            with self.guard.over(station.name, now_s, station=station.name):
                found.append(self._status(station, now_s))
        return found

    def _status(self, station: Station, now_s: float) -> BurnStatus:
        burn, places = self._book.of(station.name), self._places.on_vessel(station.name)
        return status(station, burn, self._bench.limits, places, now_s)

    def _check_station(self, name: str) -> Station:
        station = self._stations.get(name)
        if station is None:
            known = ", ".join(self._stations)
            raise Refused(f"no station {name}; the configuration has: {known}")
        return station

    # alarms

    def _judge_wall(self, channel: Channel, estimate: Estimate) -> tuple[Finding, ...]:
        if not channel.on_vessel or channel.station is None:
            return ()
        burn, station = self._book.of(channel.station), self._stations.get(channel.station)
        if station is None:  # read by hand there before it left the configuration
            return ()
        limits = self._bench.limits.of(burn.material if burn else station.material)
        unsure = estimate.quality is Quality.DOUBTFUL and self._places.doubts_reflected_alone(
            channel.name, estimate.at_s
        )
        words = self._bench.words
        with self.guard.over(channel.name, estimate.at_s, channel=channel):
            out = burn is not None and not burn.lit
            looked_at = out or self._watch.waits(f"wall-limit/{channel.name}")
            falls = looked_at and self._places.falls(channel.name)
            findings = wall.wall(
                channel, estimate, limits, words, falls=falls, unsure_of_reflected=unsure
            )
            if not (out and falls):
                return findings
            return tuple(replace(finding, repeats=False) for finding in findings)
        return ()

    def _judge_by_hand(self, station: str) -> Iterable[Finding]:
        """Places that a person read, again: their alarms have delays and reminders too."""
        for channel, estimate in self._places.on_vessel(station):
            if channel.instrument == BY_HAND:
                yield from self._judge_wall(channel, estimate)

    def _judge_course(self, channel: Channel, estimate: Estimate) -> Iterable[Finding]:
        """Rules that look at more than this moment, at each publication."""
        if channel.place.position is Position.ROOM and channel.quantity is Quantity.TEMPERATURE:
            lit = self._book.is_lit(channel.station)
            yield links.room(channel, estimate, self._bench.limits, self._bench.words, lit=lit)
        trace = self._places.trace(channel, estimate)
        burn = self._book.of(channel.station)
        if trace is not None and burn is not None:
            yield wall.rise_rate(channel, burn, trace, estimate.at_s, self._bench.words)

    def _sample_sensors(self, now_s: float) -> None:
        for channel, conditioner in self._places.heard():
            estimate = self._estimate(channel, now_s)
            if estimate is None:
                continue
            self._sensors.sample(
                estimate,
                interval_s=conditioner.interval_s,
                jumped_s=conditioner.jumped_s,
                burst_s=conditioner.burst_s,
                silent=self._places.is_silent(channel.name, now_s),
            )
        self._sensors.settle()

    def _silences(self, now_s: float) -> Iterable[Finding]:
        """Of every channel; those of an instrument that is gone fall silent together."""
        channels = self._places.channels
        age_s = {name: now_s - self._heard_s(name) for name in channels}
        allowed_s = {name: self._places.allowed_s(name) for name in channels}
        late = {
            channels[name].instrument
            for name in channels
            if self._places.last_s(name) is not None and age_s[name] > allowed_s[name]
        }
        for name, channel in channels.items():
            # By the readings alone: a replay knows of no links, and must say the same.
            early_s = min(TOGETHER_S, allowed_s[name] / 3.0)
            link = self._links.get(channel.instrument)
            yield links.silent(
                channel,
                age_s=age_s[name],
                allowed_s=allowed_s[name],
                heard=(self._places.last_s(name) or 0.0) >= self._started_s,
                lit=self._book.is_lit(channel.station),
                reason=link.reason if link is not None and not link.ok else None,
                lost=channel.instrument in late and age_s[name] > allowed_s[name] - early_s,
            )

    def _heard_s(self, name: str) -> float:
        """When a channel was heard last; one that was never heard counts from the start."""
        last_s = self._places.last_s(name)
        return self._started_s if last_s is None else max(self._started_s, last_s)

    def _end_forecasts(self, now_s: float) -> list[AlarmEvent]:
        """A prediction ends with its burn, whether or not it was still made."""
        ended = {
            alarm.key: f"{alarm.finding.station}: the burn that this was about has ended"
            for alarm in self._watch.alarms
            if alarm.finding.rule == "wall-forecast" and alarm.stands
            if not self._book.is_lit(alarm.finding.station)
            or alarm.burn != self._book.id_of(alarm.finding.station)
        }
        return self._watch.close(ended, now_s)

    def _find_gone(self, alarms: Iterable[Alarm]) -> dict[str, str]:
        """Alarms of before that nothing judges in this configuration, and why."""
        by_hand = {channel.name: channel for channel in self.places_by_hand}
        scope = Scope(
            channels=by_hand | self._places.channels,
            stations=frozenset(self._stations),
            ways_out=self._bench.ways_out,
        )
        reasons = {alarm.key: scope.why_gone(alarm.finding) for alarm in alarms if alarm.active}
        return {key: reason for key, reason in reasons.items() if reason is not None}

    def _alarm(self, findings: Iterable[Finding], now_s: float) -> list[AlarmEvent]:
        events: list[AlarmEvent] = []
        for one in findings:
            with self.guard.over(one.key, now_s, station=one.station):
                events += self._watch.judge((one,), now_s, self._book.id_of)
        return events


def _why(entry: Change) -> str:
    by = f", says {entry.by}" if entry.by else ""
    return by if isinstance(entry, Moved) else f"{by}: {entry.why}"


def _words_of(item: Input) -> str:
    """What an alarm calls an input that could not be taken."""
    match item:
        case Reading():
            return f"readings of {item.channel}"
        case Entry():
            return f"entry {type(item).__name__}"
        case Health():
            return f"news of {item.name}"
        case Recalled():
            return "late recall"
        case _:
            return "rules of each second"


def _due(now_s: float, every_s: float) -> bool:
    """Whether a publication falls on this whole second."""
    return every_s <= 1.0 or now_s % every_s < 1.0


def ticks(after_s: float, upto_s: float) -> Iterable[Tick]:
    """The whole seconds in (after_s, upto_s]: each comes before any input stamped with it."""
    second = int(after_s // 1.0) + 1
    while second <= upto_s:
        yield Tick(at_s=float(second))
        second += 1
