"""[pure] What `wickbench check` says of a channel that may be wrong, and the limits in force."""

from collections.abc import Iterable
from itertools import chain

from logger.burn.limits import Limits
from logger.conditioning.averaging import SETTLED
from logger.quantities import DEGC, DEGF, Channel, Position, Quantity, Transducer
from logger.words import Words, duration

# A room in which somebody works; what a figure is in the other unit lies well within (our choice).
ROOM_C, LIKELY_C = (0.0, 45.0), (10.0, 35.0)


def why_doubtful(channel: Channel, used: int, rejected: int) -> str:
    """Why the estimate of `channel` is doubtful, and what to do; of its counts of readings."""
    if channel.emissivity is not None and channel.reflects:
        return (
            f"emissivity {channel.emissivity:g} is too low to be taken from a table: measure it "
            "on a patch, `wickbench emissivity`"
        )
    if rejected > used:
        return f"{rejected} of {used + rejected} readings are far above the rest: flame hits"
    if used < SETTLED:
        return (
            f"only {used} reading{'' if used == 1 else 's'} so far, {SETTLED} are needed: ask "
            "again while `wickbench run` listens"
        )
    return "its readings have just jumped or contradict one another: look at the sensor"


def odd_unit(channel: Channel, value_c: float, words: Words) -> str | None:
    """Whether `value_c` looks as if the instrument sent another unit; None where it does not."""
    if channel.quantity is not Quantity.TEMPERATURE or channel.transducer is not Transducer.NONE:
        return None
    low_c, high_c = ROOM_C
    if low_c <= value_c <= high_c:
        return None
    if channel.place.position is not Position.ROOM and value_c > high_c:
        return None  # a place at a candle may well be so hot
    other = DEGC if channel.unit.name == DEGF.name else DEGF
    meant_c = other.inside(channel.unit.outside(value_c))
    if not LIKELY_C[0] <= meant_c <= LIKELY_C[1]:
        return None
    symbol = "°C" if other is DEGC else "°F"
    what = "a room" if channel.place.position is Position.ROOM else "this place"
    return (
        f"{what} at {words.temperature(value_c)}? Is the board sending {symbol}? Then write "
        f'unit = "{other.name}"'
    )


def by_hand(accuracy: float | None, words: Words) -> str:
    """How far readings by hand may be off, `accuracy` being that of the thermometer."""
    if accuracy is not None:
        return f"accuracy of the thermometer ± {words.difference(accuracy)} as stated"
    return (
        "accuracy of the thermometer not stated ([by_hand] accuracy): in a verdict the usual limit "
        "of error of its kind is counted (assumed)"
    )


def limits_in_force(limits: Limits, words: Words) -> str:
    """All limits of a bench in its own units."""
    walls = (
        f"{material.value} alert {words.temperature(wall.alert_c)}, "
        f"limit {words.temperature(wall.limit_c)}"
        for material, wall in limits.wall.items()
    )
    low, high = words.temperature(limits.room_low_c), words.temperature(limits.room_high_c)
    others: Iterable[str] = (
        f"longest burn {duration(limits.burn_length_s)}",
        f"cool-down {duration(limits.cool_down_s)}",
        f"room {low} to {high}",
    )
    return "; ".join(chain(walls, others))
