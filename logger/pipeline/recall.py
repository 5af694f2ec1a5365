"""What was before a restart, from the start or when the disk gives it later."""

from collections.abc import Iterable

from logger.alarms import sensor_faults
from logger.alarms.lifecycle import Alarm
from logger.alarms.scope import Scope
from logger.burn.ledger import Ledger
from logger.burn.limits import Station
from logger.burn.model import BurnEventKind
from logger.pipeline.bench import Memory, Output
from logger.pipeline.fold import due, with_ticks
from logger.pipeline.judging import Judge
from logger.pipeline.state import BenchState
from logger.quantities import Reading


def recall(state: BenchState, judge: Judge, memory: Memory) -> None:
    """Running estimates, traces and prospects as they were when the service stopped."""
    now_s = state.started_s
    for burn in state.book.all():
        with state.guard.over(f"forecast of {burn.station}", now_s, station=burn.station):
            if burn.lit:
                state.prospects.follow(burn, memory.estimates)
    for entry in sorted(state.ledger.readings, key=lambda one: one.at_s):
        with state.guard.over("readings by hand", now_s, station=entry.station):
            state.places.set_by_hand(entry)
    began_s = memory.readings[0].at_s if memory.readings else 0.0
    for item in with_ticks(memory.readings, began_s):
        if isinstance(item, Reading):
            state.add(item)
            continue
        for channel, _ in state.places.heard():
            if due(item.at_s, channel.averaging.every_s):
                estimate = state.estimate(channel, item.at_s)
                if estimate is not None:
                    state.places.trace(channel, estimate)
        if sensor_faults.due(item.at_s):
            judge.sample_sensors(item.at_s)
    state.gone = _find_gone(state, memory.alarms)


def recall_late(state: BenchState, memory: Memory, now_s: float) -> list[Output]:
    """Burns, alarms and calibrations of before; what is known since then stands above them."""
    outputs: list[Output] = []
    for entry in memory.calibrations:
        if entry.channel in state.places.channels:
            state.places.calibrate(entry)
    adopted = state.book.adopt((*memory.earlier, *memory.burns), memory.burn_events, memory.candles)
    for burn in adopted:
        state.stations.setdefault(burn.station, Station(name=burn.station, material=burn.material))
        if burn.lit:
            state.prospects.follow(burn, memory.estimates)
            text = (
                f"{burn.station}: it was recorded lit before this start, which was not known "
                "until the disk answered. Go and look at the candle"
            )
            outputs.append(
                state.book.write_event(
                    burn, BurnEventKind.WATCH_RESUMED, text, now_s=now_s, since_s=burn.lit_s
                )
            )
    outputs += state.book.count_on(memory.last_number)
    state.trials |= set(memory.trials)
    since = state.ledger
    state.ledger = Ledger(memory.entries)
    for line in since.lines:
        state.ledger.put(line)
    for reading in sorted(state.ledger.readings, key=lambda one: one.at_s):
        state.places.set_by_hand(reading)
    state.gone |= _find_gone(state, state.watch.adopt(memory.alarms))
    return [*outputs, *state.statuses(now_s)]


def _find_gone(state: BenchState, alarms: Iterable[Alarm]) -> dict[str, str]:
    """Alarms of before that nothing judges in this configuration, and why."""
    by_hand = {channel.name: channel for channel in state.places.by_hand}
    scope = Scope(
        channels=by_hand | state.places.channels,
        stations=frozenset(state.stations),
        delivery_routes=state.bench.delivery_routes,
    )
    reasons = {alarm.key: scope.why_gone(alarm.finding) for alarm in alarms if alarm.active}
    return {key: reason for key, reason in reasons.items() if reason is not None}
