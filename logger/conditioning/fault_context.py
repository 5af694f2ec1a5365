"""What a fault of a sensor is, and what it is looked for in: a channel and what stands around it.

`single_faults` holds what a channel shows by itself, `neighbour_faults` what it shows among others.
"""

import math
from collections.abc import Sequence
from dataclasses import dataclass
from enum import StrEnum
from statistics import median

from logger.conditioning.history import History
from logger.quantities import Channel, Position, Quantity

PLAUSIBLE_C = (-30.0, 200.0)  # no place of a candle on a table is colder or hotter
APART_K = 3.0  # two sensors as they are sold: 2.2 K for a thermocouple K (ASTM E230) and 2


class FaultKind(StrEnum):
    """What is wrong with it."""

    OUT_OF_RANGE = "out-of-range"
    POWER_ON = "power-on"
    IMPOSSIBLE = "mostly-impossible"
    STUCK = "stuck"
    FELL_OFF = "fell-off"
    KNOCKED = "knocked-aside"
    STEP = "impossible-step"
    DRIFT = "drift"


@dataclass(frozen=True, slots=True, kw_only=True)
class SensorFault:
    """One fault of one sensor: the reason in words, and what to do about it."""

    kind: FaultKind
    reason: str
    remedy: str
    value: float | None = None  # what it says, degC
    expected: float | None = None  # what it would say if it were well, where that is known


@dataclass(frozen=True, slots=True, kw_only=True)
class Seen:
    """A channel at this moment, with its last minutes."""

    channel: Channel
    history: History
    value: float
    uncertainty: float  # standard, all components


@dataclass(frozen=True, slots=True, kw_only=True)
class Scene:
    """What stands around a channel at this moment."""

    now_s: float
    lit_s: float | None = None  # how long its candle, or any, has been lit; None: none is
    cold: bool = False  # neither lit nor cooling, as far as is known
    new_burn: bool = False  # lit anew since the channel's fault was told
    room_c: float | None = None
    others: Sequence[Seen] = ()  # the other places on the vessel that are heard

    @property
    def lit(self) -> bool:
        """Whether a candle is lit."""
        return self.lit_s is not None

    def twins(self, channel: Channel) -> list[Seen]:
        """Those at the same height, on any side."""
        return [other for other in self.others if same_height(other.channel, channel)]

    def around_c(self) -> float | None:
        """The median of the others."""
        return median(other.value for other in self.others) if self.others else None


def believable(seen: Seen) -> bool:
    """Whether others may be judged by it, as far as it shows by itself."""
    celsius = seen.channel.quantity is Quantity.TEMPERATURE
    return not seen.history.ill() and not (celsius and not plausible(seen.value))


def same_height(one: Channel, other: Channel) -> bool:
    """Whether both look at the vessel at one height; a wall place without height has no twin."""
    a, b = one.place, other.place
    known = a.position is not Position.WALL or a.height_mm is not None
    return known and a.position is b.position and a.height_mm == b.height_mm


def plausible(value_c: float) -> bool:
    """Whether a place of a candle can have this temperature."""
    return PLAUSIBLE_C[0] <= value_c <= PLAUSIBLE_C[1]


def limit_k(one: Seen, other: Seen) -> float:
    """How far apart two may be: expanded uncertainty of their difference, k = 2 (GUM 6.2.1)."""
    return max(APART_K, 2.0 * math.hypot(one.uncertainty, other.uncertainty))
