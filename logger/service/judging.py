"""The verdict on a trial, from as little of what is stored as it needs; every function blocks.

A record draws every estimate; a verdict only asks when there were good ones. What a burn amounts to
is kept: once it is out and cold nothing of it changes but what people enter.
"""

from collections.abc import Sequence
from dataclasses import dataclass
from pathlib import Path

from logger.burn.entries import ManualReading
from logger.burn.evidence import BurnEvidence, Gap, cover, cover_by_times
from logger.burn.model import Burn
from logger.burn.outlook import outlook
from logger.burn.verdict import Verdict, judge
from logger.messages import Message
from logger.pipeline import Event
from logger.quantities import Channel, Position, Quantity
from logger.reports.document import LOOKS_BACK_S, Series, evidence, reading_order
from logger.reports.history import silences
from logger.service import record_messages, records
from logger.store.queries import Reader, open_read

MOST_KEPT = 1000  # burns, of some kilobytes each; the oldest asked for go first


@dataclass(frozen=True, slots=True, kw_only=True)
class _Kept:
    burn: Burn
    read_here: Sequence[ManualReading]
    events: Sequence[Event]
    known_s: float
    evidence: BurnEvidence


class Judging:
    """Verdicts of the bench in one data folder; may be asked from several threads."""

    def __init__(self, data: Path) -> None:
        self._data = data
        self._kept: dict[str, _Kept] = {}

    def verdict(self, trial: str) -> Verdict:
        """On all burns of a trial so far. Raises NotKnown where there is no such trial."""
        with open_read(self._data) as reader:
            return self._verdict(reader, records.burns_of(reader, trial))

    def message(self, trial: str) -> Message:
        """The verdict as JSON, and what is to be expected of the burns to come."""
        with open_read(self._data) as reader:
            burns = records.burns_of(reader, trial)
            verdict = self._verdict(reader, burns)
            latest = burns[-1]
            bench, _ = records.bench_and_text(reader, latest)
        limits = latest.limits or bench.limits
        coming = outlook(burns, bench.words, limit_c=limits.of(latest.material).limit_c)
        return {
            "trial": trial,
            "burns": [burn.id for burn in burns],
            "outlook": coming.text,
            "last_quarter": record_messages.last_quarter(coming.last_quarter),
            **record_messages.verdict(verdict),
        }

    def _verdict(self, reader: Reader, burns: Sequence[Burn]) -> Verdict:
        bench, _ = records.bench_and_text(reader, burns[-1])
        return judge([self._evidence(reader, burn) for burn in burns], bench.words)

    def _evidence(self, reader: Reader, burn: Burn) -> BurnEvidence:
        read_here = reader.by_hand(burn)
        kept = self._kept.get(burn.id)
        if (
            kept is not None
            and (kept.burn, kept.read_here) == (burn, read_here)
            and kept.events == records.events_of(reader, burn, kept.known_s)
        ):
            return kept.evidence
        kept = _read(reader, burn, read_here)
        to_s = records.curve_end_s(burn)
        if to_s is not None and reader.estimates_reach(to_s):
            self._kept[burn.id] = kept
            while len(self._kept) > MOST_KEPT:
                self._kept.pop(next(iter(self._kept)), None)
        return kept.evidence


def _read(reader: Reader, burn: Burn, read_here: Sequence[ManualReading]) -> _Kept:
    """What a burn is judged on; the same as its record says."""
    bench, _ = records.bench_and_text(reader, burn)
    channels = [c for c in bench.channels if c.station in (burn.station, None)]
    good_s, latest_s = reader.good_times(burn.lit_s, records.curve_end_s(burn))
    by_hand = records.estimates_by_hand(read_here, burn)
    ends_s = [latest_s[c.name] for c in channels if c.name in latest_s]
    ends_s += [found[-1].at_s for found in by_hand.values() if found]
    known_s = max([*ends_s, burn.lit_s, burn.out_s or 0.0])
    events = records.events_of(reader, burn, known_s)
    until_s = known_s if burn.out_s is None else burn.out_s
    silent = silences(events, known_s)
    hottest_s = None if burn.least_margin is None else burn.least_margin.at_s

    def series(channel: Channel) -> Series:
        gaps: Sequence[Gap] = silent.get(channel.name, ())
        at = {"from_s": burn.lit_s, "to_s": until_s}
        if channel.name in by_hand:
            estimates = tuple(by_hand[channel.name])
            coverage = cover(channel, estimates, silences=gaps, **at)
        else:
            estimates = ()
            inside = [t for t in good_s.get(channel.name, ()) if burn.lit_s <= t <= until_s]
            coverage = cover_by_times(channel, inside, silences=gaps, **at)
            if channel.place.position is Position.ROOM and hottest_s is not None:
                begin_s = max(burn.lit_s, hottest_s - LOOKS_BACK_S)
                estimates = tuple(reader.estimates(channel.name, begin_s, hottest_s + 1e-6))
        return Series(letter="", channel=channel, estimates=estimates, gaps=(), coverage=coverage)

    channels.extend({one.channel.name: one.channel for one in read_here}.values())
    shown = sorted((c for c in channels if c.quantity is Quantity.TEMPERATURE), key=reading_order)
    calibrations = records.calibrations_of(reader, until_s)
    found = evidence(
        burn,
        burn.limits or bench.limits,
        [series(channel) for channel in shown],
        events,
        until_s,
        calibrated=records.known_offsets(calibrations, until_s),
    )
    return _Kept(burn=burn, read_here=read_here, events=events, known_s=known_s, evidence=found)
