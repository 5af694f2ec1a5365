"""One channel from its raw readings to its estimate: corrected, averaged, with its uncertainty."""

import math
from collections.abc import Callable, Iterable, Sequence

from logger.conditioning.averaging import Running, RunningEstimate
from logger.conditioning.calibration import Calibration, Correction, in_force
from logger.conditioning.correction import corrected
from logger.conditioning.motion import MOTIONS
from logger.conditioning.uncertainty import (
    Budget,
    Component,
    assumes_accuracy,
    moves,
    moving_components,
    steady_components,
)
from logger.errors import DataError
from logger.quantities import Channel, Estimate, Quality, Reading

BELOW_ROOM_K = 10.0  # nothing of a burning candle is so much colder than its room (our choice)
WARMEST_ROOM_C = 35.0  # a room probe that lies on a vessel must not blind the others (our choice)
SILENT_DEFAULT_S = 15.0  # the default that README states, with three of its own intervals


class Conditioner:
    """Folds a channel's readings; its estimate of any later moment is a pure question."""

    def __init__(self, channel: Channel, *, calibrations: Iterable[Calibration] = ()) -> None:
        self._channel = channel
        self._calibrations = [*calibrations]  # in the order of their entry
        self._put_in_force(None)
        self._running = RunningEstimate(
            window_s=channel.averaging.window_s,
            resolution=channel.resolution,
            motion=MOTIONS[channel.quantity],
        )
        self._reflects = channel.reflects
        self._note_reflected(None)
        self.last_s: float | None = None
        """Stamp of the latest reading."""
        self.allowed_s = channel.silent_after_s or SILENT_DEFAULT_S
        """How long the channel may say nothing."""
        self._running_now: Running | None = None  # until the next reading; so the next
        self._latest: Estimate | None = None  # of the moment it was for

    def begun_afresh(self) -> "Conditioner":
        """The same channel, of which nothing is known but when it was heard last."""
        fresh = Conditioner(self._channel, calibrations=self._calibrations)
        if self._running.last_s is not None:
            fresh._running.refuse(self._running.last_s)
            fresh._heard()
        return fresh

    @property
    def latest(self) -> tuple[float, bool] | None:
        """The latest reading, corrected (NaN where it cannot be), and whether it was used."""
        return self._running.latest

    @property
    def jumped_s(self) -> float | None:
        """When the estimate last started afresh because the readings had jumped."""
        return self._running.jumped_s

    @property
    def burst_s(self) -> float:
        """How long flame hits may go on before a moved sensor is likelier, as seen of late."""
        return self._running.burst_s

    @property
    def interval_s(self) -> float | None:
        """Usual interval between readings: the median of the latest ones."""
        return self._running.interval_s

    def is_silent(self, now_s: float) -> bool:
        """Whether it has said nothing for longer than it may."""
        return self.last_s is None or now_s - self.last_s > self.allowed_s

    def _heard(self) -> None:
        """What follows from the latest reading having come."""
        self.last_s = self._running.last_s
        if self._channel.silent_after_s is None:
            self.allowed_s = max(SILENT_DEFAULT_S, 3.0 * (self._running.interval_s or 0.0))

    @property
    def noise(self) -> float:
        """Standard deviation of one reading, as it has shown itself; internal unit."""
        return self._running.noise

    def add(
        self,
        reading: Reading,
        *,
        reflected_c: float | None = None,
        room_c: Callable[[], float | None] = lambda: None,
    ) -> None:
        """Take a reading in; `reflected_c` is what an infrared channel reflects, where known.

        A number that the sensor cannot have sent, or that lies far below the room around a vessel,
        counts as rejected and moves nothing. The room is asked for only where a reading is so low.
        """
        self._running_now = self._latest = None
        self._note_reflected(reflected_c)
        self._correct_as_of(reading.at_s)
        try:
            value = corrected(
                self._channel,
                reading.value,
                reflected_c=self._reflected_c,
                calibration=self._correction,
            )
        except DataError:
            self._running.refuse(reading.at_s)
            self._heard()
            return
        if value < WARMEST_ROOM_C - BELOW_ROOM_K and _is_below(value, room_c()):
            self._running.refuse(reading.at_s)
        else:
            self._running.add(reading.at_s, value, shown=reading.value)
        self._heard()

    def calibrate(self, record: Calibration, now_s: float) -> None:
        """Take a calibration that was entered at `now_s`, where its date makes it count."""
        self._running_now = self._latest = None
        self._calibrations.append(record)
        self._correct_as_of(now_s)

    def estimate(self, now_s: float) -> Estimate:
        """What the channel is at `now_s`; computed once, however many ask of one moment."""
        if self._latest is None or self._latest.at_s != now_s:
            self._latest = self._estimated(now_s)
        return self._latest

    def value(self, now_s: float) -> float | None:
        """What the channel is at `now_s`; None where that is not well known."""
        running = self._at(now_s)
        return running.value if self._quality(running.quality) is Quality.GOOD else None

    def _at(self, now_s: float) -> Running:
        if self._running_now is None or self._running_now.at_s != now_s:
            self._running_now = self._running.at(now_s)
        return self._running_now

    def _estimated(self, now_s: float) -> Estimate:
        running = self._at(now_s)
        total: float | None = None
        if running.value is not None and running.repeatability is not None:
            moving = self._moving(running, running.value)
            total = math.hypot(
                running.repeatability,
                *self._steady,
                *[part.standard_uncertainty for part in moving],
            )
            if not math.isfinite(running.value + total):  # it would be over no limit
                raise ArithmeticError(f"{self._channel.name} came out as {running.value}")
        return Estimate(
            channel=self._channel.name,
            at_s=now_s,
            value=running.value,
            standard_uncertainty=total,
            repeatability=running.repeatability,
            used=running.used,
            rejected=running.rejected,
            quality=self._quality(running.quality),
            accuracy_assumed=self._assumes_accuracy,
        )

    def doubts_reflected_alone(self, now_s: float) -> bool:
        """Whether it would be good, were it known what its surface reflects."""
        running = self._at(now_s)
        return self._assumes_reflected and running.quality is Quality.GOOD

    def _note_reflected(self, reflected_c: float | None) -> None:
        """What is reflected; assumed where the channel that tells it is not to be believed now."""
        self._reflected_c = reflected_c
        self._assumes_reflected = reflected_c is None and isinstance(self._channel.reflected, str)

    def budget(self, now_s: float) -> Budget | None:
        """What the uncertainty at `now_s` is made of; None while there is not a reading."""
        running = self._at(now_s)
        if running.value is None or running.repeatability is None:
            return None
        repeatability = Component(
            name="repeatability",
            standard_uncertainty=running.repeatability,
            systematic=False,
            basis=lambda words: (
                f"{running.used} readings in the window, noise "
                f"{words.step(self._running.noise, self._channel.quantity)}"
            ),
        )
        steady = steady_components(self._channel, self._calibration)
        moving = self._moving(running, running.value)
        return Budget(components=(repeatability, *steady, *moving))

    def _moving(self, running: Running, value: float) -> Sequence[Component]:
        if not self._moves:
            return ()
        return moving_components(
            self._channel,
            value=value,
            slope=running.slope,
            walk=self._running.walk,
            reflected_c=self._reflected_c,
            calibration=self._calibration,
        )

    def _correct_as_of(self, at_s: float) -> None:
        """Calibrations count from their date on; what is estimated moves over to a new one."""
        if not self._calibrations:
            return
        before, after = self._correction, in_force(self._calibrations, at_s)
        if after is self._calibration:
            return
        self._put_in_force(after)
        now = self._running.at(at_s).value
        if now is not None:
            self._running.shift(self._correction.applied(before.undone(now)) - now)

    def _put_in_force(self, calibration: Calibration | None) -> None:
        """`calibration` takes the place of the offset; what follows from it is found here, once."""
        channel = self._channel
        self._calibration = calibration
        self._correction = (
            Correction(offset=channel.calibration_offset)
            if calibration is None
            else calibration.correction
        )
        self._assumes_accuracy = assumes_accuracy(channel, calibration)
        self._moves = moves(channel, calibration)
        self._steady = [
            part.standard_uncertainty for part in steady_components(channel, calibration)
        ]

    def _quality(self, quality: Quality) -> Quality:
        unsure = self._assumes_reflected or self._reflects
        return Quality.DOUBTFUL if unsure and quality is Quality.GOOD else quality


def _is_below(value: float, room_c: float | None) -> bool:
    return room_c is not None and value < min(room_c, WARMEST_ROOM_C) - BELOW_ROOM_K
