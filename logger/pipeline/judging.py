"""The findings on channels, burns, stations and silences: what there is to warn of."""

from collections.abc import Iterable
from dataclasses import replace

from logger.alarms import burn_rules, foresight, links, unlit, wall
from logger.alarms.lifecycle import AlarmEvent, Finding, Signal
from logger.burn.coming_up import coming_up
from logger.burn.model import Burn
from logger.burn.status import OLD_BY_HAND_S
from logger.pipeline.state import BenchState
from logger.quantities import Channel, Estimate, Position, Quality, Quantity, Rule

TOGETHER_S = 5.0  # sooner a channel is silent where another of its instrument is (our choice)


class Judge:
    """Applies the rules of `logger.alarms` to the state of a bench."""

    def __init__(self, state: BenchState) -> None:
        self._state = state

    def wall(self, channel: Channel, estimate: Estimate) -> tuple[Finding, ...]:
        """Of a place on a vessel against the limits of its material; nothing of another channel."""
        state = self._state
        if not channel.on_vessel or channel.station is None:
            return ()
        burn, station = state.book.of(channel.station), state.stations.get(channel.station)
        if station is None:  # read by hand there before it left the configuration
            return ()
        limits = state.bench.limits.of(burn.material if burn else station.material)
        raised = state.watch.raised
        if not (
            (Rule.WALL_ALERT, channel.name) in raised
            or (Rule.WALL_LIMIT, channel.name) in raised
            or wall.may_be_over(estimate, limits)
        ):
            return ()
        unsure = estimate.quality is Quality.DOUBTFUL and state.places.doubts_reflected_alone(
            channel.name, estimate.at_s
        )
        words = state.bench.words
        with state.guard.over(channel.name, estimate.at_s, channel=channel):
            out = burn is not None and not burn.lit
            looked_at = out or state.watch.waits(f"{Rule.WALL_LIMIT}/{channel.name}")
            falls = looked_at and state.places.falls(channel.name)
            findings = wall.wall(
                channel, estimate, limits, words, falls=falls, unsure_of_reflected=unsure
            )
            if not (out and falls):
                return findings
            return tuple(replace(finding, repeats=False) for finding in findings)
        return ()

    def by_hand(self, station: str, now_s: float) -> Iterable[Finding]:
        """Places that a person read, again: their alarms have delays and reminders too."""
        lit = self._state.book.is_lit(station)
        for channel, estimate in self._state.places.on_vessel(station):
            if channel.by_hand and (lit or self._is_past(station, estimate, now_s)):
                yield from self.place_by_hand(channel, estimate, now_s)

    def place_by_hand(
        self, channel: Channel, estimate: Estimate, now_s: float
    ) -> tuple[Finding, ...]:
        """Of a place as a person read it last.

        A reading of an earlier burn, or of a candle long out, says nothing of now. It raises
        nothing, its alarm ends, and the next reading over the limit raises one of its own.
        """
        found = self.wall(channel, estimate)
        if channel.station is None or not self._is_past(channel.station, estimate, now_s):
            return found
        return tuple(replace(one, signal=Signal.OFF) for one in found)

    def _is_past(self, station: str, estimate: Estimate, now_s: float) -> bool:
        burn = self._state.book.of(station)
        if burn is not None and burn.lit:  # shortly before, the candle may have burned already
            return estimate.at_s < burn.lit_s - OLD_BY_HAND_S
        out_s = (burn.out_s or burn.lit_s) if burn is not None else 0.0
        return now_s - max(estimate.at_s, out_s) >= self._state.bench.limits.cool_down_s

    def course(self, channel: Channel, estimate: Estimate) -> Iterable[Finding]:
        """Rules that look at more than this moment, at each publication."""
        state = self._state
        if channel.place.position is Position.ROOM and channel.quantity is Quantity.TEMPERATURE:
            lit = state.book.is_lit(channel.station)
            yield links.room(channel, estimate, state.bench.limits, state.bench.words, lit=lit)
        trace = state.places.trace(channel, estimate)
        burn = state.book.of(channel.station)
        if trace is not None and burn is not None:
            yield wall.rise_rate(channel, burn, trace, estimate, state.bench.words)

    def burn(self, burn: Burn, now_s: float) -> list[Finding]:
        """Of a burn, lit or out."""
        found: list[Finding] = []
        with self._state.guard.over(burn.station, now_s, station=burn.station):
            found.extend(self._find_of_burn(burn, now_s))  # what it finds before it fails stands
        return found

    def _find_of_burn(self, burn: Burn, now_s: float) -> Iterable[Finding]:
        state = self._state
        bench, station = state.bench, burn.station
        hottest_c = state.places.hottest_c(station)
        yield from burn_rules.burn_length(burn, bench.limits, now_s, hottest_c=hottest_c)
        yield burn_rules.emergency(burn)
        yield burn_rules.unchecked(burn)
        yield burn_rules.relit_too_soon(burn, bench.limits)
        marks_s = bench.marks.of(burn.circumstances.regime)
        yield burn_rules.mark(
            burn,
            marks_s,
            now_s,
            lambda: coming_up(
                state.book.by_station.values(), bench.marks, bench.limits, now_s, but=station
            ),
        )
        if bench.ask_every_s is not None:
            yield burn_rules.unwatched(burn, bench.ask_every_s, now_s)
        yield wall.flame_out(burn, state.places.traces(station))
        for channel, forecast in state.prospects.latest(burn) if burn.lit else ():
            yield foresight.wall_forecast(channel, forecast, bench.words)
        yield wall.still_hot(burn, hottest_c, now_s, bench.words)
        traces = state.places.traces(station)
        yield unlit.hotter_after_out(burn, traces, hottest_c, now_s, bench.words)
        if not state.places.is_watched(station):
            by_hand_s = [estimate.at_s for _, estimate in state.places.on_vessel(station)]
            yield burn_rules.overdue_by_hand(burn, max([burn.lit_s, *by_hand_s]), now_s)

    def unlit(self, station: str) -> Finding:
        """Of a vessel that warms though no candle is recorded lit in it."""
        state = self._state
        return unlit.warming_unlit(
            station,
            state.book.of(station),
            state.places.traces(station),
            state.places.hottest_c(station),
            state.bench.words,
        )

    def silences(self, now_s: float) -> Iterable[Finding]:
        """Of every channel; those of an instrument that is gone fall silent together."""
        state = self._state
        channels, known = state.places.channels, state.places.silences()
        # One that was never heard counts from the start.
        age_s = {
            name: now_s - max(state.started_s, last_s or state.started_s)
            for name, (last_s, _) in known.items()
        }
        late = {
            channels[name].instrument
            for name, (last_s, allowed_s) in known.items()
            if last_s is not None and age_s[name] > allowed_s
        }
        for name, (last_s, allowed_s) in known.items():
            # By the readings alone: a replay knows of no links, and must say the same.
            soon_s = allowed_s - min(TOGETHER_S, allowed_s / 3.0)
            if age_s[name] <= soon_s and (Rule.SILENT, name) not in state.watch.raised:
                continue
            channel = channels[name]
            link = state.links.get(channel.instrument)
            yield links.silent(
                channel,
                age_s=age_s[name],
                allowed_s=allowed_s,
                heard=(last_s or 0.0) >= state.started_s,
                lit=state.book.is_lit(channel.station),
                reason=link.reason if link is not None and not link.ok else None,
                lost=channel.instrument in late and age_s[name] > soon_s,
            )

    def sample_sensors(self, now_s: float) -> None:
        """Give the check of the sensors what every channel says now."""
        state = self._state
        for channel, conditioner in state.places.heard():
            estimate = state.estimate(channel, now_s)
            if estimate is None:
                continue
            state.sensors.sample(
                estimate,
                interval_s=conditioner.interval_s,
                jumped_s=conditioner.jumped_s,
                burst_s=conditioner.burst_s,
                silent=state.places.is_silent(channel.name, now_s),
            )
        state.sensors.settle()

    def end_forecasts(self, now_s: float) -> list[AlarmEvent]:
        """A prediction ends with its burn, whether or not it was still made."""
        state = self._state
        ended = {
            alarm.key: f"{alarm.finding.station}: the burn that this was about has ended"
            for alarm in state.watch.alarms
            if alarm.finding.rule == Rule.WALL_FORECAST and alarm.stands
            if not state.book.is_lit(alarm.finding.station)
            or alarm.burn != state.book.id_of(alarm.finding.station)
        }
        return state.watch.close(ended, now_s)
