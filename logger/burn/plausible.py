"""What a person enters against what the bench knows: what is improbable is asked about once.

Nothing is refused here for good. Whoever looks again and means it, enters it again as sure.
"""

from collections.abc import Callable, Iterable, Sequence

from logger.burn.entries import ManualReading
from logger.burn.limits import Limits
from logger.burn.model import Burn
from logger.burn.places import estimate_by_hand
from logger.quantities import (
    DEGC,
    DEGF,
    Channel,
    Estimate,
    Place,
    Position,
    Quality,
    Quantity,
    Unit,
)
from logger.words import Words, duration

FAR_K = 10.0  # two thermometers on one place differ by less (our choice)
SIDES_K = 20.0  # so do two sides of one vessel at one height (our choice)
NEAR_MM = 10.0  # heights that count as one: a bead is not placed more exactly (our choice)
CHANGE_K_PER_S = 2.0 / 60.0  # no place warms faster for long: where `rise-rate` warns
BELOW_ROOM_K = 3.0  # a vessel is no colder than its room, but thermometers differ (our choice)

# Hotter than any that makers report of an ordinary candle: our choice, from common practice.
USUAL_TO_C = {
    Position.WALL: 90.0,
    Position.RIM: 110.0,
    Position.BASE: 90.0,
    Position.MELT_POOL: 120.0,
    Position.ROOM: 45.0,
    Position.SUPPORT: 90.0,
}

Known = Sequence[tuple[Channel, Estimate]]
"""Places of a station and its room, each with its latest estimate."""


def reading(
    entry: ManualReading,
    burn: Burn | None,
    known: Known,
    limits: Limits,
    *,
    words_in: Callable[[Unit], Words],
) -> str | None:
    """The question that `entry` raises; None where it is plausible.

    Raises DataError where its figures are of no surface.
    """
    value_c = estimate_by_hand(entry).value
    assert value_c is not None  # of at least one value
    unit = entry.typed_in
    other_unit = DEGC if unit.name == DEGF.name else DEGF
    words, other = words_in(unit), words_in(other_unit)
    questions = [_time(entry, burn), _height(entry.place, known, words)]

    def against(claimed_c: float) -> str | None:
        return _against(entry, claimed_c, burn=burn, known=known, limits=limits, words=words)

    reason = against(value_c)
    if reason is not None:
        meant_c = other_unit.inside(unit.outside(value_c))
        doubt = f"{words.temperature(value_c)}, but {reason}"
        asked_c = (
            f"did you mean {other.temperature(meant_c)}?"
            if not against(meant_c)
            else "is it right?"
        )
        questions.append(f"{doubt}; {asked_c}")
    asked = [question for question in questions if question is not None]
    return " ".join(asked) or None


def wax(mass_g: float | None, wax_g: float | None, words: Words) -> str | None:
    """The question that the wax in a candle raises, beside the mass of the whole."""
    if mass_g is None or wax_g is None or wax_g < mass_g:
        return None
    return (
        f"the wax alone ({words.mass(wax_g)}) would be as heavy as the whole candle "
        f"({words.mass(mass_g)}) or heavier; are both units right?"
    )


def _time(entry: ManualReading, burn: Burn | None) -> str | None:
    if burn is None or entry.at_s >= burn.lit_s:
        return None
    early = duration(burn.lit_s - entry.at_s)
    return f"that is {early} before {burn.station} was lit; is the time right?"


def _height(place: Place, known: Known, words: Words) -> str | None:
    """Whether `place` lies above the vessel, where its rim is known."""
    rims = (
        channel.place.height_mm for channel, _ in known if channel.place.position is Position.RIM
    )
    rim_mm = max((height for height in rims if height is not None), default=None)
    if place.height_mm is None or rim_mm is None or place.height_mm <= rim_mm:
        return None
    at, rim = words.length(place.height_mm), words.length(rim_mm)
    return f"{at} is above the rim, which is at {rim}; is the height right?"


def _against(
    entry: ManualReading,
    value_c: float,
    *,
    burn: Burn | None,
    known: Known,
    limits: Limits,
    words: Words,
) -> str | None:
    """What speaks against `value_c` at the place of `entry`; None where nothing does."""
    position = entry.place.position
    for channel, estimate in _beside(entry, known):
        there_c, u_k = estimate.value, estimate.standard_uncertainty
        if there_c is None or u_k is None:
            continue
        later_s = entry.at_s - estimate.at_s
        reach_k = FAR_K if _same_side(entry.place, channel.place) else SIDES_K
        if abs(value_c - there_c) > reach_k + 2.0 * u_k + CHANGE_K_PER_S * abs(later_s):
            return _said(channel, words.temperature(there_c), later_s)
    if position is not Position.ROOM:
        room_c = _room_c(known)
        if room_c is not None and value_c < room_c - BELOW_ROOM_K:
            return f"the room is at {words.temperature(room_c)}"
        if room_c is None and burn is not None and value_c < limits.room_low_c - BELOW_ROOM_K:
            return f"your room is {words.temperature(limits.room_low_c)} or warmer"
    if value_c > USUAL_TO_C[position]:
        return f"this is seldom over {words.temperature(USUAL_TO_C[position])}"
    return None


def _beside(entry: ManualReading, known: Known) -> Iterable[tuple[Channel, Estimate]]:
    """The places that `entry` can be compared with: its own, and those at its height."""
    for channel, estimate in known:
        own = channel.name == entry.channel.name
        if own or (
            not channel.by_hand
            and channel.quantity is Quantity.TEMPERATURE
            and channel.place.position is entry.place.position
            and _same_height(channel.place, entry.place)
            and estimate.quality is Quality.GOOD
        ):
            yield channel, estimate


def _same_height(one: Place, other: Place) -> bool:
    if one.height_mm is None or other.height_mm is None:
        return one.height_mm == other.height_mm
    return abs(one.height_mm - other.height_mm) <= NEAR_MM


def _same_side(one: Place, other: Place) -> bool:
    return one.clock is None or other.clock is None or one.clock == other.clock


def _room_c(known: Known) -> float | None:
    """The coldest that the room may be, counting the uncertainty of what says so."""
    rooms = (
        estimate.lower
        for channel, estimate in known
        if channel.place.position is Position.ROOM
        and channel.quantity is Quantity.TEMPERATURE
        and estimate.quality is Quality.GOOD
        and estimate.lower is not None
    )
    return min(rooms, default=None)


def _said(channel: Channel, value: str, later_s: float) -> str:
    if channel.by_hand:
        order = "before" if later_s >= 0.0 else "after"
        return f"this place read {value} {duration(abs(later_s))} {order}"
    return f"{channel.name} reads {value} there"
