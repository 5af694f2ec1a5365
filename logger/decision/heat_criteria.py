"""How hot it got, and what a person reported: wall, emergencies, the vessel, pauses, the room."""

import math
from dataclasses import replace

from logger.burn.entries import Danger
from logger.burn.evidence import BurnEvidence
from logger.burn.heat import InWarmestRoom
from logger.burn.limits import WallLimits
from logger.burn.model import Hottest, measured
from logger.conditioning.uncertainty import COVERAGE, usual_limit_k
from logger.decision.criteria import Criterion, Decided, Outcome, Shown, guard_band
from logger.decision.in_trial import BurnInTrial
from logger.quantities import Channel, Kind, Position, Quantity, Rule
from logger.words import Words, duration


def least_guard_k(channel: Channel, evidence: BurnEvidence, value_c: float) -> float:
    """The least half-width with which a place may decide anything; 0 where its error is known.

    Nobody stated or compared the accuracy: then it is its kind's usual limit of error, of a place
    whose kind is not known either the larger.
    """
    record = evidence.calibrations.get(channel.name)
    if channel.accuracy is not None or (record is not None and record.correction.stated):
        return 0.0
    infrared = channel.kind is Kind.INFRARED or channel.emissivity is not None
    kinds = [Kind.INFRARED] if infrared else [Kind.CONTACT]
    if channel.kind is Kind.UNSTATED and not infrared:
        kinds.append(Kind.INFRARED)
    return max(usual_limit_k(kind, value_c) for kind in kinds)


def _wall(burn: BurnInTrial) -> Decided:
    evidence, words = burn.evidence, burn.words
    wall = evidence.limits.of(evidence.burn.material)
    limit = words.temperature(wall.limit_c)
    hottest, least = evidence.burn.hottest, evidence.burn.least_margin
    if hottest is None or least is None:
        return Decided(outcome=Outcome.UNDECIDED, reason="nothing on the vessel was measured")
    least, guard_k = _least_sure(burn, least)
    crossing = evidence.crossing
    lower_c = -math.inf
    if crossing is not None:
        floor_k = _floor_k(burn, crossing)
        lower_c = crossing.value_c - max(COVERAGE * crossing.standard_uncertainty_c, floor_k)
    outcome = guard_band(lower=lower_c, upper=least.value_c + guard_k, limit=wall.limit_c)
    match outcome:
        case Outcome.FAIL:
            reason = f"{_reached(crossing or hottest, words)}, over the maker's limit of {limit}"
        case Outcome.UNDECIDED if hottest.value_c > wall.limit_c:
            reason = (
                f"{_reached(hottest, words)}: over the maker's limit of {limit}, but not by its "
                "uncertainty for a minute"
            )
        case Outcome.UNDECIDED:
            reason = (
                f"{_reached(least, words)}: under the maker's limit of {limit}, but not by its "
                f"uncertainty{_widened(burn, least, guard_k)}"
            )
        case _:
            reason = (
                f"{_reached(least, words)}, with its uncertainty under the maker's limit of {limit}"
                f"{_widened(burn, least, guard_k)}"
            )
            outcome, but = _held_back(burn, wall)
            reason += but
    warmest = evidence.warmest
    if warmest is not None:
        reason += f"; {in_warmest_room_words(warmest, wall.limit_c, words)}"
    return Decided(
        outcome=outcome,
        reason=reason,
        value=hottest.value_c,
        limit=wall.limit_c,
        unit=Quantity.TEMPERATURE.unit,
        warmest=warmest,
        origin=_wall_origin(wall),
        weaker=burn.by_hand_will_do and burn.whole,
    )


def _held_back(burn: BurnInTrial, wall: WallLimits) -> tuple[Outcome, str]:
    """Why a burn that stayed under the limit is undecided all the same."""
    if any(raised.rule == WALL_LIMIT.name for raised in burn.evidence.alarms):
        return Outcome.UNDECIDED, (
            "; but its limit alarm was raised, so it may have been over for a moment, or "
            "by readings that were doubtful"
        )
    if burn.whole and (seen := _doubtful(burn.evidence, wall.limit_c)):
        return Outcome.UNDECIDED, f"; but {seen} read over it, doubtfully: repeat this burn"
    if any(gap.decides for gap in burn.gaps):
        return Outcome.UNDECIDED, "; but see what is missing"
    return Outcome.PASS, ""


def _doubtful(evidence: BurnEvidence, limit_c: float) -> str:
    """A place with an estimate over the limit that was not good."""
    over = (
        str(seen.channel.place)
        for seen in evidence.on_vessel
        if seen.doubtful is not None and (seen.doubtful.value or 0.0) > limit_c
    )
    return next(over, "")


def _least_sure(burn: BurnInTrial, least: Hottest) -> tuple[Hottest, float]:
    """The place that comes nearest the limit or over it, and how far it is guarded."""
    found = least, COVERAGE * least.standard_uncertainty_c
    if not burn.whole:
        return found
    for seen in burn.evidence.on_vessel:
        place = None if seen.highest is None else measured(seen.highest, seen.channel.place)
        if place is None:
            continue
        guard_k = max(
            COVERAGE * place.standard_uncertainty_c,
            least_guard_k(seen.channel, burn.evidence, place.value_c),
        )
        if seen.by_hand:
            guard_k += burn.widened_k
        if seen.channel.place.position is Position.WALL:
            guard_k += burn.beside_k + burn.below_k.get(seen.channel.name, 0.0)
        if place.value_c + guard_k > found[0].value_c + found[1]:
            found = place, guard_k
    return found


def _floor_k(burn: BurnInTrial, place: Hottest) -> float:
    channel = _channel(burn, place)
    if not burn.whole or channel is None:
        return 0.0
    return least_guard_k(channel, burn.evidence, place.value_c)


def _is_by_hand(burn: BurnInTrial, place: Hottest) -> bool:
    channel = _channel(burn, place)
    return channel is not None and channel.by_hand


def _channel(burn: BurnInTrial, place: Hottest) -> Channel | None:
    channels = (one.channel for one in burn.evidence.on_vessel)
    return next((one for one in channels if one.name == place.channel), None)


def _widened(burn: BurnInTrial, place: Hottest, guard_k: float) -> str:
    """Why more than the place's uncertainty is counted; empty where no more is."""
    if not burn.whole or guard_k <= COVERAGE * place.standard_uncertainty_c:
        return ""
    reasons = []
    if _floor_k(burn, place) > COVERAGE * place.standard_uncertainty_c:
        reasons.append("its accuracy is neither stated nor compared")
    if burn.widened_k and _is_by_hand(burn, place):
        reasons.append("nobody knows what it did between two readings")
    if burn.beside_k:
        reasons.append("a side that was not measured may be hotter")
    if burn.below_k.get(place.channel):
        reasons.append("the wall gets hotter downwards, and below this place was not measured")
    return f"; + {burn.words.difference(guard_k)} is counted: {', '.join(reasons)}"


def _reached(place: Hottest, words: Words) -> str:
    reached = words.measured(
        place.value_c, place.standard_uncertainty_c, assumed=place.accuracy_assumed
    )
    return f"{place.place} reached {reached}"


def in_warmest_room_words(warmest: InWarmestRoom, limit_c: float, words: Words) -> str:
    """What a measured figure means for a warmer room."""
    room, bound = words.temperature(warmest.room_limit_c), words.temperature(warmest.bound_c)
    if warmest.stays_under(limit_c):
        return f"it stays under the maker's limit in rooms up to {room} ({bound} at most)"
    return f"in a room of {room} it may reach {bound}, over the maker's limit"


def _wall_origin(wall: WallLimits) -> str:
    if wall.own:
        return "the maker's own"
    return "default: common practice of makers, or a threshold for burns from memory"


def _emergency(burn: BurnInTrial) -> Decided:
    found = burn.evidence.burn
    if found.danger is not None:
        reason = f"an emergency was reported: {found.danger.words}"
        return Decided(outcome=Outcome.FAIL, reason=reason)
    if found.out_s is None:
        reason = "none so far; the candle is not recorded out"
        return Decided(outcome=Outcome.UNDECIDED, reason=reason)
    reason = "no emergency was reported"
    if any(raised.rule == Rule.EMERGENCY for raised in burn.evidence.alarms):
        reason = "an emergency was reported, and withdrawn: the diary says why"
    return Decided(outcome=Outcome.PASS, reason=reason)


def _vessel(burn: BurnInTrial) -> Decided:
    if burn.evidence.burn.danger is Danger.CRACK:
        return Decided(outcome=Outcome.FAIL, reason="the vessel cracked")
    if burn.evidence.burn.out_s is None:
        return Decided(outcome=Outcome.UNDECIDED, reason="the candle is not recorded out")
    return Decided(outcome=Outcome.PASS, reason="nobody reported that it cracked")


def _cool_down(burn: BurnInTrial) -> Decided | None:
    rested_s, pause_s = burn.evidence.burn.rested_s, burn.evidence.limits.cool_down_s
    if rested_s is None or burn.number == 1:
        return None
    found = Decided(
        outcome=Outcome.PASS,
        reason=f"it had been out for {duration(rested_s)} when it was lit",
        value=rested_s / 3600.0,
        least=pause_s / 3600.0,
        unit="h",
        origin="the bench's settings",
    )
    if rested_s >= pause_s:
        return found
    short = f"{found.reason}, shorter than the maker's cool-down of {duration(pause_s)}"
    return replace(found, outcome=Outcome.UNDECIDED, reason=f"{short}: relit warm, a burn differs")


def _room(burn: BurnInTrial) -> Decided | None:
    limits, words = burn.evidence.limits, burn.words
    lows = [one.lowest.value for one in burn.evidence.rooms if one.lowest is not None]
    highs = [one.highest.value for one in burn.evidence.rooms if one.highest is not None]
    low_c = min((value for value in lows if value is not None), default=None)
    high_c = max((value for value in highs if value is not None), default=None)
    if low_c is None or high_c is None:
        return None
    low, high = words.temperature(low_c), words.temperature(high_c)
    span = high if low == high else f"{low.rpartition(' ')[0]} to {high}"
    found = Decided(
        outcome=Outcome.PASS,
        reason=f"the room was at {span}",
        value=low_c,
        least=limits.room_low_c,
        limit=limits.room_high_c,
        unit=Quantity.TEMPERATURE.unit,
        origin="the bench's settings",
    )
    warmest, wall = burn.evidence.warmest, limits.of(burn.evidence.burn.material)
    if low_c < limits.room_low_c and not (warmest and warmest.stays_under(wall.limit_c)):
        colder = (
            f"{found.reason}, colder than {words.temperature(limits.room_low_c)}: in a usual room "
            "the vessel gets hotter"
        )
        return replace(found, outcome=Outcome.UNDECIDED, reason=colder)
    if high_c > limits.room_high_c:
        return replace(found, reason=f"{found.reason}, warmer than a usual room: it got hotter")
    return found


WALL_LIMIT = Criterion(
    name="wall-limit",
    title="The hottest measured place stays under the maker's own limit",
    rule=(
        "Pass: value plus expanded uncertainty (k = 2) is at or under the limit over the whole "
        "burn, and nothing that decides is missing. Fail: value minus expanded uncertainty is over "
        "the limit for a minute (read by hand: once). Else undecided."
    ),
    source=(
        "The limit is the maker's own, from the bench's settings: no candle standard's figure for "
        "the outside of a vessel was seen, and the usual limits on glass are common practice among "
        "makers. It is about touching, and says nothing of cracking. The decision rule follows the "
        "idea of JCGM 106:2012 and "
        "ISO 14253-1: a guard band as wide as the expanded uncertainty, on either side. The minute "
        "is our choice: of thousands of estimates the highest is high by chance."
    ),
    finds=_wall,
)

NO_EMERGENCY = Criterion(
    name="no-emergency",
    title="Nobody reported an emergency",
    rule=(
        "Fail: a person reported a flame too high or on the wall, a flash-over, a cracked vessel "
        "or another danger, whatever came later. Pass: the candle is out and none was reported."
    ),
    source=(
        "Common practice among makers: each of these ends the test. No sensor here sees a flame; "
        "it rests on who watched."
    ),
    finds=_emergency,
)

VESSEL_INTACT = Criterion(
    name="vessel-intact",
    title="The vessel stays whole",
    rule="Fail: a person reported that it cracked. Pass: the candle is out and nobody did.",
    source=(
        "EN 15493:2019 (seen as quoted): the container must not be damaged or break. That it "
        "cannot crack is not shown: no thermal shock is tested here."
    ),
    finds=_vessel,
)

COOL_DOWN = Criterion(
    name="cool-down",
    title="The candle had cooled before it was lit again",
    rule="Pass: it was out for the maker's cool-down. Else undecided: it was another test.",
    source=(
        "The maker's own, from the bench's settings; 4 to 8 h are common practice, and EN 15426 "
        "(seen as quoted) pauses for 1 h or more, because liquid wax soots when relit."
    ),
    finds=_cool_down,
)

ROOM = Criterion(
    name="room",
    title="The room was as the maker tests in",
    rule=(
        "Pass: its lowest is not under the maker's range; a warmer room makes the test harder. "
        "Else undecided."
    ),
    source=(
        "The maker's own, from the bench's settings: 20 °C (68 °F) is the lower end of common "
        "practice, 27 °C (81 °F) the upper end of the room in EN 15426 (seen as quoted)."
    ),
    finds=_room,
    shown=Shown.HALF,
    do="measure the room, or read it by hand",
)
