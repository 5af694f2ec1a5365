"""Named benches: a candle, what looks at it, and how it is wired."""

from collections.abc import Callable
from dataclasses import dataclass

from simulators.candle import Candle
from simulators.jar import WICKS, Wick
from simulators.room import Room, Window
from simulators.sensors import ContactProbe, InfraredSensor, SimulatedReading

FOUR_HOURS_S = 4 * 3600.0
"""The usual test burn (common practice)."""

_SPOT_HEIGHT_MM, _SPOT_CLOCK = 65.0, 6
_SPOT_HITS = 0.12  # share of readings that catch the flame: a spot badly aimed, not a useless one


@dataclass(frozen=True, slots=True, kw_only=True)
class SimulatedChannel:
    """One column of the line: what is measured, where, and what one must know to read it."""

    name: str
    position: str  # wall, base, rim, room
    station: str | None = None  # None: serves the whole bench
    quantity: str = "temperature"
    height_mm: float | None = None
    clock: int | None = None
    unit: str = "degC"
    emissivity: float | None = None  # infrared only: of the surface
    emissivity_set: float | None = None  # infrared only: what the instrument assumes
    reflected: str | None = None  # infrared only: channel that gives what is mirrored
    resolution: float = 0.1  # step of the display, in `unit`


class Scenario:
    """One station under way: step it, light it, read it.

    Everything follows from the seed; `sample` gives what the instrument would print.
    """

    def __init__(
        self,
        name: str,
        *,
        candle: Candle,
        burn_s: float = FOUR_HOURS_S,
        station: str = "jar-a",
        instrument: str = "probes-a",
        seed: int = 0,
    ) -> None:
        self.name = name
        self.candle = candle
        self.burn_s = burn_s  # how long this burn is meant to last
        self.station = station
        self.instrument = instrument
        self.last_samples: tuple[SimulatedReading, ...] = ()
        self._since_sample_s = 0.0
        walls = ((25.0, 3), (45.0, 3), (45.0, 9), (65.0, 3), (65.0, 9), (85.0, 3))
        channels = [
            SimulatedChannel(
                name=f"{station}-wall-{height_mm:.0f}-{clock}",
                station=station,
                position="wall",
                height_mm=height_mm,
                clock=clock,
            )
            for height_mm, clock in walls
        ]
        channels.append(SimulatedChannel(name=f"{station}-base", station=station, position="base"))
        channels.append(SimulatedChannel(name="room", position="room"))
        seeds = iter(range(1000 * seed + 1, 1000 * seed + 1000))
        # Offsets of a bench whose probes were compared and corrected to 0.1 K (common practice).
        self._probes = [
            ContactProbe(offset_k=0.1 * ((index % 3) - 1), seed=next(seeds), dropout_share=0.002)
            for index, _ in enumerate(channels)
        ]
        self._spot = InfraredSensor(hit_share=_SPOT_HITS, seed=next(seeds), dropout_share=0.002)
        spot = SimulatedChannel(
            name=f"{station}-spot-{_SPOT_HEIGHT_MM:.0f}-{_SPOT_CLOCK}",
            station=station,
            position="wall",
            height_mm=_SPOT_HEIGHT_MM,
            clock=_SPOT_CLOCK,
            emissivity=self._spot.emissivity,
            emissivity_set=self._spot.emissivity_set,
            reflected="room",
        )
        self._contact = tuple(channels)
        self.channels: tuple[SimulatedChannel, ...] = (*channels, spot)

    @property
    def lit(self) -> bool:
        """Whether it burns."""
        return self.candle.lit

    @property
    def elapsed_s(self) -> float:
        """Bench time since the start."""
        return self.candle.elapsed_s

    def light(self) -> None:
        """Light the candle."""
        self.candle.light()

    def extinguish(self) -> None:
        """Put it out."""
        self.candle.extinguish()

    def advance(self, dt_s: float) -> None:
        """Let `dt_s` seconds pass."""
        self.candle.step(dt_s)
        self._since_sample_s += dt_s

    def true_c(self, channel: SimulatedChannel) -> float:
        """What the place of a channel really is now, degC."""
        candle = self.candle
        if channel.position == "wall":
            if channel.height_mm is None or channel.clock is None:
                raise ValueError(f"{channel.name}: a wall place has a height and a clock position")
            return candle.wall_c(channel.height_mm, channel.clock)
        return {"base": candle.base_c, "rim": candle.rim_c, "room": candle.room_c}[channel.position]

    def sample(self) -> list[float | None]:
        """One line: a value a channel in their order, None where a reading was lost.

        `last_samples` then holds each with its truth.
        """
        dt_s, self._since_sample_s = self._since_sample_s, 0.0
        values: list[float | None] = []
        samples: list[SimulatedReading | None] = []
        for channel, probe in zip(self._contact, self._probes, strict=True):
            values.append(probe.sample(self.true_c(channel), dt_s))
            samples.append(probe.last)
        spot_c = self.true_c(self.channels[-1])
        values.append(self._spot.sample(spot_c, self.candle.room_c, lit=self.candle.lit))
        samples.append(self._spot.last)
        self.last_samples = tuple(sample for sample in samples if sample is not None)
        return values


def first_light(seed: int = 0) -> Scenario:
    """A wick slightly too hot and off the axis: over the alert, late and briefly over the limit."""
    wick = Wick(burn_g_per_h=6.6, offset_mm=7.0, toward_clock=3)
    room = Room(start_c=23.3, warming_k_per_h=0.5)
    return Scenario("first-light", candle=Candle(wick, room, seed=seed), seed=seed)


def passing(seed: int = 0) -> Scenario:
    """A wick that suits the vessel: no place comes near the limit."""
    candle = Candle(WICKS["wick-5"], Room(start_c=22.5), seed=seed)
    return Scenario("passing", candle=candle, seed=seed)


def aired_room(seed: int = 0) -> Scenario:
    """The suitable wick, and a window opened half-way for three quarters of an hour."""
    window = Window(opens_s=0.5 * FOUR_HOURS_S, closes_s=0.5 * FOUR_HOURS_S + 2700.0)
    candle = Candle(WICKS["wick-5"], Room(start_c=22.5, window=window), seed=seed)
    return Scenario("aired-room", candle=candle, seed=seed)


SCENARIOS: dict[str, Callable[[int], Scenario]] = {
    "first-light": first_light,
    "passing": passing,
    "aired-room": aired_room,
}
"""By name; each takes a seed."""
