"""What goes in and out of a bench's pipeline, and what it must be told to begin."""

from collections.abc import Mapping
from dataclasses import dataclass, field

from logger.alarms.lifecycle import Alarm, AlarmEvent
from logger.burn.entries import Calibrated, Entry, ManualReading
from logger.burn.forecast import Forecast
from logger.burn.limits import CriterionValue, Limits, Station
from logger.burn.marks import MarkTimes
from logger.burn.model import Burn, BurnEvent, BurnStatus
from logger.quantities import Channel, Estimate, Health, Reading, Tick
from logger.words import Words

Event = AlarmEvent | BurnEvent

Output = Forecast | Estimate | Event | BurnStatus | Burn | ManualReading
"""`Burn`: it changed; `ManualReading`: it belongs here. Of a channel the last estimate holds."""

FOLD_BACK_S = 600.0  # a running estimate remembers nothing older that matters


@dataclass(frozen=True, slots=True, kw_only=True)
class Bench:
    """What the core must know of a bench: settings in the core's own terms."""

    channels: tuple[Channel, ...]
    stations: tuple[Station, ...]
    limits: Limits
    criteria: tuple[CriterionValue, ...] = ()  # figures that a verdict asks for besides
    words: Words = Words()
    marks: MarkTimes = MarkTimes()  # at which a person looks at the candle
    accuracy_by_hand: float | None = None  # of the thermometer in the hand, as stated
    ask_every_s: float | None = None  # how often a burn asks who watches; None: nobody is there
    # As their health names them; None: not known here. The alias is the key of earlier versions.
    delivery_routes: tuple[str, ...] | None = field(default=None, metadata={"alias": "ways_out"})
    name: str = ""


@dataclass(frozen=True, slots=True, kw_only=True)
class Memory:
    """What a restarted service must be told to go on where it stopped."""

    burns: tuple[Burn, ...] = ()  # the latest of each station
    earlier: tuple[Burn, ...] = ()  # those before, as far as their entries may still be corrected
    alarms: tuple[Alarm, ...] = ()
    readings: tuple[Reading, ...] = ()  # of the last FOLD_BACK_S, in order
    estimates: tuple[Estimate, ...] = ()  # of the burns that are lit, about two a minute
    entries: tuple[tuple[Entry, str | None], ...] = ()  # of these burns, with the burn's id
    trials: tuple[str, ...] = ()  # names of all
    calibrations: tuple[Calibrated, ...] = ()  # all, in the order of their entry
    burn_events: Mapping[str, int] = field(default_factory=dict)  # how many each burn had
    candles: tuple[Burn, ...] = ()  # the latest burn of each that is out, in order of time
    last_number: int | None = None  # of the bench's latest burn, 0: it had none; None: not known
    run: int | None = None  # the present run's number, a part of its events' ids


@dataclass(frozen=True, slots=True, kw_only=True)
class Recalled:
    """What a restarted service should have been told, and a failing disk gave only at `at_s`."""

    at_s: float
    memory: Memory


Input = Reading | Tick | Health | Entry | Recalled
