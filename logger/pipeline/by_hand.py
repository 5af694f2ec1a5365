"""Places that a person reads: estimates, alarms and burns by their readings."""

from collections.abc import Iterable

from logger.burn import refold
from logger.burn.entries import ManualReading
from logger.burn.model import Burn
from logger.burn.places import estimate_by_hand, no_estimate
from logger.errors import DataError, Refused
from logger.pipeline.bench import Output
from logger.pipeline.judging import Judge
from logger.pipeline.state import BenchState
from logger.quantities import Channel


class ByHand:
    """Takes readings by hand, and renews what hangs on them."""

    def __init__(self, state: BenchState, judge: Judge) -> None:
        self._state = state
        self._judge = judge

    def read(self, entry: ManualReading) -> list[Output]:
        """A place as a person read it. Raises Refused."""
        self.check(entry)
        self._state.ledger.take(entry, None)
        outputs = [
            *self.renew_place(entry.channel, entry.entered_s),
            *self.renew_burns(entry),
        ]
        if self._state.ledger.latest(entry.channel.name) is entry:
            return outputs
        return [estimate_by_hand(entry), *outputs]  # typed late: it is stored, and not what is now

    def check(self, entry: ManualReading) -> None:
        """Raises Refused, before anything is changed, where no surface could be so."""
        self._state.station(entry.station)
        try:
            estimate_by_hand(entry)
        except DataError as exc:
            raise Refused(str(exc)) from None

    def renew_place(self, channel: Channel, now_s: float) -> list[Output]:
        """A place by its readings, after one was read, changed or taken back."""
        state = self._state
        latest = state.ledger.latest(channel.name)
        if latest is None:
            state.places.forget(channel.name)
            return [no_estimate(channel, now_s)]
        estimate = state.places.set_by_hand(latest)
        findings = self._judge.place_by_hand(channel, estimate, now_s)
        return [estimate, *state.alarm(findings, now_s)]

    def renew_burns(self, *readings: ManualReading) -> Iterable[Burn]:
        """The burns that these readings are of, or were, where that changes them."""
        state = self._state
        at = (state.book.at(one.station, one.at_s) for one in readings)
        for burn in {burn.id: burn for burn in at if burn is not None}.values():
            cool_down_s = state.bench.limits.cool_down_s
            after = refold.with_readings(burn, self.readings_of(burn), cool_down_s)
            if after != burn:
                yield state.book.put(after)

    def readings_of(self, burn: Burn) -> list[ManualReading]:
        """Those that count of this burn, by their time."""
        return [
            one
            for one in self._state.ledger.readings
            if (at := self._state.book.at(one.station, one.at_s)) is not None and at.id == burn.id
        ]
