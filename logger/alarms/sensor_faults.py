"""`sensor-fault`, and the finding that the sides of a vessel differ.

A sensor that sends, and sends nonsense, is worse than a silent one. What is wrong is judged by
`conditioning.faults`; here it meets the burn. An alarm ends only when the readings show that the
fault is over: one that can no longer be seen is held.
"""

from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass, replace
from statistics import median

from logger.alarms.lifecycle import Alarm, AlarmState, Finding, Priority, Signal, key_of
from logger.burn.model import Burn
from logger.burn.safety import DOUBTED_WHILE_HOT, DOUBTED_WHILE_LIT
from logger.conditioning import faults, neighbour_faults, single_faults
from logger.conditioning.fault_context import (
    APART_K,
    FaultKind,
    Scene,
    Seen,
    SensorFault,
    believable,
)
from logger.conditioning.history import SAMPLE_S, History
from logger.quantities import Channel, Estimate, Position, Quantity, Reading, Rule
from logger.words import Words

SIDES_AFTER_S = 2100.0  # lit: by then a sensor that hangs off the wall has been told as such


@dataclass(frozen=True, slots=True, kw_only=True)
class Sides:
    """Two sides of one height that differ while lit."""

    since_s: float
    text: str


def due(now_s: float) -> bool:
    """Whether sensors are looked at on this whole second."""
    return now_s % SAMPLE_S < 1.0


class Sensors:
    """The sensors of a bench; fed every reading, and a sample of each channel when `due`."""

    def __init__(self, channels: Iterable[Channel], words: Words, cool_down_s: float) -> None:
        self._channels = {channel.name: channel for channel in channels}
        self._histories = {name: History() for name in self._channels}
        self._words = words
        self._cool_down_s = cool_down_s
        self._seen: dict[str, Seen] = {}  # those heard now

    def read(self, reading: Reading) -> None:
        """Take a reading as it came."""
        self._histories[reading.channel].read(reading.at_s, reading.value)

    def sample(
        self,
        estimate: Estimate,
        *,
        interval_s: float | None,
        jumped_s: float | None,
        burst_s: float,
        silent: bool,
    ) -> None:
        """Take what a channel is now; what is silent has a rule of its own."""
        name = estimate.channel
        history = self._histories[name]
        self._seen.pop(name, None)
        if silent:
            history.fall_silent(estimate.at_s)
            return
        history.sample(estimate, interval_s=interval_s, jumped_s=jumped_s, burst_s=burst_s)
        value = estimate.value
        if value is None and history.number is not None:  # it never sent anything possible
            value = single_faults.said_c(self._channels[name], history.number)
        if value is not None:
            self._seen[name] = Seen(
                channel=self._channels[name],
                history=history,
                value=value,
                uncertainty=estimate.standard_uncertainty or 0.0,
            )

    def settle(self) -> None:
        """After every channel was sampled: what stood around one whose number came to stand."""
        vessels = self._by_vessel()
        for seen in self._seen.values():
            if seen.history.others_c is None:
                others = _others(seen.channel, vessels)
                if others:
                    seen.history.others_c = median(other.value for other in others)

    def judge(
        self, now_s: float, burns: Mapping[str, Burn], alarms: Mapping[str, Alarm]
    ) -> Iterable[Finding]:
        """What is found of each channel that is heard."""
        trusted = {
            name
            for name, seen in self._seen.items()
            if believable(seen) and not _faulty(seen.channel, alarms)
        }
        vessels = self._by_vessel()
        for name, seen in self._seen.items():
            alarm = alarms.get(key_of(Rule.SENSOR_FAULT, name))
            others = _others(seen.channel, vessels)
            scene = self._scene(seen.channel, now_s, burns, alarm, others)
            believed = [other for other in others if other.channel.name in trusted]
            fault = faults.find(seen, replace(scene, others=believed), self._words)
            if fault is not None:
                yield self._finding(seen.channel, fault, lit=scene.lit, hot=not scene.cold)
            elif alarm is not None and alarm.active:
                told = alarm.finding
                over = told.cause is not None and faults.fault_ended(
                    FaultKind(told.cause), seen, scene, (told.value, told.limit)
                )
                yield replace(
                    told,
                    signal=Signal.OFF if over else Signal.HOLD,
                    priority=_priority(lit=scene.lit),  # what is out need not be told on all night
                )

    def sides(self, burn: Burn, now_s: float, alarms: Mapping[str, Alarm]) -> Sides | None:
        """The two sides that differ most, where they have for minutes and no sensor is to blame."""
        if not burn.lit or now_s - burn.lit_s < SIDES_AFTER_S:
            return None
        well = [
            seen
            for seen in self._seen.values()
            if seen.channel.station == burn.station
            and seen.channel.on_vessel
            and not _faulty(seen.channel, alarms)
        ]
        well = [seen for seen in well if not neighbour_faults.far_above(seen, well)]
        gap_k, upper, lower = max(
            (
                (neighbour_faults.lasting_gap_k(a, b), a, b)
                for a in well
                for b in well
                if neighbour_faults.other_side_below(a, b)
            ),
            key=lambda pair: pair[0],
            default=(0.0, None, None),
        )
        if upper is None or lower is None or gap_k < APART_K:
            return None
        of = self._words.temperature
        gap = self._words.difference(upper.value - lower.value)
        return Sides(
            since_s=upper.history.samples[0].at_s,
            text=f"{burn.station}: {upper.channel.place} reads {of(upper.value)}, "
            f"{lower.channel.place} {of(lower.value)}: "
            f"one side has stayed {gap} hotter. The wick may be off centre: "
            "look at flame and melt pool from the side",
        )

    def _by_vessel(self) -> dict[str, list[Seen]]:
        """The places on vessels that are heard now, by station."""
        found: dict[str, list[Seen]] = {}
        for seen in self._seen.values():
            if seen.channel.on_vessel and seen.channel.station is not None:
                found.setdefault(seen.channel.station, []).append(seen)
        return found

    def _scene(
        self,
        channel: Channel,
        now_s: float,
        burns: Mapping[str, Burn],
        alarm: Alarm | None,
        others: Sequence[Seen],
    ) -> Scene:
        burn = burns.get(channel.station) if channel.station else None
        ours = [burn] if burn else list(burns.values()) if channel.station is None else []
        lit_s = max((now_s - each.lit_s for each in ours if each.lit), default=None)
        warm = any(
            each.may_burn or now_s - (each.out_s or 0.0) < self._cool_down_s for each in ours
        )
        return Scene(
            now_s=now_s,
            lit_s=lit_s,
            cold=not warm,
            new_burn=burn is not None and alarm is not None and alarm.burn != burn.id,
            room_c=self._room_c(channel.station),
            others=others,
        )

    def _room_c(self, station: str | None) -> float | None:
        """The room around a station: its own channel's before one of the whole bench."""
        rooms = [
            (seen.channel.station == station, seen.value)
            for seen in self._seen.values()
            if seen.channel.place.position is Position.ROOM
            and seen.channel.quantity is Quantity.TEMPERATURE
            and seen.channel.station in (None, station)
        ]
        return max(rooms, key=lambda room: room[0])[1] if rooms else None

    def _finding(self, channel: Channel, fault: SensorFault, *, lit: bool, hot: bool) -> Finding:
        where = f"{channel.station}: {channel.place}" if channel.station else str(channel.place)
        if hot and channel.on_vessel:
            act = DOUBTED_WHILE_LIT if lit else DOUBTED_WHILE_HOT
        else:
            first = "Look at the candle, and do" if lit else "Do"
            act = f"{first} not rely on this sensor: {fault.remedy}"
        return Finding(
            rule=Rule.SENSOR_FAULT,
            subject=channel.name,
            station=channel.station,
            channel=channel.name,
            place=str(channel.place),
            signal=Signal.ON,
            priority=_priority(lit=lit),
            value=fault.value,
            limit=fault.expected,
            unit=channel.quantity.unit,
            tell=lambda: f"{where}: {fault.reason}. {act}",
            cause=fault.kind.value,
        )


def _others(channel: Channel, vessels: Mapping[str, list[Seen]]) -> list[Seen]:
    """The other places on the same vessel that are heard now."""
    if not channel.on_vessel or channel.station is None:
        return []
    return [other for other in vessels.get(channel.station, ()) if other.channel is not channel]


def _faulty(channel: Channel, alarms: Mapping[str, Alarm]) -> bool:
    alarm = alarms.get(key_of(Rule.SENSOR_FAULT, channel.name))
    return alarm is not None and alarm.state not in (
        AlarmState.NORMAL,
        AlarmState.RETURNED_UNACKNOWLEDGED,
    )


def _priority(*, lit: bool) -> Priority:
    return Priority.WARNING if lit else Priority.CAUTION
