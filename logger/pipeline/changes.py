"""Earlier entries corrected, moved or withdrawn."""

from collections.abc import Iterable
from dataclasses import replace

from logger.alarms.lifecycle import AlarmEvent, Signal
from logger.burn import refold
from logger.burn.entries import Change, Entry, Lit, ManualReading, Moved
from logger.burn.entry_words import contents, difference, named
from logger.burn.ledger import LedgerLine
from logger.burn.model import Burn, BurnEventKind
from logger.burn.places import estimate_by_hand
from logger.errors import Refused
from logger.pipeline.bench import Output
from logger.pipeline.by_hand import ByHand
from logger.pipeline.judging import Judge
from logger.pipeline.state import BenchState
from logger.quantities import Estimate, Rule


class Changes:
    """Makes all that follows from an entry as if it had been so from the first."""

    def __init__(self, state: BenchState, judge: Judge, by_hand: ByHand) -> None:
        self._state = state
        self._judge = judge
        self._by_hand = by_hand

    def change(self, entry: Change) -> list[Output]:
        """An earlier entry corrected, moved or withdrawn: all that follows as if it had been so."""
        state = self._state
        before, after = state.ledger.find(entry.entry), state.ledger.changed(entry)
        if isinstance(before.now, ManualReading):
            outputs = self._change_reading(entry, before.now, after)
        else:
            outputs = self._change_burn(entry, before, after)
        return [*outputs, *state.statuses(entry.entered_s)]

    def _change_reading(
        self, entry: Change, before: ManualReading, after: LedgerLine
    ) -> list[Output]:
        state = self._state
        now, now_s = after.now, entry.entered_s
        if isinstance(now, ManualReading):
            self._by_hand.check(now)
        state.ledger.put(after)
        outputs: list[Output] = []
        if isinstance(now, ManualReading):
            outputs.append(now)
        outputs += self._end_mistaken(before, entry)
        outputs += self._by_hand.renew_place(before.channel, now_s)
        if isinstance(now, ManualReading) and now.channel.name != before.channel.name:
            outputs += self._by_hand.renew_place(now.channel, now_s)
        outputs += self._by_hand.renew_burns(
            *(one for one in (before, now) if isinstance(one, ManualReading))
        )
        words = state.bench.words
        texts = {before.station: self._change_text(before, now)}
        if isinstance(now, ManualReading) and now.station != before.station:
            other = difference(replace(before, station=now.station), now, words)
            other = f"; {other}" if other else ""
            texts = {
                before.station: f"{contents(before, words)}; entered here by mistake, it belongs "
                f"to {now.station}",
                now.station: f"{contents(now, words)}; entered by mistake at "
                f"{before.station}{other}",
            }
        event = _event(now)
        if len(texts) > 1:
            event = BurnEventKind.MOVED
        for station, text in texts.items():
            burn = state.book.at(station, before.at_s) or state.book.of(station)
            if burn is not None:
                outputs.append(
                    state.book.write_entry(burn, entry, event, f"{station}: {text}{_why(entry)}")
                )
        return outputs

    def _end_mistaken(self, before: ManualReading, entry: Change) -> list[AlarmEvent]:
        """Alarms of a place that only a reading raised which is otherwise now, or is none."""
        channel, latest = before.channel, self._state.ledger.latest(before.channel.name)
        mistaken = self._judge.wall(channel, estimate_by_hand(before))
        still: set[str] = set()
        if latest is not None:
            found = self._judge.wall(channel, estimate_by_hand(latest))
            still = {one.key for one in found if one.signal is Signal.ON}
        text = (
            f"{before.station}: {before.place} was read wrongly, so this was no alarm{_why(entry)}"
        )
        keys = {one.key for one in mistaken} - still
        return self._close(keys, text, entry.entered_s)

    def _close(self, keys: Iterable[str], why: str, now_s: float) -> list[AlarmEvent]:
        standing = {alarm.key for alarm in self._state.watch.alarms if alarm.active}
        return self._state.watch.close({key: why for key in sorted(standing & {*keys})}, now_s)

    def _change_burn(self, entry: Change, before: LedgerLine, after: LedgerLine) -> list[Output]:
        state = self._state
        first, now, words = before.now, after.now, state.bench.words
        burn = state.book.known(before.burn)
        if first is None or burn is None:
            raise Refused("the burn of this entry is not known any more")
        if isinstance(now, Lit) and isinstance(first, Lit) and now.trial != first.trial:
            state.check_trial(now, besides=first.trial)
        entries = state.ledger.of_burn(burn.id, after)
        earlier, later = state.book.before(burn), state.book.after(burn)
        material = burn.material
        if isinstance(first, Lit) and first.material is not None:  # of the record, not the station
            material = state.station(burn.station).material
        renewed = refold.refolded(
            burn, entries, state.bench.limits, words, earlier, material=material
        )
        if later is not None and (renewed.out_s is None or renewed.out_s > later.lit_s - 1.0):
            raise Refused(f"{burn.station} was lit again after that: correct the later burn first")
        # nothing above changes anything
        state.ledger.put(after)
        if renewed.candle != burn.candle:
            renewed = state.book.expecting(replace(renewed, expected={}))
        if renewed.lit_s != burn.lit_s and not renewed.withdrawn:
            renewed = refold.sensed_since(
                renewed,
                [(state.places.channel(e.channel), e) for e in self._sensed(entry)],
                state.bench.limits.cool_down_s,
            )
        renewed = state.book.replace(renewed)
        renewed = state.book.put(
            refold.with_readings(
                renewed, self._by_hand.readings_of(renewed), state.bench.limits.cool_down_s
            )
        )
        text = f"{burn.station}: {self._change_text(first, now)}{_why(entry)}"
        outputs: list[Output] = [renewed, state.book.write_entry(renewed, entry, _event(now), text)]
        if isinstance(now, Lit):
            state.trials.add(now.trial)
        if later is not None:
            earlier = state.book.before(later)
            rested_s = None if earlier is None else later.lit_s - (earlier.out_s or later.lit_s)
            outputs.append(state.book.put(replace(later, rested_s=rested_s)))
        return [*outputs, *self._after_change(renewed, burn, entry)]

    def _after_change(self, renewed: Burn, burn: Burn, entry: Change) -> list[Output]:
        """Forecasts and alarms of the station's latest burn, after one there was changed."""
        state = self._state
        now_s, latest = entry.entered_s, state.book.of(burn.station)
        outputs: list[Output] = []
        if burn.danger is not None and (renewed.danger is None or not renewed.in_danger):
            text = f"{burn.station}: the report of an emergency was withdrawn{_why(entry)}"
            outputs += self._close([f"{Rule.EMERGENCY}/{burn.station}"], text, now_s)
        if renewed.withdrawn:
            outputs += state.alarm(self._judge.burn(renewed, now_s), now_s)
            outputs += [] if latest is None else [latest]
        if latest is not None:
            if latest.lit and (latest.id != burn.id or renewed.lit_s != burn.lit_s):
                state.prospects.follow(latest, self._sensed(entry))
            outputs += state.alarm(self._judge.burn(latest, now_s), now_s)
        return outputs

    def _sensed(self, entry: Change) -> list[Estimate]:
        """What is stored since the lighting that `entry` corrects, and the last hour in memory.

        Of channels that the bench has had since its start; in order of time.
        """
        state = self._state
        stored = (e for e in state.stored.get(entry.id, ()) if e.channel in state.places.channels)
        known = {(e.channel, e.at_s): e for e in (*stored, *state.prospects.recent())}
        return sorted(known.values(), key=lambda one: one.at_s)

    def _change_text(self, before: Entry, now: Entry | None) -> str:
        words = self._state.bench.words
        if now is None:
            return f"withdrawn: {contents(before, words)}"
        return f"{named(before)} corrected: {difference(before, now, words)}"


def _event(now: Entry | None) -> BurnEventKind:
    return BurnEventKind.WITHDRAWN if now is None else BurnEventKind.CORRECTED


def _why(entry: Change) -> str:
    by = f", says {entry.by}" if entry.by else ""
    return by if isinstance(entry, Moved) else f"{by}: {entry.why}"
