"""The values every layer passes on: channels, readings, estimates, ticks, health.

Inside the program temperatures are degrees Celsius, masses grams, relative humidity percent;
times are Unix seconds, UTC, whole microseconds. A reading keeps the number that came, in its
channel's own unit; everything after conditioning is in the units above.
"""

import math
from dataclasses import dataclass, field, replace
from enum import StrEnum
from functools import cached_property, lru_cache

from logger.errors import DataError

ZERO_CELSIUS_K = 273.15  # 0 degC in kelvin, exact by definition (SI brochure, 9th ed., 2.3.1)


class Quantity(StrEnum):
    """What a channel measures."""

    TEMPERATURE = "temperature"
    MASS = "mass"
    HUMIDITY = "humidity"

    @property
    def unit(self) -> str:
        """Unit used inside the program and in everything it hands over."""
        return {"temperature": "degC", "mass": "g", "humidity": "percent"}[self.value]


class Quality(StrEnum):
    """How far an estimate may be believed."""

    GOOD = "good"
    DOUBTFUL = "doubtful"
    LOST = "lost"  # nothing to believe: silent, or nothing in the window fits


class Position(StrEnum):
    """Kind of place a channel looks at."""

    WALL = "wall"
    RIM = "rim"
    BASE = "base"
    MELT_POOL = "melt-pool"
    ROOM = "room"
    SUPPORT = "support"


VESSEL_POSITIONS = frozenset({Position.WALL, Position.RIM, Position.BASE})
"""Places on the outside of the vessel: the ones a person may touch and a limit stands for."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Unit:
    """A unit that readings come in: internal value = factor * value + offset."""

    name: str
    factor: float = 1.0
    offset: float = 0.0

    def inside(self, value: float) -> float:
        """`value` of this unit as degC, g or percent; millivolts and ohms stay what they are."""
        return self.factor * value + self.offset

    def outside(self, value: float) -> float:
        """The inverse of `inside`."""
        return (value - self.offset) / self.factor

    @property
    def symbol(self) -> str:
        """As people write it."""
        return _SYMBOLS.get(self.name, self.name)

    @property
    @lru_cache(maxsize=16)  # noqa: B019 - a dozen units, which live as long as the program
    def scale(self) -> "Unit":
        """The same unit for differences and uncertainties, which have no offset."""
        return replace(self, offset=0.0)

    def digits(self, inside: int) -> int:
        """Decimals for about a step of 10**-`inside` in the unit inside."""
        return max(0, inside + round(math.log10(self.factor)))

    def figure(self, value: float, digits: int) -> str:
        """`value`, of the unit inside, as a number; `digits` are those worth showing inside."""
        digits = self.digits(digits)
        return f"{round(self.outside(value), digits) + 0.0:.{digits}f}"  # -0.0 becomes 0.0

    def written(self, value: float, digits: int) -> str:
        """`figure` with the unit behind it."""
        return f"{self.figure(value, digits)} {self.symbol}"


_SYMBOLS = {"degC": "°C", "degF": "°F", "kelvin": "K", "percent": "%"}

DEGC = Unit(name="degC")
DEGF = Unit(name="degF", factor=5 / 9, offset=-160 / 9)  # by the definition of its scale
GRAM = Unit(name="g")
PERCENT = Unit(name="percent")
MILLIMETRE = Unit(name="mm")


@dataclass(frozen=True, kw_only=True)  # without slots: its text is kept
class Place:
    """Where a channel looks: for a wall its height above the outside base and clock position."""

    position: Position
    height_mm: float | None = None
    clock: int | None = None  # 1..12, seen from above, 12 at the mark on the vessel
    shown_in: Unit = field(default=MILLIMETRE, compare=False)  # the maker's unit of heights

    def __str__(self) -> str:
        return self._text

    @cached_property
    def _text(self) -> str:
        words = [self.position.value.replace("-", " ")]
        if self.height_mm is not None:
            words.append(self.shown_in.written(self.height_mm, 0))
        if self.clock is not None:
            words.append(f"{self.clock} o'clock")
        return ", ".join(words)


class Transducer(StrEnum):
    """What turns a voltage or resistance into a temperature; NONE when the instrument did."""

    NONE = "none"
    THERMOCOUPLE_K = "thermocouple-k"
    THERMOCOUPLE_T = "thermocouple-t"
    PT100 = "pt100"
    NTC = "ntc"


class Kind(StrEnum):
    """How an instrument meets the surface, where somebody said so."""

    UNSTATED = "unstated"
    CONTACT = "contact"  # a probe held or taped on: its coupling is part of the uncertainty
    INFRARED = "infrared"


BY_HAND = "by-hand"  # the instrument of manual readings
REFLECTS_BELOW = 0.8  # a fifth or more of what is seen is the room (common practice)
NTC_R25_OHM, NTC_BETA_K = 10_000.0, 3950.0  # the commonest thermistor (common practice)


@dataclass(frozen=True, slots=True, kw_only=True)
class Averaging:
    """How long a value counts without a new reading, and how often its estimate is published."""

    window_s: float = 30.0  # or five of the instrument's own intervals, if they take longer
    every_s: float = 5.0


@dataclass(frozen=True, slots=True, kw_only=True)
class Channel:
    """One quantity at one place, as one instrument delivers it."""

    name: str
    instrument: str
    quantity: Quantity
    place: Place
    station: str | None = None  # None: it serves the whole bench
    unit: Unit = DEGC
    transducer: Transducer = Transducer.NONE
    cold_junction_c: float | None = None  # thermocouple in mV only: where its terminals are
    ntc_r25_ohm: float = NTC_R25_OHM  # thermistor only
    ntc_beta_k: float = NTC_BETA_K
    kind: Kind = Kind.UNSTATED
    coupling: float | None = None  # contact only: half-width in K once compared; None: the default
    lag_s: float = 0.0  # time constant with which the sensor follows its place
    emissivity: float | None = None  # infrared only: of the surface
    emissivity_measured: bool = False  # on a patch of this vessel, not from a table
    emissivity_set: float = 1.0  # what the instrument assumed
    reflected: str | float | None = None  # a channel's name, or degC
    accuracy: float | None = None  # half-width of the maker's limit of error, internal unit
    calibration_offset: float = 0.0  # added to each value, internal unit
    resolution: float | None = None  # step of the instrument's display, internal unit
    silent_after_s: float | None = None  # None: the longer of 15 s and three of its own intervals
    averaging: Averaging = Averaging()

    @property
    def reflects(self) -> bool:
        """Whether no reading may count as good, since the surface reflects so much of the room.

        A tabulated emissivity is then too uncertain; one found on this very vessel will do.
        """
        return (self.emissivity or 1.0) < REFLECTS_BELOW and not self.emissivity_measured

    @property
    def by_hand(self) -> bool:
        """Whether a person reads it now and then, which says nothing of the time between."""
        return self.instrument == BY_HAND

    @property
    def on_vessel(self) -> bool:
        """Whether it looks at the outside of a vessel, where the limit stands."""
        return self.quantity is Quantity.TEMPERATURE and self.place.position in VESSEL_POSITIONS


@dataclass(frozen=True, slots=True, kw_only=True)
class Reading:
    """What came from an instrument, raw."""

    channel: str
    value: float  # in the channel's unit; finite
    at_s: float  # stamped when the last byte of it arrived

    def __post_init__(self) -> None:
        if not math.isfinite(self.value):
            raise DataError(f"{self.channel}: a reading must be a finite number")


@dataclass(frozen=True, slots=True, kw_only=True)
class Estimate:
    """What a channel is at `at_s`: value and uncertainties in the internal unit."""

    channel: str
    at_s: float
    value: float | None  # None when there was never anything to estimate from
    standard_uncertainty: float | None  # all components (GUM 5.1.2)
    repeatability: float | None  # the random part alone
    used: int  # readings in the window that the value rests on
    rejected: int  # readings in the window set aside as flame hits
    quality: Quality
    accuracy_assumed: bool = False  # neither stated nor compared: its kind's usual limit of error

    @property
    def expanded(self) -> float | None:
        """Expanded uncertainty, coverage factor k = 2 (GUM 6.2.1)."""
        return None if self.standard_uncertainty is None else 2.0 * self.standard_uncertainty

    @property
    def upper(self) -> float | None:
        """Value plus expanded uncertainty."""
        expanded = self.expanded
        return None if self.value is None or expanded is None else self.value + expanded

    @property
    def lower(self) -> float | None:
        """Value minus expanded uncertainty."""
        return None if self.value is None or self.expanded is None else self.value - self.expanded


@dataclass(frozen=True, slots=True, kw_only=True)
class Tick:
    """A whole second of bench time has come."""

    at_s: float


class Part(StrEnum):
    """The parts of the bench that can fail by themselves and must say so."""

    INSTRUMENT = "instrument"
    DELIVERY = "delivery"
    STORAGE = "storage"
    CLOCK = "clock"
    FORWARDING = "forwarding"


@dataclass(frozen=True, slots=True, kw_only=True)
class Health:
    """News of an instrument's link, of the way out, or of the disk."""

    part: Part
    name: str  # of the instrument, broker or store
    ok: bool
    reason: str  # what is wrong and what to do, or why it is well again
    at_s: float
    battery_percent: int | None = None  # of an instrument that says so; so the next
    signal_dbm: int | None = None
    reconnects: int = 0  # so far, since the service started
    ahead: bool = False  # it is of what will come unless somebody acts: nothing is lost yet


class Rule(StrEnum):
    """What an alarm is about; `check` is a trial of the alarm program and no alarm."""

    WALL_ALERT = "wall-alert"
    WALL_LIMIT = "wall-limit"
    WALL_FORECAST = "wall-forecast"
    RISE_RATE = "rise-rate"
    FLAME_OUT = "flame-out"
    HOTTER_AFTER_OUT = "hotter-after-out"
    WARMING_UNLIT = "warming-unlit"
    STILL_HOT = "still-hot"
    BURN_ENDING = "burn-ending"
    BURN_TOO_LONG = "burn-too-long"
    RELIT_TOO_SOON = "relit-too-soon"
    UNCHECKED = "unchecked"
    MARK = "mark"
    UNWATCHED = "unwatched"
    SILENT = "silent"
    SENSOR_FAULT = "sensor-fault"
    ROOM_OUT_OF_RANGE = "room-out-of-range"
    BATTERY_LOW = "battery-low"
    DELIVERY = "delivery"
    STORAGE = "storage"
    PROGRAM = "program"
    CLOCK = "clock"
    EMERGENCY = "emergency"
    CHECK = "check"


@dataclass(frozen=True, slots=True, kw_only=True)
class Forwarding:
    """How far a time-series engine has what is stored."""

    engine: str  # as alarms name it
    behind_s: float  # age of the oldest point that it does not have; 0: it has all
    waiting: int  # points
    set_aside: int  # points that it refused for themselves
    refused: str  # the latest of those, and why; empty: none
    trouble: str  # why the latest try failed and what to do; empty: it did not


def event_id(burn: str | None, what: str, count: int, run: int | None) -> str:
    """Id of an event: what it is of, and which one.

    `run` is the number of the program's run, so that an id told from memory, whose count was lost
    in a crash, is never used again; a replay has none, and the same ids each time.
    """
    return "/".join([burn or "bench", what, *([] if run is None else [str(run)]), str(count)])
