"""The step of the pipeline, the order of a second in it, and what is asked of it."""

from collections.abc import Iterable
from contextlib import suppress
from dataclasses import replace

from logger.alarms import links, sensor_faults
from logger.alarms.guard import Report
from logger.alarms.lifecycle import Alarm, AlarmEvent, Finding
from logger.burn import plausible, safety
from logger.burn.entries import (
    Acknowledge,
    Calibrated,
    Corrected,
    Emergency,
    Entry,
    InSight,
    Lit,
    ManualReading,
    Moved,
    Note,
    Observed,
    Out,
    Photographed,
    Resumed,
    Shelve,
    Stopped,
    WeighIn,
    Withdrawn,
)
from logger.burn.ledger import LedgerLine
from logger.burn.model import Burn, BurnEvent, BurnStatus
from logger.errors import DataError, Refused
from logger.pipeline.bench import Bench, Input, Memory, Output, Recalled
from logger.pipeline.burns import Burns
from logger.pipeline.by_hand import ByHand
from logger.pipeline.changes import Changes
from logger.pipeline.fold import due, stamp_of
from logger.pipeline.judging import Judge
from logger.pipeline.recall import recall, recall_late
from logger.pipeline.state import BenchState
from logger.quantities import Channel, Estimate, Health, Part, Reading, Tick


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
        self._state = BenchState(bench, started_s, memory, report)
        self.guard = self._state.guard
        self._judge = Judge(self._state)
        self._burns = Burns(self._state, self._judge)
        self._by_hand = ByHand(self._state, self._judge)
        self._changes = Changes(self._state, self._judge, self._by_hand)
        recall(self._state, self._judge, memory)

    @property
    def burns(self) -> tuple[Burn, ...]:
        """The latest burn of each station, lit or out."""
        return self._state.book.all()

    @property
    def alarms(self) -> tuple[Alarm, ...]:
        """Every alarm that was ever raised."""
        return self._state.watch.alarms

    @property
    def places_by_hand(self) -> tuple[Channel, ...]:
        """The channels that a person's readings made up."""
        return self._state.places.by_hand

    def channel(self, name: str) -> Channel:
        """The channel of any estimate that was ever given out: configured, or read by hand."""
        return self._state.places.channel(name)

    @property
    def estimates(self) -> tuple[Estimate, ...]:
        """The latest of every channel that was ever heard."""
        return self._state.places.estimates

    def step(self, item: Input) -> list[Output]:
        """Take one input. Raises Refused, and changes nothing, for an entry that cannot be.

        Any other error within is caught, and told by the alarm `program`. Only one in telling it
        comes out: then there is no relying on the watch any more.
        """
        state = self._state
        now_s, outputs = stamp_of(item), None
        with self.guard.over(_words_of(item), now_s):
            outputs = self._take(item)
        if isinstance(item, Tick):
            findings = self.guard.findings(now_s, state.book.is_lit)
            return [*(outputs or ()), *state.watch.judge(findings, now_s, state.book.id_of)]
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
                return recall_late(self._state, item.memory, item.at_s)
            case Acknowledge() | Shelve():
                return list(self._state.watch.answer(item))
            case Lit():
                return self._burns.light(item)
            case ManualReading():
                return self._by_hand.read(item)
            case Moved() | Corrected() | Withdrawn():
                return self._changes.change(item)
            case Calibrated():
                return self._burns.calibrate(item)
            case Resumed() | Stopped():
                return self._burns.pause(item)
            case Out() | Note() | Observed() | Photographed() | WeighIn() | Emergency() | InSight():
                return self._burns.see(item)
            case _:
                raise TypeError(f"the pipeline knows no {type(item).__name__}")

    def _read(self, reading: Reading) -> list[Output]:
        state = self._state
        if not state.add(reading):
            return []
        channel = state.places.channels[reading.channel]
        estimate = state.estimate(channel, reading.at_s)
        if estimate is None:
            return []
        return list(state.alarm(self._judge.wall(channel, estimate), reading.at_s))

    def _tick(self, now_s: float) -> list[Output]:
        """One whole second, in this order; each part sees what those before it left.

        1. Alarms end that nothing judges any more: of channels gone, and forecasts of burns over.
        2. Channels: silent ones are found; every other is estimated and, on a vessel, held
           against its limits; where it is published now its course is judged too.
        3. Forecasts take in what is published.
        4. Sensors are held against one another, as often as that is due.
        5. Burns change by what was estimated: out indeed, or a question to be asked.
        6. Burns as they are now: forecasts and their rules.
        7. Stations: vessels that warm unlit, places read by hand; then the ways out, the disk and
           the clock.
        8. All findings go to the alarms at once; what is due is repeated; then every station is
           told as it stands.
        """
        state, judge, burns = self._state, self._judge, self._burns
        outputs: list[Output] = [*state.watch.close(state.gone, now_s)]
        state.gone = {}
        outputs.extend(judge.end_forecasts(now_s))
        findings: list[Finding] = [*judge.silences(now_s)]
        published: list[Estimate] = []
        for channel, _ in state.places.heard():
            estimate = state.estimate(channel, now_s)
            if estimate is None:
                continue
            findings.extend(judge.wall(channel, estimate))
            if due(now_s, channel.averaging.every_s):
                published.append(estimate)
                outputs.extend(state.book.remember(channel, estimate))
                with state.guard.over(channel.name, now_s, channel=channel):
                    findings.extend(judge.course(channel, estimate))
        outputs.extend(published)
        with state.guard.over("forecasts", now_s):
            state.prospects.see(published)
        if sensor_faults.due(now_s):
            with state.guard.over("check of the sensors", now_s):
                judge.sample_sensors(now_s)
                alarms = {alarm.key: alarm for alarm in state.watch.alarms}
                findings.extend(state.sensors.judge(now_s, state.book.by_station, alarms))
                outputs.extend(burns.tell_sides(now_s, alarms))
        for burn in state.book.all():
            with state.guard.over(burn.station, now_s, station=burn.station):
                outputs.extend(burns.cool(burn))
                outputs.extend(burns.ask(burn, now_s))
        for burn in state.book.all():
            if burn.lit:
                with state.guard.over(f"forecast of {burn.station}", now_s, station=burn.station):
                    outputs.extend(state.prospects.forecasts(burn, now_s))
            findings.extend(judge.burn(burn, now_s))
        for station in state.stations:
            with state.guard.over(station, now_s, station=station):
                findings.append(judge.unlit(station))
                findings.extend(judge.by_hand(station, now_s))
        findings.extend(
            links.health(news, lit=state.book.is_lit())
            for news in state.links.values()
            if news.part is not Part.INSTRUMENT
        )
        outputs.extend(state.alarm(findings, now_s))
        outputs.extend(state.repeat_alarms(now_s))
        outputs.extend(state.statuses(now_s))
        return outputs

    def _hear(self, news: Health) -> list[Output]:
        state = self._state
        state.links[news.name] = news
        if news.part is Part.INSTRUMENT:  # its channels fall silent by themselves, with the reason
            changed = state.instruments.hear(news, state.book.all())
            findings = state.instruments.battery(news, state.book.is_lit)
            return [*map(state.book.put, changed), *state.alarm(findings, news.at_s)]
        return list(state.alarm([links.health(news, lit=state.book.is_lit())], news.at_s))

    def statuses(self, now_s: float) -> list[BurnStatus]:
        """Every station now."""
        return self._state.statuses(now_s)

    def doubt(self, entry: Entry) -> str | None:
        """The question that `entry` raises before it is taken; None where it is plausible."""
        state = self._state
        match entry:
            case ManualReading() if entry.station in state.stations:
                with suppress(DataError):  # `step` refuses it
                    return plausible.reading(
                        entry,
                        state.book.of(entry.station),
                        state.places.around(entry.station),
                        state.bench.limits,
                        words_in=lambda unit: replace(state.bench.words, temperature_in=unit),
                    )
            case Lit():
                asked = plausible.wax(entry.mass_g, entry.wax_g, state.bench.words)
                return None if asked is None else f"{asked} {safety.NOT_WATCHED}."
            case WeighIn():
                burn = state.book.of(entry.station)
                before_g = entry.mass_g if burn is None else burn.mass_before_g
                candle_g = max(entry.mass_g, before_g or 0.0)
                asked = plausible.wax(candle_g, entry.wax_g, state.bench.words)
                return asked or self._burns.weighed_warm(entry)
        return None

    def lit_by_other_records(self, entry: Entry) -> Lit | None:
        """A lighting as `entry` corrects it, where that makes it one of other records."""
        state = self._state
        if not isinstance(entry, Corrected):
            return None
        first, now = state.ledger.find(entry.entry).now, state.ledger.changed(entry).now
        if not (isinstance(first, Lit) and isinstance(now, Lit)):
            return None
        return None if (first.trial, first.tester) == (now.trial, now.tester) else now

    def lit_otherwise(self, entry: Entry) -> tuple[float, float | None] | None:
        """From when to when a burn is measured whose time of lighting `entry` corrects.

        What is stored of that time, None being now, is to be given to `remember` first: in memory
        is the last hour. Raises Refused.
        """
        state = self._state
        if not isinstance(entry, Corrected):
            return None
        line, now = state.ledger.find(entry.entry), state.ledger.changed(entry).now
        if not isinstance(line.now, Lit) or now is None or now.at_s == line.now.at_s:
            return None
        burn = state.book.known(line.burn)
        out_s = None if burn is None else burn.out_s
        return now.at_s, None if out_s is None else out_s + state.bench.limits.cool_down_s

    def remember(self, entry: Entry, estimates: Iterable[Estimate]) -> None:
        """What is stored since the lighting that `entry`, the next to come, corrects."""
        self._state.stored = {entry.id: tuple(estimates)}

    def resolved(self, entry: Entry) -> Entry:
        """A change with the whole id of the entry it changes, a look with its time, a reading by
        hand with the accuracy of the thermometer.

        Raises Refused.
        """
        match entry:
            case Observed() if entry.mark_s is not None:
                return self._burns.at_mark(entry)
            case ManualReading():
                return replace(entry, accuracy=self._state.bench.accuracy_by_hand)
            case Moved():
                return replace(entry, reading=self._state.ledger.find(entry.reading).first.id)
            case Corrected() | Withdrawn():
                return replace(entry, entry=self._state.ledger.find(entry.entry).first.id)
            case _:
                return entry

    def entered_at(self, station: str, burn_id: str | None = None) -> tuple[LedgerLine, ...]:
        """What was entered at the latest burn of `station`, or at that one; in order of entry."""
        book = self._state.book
        burn = book.of(station) if burn_id is None else book.known(burn_id)
        if burn is None:
            return ()
        return tuple(line for line in self._state.ledger.lines if self._is_of(line, burn))

    def burn_of(self, entry: Entry, outputs: Iterable[Output]) -> str | None:
        """The burn that an entry concerns, by what came of it."""
        for output in outputs:
            if isinstance(output, BurnEvent):
                return output.burn
            if isinstance(output, AlarmEvent) and isinstance(entry, Acknowledge | Shelve):
                return output.alarm.burn
        if isinstance(entry, ManualReading):
            burn = self._state.book.at(entry.station, entry.at_s)
            return None if burn is None else burn.id
        return None

    def number_of(self, burn: str | None) -> int | None:
        """Of the burn with this id, where the bench counts it."""
        known = self._state.book.known(burn)
        return None if known is None else known.number

    def short_id(self, id: str) -> str:
        """As much of an entry's id as a person must type."""
        return self._state.ledger.short_id(id)

    def _is_of(self, line: LedgerLine, burn: Burn) -> bool:
        if not isinstance(line.first, ManualReading):
            return line.burn == burn.id
        places = [one for one in (line.first, line.now) if isinstance(one, ManualReading)]
        at = (self._state.book.at(one.station, one.at_s) for one in places)
        return any(one is not None and one.id == burn.id for one in at)


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
