"""Whether a candle that is out is cold: what its instruments, the clock and a person say of it."""

from collections.abc import Iterable, Iterator
from dataclasses import dataclass

from logger.burn.limits import Limits
from logger.burn.model import Burn
from logger.quantities import Channel, Estimate, Position, Quality, Quantity
from logger.words import Words, duration

COLD_K = 2.0  # a wall this near to its room has given up its heat: our choice
JUST_NOW_S = 60.0  # what is measured now says nothing of a weighing entered later (our choice)


@dataclass(frozen=True, slots=True, kw_only=True)
class CoolDown:
    """A candle since it was out; what nobody measured or said is None."""

    again_s: float  # when the configured time is over
    out_for_s: float
    pause_s: float  # that is configured
    above_room_k: float | None  # the hottest measured place over the room
    wax_solid: bool | None  # as a person last saw it

    @property
    def time_is_up(self) -> bool:
        """Whether it was out as long as is configured."""
        return self.out_for_s >= self.pause_s

    @property
    def cold(self) -> bool:
        """Whether nothing speaks against it."""
        warm = self.above_room_k is not None and self.above_room_k > COLD_K
        return self.time_is_up and not warm and self.wax_solid is not False


def lit_again_s(burn: Burn, limits: Limits) -> float | None:
    """When the candle may be lit again, the wax being solid; None while it burns."""
    return None if burn.out_s is None else burn.out_s + limits.cool_down_s


def room_now_c(known: Iterable[tuple[Channel, Estimate]]) -> float | None:
    """The room, where anything measures it now."""
    rooms = (
        estimate.value
        for channel, estimate in known
        if channel.place.position is Position.ROOM
        and channel.quantity is Quantity.TEMPERATURE
        and estimate.quality is Quality.GOOD
    )
    return next(rooms, None)


def cool_down(
    burn: Burn, limits: Limits, at_s: float, hottest_c: float | None, room_c: float | None
) -> CoolDown | None:
    """`burn` at `at_s`; None where it was not out by then."""
    again_s = lit_again_s(burn, limits)
    if again_s is None or burn.out_s is None or at_s < burn.out_s:
        return None
    known = hottest_c is not None and room_c is not None
    return CoolDown(
        again_s=again_s,
        out_for_s=at_s - burn.out_s,
        pause_s=limits.cool_down_s,
        above_room_k=(hottest_c or 0.0) - (room_c or 0.0) if known else None,
        wax_solid=burn.wax_solid,
    )


def cool_down_lines(found: CoolDown, words: Words) -> Iterator[str]:
    """How far it is, what is still to be waited for first."""
    if not found.time_is_up:
        yield f"your cool-down lasts {duration(found.pause_s - found.out_for_s)} more"
    if found.above_room_k is None:
        yield "whether the wall is cold is not known: wall and room are not both measured"
    elif found.above_room_k > COLD_K:
        yield f"the wall is {words.difference(found.above_room_k)} warmer than the room"
    else:
        yield f"the wall is within {words.difference(COLD_K)} of the room"
    if found.wax_solid is None:
        yield "is the wax solid throughout? Look, and record it"
    else:
        yield f"the wax was {'solid throughout' if found.wax_solid else 'not yet solid'} when seen"


def weighed_warm(found: CoolDown, words: Words) -> str | None:
    """The question that a weighing raises at this moment; None where nothing speaks against it."""
    if found.cold:
        return None
    warm = []
    if not found.time_is_up:
        warm.append(
            f"it was out for {duration(found.out_for_s)} of your cool-down of "
            f"{duration(found.pause_s)}"
        )
    if found.above_room_k is not None and found.above_room_k > COLD_K:
        warm.append(f"the wall is {words.difference(found.above_room_k)} warmer than the room")
    if found.wax_solid is False:
        warm.append("the wax was seen not yet solid")
    return f"{' and '.join(warm)}: do not lift it warm. Was it cold when it was weighed?"
