"""What becomes of a burn by entries of a person and by time."""

from collections.abc import Iterable, Mapping
from dataclasses import replace

from logger.alarms.lifecycle import Alarm
from logger.burn import consumption, model, shared_pour
from logger.burn.cool_down import JUST_NOW_S, cool_down, room_now_c, weighed_warm
from logger.burn.entries import (
    Calibrated,
    Emergency,
    InSight,
    Lit,
    Note,
    Observed,
    Out,
    Photographed,
    Resumed,
    Stopped,
    WeighIn,
)
from logger.burn.entry_words import contents
from logger.burn.marks import AHEAD_S, mark_of
from logger.burn.model import Burn, BurnEvent, BurnEventKind
from logger.burn.safety import PUT_OUT
from logger.errors import Refused
from logger.pipeline.bench import Output
from logger.pipeline.judging import Judge
from logger.pipeline.state import BenchState
from logger.words import duration

ASK_ALONG = 0.5  # of the time between questions; sooner another's question leaves it out (ours)


Seen = Out | Note | Observed | Photographed | WeighIn | Emergency | InSight


class Burns:
    """Changes the burns of a bench, and says how."""

    def __init__(self, state: BenchState, judge: Judge) -> None:
        self._state = state
        self._judge = judge

    def light(self, entry: Lit) -> list[Output]:
        """A burn begun. Raises Refused."""
        state = self._state
        station = state.station(entry.station)
        before, words = state.book.of(entry.station), state.bench.words
        state.check_trial(entry)
        burn = consumption.checked(
            model.light(entry, station.material, state.bench.limits, before), words
        )
        burn = state.book.begin(state.instruments.begun(burn))
        state.ledger.take(entry, burn.id)
        state.prospects.follow(burn)
        which = "a" if entry.trial in state.trials else "the first"  # so a misspelt name is seen
        state.trials.add(entry.trial)
        text = f"{entry.station}: recorded lit, {which} burn of {entry.trial}"
        if entry.hand_kept:
            text += f", imported from the hand-kept table {entry.hand_kept}"
        if entry.mass_g is not None:
            text += f", weighed {words.mass(entry.mass_g)} before"
        text += shared_pour.again(burn, state.book.at_hand())
        batteries = state.instruments.batteries_anew(entry.station, state.book.is_lit)
        return [
            burn,
            state.book.write_entry(burn, entry, BurnEventKind.LIT, text),
            *state.alarm(batteries, entry.entered_s),
            *state.statuses(entry.entered_s),
        ]

    def see(
        self, entry: Out | Note | Observed | Photographed | WeighIn | Emergency | InSight
    ) -> list[Output]:
        """What a person did or saw at a burn. Raises Refused where there is none."""
        state = self._state
        state.station(entry.station)
        burn = state.book.of(entry.station)
        if burn is None:
            raise Refused(f"{entry.station} has no burn yet: record the lighting first")
        if isinstance(entry, WeighIn):
            event = BurnEventKind.WEIGHED
            burn, text = consumption.weigh(burn, entry, state.bench.limits, state.bench.words)
        elif isinstance(entry, Observed):
            event = BurnEventKind.LOOKED
            burn, text = self._look(burn, entry)
        else:
            burn, event, text = model.see(burn, entry)
        if isinstance(entry, Out):
            burn = state.prospects.learn(burn, entry.entered_s)
        burn = self._with_wall(burn)
        state.book.put(burn)
        findings = [*self._judge.burn(burn, entry.entered_s)]
        if isinstance(entry, Out):
            findings += state.instruments.batteries_anew(entry.station, state.book.is_lit)
        state.ledger.take(entry, burn.id)
        return [
            burn,
            state.book.write_entry(burn, entry, event, text),
            *self._judge.end_forecasts(entry.entered_s),
            *state.alarm(findings, entry.entered_s),
            *state.statuses(entry.entered_s),
        ]

    def at_mark(self, entry: Observed) -> Observed:
        """`entry` with the time of its mark. Raises Refused for one that is not there yet."""
        burn, mark_s = self._state.book.of(entry.station), entry.mark_s or 0.0
        if burn is None:
            return entry  # `see` refuses it
        ahead_s = burn.lit_s + mark_s - entry.entered_s
        if ahead_s > AHEAD_S:
            raise Refused(
                f"{entry.station} will have been lit for {duration(mark_s)} only in "
                f"{duration(ahead_s)}: leave the mark out for what you see now"
            )
        at_s = min(burn.lit_s + mark_s, entry.entered_s)
        return replace(entry, at_s=at_s, mark_s=None)

    def weighed_warm(self, entry: WeighIn) -> str | None:
        """The question that a weighing raises of a candle that is not cold."""
        state, burn = self._state, self._state.book.of(entry.station)
        if burn is None:
            return None
        now = entry.entered_s - entry.at_s <= JUST_NOW_S
        hottest_c = state.places.hottest_c(entry.station) if now else None
        room_c = room_now_c(state.places.around(entry.station))
        found = cool_down(burn, state.bench.limits, entry.at_s, hottest_c, room_c)
        asked = None if found is None else weighed_warm(found, state.bench.words)
        return None if asked is None else f"{entry.station}: {asked}"

    def _look(self, burn: Burn, entry: Observed) -> tuple[Burn, str]:
        bench = self._state.bench
        marks_s = bench.marks.of(burn.circumstances.regime)
        mark_s = mark_of(entry.at_s - burn.lit_s, marks_s) if burn.lit else None
        at = "" if mark_s is None else f"at the mark of {duration(mark_s)}: "
        return model.look(burn, entry), f"{burn.station}: {at}{contents(entry, bench.words)}"

    def pause(self, entry: Resumed | Stopped) -> list[Output]:
        """That the watch has ended, or goes on after a time without."""
        state = self._state
        if isinstance(entry, Stopped):
            event = BurnEventKind.WATCH_ENDED
            text = f"the watch has ended. Nothing warns you any more: stay with it, or {PUT_OUT}"
        else:
            state.started_s = entry.entered_s  # a silence that nobody listened to is none
            event, away = BurnEventKind.WATCH_RESUMED, duration(entry.entered_s - entry.at_s)
            if not entry.length_known:
                away = "a time that is not known: the clock was behind"
            text = f"it was not watched for {away}. Go and look at the candle"
        return [
            state.book.write_entry(burn, entry, event, f"{burn.station}: {text}")
            for burn in state.book.all()
            if burn.lit
        ]

    def calibrate(self, entry: Calibrated) -> list[Output]:
        """A channel corrected anew from now on; what was judged before stays as it was."""
        state = self._state
        channel = state.places.channels.get(entry.channel)
        if channel is None:
            known = ", ".join(state.places.channels)
            raise Refused(f"no channel {entry.channel}; the configuration has: {known}")
        if channel.quantity is not entry.quantity:
            raise Refused(f"{channel.name} measures {channel.quantity}, not {entry.quantity}")
        state.places.calibrate(entry)
        text = f"{channel.name} ({channel.place}) calibrated against {entry.reference}"
        return [
            state.book.write_entry(burn, entry, BurnEventKind.CALIBRATED, f"{burn.station}: {text}")
            for burn in state.book.all()
            if burn.lit and channel.station in (None, burn.station)
        ]

    def cool(self, burn: Burn) -> Iterable[Burn]:
        """After out: the burn, when the wall has fallen and it is out indeed."""
        after = self._with_wall(burn)
        if after is not burn:
            self._state.book.put(after)
            yield after

    def _with_wall(self, burn: Burn) -> Burn:
        watched = self._state.places.is_watched(burn.station)
        return burn.with_wall(self._state.places.hottest_c(burn.station), watched=watched)

    def ask(self, burn: Burn, now_s: float) -> Iterable[Burn | BurnEvent]:
        """The question who watches, once each time it is due.

        It is put for other candles of the same person at once, so that it is one line.
        """
        state = self._state
        asked = self._is_due(burn, now_s) or (
            self._is_due(burn, now_s, ASK_ALONG)
            and any(
                other.watched_by == burn.watched_by
                and (self._is_due(other, now_s) or (other.lit and other.asked_s == now_s))
                for other in state.book.all()
            )
        )
        if asked:
            burn = state.book.put(replace(burn, asked_s=now_s))
            text = (
                f"{burn.station}: who has it in sight? Look, then answer on the page or with "
                "`wickbench burn in-sight STATION`"
            )
            yield burn
            yield state.book.write_event(
                burn, BurnEventKind.WHO_WATCHES, text, now_s=now_s, since_s=now_s
            )

    def _is_due(self, burn: Burn, now_s: float, share: float = 1.0) -> bool:
        """Whether this `share` of the time from question to question has gone unasked."""
        every_s, since_s = self._state.bench.ask_every_s, burn.before_eyes_s
        if every_s is None or not burn.lit or now_s - since_s < share * every_s:
            return False
        return burn.asked_s is None or burn.asked_s < since_s

    def tell_sides(self, now_s: float, alarms: Mapping[str, Alarm]) -> Iterable[Burn | BurnEvent]:
        """That the sides of a vessel differ, once a burn."""
        state = self._state
        for burn in state.book.all():
            if burn.sides_told_s is None and (found := state.sensors.sides(burn, now_s, alarms)):
                told = state.book.put(replace(burn, sides_told_s=now_s))
                yield told
                yield state.book.write_event(
                    told, BurnEventKind.SIDES_DIFFER, found.text, now_s=now_s, since_s=found.since_s
                )
