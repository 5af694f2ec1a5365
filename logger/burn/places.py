"""What is known of every place now: running estimates, their course, and what people read."""

from collections.abc import Iterable, Iterator
from dataclasses import replace
from functools import partial

from logger.burn.entries import Calibrated, ManualReading
from logger.burn.trace import Trace
from logger.conditioning import infrared, manual
from logger.conditioning.conditioner import Conditioner
from logger.quantities import Channel, Estimate, Position, Quality, Quantity, Reading


class Places:
    """The channels of a bench in order of configuration, and the places that people read."""

    def __init__(self, channels: Iterable[Channel], calibrations: Iterable[Calibrated]) -> None:
        self.channels = {channel.name: channel for channel in channels}
        known = tuple(calibrations)
        self._conditioners = {
            name: Conditioner(
                channel, calibrations=(one.record for one in known if one.channel == name)
            )
            for name, channel in self.channels.items()
        }
        rooms = [
            channel
            for channel in self.channels.values()
            if channel.place.position is Position.ROOM and channel.quantity is Quantity.TEMPERATURE
        ]
        self._rooms = {  # by station: its own before one of the whole bench
            station: [
                *(room.name for room in rooms if room.station == station),
                *(room.name for room in rooms if room.station is None),
            ]
            for station in {channel.station for channel in self.channels.values()} - {None}
        }
        self._seen_by_instruments: dict[str, list[str]] = {}  # places on vessels, by station
        for channel in self.channels.values():
            if channel.on_vessel and channel.station is not None:
                self._seen_by_instruments.setdefault(channel.station, []).append(channel.name)
        self._latest: dict[str, tuple[Channel, Estimate]] = {}  # places read by hand too
        self._on_vessel: dict[str, list[str]] = {}  # those of them on vessels, by station
        self._hottest_c: dict[str, float | None] = {}  # by station, until the next estimate there
        self._read: dict[str, Channel] = {}  # places that people ever read, withdrawn ones too
        self._traces: dict[str, Trace] = {}  # of the places on vessels

    def channel(self, name: str) -> Channel:
        """The channel of any estimate that was ever given out."""
        return self.channels.get(name) or self._read[name]

    @property
    def by_hand(self) -> tuple[Channel, ...]:
        """The channels that a person's readings made up."""
        known = (channel for channel, _ in self._latest.values())
        return tuple(channel for channel in known if channel.by_hand)

    @property
    def estimates(self) -> tuple[Estimate, ...]:
        """The latest of every channel that was ever heard."""
        return tuple(estimate for _, estimate in self._latest.values())

    # what instruments send

    def add(self, reading: Reading) -> None:
        """Take a reading of a channel of this bench."""
        channel = self.channels[reading.channel]
        self._conditioners[reading.channel].add(
            reading,
            reflected_c=self._reflected_c(channel, reading.at_s),
            room_c=partial(self._room_c, channel, reading.at_s),
        )

    def latest_reading(self, name: str) -> tuple[float, bool] | None:
        """The channel's latest reading, corrected (NaN: it cannot be), and whether it was used."""
        return self._conditioners[name].latest

    def begin_afresh(self, name: str) -> None:
        """Forget what a channel was: it was heard, and its state is in doubt."""
        self._conditioners[name] = self._conditioners[name].begun_afresh()
        self._traces.pop(name, None)

    def calibrate(self, entry: Calibrated) -> None:
        """Correct a channel anew from now on; the place itself has neither risen nor fallen."""
        self._conditioners[entry.channel].calibrate(entry.record, entry.entered_s)
        self._traces.pop(entry.channel, None)

    def estimate(self, name: str, now_s: float) -> Estimate:
        """The channel at `now_s`; lost where it is silent, since nothing is known of now."""
        estimate = self._conditioners[name].estimate(now_s)
        if self.is_silent(name, now_s):
            estimate = replace(estimate, quality=Quality.LOST)
        self._set(self.channels[name], estimate)
        return estimate

    def _set(self, channel: Channel, estimate: Estimate) -> None:
        if channel.name not in self._latest and channel.on_vessel and channel.station is not None:
            self._on_vessel.setdefault(channel.station, []).append(channel.name)
        self._latest[channel.name] = channel, estimate
        self._hottest_c.pop(channel.station or "", None)

    def heard(self) -> Iterator[tuple[Channel, Conditioner]]:
        """The channels that ever said something."""
        for name, conditioner in self._conditioners.items():
            if conditioner.last_s is not None:
                yield self.channels[name], conditioner

    def silences(self) -> dict[str, tuple[float | None, float]]:
        """When each channel was heard last, and how long it may say nothing."""
        return {name: (one.last_s, one.allowed_s) for name, one in self._conditioners.items()}

    def is_silent(self, name: str, now_s: float) -> bool:
        """Whether the channel has said nothing for longer than it may."""
        return self._conditioners[name].is_silent(now_s)

    def _reflected_c(self, channel: Channel, now_s: float) -> float | None:
        """Temperature that an infrared channel's surface reflects; None where it is not known."""
        if not isinstance(channel.reflected, str):
            return channel.reflected
        value_c = self._conditioners[channel.reflected].value(now_s)
        return value_c if value_c is not None and infrared.is_on_scale(value_c) else None

    def doubts_reflected_alone(self, name: str, now_s: float) -> bool:
        """Whether a channel is doubtful only for what its surface reflects."""
        conditioner = self._conditioners.get(name)
        return conditioner is not None and conditioner.doubts_reflected_alone(now_s)

    def _room_c(self, channel: Channel, now_s: float) -> float | None:
        """Temperature of the room around a place on a vessel, where it is well known."""
        if not channel.on_vessel or channel.quantity is not Quantity.TEMPERATURE:
            return None
        for name in self._rooms.get(channel.station, ()):
            if not self.is_silent(name, now_s):
                value_c = self._conditioners[name].value(now_s)
                if value_c is not None:
                    return value_c
        return None

    # what people read

    def latest(self, name: str) -> Estimate:
        """The latest estimate of a channel that was heard or read."""
        return self._latest[name][1]

    def set_by_hand(self, entry: ManualReading) -> Estimate:
        """From now on the place is what `entry` says."""
        estimate = estimate_by_hand(entry)
        self._set(entry.channel, estimate)
        self._read[entry.channel.name] = entry.channel
        return estimate

    def forget(self, name: str) -> None:
        """Drop a place whose only reading was moved away."""
        self._hottest_c.clear()
        if self._latest.pop(name, None) is not None:
            for seen in self._on_vessel.values():
                seen[:] = [one for one in seen if one != name]

    # stations

    def around(self, station: str) -> tuple[tuple[Channel, Estimate], ...]:
        """The places at `station` and of the whole bench that were ever heard or read."""
        return tuple(
            (channel, estimate)
            for channel, estimate in self._latest.values()
            if channel.station in (None, station)
        )

    def on_vessel(self, station: str) -> tuple[tuple[Channel, Estimate], ...]:
        """The places on the vessel at `station` that were ever heard or read."""
        return tuple([self._latest[name] for name in self._on_vessel.get(station, ())])

    def is_watched(self, station: str) -> bool:
        """Whether any instrument looks at the vessel at `station`."""
        return station in self._seen_by_instruments

    def hottest_c(self, station: str) -> float | None:
        """The hottest place that an instrument sees now."""
        if station not in self._hottest_c:
            self._hottest_c[station] = self._find_hottest_c(station)
        return self._hottest_c[station]

    def _find_hottest_c(self, station: str) -> float | None:
        now = [
            estimate.value
            for channel, estimate in self.on_vessel(station)
            if estimate.value is not None
            and estimate.quality is not Quality.LOST
            and not channel.by_hand
        ]
        return max(now, default=None)

    def trace(self, channel: Channel, estimate: Estimate) -> Trace | None:
        """The course of a place on a vessel with its newest estimate; None where it has none."""
        if not channel.on_vessel or estimate.value is None or estimate.quality is Quality.LOST:
            return None
        trace = self._traces.setdefault(channel.name, Trace())
        trace.add(estimate.at_s, estimate.value)
        return trace

    def falls(self, name: str) -> bool:
        """Whether the place falls, as after a candle is out."""
        trace = self._traces.get(name)
        return trace is not None and trace.out_since is not None

    def traces(self, station: str) -> list[Trace]:
        """The courses of all places that instruments see on the vessel at `station`."""
        seen = self._seen_by_instruments.get(station, ())
        return [self._traces[name] for name in seen if name in self._traces]


def estimate_by_hand(entry: ManualReading) -> Estimate:
    """What a reading by hand says of its place."""
    return manual.estimate(entry.channel, entry.values, entry.at_s, entry.reflected_c)


def no_estimate(channel: Channel, now_s: float) -> Estimate:
    """Of a place that was never read."""
    return Estimate(
        channel=channel.name,
        at_s=now_s,
        value=None,
        standard_uncertainty=None,
        repeatability=None,
        used=0,
        rejected=0,
        quality=Quality.LOST,
    )
