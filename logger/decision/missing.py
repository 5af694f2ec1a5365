"""What one burn leaves open: what was not measured, or not so that it can be believed.

Nothing passes while something that `decides` is missing. What is wrong with all readings alike no
rule finds: `CANNOT_BE_SEEN` says so beside every verdict.
"""

import math
from collections.abc import Iterable, Sequence, Set
from dataclasses import dataclass

from logger.burn.evidence import LEAST_SHARE, LONGEST_GAP_S, BurnEvidence, Coverage
from logger.conditioning.calibration import Correction
from logger.conditioning.uncertainty import assumes_accuracy, usual_limit_k
from logger.decision.criteria import (
    COLDER_THAN_ROOM_K,
    COOLED_ALONE_K,
    FEW_MINUTES_S,
    LATE_START_S,
    OFF_BY_LIMITS,
    WARMED_K,
)
from logger.decision.sides import is_wall, made_up_by_hand, one_side_only
from logger.quantities import Channel, Estimate, Kind, Rule
from logger.words import Words, duration


@dataclass(frozen=True, slots=True, kw_only=True)
class Missing:
    """Something that is not known; where `decides`, nothing passes without it."""

    text: str
    decides: bool
    burn: str | None = None  # None: of the trial as a whole
    criterion: str = ""  # that cannot be decided without it; empty: how hot it got
    do: str = ""  # what a person does in the next burn to know it; empty: repeat this burn
    for_s: float = 0.0  # how long that burn lasts at least

    def __str__(self) -> str:
        return self.text


WHOLE_LIFE = Missing(
    text=(
        "One burn never proves a candle: burn it to its end, and at least two or three alike. The "
        "last burns are usually the hottest (common practice)"
    ),
    decides=False,
)
CANNOT_BE_SEEN = Missing(
    text=(
        "Cannot be seen from the readings: a place hotter than those measured; probes that all "
        "hang half off the wall or are all on another candle; a stated kind, accuracy, B value or "
        "measured emissivity that is wrong; what it reached after it was recorded out"
    ),
    decides=False,
)


def missing(
    evidence: BurnEvidence,
    words: Words,
    *,
    by_hand: str | None = None,
    warmed: Set[str] = frozenset(),
) -> Iterable[Missing]:
    """What the burn leaves open.

    `by_hand` says why readings by hand alone do not decide, empty where they do; None: they never
    do, as of one burn by itself. `warmed` are channels whose place warmed in another burn of the
    same candle: of them a burn of a few minutes asks it no more.
    """
    for text in _deciding(evidence, words, by_hand, warmed):
        yield Missing(text=text, decides=True, burn=evidence.burn.id)
    for text in _worth_knowing(evidence):
        yield Missing(text=text, decides=False, burn=evidence.burn.id)


def places_warmed(evidence: BurnEvidence) -> set[str]:
    """Channels whose place was warmed by the flame in this burn."""
    return {seen.channel.name for seen in evidence.automatic if _rose_k(seen) >= WARMED_K}


def _deciding(
    evidence: BurnEvidence, words: Words, by_hand: str | None, warmed: Set[str]
) -> Iterable[str]:
    if evidence.burn.out_s is None:
        yield "The candle is not yet recorded out"
    if _may_have_gone_out(evidence):
        yield "Every wall place cooled while it was recorded lit, and nobody answered: did it burn?"
    measured = [seen for seen in evidence.on_vessel if seen.measured]
    automatic = [seen for seen in measured if not seen.by_hand]
    if not measured:
        yield "No place on the vessel was measured"
    elif not automatic:
        yield from _by_hand_only(by_hand)
    else:
        yield from one_side_only([*filter(is_wall, automatic), *made_up_by_hand(evidence)])
    for seen in evidence.automatic:
        if seen.faults and (_lost(seen) or seen.faults[-1].to_s >= evidence.until_s):
            yield _not_believable(seen, evidence)
        elif not seen.measured and measured:
            yield f"{_cap(seen)} was never measured"
        elif seen.measured and _lost(seen):
            yield _lost_text(seen, evidence)
    walls = [seen for seen in automatic if is_wall(seen)]
    for seen in walls:
        alone_k = _cooled_k(seen) - min(map(_cooled_k, walls))
        if alone_k > COOLED_ALONE_K:
            yield (
                f"{_cap(seen)} cooled by {words.difference(alone_k)} more than another side "
                "while lit: its sensor may drift or come off the wall, or the flame leaned"
            )
    yield from _not_warmed(walls, evidence, warmed, words)
    for seen in automatic:
        yield from _implausible(seen, evidence, words)


def _not_warmed(
    walls: Sequence[Coverage], evidence: BurnEvidence, warmed: Set[str], words: Words
) -> Iterable[str]:
    """Places that a flame cannot have warmed, but for a burn in which no wall had the time to."""
    short = evidence.burn.elapsed_s(evidence.until_s) <= FEW_MINUTES_S
    most_k = max(map(_rose_k, walls), default=0.0)
    for seen in walls:
        rose_k = _rose_k(seen)
        excused = short and seen.channel.name in warmed and most_k - rose_k < WARMED_K
        if rose_k < WARMED_K and not excused:
            yield (
                f"{_cap(seen)} warmed by only {words.difference(rose_k)}: it may have been off the "
                "wall, or on another candle"
            )


def _by_hand_only(why_not: str | None) -> Iterable[str]:
    if why_not != "":
        text = "The vessel was read by hand only: what it reached between readings is not known"
        yield f"{text} ({why_not})" if why_not else text


def _may_have_gone_out(evidence: BurnEvidence) -> bool:
    return any(
        raised.rule == Rule.FLAME_OUT
        and not raised.answered
        and evidence.until_s - raised.at_s > LONGEST_GAP_S  # recording it out is an answer too
        for raised in evidence.alarms
    )


def _implausible(seen: Coverage, evidence: BurnEvidence, words: Words) -> Iterable[str]:
    """What a place that warmed from the room by a flame cannot have shown."""
    channel = seen.channel
    if channel.kind is Kind.UNSTATED:
        yield f"It is not stated whether {channel.place} was read by contact or by infrared"
    if seen.first is None or seen.highest is None:
        return
    room_c, room_u = _room_at_first(evidence)
    reach_k = 2.0 * math.hypot(seen.first.standard_uncertainty or 0.0, room_u) + COLDER_THAN_ROOM_K
    if _value(seen.first) + reach_k < room_c:
        yield (
            f"{_cap(seen)} began at {words.temperature(_value(seen.first))}, colder than its room "
            f"({words.temperature(room_c)}): it reads too low, or the candle was not at room "
            "temperature"
        )
    late_s = seen.first.at_s - evidence.burn.lit_s
    if late_s > LATE_START_S:
        yield (
            f"{_cap(seen)} could not be believed until {duration(late_s)} after lighting: whether "
            "it began as warm as its room is not known"
        )
    yield from _correction(seen.highest, channel, evidence, words)


def _correction(
    highest: Estimate, channel: Channel, evidence: BurnEvidence, words: Words
) -> Iterable[str]:
    record = evidence.calibrations.get(channel.name)
    line = Correction(offset=channel.calibration_offset) if record is None else record.correction
    off_k = _value(highest) - line.undone(_value(highest))
    limit_k = channel.accuracy or usual_limit_k(channel.kind, _value(highest))
    if abs(off_k) > OFF_BY_LIMITS * max(limit_k, 1.0) + 2.0 * line.uncertainty_at(_value(highest)):
        yield (
            f"{channel.place} is corrected by {words.difference(off_k)}, far more than its "
            f"limit of error ({words.difference(limit_k)}): check the calibration"
        )


def _room_at_first(evidence: BurnEvidence) -> tuple[float, float]:
    """The room about when it was lit, and its standard uncertainty; else the coldest allowed."""
    firsts = [seen.first for seen in evidence.rooms if seen.first is not None]
    if not firsts:
        return evidence.limits.room_low_c, 0.0
    first = min(firsts, key=_value)
    return _value(first), first.standard_uncertainty or 0.0


def _worth_knowing(evidence: BurnEvidence) -> Iterable[str]:
    assumed = [
        str(seen.channel.place)
        for seen in evidence.automatic
        if seen.measured
        and assumes_accuracy(seen.channel, evidence.calibrations.get(seen.channel.name))
    ]
    if assumed:
        yield (
            "The instrument's accuracy is not stated for " + "; ".join(assumed) + ", and was not "
            "compared: the usual limit of error of its kind is counted (assumed)"
        )
    if not evidence.rooms:
        yield "The room was not measured: in a warmer room the vessel gets hotter by about as much"


def _not_believable(seen: Coverage, evidence: BurnEvidence) -> str:
    lit_s, faulty_s = evidence.burn.lit_s, sum(gap.length_s for gap in seen.faults)
    return (
        f"{_cap(seen)} could not be believed from {duration(seen.faults[0].from_s - lit_s)} after "
        f"lighting on (sensor at fault for {duration(faulty_s)} of "
        f"{duration(evidence.until_s - lit_s)})"
    )


def _lost(seen: Coverage) -> bool:
    return seen.share < LEAST_SHARE or seen.longest_gap_s > LONGEST_GAP_S


def _lost_text(seen: Coverage, evidence: BurnEvidence) -> str:
    whole_s = evidence.until_s - evidence.burn.lit_s
    return (
        f"{_cap(seen)} was not measured for {duration(seen.missing_s)} of "
        f"{duration(whole_s)} (longest {duration(seen.longest_gap_s)})"
    )


def _cooled_k(seen: Coverage) -> float:
    """From its highest to the end."""
    return (
        0.0
        if seen.highest is None or seen.last is None
        else _value(seen.highest) - _value(seen.last)
    )


def _rose_k(seen: Coverage) -> float:
    """From its lowest to its highest."""
    if seen.highest is None or seen.lowest is None:
        return 0.0
    return _value(seen.highest) - _value(seen.lowest)


def _value(estimate: Estimate) -> float:
    return estimate.value or 0.0


def _cap(seen: Coverage) -> str:
    text = str(seen.channel.place)
    return text[:1].upper() + text[1:]
